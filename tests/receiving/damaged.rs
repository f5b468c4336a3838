//! A damaged book beside the copy that has all of it: what is said, and what is done before something else is refused.

use crate::common::{Garage, flat, has};
use crate::yard::all_below;
use std::fs;
use std::path::PathBuf;

/// A car with a run and a change, and a bundle of it.
fn car() -> (Garage, String) {
    let garage = Garage::with_car();
    garage.ok(&["run", "--track", "Osier Flats", "60=1.6", "et=11.5", "mph=117"]);
    garage.at("2026-08-22T15:00:00");
    garage.ok(&["change", "limiter", "down", "1/4"]);
    let bundle = garage.root().join("x.bundle").display().to_string();
    garage.ok(&["handover", "grey", "--yes", "--to", &bundle]);
    (garage, bundle)
}

fn git_file(garage: &Garage, path: &str) -> PathBuf {
    garage.book("grey").join(".git").join(path)
}

#[test]
fn what_is_refused_before_anything_is_mended_leaves_all_as_it_was() {
    let (garage, bundle) = car();
    let sheet = garage.git("grey", &["rev-parse", "HEAD:setup.toml"]);
    let sheet = sheet.trim();
    fs::remove_file(git_file(&garage, &format!("objects/{}/{}", &sheet[..2], &sheet[2..]))).unwrap();
    let before = all_below(&garage.dir());
    let said = garage.refused(2, &["receive", &bundle, "--as", "Another"]);
    has(&flat(&said), &["which is here already", "nothing was changed"]);
    assert!(before == all_below(&garage.dir()));
}

#[test]
fn what_is_mended_before_the_rest_is_refused_is_said() {
    let (garage, bundle) = car();
    let begun = garage.git("grey", &["rev-list", "--max-parents=0", "HEAD"]);
    let sheet = garage.git("grey", &["rev-parse", &format!("{}:setup.toml", begun.trim())]);
    let sheet = sheet.trim().to_owned();
    // Each has a record the other has not.
    let other = Garage::new();
    other.by("Mo");
    other.ok(&["receive", &bundle]);
    other.at("2026-08-22T16:00:00");
    other.ok(&["run", "60=1.59"]);
    other.ok(&["handover", "grey", "--yes", "--to", &format!("{bundle}2.bundle")]);
    garage.at("2026-08-22T16:10:00");
    garage.ok(&["run", "60=1.57"]);
    fs::remove_file(git_file(&garage, &format!("objects/{}/{}", &sheet[..2], &sheet[2..]))).unwrap();
    let refused = garage.run(&["receive", &format!("{bundle}2.bundle")]);
    assert_eq!(refused.code, 3, "{refused:?}");
    has(
        &flat(&refused.stderr),
        &["brings both together", "what was lost here is mended from it, nothing else was changed"],
    );
    assert_eq!(garage.run(&["verify"]).code, 0);
}

/// What to do is said by whatever is tried first, and following it opens the book again.
#[test]
fn a_file_of_the_book_that_is_gone_or_empty_is_named_with_what_it_says() {
    for (file, line) in [("HEAD", "ref: refs/heads/main"), ("config", "[core] repositoryformatversion = 0")] {
        let (garage, bundle) = car();
        fs::remove_file(git_file(&garage, file)).unwrap();
        for args in [&["verify", "grey"][..], &["sheet", "--car", "grey"]] {
            has(&flat(&garage.refused(3, args)), &[file, "is not there", line, "slipbook verify"]);
        }
        let said = flat(&garage.refused(2, &["receive", &bundle]));
        has(&said, &["is there already and cannot be opened", "not known", "slipbook verify"]);
        fs::write(git_file(&garage, file), format!("{line}\n")).unwrap();
        assert_eq!(garage.run(&["verify", "grey"]).code, 0, "{file}");
        garage.ok(&["change", "limiter", "up", "1/8"]);
    }
    let (garage, _) = car();
    fs::write(git_file(&garage, "HEAD"), "").unwrap();
    has(&flat(&garage.refused(3, &["verify", "grey"])), &["`ref: refs/heads/main` is all it says", "write that line"]);
}

#[test]
fn a_branch_that_is_lost_with_its_log_is_no_new_book() {
    let (garage, _) = car();
    garage.git("grey", &["repack", "-adq"]);
    fs::remove_file(git_file(&garage, "refs/heads/main")).unwrap();
    fs::remove_dir_all(git_file(&garage, "logs")).unwrap();
    for args in [&["verify", "grey"][..], &["sheet", "--car", "grey"]] {
        let said = flat(&garage.refused(3, args));
        has(&said, &["is lost", "slipbook receive COPY"]);
        assert!(!said.contains("slipbook new"), "{said}");
    }
}
