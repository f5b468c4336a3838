//! A file that begins in the middle of a car's history says of the car what the whole book says: what its parts have
//! behind them, what is to be looked at before it runs, what there is to start from.

use crate::common::{Garage, has, has_not};
use serde_json::Value as Json;
use std::path::{Path, PathBuf};

/// The leaf car's season, with what its maker gives for the tires it runs on.
fn garage() -> (Garage, PathBuf) {
    let garage = Garage::new();
    garage.take_in("plover");
    garage.ok(&["part", "set", "pair B", "most passes 60", "--yes"]);
    let stick = garage.root().join("stick");
    std::fs::create_dir(&stick).unwrap();
    (garage, stick)
}

fn path(stick: &Path, name: &str) -> String {
    stick.join(name).display().to_string()
}

fn page(stick: &Path, name: &str) -> String {
    let text = std::fs::read_to_string(stick.join(name)).unwrap();
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}

/// Hands it over from a version on, and has somebody else take it in.
fn handed(from: &Garage, stick: &Path, more: &[&str]) -> (Json, Garage, Json) {
    let to = path(stick, "late.bundle");
    let told = from.json(&[&["handover", "plover", "--yes", "--to", &to], more].concat());
    let buyer = Garage::new();
    buyer.at("2026-10-04T10:00:00");
    buyer.by("Mo");
    let received = buyer.json(&["receive", &to]);
    (told, buyer, received)
}

/// Each part with its passes and the limits that are passed.
fn lives(garage: &Garage) -> Vec<(String, Json, Vec<Json>)> {
    let told = garage.json(&["part"]);
    let over = |p: &Json| p["limits"].as_array().unwrap().iter().map(|l| l["passed"].clone()).collect();
    let one = |p: &Json| (format!("{} {}", p["kind"], p["name"]), p["passes"].clone(), over(p));
    told["parts"].as_array().unwrap().iter().map(one).collect()
}

/// What the check says: id, severity and words of each rule that speaks.
fn speaks(garage: &Garage, severity: &str) -> Vec<String> {
    let told = garage.json(&["check", "--all"]);
    let all = told["rules"].as_array().unwrap_or_else(|| panic!("{told}")).iter();
    let of = all.filter(|r| r["severity"] == severity && r["says"].is_string());
    of.map(|r| r["says"].as_str().unwrap().to_owned()).collect()
}

#[test]
fn worn_parts_stay_worn() {
    let (garage, stick) = garage();
    let book = lives(&garage);
    let worn = book.iter().find(|p| p.0.contains("pair B")).unwrap();
    assert_eq!((&worn.1, &worn.2[..]), (&70.into(), &[Json::Null, "70 passes".into()][..]));
    for since in ["v2", "v17", "v19"] {
        let (told, buyer, _) = handed(&garage, &stick, &["--since", since]);
        assert_eq!(lives(&buyer), book, "since {since}");
        has(
            &told["parts_along"].to_string(),
            &["pair B (rear tires, 70 passes, OVER its most passes of 60: 70 passes)"],
        );
        std::fs::remove_file(stick.join("late.bundle")).unwrap();
    }
    garage.ok(&["handover", "plover", "--yes", "--to", &path(&stick, "full.bundle")]);
    has(&page(&stick, "full.txt"), &["70 passes, OVER its most passes of 60"]);
    // Those it came with are not on record: the ones on this car are not lost for it.
    garage.edit("plover", "car.toml", |t| {
        let unknown = t.replacen("came_with_passes = 4\n", "", 1);
        unknown.lines().filter(|l| !l.contains("Pell's spare pair")).map(|l| format!("{l}\n")).collect()
    });
    garage.ok(&["sheet", "--save", "--yes"]);
    let before = garage.json(&["part", "pair B"])["parts"][0].clone();
    assert_eq!((&before["passes"], &before["passes_here"]), (&Json::Null, &66.into()));
    let (_, buyer, _) = handed(&garage, &stick, &["--since", "v17"]);
    let after = buyer.json(&["part", "pair B"])["parts"][0].clone();
    assert_eq!(after["passes"], 66);
    has(after["note"].as_str().unwrap(), &["53 on this car", "not on record"]);
}

#[test]
fn what_was_to_be_looked_at_still_is() {
    let (garage, stick) = garage();
    let book = speaks(&garage, "safety");
    has(&book.join("\n"), &["Rear wheels were off, and no nut torque is on record since"]);
    let stale = |g: &Garage| {
        let told = g.json(&["measure"]);
        let all = ["stale", "moved"].into_iter().flat_map(|of| told[of].as_array().unwrap().clone());
        all.map(|s| format!("{} since {}", s["field"], s["since"])).collect::<std::collections::BTreeSet<_>>()
    };
    let open = stale(&garage);
    assert!(!open.is_empty());
    for since in ["v2", "v17", "v19"] {
        let (_, buyer, _) = handed(&garage, &stick, &["--since", since]);
        for said in &book {
            assert!(speaks(&buyer, "safety").contains(said), "since {since}: {said}");
            has(&page(&stick, "late.txt"), &[said]);
        }
        assert_eq!(stale(&buyer), open, "since {since}");
        // It is told why, and once it is measured it is quiet.
        has(&buyer.ok(&["check", "--why", "S10"]), &["was 90 ft-lb; what moves it was changed"]);
        buyer.ok(&["measure", "nut torque", "90", "--yes"]);
        has_not(&speaks(&buyer, "safety").join("\n"), &["Rear wheels were off"]);
        std::fs::remove_file(stick.join("late.bundle")).unwrap();
    }
    for grave in ["safety", "warning"] {
        garage.ok(&["handover", "plover", "--yes", "--to", &path(&stick, "full.bundle")]);
        speaks(&garage, grave).iter().for_each(|said| has(&page(&stick, "full.txt"), &[said]));
    }
    // A caution that rests on what was left out is not told, and not kept quiet.
    garage.ok(&[
        "handover",
        "plover",
        "--yes",
        "--to",
        &path(&stick, "less.bundle"),
        "--without",
        "rear.wheel.nut_torque",
    ]);
    let less = page(&stick, "less.txt");
    has(&less, &["safety: one caution is of what was left out: ask whoever hands it over"]);
    has_not(&less, &["nut torque is on record"]);
}

#[test]
fn the_page_does_not_contradict_its_own_file() {
    let (garage, stick) = garage();
    let (told, _, received) = handed(&garage, &stick, &["--since", "v17"]);
    let start = &told["start_from"];
    assert_eq!((&start["version"], &start["clean_runs"]), (&"v17".into(), &11.into()));
    assert_eq!(start["clean_runs_in_file"], received["story"]["start"]["runs"]);
    has(&page(&stick, "late.txt"), &["11 clean runs, 8 of them in this file"]);
    assert_eq!(told["best_not_in_file"], Json::Null);
    // None of what goes along ran well: what the whole book calls a loss is no setup to start from.
    std::fs::remove_file(stick.join("late.bundle")).unwrap();
    let (told, ..) = handed(&garage, &stick, &["--since", "v19"]);
    assert_eq!(told["best_not_in_file"]["version"], "v17");
    assert_eq!(told["best_not_in_file"]["no_start"], true);
    let said = page(&stick, "late.txt");
    has(&said, &["no setup in this file is one to start from", "v17, is not in this file", "a loss"]);
    has_not(&said, &["slipbook wrench"]);
}

/// What a killed handover leaves in the garage.
fn left(garage: &Garage) -> Vec<String> {
    let names = std::fs::read_dir(garage.dir()).unwrap().map(|e| e.unwrap().file_name().into_string().unwrap());
    names.filter(|n| n.starts_with(".slipbook")).collect()
}

#[test]
fn a_killed_handover_leaves_nothing_for_long() {
    let (garage, stick) = garage();
    let temp = || -> Vec<_> {
        let all = std::fs::read_dir(std::env::temp_dir()).unwrap().map(|e| e.unwrap().file_name());
        all.filter(|n| n.to_string_lossy().starts_with("slipbook-handover")).collect()
    };
    let before = temp();
    let to = path(&stick, "x.bundle");
    let mut child = garage.start(&["handover", "plover", "--yes", "--to", &to, "--without", "names"]);
    let place = garage.dir().join(".slipbook-copy-handover");
    let begun = std::time::Instant::now();
    while !place.join("book").exists() {
        assert!(
            begun.elapsed().as_secs() < 60 && child.try_wait().unwrap().is_none(),
            "the copy is made in the garage"
        );
        std::thread::sleep(std::time::Duration::from_millis(1));
    }
    // Nobody is in the way of a handover under way, and none clears it away.
    garage.ok(&["handover", "plover", "--list"]);
    let held = child.try_wait().unwrap().is_none().then(|| place.join("lock").exists());
    assert_ne!(held, Some(false));
    let _ = child.kill();
    child.wait().unwrap();
    assert_eq!(temp(), before, "nothing of the book lies about in the common folder");
    garage.ok(&["handover", "plover", "--list"]);
    assert_eq!(left(&garage), Vec::<String>::new());
    garage.ok(&["handover", "plover", "--list", "--without", "names"]);
    assert_eq!(left(&garage), Vec::<String>::new());
}

#[test]
fn a_file_of_another_car_is_called_that() {
    let garage = Garage::with_car();
    garage.ok(&["new", "Heron", "--template", "ladder-strut", "--yes"]);
    let to = path(garage.root(), "x.bundle");
    garage.ok(&["handover", "grey", "--yes", "--to", &to]);
    let held = std::fs::read(&to).unwrap();
    has(
        &garage.refused(3, &["handover", "heron", "--yes", "--to", &to]),
        &["another car's file, of Grey", "nothing was written"],
    );
    has(&garage.refused(3, &["copy", &to, "--car", "heron"]), &["another car's file, of Grey"]);
    // A rewritten copy does not go over the whole book.
    let said = garage.refused(3, &["handover", "grey", "--yes", "--to", &to, "--without", "names"]);
    has(&said, &["this car's with another beginning"]);
    assert_eq!(held, std::fs::read(&to).unwrap());
}

#[test]
fn what_is_told_to_be_typed_is_what_was_asked_for() {
    let garage = Garage::with_car();
    garage.edit("grey", "car.toml", |t| t.replacen("format = 1\n", "format = 1\nprivate = [\"Engine\"]\n", 1));
    garage.ok(&["sheet", "--save", "--yes"]);
    garage.ok(&["change", "engine.timing=36", "--why", "call 555-013-0142", "--yes"]);
    garage.ok(&["new", "Heron", "--template", "ladder-strut", "--yes"]);
    let all = garage.ok(&["handover", "grey", "--list"]);
    has(&all, &["to write it:  slipbook handover grey --to FILE\n", "--without names,phones,notes,private\n"]);
    let less =
        garage.ok(&["handover", "grey", "--list", "--since", "v2", "--without", "names,Engine", "--without-notes"]);
    let again = "slipbook handover grey --to FILE --since v2 --without names,Engine,notes\n";
    has(&less, &[&format!("to write it:  {again}")]);
    let spaces = garage.ok(&["handover", "grey", "--list", "--without", "rear shocks"]);
    has(&spaces, &["--to FILE --without 'rear shocks'\n"]);
}
