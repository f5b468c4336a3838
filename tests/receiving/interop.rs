//! Stock git on both sides, and a car that comes back.

use crate::common::{Garage, git_binary};
use crate::yard::{Yard, all_below};
use std::process::Command;

/// A book that was handed over by `git bundle create`.
fn bundled(from: &Garage, folder: &str) -> String {
    let path = from.root().join("handed.bundle").display().to_string();
    from.git(folder, &["bundle", "create", "-q", &path, "main"]);
    path
}

#[test]
fn a_bundle_made_by_git_is_received_and_made_again() {
    let from = Garage::with_car();
    from.ok(&["run", "--track", "Osier Flats", "60=1.6", "et=11.5", "mph=117"]);
    from.ok(&["change", "limiter", "down", "1/4", "--when", "14:19"]);
    from.git("grey", &["gc", "-q"]);
    let path = bundled(&from, "grey");
    let yard = Yard::new();
    let output = yard.run(&["receive", &path, "--owner", "Mo Teal"]);
    assert_eq!(output.code, 0, "{output:?}");
    assert!(output.stdout.contains("Mo Teal has the car"), "{}", output.stdout);
    yard.garage.tidy("grey", "receive");
    let car = yard.garage.read("grey", "car.toml");
    assert!(car.contains("name = \"Mo Teal\"\nsince = 2026-08-22"), "{car}");
    // The record before is the one that was handed over.
    let own = yard.garage.git("grey", &["rev-parse", "HEAD~1"]);
    assert_eq!(own, from.git("grey", &["rev-parse", "HEAD"]));
    // And out again by git, verified and cloned.
    let again = yard.garage.root().join("again.bundle").display().to_string();
    yard.garage.git("grey", &["bundle", "create", "-q", &again, "main"]);
    yard.garage.git("grey", &["bundle", "verify", "-q", &again]);
    let third = Yard::empty();
    assert_eq!(third.run(&["receive", &again]).code, 0);
    third.garage.tidy("grey", "receive of what git made of it");
}

#[test]
fn a_bundle_of_more_than_the_branch_is_refused_with_the_way_to_make_one() {
    let from = Garage::with_car();
    from.git("grey", &["tag", "sold"]);
    let path = from.root().join("all.bundle").display().to_string();
    from.git("grey", &["bundle", "create", "-q", &path, "--all"]);
    Yard::new().refuses("--all", &path, "git bundle create FILE main");
    // A clone by git, shallow and not.
    let clone = |args: &[&str], to: &str| {
        let to = from.root().join(to).display().to_string();
        let source = format!("file://{}", from.book("grey").display());
        let done = Command::new(git_binary()).arg("clone").args(args).args(["-q", &source, &to]).status().unwrap();
        assert!(done.success());
        to
    };
    from.ok(&["change", "limiter", "down", "1/4"]);
    Yard::new().refuses("shallow", &clone(&["--depth", "1"], "shallow"), "the latest records only");
    let yard = Yard::new();
    let output = yard.run(&["receive", &clone(&[], "whole")]);
    assert_eq!(output.code, 0, "{output:?}");
    yard.garage.tidy("grey", "receive of a clone");
}

#[test]
fn a_car_bought_back_goes_into_its_own_book() {
    let first = Garage::with_car();
    let sold = first.root().join("sold.bundle").display().to_string();
    first.ok(&["copy", &sold]);
    let second = Yard::new();
    assert_eq!(second.run(&["receive", &sold]).code, 0);
    second.garage.at("2026-09-05T11:00:00");
    second.garage.by("Mo");
    second.garage.ok(&["change", "--car", "grey", "limiter", "down", "1/4"]);
    let back = second.garage.root().join("back.bundle").display().to_string();
    second.garage.ok(&["copy", "--car", "grey", &back]);

    first.at("2026-10-01T09:00:00");
    let said = first.ok(&["receive", &back]);
    assert!(said.contains("back in its own book: 2 records"), "{said}");
    assert!(said.contains("Ro has the car from today on"), "{said}");
    assert_eq!(first.json(&["cars"])["cars"].as_array().unwrap().len(), 1);
    first.tidy("grey", "receive of a car bought back");
    let car = first.read("grey", "car.toml");
    let owners: Vec<&str> = car.lines().filter(|l| l.starts_with("name = ")).collect();
    assert_eq!(owners, ["name = \"Grey\"", "name = \"Mo\"", "name = \"Ro\""]);
    // Once more changes nothing, and an older one neither.
    let before = all_below(&first.book("grey"));
    for path in [&back, &sold] {
        let said = first.ok(&["receive", path]);
        assert!(said.contains("has all of that already"), "{said}");
    }
    assert!(before == all_below(&first.book("grey")));
    // Both went on: joining is another matter, and says so.
    second.garage.ok(&["change", "--car", "grey", "limiter", "up", "1/8"]);
    second.garage.ok(&["copy", "--car", "grey", &back]);
    let said = first.refused(3, &["receive", &back]);
    assert!(said.contains("slipbook join"), "{said}");
    // An edit by hand is not written over.
    let third = Garage::with_car();
    let sold = third.root().join("sold.bundle").display().to_string();
    third.ok(&["copy", &sold]);
    let fourth = Yard::empty();
    assert_eq!(fourth.run(&["receive", &sold]).code, 0);
    let back = fourth.garage.root().join("back.bundle").display().to_string();
    fourth.garage.ok(&["copy", &back]);
    third.edit("grey", "setup.toml", |text| format!("{text}# by hand\n"));
    assert!(third.refused(3, &["receive", &back]).contains("deleted by hand"));
}

#[test]
fn a_book_merged_by_hand_opens_and_what_is_wrong_in_it_is_named() {
    let garage = Garage::with_car();
    let git = |args: &[&str]| garage.git("grey", args);
    let commit = |words: &str| git(&["-c", "user.name=Mo", "-c", "user.email=mo@x", "commit", "-qam", words]);
    assert_eq!(garage.run(&["verify"]).code, 0);
    git(&["switch", "-qc", "side"]);
    garage.edit("grey", "setup.toml", |text| text.replacen("format = 1", "format = 1\nwarp = 9", 1));
    commit("a field by hand");
    git(&["switch", "-q", "main"]);
    std::fs::write(garage.book("grey").join("notes.txt"), "jets 72\n").unwrap();
    git(&["add", "notes.txt"]);
    commit("notes by hand");
    git(&["-c", "user.name=Mo", "-c", "user.email=mo@x", "merge", "-q", "--no-ff", "-m", "merged by hand", "side"]);
    assert_eq!(garage.run(&["history"]).code, 0);
    let output = garage.run(&["verify"]);
    assert_eq!(output.code, 1, "{output:?}");
    assert!(output.stdout.contains("notes.txt, first in \"notes by hand\""), "{}", output.stdout);
    assert!(output.stdout.contains("setup.toml, first in \"a field by hand\""), "{}", output.stdout);
}
