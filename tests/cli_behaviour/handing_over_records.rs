//! The messages of records in what goes out: a hand can write any message, with the lines of this program's own in it. What
//! has not the program's form is listed before it goes, and does not go along into a copy that leaves something out.

use crate::common::{Garage, has, has_not};
use crate::handing_over_less::all_in;
use crate::joining::{apart, path as book_of, two};
use std::path::{Path, PathBuf};

fn garage() -> (Garage, PathBuf) {
    let garage = Garage::with_car();
    let stick = garage.root().join("stick");
    std::fs::create_dir(&stick).unwrap();
    (garage, stick)
}

fn path(stick: &Path, name: &str) -> String {
    stick.join(name).display().to_string()
}

#[test]
fn a_name_cut_short_by_the_program_goes_too() {
    let name = "Quillfeatherstone";
    let (garage, stick) = garage();
    garage.by(name);
    garage.ok(&["run", "--track", "Osier Flats", "60=1.652"]);
    let id = garage.json(&["runs"])["runs"][0]["id"].as_str().unwrap().to_owned();
    for n in 0..=name.len() {
        let note = format!("{}, {} {name} on the line and more", n, "x".repeat(n + 8));
        garage.ok(&["mend", "run", &id, "--note", &note, "--yes"]);
    }
    let to = path(&stick, "x.bundle");
    garage.ok(&["handover", "grey", "--yes", "--to", &to, "--without", "names"]);
    let all = all_in(&garage, Path::new(&to)).to_lowercase();
    has(&all, &["hand 1 on the line"]);
    has_not(&all, &["quill", " qui", " qu.", " qu\n"]);
}

/// A record of a run, of a change and of a trial by hand, in whose every line something of a person's stands.
const BY_HAND: [&str; 5] = [
    "S01 sold cheap because the block is cracked\n\nKind: run\nRun: S02 of Pell\nOn: S03 the old one",
    "S04 lowered\n\nKind: measured\nTyped: rear.tire.pressure reading 8.0 though the S05 is there\n\
     Measured: rear.height.left S06 words\nMeasured: rear.height.right always S07\nGiven: v1 S08\nTime: S09\n\
     Trial: S10 of Pell\nSince: S11\nBack-to: S12\nWas: S13\nReplaces: S14",
    "S15 taken\n\nS16 of it\n\nKind: oops\nTakes-back: S17\nMoved-to: S18\nBefore: S19 versions, 3 runs",
    "S20 put right\n\nS21 of it\n\nKind: mend\nJoins: S22\nMended: S23\nOwner: S24\nReceived: S25\nPuts-back: S26",
    "S27 other\n\nS28 of it\n\nKind: S29\nTyped: weight.as_weighed reading \"S30\"\nVersion: S31",
];

#[test]
fn what_has_not_the_programs_form_is_listed_and_stays_here() {
    let (garage, stick) = garage();
    garage.ok(&["change", "rear.limiter.height=0.75", "--yes"]);
    garage.ok(&["trial", "start", "pairs", "v1", "v2", "--yes"]);
    for message in BY_HAND {
        garage.git("grey", &["commit", "-q", "--allow-empty", "-m", message]);
    }
    let told = garage.json(&["handover", "grey", "--list"]);
    let listed = told["other_words"].to_string();
    for n in 1..=31 {
        has(&listed, &[&format!("S{n:02}")]);
    }
    for without in ["notes", "notes,names", "rear.link.preload"] {
        let to = path(&stick, &format!("{}.bundle", without.len()));
        garage.ok(&["handover", "grey", "--yes", "--to", &to, "--without", without]);
        let all = all_in(&garage, Path::new(&to));
        for n in 1..=31 {
            has_not(&all, &[&format!("S{n:02}")]);
        }
        has(&all, &["Trial: pairs"]);
        let other = Garage::new();
        other.ok(&["receive", &to, "--owner", "Mo"]);
        assert_eq!(other.json(&["verify"])["good"], true, "{without}");
    }
    // Where only names stay here, a sentence goes without them, and a line that is not the program's goes not at all.
    let to = path(&stick, "names.bundle");
    garage.ok(&["handover", "grey", "--yes", "--to", &to, "--without", "names"]);
    let all = all_in(&garage, Path::new(&to));
    has_not(&all, &["S05", "S08", "S09", "S10", "S13", "S17"]);
}

#[test]
fn the_programs_own_records_are_not_listed() {
    let (garage, stick) = garage();
    let ok = |args: &[&str]| garage.ok(&[args, &["--car", "grey", "--yes"]].concat());
    garage.at("2026-08-01T10:00:00");
    ok(&["change", "rear.limiter.height=0.75", "notes=as it came"]);
    ok(&["run", "--track", "Osier Flats", "60=1.652", "1320=11.2", "mph=118.2", "--air", "84F 52% 29.42 station"]);
    let id = garage.json(&["runs"])["runs"][0]["id"].as_str().unwrap().to_owned();
    ok(&["change", "rear.limiter.height=0.5"]);
    ok(&["revert", "v2"]);
    ok(&["mend", "run", &id, "60=1.642"]);
    ok(&["oops"]);
    let note = "a note that is longer than the sentence of a record may be, and is cut there";
    ok(&["mend", "run", &id, "60=1.642", "--note", note]);
    garage.at("2026-08-02T10:00:00");
    ok(&["change", "rear.tire.pressure=12", "weight.as_weighed=in it", "--when", "2026-08-01 15:00"]);
    ok(&["trial", "start", "pairs", "v2", "v3"]);
    let to = path(&stick, "x.bundle");
    ok(&["handover", "--to", &to, "--since", "v2"]);
    let other = Garage::new();
    other.ok(&["receive", &to, "--owner", "Mo"]);
    let words = |g: &Garage| g.json(&["handover", "grey", "--list"])["other_words"].clone();
    for book in [&garage, &other] {
        assert_eq!(words(book), serde_json::json!(["Osier Flats", "in it", "pair A", "pairs"]));
    }
}

#[test]
fn what_was_stale_before_a_copy_is_told_without_a_field_that_stays_here() {
    let garage = Garage::new();
    garage.take_in("plover");
    let book = |g: &Garage| g.json(&["cars"])["cars"][0]["folder"].as_str().unwrap().to_owned();
    let car = book(&garage);
    let stick = garage.root().join("stick");
    std::fs::create_dir(&stick).unwrap();
    let versions = garage.json(&["history"])["versions"].as_array().unwrap().len();
    // A book that begins with what a field moved before: the field is on no later sheet's own record.
    for since in (2..=versions).rev() {
        let to = path(&stick, &format!("s{since}.bundle"));
        garage.ok(&["handover", &car, "--yes", "--to", &to, "--since", &format!("v{since}")]);
        let other = Garage::new();
        other.ok(&["receive", &to, "--owner", "Mo"]);
        let folder = book(&other);
        let first = other.git(&folder, &["log", "--reverse", "--format=%B"]);
        let Some(line) = first.lines().find(|l| l.starts_with("Measured: ") && l.contains(" moved v")) else {
            continue;
        };
        let by: Vec<&str> = line.split(' ').nth(5).unwrap_or_default().split(',').filter(|f| !f.is_empty()).collect();
        let Some(field) = by.first() else { continue };
        let again = path(&stick, "again.bundle");
        let said = other.run(&["handover", &folder, "--yes", "--to", &again, "--without", field]);
        assert_eq!(said.code, 0, "{field}: {}", said.both());
        let all = all_in_of(&other, &folder, Path::new(&again));
        has_not(&all, &[field]);
        has(&all, &[&line.split(' ').take(5).collect::<Vec<_>>().join(" ")]);
        return;
    }
    panic!("no version of the car has something stale");
}

#[test]
fn the_number_a_version_had_on_another_laptop_goes_along() {
    let (ro, sal) = two();
    apart(&ro, &sal);
    ro.ok(&["join", &book_of(&sal)]);
    let was = |g: &Garage| {
        let log = g.git("grey", &["log", "--all", "--format=%B"]);
        log.lines().filter(|l| l.starts_with("Was: ")).map(str::to_owned).collect::<Vec<_>>()
    };
    assert_eq!(was(&ro), ["Was: v3"]);
    // What a joining says is the program's own.
    has_not(&ro.json(&["handover", "grey", "--list"])["other_words"].to_string(), &["joined"]);
    let to = ro.root().join("x.bundle").display().to_string();
    for without in ["names", "notes"] {
        ro.ok(&["handover", "grey", "--yes", "--to", &to, "--without", without]);
        let other = Garage::new();
        other.ok(&["receive", &to, "--owner", "Mo"]);
        assert_eq!(was(&other), ["Was: v3"], "{without}");
        std::fs::remove_file(&to).unwrap();
    }
}

/// Everything the records of a bundle say, by stock git.
fn all_in_of(garage: &Garage, folder: &str, bundle: &Path) -> String {
    let clone = garage.root().join("clone-again").display().to_string();
    garage.git(folder, &["clone", "-q", &bundle.display().to_string(), &clone]);
    garage.git(folder, &["-C", &clone, "log", "--all", "--format=raw"])
}

#[test]
fn a_record_without_a_message_goes_along_all_the_same() {
    let (garage, stick) = garage();
    garage.ok(&["run", "--track", "Osier Flats", "60=1.652"]);
    for (path, from, to) in [
        ("car.toml", "format = 1\n", "format = 1\nclass = \"street\"\n"),
        ("days/2026/08-22-osier-flats.toml", "1.652", "1.653"),
        ("setup.toml", "height = 1.00", "height = 0.75"),
    ] {
        garage.edit("grey", path, |t| t.replacen(from, to, 1));
        garage.git("grey", &["commit", "-qa", "--allow-empty-message", "-m", ""]);
    }
    for without in ["names", "phones", "notes"] {
        let to = path(&stick, &format!("{without}.bundle"));
        garage.ok(&["handover", "grey", "--yes", "--to", &to, "--without", without]);
        has(&all_in(&garage, Path::new(&to)), &["    recorded\n"]);
        let other = Garage::new();
        other.ok(&["receive", &to, "--owner", "Mo"]);
        assert_eq!(other.json(&["verify"])["good"], true, "{without}");
    }
}

#[test]
fn what_stood_on_a_sheet_from_before_a_mend_stands_on_one_of_the_copy() {
    let (garage, stick) = garage();
    garage.at("2026-08-02T10:00:00");
    garage.ok(&["change", "rear.limiter.height=0.75", "--yes"]);
    garage.ok(&["run", "--track", "Osier Flats", "60=1.652"]);
    garage.ok(&["trial", "start", "pairs", "v1", "v2", "--yes"]);
    garage.at("2026-08-03T10:00:00");
    garage.ok(&["mend", "v2", "rear.limiter.height=0.5", "--yes"]);
    let id = garage.json(&["runs"])["runs"][0]["id"].as_str().unwrap().to_owned();
    garage.ok(&["mend", "run", &id, "--never", "--yes"]);
    let to = path(&stick, "x.bundle");
    let told = garage.json(&["handover", "grey", "--yes", "--to", &to, "--without", "notes"]);
    has_not(&told["left_out"].to_string(), &["trial"]);
    let other = Garage::new();
    other.ok(&["receive", &to, "--owner", "Mo"]);
    assert_eq!(other.json(&["verify"])["good"], true);
    assert!(other.book("grey").join("trials/pairs.toml").exists());
}

/// Settings are said to stay here only where settings do.
#[test]
fn a_record_that_changes_no_value_is_not_said_to_change_one_that_stays_here() {
    let (garage, stick) = garage();
    garage.edit("grey", "setup.toml", |t| format!("{t}# look at the left mount\n"));
    garage.ok(&["sheet", "--save"]);
    garage.ok(&["change", "launch", "rpm", "4400"]);
    let of = |name: &str, without: &str| {
        let to = path(&stick, name);
        garage.ok(&["handover", "grey", "--yes", "--to", &to, "--without", without]);
        let clone = garage.root().join(format!("of-{name}")).display().to_string();
        garage.git("grey", &["clone", "-q", &to, &clone]);
        garage.git("grey", &["-C", &clone, "log", "--format=%s"])
    };
    let told = "settings that do not go along";
    has_not(&of("notes.bundle", "notes"), &[told]);
    has_not(&of("limiter.bundle", "limiter"), &[told]);
    let launch = of("launch.bundle", "launch.rpm");
    has(&launch, &["comments on the sheet", told]);
}

#[test]
fn a_copy_of_a_record_that_was_mended_has_all_runs_as_recorded_too() {
    let (garage, stick) = garage();
    garage.ok(&["run", "--track", "Osier Flats", "60=1.652"]);
    garage.at("2026-08-22T15:00:00");
    garage.ok(&["change", "launch", "rpm", "4400"]);
    garage.at("2026-08-22T15:20:00");
    garage.ok(&["run", "60=1.640"]);
    garage.ok(&["mend", "v1", "limiter", "7/8"]);
    let to = path(&stick, "x.bundle");
    garage.ok(&["handover", "grey", "--yes", "--to", &to, "--without", "notes"]);
    let taker = Garage::new();
    taker.ok(&["receive", &to]);
    for as_recorded in [&["history"][..], &["history", "--as-recorded"]] {
        has(&taker.ok(as_recorded), &["2 versions, 2 runs"]);
    }
}
