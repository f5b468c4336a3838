//! The list of what to turn: what it tells, in what order, what it leaves alone; and that it records nothing.

use crate::common::{Garage, has, has_not, no_controls};
use serde_json::Value;

/// v1, then v2: limiter down a half, left rear shock looser, launch up, tires down, gap measured.
fn changed() -> Garage {
    let garage = Garage::with_car();
    garage.ok(&[
        "change",
        "rear.limiter.height=0.50",
        "rear.shock.extension=4/6",
        "launch.rpm=4600",
        "rear.tire.pressure=12",
        "rear.limiter.gap=0.75",
    ]);
    garage
}

fn steps(list: &Value) -> Vec<Value> {
    let places = list["places"].as_array().expect("places");
    places.iter().flat_map(|p| p["steps"].as_array().expect("steps").clone()).collect()
}

fn step(list: &Value, field: &str) -> Value {
    steps(list).into_iter().find(|s| s["field"] == field).unwrap_or_else(|| panic!("{field} in {list:#}"))
}

/// Grey with a pin tower: holes half an inch apart, the pin in hole 3 at 1.50 in; then set to `height`.
fn tower(height: &str) -> Garage {
    let garage = Garage::with_car();
    garage.ok(&["change", "--yes", "rear.limiter.kind=pin tower", &format!("rear.limiter.height={height}")]);
    let now = ["rear.limiter.height=1.5", "rear.limiter.hole=3", "rear.limiter.hole_spacing=0.5"];
    garage.ok(&[&["change"], &now[..]].concat());
    garage
}

#[test]
fn it_tells_a_hand_what_to_turn_and_records_nothing() {
    let garage = changed();
    let before = garage.contents();
    let said = garage.ok(&["wrench", "v1"]);
    no_controls(&said);
    assert!(said.starts_with("Grey   v2 on the car -> v1"), "{said}");
    has(
        &said,
        &[
            "3 jobs",
            "once under it",
            "Under the rear    car on rated stands",
            "never on",
            "[ ] limiter height",
            "8 turns up",
            "0.50 -> 1.00 in",
            "[ ] left rear shock extension",
            "2 clicks tighter",
            "On the ground, driver in",
            "[ ] left rear tire pressure",
            "[ ] right rear tire pressure",
            "0.5 psi up",
            "Then measure, because the above moved it",
            "limiter gap",
            "expect about 0.50 in (v1)",
            "Before the next run",
            "Left alone     launch rpm",
            "When done:  slipbook revert v1",
        ],
    );
    has_not(&said, &["right rear shock", "safe", "legal", "-> 4200"]);
    assert_eq!(before, garage.contents());
    garage.ok(&["revert", "v1"]);
    has(&garage.refused(2, &["wrench", "v1"]), &["v3 on the car is set as v1 was: nothing to turn", "launch.rpm"]);
    has(
        &garage.ok(&["wrench", "v1", "--engine"]),
        &["400 rpm down", "Cockpit", "not under it", "slipbook revert v1 --engine"],
    );
}

#[test]
fn versions_are_named_as_revert_names_them() {
    let garage = changed();
    let to = |args: &[&str]| garage.json(&[&["wrench"], args].concat())["to"].clone();
    assert_eq!((to(&["v1"]), to(&["previous"]), to(&["aug 1"])), ("v1".into(), "v1".into(), "v1".into()));
    has(&garage.refused(2, &["wrench", "v9"]), &["v9"]);
    has(&garage.refused(2, &["wrench", "best"]), &["no setup has three clean runs"]);
    garage.refused(2, &["wrench"]);
    has(&garage.refused(2, &["wrench", "v1", "--only", "gearbox"]), &["`gearbox`", "front"]);
}

#[test]
fn from_any_version_to_any_other() {
    let garage = changed();
    garage.ok(&["change", "front", "tires", "36"]);
    let there = garage.json(&["wrench", "v1", "v2", "--engine"]);
    let back = garage.json(&["wrench", "v2", "v1", "--engine"]);
    assert_eq!((&there["from"], &there["to"], &there["command"]), (&"v1".into(), &"v2".into(), &Value::Null));
    let turned = |list: &Value| (step(list, "rear.limiter.height")["words"].clone(), steps(list).len());
    assert_eq!((turned(&there), turned(&back)), (("8 turns down".into(), 5), ("8 turns up".into(), 5)));
    has(&garage.ok(&["wrench", "v1", "v2"]), &["it records nothing"]);
    has(&garage.refused(2, &["wrench", "v2", "v2"]), &["v2 is set as v2 was"]);
    // One area alone.
    let only = garage.json(&["wrench", "v1", "--only", "rear shocks"]);
    assert_eq!((steps(&only).len(), &only["jobs"]), (1, &1.into()));
    assert_eq!(only["command"], "slipbook revert v1 --only \"rear shocks\"");
    assert!(only["left_alone"].as_array().unwrap().contains(&"rear.limiter.height".into()), "{only}");
}

/// The line that is offered records what the list says, and nothing else.
#[test]
fn the_offered_line_records_the_list() {
    for more in [&[][..], &["--engine"]] {
        let garage = changed();
        let list = garage.json(&[&["wrench", "v1"], more].concat());
        let command = list["command"].as_str().unwrap().to_owned();
        let words: Vec<&str> = command.split_whitespace().skip(1).collect();
        let done = garage.json(&words);
        let mut listed: Vec<String> = steps(&list).iter().map(|s| s["field"].as_str().unwrap().to_owned()).collect();
        listed.dedup();
        let mut changed: Vec<String> =
            done["changes"].as_array().unwrap().iter().map(|c| c["field"].as_str().unwrap().to_owned()).collect();
        listed.sort();
        changed.sort();
        assert_eq!(listed, changed);
        assert_eq!(done["wrench"]["places"], list["places"], "revert shows the same list");
    }
}

#[test]
fn a_pin_goes_down_by_whole_holes() {
    let garage = tower("0.50");
    let said = garage.ok(&["wrench", "v2"]);
    has(&said, &["2 holes down", "1.50 -> 0.50 in"]);
    let list = garage.json(&["wrench", "v2"]);
    let height = step(&list, "rear.limiter.height");
    assert_eq!((&height["amount"]["count"], &height["unreachable"]), (&2.into(), &Value::Null));
}

#[test]
fn a_height_between_two_holes_is_said() {
    let garage = tower("0.75");
    has(
        &garage.ok(&["wrench", "v2"]),
        &["not reachable", "not reachable with these holes: nearest are 0.50 or 1.00 (holes 1, 2)", "1.50 -> 0.75 in"],
    );
    let height = step(&garage.json(&["wrench", "v2"]), "rear.limiter.height");
    let near = serde_json::json!([{"value": 0.5, "hole": 1}, {"value": 1, "hole": 2}]);
    assert_eq!((&height["amount"], &height["unreachable"]["nearest"]), (&Value::Null, &near));
    // Below the lowest hole.
    has(&tower("0.25").ok(&["wrench", "v2"]), &["nearest is 0.50 (hole 1)"]);
}

#[test]
fn a_measure_that_is_missing_is_named() {
    let garage = Garage::with_car();
    garage.ok(&["change", "rear.limiter.threads=-"]);
    garage.ok(&["change", "limiter", "down", "1/4"]);
    has(&garage.ok(&["wrench", "v1"]), &["set to 1.00 in", "0.75 -> 1.00 in", "rear.limiter.threads is not on record"]);
    let height = step(&garage.json(&["wrench", "v1"]), "rear.limiter.height");
    assert_eq!((&height["needs"], &height["amount"]), (&"rear.limiter.threads".into(), &Value::Null));
}

#[test]
fn a_number_in_doubt_is_no_instruction() {
    let garage = Garage::with_car();
    garage.ok(&["change", "limiter", "about", "0.75"]);
    let said = garage.ok(&["wrench", "v1"]);
    has(&said, &["set to 1.00 in", "about 0.75 -> 1.00 in"]);
    has_not(&said, &["turns"]);
}

#[test]
fn what_is_on_record_on_one_side_only() {
    let garage = Garage::with_car();
    garage.ok(&["change", "front.tire.pressure=-", "rear.leaf.block=1.5"]);
    let said = garage.ok(&["wrench", "v1"]);
    has(&said, &["set to 34.0 psi", "nothing on record now"]);
    // Nobody knows what it was: it stays, and is no job.
    has(&said, &["lowering block not on record at v1: left as it is"]);
    let list = garage.json(&["wrench", "v1"]);
    assert_eq!((&list["jobs"], &list["off_record"].as_array().unwrap().len()), (&1.into(), &0));
    assert_eq!(list["not_on_record"], serde_json::json!(["rear.leaf.block"]));
}

#[test]
fn what_goes_with_its_parent_is_told_with_it() {
    let garage = Garage::with_car();
    garage.ok(&["change", "rear.limiter.kind=none"]);
    let off = garage.json(&["wrench", "v1", "v2"]);
    let kind = step(&off, "rear.limiter.kind");
    let height = step(&off, "rear.limiter.height");
    assert_eq!((&kind["words"], &off["jobs"]), (&"take off".into(), &1.into()));
    assert_eq!((&height["kind"], &height["with"]), (&"along".into(), &"rear.limiter.kind".into()));
    // Fitted again it is set: that is a job of its own.
    let on = garage.json(&["wrench", "v1"]);
    assert_eq!(step(&on, "rear.limiter.kind")["words"], "fit: screw");
    assert_eq!(step(&on, "rear.limiter.height")["words"], "set to 1.00 in");
    has(&garage.ok(&["wrench", "v1"]), &["Have ready:  pinion limiter screw"]);
}

#[test]
fn a_part_brings_what_describes_it_and_one_that_is_gone_is_said() {
    let garage = Garage::with_car();
    garage.ok(&["change", "rear.tire.size=28 x 9-15"]);
    garage.ok(&["change", "rear.tire.name=pair B", "rear.tire.size=29 x 10.5-15", "rear.tire.pressure=12"]);
    let said = garage.ok(&["wrench", "v1"]);
    has(
        &said,
        &[
            "Have ready:  rear tire pair \"pair A\"",
            "swap to \"pair A\"",
            "\"pair B\" now",
            "28 x 9-15",
            "Wheel nuts torqued",
        ],
    );
    garage.ok(&["part", "gone", "pair A", "sold to Wren"]);
    let said = garage.ok(&["wrench", "v1"]);
    has(&said, &["rear tires stay pair B: pair A is gone (sold to Wren", "0.5 psi up"]);
    has_not(&said, &["swap to"]);
}

/// Ride height first, then what is set at ride height; what a job moves and no job sets is checked.
#[test]
fn in_an_order_in_which_nothing_is_moved_again() {
    let garage = Garage::with_car();
    garage.ok(&[
        "change",
        "front.spring.adjuster=6",
        "front.align.caster=4",
        "front.align.toe=0.125",
        "front.align.camber=0",
    ]);
    garage.ok(&["change", "front.spring.adjuster=8/7", "front.align.caster=5", "front.align.toe=0.0625"]);
    let list = garage.json(&["wrench", "v2"]);
    let order: Vec<String> = steps(&list).iter().map(|s| s["label"].as_str().unwrap().to_owned()).collect();
    assert_eq!(
        order,
        ["left torsion bar adjuster", "right torsion bar adjuster", "left front caster", "right front caster", "toe"]
    );
    let headings: Vec<&str> =
        list["places"].as_array().unwrap().iter().map(|p| p["heading"].as_str().unwrap()).collect();
    assert_eq!(headings, ["Under the nose", "Left front", "Right front", "On the ground, driver in"]);
    assert_eq!((&list["times_under"], &list["jobs"]), (&1.into(), &4.into()));
    let said = garage.ok(&["wrench", "v2"]);
    has(&said, &["2 turns down", "1 turn down", "1/8 in", "Then check, because the above moved it", "front camber"]);
    has(&said, &["Torsion bars hold energy"]);
    assert_eq!(said.matches("Under the car only on rated stands").count(), 1, "each text once\n{said}");
}

/// Clicks are a number and the end it is counted from.
#[test]
fn clicks_counted_from_the_other_end_are_set_anew() {
    let garage = Garage::with_car();
    garage.ok(&["change", "rear.shock.counted_from=full stiff", "rear.shock.extension=8"]);
    let said = garage.ok(&["wrench", "v1"]);
    has_not(&said, &["looser", "tighter"]);
    let list = garage.json(&["wrench", "v1"]);
    let extension = step(&list, "rear.shock.extension");
    assert_eq!(
        (&extension["words"], &extension["change"], &extension["amount"]),
        (&"set to 6 clicks from full soft".into(), &"8 clicks from full stiff now".into(), &Value::Null)
    );
    // The same number is another setting.
    assert_eq!(step(&list, "rear.shock.compression")["words"], "set to 4 clicks from full soft");
    garage.ok(&["revert", "v1"]);
    let now = garage.json(&["sheet"])["fields"].clone();
    assert_eq!(
        (&now["rear.shock.counted_from"], &now["rear.shock.extension"]["left"]),
        (&"full soft".into(), &6.into())
    );
    // Counted from stiff, fewer clicks are tighter.
    garage.ok(&["change", "rear.shock.counted_from=full stiff", "rear.shock.extension=8"]);
    garage.ok(&["change", "rear.shock.extension=10"]);
    has(&garage.ok(&["wrench", "v4"]), &["2 clicks tighter", "10 -> 8"]);
}

/// Springs without a name of their own come back too.
#[test]
fn springs_that_have_no_name_are_on_the_list() {
    let garage = Garage::new();
    garage.ok(&["new", "Reed", "--template", "ladder-strut", "front.spring.rate=175", "rear.spring.rate=110"]);
    garage.at("2026-08-23T09:00:00");
    garage.ok(&["change", "front.spring.rate=190"]);
    let said = garage.ok(&["wrench", "v1"]);
    has(
        &said,
        &["Have ready:  front spring rates 175 lb/in", "swap to 175 lb/in", "190 -> 175 lb/in", "proper compressor"],
    );
    garage.ok(&["revert", "v1"]);
    assert_eq!(garage.json(&["sheet"])["fields"]["front.spring.rate"]["left"], 175);
}

/// A rule of the car's own stands beside its job; one that says what can hurt is not muted there.
#[test]
fn cautions_are_those_of_the_car() {
    let garage = changed();
    garage.edit("grey", "car.toml", |t| {
        format!(
            "{t}\n[[rule]]\nid = 'S4'\nmute = true\nreason = 'known'\n\n[[rule]]\nid = 'own.fork'\nname = 'the fork'\n\
             severity = 'caution'\nwhen = 'rear.limiter.height > 5'\nsays = 'Limiter {{rear.limiter.height}} high.'\n\
             because = 'it bent once'\nsource = 'ours'\njob = {{ fields = ['rear.limiter.'], says = 'Mind the bent fork.' }}\n"
        )
    });
    garage.ok(&["sheet", "--save"]);
    let said = garage.ok(&["wrench", "v1"]);
    has(&said, &["  ! Mind the bent fork.", "Under the car only on rated stands"]);
    has_not(&said, &["{", "high."]);
    // A sentence with something to fill in has nothing to fill it with beside a job.
    garage.edit("grey", "car.toml", |t| t.replace(", says = 'Mind the bent fork.'", ""));
    has(&garage.refused(3, &["sheet", "--save"]), &["own.fork", "job.says"]);
}

/// A list that is long goes on one page: sides alike stand on one line.
#[test]
fn a_long_list_is_one_page() {
    let garage = Garage::sample();
    let said = garage.ok(&["wrench", "v1", "--engine", "--car", "plover"]);
    has(&said, &["[ ] [ ] torsion bar adjusters"]);
    has_not(&garage.ok(&["wrench", "v17", "--car", "plover"]), &["[ ] [ ]"]);
}

#[test]
fn a_sheet_edited_by_hand_is_not_what_the_list_starts_from() {
    let garage = changed();
    garage.edit("grey", "setup.toml", |t| t.replace("4600", "4700"));
    let output = garage.run(&["wrench", "v1"]);
    assert_eq!(output.code, 0, "{}", output.both());
    has(&output.stderr, &["edited by hand", "as it was saved"]);
}
