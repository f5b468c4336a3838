//! How long a part was on the car, and how many passes it made there: from the versions and their runs, never stored.

use super::Timeline;
use crate::schema::{Schema, Sheet, names_on, same_name};

/// A named part that is on the car in a version.
#[derive(Debug, Clone, PartialEq, Eq, serde::Serialize, serde::Deserialize)]
pub struct Fitted {
    /// The field that names it.
    pub key: String,
    /// The side: its place among the field's slots, 0 where it has one value.
    pub slot: usize,
    /// Its name, as the sheet has it.
    pub name: String,
}

/// A while on the car: versions `from` up to, not with, `to`.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Stretch {
    /// Index of the version that fitted it.
    pub from: usize,
    /// Index of the version that took it off; `None` = it is on the car.
    pub to: Option<usize>,
    /// Runs made in between.
    pub runs: usize,
}

/// All of a part's time on the car.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Life {
    /// The field that names it.
    pub key: String,
    /// Its name, as it was last written on a sheet.
    pub name: String,
    /// Oldest first; there is at least one.
    pub stretches: Vec<Stretch>,
}

impl Life {
    /// Runs made with it: its passes on this car.
    pub fn runs(&self) -> usize {
        self.stretches.iter().map(|s| s.runs).sum()
    }

    /// The stretch it is on the car in.
    pub fn now(&self) -> Option<&Stretch> {
        self.stretches.last().filter(|s| s.to.is_none())
    }

    /// Whether it was on the car in a version.
    pub fn holds(&self, version: usize) -> bool {
        self.stretches.iter().any(|s| version >= s.from && s.to.is_none_or(|to| version < to))
    }
}

/// The named parts on a sheet.
pub fn fitted_on(schema: &Schema, sheet: &Sheet) -> Vec<Fitted> {
    let mut out = Vec::new();
    for kind in schema.part_kinds() {
        for (slot, name) in names_on(kind, sheet).into_iter().enumerate() {
            out.extend(name.map(|name| Fitted { key: kind.key.clone(), slot, name: name.to_owned() }));
        }
    }
    out
}

/// The life of every part that was ever on the car, in the order they first went on. `runs` gives the index of the
/// version of each run; a part that is on both sides makes one pass a run.
pub fn lives(timeline: &Timeline, runs: impl Iterator<Item = usize>) -> Vec<Life> {
    let mut made = vec![0usize; timeline.versions.len()];
    runs.for_each(|version| made.get_mut(version).into_iter().for_each(|n| *n += 1));
    let mut out: Vec<Life> = Vec::new();
    for (version, runs) in made.into_iter().enumerate() {
        let fitted = &timeline.versions[version].fitted;
        for life in &mut out {
            let on = fitted.iter().any(|f| f.key == life.key && same_name(&f.name, &life.name));
            if let Some(open) = life.stretches.last_mut().filter(|s| s.to.is_none() && !on) {
                open.to = Some(version);
            }
        }
        for (i, part) in fitted.iter().enumerate() {
            let same = |f: &Fitted| f.key == part.key && same_name(&f.name, &part.name);
            if fitted[..i].iter().any(same) {
                continue;
            }
            let fresh = Stretch { from: version, to: None, runs };
            match out.iter_mut().find(|l| l.key == part.key && same_name(&l.name, &part.name)) {
                None => out.push(Life { key: part.key.clone(), name: part.name.clone(), stretches: vec![fresh] }),
                Some(life) => {
                    life.name.clone_from(&part.name);
                    match life.stretches.last_mut().filter(|s| s.to.is_none()) {
                        Some(open) => open.runs += runs,
                        None => life.stretches.push(fresh),
                    }
                }
            }
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::super::{Entry, Kind, VersionNumber};
    use super::*;
    use crate::schema::{Scalar, Value, schema};
    use crate::slip::Moment;
    use proptest::prelude::*;

    const TIRES: &str = "rear.tire.name";
    const LEAVES: &str = "rear.leaf.name";

    fn season(fits: &[(&str, Option<&str>)]) -> Timeline {
        let at = |i: usize| Moment { seconds: 1_000 * (i as i64 + 1), offset_seconds: 0 };
        let mut sheet = Sheet::default();
        let mut entries = Vec::new();
        for (i, (key, name)) in fits.iter().enumerate() {
            let text = |n: &str| Scalar::Text(n.to_owned());
            match (*name, *key) {
                (Some(name), LEAVES) => {
                    sheet.set(LEAVES, Value::Slots(name.split('/').map(|n| Some(text(n))).collect()))
                }
                (Some(name), key) => sheet.set(key, Value::One(text(name))),
                (None, key) => drop(sheet.remove(key)),
            }
            let entry = Entry {
                id: i.to_string(),
                kind: Kind::Change,
                number: Some(VersionNumber::plain(i as u32 + 1)),
                at: at(i),
                written: at(i),
                by: String::new(),
                words: Vec::new(),
                why: None,
                back_to: None,
                measured: Vec::new(),
                since: None,
                time_unknown: false,
                mended: Vec::new(),
                replaces: Vec::new(),
                was: Vec::new(),
                blob: i.to_string(),
            };
            entries.push((entry, sheet.clone()));
        }
        Timeline::build(schema(), entries)
    }

    #[test]
    fn passes_add_up_over_there_and_back() {
        let timeline = season(&[(TIRES, Some("A")), (TIRES, Some("B")), (TIRES, Some("a")), (TIRES, None)]);
        let all = lives(&timeline, [0, 0, 1, 2, 2, 2, 3].into_iter());
        let a = &all[0];
        assert_eq!((a.name.as_str(), a.runs(), a.stretches.len()), ("a", 5, 2));
        assert_eq!(a.stretches[1], Stretch { from: 2, to: Some(3), runs: 3 });
        assert!(a.now().is_none() && a.holds(0) && !a.holds(1) && !a.holds(3));
        assert_eq!(all[1].runs(), 1);
    }

    #[test]
    fn a_part_on_both_sides_makes_one_pass_a_run() {
        let timeline = season(&[(LEAVES, Some("five/five")), (LEAVES, Some("five/split"))]);
        let all = lives(&timeline, [0, 0, 1].into_iter());
        let runs: Vec<_> = all.iter().map(|l| (l.name.as_str(), l.runs())).collect();
        assert_eq!(runs, [("five", 3), ("split", 1)]);
    }

    proptest! {
        /// Whatever is fitted when: the passes of all parts of a kind are the runs made while one was fitted.
        #[test]
        fn every_run_is_one_pass_of_one_part(
            fits in prop::collection::vec(prop::option::of(prop::sample::select(vec!["A", "B", "C"])), 1..12),
            runs in prop::collection::vec(0usize..12, 0..40),
        ) {
            let timeline = season(&fits.iter().map(|f| (TIRES, *f)).collect::<Vec<_>>());
            let runs: Vec<usize> = runs.into_iter().filter(|v| *v < fits.len()).collect();
            let all = lives(&timeline, runs.iter().copied());
            let passes: usize = all.iter().map(Life::runs).sum();
            prop_assert_eq!(passes, runs.iter().filter(|v| fits[**v].is_some()).count());
            for (version, fit) in fits.iter().enumerate() {
                let on: Vec<&str> = all.iter().filter(|l| l.holds(version)).map(|l| l.name.as_str()).collect();
                prop_assert_eq!(on, fit.iter().copied().collect::<Vec<_>>());
            }
        }
    }
}
