//! Going back to an earlier version.

use crate::common::{Garage, has, has_not};
use serde_json::Value;

/// v1, then v2: limiter down, launch up, timing up, tires down, gap measured, a note.
fn changed() -> Garage {
    let garage = Garage::with_car();
    garage.ok(&[
        "change",
        "rear.limiter.height=0.75",
        "launch.rpm=4600",
        "engine.timing=35",
        "rear.tire.pressure=12",
        "rear.limiter.gap=0.75",
        "notes=bites now",
    ]);
    garage
}

fn fields(garage: &Garage) -> Value {
    garage.json(&["sheet"])["fields"].clone()
}

#[test]
fn only_what_a_hand_sets_on_the_chassis() {
    let garage = changed();
    let said = garage.ok(&["revert", "v1", "--why", "it was better"]);
    has(
        &said,
        &[
            "back to v1",
            "limiter raised 0.25 in (0.75 -> 1.00)",
            "4 turns up",
            "both rear tires up 0.5 psi",
            "limiter gap",
            "v3",
        ],
    );
    let now = fields(&garage);
    assert_eq!(
        (&now["rear.limiter.height"], &now["rear.tire.pressure"]["left"]),
        (&Value::from(1), &Value::from(12.5))
    );
    assert_eq!(
        (&now["launch.rpm"], &now["engine.timing"]),
        (&Value::from(4600), &Value::from(35)),
        "they follow the weather and stay"
    );
    assert_eq!(
        (&now["rear.limiter.gap"], &now["notes"]),
        (&Value::from(0.75), &Value::from("bites now")),
        "measured and noted stay"
    );
    let message = garage.last_message("grey");
    has(&message, &["back to v1", "Kind: revert", "Version: v3", "Back-to: v1", "Why: it was better"]);
    let history = garage.json(&["history"]);
    assert_eq!(
        (&history["versions"][0]["kind"], &history["versions"][0]["back_to"]),
        (&Value::from("revert"), &Value::from("v1"))
    );
    garage.tidy("grey", "revert");
}

#[test]
fn with_launch_and_engine() {
    let garage = changed();
    garage.ok(&["revert", "v1", "--engine"]);
    let now = fields(&garage);
    assert_eq!(
        (&now["launch.rpm"], &now["engine.timing"], &now["rear.limiter.height"]),
        (&Value::from(4200), &Value::from(33), &Value::from(1))
    );
    let history = garage.json(&["history"]);
    assert_eq!(
        history["versions"][0]["same_setup"],
        serde_json::json!(["v1"]),
        "all that is set is as it was: one setup"
    );
    has(&garage.ok(&["history"]), &["one setup with v1"]);
}

#[test]
fn one_area_alone() {
    let garage = changed();
    let said = garage.ok(&["revert", "v1", "--only", "Rear tires and wheels"]);
    has(&said, &["both rear tires up 0.5 psi", "limiter height"]);
    let now = fields(&garage);
    assert_eq!(
        (&now["rear.limiter.height"], &now["rear.tire.pressure"]["left"]),
        (&Value::from(0.75), &Value::from(12.5))
    );
    has(&garage.refused(2, &["revert", "v1", "--only", "gearbox"]), &["`gearbox`", "rear", "front"]);
    // Told to, it takes launch back alone.
    garage.ok(&["revert", "v1", "--only", "launch"]);
    let now = fields(&garage);
    assert_eq!((&now["launch.rpm"], &now["rear.limiter.height"]), (&Value::from(4200), &Value::from(0.75)));
}

#[test]
fn a_dry_run_writes_nothing() {
    let garage = changed();
    let before = garage.contents();
    let said = garage.ok(&["revert", "v1", "--dry-run"]);
    has(&said, &["limiter raised 0.25 in", "4 turns up", "Nothing written", "slipbook revert v1"]);
    assert_eq!(garage.json(&["revert", "v1", "--dry-run"])["saved"], false);
    assert_eq!(before, garage.contents());
}

#[test]
fn nothing_to_turn_back_is_refused() {
    let garage = changed();
    has(&garage.refused(2, &["revert", "v2"]), &["nothing to turn back"]);
    garage.ok(&["revert", "v1"]);
    has(&garage.refused(2, &["revert", "v1"]), &["nothing to turn back", "launch.rpm", "--engine"]);
    garage.refused(2, &["revert", "v9"]);
    garage.refused(2, &["revert"]);
    garage.refused(2, &["revert", "v1", "--last-good"]);
    garage.refused(2, &["revert", "v1", "--engine", "--when", "2026-08-01 10:00"]);
}

/// What a version did not have on record stays as it is: nobody knows what it was.
#[test]
fn what_was_not_on_record_stays() {
    let garage = Garage::with_car();
    garage.ok(&["change", "front.tire.pressure=-"]);
    garage.ok(&["revert", "v1"]);
    assert_eq!(fields(&garage)["front.tire.pressure"]["left"], 34);
    let said = garage.refused(2, &["revert", "v2"]);
    has(&said, &["nothing to turn back", "not on record at v2: left as it is"]);
    has(&garage.refused(2, &["wrench", "v2"]), &["nothing to turn", "not on record at v2: left as it is"]);
    garage.ok(&["change", "limiter", "down", "1/4"]);
    has(&garage.ok(&["wrench", "v2"]), &["not on record at v2: left as it is"]);
    let json = garage.json(&["revert", "v2", "--dry-run"]);
    assert_eq!(json["not_on_record"], serde_json::json!(["front.tire.pressure"]));
    has(&garage.ok(&["revert", "v2"]), &["limiter raised 0.25 in", "not on record at v2: left as it is"]);
    let now = fields(&garage);
    assert_eq!((&now["front.tire.pressure"]["left"], &now["rear.limiter.height"]), (&Value::from(34), &Value::from(1)));
    garage.tidy("grey", "there and back");
}

/// What was not there because its part was not comes off with the part.
#[test]
fn what_was_not_fitted_comes_off() {
    let garage = Garage::with_car();
    garage.ok(&["change", "rear.limiter.kind=none"]);
    assert_eq!(fields(&garage)["rear.limiter.height"], Value::Null);
    garage.ok(&["revert", "v1"]);
    assert_eq!(fields(&garage)["rear.limiter.height"], 1);
    let json = garage.json(&["revert", "v2"]);
    assert_eq!(json["not_on_record"], serde_json::json!([]), "{json}");
    let now = fields(&garage);
    assert_eq!((&now["rear.limiter.kind"], &now["rear.limiter.height"]), (&Value::from("none"), &Value::Null));
}

/// A count that was not on record then would be read from the other end: it goes off the record with its end.
#[test]
fn a_count_from_the_other_end_does_not_stay() {
    let garage = Garage::with_car();
    garage.ok(&["change", "rear.shock.compression=-"]);
    garage.ok(&["change", "rear.shock.counted_from=full stiff", "rear.shock.extension=3", "rear.shock.compression=5"]);
    let json = garage.json(&["revert", "v2"]);
    let now = fields(&garage);
    assert_eq!(now["rear.shock.counted_from"], "full soft", "{json}");
    assert_eq!((&now["rear.shock.compression"], &json["not_on_record"]), (&Value::Null, &serde_json::json!([])));
}

#[test]
fn a_part_brings_its_described_values_back() {
    let garage = Garage::with_car();
    garage.ok(&["change", "rear.tire.size=28 x 10.5-15", "rear.tire.rollout=87"]);
    garage.ok(&["change", "rear.tire.name=pair B", "rear.tire.size=29 x 10.5-15", "rear.tire.rollout=90"]);
    garage.ok(&["revert", "v1"]);
    let now = fields(&garage);
    assert_eq!(now["rear.tire.name"], "pair A");
    assert_ne!(now["rear.tire.size"], "29 x 10.5-15", "pair A is not of pair B's size: {now}");
}

#[test]
fn the_last_that_ran_well() {
    let garage = Garage::with_car();
    let run = |t: &str| garage.ok(&["run", "--track", "Osier Flats", &format!("60={t}")]);
    for t in ["1.650", "1.652", "1.648"] {
        run(t);
    }
    garage.ok(&["change", "limiter", "down", "1/4"]);
    for t in ["1.600", "1.602", "1.598"] {
        run(t);
    }
    // On it already: a plain answer, and nothing is recorded.
    let before = garage.contents();
    has(
        &garage.ok(&["revert", "--last-good"]),
        &["Grey   already on v2, the last that ran well: nothing to turn back", "3 clean runs"],
    );
    let told = garage.json(&["revert", "--last-good"]);
    assert_eq!((&told["already"], &told["saved"], &told["back_to"]), (&true.into(), &false.into(), &"v2".into()));
    assert_eq!(before, garage.contents());
    garage.ok(&["change", "limiter", "down", "1/8"]);
    for t in ["1.660", "1.662", "1.658"] {
        run(t);
    }
    garage.ok(&["change", "timing", "34"]);
    run("1.5");
    let told = garage.json(&["revert", "--last-good", "--dry-run"]);
    assert_eq!((&told["back_to"], &told["from"]), (&Value::from("v2"), &Value::from("v4")), "{told}");
    let said = garage.ok(&["revert", "--last-good", "--dry-run"]);
    has(&said, &["last that ran well: v2", "3 clean runs", "passed over", "v4", "v3"]);
    has_not(&said, &["v1 ("]);
    garage.ok(&["revert", "--last-good"]);
    assert_eq!(fields(&garage)["rear.limiter.height"], 0.75);
    assert_eq!(garage.json(&["sheet"])["version"], "v5");
    has(&garage.ok(&["revert", "--last-good"]), &["v5 is set as v2, the last that ran well: nothing to turn back"]);
}

/// The line that is offered does what was shown, no more.
#[test]
fn the_offered_line_does_what_was_shown() {
    for more in [&[][..], &["--engine"], &["--only", "rear shocks"], &["--only", "launch"]] {
        let garage = changed();
        garage.ok(&["change", "rear", "shocks", "looser", "2"]);
        let shown = garage.json(&[&["revert", "v1", "--dry-run"], more].concat())["changes"].clone();
        let said = garage.ok(&[&["revert", "v1", "--dry-run"], more].concat());
        let offered = said
            .split("slipbook ")
            .nth(1)
            .and_then(|l| l.lines().next())
            .unwrap_or_else(|| panic!("{said}"))
            .to_owned();
        // As a shell reads it.
        let words: Vec<String> = offered
            .split(['"', '\''])
            .enumerate()
            .flat_map(|(i, part)| match i % 2 {
                1 => vec![part.to_owned()],
                _ => part.split_whitespace().map(str::to_owned).collect(),
            })
            .collect();
        let words: Vec<&str> = words.iter().map(String::as_str).collect();
        assert_eq!(garage.json(&words)["changes"], shown, "slipbook {offered}");
    }
}
