//! A car that came with a shortened record: the book says of itself what it holds, goes into plain files and back whole, and
//! says what it lacks when it is handed on.

use crate::common::{Garage, flat, has, has_not};
use serde_json::Value as Json;
use std::path::PathBuf;

fn seller() -> (Garage, PathBuf) {
    let garage = Garage::new();
    garage.take_in("plover");
    let stick = garage.root().join("stick");
    std::fs::create_dir(&stick).unwrap();
    (garage, stick)
}

/// The buyer of a file that begins with v12.
fn buyer() -> (Garage, PathBuf, Garage) {
    let (garage, stick) = seller();
    let to = stick.join("s12.bundle").display().to_string();
    garage.ok(&["handover", "plover", "--yes", "--to", &to, "--since", "v12"]);
    let buyer = Garage::new();
    buyer.by("Mo");
    buyer.at("2026-10-04T10:00:00");
    buyer.ok(&["receive", &to]);
    (buyer, stick, garage)
}

/// The book that the commands an export tells make.
fn made_of(exported: &Json) -> Garage {
    let again = Garage::new();
    again.at("2026-10-04T11:00:00");
    for command in exported["commands"].as_array().unwrap() {
        let words: Vec<&str> = command.as_str().unwrap().split(' ').skip(1).collect();
        again.ok(&words);
    }
    again
}

#[test]
fn it_goes_into_plain_files_and_back_without_losing_a_run() {
    let (buyer, ..) = buyer();
    let to = buyer.root().join("ex").display().to_string();
    let told = buyer.json(&["export", "--to", &to]);
    let said = &told["not_as_here"][0].as_str().unwrap();
    has(said, &["the first version is v12 here", "begins with v1, which the 6 runs made on it then stand on"]);
    let again = made_of(&told);
    let runs = |g: &Garage, v: &str| g.json(&["runs", v])["runs"].as_array().unwrap().len();
    let all = |g: &Garage| g.json(&["runs", "--all"])["runs"].as_array().unwrap().len();
    assert_eq!((all(&buyer), all(&again)), (44, 44));
    assert_eq!((runs(&buyer, "v12"), runs(&again, "v1")), (6, 6));
    assert_eq!(runs(&buyer, "v13"), runs(&again, "v13"));
}

/// A record that begins in the middle of a day has the readings of its morning.
#[test]
fn a_record_that_begins_at_noon_goes_into_plain_files_and_back() {
    let (garage, stick) = seller();
    let to = stick.join("s16.bundle").display().to_string();
    garage.ok(&["handover", "--yes", "--to", &to, "--since", "v16"]);
    let buyer = Garage::new();
    buyer.at("2026-10-04T10:00:00");
    buyer.ok(&["receive", &to]);
    let to = buyer.root().join("ex").display().to_string();
    let told = buyer.json(&["export", "--to", &to]);
    has(&told["not_as_here"][0].to_string(), &["v16 is of Jul 11 2026 12:10 here", "begins Jul 11 2026 09:40"]);
    let again = made_of(&told);
    let runs = |g: &Garage| {
        let all = g.json(&["runs", "--all"])["runs"].as_array().unwrap().clone();
        all.iter().map(|r| (r["at"].clone(), r["one_air"].clone())).collect::<Vec<_>>()
    };
    assert_eq!(runs(&buyer), runs(&again));
}

#[test]
fn it_names_the_versions_and_passes_it_has() {
    let (buyer, ..) = buyer();
    let said = buyer.refused(2, &["sheet", "v1"]);
    has(&said, &["`v1` is before this book begins: it holds v12 to v19", "a date (jul 11"]);
    has_not(&said, &["v1 to v19"]);
    let parts = flat(&buyer.ok(&["part"]));
    has(&parts, &["pair A 72 passes: 72 before this record begins, 0 in it"]);
    has(&parts, &["not on the car in this record, which begins with v12"]);
    has(&parts, &["pair B 70 passes: 26 before this record begins, 44 in it"]);
    has_not(&parts, &["not on the car yet", "when it came"]);
}

#[test]
fn the_page_of_a_car_passed_on_says_what_is_missing() {
    let (buyer, stick, _seller) = buyer();
    let first = flat(&std::fs::read_to_string(stick.join("s12.txt")).unwrap());
    has(&first, &["before it 11 versions, 33 runs of the car, not in the file; this page is judged by all 77 runs"]);
    let to = stick.join("re.bundle").display().to_string();
    let told = buyer.json(&["handover", "plover", "--yes", "--to", &to]);
    assert_eq!((&told["before"]["runs"], &told["before"]["judged_by_runs"]), (&33.into(), &44.into()));
    let page = flat(&std::fs::read_to_string(stick.join("re.txt")).unwrap());
    has(
        &page,
        &["before it 11 versions, 33 runs of the car, not in the file; this page is judged by 44 of its 77 runs"],
    );
    let third = Garage::new();
    third.by("Tam");
    let said = flat(&third.ok(&["receive", &to]));
    has(&said, &["rests on 44 of its 77 runs; the page that came with the file says how many it is judged by"]);
}

#[test]
fn what_was_left_out_the_first_time_is_told_the_second() {
    let (garage, stick) = seller();
    let to = |name: &str| stick.join(name).display().to_string();
    let told = garage.json(&["handover", "--yes", "--to", &to("less.bundle"), "--without", "notes,names,engine"]);
    assert_eq!(told["left_out_before"].as_array().map(Vec::len), Some(0));
    let buyer = Garage::new();
    buyer.by("Mo");
    let said = flat(&buyer.ok(&["receive", &to("less.bundle")]));
    has(&said, &["left out notes and reasons, names of owners", "fields of the sheet, when the car was handed over"]);
    let left = ["notes and reasons", "names of owners and of those who wrote", "fields of the sheet"];
    buyer.ok(&["handover", "--yes", "--to", &to("on.bundle")]);
    let page = |name: &str| flat(&std::fs::read_to_string(stick.join(name)).unwrap());
    let said = format!("Not in the book, left out when the car was handed over before: {}.", left.join(", "));
    has(&page("on.txt"), &[&said]);
    // Rewritten once more it is said still.
    buyer.ok(&["handover", "--yes", "--to", &to("again.bundle"), "--without", "phones"]);
    has(&page("again.txt"), &[&said, "Not in the file: phone numbers"]);
    let third = Garage::new();
    third.by("Tam");
    third.ok(&["receive", &to("again.bundle")]);
    let told = third.json(&["handover", "--yes", "--to", &to("third.bundle")]);
    assert_eq!(told["left_out_before"].as_array().map(Vec::len), Some(4), "{told}");
}

#[test]
fn since_best_is_since_the_best() {
    let (garage, _) = seller();
    has(&garage.ok(&["handover", "plover", "--list", "--since", "best"]), &["what was before v17"]);
    has(&garage.ok(&["handover", "plover", "--list", "--since", "last-good"]), &["what was before v17"]);
    let said = garage.refused(2, &["handover", "plover", "--list", "--since", "may"]);
    has(&said, &["`may` is a month without its day", "a date (jul 11, 2026-07-11, yesterday)"]);
}

#[test]
fn the_start_says_which_versions_and_days_ran() {
    let (garage, stick) = seller();
    garage.ok(&["revert", "--last-good", "--yes"]);
    let to = stick.join("pl.bundle").display().to_string();
    let told = garage.json(&["handover", "plover", "--yes", "--to", &to]);
    let page = flat(&std::fs::read_to_string(stick.join("pl.txt")).unwrap());
    let start = &told["start_from"];
    let with = start["one_setup_with"].as_array().unwrap();
    assert!(!with.is_empty(), "{start}");
    let with: Vec<&str> = with.iter().map(|v| v.as_str().unwrap()).collect();
    has(&page, &[&format!(", one setup with {}:", with.join(", "))]);
    has(&page, &["11 clean runs, made Jul 11 2026 to Jul 25 2026"]);
    assert!(start["ran_until"].as_str().unwrap() < "2026-08-22", "{start}");
}
