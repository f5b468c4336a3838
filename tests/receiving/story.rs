//! What the new owner is told: the same verdicts as `blame`, and a setup to start from whose parts go along.

use crate::common::Garage;

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
    assert!(said.contains("every setup with three clean runs has a part that does not go along"), "{said}");
}
