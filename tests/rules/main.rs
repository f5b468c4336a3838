//! Rules as data: each has a sheet on which it speaks, one on which it is quiet, and one on which nobody can tell, and then
//! it says what to measure. Thresholds that the reference has are the reference's.

#[path = "../common/car.rs"]
mod car;

use car::{Car, as_toml};
use slipbook::check::{Verdict, check, unknown_names};
use slipbook::figures::{SUBJECTS, Wanted};
use slipbook::schema::{CarRules, Role, Rule, Severity, rules, schema};
use std::collections::BTreeSet;

/// The verdict on the rule `id`.
fn verdict(car: &Car, own: &CarRules, id: &str) -> Verdict {
    let judged = check(&car.given(Wanted::default()), own);
    judged.into_iter().find(|j| j.rule.id == id).unwrap_or_else(|| panic!("there is no rule {id}")).verdict
}

fn cases() -> Vec<toml::Table> {
    let text = include_str!("cases.toml");
    let table: toml::Table = toml::from_str(text).unwrap();
    table["rule"].as_array().unwrap().iter().map(|c| c.as_table().unwrap().clone()).collect()
}

fn own_rules(case: &toml::Table) -> CarRules {
    let Some(needs) = case.get("needs_below") else { return CarRules::default() };
    CarRules::read(Vec::new(), vec![needs.clone().try_into().unwrap()]).unwrap()
}

#[test]
fn each_rule_speaks_is_quiet_and_cannot_tell() {
    let mut tried: BTreeSet<String> = BTreeSet::new();
    for case in cases() {
        let (id, base) = (case["id"].as_str().unwrap(), case["base"].as_str().unwrap());
        let own = own_rules(&case);
        let car = |name: &str| Car::base(base).with(case.get(name).and_then(|c| c.as_table()));
        let told = |name: &str| verdict(&car(name), &own, id);
        assert!(matches!(told("speaks"), Verdict::Speaks(_)), "{id} on {base} should speak: {:?}", told("speaks"));
        assert_eq!(told("quiet"), Verdict::Quiet, "{id} on {base} should be quiet");
        let Verdict::CannotTell { missing, because } = told("cannot") else {
            panic!("{id} on {base} should not be able to tell: {:?}", told("cannot"))
        };
        let wants = case["wants"].as_str().unwrap();
        match wants {
            "" => assert!(!because.is_empty(), "{id} gives no reason"),
            wants => {
                let named = |m: &str| m == wants || m.strip_prefix(wants).is_some_and(|rest| rest.starts_with('.'));
                assert!(missing.iter().any(|m| named(&m.name)), "{id} wants {missing:?}, not {wants}");
            }
        }
        tried.insert(id.to_owned());
    }
    let judged: BTreeSet<String> =
        rules().iter().filter(|r| r.is_judged() || r.id == "S13").map(|r| r.id.clone()).collect();
    assert_eq!(judged, tried, "rules without a case");
}

#[test]
fn on_a_car_that_stands_together_no_rule_speaks() {
    for base in ["leaf", "ladder", "fourlink"] {
        let car = Car::base(base);
        for judged in check(&car.given(Wanted::default()), &CarRules::default()) {
            assert_eq!(judged.speaks(), None, "{} on {base}", judged.rule.id);
            // Only what stands in car.toml is not on a sheet.
            let cannot = matches!(judged.verdict, Verdict::CannotTell { .. });
            assert!(!cannot || judged.rule.id == "S8", "{} on {base}: {:?}", judged.rule.id, judged.verdict);
        }
    }
}

#[test]
fn every_rule_of_the_list_is_there_and_whole() {
    let ids: Vec<&str> = rules().iter().map(|r| r.id.as_str()).collect();
    let listed: Vec<String> = (1..=25).map(|i| format!("P{i}")).chain((1..=13).map(|i| format!("S{i}"))).collect();
    for id in &listed {
        assert!(ids.contains(&id.as_str()), "{id} is missing");
    }
    assert_eq!(ids.iter().collect::<BTreeSet<_>>().len(), ids.len(), "an id twice");
    for rule in rules() {
        assert_eq!(unknown_names(rule, schema()), Vec::<String>::new(), "{}", rule.id);
        assert!(!rule.source.is_empty() && !rule.because.is_empty() && !rule.about.is_empty(), "{}", rule.id);
        assert!(rule.is_judged() || rule.job.is_some() || rule.id == "S13", "{} is never shown", rule.id);
        for job in rule.job.iter().flat_map(|j| &j.fields) {
            let known = match job.strip_suffix('.') {
                Some(_) => schema().fields.iter().any(|f| f.key.starts_with(job.as_str())),
                None => schema().field(job).is_some(),
            };
            assert!(known, "{}: no field {job}", rule.id);
        }
        let places: Vec<&str> = schema().fields.iter().filter_map(|f| f.place.as_deref()).collect();
        for place in rule.job.iter().flat_map(|j| &j.places) {
            assert!(places.contains(&place.as_str()), "{}: no place {place}", rule.id);
        }
    }
}

/// Names in the sentences of a rule.
fn named(rule: &Rule) -> Vec<String> {
    let texts = std::iter::once(&rule.says).chain(rule.member.iter().map(|m| &m.says)).chain([&rule.because]);
    let names = texts.flat_map(|t| t.split('{').skip(1).filter_map(|p| p.split('}').next()));
    names.map(str::to_owned).collect()
}

#[test]
fn packages_are_settings_that_cars_of_the_rule_have() {
    for rule in rules().iter().filter(|r| !r.package.is_empty()) {
        assert!(rule.package.len() > 1, "{}: a set has two fields and more", rule.id);
        for key in &rule.package {
            let field = schema().field(key).unwrap_or_else(|| panic!("{}: `{key}` is no field", rule.id));
            assert!(matches!(field.role, Role::Set | Role::Described), "{}: `{key}` is no setting", rule.id);
            let somewhere = field.chassis.is_empty()
                || rule.chassis.is_empty()
                || rule.chassis.iter().any(|c| field.chassis.contains(c));
            assert!(somewhere, "{}: no car of the rule has `{key}`", rule.id);
        }
    }
}

#[test]
fn sentences_name_what_there_is_and_never_promise() {
    for rule in rules() {
        for name in named(rule) {
            let figure = SUBJECTS.iter().flat_map(|s| s.figures).any(|d| d.name == name);
            let known = name == "list"
                || rule.limits.contains_key(&name)
                || figure
                || schema().locate(&name).is_some()
                || (rule.id == "S13" && ["et_limit", "item"].contains(&name.as_str()));
            assert!(known, "{}: `{name}`", rule.id);
        }
        let texts = [Some(&rule.says), rule.job.as_ref().and_then(|j| j.says.as_ref())];
        for text in texts.into_iter().flatten() {
            let lower = text.to_lowercase();
            for word in [" safe", "legal"] {
                assert!(!lower.contains(word), "{}: `{text}` promises", rule.id);
            }
            if rule.severity == Severity::Safety {
                let defers =
                    ["tech inspection decide", "class rule book decide", "tech inspection and class rules decide"];
                let ends = defers.iter().any(|d| lower.contains(d)) || lower.contains("licensed mechanic");
                assert!(ends, "{}: `{text}` does not say who decides", rule.id);
            }
        }
    }
}

/// Topic E of the reference by id.
fn trade() -> std::collections::BTreeMap<String, toml::Table> {
    let text = include_str!("../reference/references.toml");
    let all: toml::Table = toml::from_str(text).unwrap();
    let entries = all["ref"].as_array().unwrap().iter().filter_map(|e| e.as_table());
    let ours = entries.filter(|e| e["topic"].as_str() == Some("E.trade"));
    ours.map(|e| (e["id"].as_str().unwrap().to_owned(), e.clone())).collect()
}

#[test]
fn thresholds_are_the_references() {
    let trade = trade();
    let number = |id: &str, key: &str, at: usize| {
        let expected = &trade[id]["expected"].as_table().unwrap()[key];
        as_toml(expected.as_array().map_or(expected, |a| &a[at]))
    };
    let limit = |id: &str, name: &str| rules().iter().find(|r| r.id == id).unwrap().limits[name].to_f64();
    for (rule, name, entry, key, at) in [
        ("P16", "leaf_least_deg", "pinion_leaf", "range_deg", 0),
        ("P16", "leaf_most_deg", "pinion_leaf", "range_deg", 1),
        ("P16", "leaf_bars_least_deg", "pinion_leaf_bars", "range_deg", 0),
        ("P16", "leaf_bars_most_deg", "pinion_leaf_bars", "range_deg", 1),
        ("P16", "link_least_deg", "pinion_ladder", "range_deg", 0),
        ("P16", "link_most_deg", "pinion_4link", "range_deg", 1),
        ("P22", "least_pct", "cross", "range_pct", 0),
        ("P22", "most_pct", "cross", "range_pct", 1),
        ("P1", "most_gap_in", "pinion_limiter", "typical_in", 1),
        ("P2", "most_gap_in", "pinion_limiter", "typical_in", 1),
        ("S5", "most_in", "loop_mem", "distance_in", 0),
        ("P27", "slick_least_psi", "psi_slick", "range_psi", 0),
        ("P27", "slick_most_psi", "psi_slick", "range_psi", 1),
        ("P27", "radial_least_psi", "psi_radial_slick", "range_psi", 0),
        ("P27", "radial_most_psi", "psi_radial_slick", "range_psi", 1),
        ("P27", "drag_radial_least_psi", "psi_drag_radial", "range_psi", 0),
        ("P27", "drag_radial_most_psi", "psi_drag_radial", "range_psi", 1),
    ] {
        assert_eq!(limit(rule, name), number(entry, key, at), "{rule} {name} is not {entry}");
    }
    // Every caution of the reference has its rule; a new one fails until it has.
    let covered = [
        ("safety_1", "S4"),
        ("safety_2", "S1"),
        ("safety_3", "S10"),
        ("safety_4", "S5"),
        ("safety_5", "P21"),
        ("safety_6", "S8"),
        ("safety_7", "S13"),
        ("safety_8", "S12"),
        ("safety_9", "S6"),
    ];
    for id in trade.keys().filter(|id| id.starts_with("safety_")) {
        // The tenth is the last line of every page of numbers.
        assert!(id == "safety_10" || covered.iter().any(|(c, _)| c == id), "{id} has no rule");
    }
    assert!(covered.iter().all(|(id, rule)| trade.contains_key(*id) && rules().iter().any(|r| r.id == *rule)));
}

#[test]
fn a_car_mutes_moves_and_adds() {
    let read = |text: &str| {
        let table: toml::Table = toml::from_str(text).unwrap();
        let rules = table["rule"].as_array().unwrap().iter().map(|r| r.as_table().unwrap().clone()).collect();
        CarRules::read(rules, Vec::new())
    };
    let set: toml::Table = toml::from_str("set = { \"rear.leaf.front_clamps\" = 3 }").unwrap();
    let car = Car::base("leaf").with(Some(&set));
    assert!(matches!(verdict(&car, &CarRules::default(), "P3"), Verdict::Speaks(_)));
    let muted = read("[[rule]]\nid = 'P3'\nmute = true\nreason = 'it steers better so'").unwrap();
    assert_eq!(verdict(&car, &muted, "P3"), Verdict::Muted);
    let moved = read("[[rule]]\nid = 'P3'\nlimits = { most_clamps = 3 }\nreason = 'three of them'").unwrap();
    assert_eq!(verdict(&car, &moved, "P3"), Verdict::Quiet);
    let own = read(
        "[[rule]]\nid = 'own.rake'\nname = 'rake'\nseverity = 'note'\nwhen = 'front.height > rear.height'\nsays = 'Nose up: {front.height}'\nbecause = 'it wanders'\nsource = 'ours'",
    )
    .unwrap();
    assert_eq!(verdict(&car, &own, "own.rake"), Verdict::Quiet);
    let high: toml::Table = toml::from_str("set = { \"front.height\" = 27 }").unwrap();
    let Verdict::Speaks(words) = verdict(&Car::base("leaf").with(Some(&high)), &own, "own.rake") else { panic!() };
    assert_eq!(words, "Nose up: 27.00 in");
    // A time to another finish says nothing of what the class book asks for.
    let needs: toml::Table = toml::from_str("et = 12.0\nfinish = 660\nitem = 'a cage'").unwrap();
    let eighth = CarRules::read(Vec::new(), vec![needs.try_into().unwrap()]).unwrap();
    assert!(matches!(verdict(&car, &eighth, "S13"), Verdict::CannotTell { .. }));
    // A rule that names what there is not leaves the others alone.
    let typo = read(
        "[[rule]]\nid = 'own.x'\nname = 'x'\nseverity = 'note'\nwhen = 'rear.tire.presure < 13'\nsays = 'x'\nbecause = 'x'\nsource = 'x'",
    )
    .unwrap();
    assert!(
        matches!(verdict(&car, &typo, "own.x"), Verdict::CannotTell { because, .. } if because[0].contains("presure"))
    );
    assert!(matches!(verdict(&car, &typo, "P3"), Verdict::Speaks(_)));
    for (bad, why) in [
        ("[[rule]]\nid = 'P3'\nmute = true", "reason"),
        ("[[rule]]\nid = 'P99'\nmute = true\nreason = 'x'", "no rule `P99`"),
        ("[[rule]]\nid = 'P3'\nreason = 'x'", "mute"),
        ("[[rule]]\nid = 'P3'\nlimits = { most = 1 }\nreason = 'x'", "no limit `most`"),
        ("[[rule]]\nid = 'own.x'\nname = 'x'\nseverity = 'note'\nsays = ''\nbecause = ''\nsource = ''", "no `when`"),
        (
            "[[rule]]\nid = 'own.x'\nname = 'x'\nseverity = 'note'\nwhen = 'a >'\nsays = ''\nbecause = ''\nsource = ''",
            "own.x",
        ),
    ] {
        let error = read(bad).unwrap_err();
        assert!(error.contains(why), "{bad}: {error}");
    }
}
