//! A bundle with a page beside it: cut off between the two names the next one puts both right, and what somebody writes on
//! a page meanwhile is never lost.
use std::cell::Cell;
use std::collections::BTreeSet;
use std::fs;
use std::path::{Path, PathBuf};

use slipbook::store::{Copied, CopyHow, Page, Store, StoreError};

mod store_support;
use store_support::*;

/// A book and a stick, with a first handover on it.
fn handed() -> (Book, PathBuf) {
    let book = Book::new();
    let stick = book.temp.path().join("stick");
    fs::create_dir(&stick).unwrap();
    hand_over(&book.store, &stick, "of one record\n", &|_| unreachable!("there is no page yet")).unwrap();
    put(&book.store, &[("setup.toml", "height = 0.50 # in\n")]).unwrap();
    (book, stick)
}

fn hand_over(store: &Store, stick: &Path, text: &str, may_go: &dyn Fn(&[u8]) -> bool) -> Result<Copied, StoreError> {
    let how = CopyHow { options: &quick(), who: person(), when: stamp(1_780_000_500), tell: &|_| {} };
    let page = Page { path: &stick.join("x.txt"), text, may_go };
    store.hand_over(store.head().unwrap().unwrap(), &stick.join("x.bundle"), page, &how)
}

fn names(dir: &Path) -> BTreeSet<String> {
    fs::read_dir(dir).unwrap().map(|e| e.unwrap().file_name().to_string_lossy().into_owned()).collect()
}

fn set(names: &[&str]) -> BTreeSet<String> {
    names.iter().map(|n| (*n).to_owned()).collect()
}

fn copied(from: &Path, to: &Path) {
    fs::create_dir_all(to).unwrap();
    for entry in fs::read_dir(from).unwrap() {
        let entry = entry.unwrap();
        match entry.file_type().unwrap().is_dir() {
            true => copied(&entry.path(), &to.join(entry.file_name())),
            false => drop(fs::copy(entry.path(), to.join(entry.file_name())).unwrap()),
        }
    }
}

/// The newest record of a bundle, by stock git.
fn tip_of(stick: &Path) -> String {
    git(stick, &["bundle", "list-heads", "x.bundle"])[..40].to_owned()
}

const ASIDE: &str = ".slipbook-copy-x.bundle";

#[test]
fn cut_off_between_the_two_names_the_next_one_puts_both_right() {
    let (book, stick) = handed();
    // As it lies on the disk once the page of before is out of the way, which is when it is asked about again.
    let [before, between] = ["before", "between"].map(|n| book.temp.path().join(n));
    let asked = |held: &[u8]| {
        if !stick.join("x.txt").exists() {
            copied(&stick, &before);
            copied(&stick, &between);
        }
        held == b"of one record\n"
    };
    let earlier = fs::read(stick.join("x.bundle")).unwrap();
    hand_over(&book.store, &stick, "of two records\n", &asked).unwrap();
    assert_eq!(names(&stick), set(&["x.bundle", "x.txt"]));
    // Killed there: the bundle of before, and both of now whole aside.
    assert_eq!(names(&before), set(&["x.bundle", ASIDE]));
    assert_eq!(names(&before.join(ASIDE)), set(&["copy", "lock", "page", "page-before"]));
    assert_eq!(fs::read(before.join("x.bundle")).unwrap(), earlier);
    assert_eq!(fs::read(before.join(ASIDE).join("copy")).unwrap(), fs::read(stick.join("x.bundle")).unwrap());
    assert_eq!(fs::read_to_string(before.join(ASIDE).join("page")).unwrap(), "of two records\n");
    // Killed one step later: the bundle has its name, and no page is beside it.
    fs::rename(between.join(ASIDE).join("copy"), between.join("x.bundle")).unwrap();
    put(&book.store, &[("setup.toml", "height = 0.25 # in\n")]).unwrap();
    for left in [&before, &between] {
        assert!(!left.join("x.txt").exists(), "no page beside a bundle it does not tell of");
        git(&book.temp.path().join("book"), &["bundle", "verify", "-q", left.join("x.bundle").to_str().unwrap()]);
        hand_over(&book.store, left, "of three records\n", &|_| unreachable!("no page is there")).unwrap();
        assert_eq!(names(left), set(&["x.bundle", "x.txt"]));
        assert_eq!(fs::read_to_string(left.join("x.txt")).unwrap(), "of three records\n");
        assert_eq!(tip_of(left), book.store.head().unwrap().unwrap().to_string());
    }
}

#[test]
fn what_is_written_on_a_page_meanwhile_stays() {
    // Written on between the look at it and its being moved away.
    let (book, stick) = handed();
    let (page, bundle) = (stick.join("x.txt"), stick.join("x.bundle"));
    let earlier = fs::read(&bundle).unwrap();
    let writes = |held: &[u8]| {
        let ours = held == b"of one record\n";
        if page.exists() {
            fs::write(&page, "of one record\npaid in full\n").unwrap();
        }
        ours
    };
    let refused = hand_over(&book.store, &stick, "of two records\n", &writes).unwrap_err();
    assert!(matches!(&refused, StoreError::PageKept { placed: false, .. }), "{refused}");
    assert!(refused.to_string().contains("nothing was written"), "{refused}");
    assert_eq!(fs::read_to_string(&page).unwrap(), "of one record\npaid in full\n");
    assert_eq!((fs::read(&bundle).unwrap(), names(&stick)), (earlier.clone(), set(&["x.bundle", "x.txt"])));
    // Saved anew by an editor once it was moved away: the bundle stands, and so does what was saved.
    fs::write(&page, "of one record\n").unwrap();
    let saves = |held: &[u8]| {
        if !page.exists() {
            fs::write(&page, "mine\n").unwrap();
        }
        held == b"of one record\n"
    };
    let refused = hand_over(&book.store, &stick, "of two records\n", &saves).unwrap_err();
    assert!(matches!(&refused, StoreError::PageKept { placed: true, .. }), "{refused}");
    assert!(refused.to_string().contains("without its page"), "{refused}");
    assert_eq!(fs::read_to_string(&page).unwrap(), "mine\n");
    assert_ne!(fs::read(&bundle).unwrap(), earlier);
    assert_eq!(names(&stick), set(&["x.bundle", "x.txt"]));
    // Both at once: neither is lost.
    fs::write(&page, "of one record\n").unwrap();
    let asked = Cell::new(0);
    let both = |_: &[u8]| {
        asked.set(asked.get() + 1);
        let text = if asked.get() == 1 { "first\n" } else { "second\n" };
        fs::write(&page, text).unwrap();
        asked.get() == 1
    };
    hand_over(&book.store, &stick, "of two records\n", &both).unwrap_err();
    assert_eq!(names(&stick), set(&["x.bundle", "x.txt", "x.txt.yours"]));
    assert_eq!(fs::read_to_string(&page).unwrap(), "second\n");
    assert_eq!(fs::read_to_string(stick.join("x.txt.yours")).unwrap(), "first\n");
}

#[test]
fn the_page_goes_back_where_the_file_cannot_get_its_name() {
    let (book, stick) = handed();
    let (page, bundle) = (stick.join("x.txt"), stick.join("x.bundle"));
    fs::remove_file(&bundle).unwrap();
    // No file can take the name of a folder that holds something; it comes to be there meanwhile.
    let folder = |held: &[u8]| {
        fs::create_dir_all(bundle.join("in the way")).unwrap();
        held == b"of one record\n"
    };
    let refused = hand_over(&book.store, &stick, "of two records\n", &folder).unwrap_err();
    assert!(matches!(&refused, StoreError::Io { .. }), "{refused}");
    assert_eq!(fs::read_to_string(&page).unwrap(), "of one record\n");
    assert_eq!(names(&stick), set(&["x.bundle", "x.txt"]));
    // Somebody wrote another there meanwhile: both stay.
    let saves = |held: &[u8]| {
        if !page.exists() {
            fs::write(&page, "mine\n").unwrap();
        }
        held == b"of one record\n"
    };
    fs::remove_dir_all(&bundle).unwrap();
    let with_folder = |held: &[u8]| folder(held) && saves(held);
    hand_over(&book.store, &stick, "of two records\n", &with_folder).unwrap_err();
    assert_eq!(fs::read_to_string(&page).unwrap(), "mine\n");
    assert_eq!(fs::read_to_string(stick.join("x.txt.yours")).unwrap(), "of one record\n");
    assert_eq!(names(&stick), set(&["x.bundle", "x.txt", "x.txt.yours"]));
}

#[test]
fn a_page_that_cannot_go_back_stays_aside() {
    let (book, stick) = handed();
    let (page, bundle) = (stick.join("x.txt"), stick.join("x.bundle"));
    fs::remove_file(&bundle).unwrap();
    // Every name it could go back to is taken once it is moved away.
    let taken = |held: &[u8]| {
        fs::create_dir_all(bundle.join("in the way")).unwrap();
        let mut name = page.clone();
        for _ in 0..if page.exists() { 0 } else { 40 } {
            fs::create_dir(&name).unwrap();
            name.as_mut_os_string().push(".yours");
        }
        held == b"of one record\n"
    };
    hand_over(&book.store, &stick, "of two records\n", &taken).unwrap_err();
    let aside = stick.join(ASIDE);
    assert_eq!(fs::read_to_string(aside.join("page-before")).unwrap(), "of one record\n");
    assert_eq!(names(&aside), set(&["lock", "page-before"]));
}
