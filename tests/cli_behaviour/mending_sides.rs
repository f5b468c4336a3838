//! Mends where a value has sides, is in doubt, belongs to another, or was written by a hand.

use crate::common::{Garage, has};
use serde_json::Value;

const LIMITER: &str = "rear.limiter.height";
const PRESSURE: &str = "rear.tire.pressure";

/// Grey with a pressure for each side, and two versions after the first.
fn garage() -> Garage {
    let garage = Garage::with_car();
    garage.at("2026-08-22T11:00:00");
    garage.ok(&["change", "rear", "tires", "13"]);
    garage.at("2026-08-22T12:00:00");
    garage.ok(&["change", "rear", "tires", "down", "1/2"]);
    garage.at("2026-08-23T20:00:00");
    garage
}

fn value(garage: &Garage, version: &str, key: &str) -> Value {
    garage.json(&["sheet", version])["fields"][key].clone()
}

/// Left and right.
fn sides(garage: &Garage, version: &str) -> [f64; 2] {
    let v = value(garage, version, PRESSURE);
    let side = |name: &str| v[name].as_f64().or(v.as_f64()).unwrap_or_else(|| panic!("{version}: {v}"));
    [side("left"), side("right")]
}

/// A commit by stock git.
fn by_hand(garage: &Garage, old: &str, new: &str, date: &str) {
    garage.edit("grey", "setup.toml", |t| t.replace(old, new));
    let before = garage.log("grey").len();
    garage.git("grey", &["add", "setup.toml"]);
    let who = ["-c", "user.name=Pell", "-c", "user.email=pell@localhost"];
    garage.git("grey", &[&who[..], &["commit", "-q", "-m", "by hand", "--date", date]].concat());
    assert_eq!(garage.log("grey").len(), before + 1);
}

#[test]
fn one_side_put_right_leaves_the_other() {
    let garage = garage();
    garage.ok(&["mend", "v2", "lr", "tire", "12", "--keep-steps"]);
    assert_eq!([sides(&garage, "v2"), sides(&garage, "v3")], [[12.0, 13.0], [11.5, 12.5]]);
    garage.ok(&["oops"]);
    garage.ok(&["mend", "v3", "lr", "tire", "down", "1/4"]);
    assert_eq!([sides(&garage, "v2"), sides(&garage, "v3")], [[13.0, 13.0], [12.75, 12.5]]);
    garage.ok(&["oops"]);
    garage.ok(&["mend", "v1", "lr", "tire", "11.5", "--always"]);
    assert_eq!(["v1", "v2", "v3"].map(|v| sides(&garage, v)), [[11.5, 12.5], [11.5, 13.0], [11.5, 12.5]]);
    garage.ok(&["oops"]);
    garage.ok(&["mend", "v2", "lr", "tire", "11", "--only"]);
    assert_eq!(["v2", "v3"].map(|v| sides(&garage, v)), [[11.0, 13.0], [12.5, 12.5]]);
    garage.tidy("grey", "sides");
}

#[test]
fn late_for_one_side_passes_a_hand_that_set_the_other() {
    let garage = garage();
    let hand = ("pressure = 12.5 # psi\n\n[launch]", "pressure = { left = 11.0, right = 12.5 } # psi\n\n[launch]");
    garage.edit("grey", "setup.toml", |t| t.replace(hand.0, hand.1));
    garage.ok(&["sheet", "--save", "--yes"]);
    garage.ok(&["change", "rr", "tire", "10", "--when", "sat 13:00", "-y"]);
    assert_eq!([sides(&garage, "v3a"), sides(&garage, "v4")], [[12.5, 10.0], [11.0, 10.0]]);
}

#[test]
fn a_value_measured_twice_outlives_the_one_struck_out() {
    let garage = garage();
    garage.ok(&["measure", "corner", "lr", "812"]);
    garage.ok(&["measure", "corner", "lr", "812", "--when", "sat 12:30"]);
    let history = garage.json(&["history", "--all"]);
    let remarks = history["remarks"].as_array().unwrap();
    assert_eq!(remarks.len(), 2, "{history}");
    let first = remarks.iter().find(|r| r["at"].as_str().unwrap().contains("T12:30")).unwrap();
    garage.ok(&["mend", first["id"].as_str().unwrap(), "--never"]);
    assert_eq!(value(&garage, "v3", "weight.corner")["lr"], 812.0);
    garage.tidy("grey", "measured twice");
}

#[test]
fn what_comes_back_with_its_parent_comes_back_right() {
    let garage = garage();
    garage.ok(&["change", "rear.limiter.kind=none"]);
    garage.ok(&["change", "rear.limiter.kind=screw", "rear.limiter.height=1.25", "rear.limiter.threads=16"]);
    garage.ok(&["mend", "v1", "limiter", "0.75", "--always"]);
    assert_eq!(["v1", "v5"].map(|v| value(&garage, v, LIMITER)), [0.75, 0.75]);
    assert_eq!(value(&garage, "v4", LIMITER), Value::Null);
}

#[test]
fn doubt_stays_doubt_and_can_be_mended_away() {
    let garage = garage();
    garage.ok(&["measure", "limiter", "gap", "0.75?"]);
    let text = garage.read("grey", "setup.toml");
    has(&text, &["gap = \"0.75?\" # in"]);
    garage.ok(&["mend", "v1", "limiter", "0.75", "--only"]);
    has(&garage.read("grey", "setup.toml"), &["gap = \"0.75?\" # in"]);
    garage.ok(&["mend", "v3", "limiter", "gap", "0.75"]);
    has(&garage.read("grey", "setup.toml"), &["gap = 0.75 # in"]);
}

#[test]
fn always_so_goes_to_the_first_sheet_and_ends_where_it_was_measured_otherwise() {
    let garage = garage();
    garage.ok(&["measure", "corner", "lr", "812"]);
    garage.ok(&["measure", "corner", "rr", "790", "--always"]);
    garage.ok(&["measure", "corner", "lr", "800", "--always"]);
    let of = |v: &str, slot: &str| value(&garage, v, "weight.corner")[slot].clone();
    assert_eq!([of("v1", "rr"), of("v3", "rr"), of("v1", "lr"), of("v3", "lr")], [790.0, 790.0, 800.0, 812.0]);
    assert_eq!(garage.json(&["history", "--all"])["versions"].as_array().unwrap().len(), 3);
}

#[test]
fn numbers_with_commits_by_hand() {
    let garage = garage();
    by_hand(&garage, "height = 1.00 # in", "height = 0.90 # in", "2026-08-23T20:00:00-05:00");
    garage.ok(&["run", "60=1.6", "--track", "Osier Flats"]);
    assert_eq!(garage.json(&["sheet"])["version"], "v4");
    garage.ok(&["mend", "run", "today", "20:00", "60=1.5"].map(|w| if w == "today" { "aug 23" } else { w }));
    assert_eq!(garage.json(&["sheet"])["version"], "v4", "after a mend too");
    garage.ok(&["change", "limiter", "1"]);
    assert_eq!(garage.json(&["sheet"])["version"], "v5");
    garage.ok(&["oops"]);
    by_hand(&garage, "height = 0.90 # in", "height = 0.80 # in", "2026-08-23T20:00:00-05:00");
    garage.ok(&["oops"]);
    has(&garage.ok(&["change", "limiter", "1"]), &["v7"]);
    // Dated before the first sheet it counts from there on.
    by_hand(&garage, "height = 1.00 # in", "height = 0.70 # in", "2026-07-01T10:00:00-05:00");
    garage.ok(&["change", "timing", "34", "--when", "sat 11:30"]);
    assert_eq!(value(&garage, "v1", "rear.limiter.threads"), 16);
    garage.refused(2, &["mend", "v1", "--never"]);
    garage.tidy("grey", "commits by hand");
}

#[test]
fn what_cannot_be_read_is_not_written_anew() {
    let garage = garage();
    by_hand(&garage, "height = 1.00 # in", "height = 99 # in", "2026-08-23T20:00:00-05:00");
    let said = garage.refused(3, &["mend", "v2", "rear", "tires", "13.5", "--keep-steps"]);
    has(&said, &["cannot be read", "height"]);
}

#[test]
fn turned_back_later_but_set_in_between() {
    let garage = garage();
    garage.ok(&["change", "limiter", "1/2", "--when", "sat 13:00"]);
    let said = garage.refused(2, &["change", "limiter", "3/4", "--when", "sat 11:30", "--until", "sat 14:00"]);
    has(&said, &["v4 set limiter height"]);
    let said = garage.refused(2, &["change", "notes", "greasy", "--when", "sat 11:30"]);
    has(&said, &["cannot be told late"]);
}

#[test]
fn what_never_happened_did_happen_after_all() {
    let garage = garage();
    let before = garage.json(&["history", "--all"]);
    garage.ok(&["mend", "v2", "--never", "--keep-steps"]);
    garage.ok(&["mend", "v1", "--why", "as it came"]);
    garage.ok(&["mend", "v2", "--happened", "--keep-steps"]);
    let after = garage.json(&["history", "--all"]);
    let told = |h: &Value| -> Vec<(Value, Value, Value)> {
        let all = h["versions"].as_array().unwrap().iter();
        all.map(|v| (v["version"].clone(), v["words"].clone(), v["setup"].clone())).collect()
    };
    assert_eq!(told(&before), told(&after));
    garage.refused(2, &["mend", "v2", "--happened"]);
    garage.refused(2, &["mend", "v9", "--happened"]);
    garage.tidy("grey", "it did happen");
}

#[test]
fn a_run_moved_to_the_other_car_takes_its_air_along() {
    let garage = garage();
    garage.ok(&["new", "Heron", "--template", "leaf-torsion", "rear.limiter.height=2"]);
    garage.at("2026-08-23T21:00:00");
    garage.ok(&["run", "60=1.6", "--track", "Osier Flats", "--air", "84F 52%", "--car", "grey"]);
    garage.ok(&["oops", "--to", "heron", "--car", "grey"]);
    has(&garage.read("heron", "days/2026/08-23-osier-flats.toml"), &["humidity = 52"]);
    let said = garage.refused(2, &["oops", "--car", "grey"]);
    has(&said, &["moved to Heron's book"]);
    garage.ok(&["oops", "--car", "grey", "-y"]);
}

#[test]
fn an_unknown_name_is_no_note() {
    let garage = garage();
    has(
        &garage.refused(2, &["run", "60=1.55", "ett=11.4", "l", "--track", "Osier Flats"]),
        &["`ett` is no number of a run"],
    );
    garage.ok(&["run", "60=1.55", "l", "--track", "Osier Flats"]);
    has(&garage.refused(2, &["mend", "run", "aug 23", "20:00", "sixty", "1.55"]), &["--note TEXT"]);
    garage.ok(&["mend", "run", "aug 23", "20:00", "--note", "Pell drove"]);
    has(&garage.refused(2, &["change", "lr", "tire", "12,", "rear", "tires", "13"]), &["given twice"]);
}
