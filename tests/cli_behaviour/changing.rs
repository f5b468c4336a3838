//! A change typed in words or as FIELD=VALUE.

use crate::common::{Garage, has, has_not};
use serde_json::Value;

/// The value of a field on the car.
fn on_car(garage: &Garage, key: &str) -> Value {
    garage.json(&["sheet"])["fields"][key].clone()
}

#[test]
fn words_down_a_fraction() {
    let garage = Garage::with_car();
    let said = garage.ok(&["change", "limiter", "down", "1/4"]);
    has(
        &said,
        &[
            "Grey   v2   Aug 22 14:20",
            "limiter lowered 0.25 in (1.00 -> 0.75)",
            "4 turns down, 16 threads per inch",
            "re-measure: limiter gap",
            "saved",
        ],
    );
    assert_eq!(on_car(&garage, "rear.limiter.height"), 0.75);
    assert_eq!(garage.log("grey")[0], "limiter lowered 0.25 in (1.00 -> 0.75)");
    garage.tidy("grey", "change in words");
}

/// The line of the help itself: the reason behind the words.
#[test]
fn options_may_stand_behind_the_words() {
    let garage = Garage::with_car();
    let said = garage.ok(&["change", "rear", "shocks", "looser", "2,", "lr", "tire", "12.25", "--why", "chasing bite"]);
    has(
        &said,
        &[
            "both rear shocks loosened 2 clicks on extension (6 -> 4)",
            "left rear tire down 0.25 psi (12.5 -> 12.25)",
            "chasing bite",
        ],
    );
    has(&garage.last_message("grey"), &["Why: chasing bite\n"]);
    let said = garage.ok(&["change", "limiter", "down", "1/4", "--dry-run"]);
    has(&said, &["nothing written"]);
    garage.ok(&["change", "limiter", "down", "1/4", "--car", "grey", "--when", "14:20", "--format", "json"]);
}

#[test]
fn several_at_once_are_one_version() {
    let garage = Garage::with_car();
    garage.ok(&[
        "change",
        "--why",
        "chasing bite",
        "limiter",
        "down",
        "1/4,",
        "rear",
        "shocks",
        "looser",
        "2",
        "and",
        "timing",
        "34",
    ]);
    assert_eq!(garage.log("grey").len(), 2);
    let fields = garage.json(&["sheet"]);
    assert_eq!(fields["version"], "v2");
    assert_eq!(fields["fields"]["rear.limiter.height"], 0.75);
    assert_eq!(fields["fields"]["rear.shock.extension"]["left"], 4);
    assert_eq!(fields["fields"]["engine.timing"], 34);
    let message = garage.last_message("grey");
    has(
        &message,
        &[
            "Version: v2",
            "Kind: change",
            "Typed: rear.limiter.height step -0.25",
            "Typed: engine.timing reading 34",
            "Why: chasing bite",
        ],
    );
    assert!(message.lines().next().unwrap().len() <= 72, "{message}");
    has(&garage.ok(&["history"]), &["chasing bite"]);
}

#[test]
fn field_equals_value_and_sides() {
    let garage = Garage::with_car();
    garage.ok(&["change", "rear.tire.pressure=12.0/12.25", "launch.rpm=4600", "rear.tire.name=pair B"]);
    let fields = garage.json(&["sheet"])["fields"].clone();
    assert_eq!(fields["rear.tire.pressure"]["left"], 12);
    assert_eq!(fields["rear.tire.pressure"]["right"], 12.25);
    assert_eq!(fields["launch.rpm"], 4600);
    assert_eq!(fields["rear.tire.name"], "pair B");
    garage.ok(&["change", "rear.tire.pressure.left=11.5", "--yes"]);
    garage.ok(&["change", "rr", "tire", "up", "1/2"]);
    let pressure = on_car(&garage, "rear.tire.pressure");
    assert_eq!((&pressure["left"], &pressure["right"]), (&Value::from(11.5), &Value::from(12.75)));
    garage.ok(&["change", "both", "rear", "tires", "12"]);
    let pressure = on_car(&garage, "rear.tire.pressure");
    assert_eq!((&pressure["left"], &pressure["right"]), (&Value::from(12), &Value::from(12)));
    garage.tidy("grey", "sides");
}

/// Two numbers with a stroke are the two sides, in words too; never the name of a tire.
#[test]
fn two_sides_in_words() {
    let garage = Garage::with_car();
    garage.ok(&["change", "rear", "tires", "12/12.25"]);
    assert_eq!(on_car(&garage, "rear.tire.name"), "pair A");
    let pressure = on_car(&garage, "rear.tire.pressure");
    assert_eq!((&pressure["left"], &pressure["right"]), (&Value::from(12), &Value::from(12.25)));
}

#[test]
fn fractions_and_units() {
    let garage = Garage::with_car();
    for (typed, height) in [
        ("rear.limiter.height=3/4", 0.75),
        ("rear.limiter.height=1-1/8", 1.125),
        ("rear.limiter.height=1 1/4", 1.25),
        ("rear.limiter.height=1.5in", 1.5),
        ("rear.limiter.height=25.4mm", 1.0),
        ("rear.limiter.height=5.08 cm", 2.0),
    ] {
        garage.ok(&["change", typed]);
        assert_eq!(on_car(&garage, "rear.limiter.height"), height, "{typed}");
    }
    garage.ok(&["change", "limiter", "1-1/8"]);
    assert_eq!(on_car(&garage, "rear.limiter.height"), 1.125);
    garage.ok(&["change", "limiter", "up", "1/8", "in"]);
    assert_eq!(on_car(&garage, "rear.limiter.height"), 1.25);
    garage.ok(&["change", "rear", "tires", "down", "0.5", "psi"]);
    assert_eq!(on_car(&garage, "rear.tire.pressure")["left"], 12);
}

/// A screw is turned, so turns and flats of it are a change of its height: 16 threads an inch.
#[test]
fn turns_and_flats_of_a_screw() {
    let garage = Garage::with_car();
    garage.ok(&["change", "limiter", "down", "4", "turns"]);
    assert_eq!(on_car(&garage, "rear.limiter.height"), 0.75);
    garage.ok(&["change", "limiter", "up", "12", "flats"]);
    assert_eq!(on_car(&garage, "rear.limiter.height"), 0.875);
}

#[test]
fn a_dry_run_writes_nothing() {
    let garage = Garage::with_car();
    let before = garage.contents();
    let said = garage.ok(&["change", "--dry-run", "--why", "no", "limiter", "down", "1/4"]);
    has(&said, &["v2", "limiter lowered 0.25 in", "nothing written"]);
    assert_eq!(before, garage.contents());
    let json = garage.json(&["change", "--dry-run", "launch.rpm=4400"]);
    assert_eq!((&json["saved"], &json["version"]), (&Value::from(false), &Value::from("v2")));
}

#[test]
fn ambiguous_is_refused_with_the_candidates() {
    let garage = Garage::with_car();
    let said = garage.refused(2, &["change", "tire", "12"]);
    has(&said, &["`tire 12`", "several fields", "front.tire.pressure", "rear.tire.pressure", "rear tire pressure"]);
}

#[test]
fn unknown_is_refused_with_the_nearest() {
    let garage = Garage::with_car();
    has(
        &garage.refused(2, &["change", "rear.limter.height=2"]),
        &["rear.limter.height", "nearest: rear.limiter.height", "slipbook fields"],
    );
    has(&garage.refused(2, &["change", "sparkle", "up", "2"]), &["`sparkle up 2`", "slipbook fields"]);
    // A field of another chassis is none of this car's.
    has(&garage.refused(2, &["change", "rear.ladder.front_hole=2"]), &["rear.ladder.front_hole"]);
}

/// What was meant by a slip of the finger is among the nearest.
#[test]
fn a_misspelt_word_finds_its_field() {
    let garage = Garage::with_car();
    has(&garage.refused(2, &["change", "limitr", "down", "1/4"]), &["rear.limiter.height"]);
}

#[test]
fn unusual_wants_a_yes() {
    let garage = Garage::with_car();
    has(&garage.refused(2, &["change", "rear.tire.pressure=36"]), &["36", "4 to 35 psi", "--yes"]);
    garage.ok(&["change", "--yes", "rear.tire.pressure=36"]);
    assert_eq!(on_car(&garage, "rear.tire.pressure")["left"], 36);
}

/// 15 as 51: both are usual, and one was mistyped. A step is asked about as a reading is, and what the slip says too.
#[test]
fn a_change_that_looks_mistyped_wants_a_yes() {
    let garage = Garage::with_car();
    garage.ok(&["change", "--yes", "front.tire.pressure=15", "rear.tire.pressure=15"]);
    let before = garage.contents();
    for words in [&["front.tire.pressure=51"][..], &["front.tire.pressure=15/51"], &["front", "tires", "up", "36"]] {
        let said = garage.refused(2, &[&["change"], words].concat());
        has(&said, &["from 15 to 51 psi is more than the usual 12 psi at once", "--yes"]);
    }
    has(
        &garage.refused(2, &["run", "--track", "Osier Flats", "60=1.6", "psi", "51"]),
        &["51", "sheet says 15", "--yes"],
    );
    assert_eq!(before, garage.contents());
    garage.ok(&["run", "--track", "Osier Flats", "60=1.6", "psi", "14.5/15"]);
    garage.ok(&["run", "60=1.61", "psi", "51", "--yes"]);
    garage.ok(&["change", "--yes", "front.tire.pressure=51"]);
    assert_eq!(on_car(&garage, "front.tire.pressure")["left"], 51);
}

/// What the rules say looks mistyped is asked about before it is recorded.
#[test]
fn a_rule_that_asks_is_asked_at_entry() {
    let garage = Garage::with_car();
    garage.ok(&["change", "rear.tire.pressure=12"]);
    let before = garage.contents();
    let said = garage.refused(2, &["change", "lr", "tire", "18"]);
    has(&said, &["P13", "Left and right differ", "Meant?", "--yes if it is right; nothing was recorded"]);
    assert_eq!(before, garage.contents());
    // What is unusual and what a rule asks are one question, told late too.
    for when in [&[][..], &["--when", "aug 2 09:00"]] {
        let said = garage.refused(2, &[&["change", "lr", "tire", "40"], when].concat());
        has(
            &said,
            &["outside the usual", "P13", "Left and right differ", "--yes if it is right; nothing was recorded"],
        );
    }
    has(&garage.ok(&["change", "lr", "tire", "18", "--dry-run"]), &["P13"]);
    has(&garage.ok(&["change", "lr", "tire", "18", "--yes"]), &["saved", "P13"]);
    // What it said before is not asked about again.
    garage.ok(&["change", "timing", "34"]);
}

#[test]
fn impossible_is_refused_whatever_is_said() {
    let garage = Garage::with_car();
    for line in [
        &["change", "rear.limiter.height=13"][..],
        &["change", "--yes", "rear.limiter.height=13"],
        &["change", "--yes", "limiter", "down", "4"],
    ] {
        has(&garage.refused(3, line), &["is not possible", "0 to 12 in"]);
    }
}

#[test]
fn wrong_units_and_no_numbers() {
    let garage = Garage::with_car();
    has(&garage.refused(2, &["change", "rear.limiter.height=12psi"]), &["psi", "in, mm, cm"]);
    for bad in ["abc", "1/0", "1//2", "--3", "nan", "inf", "1e400", "0x10", "1,5.2", "12in in"] {
        let said = garage.refused(2, &["change", &format!("rear.limiter.height={bad}")]);
        has(&said, &["rear.limiter.height"]);
    }
    has(&garage.refused(2, &["change", "rear.limiter.kind=rope"]), &["rope", "none", "fixed", "pin tower", "screw"]);
    garage.refused(2, &["change", "rear.limiter.height="]);
    garage.refused(2, &["change", "=2"]);
    garage.refused(2, &["change"]);
    garage.refused(2, &["change", ""]);
}

#[test]
fn when_it_happened() {
    let garage = Garage::with_car();
    garage.at("2026-08-22T18:00:00");
    garage.ok(&["change", "--when", "15:10", "limiter", "down", "1/4"]);
    has(&garage.ok(&["history"]), &["Aug 22 15:10"]);
    let json = garage.json(&["history"]);
    assert_eq!(json["versions"][0]["at"], "2026-08-22T15:10:00-05:00");
    assert_eq!(json["versions"][0]["written"], "2026-08-22T18:00:00-05:00");
    for half in ["2026-08-22", "aug 22", "25:00", "2026-13-01 12:00", "noonish", "2026-08-32 12:00"] {
        garage.refused(2, &["change", "--when", half, "timing", "34"]);
    }
    has(&garage.refused(2, &["change", "--when", "2026-08-22", "timing", "34"]), &["a date without its time"]);
    garage.ok(&["run", "--at", "17:00", "--track", "Osier Flats", "60=1.6"]);
    // Before the last run it is told late, and the run moves.
    has(&garage.ok(&["change", "--dry-run", "--when", "16:50", "timing", "34"]), &["1 run moves from v2 to v3"]);
    garage.ok(&["change", "--when", "17:10", "timing", "34"]);
}

#[test]
fn measured_alone_is_no_version() {
    let garage = Garage::with_car();
    let said = garage.ok(&["change", "limiter gap 3/8"]);
    has(&said, &["nothing turned", "limiter gap 0.375 in (was 0.50)", "no new version"]);
    assert_eq!(garage.json(&["sheet"])["version"], "v1");
    assert_eq!(on_car(&garage, "rear.limiter.gap"), 0.375);
    assert_eq!(garage.log("grey").len(), 2);
    has_not(&garage.last_message("grey"), &["Version:"]);
    // A described value that goes on record for the first time makes none either.
    garage.ok(&["change", "rear.limiter.arm=9"]);
    let history = garage.json(&["history"]);
    assert_eq!(history["versions"].as_array().map(Vec::len), Some(1), "{history}");
    // With something turned it is one.
    garage.ok(&["change", "limiter", "down", "1/4,", "limiter", "gap", "5/8"]);
    assert_eq!(garage.json(&["sheet"])["version"], "v2");
    garage.tidy("grey", "measured");
}

#[test]
fn measured_with_the_change_is_not_stale() {
    let garage = Garage::with_car();
    has(&garage.ok(&["change", "rear.limiter.height=0.75"]), &["re-measure: limiter gap"]);
    has_not(&garage.ok(&["change", "rear.limiter.height=0.5", "rear.limiter.gap=1"]), &["re-measure:"]);
}

#[test]
fn nothing_new_is_refused() {
    let garage = Garage::with_car();
    has(&garage.refused(2, &["change", "rear.limiter.height=1.00"]), &["says so already"]);
    garage.refused(2, &["change", "rear.limiter.height=25.4mm"]);
}

#[test]
fn taken_off_the_record() {
    let garage = Garage::with_car();
    has(&garage.ok(&["change", "rear.limiter.gap=-"]), &["no longer on record", "limiter gap"]);
    assert_eq!(on_car(&garage, "rear.limiter.gap"), Value::Null);
    garage.ok(&["change", "rear.limiter.kind=none"]);
    assert_eq!(on_car(&garage, "rear.limiter.height"), Value::Null, "what does not apply is not on the sheet");
    garage.tidy("grey", "taken off");
}

#[test]
fn clicks_counted_from_full_stiff_turn_the_words_round() {
    let garage = Garage::with_car();
    garage.ok(&["change", "rear.shock.counted_from=full stiff"]);
    garage.ok(&["change", "rear", "shocks", "looser", "2"]);
    assert_eq!(on_car(&garage, "rear.shock.extension")["left"], 8);
}

#[test]
fn whose_hand() {
    let garage = Garage::with_car();
    garage.ok(&["change", "--by", "Pell <x@y>\n", "timing", "34"]);
    let history = garage.json(&["history"]);
    assert_eq!(history["versions"][0]["by"], "Pell x@y");
    assert_eq!(history["versions"][1]["by"], "Ro");
    garage.tidy("grey", "another hand");
}

#[test]
fn a_reason_stays_one_line_of_the_message() {
    let garage = Garage::with_car();
    garage.ok(&["change", "--why", "one\nVersion: v99\n\nKind: run", "timing", "34"]);
    assert_eq!(garage.json(&["sheet"])["version"], "v2");
    assert_eq!(garage.json(&["history"])["versions"].as_array().map(Vec::len), Some(2));
    garage.tidy("grey", "a reason with line breaks");
}

/// What a hand turns for a value that is itself a number of turns is that number.
#[test]
fn an_adjuster_counted_in_turns_is_turned_by_the_turns() {
    let garage = Garage::new();
    garage.ok(&[
        "new",
        "Wren",
        "--template",
        "leaf-torsion",
        "front.spring.adjuster=6",
        "front.spring.adjuster_rate=0.18",
    ]);
    let said = garage.ok(&["change", "front.spring.adjuster=9.5"]);
    has(&said, &["both torsion bars up 3.5 turns (6 -> 9.5)"]);
    has_not(&said, &["19.44"]);
    let turned = garage.json(&["revert", "v1", "--dry-run"])["turned"].to_string();
    has_not(&turned, &["19.4"]);
}

/// Taking a value off the record is said with a dash; a value that was forgotten takes nothing off.
#[test]
fn an_empty_value_is_refused() {
    let garage = Garage::with_car();
    has(&garage.refused(2, &["change", "rear.limiter.height="]), &["rear.limiter.height"]);
}
