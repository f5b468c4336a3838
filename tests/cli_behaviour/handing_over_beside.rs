//! What a handover writes beside its file, and where it prepares it.

use crate::common::{Garage, flat, has};
use std::fs;

#[test]
fn no_two_files_share_a_page() {
    let garage = Garage::with_car();
    garage.ok(&["new", "Heron", "--template", "ladder-strut", "--yes"]);
    let stick = garage.root().join("stick");
    fs::create_dir(&stick).unwrap();
    let at = |name: &str| stick.join(name).display().to_string();
    for [first, second] in [["full", "full.bundle"], ["less.bundle", "less"]] {
        garage.ok(&["handover", "grey", "--yes", "--to", &at(first)]);
        let page = stick.join(first).with_extension("txt");
        let held = fs::read(&page).unwrap();
        for car in ["heron", "grey"] {
            let said = flat(&garage.refused(2, &["handover", car, "--yes", "--to", &at(second)]));
            has(&said, &[&format!("is the page of {}", at(first)), "nothing was written"]);
        }
        assert!(fs::read(&page).unwrap() == held && !stick.join(second).exists());
        // Its own file has it written anew.
        garage.ok(&["change", "launch", "rpm", if first == "full" { "4300" } else { "4400" }, "--car", "grey"]);
        garage.ok(&["handover", "grey", "--yes", "--to", &at(first)]);
        assert_ne!(fs::read(&page).unwrap(), held);
    }
}

#[test]
fn a_book_outside_a_garage_is_handed_over_without_a_part_of_it() {
    let garage = Garage::with_car();
    let place = garage.root().join("elsewhere");
    fs::create_dir(&place).unwrap();
    garage.ok(&["copy", &place.display().to_string(), "--as", "folder"]);
    let none = garage.root().join("none").display().to_string();
    let to = garage.root().join("x.bundle").display().to_string();
    // What a killed one left beside the book goes.
    let left = place.join(".slipbook-copy-handover");
    fs::create_dir(&left).unwrap();
    fs::write(left.join("lock"), "").unwrap();
    let book = fs::read_dir(&place).unwrap().map(|e| e.unwrap().path()).find(|p| p.join("car.toml").exists()).unwrap();
    let run = |args: &[&str]| garage.run_with(&book, &[("SLIPBOOK_GARAGE", none.as_str())], args);
    for args in
        [&["handover", "--list", "--without", "names"][..], &["handover", "--yes", "--to", &to, "--without", "names"]]
    {
        let out = run(args);
        assert_eq!(out.code, 0, "{out:?}");
    }
    assert!(!garage.root().join("none").exists() && !left.exists());
    let buyer = Garage::new();
    buyer.ok(&["receive", &to]);
}
