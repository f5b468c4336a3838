//! The record read back: tiny books, names of versions, what may not be claimed.

use crate::common::{FIRST, Garage, has, has_not, no_controls};
use serde_json::Value;

const READING: &[&[&str]] = &[
    &["history"],
    &["history", "--all"],
    &["history", "--field", "rear.limiter.height"],
    &["history", "limiter"],
    &["runs"],
    &["runs", "--all"],
    &["runs", "--by-version"],
    &["runs", "v1"],
    &["diff", "v1", "v1"],
    &["diff", "v1", "now", "--notes"],
    &["blame"],
    &["blame", "et"],
    &["blame", "mph", "--all"],
    &["blame", "330", "--top", "0"],
    &["blame", "--fields"],
    &["sheet"],
    &["sheet", "v1"],
    &["cars"],
    &["fields", "limiter"],
];

/// Every reading command answers, changes nothing, and shows no number that is none.
fn all_answer(garage: &Garage, book: &str) {
    let before = garage.contents();
    for args in READING {
        let text = garage.ok(args);
        no_controls(&text);
        for nothing in ["NaN", "nan ", "inf ", "-0.000", "null", "Some(", "None"] {
            has_not(&text, &[nothing]);
        }
        garage.json(args);
    }
    assert_eq!(before, garage.contents(), "reading wrote something: {book}");
}

fn run(garage: &Garage, ft60: &str, words: &[&str]) {
    garage.ok(&[&["run", "--yes", "--track", "Osier Flats", &format!("60={ft60}")], words].concat());
}

#[test]
fn an_empty_sheet() {
    let garage = Garage::new();
    garage.ok(&["new", "Grey", "--template", "leaf-torsion"]);
    all_answer(&garage, "an empty sheet");
}

#[test]
fn one_version_and_no_run() {
    let garage = Garage::with_car();
    all_answer(&garage, "one version, no run");
    has(&garage.ok(&["history"]), &["1 version, 0 runs", "never run"]);
    has(&garage.refused(2, &["diff"]), &["one version"]);
    for name in ["best", "last-good", "previous"] {
        garage.refused(2, &["sheet", name]);
    }
    garage.refused(2, &["revert", "--last-good"]);
    has(&garage.ok(&["blame"]), &["No run counts yet."]);
}

#[test]
fn one_run() {
    let garage = Garage::with_car();
    run(&garage, "1.6", &[]);
    all_answer(&garage, "one run");
    has(&garage.ok(&["runs"]), &["1 run of 1", "1.600"]);
}

#[test]
fn every_run_marked_bad() {
    let garage = Garage::with_car();
    for _ in 0..4 {
        run(&garage, "1.9", &["spun", "at", "the", "hit"]);
    }
    garage.ok(&["change", "limiter", "down", "1/4"]);
    for _ in 0..4 {
        run(&garage, "1.8", &["lifted", "at", "0"]);
    }
    all_answer(&garage, "all bad");
    let history = garage.json(&["history"]);
    assert_eq!(
        (&history["versions"][0]["runs"], &history["versions"][0]["ft60_s"]),
        (&Value::from(4), &Value::Null),
        "{history}"
    );
    has_not(&garage.ok(&["blame"]), &["quicker", "slower"]);
    garage.refused(2, &["revert", "--last-good"]);
}

#[test]
fn every_time_alike() {
    let garage = Garage::with_car();
    for _ in 0..4 {
        run(&garage, "1.6", &[]);
    }
    garage.ok(&["change", "limiter", "down", "1/4"]);
    for _ in 0..4 {
        run(&garage, "1.6", &[]);
    }
    all_answer(&garage, "all alike");
    let blame = garage.json(&["blame"]);
    let effect = blame["changes"][0]["effect_s"].as_f64().unwrap();
    assert!(effect.abs() < 0.001, "{blame}");
    assert_eq!(blame["changes"][0]["evidence"], "no_effect", "{blame}");
}

#[test]
fn equal_setups_are_told_as_one() {
    let garage = Garage::with_car();
    run(&garage, "1.6", &[]);
    garage.ok(&["change", "limiter", "down", "1/4"]);
    garage.ok(&["change", "limiter", "up", "1/4"]);
    run(&garage, "1.61", &[]);
    has(&garage.ok(&["history"]), &["one setup with v1"]);
    let history = garage.json(&["history"]);
    assert_eq!(history["versions"][0]["same_setup"], serde_json::json!(["v1"]));
    assert_eq!(history["versions"][0]["setup"], history["versions"][2]["setup"]);
    // A note, a measured value and a comment split no setup.
    garage.ok(&["change", "notes=new tires soon"]);
    garage.ok(&["change", "rear.limiter.gap=0.4"]);
    let same = garage.json(&["history"]);
    assert_eq!(same["versions"][0]["setup"], history["versions"][0]["setup"]);
}

#[test]
fn names_of_versions() {
    let garage = Garage::with_car();
    garage.ok(&["change", "limiter", "down", "1/4"]);
    garage.at("2026-08-23T14:00:00");
    garage.ok(&["change", "timing", "34"]);
    let version = |name: &str| garage.json(&["sheet", name])["version"].clone();
    assert_eq!(
        [version("v2"), version("V2"), version("previous"), version("now")],
        ["v2", "v2", "v2", "v3"].map(Value::from)
    );
    assert_eq!(
        [version("2026-08-22"), version("aug 22"), version("yesterday"), version("aug 10"), version("today")],
        ["v2", "v2", "v2", "v1", "v3"].map(Value::from)
    );
    let ids = garage.json(&["history"]);
    let id = ids["versions"][1]["id"].as_str().unwrap().to_owned();
    assert_eq!(version(&id), "v2");
    assert_eq!(version(&id[..7]), "v2");
    for none in ["v9", "v0", "v", "abcdef0", "july", "2026-99-01", "2026-07-01", "", "-1", "v99999999999999999999"] {
        garage.refused(2, &["diff", "--", none, "now"]);
    }
}

#[test]
fn a_date_of_two_words_is_one_version() {
    let garage = Garage::with_car();
    garage.at("2026-08-23T14:00:00");
    garage.ok(&["change", "timing", "34"]);
    for words in [&["diff", "aug", "22"][..], &["diff", "aug 22", "v2"], &["diff", "aug", "22", "aug", "23", "2026"]] {
        let told = garage.json(words);
        assert_eq!((&told["a"]["name"], &told["b"]["name"]), (&"v1".into(), &"v2".into()), "{words:?}");
    }
    has(&garage.refused(2, &["diff", "v1", "v2", "v1"]), &["3 versions are named, two are told apart"]);
    has(&garage.refused(2, &["diff", "may"]), &["`may` is a month without its day"]);
}

#[test]
fn wrong_questions() {
    let garage = Garage::with_car();
    has(&garage.refused(2, &["blame", "61"]), &["60, 330, 660, 1000, et or mph"]);
    has(&garage.refused(2, &["runs", "jul", "1"]), &["no run on 2026-07-01"]);
    garage.refused(2, &["runs", "nonsense"]);
    has(&garage.refused(2, &["history", "--field", "foo"]), &["`foo`"]);
    has(&garage.refused(2, &["fields", "sparkle"]), &["sparkle"]);
    garage.refused(2, &["nonsense"]);
    garage.refused(2, &["history", "--nonsense"]);
    garage.refused(2, &["sheet", "--format", "yaml"]);
}

#[test]
fn a_diff_is_the_way_from_a_to_b() {
    let garage = Garage::with_car();
    garage.ok(&["change", "limiter", "down", "1/4,", "rear", "shocks", "looser", "2"]);
    garage.ok(&["change", "rear.tire.pressure=12/12.25", "rear.limiter.bumper=urethane", "notes=one\ntwo"]);
    let (old, new) = (garage.json(&["sheet", "v1"]), garage.json(&["sheet", "v3"]));
    for (a, b, from, to) in [("v1", "v3", &old, &new), ("v3", "v1", &new, &old)] {
        let mut fields = from["fields"].as_object().unwrap().clone();
        for change in garage.json(&["diff", a, b])["changes"].as_array().unwrap() {
            let key = change["field"].as_str().unwrap().to_owned();
            assert_eq!(fields.get(&key).unwrap_or(&Value::Null), &change["old"], "{key}");
            match &change["new"] {
                Value::Null => drop(fields.remove(&key)),
                value => drop(fields.insert(key, value.clone())),
            }
        }
        let got: std::collections::BTreeMap<_, _> = fields.into_iter().collect();
        let wanted: std::collections::BTreeMap<_, _> = to["fields"].as_object().unwrap().clone().into_iter().collect();
        assert_eq!(got, wanted);
    }
    has(&garage.ok(&["diff", "v1", "v1"]), &["same", "13 fields"]);
    has(&garage.ok(&["diff", "v1", "v3", "--notes"]), &["one", "two"]);
    assert_eq!(garage.json(&["diff"]), garage.json(&["diff", "v2", "v3"]));
    assert_eq!(garage.json(&["diff", "v2"]), garage.json(&["diff", "v2", "v3"]));
}

/// The answers for programs hold what `schema/output.md` promises.
#[test]
fn documented_keys_are_there() {
    let garage = Garage::with_car();
    let keys = |json: &Value, keys: &[&str], of: &str| {
        let missing: Vec<_> = keys.iter().filter(|k| json.get(**k).is_none()).collect();
        assert!(missing.is_empty(), "{of}: {missing:?}");
    };
    let one = garage.json(&["run", "--track", "Osier Flats", "1.6", "11.4", "117.1"]);
    keys(&one, &["car", "saved", "run", "track", "finish_ft", "new_day", "run_of_version", "against"], "run");
    let changed = garage.json(&["change", "limiter down 1/4"]);
    keys(
        &changed,
        &["car", "saved", "version", "kind", "at", "why", "words", "changes", "turned", "re_measure", "unusual"],
        "change",
    );
    garage.ok(&["run", "1.6", "11.4", "117.2"]);
    let history = garage.json(&["history"]);
    keys(&history, &["car", "versions", "remarks", "older"], "history");
    let each = [
        "version",
        "id",
        "setup",
        "kind",
        "at",
        "written",
        "by",
        "words",
        "why",
        "back_to",
        "runs",
        "ft60_s",
        "et_s",
        "apart_ft60_s",
        "early",
        "same_setup",
    ];
    keys(&history["versions"][0], &each, "history");
    keys(&garage.json(&["history", "--field", "limiter"]), &["car", "field", "unit", "values"], "history --field");
    let list = garage.json(&["wrench", "v1"]);
    let of_list = [
        "car",
        "from",
        "to",
        "left_alone",
        "gone",
        "command",
        "jobs",
        "minutes",
        "shop",
        "times_under",
        "parts",
        "places",
        "off_record",
        "measure",
        "not_moved",
        "before_the_run",
    ];
    keys(&list, &of_list, "wrench");
    let of_step = ["field", "slot", "kind", "with", "from", "to", "amount", "words", "change", "unreachable", "needs"];
    keys(&list["places"][0]["steps"][0], &of_step, "wrench");
    keys(&garage.json(&["diff"]), &["car", "a", "b", "words", "changes", "same", "runs"], "diff");
    keys(
        &garage.json(&["blame"]),
        &["car", "response", "matters", "unit", "changes", "test", "counted", "days", "left_out", "one_air"],
        "blame",
    );
    keys(
        &garage.json(&["blame", "--fields"])["fields"][0],
        &["field", "area", "value", "unit", "since", "at", "by", "why", "effect", "evidence"],
        "blame --fields",
    );
    keys(
        &garage.json(&["runs"])["runs"][0],
        &["version", "date", "track", "finish_ft", "id", "at", "on", "setup", "clean_to_ft", "did"],
        "runs",
    );
    keys(
        &garage.json(&["revert", "v1", "--dry-run"]),
        &["car", "saved", "changes", "back_to", "from", "chosen", "left_alone"],
        "revert",
    );
    keys(&garage.json(&["sheet"]), &["car", "version", "fields"], "sheet");
    keys(&garage.json(&["fields", "limiter"]), &["fields"], "fields");
    keys(
        &garage.json(&["cars"])["cars"][0],
        &["folder", "name", "error", "template", "version", "last", "current"],
        "cars",
    );
    keys(
        &garage.json(&["new", "Wren", "--template", "leaf-torsion"]),
        &["car", "folder", "dir", "version", "fields"],
        "new",
    );
}

#[test]
fn fields_need_no_book() {
    let garage = Garage::new();
    has(&garage.ok(&["fields", "limiter"]), &["rear.limiter.height"]);
    has(&garage.ok(&["fields", "rear.ladder.front_hole"]), &["rear.ladder.front_hole"]);
    garage.ok(&[&["new", "Grey", "--template", "leaf-torsion"], FIRST].concat());
    has_not(&garage.ok(&["fields", "hole"]), &["rear.ladder"]);
    has(&garage.ok(&["fields", "hole", "--all"]), &["rear.ladder"]);
}

#[cfg(unix)]
#[test]
fn a_reader_that_goes_away_is_no_error() {
    let garage = Garage::with_car();
    let (reader, writer) = std::io::pipe().unwrap();
    drop(reader);
    let status = std::process::Command::new(env!("CARGO_BIN_EXE_slipbook"))
        .args(["--garage", &garage.dir().display().to_string(), "fields", "a", "--all"])
        .stdout(writer)
        .stderr(std::process::Stdio::null())
        .status()
        .unwrap();
    assert!(status.success(), "{status}");
}

#[test]
fn the_tour_shows_the_main_job() {
    let garage = Garage::new();
    let dir = garage.root().join("tour").display().to_string();
    let said = garage.ok(&["tour", &dir]);
    has(
        &said,
        &[
            &dir,
            "$ slipbook history",
            "$ slipbook diff v12 v17",
            "$ slipbook blame",
            "$ slipbook check",
            "$ slipbook revert --last-good --dry-run",
            "$ slipbook numbers --short",
        ],
    );
    no_controls(&said);
    // Built anew in its own folder; never in one it did not make.
    garage.ok(&["tour", &dir]);
    let other = garage.root().join("mine");
    std::fs::create_dir(&other).unwrap();
    std::fs::write(other.join("keep"), "me").unwrap();
    garage.refused(2, &["tour", &other.display().to_string()]);
    assert!(other.join("keep").exists());
}

/// A sheet is shown whole: every line of the notes.
#[test]
fn notes_are_shown_whole() {
    let garage = Garage::with_car();
    garage.ok(&["change", "notes=first line\nsecond line\nthird line"]);
    has(&garage.ok(&["sheet"]), &["first line", "second line", "third line"]);
}

/// Two fields never look like one another on a screen.
#[test]
fn each_line_of_the_origins_names_one_field() {
    let garage = Garage::sample();
    let text = garage.ok(&["blame", "--fields", "--car", "plover"]);
    let mut seen = std::collections::BTreeSet::new();
    for line in text.lines().filter(|l| l.starts_with("  ") && !l.starts_with("   ")) {
        let label = line.split(": ").next().unwrap_or_default();
        assert!(seen.insert(label), "`{label}` is there twice");
    }
    assert!(seen.len() > 60);
}

/// The examples of a help stand on lines of their own, as they are typed.
#[test]
fn examples_of_the_help_can_be_copied() {
    let garage = Garage::new();
    let mut found = 0;
    for command in ["run", "change", "runs", "history", "diff", "blame", "revert", "new", "sheet"] {
        let help = garage.ok(&[command, "--help"]);
        for line in help.lines().filter(|l| l.contains(&format!("slipbook {command}")) && !l.starts_with("Usage")) {
            assert!(line.trim_start().starts_with("slipbook "), "{line}\n{help}");
            assert_eq!(line.matches("slipbook ").count(), 1, "{line}\n{help}");
            found += 1;
        }
    }
    assert!(found > 20, "{found}");
}

/// A narrow screen: no line is wider, but for a word that cannot be broken.
#[test]
fn narrow_screens_hold_every_line() {
    let garage = Garage::sample();
    garage.at("2026-10-03T19:30:00");
    for (columns, car) in [(40, "plover"), (40, "knot"), (80, "plover")] {
        for args in [
            &["blame"][..],
            &["blame", "mph", "--all"],
            &["blame", "--fields"],
            &["blame", "--field", "rear.shock.extension"],
            &["blame", "--package"],
            &["blame", "spread"],
            &["history"],
            &["history", "--field", "rear.shock.extension"],
            &["revert", "v3", "--dry-run"],
            &["revert", "v10", "--engine", "--dry-run"],
            &["wrench", "v3"],
            &["wrench", "v3", "v9"],
            &["diff", "v3", "v9"],
            &["diff", "v1", "v12", "--notes"],
            &["trial", "next"],
        ] {
            let args = [args, &["--car", car]].concat();
            let said = garage.run_with(garage.root(), &[("COLUMNS", &columns.to_string())], &args);
            assert_eq!(said.code, 0, "{}", said.stderr);
            for line in said.stdout.lines() {
                let one_word = !line.trim().contains(' ');
                assert!(line.chars().count() <= columns || one_word, "{columns} {args:?}: {line}");
            }
        }
    }
}
