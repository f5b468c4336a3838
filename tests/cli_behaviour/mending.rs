//! News that comes late, and records that were wrong.

use crate::common::{Garage, has, has_not};
use serde_json::Value;

/// The notebook of a Saturday: four runs and two changes, as they were typed in time.
pub fn saturday() -> Garage {
    let garage = Garage::with_car();
    for (time, words) in [
        ("09:40", "run 1.600 4.680 7.260 94.2 9.50 11.44 117.0 l"),
        ("11:20", "change rear tires down 1/2"),
        ("11:45", "run 1.590 4.670 7.250 94.2 9.49 11.43 117.0 l"),
        ("12:50", "run 1.588 4.668 7.248 94.2 9.48 11.42 117.0 l"),
        ("13:10", "change rear shocks looser 2"),
        ("13:40", "run 1.580 4.660 7.240 94.2 9.47 11.41 117.0 l"),
    ] {
        garage.at(&format!("2026-08-22T{time}:00"));
        let mut args: Vec<&str> = words.split(' ').collect();
        if args[0] == "run" {
            args.extend(["--track", "Osier Flats"]);
        }
        garage.ok(&args);
    }
    garage.at("2026-08-23T20:00:00");
    garage
}

fn versions(garage: &Garage) -> Vec<(String, String)> {
    let history = garage.json(&["history", "--all"]);
    let text = |v: &Value| v.as_str().unwrap_or_default().to_owned();
    let list = history["versions"].as_array().unwrap().iter().rev();
    list.map(|v| (text(&v["version"]), v["words"].as_array().unwrap().iter().map(text).collect::<Vec<_>>().join(", ")))
        .collect()
}

fn numbers(garage: &Garage) -> Vec<String> {
    versions(garage).into_iter().map(|(n, _)| n).collect()
}

/// Time and version of every run.
fn runs(garage: &Garage) -> Vec<(String, String)> {
    let runs = garage.json(&["runs"]);
    let text = |v: &Value| v.as_str().unwrap_or_default().to_owned();
    let of = |r: &Value| (text(&r["at"])[..16].to_owned(), text(&r["on"]));
    let mut out: Vec<_> = runs["runs"].as_array().unwrap().iter().map(of).collect();
    out.sort();
    out
}

fn on(garage: &Garage, time: &str) -> String {
    runs(garage).into_iter().find(|(at, _)| at.ends_with(time)).unwrap_or_else(|| panic!("no run at {time}")).1
}

fn value(garage: &Garage, version: &str, key: &str) -> Value {
    garage.json(&["sheet", version])["fields"][key].clone()
}

/// A reading of a day, told on a page.
fn air(garage: &Garage, day: &str, line: &str) {
    let page = garage.file("air.txt", format!("{day}\ntrack Osier Flats\n{line}\n"));
    garage.ok(&["day", "--from", &page]);
}

const LIMITER: &str = "rear.limiter.height";

#[test]
fn a_forgotten_change_stands_beside_its_neighbour_and_is_carried_on() {
    let garage = saturday();
    let late = ["change", "limiter", "down", "1/4", "--when", "sat 12:15", "--why", "Pell; not written"];
    let before = garage.contents();
    let said = garage.ok(&[&late[..], &["--dry-run"]].concat());
    has(
        &said,
        &[
            "limiter lowered 0.25 in (1.00 -> 0.75), Aug 22 12:15",
            "as recorded                as it was",
            "1 run moves from v2 to v2a (Aug 22 12:50)",
            "2 runs carry a new sheet; old links are kept",
            "carried on through 1 later version, to now",
            "nothing written",
        ],
    );
    assert_eq!(before, garage.contents(), "a dry run writes nothing");
    has(&garage.ok(&late), &["saved; nothing that was written is lost"]);
    assert_eq!(numbers(&garage), ["v1", "v2", "v2a", "v3"]);
    assert_eq!(["11:45", "12:50", "13:40"].map(|t| on(&garage, t)), ["v2", "v2a", "v3"]);
    assert_eq!(["v2", "v2a", "v3"].map(|v| value(&garage, v, LIMITER)), [1.0, 0.75, 0.75]);
    has(&garage.read("grey", "setup.toml"), &["height = 0.75 # in"]);
    has(&garage.read("grey", "days/2026/08-22-osier-flats.toml"), &["setup_was = "]);
    garage.tidy("grey", "a late change");
    // The log as written is as it was, with one line more.
    let log = garage.git("grey", &["log", "--first-parent", "--format=%s"]);
    assert_eq!(log.lines().next(), Some("v2a told late: limiter lowered 0.25 in (1.00 -> 0.75)"));
    assert_eq!(log.lines().count(), 8);
    has(&garage.ok(&["history", "--as-recorded"]), &["v2a told late", "2 runs   60 ft 1.588"]);
    assert_eq!(garage.json(&["sheet", "v3", "--as-recorded"])["fields"][LIMITER], 1.0);
    garage.refused(2, &["sheet", "v2a", "--as-recorded"]);
    // The next number is the next.
    garage
        .ok(&["change", "limiter", "3/4", "--when", "sat 12:20", "--dry-run"]
            .map(|w| if w == "3/4" { "5/8" } else { w }));
    has(&garage.ok(&["change", "rear", "tires", "12.25"]), &["v4"]);
}

#[test]
fn after_gc_every_sheet_is_there_and_a_clone_gives_the_same_answers() {
    let garage = saturday();
    garage.ok(&["change", "limiter", "down", "1/4", "--when", "sat 12:15"]);
    garage.ok(&["mend", "v2a", "limiter", "5/8"]);
    let answers = |garage: &Garage| {
        let all = [
            &["history", "--all"][..],
            &["history", "--as-recorded", "--all"],
            &["runs"],
            &["blame"],
            &["sheet", "v2a"],
            &["sheet", "v2", "--as-recorded"],
        ];
        all.map(|args| garage.json(args).to_string())
    };
    let before = answers(&garage);
    garage.git("grey", &["gc", "--prune=now", "--quiet"]);
    assert_eq!(before, answers(&garage), "after gc");
    let dir = garage.dir();
    garage.git("grey", &["clone", "--quiet", "--no-local", ".", "../copy"]);
    std::fs::remove_dir_all(dir.join("grey")).unwrap();
    std::fs::rename(dir.join("copy"), dir.join("grey")).unwrap();
    assert_eq!(before, answers(&garage), "in a clone");
    garage.tidy("grey", "a clone");
}

#[test]
fn a_reading_stops_the_carry_and_a_step_is_asked_about() {
    let garage = saturday();
    garage.at("2026-08-23T20:01:00");
    garage.ok(&["change", "limiter", "1/2"]);
    garage.ok(&["change", "limiter", "down", "1/8", "-y"]);
    // v4 read 0.50: what came before cannot reach it.
    garage.ok(&["change", "limiter", "down", "1/4", "--when", "sat 12:15"]);
    assert_eq!(["v2a", "v3", "v4", "v5"].map(|v| value(&garage, v, LIMITER)), [0.75, 0.75, 0.5, 0.375]);
    // The tires went down by a step at 11:20: from which value?
    let late = ["change", "rear", "tires", "12", "--when", "sat 10:00"];
    let said = garage.refused(2, &late);
    has(&said, &["v2 of", "rear tire", "typed as a step", "--keep-steps", "--keep-readings"]);
    let psi = |v: &str| value(&garage, v, "rear.tire.pressure");
    garage.ok(&[&late[..], &["--keep-readings"]].concat());
    assert_eq!(
        ["v1a", "v2"].map(|v| psi(v)[0].as_f64().or(psi(v)["left"].as_f64()).or(psi(v).as_f64())),
        [Some(12.0), Some(12.0)]
    );
    garage.ok(&["oops"]);
    garage.ok(&[&late[..], &["--keep-steps"]].concat());
    let left = |v: &str| psi(v).as_f64().or(psi(v)["left"].as_f64()).unwrap();
    assert_eq!([left("v1b"), left("v2")], [12.0, 11.5], "a number is never given twice");
    garage.tidy("grey", "steps");
}

#[test]
fn late_over_a_revert_says_what_stays() {
    let garage = saturday();
    garage.ok(&["revert", "v1"]);
    let said = garage.ok(&["change", "limiter", "down", "1/4", "--when", "sat 12:15"]);
    has(&said, &["v4 went back to v1", "0.75 in", "--until TIME"]);
    assert_eq!(value(&garage, "v4", LIMITER), 0.75);
    garage.ok(&["oops"]);
    garage.ok(&["change", "limiter", "down", "1/4", "--when", "sat 12:15", "--until", "sat 19:00"]);
    assert_eq!(["v3", "v4"].map(|v| value(&garage, v, LIMITER)), [0.75, 1.0]);
    assert_eq!(numbers(&garage).len(), 6);
    // A revert that set the field itself ends the carry.
    let garage = saturday();
    garage.ok(&["change", "limiter", "down", "1/8"]);
    garage.ok(&["revert", "v1"]);
    garage.ok(&["change", "limiter", "down", "1/4", "--when", "sat 12:15", "--keep-steps"]);
    assert_eq!(["v4", "v5"].map(|v| value(&garage, v, LIMITER)), [0.625, 1.0]);
}

#[test]
fn late_before_the_first_version_is_refused_until_that_is_dated_back() {
    let garage = saturday();
    let said = garage.refused(2, &["change", "limiter", "down", "1/4", "--when", "2026-07-20 12:00"]);
    has(&said, &["before the book begins", "slipbook mend v1 --when"]);
    garage.ok(&["mend", "v1", "--when", "2026-07-01 12:00"]);
    garage.ok(&["change", "limiter", "down", "1/4", "--when", "2026-07-20 12:00"]);
    assert_eq!(numbers(&garage), ["v1", "v1a", "v2", "v3"]);
    assert_eq!(value(&garage, "v3", LIMITER), 0.75);
    garage.tidy("grey", "the first version dated back");
    // The whole line was written anew: its first sheet holds all that a book begins with.
    assert_eq!(on(&garage, "09:40"), "v1a");
}

#[test]
fn two_late_on_one_day_stand_in_the_order_of_time() {
    let garage = saturday();
    garage.ok(&["change", "limiter", "down", "1/4", "--when", "sat 12:30"]);
    garage.ok(&["change", "limiter", "down", "1/8", "--when", "sat 12:00", "--keep-steps"]);
    assert_eq!(numbers(&garage), ["v1", "v2", "v2b", "v2a", "v3"]);
    assert_eq!(["v2b", "v2a", "v3"].map(|v| value(&garage, v, LIMITER)), [0.875, 0.625, 0.625]);
}

#[test]
fn late_then_mended_then_mended_back() {
    let garage = saturday();
    garage.ok(&["change", "limiter", "down", "1/4", "--when", "sat 12:15"]);
    let before = garage.json(&["history", "--all"])["versions"].to_string();
    has(&garage.ok(&["mend", "v2a", "limiter", "5/8"]), &["mended from v2a on: limiter was at 0.625 in, not 0.75"]);
    assert_eq!(["v2a", "v3"].map(|v| value(&garage, v, LIMITER)), [0.625, 0.625]);
    has(&garage.ok(&["history"]), &["* mended from v2a on: limiter was at 0.625 in, not 0.75"]);
    garage.ok(&["mend", "v2a", "limiter", "down", "1/4"]);
    let without_ids = |text: String| -> Vec<Value> {
        let mut list: Vec<Value> = serde_json::from_str(&text).unwrap();
        list.iter_mut().for_each(|v| drop(v.as_object_mut().unwrap().remove("id")));
        list
    };
    let after = garage.json(&["history", "--all"])["versions"].to_string();
    assert_eq!(without_ids(before), without_ids(after));
    garage.refused(2, &["mend", "v2a", "limiter", "3/4"]);
}

#[test]
fn a_window_counts_for_neither_side() {
    let garage = saturday();
    let said = garage.ok(&["change", "limiter", "down", "1/4", "--between", "sat 11:30", "sat 12:55"]);
    has(&said, &["2 runs inside the window count for neither side (Aug 22 11:45, Aug 22 12:50)"]);
    has(&garage.ok(&["history"]), &["between Aug 22 11:30 and Aug 22 12:55"]);
    let blame = garage.json(&["blame", "60ft"]);
    assert!(!blame.to_string().contains("\"n_with\":2"), "{blame}");
    garage.refused(2, &["change", "limiter", "down", "1/4", "--between", "sat 12:55", "sat 11:30"]);
    garage.ok(&["mend", "v2a", "--when", "sat 12:00"]);
    has_not(&garage.ok(&["history"]), &["between Aug 22 11:30"]);
}

#[test]
fn a_run_at_the_very_second_of_a_change_is_on_it() {
    let garage = saturday();
    garage.ok(&["change", "limiter", "down", "1/4", "--when", "sat 12:50"]);
    assert_eq!(on(&garage, "12:50"), "v2a");
    garage.ok(&["mend", "v2a", "--when", "sat 12:51"]);
    assert_eq!(on(&garage, "12:50"), "v2");
}

#[test]
fn a_value_in_one_version_only_and_one_that_was_always_so() {
    let garage = saturday();
    garage.ok(&["mend", "v2", "limiter", "3/4", "--only"]);
    assert_eq!(["v1", "v2", "v3"].map(|v| value(&garage, v, LIMITER)), [1.0, 0.75, 1.0]);
    garage.ok(&["oops"]);
    garage.ok(&["change", "limiter", "down", "1/4"]);
    garage.ok(&["mend", "v3", "limiter", "7/8", "--always"]);
    assert_eq!(["v1", "v2", "v3", "v4"].map(|v| value(&garage, v, LIMITER)), [0.875; 4]);
    has(&garage.ok(&["history"]), &["* mended"]);
    // No verdict sees a step in it: v4 changed nothing any more, and is one setup with v3.
    has(&garage.ok(&["history"]), &["one setup with v3"]);
    garage.refused(2, &["mend", "v3", "limiter", "7/8", "--always"]);
    garage.tidy("grey", "always so");
}

#[test]
fn a_version_that_never_happened() {
    let garage = saturday();
    has(&garage.ok(&["mend", "v2", "--never"]), &["v2 never happened on the car", "2 runs move from v2 to v1"]);
    assert_eq!(numbers(&garage), ["v1", "v3"]);
    assert_eq!(on(&garage, "11:45"), "v1");
    garage.ok(&["mend", "v3", "--never"]);
    assert_eq!(numbers(&garage), ["v1"], "the last one too");
    garage.tidy("grey", "never happened");
    assert_eq!(garage.json(&["sheet"])["version"], "v1");
    garage.refused(2, &["mend", "v1", "--never"]);
    garage.refused(2, &["mend", "v2", "--never"]);
    has(&garage.ok(&["change", "limiter", "down", "1/4"]), &["v4"]);
}

#[test]
fn a_reason_and_a_time_put_right() {
    let garage = saturday();
    garage.ok(&["mend", "v2", "--why", "greasy track"]);
    garage.ok(&["mend", "v2", "--when", "sat 12:00"]);
    has(
        &garage.ok(&["history"]),
        &["why: greasy track", "* mended: why: greasy track", "* mended: it was Aug 22 12:00, not"],
    );
    assert_eq!(on(&garage, "11:45"), "v1");
    // Past its neighbour it stands behind it, under its own number.
    garage.ok(&["mend", "v2", "--when", "sat 13:30"]);
    assert_eq!(numbers(&garage), ["v1", "v3", "v2"]);
    assert_eq!(["12:50", "13:40"].map(|t| on(&garage, t)), ["v1", "v2"]);
    garage.refused(2, &["mend", "v2", "--when", "2026-07-01 12:00"]);
    garage.tidy("grey", "another time");
}

#[test]
fn any_number_of_a_run() {
    let garage = saturday();
    let said = garage.ok(&["mend", "run", "sat", "13:40", "60=1.597", "right", "spun", "at", "the", "hit"]);
    has(&said, &["60", "1.597, not 1.58"]);
    let day = garage.read("grey", "days/2026/08-22-osier-flats.toml");
    has(&day, &["ft60 = 1.597 # s", "lane = \"right\"", "why_not"]);
    garage.ok(&["mend", "run", "sat 13:40", "660=-", "clean"]);
    let run = &garage.json(&["runs"]).to_string();
    assert!(run.contains("1.597"), "{run}");
    garage.refused(2, &["mend", "run", "sat 13:41", "60=1.5"]);
    garage.refused(2, &["mend", "run", "sat 13:40", "60=99"]);
    garage.refused(2, &["mend", "run", "sat 13:40", "60=1.597"]);
    garage.ok(&["mend", "run", "sat 13:40", "--never"]);
    assert_eq!(runs(&garage).len(), 3);
    garage.tidy("grey", "runs mended");
}

#[test]
fn a_run_on_the_wrong_sheet_or_day() {
    let garage = saturday();
    garage.ok(&["mend", "run", "sat 13:40", "--on", "v2"]);
    assert_eq!(on(&garage, "13:40"), "v2");
    // A run put on a version by name stays there when others move.
    garage.ok(&["change", "limiter", "down", "1/4", "--when", "sat 12:15"]);
    assert_eq!(["12:50", "13:40"].map(|t| on(&garage, t)), ["v2a", "v2"]);
    garage.ok(&["mend", "run", "sat 11:45", "--at", "sun 11:45"]);
    assert_eq!(on(&garage, "23T11:45"), "v3", "it follows its time");
    has(&garage.read("grey", "days/2026/08-23-osier-flats.toml"), &["at = 11:45:00"]);
    garage.ok(&["oops"]);
    assert!(!garage.book("grey").join("days/2026/08-23-osier-flats.toml").exists());
    garage.tidy("grey", "a run on another day");
}

#[test]
fn a_run_goes_to_a_day_at_its_own_track_and_takes_nothing_of_the_old_one() {
    let garage = saturday();
    // The reading first: what comes to a closed day would open it again.
    air(&garage, "sat aug 22 2026", "13:00 84F 52% 29.42 station");
    garage.ok(&["day", "aug 22", "--prep", "glue", "--note", "rain at noon", "--close"]);
    garage.ok(&["run", "1.61", "--at", "sun 10:00", "--track", "Tern Hollow", "--yes"]);
    garage.ok(&["mend", "run", "sat 13:40", "--at", "sun 13:40"]);
    let day = garage.read("grey", "days/2026/08-23-osier-flats.toml");
    has(&day, &["track = \"Osier Flats\"", "at = 13:40:00"]);
    has_not(&day, &["prep", "glue", "note", "closed", "unread", "[[reading]]"]);
    has_not(&garage.read("grey", "days/2026/08-23-tern-hollow.toml"), &["13:40"]);
    has(&garage.read("grey", "days/2026/08-22-osier-flats.toml"), &["glue", "rain at noon", "[[reading]]"]);
    // A day of that date at that track takes the next one.
    garage.ok(&["mend", "run", "sat 12:50", "--at", "sun 12:50"]);
    let day = garage.read("grey", "days/2026/08-23-osier-flats.toml");
    has(&day, &["at = 12:50:00", "at = 13:40:00"]);
    garage.tidy("grey", "a run at another track's date");
}

#[test]
fn a_run_moved_over_daylight_saving_keeps_its_clock() {
    let garage = saturday();
    garage.at("2026-11-07T09:00:00-06:00");
    garage.ok(&["run", "1.61", "--track", "Osier Flats"]);
    garage.at("2026-11-09T20:00:00-06:00");
    // To a day that is there, to a new one, and back over the change of the clock.
    for (from, to, path) in [
        ("2026-08-22 13:40", "2026-11-07 13:40", "days/2026/11-07-osier-flats.toml"),
        ("2026-08-22 12:50", "2026-11-08 12:50", "days/2026/11-08-osier-flats.toml"),
        ("2026-11-07 13:40", "2026-08-22 14:10", "days/2026/08-22-osier-flats.toml"),
    ] {
        has(&garage.ok(&["mend", "run", from, "--at", to]), &[&to[11..]]);
        let clock = format!("at = {}:00", &to[11..]);
        let offset = format!("utc_offset = \"{}\"", if to.contains("-11-") { "-06:00" } else { "-05:00" });
        has(&garage.read("grey", path), &[&clock, &offset]);
        assert_eq!(on(&garage, &to.replace(' ', "T")), "v3");
    }
    garage.tidy("grey", "runs over daylight saving");
}

#[test]
fn a_track_by_its_right_name() {
    let garage = saturday();
    garage.ok(&["mend", "track", "osier", "flats", "--name", "Tern Hollow", "--elevation", "640"]);
    let day = garage.read("grey", "days/2026/08-22-tern-hollow.toml");
    has(&day, &["track = \"Tern Hollow\"", "elevation = 640 # ft"]);
    has(
        &garage.refused(2, &["mend", "track", "Osier Flats", "--elevation", "640"]),
        &["tracks on record: Tern Hollow"],
    );
    garage.tidy("grey", "a track's name");
}

#[test]
fn a_clock_that_was_wrong_by_an_hour_and_by_a_day() {
    let garage = saturday();
    garage.ok(&["mend", "clock", "aug 22", "--slow", "1h"]);
    assert_eq!(runs(&garage)[0].0, "2026-08-22T10:40");
    assert_eq!(["10:40", "12:45", "13:50", "14:40"].map(|t| on(&garage, t)), ["v1", "v2", "v2", "v3"]);
    garage.ok(&["mend", "clock", "aug 22", "--fast", "1h"]);
    garage.ok(&["mend", "clock", "aug 22", "--fast", "1d"]);
    assert_eq!(runs(&garage)[0].0, "2026-08-21T09:40");
    assert_eq!(on(&garage, "13:40"), "v3");
    has(&garage.read("grey", "days/2026/08-21-osier-flats.toml"), &["date = 2026-08-21"]);
    garage.refused(2, &["mend", "clock", "aug 21", "--slow", "18h"]);
    // A reading has its edge at 06:00 like a run, on both sides, and does not go round the clock.
    air(&garage, "fri aug 21 2026", "05:30 60F 80% 29.50 station");
    air(&garage, "sun aug 23 2026", "10:00 70F 50% 29.50 station");
    for (day, way, by) in [("aug 21", "--slow", "30min"), ("aug 23", "--slow", "25h"), ("aug 23", "--fast", "5h")] {
        let said = garage.refused(2, &["mend", "clock", day, way, by]);
        has(&said, &["the reading then at", "another race day", "whole days"]);
    }
    garage.ok(&["mend", "clock", "aug 21", "--slow", "20min"]);
    has(&garage.read("grey", "days/2026/08-21-osier-flats.toml"), &["at = 05:50:00", "at = 10:00:00"]);
    garage.tidy("grey", "a wrong clock");
}

#[test]
fn a_day_past_midnight_is_one_day() {
    let garage = saturday();
    garage.at("2026-08-23T00:40:00");
    garage.ok(&["run", "1.575", "4.65", "7.23", "94.2", "9.46", "11.40", "117.0", "l"]);
    garage.at("2026-08-23T20:00:00");
    garage.ok(&["change", "limiter", "down", "1/4", "--when", "2026-08-23 00:10"]);
    assert_eq!(numbers(&garage), ["v1", "v2", "v3", "v4"], "after the last version it is the next one");
    assert_eq!(on(&garage, "00:40"), "v4");
    garage.ok(&["mend", "clock", "aug 22", "--slow", "1h"]);
    assert_eq!(on(&garage, "01:40"), "v4");
}

#[test]
fn daylight_saving_does_not_move_a_change() {
    let garage = Garage::with_car();
    // The night of Nov 1 2026 the hour from one to two comes twice.
    garage.at("2026-11-01T00:50:00-05:00");
    garage.ok(&["run", "1.600", "4.68", "7.26", "94.2", "9.50", "11.44", "117.0", "l", "--track", "Osier Flats"]);
    garage.at("2026-11-01T01:30:00-05:00");
    garage.ok(&["change", "rear", "tires", "down", "1/2"]);
    garage.at("2026-11-01T01:40:00-06:00");
    garage.ok(&["run", "1.590", "4.67", "7.25", "94.2", "9.49", "11.43", "117.0", "l"]);
    garage.at("2026-11-02T20:00:00-06:00");
    // Between them in true time, although 01:10 stands before 01:30 on the clock.
    garage.ok(&["change", "limiter", "down", "1/4", "--when", "2026-11-01 01:59"]);
    let history = garage.json(&["history", "--all"]);
    assert_eq!(history["versions"].as_array().unwrap().len(), 3);
    for v in history["versions"].as_array().unwrap() {
        assert!(v["runs"].as_u64().unwrap() <= 1);
    }
    garage.tidy("grey", "daylight saving");
}

#[test]
fn oops_takes_back_and_puts_back() {
    let garage = saturday();
    let before = garage.json(&["history", "--all"]).to_string();
    let said = garage.ok(&["oops"]);
    has(&said, &["took back: v3 run: 60 ft 1.580", "oops again puts it back"]);
    assert_eq!(runs(&garage).len(), 3);
    has(&garage.ok(&["oops"]), &["put back: v3 run"]);
    assert_eq!(before, garage.json(&["history", "--all"]).to_string());
    has(&garage.ok(&["oops"]), &["took back: v3 run"]);
    garage.ok(&["change", "limiter", "down", "1/4"]);
    garage.ok(&["oops"]);
    assert_eq!(numbers(&garage), ["v1", "v2", "v3"]);
    has(&garage.ok(&["change", "limiter", "down", "1/8"]), &["v5"]);
    garage.tidy("grey", "oops");
    let fresh = Garage::with_car();
    has(&fresh.refused(2, &["oops"]), &["nothing to take back"]);
}

#[test]
fn two_cars_in_the_trailer() {
    let garage = saturday();
    garage.ok(&[
        "new",
        "Heron",
        "--template",
        "leaf-torsion",
        "rear.limiter.kind=screw",
        "rear.limiter.height=2",
        "rear.limiter.threads=16",
    ]);
    garage.at("2026-08-23T20:30:00");
    garage.ok(&["change", "limiter", "down", "1/4", "--car", "grey"]);
    let said = garage.ok(&["oops", "--car", "grey", "--to", "heron"]);
    has(&said, &["now in Heron's book: v2: limiter lowered 0.25 in (2.00 -> 1.75)"]);
    assert_eq!(garage.json(&["sheet", "--car", "heron"])["fields"][LIMITER], 1.75);
    assert_eq!(garage.json(&["sheet", "--car", "grey"])["fields"][LIMITER], 1.0);
    garage.at("2026-08-23T21:00:00");
    garage.ok(&["run", "1.600", "4.68", "7.26", "94.2", "9.50", "11.44", "117.0", "l", "--car", "grey"]);
    garage.ok(&["oops", "--car", "grey", "--to", "heron"]);
    assert_eq!(garage.json(&["runs", "--car", "heron"])["runs"].as_array().unwrap().len(), 1);
    garage.refused(2, &["oops", "--car", "heron", "--to", "heron"]);
    garage.refused(2, &["oops", "--car", "grey", "--to", "nobody"]);
    garage.tidy("grey", "moved away");
    garage.tidy("heron", "moved here");
}

#[test]
fn what_would_not_go_on_the_car_is_refused_and_names_the_version() {
    let garage = saturday();
    garage.ok(&["change", "limiter", "down", "3/4", "-y"]);
    let said = garage.refused(2, &["change", "limiter", "down", "1/2", "--when", "sat 12:15", "--keep-steps", "-y"]);
    has(&said, &["v4 of Aug 23", "nothing was recorded"]);
    let said = garage.refused(2, &["change", "limiter", "1", "--when", "sat 12:15"]);
    has(&said, &["says so already"]);
    garage.refused(2, &["mend", "v9", "limiter", "1"]);
    garage.refused(2, &["mend", "v2"]);
    garage.refused(2, &["mend", "v2", "--slow", "1h"]);
    garage.refused(2, &["mend", "limiter", "1"]);
}

#[test]
fn a_hand_edit_that_is_not_saved_is_not_mended_over() {
    let garage = saturday();
    garage.edit("grey", "setup.toml", |t| t.replace("height = 1.00 # in", "height = 1.25 # in"));
    has(&garage.refused(3, &["mend", "v2", "--never"]), &["changed by hand"]);
    has(&garage.refused(3, &["oops"]), &["by hand"]);
}

/// Before it is saved blame would change, after it has.
#[test]
fn what_changed_in_blame_is_told_as_done() {
    let garage = Garage::new();
    garage.take_in("plover");
    let mend = ["mend", "v18", "rear", "tires", "12.75", "--car", "plover"];
    has(&garage.ok(&[&mend[..], &["--dry-run"]].concat()), &["blame would change for ", "nothing written"]);
    let said = garage.ok(&mend);
    has(&said, &["blame changed for ", "saved; "]);
    has_not(&said, &["would change"]);
}
