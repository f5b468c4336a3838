//! The first screen: what it says in which state, and that it costs nothing to look.

use crate::common::{Garage, has, has_not};

#[test]
fn without_a_car() {
    let garage = Garage::new();
    let said = garage.ok(&[]);
    has(&said, &["no car yet", "slipbook new NAME", "slipbook tour", "garage"]);
    let json = garage.json(&[]);
    assert_eq!((json["car"].is_null(), json["cars"].as_array().map(Vec::len)), (true, Some(0)));
    assert!(!garage.dir().exists(), "looking makes nothing");
}

#[test]
fn which_car() {
    let garage = Garage::with_car();
    garage.ok(&["new", "Wren", "--template", "ladder-strut"]);
    has(&garage.ok(&[]), &["Wren   v1 on the car", "Wren (current)", "Grey"]);
    has(&garage.ok(&["--car", "grey"]), &["Grey   v1 on the car", "Grey (here)", "Wren (current)"]);
    let here = garage.run_in(&garage.book("grey"), &[]);
    has(&here.stdout, &["Grey   v1"]);
    assert_eq!(garage.run(&["--car", "heron"]).code, 2);
    std::fs::remove_file(garage.dir().join("garage.toml")).unwrap();
    has(&garage.ok(&[]), &["which car?", "slipbook cars grey", "Grey, Wren"]);
    garage.tidy("grey", "looking");
}

/// A command that is named does what it says when it is typed as it stands.
#[test]
fn what_is_named_is_about_the_same_book() {
    let garage = Garage::with_car();
    garage.ok(&["new", "Wren", "--template", "ladder-strut"]);
    let commands = |args: &[&str]| -> Vec<String> {
        let json = garage.json(args);
        json["next"].as_array().unwrap().iter().map(|n| n["command"].as_str().unwrap().to_owned()).collect()
    };
    assert!(commands(&["--car", "grey"]).iter().all(|c| c.ends_with(" --car grey")));
    assert!(commands(&["--car", "wren"]).iter().all(|c| !c.contains("--car")), "it is the current one");
    let other = garage.root().join("the other").display().to_string();
    garage.ok(&["new", "Heron", "--template", "leaf-torsion", "--garage", &other]);
    let named = format!(" --garage '{other}'");
    assert!(commands(&["--garage", &other]).iter().all(|c| c.ends_with(&named)));
    let mine = garage.dir().display().to_string();
    assert!(commands(&["--garage", &mine]).iter().all(|c| !c.contains("--garage")), "the environment says so too");
}

#[test]
fn what_is_on_the_car() {
    let garage = Garage::with_car();
    has(&garage.ok(&[]), &["Grey   v1 on the car since Aug 01 09:00, not run yet"]);
    garage.ok(&["run", "--track", "Osier Flats", "60=1.65"]);
    garage.ok(&["change", "--why", "touches early", "limiter down 1/4"]);
    let said = garage.ok(&[]);
    has(
        &said,
        &["Grey   v2 on the car since Aug 22 14:20, not run yet", "limiter lowered 0.25 in", "why: touches early"],
    );
    has(&said, &["last run Aug 22 14:20"]);
    garage.at("2026-08-22T15:00:00");
    garage.ok(&["run", "60=1.62"]);
    garage.ok(&["run", "60=1.61"]);
    has(&garage.ok(&[]), &["v2 on the car since Aug 22 14:20, 2 runs"]);
    let json = garage.json(&[]);
    assert_eq!((json["version"].as_str(), json["runs"].as_u64()), (Some("v2"), Some(2)));
    assert_eq!(json["last_run"], "2026-08-22T15:00:00-05:00");
    // Measured since: the version and its words stay.
    garage.ok(&["change", "rear.limiter.gap=0.75"]);
    has(&garage.ok(&[]), &["v2 on the car since Aug 22 14:20", "limiter lowered 0.25 in"]);
}

#[test]
fn what_comes_next() {
    let garage = Garage::with_car();
    let next = || -> Vec<String> {
        let json = garage.json(&[]);
        let all = json["next"].as_array().unwrap().iter();
        all.map(|n| n["command"].as_str().unwrap().trim_start_matches("slipbook ").to_owned()).collect()
    };
    let stick = garage.root().join("my stick");
    std::fs::create_dir(&stick).unwrap();
    let to = stick.join("grey.bundle").display().to_string();
    assert_eq!(next(), ["run SLIP", "change WORDS", "copy DEST"]);
    garage.ok(&["copy", &to]);
    assert_eq!(next(), ["run SLIP", "change WORDS", "sheet --edit"]);
    garage.ok(&["run", "--track", "Osier Flats", "60=1.65"]);
    assert_eq!(next(), ["run SLIP", "change WORDS"]);
    garage.edit("grey", "setup.toml", |t| t.replace("4200", "4300"));
    assert_eq!(next(), ["sheet --save", "run SLIP", "change WORDS"]);
    has(&garage.ok(&[]), &["unsaved  setup.toml changed by hand"]);
    garage.ok(&["sheet", "--save"]);
    // The day lasts until six in the morning.
    garage.at("2026-08-23T05:59:00");
    assert_eq!(next(), ["run SLIP", "change WORDS"]);
    garage.at("2026-08-23T06:00:00");
    assert_eq!(next(), ["history", "blame 60ft", "run SLIP"]);
    garage.at("2026-09-20T12:00:00");
    assert_eq!(next().len(), 3);
    has_not(&garage.ok(&[]), &["slipbook copy"]);
    garage.at("2026-09-21T12:00:00");
    assert_eq!(next(), ["history", "blame 60ft", &format!("copy '{to}'")]);
}

#[test]
fn how_old_the_copy_is() {
    let garage = Garage::with_car();
    has(&garage.ok(&[]), &["copy     never made: 1 record on this drive alone"]);
    let to = garage.root().join("grey.bundle").display().to_string();
    garage.ok(&["copy", &to]);
    has(&garage.ok(&[]), &["copy     today (Aug 22 14:20), nothing new since", &to]);
    garage.at("2026-08-23T10:00:00");
    garage.ok(&["run", "--track", "Osier Flats", "60=1.65"]);
    has(&garage.ok(&[]), &["copy     yesterday (Aug 22 14:20), 1 record since"]);
    garage.at("2026-12-23T10:00:00");
    has(&garage.ok(&[]), &["copy     4 months ago (Aug 22 14:20), 1 record since"]);
    let json = garage.json(&[]);
    assert_eq!((json["records_since"].as_u64(), json["copy"]["days_ago"].as_u64()), (Some(1), Some(123)));
    // A clock that was ahead.
    garage.at("2026-08-01T10:00:00");
    has(&garage.ok(&[]), &["copy     today"]);
    // The folder holds another book now.
    std::fs::remove_dir_all(garage.book("grey")).unwrap();
    garage.ok(&["new", "Grey", "--template", "ladder-strut"]);
    has(&garage.ok(&[]), &["of another record than this one"]);
}

#[test]
fn many_records_are_not_all_counted() {
    let garage = Garage::with_car();
    let rows: String =
        (0..210).map(|i| format!("2026-08-02,{:02}:{:02},Osier Flats,1.65\n", 8 + i / 60, i % 60)).collect();
    let table = garage.file("rows.csv", format!("date,time,track,ft60\n{rows}"));
    garage.ok(&["import", &table, "--yes"]);
    has(&garage.ok(&[]), &["over 200 records on this drive alone"]);
    let json = garage.json(&[]);
    assert_eq!((json["records_since"].as_u64(), json["more_since"].as_bool()), (Some(200), Some(true)));
}

#[test]
fn a_book_that_cannot_be_read_still_says_where_its_copy_is() {
    let garage = Garage::with_car();
    let to = garage.root().join("grey.bundle").display().to_string();
    garage.ok(&["copy", &to]);
    std::fs::write(garage.book("grey").join(".git/refs/heads/main"), "nothing\n").unwrap();
    let output = garage.run(&[]);
    assert_eq!(output.code, 3, "{output:?}");
    has(&output.stdout, &["Grey   this book cannot be read", "copy     today", &to, "git clone", "fsck"]);
    has(&output.stderr, &["error: the branch"]);
    has_not(&output.stdout, &["on the car"]);
}

#[test]
fn help_is_where_it_was() {
    let garage = Garage::with_car();
    has(
        &garage.ok(&["--help"]),
        &["At the track:", "The book:", "copy      Write a checked copy of the book to another drive"],
    );
    has(&garage.ok(&["-h"]), &["At the track:", "More of one:"]);
}

/// Standing in a plain clone that is no book of the garage: what takes it in is said first, and does.
#[test]
fn in_a_clone_outside_the_garage() {
    let ro = Garage::with_car();
    let clone = ro.root().join("clone of grey");
    std::fs::create_dir(&clone).unwrap();
    ro.ok(&["copy", &clone.display().to_string()]);
    let clone = clone.join("grey");
    let mo = Garage::new();
    mo.by("Mo");
    let said = mo.run_in(&clone, &[]).stdout;
    has(&said, &["Grey   v1 on the car", "outside the garage", "next     slipbook receive ."]);
    assert_eq!(mo.run_in(&clone, &["receive", "."]).code, 0);
    let said = mo.run_in(&mo.book("grey"), &[]).stdout;
    has_not(&said, &["receive", "outside the garage"]);
    has_not(&mo.ok(&[]), &["receive", "outside the garage"]);
}
