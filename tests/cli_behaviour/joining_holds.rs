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

