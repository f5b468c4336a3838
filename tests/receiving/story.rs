//! What the new owner is told: the same verdicts as `blame`, and a setup to start from whose parts go along.

use crate::common::{Garage, flat};

fn received(from: &Garage) -> serde_json::Value {
    let path = from.root().join("plover.bundle").display().to_string();
    let _ = std::fs::remove_file(&path);
    from.ok(&["copy", &path]);
    let to = Garage::new();
    to.at("2026-10-04T10:00:00");
    to.by("Mo");
    let told = to.json(&["receive", &path]);
    assert_eq!(told["came"], "new");
    assert_eq!(told["owner"], "Mo");
    told["story"].clone()
}

#[test]
fn the_setup_to_start_from_is_one_whose_parts_go_along() {
    let from = Garage::new();
    from.take_in("plover");
    let story = received(&from);
    assert_eq!((&story["start"]["version"], &story["without_parts"]), (&"v17".into(), &serde_json::Value::Null));
    assert_eq!(story["starts_on_car"], false);
    // The verdicts are those of blame.
    let blame = from.json(&["blame", "--all"]);
    let of = |version: &str| {
        let all = blame["changes"].as_array().unwrap();
        all.iter().find(|c| c["version"] == version).unwrap_or_else(|| panic!("{version}: {blame}")).clone()
    };
    for kind in ["came_to", "not_proven", "leave_alone"] {
        for told in story[kind].as_array().unwrap() {
            let judged = of(told["version"].as_str().unwrap());
            assert_eq!((&told["evidence"], &told["effect_s"]), (&judged["evidence"], &judged["effect_s"]), "{kind}");
        }
    }
    assert!(!story["came_to"].as_array().unwrap().is_empty());

    // The tires it ran best on stay behind: what to start from is on the other pair, and what it ran best with is said.
    from.ok(&["part", "set", "pair", "B", "--goes-with", "no"]);
    from.ok(&["part", "set", "pair", "A", "--goes-with", "yes"]);
    let story = received(&from);
    assert_eq!(story["without_parts"], serde_json::json!({"version": "v17", "parts": ["pair B"]}));
    let start = story["start"]["version"].as_str().unwrap();
    assert!(["v1", "v2", "v3"].contains(&start), "{start}");

    // Nothing it was proven on goes along.
    from.ok(&["part", "set", "pair", "A", "--goes-with", "no"]);
    let story = received(&from);
    assert_eq!(story["start"], serde_json::Value::Null);
    let path = from.root().join("plover.bundle").display().to_string();
    let to = Garage::new();
    let said = to.ok(&["receive", &path]);
    assert!(flat(&said).contains("every setup with three clean runs has a part that does not go along"), "{said}");
}

#[test]
fn the_count_and_the_numbers_of_the_setup_to_start_from_are_of_the_same_runs() {
    let from = Garage::new();
    from.take_in("plover");
    let story = received(&from);
    let start = &story["start"];
    assert_eq!(start["runs"], start["ft60_s"]["n"], "{start}");
    assert_eq!(start["in_one_air"], true);
    let runs = from.json(&["runs", "--all"]);
    let days: Vec<&str> = runs["runs"].as_array().unwrap().iter().map(|r| r["date"].as_str().unwrap()).collect();
    assert_eq!(&story["first"].as_str().unwrap()[..10], *days.iter().min().unwrap());
    assert_eq!(&story["last"].as_str().unwrap()[..10], *days.iter().max().unwrap());
}

#[test]
fn an_owner_named_for_a_book_that_is_here_is_recorded_and_a_rewritten_copy_is_known_as_one() {
    let garage = Garage::with_car();
    garage.ok(&["run", "--track", "Osier Flats", "60=1.6", "et=11.5", "mph=117"]);
    let bundle = garage.root().join("grey.bundle").display().to_string();
    garage.ok(&["copy", &bundle]);
    let told = garage.json(&["receive", &bundle]);
    assert_eq!((&told["came"], &told["owner"]), (&"had".into(), &serde_json::Value::Null));
    let said = garage.ok(&["receive", &bundle, "--owner", "Nell Reed"]);
    assert!(flat(&said).contains("Nell Reed has the car from today on"), "{said}");
    assert!(!said.contains("nothing was changed"), "{said}");
    let told = garage.json(&["receive", &bundle, "--owner", "Nell Reed"]);
    assert_eq!(told["owner"], serde_json::Value::Null);

    let part = garage.root().join("part.bundle").display().to_string();
    garage.ok(&["handover", "grey", "--yes", "--to", &part, "--without", "notes,engine"]);
    let said = flat(&garage.refused(2, &["receive", &part]));
    assert!(said.contains("1 of the same runs") && said.contains("rewritten copy"), "{said}");
    assert!(said.contains("--as NAME"), "{said}");
}

#[test]
fn who_handed_it_over_is_not_claimed_where_another_hand_wrote_last() {
    let from = Garage::with_car();
    from.by("Pat");
    from.ok(&["run", "--track", "Osier Flats", "60=1.6", "et=11.5", "mph=117"]);
    let bundle = from.root().join("grey.bundle").display().to_string();
    from.ok(&["copy", &bundle]);
    let owned = from.json(&["receive", &bundle, "--owner", "Ro Teal"]);
    assert_eq!(owned["owner"], "Ro Teal");
    from.ok(&["run", "60=1.61"]);
    from.ok(&["copy", &bundle]);
    let to = Garage::new();
    let said = flat(&to.ok(&["receive", &bundle]));
    assert!(said.contains("Ro Teal had it last by its record, and its newest record is by Pat"), "{said}");
    assert!(!said.contains("handed over by"), "{said}");
}
