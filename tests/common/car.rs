//! A car to judge: a whole sheet, with what is stale on it and what its runs say.

use slipbook::figures::{FromRuns, Given, Memory, Wanted};
use slipbook::schema::{Bound, Num, Sheet, read_sheet, schema};
use slipbook::slip::Moment;
use slipbook::timeline::{Cause, Facts, Stale, Taken, VersionNumber};
use std::collections::HashMap;

/// The sheets on which no rule speaks.
const BASES: [(&str, &str, &str); 3] = [
    ("leaf", "leaf-torsion", include_str!("../rules/leaf.toml")),
    ("ladder", "ladder-strut", include_str!("../rules/ladder.toml")),
    ("fourlink", "fourlink-coilover", include_str!("../rules/fourlink.toml")),
];

/// A car.
pub struct Car {
    chassis: Vec<String>,
    /// Its sheet.
    pub sheet: Sheet,
    /// What is stale on it.
    pub stale: Vec<Stale>,
    then: HashMap<String, Sheet>,
    since: HashMap<String, Moment>,
    /// What the makers of its parts give.
    pub limits: Vec<(String, Bound, Num)>,
    /// What its runs say.
    pub runs: FromRuns,
}

/// A number of a TOML value.
pub fn as_toml(value: &toml::Value) -> f64 {
    value.as_float().or_else(|| value.as_integer().map(|n| n as f64)).unwrap()
}

impl Car {
    /// One of the base cars, with runs.
    pub fn base(name: &str) -> Car {
        let (_, template, text) = BASES.iter().find(|b| b.0 == name).unwrap();
        let read = read_sheet(schema(), text);
        assert!(read.problems.is_empty(), "{name}: {:?}", read.problems);
        let runs = FromRuns {
            setup: "v1".to_owned(),
            ft60_s: Some((1.55, 4)),
            quickest_s: Some((11.2, 1320)),
            trap_mph: Some((119.0, 4)),
            rpm_finish: Some((6400.0, 4)),
            front_rise_in: Some((4.0, 4)),
            bar_touched_pct: Some((0.0, 4)),
            earlier: None,
            turned: Some(Vec::new()),
            at_last_run: Some(read.sheet.clone()),
            went_back: 0,
        };
        Car {
            chassis: schema().template(template).unwrap().chassis.clone(),
            sheet: read.sheet,
            stale: Vec::new(),
            then: HashMap::new(),
            since: HashMap::new(),
            limits: Vec::new(),
            runs,
        }
    }

    /// With what a case says.
    #[allow(dead_code, reason = "one of the tests that share this asks")]
    pub fn with(mut self, case: Option<&toml::Table>) -> Car {
        let Some(case) = case else { return self };
        if let Some(set) = case.get("set").and_then(|s| s.as_table()) {
            let mut text = String::from("format = 1\n");
            for (key, value) in set {
                text.push_str(&format!("{key} = {value}\n"));
            }
            let read = read_sheet(schema(), &text);
            assert!(read.problems.is_empty(), "{text}: {:?}", read.problems);
            for (key, value) in read.sheet.iter() {
                self.sheet.set(key, value.clone());
            }
        }
        let keys = |name: &str| -> Vec<String> {
            let all = case.get(name).and_then(|s| s.as_array());
            all.into_iter().flatten().map(|k| k.as_str().unwrap().to_owned()).collect()
        };
        for key in keys("off") {
            assert!(self.sheet.remove(&key).is_some(), "{key} was not on the sheet");
        }
        for key in keys("stale") {
            self.spoil(&key);
        }
        if case.contains_key("turned") {
            self.runs.turned = Some(keys("turned"));
        }
        if case.contains_key("no_runs") {
            self.runs = FromRuns::default();
        }
        for (name, value) in case.get("runs").and_then(|s| s.as_table()).into_iter().flatten() {
            let x = as_toml(value);
            let some = Some((x, 4)).filter(|_| x > 0.0 || name != "quickest_s");
            match name.as_str() {
                "front_rise_in" => self.runs.front_rise_in = some,
                "bar_touched_pct" => self.runs.bar_touched_pct = some,
                "quickest_s" => self.runs.quickest_s = some.map(|s| (s.0, 1320)),
                other => panic!("{other}"),
            }
        }
        for (key, bounds) in case.get("limits").and_then(|s| s.as_table()).into_iter().flatten() {
            for (bound, n) in bounds.as_table().unwrap() {
                let bound = if bound == "least" { Bound::Least } else { Bound::Most };
                self.limits.push((key.clone(), bound, Num::from_f64(as_toml(n)).unwrap()));
            }
        }
        self
    }

    /// Something that moves a field was turned after it was taken.
    pub fn spoil(&mut self, key: &str) {
        let at: Moment = "2026-05-01T12:00:00-05:00".parse().unwrap();
        let version = VersionNumber::plain(1);
        let slots = match self.sheet.get(key) {
            Some(slipbook::schema::Value::Slots(all)) => (0..all.len()).collect(),
            Some(_) => Vec::new(),
            None => panic!("{key} is not on the sheet"),
        };
        let cause = Cause { version: version.clone(), at, fields: vec!["x.y".to_owned()], words: Vec::new() };
        let taken = Some(Taken { at, version });
        self.stale.push(Stale { key: key.to_owned(), slots, taken, causes: vec![cause], before: None });
    }

    /// The sheet on which the first stale value was taken.
    #[allow(dead_code, reason = "one of the tests that share this asks")]
    pub fn taken_on(&mut self, sheet: &Sheet) {
        let version = self.stale[0].taken.as_ref().map(|t| t.version.to_string()).unwrap();
        self.then.insert(version, sheet.clone());
    }

    /// As rules and figures take it.
    pub fn given(&self, wanted: Wanted) -> Given<'_> {
        Given {
            schema: schema(),
            chassis: &self.chassis,
            sheet: &self.sheet,
            facts: Facts::new(schema(), &self.sheet, &self.stale),
            stale: &self.stale,
            then: &self.then,
            since: &self.since,
            limits: &self.limits,
            runs: &self.runs,
            wanted,
            what_if: &[],
            memory: Memory::default(),
        }
    }
}
