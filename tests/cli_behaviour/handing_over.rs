//! A book handed over: one file stock git takes, a page, what is listed before, and what stays here if it is to.

use crate::common::{Garage, has, has_not};
use serde_json::Value as Json;
use std::path::{Path, PathBuf};

/// A season with people, notes, a phone number, a part that stays, and a second car beside it.
fn garage() -> (Garage, PathBuf) {
    let garage = Garage::with_car();
    let run = |when: String, ft60: &str, more: &[&str]| {
        garage.at(&when);
        garage.ok(&[&["run", "--track", "Osier Flats", &format!("60={ft60}")], more].concat());
    };
    garage.at("2026-08-02T09:00:00");
    garage.ok(&["part", "add", "pair A", "--kind", "rear tires", "--goes-with", "no"]);
    garage.ok(&["part", "add", "pair B", "--kind", "rear tires", "--goes-with", "yes"]);
    garage.ok(&["change", "rear.tire.name=pair B", "--why", "Pell said so, call 555-013-0142"]);
    for (n, ft60) in ["1.652", "1.648", "1.650"].into_iter().enumerate() {
        run(format!("2026-08-02T1{n}:00:00"), ft60, &["--air", "84F 52% 29.42 station"]);
    }
    garage.by("Tam");
    garage.at("2026-08-03T09:00:00");
    garage.ok(&["change", "rear.tire.name=pair A"]);
    for (n, ft60) in ["1.602", "1.598", "1.600"].into_iter().enumerate() {
        run(format!("2026-08-03T1{n}:00:00"), ft60, &["--note", "ask Ro"]);
    }
    garage.at("2026-08-04T09:00:00");
    garage.ok(&["change", "engine.timing=36", "rear.limiter.height=0.75", "--yes"]);
    run("2026-08-04T10:00:00".to_owned(), "1.66", &[]);
    garage.by("Ro");
    garage.at("2026-08-22T15:00:00");
    garage.ok(&["new", "Heron", "--template", "ladder-strut", "--yes"]);
    garage.ok(&["change", "engine.timing=33", "--why", "SECRET-OF-HERON", "--car", "heron", "--yes"]);
    let stick = garage.root().join("stick");
    std::fs::create_dir(&stick).unwrap();
    (garage, stick)
}

fn text(path: &Path) -> String {
    path.display().to_string()
}

/// Everything a bundle holds, unpacked by stock git, as one text; and its folder.
fn unpacked(garage: &Garage, bundle: &str, name: &str) -> (PathBuf, String) {
    let git = |args: &[&str]| garage.git("grey", args);
    git(&["bundle", "verify", "-q", bundle]);
    let clone = garage.root().join(name);
    git(&["clone", "-q", bundle, &text(&clone)]);
    let dir = text(&clone);
    git(&["-C", &dir, "fsck", "--full", "--strict", "--no-progress"]);
    let mut all = git(&["-C", &dir, "log", "--all", "--format=raw"]);
    let objects = git(&["-C", &dir, "rev-list", "--objects", "--all"]);
    for id in objects.lines().filter_map(|l| l.split(' ').next()) {
        all += &git(&["-C", &dir, "cat-file", "-p", id]);
    }
    (clone, all)
}

fn strings(json: &Json) -> Vec<String> {
    json.as_array().unwrap().iter().map(|s| s.as_str().unwrap().to_owned()).collect()
}

#[test]
fn one_file_of_this_car_and_a_page() {
    let (garage, stick) = garage();
    let to = text(&stick.join("grey.bundle"));
    let before = garage.contents();
    let told = garage.json(&["handover", "grey", "--yes", "--to", &to]);
    assert_eq!(before, garage.contents(), "the book stays as it is");
    let names: Vec<_> = std::fs::read_dir(&stick).unwrap().map(|e| e.unwrap().file_name()).collect();
    assert_eq!(names.len(), 2, "{names:?}");
    assert_eq!(told["rewritten"], false);
    assert_eq!(told["start_from"]["version"], "v2", "v3 is quicker and rides on what stays");
    assert_eq!(told["passed_over"][0]["version"], "v3");
    assert_eq!(strings(&told["names"]), ["Ro", "Tam"]);
    assert_eq!(told["phones"][0]["number"], "555-013-0142");
    let page = std::fs::read_to_string(stick.join("grey.txt")).unwrap();
    let id = told["handover_id"].as_str().unwrap();
    has(&page, &["Grey", "START FROM", "v2", "v3 ", "rides on what stays: pair A", "NOT PROVEN"]);
    has(&page, &[&id[..32], &id[32..], told["check_word"].as_str().unwrap(), "history, not advice"]);
    has(&page, &["Tech inspection and class", "4 versions, 7 runs"]);
    has(&page, &strings(&told["handover_words"]).iter().map(String::as_str).collect::<Vec<_>>());
    assert!(page.lines().all(|l| l.chars().count() <= 78) && page.lines().count() <= 66, "one page:\n{page}");
    // The same book has the same id, whatever is written about it.
    let again = garage.json(&["handover", "grey", "--yes", "--to", &to]);
    assert_eq!(again["handover_id"], told["handover_id"]);
    let (clone, all) = unpacked(&garage, &to, "clone");
    let tip = garage.git("grey", &["rev-parse", "HEAD"]);
    assert_eq!(garage.git("grey", &["-C", &text(&clone), "rev-parse", "HEAD"]), tip);
    has(&all, &["pair A", "555-013-0142"]);
    has_not(&all, &["SECRET-OF-HERON", "Heron"]);
}

#[test]
fn nothing_but_the_history_goes_along() {
    let (garage, stick) = garage();
    garage.git("grey", &["config", "user.name", "IN-THE-CONFIG"]);
    garage.git("grey", &["branch", "side", "HEAD~1"]);
    std::fs::write(garage.book("grey").join(".git/hooks-of-mine"), "IN-DOT-GIT").unwrap();
    garage.edit("grey", "setup.toml", |t| format!("{t}# NOT-SAVED\n"));
    let to = text(&stick.join("grey.bundle"));
    let told = garage.json(&["handover", "grey", "--yes", "--to", &to]);
    assert_eq!(strings(&told["not_saved"]), ["setup.toml"]);
    let (clone, all) = unpacked(&garage, &to, "clone");
    has_not(&all, &["IN-THE-CONFIG", "IN-DOT-GIT", "NOT-SAVED"]);
    let refs = garage.git("grey", &["bundle", "list-heads", &to]);
    assert_eq!(refs.lines().count(), 2, "{refs}");
    has(&refs, &["refs/heads/main", "HEAD"]);
    let config = std::fs::read_to_string(clone.join(".git/config")).unwrap();
    has_not(&config, &["IN-THE-CONFIG"]);
}

#[test]
fn what_is_left_out_is_nowhere_in_the_file() {
    let (garage, stick) = garage();
    garage.ok(&["trial", "start", "pairs", "v2", "v3", "--car", "grey"]);
    let to = |name: &str| text(&stick.join(name));
    let whole = garage.json(&["handover", "grey", "--yes", "--to", &to("whole.bundle")]);
    let less =
        garage.json(&["handover", "grey", "--yes", "--to", &to("less.bundle"), "--without", "names,phones,engine"]);
    assert_eq!(less["rewritten"], true);
    assert_ne!(less["handover_id"], whole["handover_id"]);
    assert_eq!((&less["versions"], &less["runs"]), (&whole["versions"], &whole["runs"]));
    let page = std::fs::read_to_string(stick.join("less.txt")).unwrap();
    has(&page, &["Not in the file", "names", "phone numbers", "engine", "its ids differ"]);
    has_not(&page, &["Tam", "Ro,"]);
    let (clone, all) = unpacked(&garage, &to("less.bundle"), "less");
    has_not(&all, &["Tam", "555-013-0142", "timing"]);
    assert!(!all.split(|c: char| !c.is_alphanumeric()).any(|w| w == "Ro"), "{all}");
    has(&all, &["Pell said so, call (number left out)", "ask hand 1", "hand 2", "limiter lowered 0.25 in"]);
    // It opens as a book with all versions and runs, each on its sheet.
    let there = text(clone.parent().unwrap());
    let runs = |dir: &str, car: &str| garage.json(&["runs", "--all", "--garage", dir, "--car", car])["runs"].clone();
    let own = runs(&text(&garage.dir()), "grey");
    let new = runs(&there, "less");
    let of = |all: &Json| -> Vec<_> {
        all.as_array().unwrap().iter().map(|r| (r["on"].clone(), r["at"].clone(), r["ft60_s"].clone())).collect()
    };
    assert_eq!(of(&own), of(&new));
    has(&garage.ok(&["trial", "--garage", &there, "--car", "less"]), &["pairs", "v2 against v3"]);
    // The same left out of the same book is the same file, which takes the place of the first.
    let again =
        garage.json(&["handover", "grey", "--yes", "--to", &to("less.bundle"), "--without", "engine,phones,names"]);
    assert_eq!(again["handover_id"], less["handover_id"]);
    let without = garage.json(&["handover", "grey", "--yes", "--to", &to("bare.bundle"), "--without-notes"]);
    assert_eq!(without["rewritten"], true);
    let (_, all) = unpacked(&garage, &to("bare.bundle"), "bare");
    has_not(&all, &["Pell", "ask Ro", "555-013"]);
    has(&all, &["timing"]);
}

#[test]
fn from_a_version_on() {
    let (garage, stick) = garage();
    let to = text(&stick.join("late.bundle"));
    let told = garage.json(&["handover", "grey", "--yes", "--to", &to, "--since", "v3"]);
    assert_eq!((&told["versions"], &told["runs"]), (&2.into(), &4.into()));
    assert_eq!(told["left_out"][0], "what was before v3");
    let (clone, all) = unpacked(&garage, &to, "late");
    has_not(&all, &["Pell", "1.652"]);
    let there = text(clone.parent().unwrap());
    let shown = garage.ok(&["history", "--all", "--garage", &there, "--car", "late"]);
    has(&shown, &["v3", "v4"]);
    has_not(&shown, &["v2"]);
    // A mend lies beside the log; the copy has what holds now.
    garage.ok(&["mend", "v2", "--why", "another reason", "--car", "grey"]);
    let told =
        garage.json(&["handover", "grey", "--yes", "--to", &text(&stick.join("m.bundle")), "--without", "phones"]);
    assert_eq!((&told["versions"], &told["runs"]), (&4.into(), &7.into()));
    let (_, all) = unpacked(&garage, &text(&stick.join("m.bundle")), "mended");
    has(&all, &["another reason"]);
    has_not(&all, &["555-013-0142"]);
}

#[test]
fn private_fields_are_told_and_left_out() {
    let (garage, stick) = garage();
    garage.edit("grey", "car.toml", |t| t.replacen("format = 1\n", "format = 1\nprivate = [\"engine.timing\"]\n", 1));
    garage.ok(&["sheet", "--save", "--car", "grey"]);
    let to = |name: &str| text(&stick.join(name));
    let told = garage.json(&["handover", "--car", "grey", "--yes", "--to", &to("a.bundle")]);
    assert_eq!(told["private"].as_array().unwrap().len(), 1);
    garage.ok(&["handover", "grey", "--yes", "--to", &to("b.bundle"), "--without", "private"]);
    let (_, all) = unpacked(&garage, &to("b.bundle"), "b");
    // The list in car.toml names the field; no value and no change of it is told.
    has_not(&all, &["timing = ", "engine.timing reading", "timing 36"]);
    garage.edit("grey", "car.toml", |t| t.replace("engine.timing", "engine.tiiming"));
    has(&garage.refused(3, &["sheet", "--save", "--car", "grey"]), &["engine.tiiming", "no field and no heading"]);
}

#[test]
fn what_is_refused_writes_nothing() {
    let (garage, stick) = garage();
    let to = |name: &str| text(&stick.join(name));
    has(&garage.refused(2, &["handover", "grey", "--yes", "--to", &to("x.txt")]), &["name of a page"]);
    std::fs::write(stick.join("mine.txt"), "a letter\n").unwrap();
    has(
        &garage.refused(2, &["handover", "grey", "--yes", "--to", &to("mine.bundle")]),
        &["mine.txt", "no page of a handover"],
    );
    std::fs::write(stick.join("other.bundle"), "something\n").unwrap();
    garage.refused(3, &["handover", "grey", "--yes", "--to", &to("other.bundle")]);
    has(
        &garage.refused(2, &["handover", "grey", "--yes", "--to", &to("y.bundle"), "--without", "wings"]),
        &["wings", "engine"],
    );
    garage.refused(2, &["handover", "nobody", "--to", &to("y.bundle")]);
    garage.refused(2, &["handover", "grey", "--yes", "--to", &text(&garage.dir().join("y.bundle"))]);
    let names: std::collections::BTreeSet<_> =
        std::fs::read_dir(&stick).unwrap().map(|e| e.unwrap().file_name().into_string().unwrap()).collect();
    assert_eq!(names.into_iter().collect::<Vec<_>>(), ["mine.txt", "other.bundle"]);
    assert_eq!(std::fs::read_to_string(stick.join("mine.txt")).unwrap(), "a letter\n");
    // A handover that has what this book has not is left as it is: of another car, or rewritten.
    garage.ok(&["handover", "heron", "--yes", "--to", &to("h.bundle")]);
    garage.refused(3, &["handover", "grey", "--yes", "--to", &to("h.bundle")]);
}

#[test]
fn a_phone_number_is_scrubbed_from_every_part_of_every_record() {
    let (garage, stick) = garage();
    let to = |name: &str| text(&stick.join(name));
    let car = ["--car", "grey"];
    garage.ok(&[&["change", "notes=Call Pell 555-014-2277"], &car[..]].concat());
    garage.ok(&[&["change", "notes=Pell 555.0143", "--why", "or 555 0144 then"], &car[..]].concat());
    let told = garage.json(&["handover", "grey", "--yes", "--to", &to("whole.bundle")]);
    let numbers: Vec<_> = told["phones"].as_array().unwrap().iter().map(|p| p["number"].as_str().unwrap()).collect();
    for number in ["555-013-0142", "555-014-2277", "555.0143", "555 0144"] {
        assert!(numbers.contains(&number), "{number}: {numbers:?}");
    }
    garage.json(&["handover", "grey", "--yes", "--to", &to("a.bundle"), "--without", "phones"]);
    let (_, all) = unpacked(&garage, &to("a.bundle"), "a");
    has_not(&all, &["014-2277", "555.0143", "555 0144", "013-0142"]);
    has(&all, &["Call Pell (number left out)", "or (number left out) then"]);
    // The name of a part stays: with a number in it nothing is written.
    garage.ok(&[&["part", "add", "Pell 555-015-0100", "--kind", "rear tires"], &car[..]].concat());
    has(
        &garage.refused(3, &["handover", "grey", "--yes", "--to", &to("b.bundle"), "--without", "phones"]),
        &["phone number", "nothing was written"],
    );
    assert!(!stick.join("b.bundle").exists() && !stick.join("b.txt").exists());
}

#[test]
fn a_left_out_text_that_a_note_repeats_goes_there_too() {
    let (garage, stick) = garage();
    let to = |name: &str| text(&stick.join(name));
    garage.ok(&["change", "rear.tire.name=pair B", "--why", "PAIR B hooked", "--car", "grey"]);
    garage.ok(&["handover", "grey", "--yes", "--to", &to("a.bundle"), "--without", "rear.tire.name"]);
    let (_, all) = unpacked(&garage, &to("a.bundle"), "a");
    has_not(&all.to_lowercase(), &["pair a", "pair b", "rear.tire.name", "rear tires now"]);
    has(&all, &["Why: (left out) hooked"]);
    garage.ok(&["handover", "grey", "--yes", "--to", &to("b.bundle"), "--without", "rear.tire.name,notes"]);
    let (_, all) = unpacked(&garage, &to("b.bundle"), "b");
    has_not(&all, &["pair A", "pair B", "PAIR B", "rear.tire.name", "rear tires now", "hooked"]);
}

#[test]
fn what_was_left_out_is_never_proven_for_something_else() {
    let (garage, stick) = garage();
    let to = |name: &str| text(&stick.join(name));
    for (n, ft60) in ["1.502", "1.498", "1.500", "1.501", "1.499", "1.500"].into_iter().enumerate() {
        garage.at(&format!("2026-08-04T1{}:00:00", n + 1));
        garage.ok(&["run", "--track", "Osier Flats", &format!("60={ft60}"), "--car", "grey"]);
    }
    let of = |told: &Json, list: &str| -> Vec<String> {
        told[list].as_array().unwrap().iter().map(|t| t["version"].as_str().unwrap().to_owned()).collect()
    };
    let whole = garage.json(&["handover", "grey", "--yes", "--to", &to("whole.bundle")]);
    let less = garage.json(&["handover", "grey", "--yes", "--to", &to("less.bundle"), "--without", "engine"]);
    assert_eq!(whole["start_from"], less["start_from"], "judged by the whole book");
    assert!(!of(&less, "proven").contains(&"v4".to_owned()), "{less}");
    assert!(of(&less, "not_proven").contains(&"v4".to_owned()), "{less}");
    assert_eq!(strings(&less["left_out_moved_with"]), ["v4"]);
    let page = std::fs::read_to_string(stick.join("less.txt")).unwrap();
    let flat = page.split_whitespace().collect::<Vec<_>>().join(" ");
    has(&flat, &["something left out was changed with it: cannot be told apart", "these versions: v4"]);
    has_not(&page, &["timing"]);
    assert!(page.lines().count() <= 66, "{page}");
}

#[test]
fn a_list_writes_nothing() {
    let (garage, stick) = garage();
    let before = garage.contents();
    for args in [&["handover", "grey"][..], &["handover", "grey", "--list", "--to", &text(&stick.join("x.bundle"))]] {
        has(&garage.ok(args), &["Grey", "names 2", "555-013-0142", "nothing was written"]);
    }
    assert_eq!(garage.json(&["handover", "grey"])["written"], false);
    assert_eq!(std::fs::read_dir(&stick).unwrap().count(), 0);
    assert_eq!(before, garage.contents());
}

#[test]
fn without_takes_what_it_says_or_is_refused() {
    let (garage, stick) = garage();
    let to = |name: &str| text(&stick.join(name));
    for nothing in ["", ",,", "names,"] {
        let refused = garage.refused(2, &["handover", "grey", "--yes", "--to", &to("x.bundle"), "--without", nothing]);
        has(&refused, &["names nothing", "nothing was written"]);
    }
    let late = garage.refused(2, &["handover", "grey", "--yes", "--to", &to("x.bundle"), "--since", "2027-01-01"]);
    has(&late, &["nothing is on record from 2027-01-01 on"]);
    assert_eq!(std::fs::read_dir(&stick).unwrap().count(), 0);
    let told = garage.json(&["handover", "grey", "--yes", "--to", &to("x y.bundle"), "--without", "limiter,names"]);
    has(&told["left_out"].to_string(), &["limiter (1 field)", "names of owners"]);
    has(&told["still_in_it"].to_string(), &["notes and reasons"]);
    let page = std::fs::read_to_string(stick.join("x y.txt")).unwrap();
    assert!(page.lines().any(|l| l.ends_with("slipbook receive 'x y.bundle'")), "{page}");
    let (_, all) = unpacked(&garage, &to("x y.bundle"), "x");
    has_not(&all, &["rear.limiter.height", "limiter lowered"]);
}

#[test]
fn what_nobody_could_take_in_is_said_before_it_is_written() {
    let (garage, stick) = garage();
    let to = |name: &str| text(&stick.join(name));
    std::fs::write(garage.book("grey").join("README.md"), "by hand\n").unwrap();
    garage.git("grey", &["add", "README.md"]);
    garage.git("grey", &["-c", "user.name=Ro", "-c", "user.email=ro@localhost", "commit", "-q", "-m", "a file"]);
    let refused = garage.refused(3, &["handover", "grey", "--yes", "--to", &to("x.bundle")]);
    has(&refused, &["README.md", "could not take it in", "nothing was written", "--without files"]);
    assert_eq!(std::fs::read_dir(&stick).unwrap().count(), 0);
    garage.ok(&["handover", "grey", "--yes", "--to", &to("x.bundle"), "--without", "files"]);
    let (_, all) = unpacked(&garage, &to("x.bundle"), "x");
    has_not(&all, &["README"]);

    // Of the right form, and still nothing a book could be opened with. A rewritten copy calls it by its name.
    let (garage, stick) = self::garage();
    let to = |name: &str| text(&stick.join(name));
    garage.ok(&["trial", "start", "clamps", "v1", "v2", "--car", "grey"]);
    garage.git("grey", &["mv", "trials/clamps.toml", "trials/tony.toml"]);
    garage.git("grey", &["-c", "user.name=Ro", "-c", "user.email=ro@localhost", "commit", "-q", "-m", "a trial"]);
    let refused = garage.refused(3, &["handover", "grey", "--yes", "--to", &to("y.bundle")]);
    has(&refused, &["could not take it in", "trials/tony.toml", "slipbook verify"]);
    assert_eq!(std::fs::read_dir(&stick).unwrap().count(), 0);
    garage.ok(&["handover", "grey", "--yes", "--to", &to("y.bundle"), "--without", "notes"]);
}
