//! What holds after a joining: the value written down last, a name told once, both of two trials.

use super::joining::{beside, path, tip, two};
use crate::common::{Garage, flat, has, has_not};

/// Two mends of one value, then something else written down on the laptop whose mend is the older one.
fn mended(first: &[&str], second: &[&str], then: &[&str]) -> (Garage, Garage) {
    let (ro, sal) = two();
    ro.ok(first);
    sal.at("2026-08-22T15:00:00");
    sal.ok(second);
    ro.at("2026-08-22T16:00:00");
    ro.ok(then);
    (ro, sal)
}

#[test]
fn newer_takes_what_was_written_down_last_whatever_else_a_laptop_wrote() {
    let run = ["run", "--track", "Osier Flats", "--at", "aug 22 15:50", "60=1.590", "et=11.480", "mph=117.2"];
    let mend_60 = |n: &'static str| ["mend", "run", "aug 8 11:00", n];
    let track = ["day", "aug 8", "--track", "Osier Flats", "--note", "wind"];
    let part = |passes: &'static str| ["part", "set", "pair A", "--came-with", passes];
    for (first, second, then, there) in [
        (&["mend", "v2", "limiter", "0.70"][..], &["mend", "v2", "limiter", "0.80"][..], &run[..], "0.80 in"),
        (&mend_60("60=1.610"), &mend_60("60=1.620"), &run, "1.620"),
        (&mend_60("60=1.610"), &mend_60("60=1.620"), &mend_60("et=11.6"), "1.620"),
        (&["mend", "v2", "--why", "too high"], &["mend", "v2", "--why", "too low"], &run, "too low"),
        (&["mend", "v2", "--when", "aug 8 09:30"], &["mend", "v2", "--when", "aug 8 09:45"], &run, "09:45"),
        (&["mend", "v2", "--never"], &["mend", "v2", "limiter", "0.80"], &run, "it was put right"),
    ] {
        let (ro, sal) = mended(first, second, then);
        let would = ro.json(&["join", &path(&sal), "--take", "newer", "--dry-run"]);
        let decided = &would["decided"][0];
        assert_eq!(decided["whose"], "there", "{first:?}: {would}");
        assert!(decided["holds"].as_str().unwrap().contains(there), "{first:?}: {would}");
    }
    // The same of car.toml and of a day.
    let (ro, sal) = two();
    for (laptop, at, passes) in [(&ro, "14:30", "10"), (&sal, "15:00", "12")] {
        laptop.at(&format!("2026-08-22T{at}:00"));
        laptop.ok(&["part", "add", "pair A", "--kind", "rear tires"]);
        laptop.ok(&part(passes));
    }
    ro.at("2026-08-22T16:00:00");
    ro.ok(&["part", "add", "pair B", "--kind", "rear tires"]);
    ro.ok(&track);
    let other = beside(&ro);
    ro.ok(&["join", &path(&sal), "--take", "newer"]);
    assert!(ro.read("grey", "car.toml").contains("came_with_passes = 12"), "{}", ro.read("grey", "car.toml"));
    // And whichever joins.
    sal.ok(&["join", &path(&other), "--take", "newer"]);
    assert_eq!(tip(&ro), tip(&sal));
}

#[test]
fn a_number_told_once_holds_on_all_laptops_and_what_is_otherwise_is_said() {
    let (a, _) = two();
    let (b, c) = (beside(&a), beside(&a));
    for (laptop, by, minute, limiter) in [(&a, "Ha", "20", "0.95"), (&b, "Hb", "21", "0.85"), (&c, "Hc", "22", "0.65")]
    {
        laptop.by(by);
        laptop.at(&format!("2026-08-22T14:{minute}:00"));
        laptop.ok(&["change", "limiter", limiter]);
    }
    let [a0, b0, c0] = [&a, &b, &c].map(beside);
    a.ok(&["join", &path(&b0)]);
    a.ok(&["join", &path(&c0)]);
    b.ok(&["join", &path(&c0)]);
    b.ok(&["join", &path(&a0)]);
    let limiter = |g: &Garage, v: &str| {
        let sheet = g.ok(&["sheet", v, "--format", "json"]);
        let json: serde_json::Value = serde_json::from_str(&sheet).unwrap();
        json["sheet"]["rear.limiter.height"].to_string() + &json["fields"]["rear.limiter.height"].to_string()
    };
    let as_on_a = [limiter(&a, "v3b"), limiter(&a, "v3c")];
    assert_ne!(as_on_a[0], as_on_a[1]);
    assert_eq!([limiter(&b, "v3c"), limiter(&b, "v3b")], as_on_a, "b called them otherwise");
    let alone = beside(&b);
    // On a both stay; what b called them is said, and that is their other name.
    let said = flat(&a.ok(&["join", &path(&alone)]));
    assert_eq!([limiter(&a, "v3b"), limiter(&a, "v3c")], as_on_a, "{said}");
    has(&said, &["v3c of the other laptop (Hb) is v3b", "v3b of the other laptop (Hc) is v3c"]);
    let json = a.json(&["history", "--all"]);
    let was = json["versions"].as_array().unwrap().iter().find(|v| v["version"] == "v3b").unwrap()["was"].clone();
    assert_eq!(was, serde_json::json!(["v3", "v3c"]), "{json}");
    // b is told of it, c too, and all are one.
    let said = flat(&b.ok(&["join", &path(&a)]));
    has(&said, &["v3c of this laptop (Hb) is v3b", "v3b of this laptop (Hc) is v3c"]);
    let said = flat(&c.ok(&["join", &path(&a)]));
    has(&said, &["v3 of this laptop (Hc) is v3c from here on"]);
    assert_eq!((tip(&a), tip(&a)), (tip(&b), tip(&c)));
    a.tidy("grey", "join of two ways to number");
    a.ok(&["verify"]);
}

#[test]
fn two_trials_of_one_name_are_both_kept_and_stay_apart() {
    let (ro, sal) = two();
    ro.ok(&["trial", "start", "clamps", "v1", "v2", "--yes"]);
    sal.at("2026-08-22T15:00:00");
    sal.ok(&["trial", "start", "clamps", "v2", "v1", "--yes"]);
    let (ro_alone, sal_alone) = (beside(&ro), beside(&sal));
    let said = flat(&ro.ok(&["join", &path(&sal_alone), "--take", "here"]));
    has(&said, &["trial clamps of the other laptop (Sal) is clamps b from here on"]);
    has_not(&said, &["gave way"]);
    let first = ro.read("grey", "trials/clamps.toml");
    let second = ro.read("grey", "trials/clamps-b.toml");
    assert!(first.contains("a = \"v1\"") && first.contains("by = \"Ro\""), "{first}");
    assert!(second.contains("a = \"v2\"") && second.contains("name = \"clamps b\""), "{second}");
    // The other laptop went on with its own by its old name.
    sal.at("2026-08-23T09:00:00");
    sal.ok(&["trial", "drop", "clamps", "--why", "rain"]);
    let json = sal.json(&["join", &path(&ro_alone)]);
    assert_eq!(json["renamed"][0]["now"], "clamps b", "{json}");
    assert!(json["renamed"][0]["here"] == true && json["decided"].as_array().unwrap().is_empty(), "{json}");
    let alone = beside(&sal);
    ro.ok(&["run", "--track", "Osier Flats", "--at", "aug 22 13:00", "60=1.605", "et=11.51", "mph=117"]);
    let before = beside(&ro);
    ro.ok(&["join", &path(&alone)]);
    sal.ok(&["join", &path(&before)]);
    assert_eq!(tip(&ro), tip(&sal));
    assert!(ro.read("grey", "trials/clamps-b.toml").contains("why = \"rain\""));
    assert_eq!(ro.read("grey", "trials/clamps.toml"), first);
    let said = flat(&sal_alone.ok(&["join", &path(&ro)]));
    has(&said, &["trial clamps of this laptop (Sal) is clamps b from here on", "brought up to"]);
    ro.tidy("grey", "join of two trials");
    ro.ok(&["verify"]);
}

#[test]
fn a_trial_that_ended_otherwise_on_each_laptop_is_asked_about_by_its_name() {
    let (ro, _) = two();
    ro.ok(&["trial", "start", "clamps", "v1", "v2", "--yes"]);
    let sal = beside(&ro);
    sal.by("Sal");
    for (laptop, at, why) in [(&ro, "15:00", "rain"), (&sal, "16:00", "no time")] {
        laptop.at(&format!("2026-08-22T{at}:00"));
        laptop.ok(&["trial", "drop", "clamps", "--why", why]);
    }
    let said = flat(&ro.refused(2, &["join", &path(&sal)]));
    has(&said, &["trial clamps: here v1 against v2, begun", "given up"]);
}

#[test]
fn a_run_that_moves_is_told_with_the_numbers_of_now() {
    let (ro, sal) = two();
    ro.at("2026-08-15T12:00:00");
    ro.ok(&["change", "timing", "32", "--when", "aug 15 09:20"]);
    sal.at("2026-08-15T12:30:00");
    sal.ok(&["change", "rear", "tire", "pressure", "12", "--when", "aug 15 09:00"]);
    sal.ok(&["run", "--track", "Osier Flats", "--at", "aug 15 09:30", "60=1.590", "et=11.480", "mph=117.2"]);
    let said = flat(&ro.ok(&["join", &path(&sal)]));
    has(&said, &["v3 of the other laptop (Sal) is v3b", "1 run moves from v3b to v3 (Aug 15 09:30)"]);
}

#[test]
fn history_says_of_a_mend_that_gave_way_that_it_did() {
    let (ro, sal) = mended(
        &["mend", "v2", "limiter", "0.70"],
        &["mend", "v2", "limiter", "0.80"],
        &["mend", "v2", "--why", "too high"],
    );
    let other = beside(&ro);
    ro.ok(&["join", &path(&sal), "--take", "newer"]);
    let said = flat(&ro.ok(&["history", "v2"]));
    has(&said, &["not 0.75; gave way to 0.80 in", "was at 0.80 in, not 0.75"]);
    has_not(&said, &["0.80 in, not 0.75; gave way"]);
    // The other laptop, that had gone on alone meanwhile, says the same, and says it once.
    sal.ok(&["mend", "v2", "launch", "rpm", "4100"]);
    sal.ok(&["join", &path(&ro)]);
    let said = flat(&sal.ok(&["history", "v2"]));
    assert_eq!(said.matches("not 0.75; gave way to 0.80 in").count(), 1, "{said}");
    assert_eq!(said.matches("not 0.75").count(), 2, "{said}");
    has(&said, &["why: too high"]);
    drop(other);
    // A time and a reason that gave way.
    let when = |at: &'static str| ["mend", "v2", "--when", at];
    let (ro, sal) = mended(&when("aug 8 09:30"), &when("aug 8 09:45"), &["mend", "v2", "--why", "too high"]);
    ro.ok(&["join", &path(&sal), "--take", "here"]);
    let said = flat(&ro.ok(&["history", "v2"]));
    assert_eq!(said.matches("; gave way to").count(), 1, "{said}");
    has(&said, &["09:45, not Aug 08 10:00; gave way to Aug 08 2026 09:30"]);
}

#[test]
fn a_part_that_is_gone_here_and_goes_with_the_car_there_is_asked_about() {
    let (ro, _) = two();
    ro.ok(&["part", "add", "pair Z", "--kind", "rear tires"]);
    let sal = beside(&ro);
    sal.by("Sal");
    ro.ok(&["part", "gone", "pair Z", "sold to Wren"]);
    sal.at("2026-08-22T15:00:00");
    sal.ok(&["part", "set", "pair Z", "--goes-with", "yes"]);
    let said = flat(&ro.refused(2, &["join", &path(&sal)]));
    has(&said, &["part pair Z: here sold to Wren Aug 22, there goes with the car"]);
    let other = beside(&ro);
    ro.ok(&["join", &path(&sal), "--take", "here"]);
    let said = flat(&ro.ok(&["part", "pair Z"]));
    has(&said, &["sold to Wren"]);
    has_not(&said, &["goes with the car"]);
    other.ok(&["join", &path(&sal), "--take", "newer"]);
    let said = flat(&other.ok(&["part", "pair Z"]));
    has(&said, &["goes with the car"]);
    has_not(&said, &["sold to Wren"]);
    other.tidy("grey", "join of a part");
}

#[test]
fn a_step_told_late_on_both_laptops_is_said_in_words() {
    let (ro, sal) = two();
    for (laptop, at) in [(&ro, "10:00"), (&sal, "10:30")] {
        laptop.at(&format!("2026-08-15T{at}:00"));
        laptop.ok(&["change", "limiter", "down", "1/8", "--when", "aug 15 09:00"]);
    }
    let said = flat(&ro.ok(&["join", &path(&sal)]));
    has_not(&said, &["gave way", "a step"]);
    has(&said, &["told on both laptops, counts once"]);
    let said = flat(&ro.ok(&["history", "--all"]));
    has_not(&said, &["gave way", "a step"]);
    has(&said, &["told on both laptops, counts once"]);
}

#[test]
fn what_a_joining_brings_is_counted_as_what_it_is_and_what_it_alters_is_named() {
    let (ro, _) = two();
    ro.ok(&["change", "launch", "rpm", "4400", "--when", "aug 9 10:00", "--why", "bogged"]);
    ro.ok(&["part", "add", "pair Z", "--kind", "rear tires"]);
    ro.ok(&["run", "--track", "Osier Flats", "--at", "aug 9 11:00", "60=1.590", "et=11.480", "mph=117.2"]);
    let sal = beside(&ro);
    sal.by("Sal");
    sal.at("2026-08-22T15:00:00");
    sal.ok(&["mend", "v2", "limiter", "0.80"]);
    sal.ok(&["mend", "run", "aug 8 11:00", "60=1.488"]);
    sal.ok(&["mend", "run", "aug 9 11:00", "--never"]);
    sal.ok(&["mend", "v3", "--never"]);
    sal.ok(&["day", "aug 8", "--track", "Osier Flats", "--prep", "glue"]);
    sal.ok(&["part", "gone", "pair Z", "sold to Wren"]);
    let alone = beside(&ro);
    ro.ok(&["run", "--track", "Osier Flats", "--at", "aug 22 13:00", "60=1.605", "et=11.51", "mph=117"]);
    ro.ok(&["measure", "pinion", "3", "up"]);
    let altered = [
        "mended from v2 on: limiter was at 0.80 in, not 0.75",
        "the run of Aug 08 2026 11:00: 60 ft 1.488, not 1.600",
        "there was no run at Aug 09 2026 11:00",
        "v3 never happened on the car (launch rpm",
        "the day of Aug 08 at Osier Flats: prep glue, not none",
        "part pair Z: sold to Wren Aug 22",
    ];
    let said = flat(&ro.ok(&["join", &path(&sal), "--dry-run"]));
    has(&said, &altered);
    has(&said, &["from here 1 run, 1 measurement, by Ro", "from there 4 mends, 1 part record, 1 note, by Sal"]);
    // The laptop that has nothing of its own is told the same.
    let said = flat(&alone.ok(&["join", &path(&sal)]));
    has(&said, &altered);
    has(&said, &["6 records more from there: 4 mends, 1 part record, 1 note, by Sal"]);
    let json = ro.json(&["join", &path(&sal)]);
    assert_eq!((&json["there"]["mends"], &json["here"]["measurements"]), (&4.into(), &1.into()), "{json}");
    assert_eq!(json["altered"].as_array().unwrap().len(), 6, "{json}");
    let log = ro.git("grey", &["log", "-1", "--format=%B"]);
    has(&log, &["4 mends, 1 part record, 1 note by Sal", "1 run, 1 measurement by Ro"]);
    // What gave way there is not altered here.
    let said = flat(&sal.ok(&["join", &path(&ro)]));
    has_not(&said, &["otherwise"]);
}

#[test]
fn what_three_people_brought_is_told_of_each() {
    let (ro, sal) = two();
    let kim = beside(&ro);
    kim.by("Kim");
    sal.at("2026-08-15T10:00:00");
    sal.ok(&["change", "timing", "32", "--when", "aug 15 09:20"]);
    kim.at("2026-08-15T11:00:00");
    kim.ok(&["change", "rear", "tire", "pressure", "12", "--when", "aug 15 10:30"]);
    kim.ok(&["run", "--track", "Osier Flats", "--at", "aug 15 10:40", "60=1.590", "et=11.480", "mph=117.2"]);
    sal.ok(&["join", &path(&kim)]);
    ro.ok(&["change", "launch", "rpm", "4400"]);
    let said = flat(&ro.ok(&["join", &path(&sal)]));
    has(&said, &["from here 1 change, by Ro", "from there 1 change by Sal; 1 change, 1 run by Kim"]);
    let log = ro.git("grey", &["log", "-1", "--format=%B"]);
    has(&flat(&log), &["1 change by Sal and 1 change, 1 run by Kim"]);
}
