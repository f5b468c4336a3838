//! `check`, and what a change says of it.

use crate::common::{Garage, has, has_not};

#[test]
fn a_rule_that_speaks_says_why_and_what_it_looked_at() {
    let garage = Garage::sample();
    let shown = garage.ok(&["check", "--car", "plover"]);
    has(
        &shown,
        &["P5 The limiter touches at rest", "assumed: gap 0.50 in was taken at height 0.75", "tech inspection"],
    );
    let why = garage.ok(&["check", "--why", "limiter", "--car", "plover"]);
    has(
        &why,
        &["P2", "because", "source", "common practice, no source", "contested", "on record", "[rear.limiter.height]"],
    );
    has(&garage.ok(&["check", "--why", "s5", "--car", "plover"]), &["from memory, unverified"]);
    has(&garage.refused(2, &["check", "--why", "blinker", "--car", "plover"]), &["no rule is about"]);
    for car in ["dunlin", "knot"] {
        has(&garage.ok(&["check", "--car", car]), &["rules:"]);
    }
}

#[test]
fn strict_is_an_exit_code() {
    let garage = Garage::sample();
    let answer = garage.run(&["check", "--strict", "--car", "plover"]);
    assert_eq!((answer.code, answer.stderr.as_str()), (1, "rules of weight speak: warning or safety\n"));
    let answer = garage.run(&["check", "--strict", "--format", "json", "--car", "plover"]);
    assert_eq!(answer.code, 1);
    assert!(serde_json::from_str::<serde_json::Value>(&answer.stdout).is_ok(), "the answer is there all the same");
    // No warning and no safety caution speaks on it.
    garage.ok(&["check", "--strict", "--car", "dunlin"]);
}

#[test]
fn a_change_says_only_what_it_breaks_or_mends() {
    let garage = Garage::new();
    garage.take_in("plover");
    let answer = garage.json(&["change", "front shocks even", "--dry-run", "--car", "plover"]);
    assert_eq!(answer["check"]["speaks"][0]["id"], "P2");
    let shown = garage.ok(&["change", "limiter down 1/2", "--car", "plover"]);
    has(&shown, &["saved", "mended   P5"]);
    has_not(&shown, &["S5", "P21"]);
    garage.refused(2, &["change", "two-step 3000", "--car", "plover"]);
    let shown = garage.ok(&["change", "two-step 3000", "--car", "plover", "--yes"]);
    has(&shown, &["ask      P24 Two-step 3000 rpm is set below the launch rpm 3600 rpm"]);
}

#[test]
fn what_was_set_again_as_it_was_is_measured() {
    let garage = Garage::new();
    garage.take_in("plover");
    has(&garage.ok(&["check", "--car", "plover"]), &["P21", "S10"]);
    garage.ok(&["measure", "front.align.toe", "--car", "plover"]);
    has(&garage.ok(&["measure", "nut torque", "--car", "plover"]), &["mended   S10"]);
    has_not(&garage.ok(&["check", "--car", "plover"]), &["P21", "S10"]);
    // What nothing else moves is no measurement, nor is another value.
    garage.refused(2, &["measure", "timing", "--car", "plover"]);
    garage.refused(2, &["measure", "front.align.toe=0.25", "--car", "plover"]);
    assert_eq!(garage.json(&["history", "--car", "plover"])["versions"][0]["version"], "v19", "it made no version");
}

#[test]
fn as_if_says_what_would_speak() {
    let garage = Garage::sample();
    let before = garage.contents();
    has(
        &garage.ok(&["check", "--with", "limiter 0.75", "--car", "plover"]),
        &["as if limiter 0.75", "Would be quiet then: P5"],
    );
    let answer = garage.json(&["check", "--with", "toe 0.25 out", "--car", "plover"]);
    let speaks: Vec<&str> =
        answer["against_as_is"]["speaks"].as_array().unwrap().iter().filter_map(|r| r["id"].as_str()).collect();
    assert!(speaks.contains(&"P20"), "{speaks:?}");
    assert_eq!(garage.contents(), before);
}

#[test]
fn a_car_has_rules_of_its_own() {
    let garage = Garage::new();
    garage.take_in("plover");
    garage.edit("plover", "car.toml", |text| {
        format!(
            "{text}\n[[rule]]\nid = \"P5\"\nmute = true\nreason = \"touching on purpose\"\n\n[[rule]]\nid = \"own.rake\"\nname = \"rake\"\nabout = [\"rake\"]\nseverity = \"warning\"\nwhen = \"rear.height > front.height\"\nsays = \"Nose down: front {{front.height}}, rear {{rear.height}}.\"\nbecause = \"it wanders\"\nsource = \"ours\"\n\n[[needs_below]]\net = 11.99\nitem = \"a driveshaft loop\"\nfield = \"driveline.loop\"\n"
        )
    });
    garage.git("plover", &["commit", "-qam", "rules of our own"]);
    let shown = garage.ok(&["check", "--car", "plover"]);
    has(
        &shown,
        &["warning  own.rake Nose down", "muted    P5", "touching on purpose", "S13 You put down that below 11.99 s"],
    );
    // What a rule names and is not there is refused when it is saved; one that came in by git leaves the others alone.
    garage.edit("plover", "car.toml", |text| text.replace("rear.height > front.height", "rear.height > rear.hight"));
    let edited = garage.run(&["check", "--car", "plover"]);
    has(&edited.stderr, &["car.toml was changed by hand and has no say until it is saved"]);
    has(&garage.refused(3, &["sheet", "--save", "--car", "plover"]), &["own.rake", "rear.hight"]);
    garage.git("plover", &["commit", "-qam", "a slip"]);
    let shown = garage.ok(&["check", "--car", "plover"]);
    has(&shown, &["`rear.hight` is no field, no figure and no limit of it: own.rake", "S5 Driveshaft loop"]);
    garage.git("plover", &["revert", "--no-edit", "HEAD"]);
    for (from, to, why) in [
        ("rear.height > front.height", "rear.height >", "own.rake"),
        ("id = \"P5\"", "id = \"P55\"", "P55"),
        ("reason = \"touching on purpose\"", "", "reason"),
    ] {
        garage.edit("plover", "car.toml", |text| text.replace(from, to));
        garage.git("plover", &["commit", "-qam", "a slip"]);
        has(&garage.refused(3, &["check", "--car", "plover"]), &[why]);
        garage.git("plover", &["revert", "--no-edit", "HEAD"]);
    }
}
