//! Copies of a book: stock git reads both forms, every object is there, nothing is lost, a kill leaves no half.
use std::collections::BTreeSet;
use std::path::{Path, PathBuf};
use std::time::Duration;

use proptest::prelude::*;
use slipbook::store::{Copied, CopyHow, Id, Options, Store, StoreError};

#[path = "common/killed.rs"]
mod killed;
mod store_support;
use killed::{AtWork, Dice, dir_of_child};
use store_support::*;

fn how(options: &Options) -> CopyHow<'_> {
    CopyHow { options, who: person(), when: stamp(1_780_000_500), tell: &|_| {} }
}

fn to_folder(store: &Store, dest: &Path) -> Result<Copied, StoreError> {
    store.copy_to_folder(dest, &how(&quick()))
}

fn to_bundle(store: &Store, dest: &Path) -> Result<Copied, StoreError> {
    store.copy_to_bundle(dest, &how(&quick()))
}

/// What is beside the books: a test's whole folder, by name.
fn names(dir: &Path) -> BTreeSet<String> {
    std::fs::read_dir(dir).unwrap().map(|e| e.unwrap().file_name().to_string_lossy().into_owned()).collect()
}

/// Every file below a folder with its content.
fn contents(dir: &Path) -> Vec<(PathBuf, Vec<u8>)> {
    let mut out = Vec::new();
    let mut open = vec![dir.to_path_buf()];
    while let Some(dir) = open.pop() {
        for entry in std::fs::read_dir(&dir).unwrap() {
            let path = entry.unwrap().path();
            if path.symlink_metadata().unwrap().is_dir() {
                open.push(path)
            } else {
                out.push((path.clone(), std::fs::read(&path).unwrap_or_default()))
            }
        }
    }
    out.sort();
    out
}

/// Objects that can be reached from `main`, by stock git.
fn reached(dir: &Path) -> BTreeSet<String> {
    let list = git(dir, &["rev-list", "--objects", "main"]);
    list.lines().filter_map(|l| l.split_whitespace().next()).map(str::to_owned).collect()
}

/// Stock git finds a bundle whole; it asks for a repository to stand in.
fn verify(dir: &Path, bundle: &Path) {
    git(&dir.join("book"), &["bundle", "verify", "-q", bundle.to_str().unwrap()]);
}

/// A bundle, taken in by stock git.
fn cloned(bundle: &Path, name: &str) -> PathBuf {
    let parent = bundle.parent().unwrap();
    verify(parent, bundle);
    git(parent, &["clone", "-q", bundle.to_str().unwrap(), name]);
    parent.join(name)
}

#[test]
fn a_folder_is_a_book_of_its_own() {
    let book = Book::new();
    book.put(&[("setup.toml", "height = 0.50 # in\n")]);
    let dest = book.temp.path().join("copy");
    let copied = to_folder(&book.store, &dest).unwrap();
    assert_eq!((Some(copied.tip), copied.was, copied.commits), (book.store.head().unwrap(), None, 2));
    assert_tidy(&dest);
    let copy = Store::open(&dest).unwrap();
    assert_eq!(copy.log(None).unwrap(), book.store.log(None).unwrap());
    assert_eq!(copy.work_state().unwrap(), vec![]);
    assert_eq!(copy.read_work("setup.toml").unwrap().unwrap(), b"height = 0.50 # in\n");
    // It takes records, and stock git sees what moved the branch.
    put(&copy, &[("setup.toml", "height = 0.25 # in\n")]).unwrap();
    assert_tidy(&dest);
    let log = git(&dest, &["reflog", "--format=%gs", "main"]);
    assert_eq!(log.lines().collect::<Vec<_>>(), ["commit: Write setup.toml", "copy: Write setup.toml"]);
    assert_eq!(names(book.temp.path()), ["book", "copy"].map(str::to_owned).into());
}

#[test]
fn a_bundle_is_read_by_stock_git() {
    let book = Book::new();
    let dest = book.temp.path().join("grey.bundle");
    let copied = to_bundle(&book.store, &dest).unwrap();
    assert_eq!((copied.commits, copied.objects), (1, 7));
    assert_eq!(names(book.temp.path()), ["book", "grey.bundle"].map(str::to_owned).into());
    let clone = cloned(&dest, "clone");
    assert_tidy(&clone);
    assert_eq!(reached(&clone), reached(book.dir()));
    assert_eq!(git(&clone, &["rev-parse", "--abbrev-ref", "HEAD"]).trim(), "main");
    assert_eq!(Store::open(&clone).unwrap().log(None).unwrap(), book.store.log(None).unwrap());
}

#[test]
fn the_second_copy_brings_the_first_up_to_the_book() {
    let book = Book::new();
    let (folder, bundle) = (book.temp.path().join("copy"), book.temp.path().join("grey.bundle"));
    to_folder(&book.store, &folder).unwrap();
    to_bundle(&book.store, &bundle).unwrap();
    let first = book.store.head().unwrap();
    for n in 0..120 {
        book.put(&[
            ("setup.toml", &format!("height = 0.{n} # in\n")),
            (&format!("days/2026/{n}.toml"), "format = 1\n"),
        ]);
    }
    let mut gone = record(&[("setup.toml", "height = 1 # in\n")]);
    gone.files.push(("days/2026/3.toml".to_owned(), None));
    book.store.record(&quick(), &mut |_| Ok(Some(gone.clone()))).unwrap();
    for _ in 0..2 {
        let (a, b) = (to_folder(&book.store, &folder).unwrap(), to_bundle(&book.store, &bundle).unwrap());
        assert_eq!((a.tip, a.commits, a.objects), (b.tip, b.commits, b.objects));
        assert_tidy(&folder);
        assert_eq!(Store::open(&folder).unwrap().head().unwrap(), book.store.head().unwrap());
        assert!(!folder.join("days/2026/3.toml").exists() && folder.join("days/2026/119.toml").exists());
    }
    let again = to_folder(&book.store, &folder).unwrap();
    assert_eq!(again.was, book.store.head().unwrap());
    assert_ne!(again.was, first);
    assert_eq!(reached(&folder), reached(book.dir()));
    assert_eq!(reached(&cloned(&bundle, "clone")), reached(book.dir()));
}

#[test]
fn records_only_the_copy_has_are_kept() {
    let book = Book::new();
    let (folder, bundle) = (book.temp.path().join("copy"), book.temp.path().join("grey.bundle"));
    to_folder(&book.store, &folder).unwrap();
    let copy = Store::open(&folder).unwrap();
    put(&copy, &[("setup.toml", "height = 0.25 # in\n")]).unwrap();
    to_bundle(&copy, &bundle).unwrap();
    let before = (contents(&folder), std::fs::read(&bundle).unwrap());
    // The copy is ahead, then both have gone on.
    for _ in 0..2 {
        let error = to_folder(&book.store, &folder).unwrap_err();
        assert!(matches!(error, StoreError::OnlyThere { here: Some(true), .. }), "{error}");
        let error = to_bundle(&book.store, &bundle).unwrap_err();
        assert!(matches!(error, StoreError::OnlyThere { here: None, .. }), "{error}");
        book.put(&[("setup.toml", "height = 0.5 # in\n")]);
    }
    let same = |(path, _): &&(PathBuf, Vec<u8>)| !path.ends_with("slipbook.lock");
    let after = contents(&folder);
    assert_eq!(before.0.iter().filter(same).collect::<Vec<_>>(), after.iter().filter(same).collect::<Vec<_>>());
    assert_eq!(before.1, std::fs::read(&bundle).unwrap());
    // Another book is not of this one's kind at all.
    let other = Book::empty();
    put(&other.store, &[("car.toml", "name = \"Other\"\n")]).unwrap();
    let error = to_folder(&other.store, &folder).unwrap_err();
    assert!(matches!(error, StoreError::OnlyThere { here: Some(false), .. }), "{error}");
    assert_eq!(names(book.temp.path()), ["book", "copy", "grey.bundle"].map(str::to_owned).into());
}

#[test]
fn an_edit_by_hand_in_the_copy_is_not_written_over() {
    let book = Book::new();
    let dest = book.temp.path().join("copy");
    to_folder(&book.store, &dest).unwrap();
    std::fs::write(dest.join("setup.toml"), "height = 9 # in\n").unwrap();
    let tip = Store::open(&dest).unwrap().head().unwrap();
    // Nothing new, something new elsewhere, something new in that very file.
    for new in [&[][..], &[("car.toml", "name = \"Grey 2\"\n")], &[("setup.toml", "height = 0.5 # in\n")]] {
        if !new.is_empty() {
            book.put(new);
        }
        let error = to_folder(&book.store, &dest).unwrap_err();
        assert!(matches!(&error, StoreError::HandEdit { path } if path == "setup.toml"), "{error}");
        assert_eq!(Store::open(&dest).unwrap().head().unwrap(), tip);
        assert_eq!(std::fs::read_to_string(dest.join("setup.toml")).unwrap(), "height = 9 # in\n");
    }
    assert_fsck(&dest);
    std::fs::remove_file(dest.join("setup.toml")).unwrap();
    assert!(matches!(to_folder(&book.store, &dest), Err(StoreError::HandEdit { .. })), "a file that is gone");
    std::fs::write(
        dest.join("setup.toml"),
        Store::open(&dest).unwrap().file(tip.unwrap(), "setup.toml").unwrap().unwrap().1,
    )
    .unwrap();
    to_folder(&book.store, &dest).unwrap();
    assert_eq!(std::fs::read_to_string(dest.join("setup.toml")).unwrap(), "height = 0.5 # in\n");
}

/// A book where an object is not what its id says is no book to copy, and a copy of that kind is no copy.
#[test]
fn damage_is_found_on_both_sides() {
    let loose = |dir: &Path, id: Id| {
        let hex = id.to_string();
        dir.join(".git/objects").join(&hex[..2]).join(&hex[2..])
    };
    let swap = |dir: &Path, a: Id, b: Id| {
        std::fs::remove_file(loose(dir, a)).unwrap();
        std::fs::copy(loose(dir, b), loose(dir, a)).unwrap();
    };
    let book = Book::new();
    let dest = book.temp.path().join("copy");
    to_folder(&book.store, &dest).unwrap();
    let (sheet, car) = (Store::blob_id(b"height = 0.75 # in\n"), Store::blob_id(b"name = \"Grey\"\n"));
    swap(&dest, sheet, car);
    let error = to_folder(&book.store, &dest).unwrap_err();
    assert!(matches!(error, StoreError::Unlike { .. }), "{error}");
    // What is missing in the copy is put back.
    std::fs::remove_file(loose(&dest, sheet)).unwrap();
    to_folder(&book.store, &dest).unwrap();
    assert_tidy(&dest);

    swap(book.dir(), sheet, car);
    let before = contents(&dest);
    for error in [
        to_folder(&book.store, &book.temp.path().join("new")).unwrap_err(),
        to_folder(&book.store, &dest).unwrap_err(),
        to_bundle(&book.store, &book.temp.path().join("new.bundle")).unwrap_err(),
    ] {
        assert!(matches!(error, StoreError::Damaged { .. }), "{error}");
    }
    let same = |(path, _): &&(PathBuf, Vec<u8>)| !path.ends_with("slipbook.lock");
    assert_eq!(before.iter().filter(same).count(), contents(&dest).iter().filter(same).count());
    assert_eq!(names(book.temp.path()), ["book", "copy"].map(str::to_owned).into());
}

#[test]
fn what_is_in_the_way_is_left_alone() {
    let book = Book::new();
    let at = |name: &str| book.temp.path().join(name);
    std::fs::create_dir(at("folder")).unwrap();
    std::fs::write(at("file"), "mine").unwrap();
    std::fs::create_dir(at(".slipbook-copy-new")).unwrap();
    std::fs::write(at(".slipbook-copy-new").join("mine"), "mine").unwrap();
    for result in [
        to_folder(&book.store, &at("folder")),
        to_folder(&book.store, &at("file")),
        to_bundle(&book.store, &at("file")),
        to_folder(&book.store, &at("new")),
        to_bundle(&book.store, &at("new")),
    ] {
        let error = result.unwrap_err();
        assert!(matches!(error, StoreError::Occupied { .. }), "{error}");
    }
    assert!(to_bundle(&book.store, &at("folder")).is_err());
    assert_eq!(std::fs::read_to_string(at("file")).unwrap(), "mine");
    assert_eq!(std::fs::read_to_string(at(".slipbook-copy-new").join("mine")).unwrap(), "mine");
    assert_eq!(names(&at("folder")), BTreeSet::new());
    let empty = Book::empty();
    assert!(matches!(to_folder(&empty.store, &at("of empty")), Err(StoreError::NoRecords { .. })));
}

/// Links and odd names a hand put into the book are in the copy's record; laid out are plain files alone.
#[cfg(unix)]
#[test]
fn what_cannot_be_laid_out_is_in_the_record() {
    let book = Book::new();
    std::os::unix::fs::symlink("/etc/passwd", book.dir().join("link")).unwrap();
    book.write("what?.txt", "odd");
    book.write("photo.txt", "a picture");
    std::fs::set_permissions(book.dir().join("photo.txt"), std::os::unix::fs::PermissionsExt::from_mode(0o755))
        .unwrap();
    book.git(&["add", "-A"]);
    book.git(&["commit", "-qm", "By hand"]);
    let dest = book.temp.path().join("copy");
    let copied = to_folder(&book.store, &dest).unwrap();
    assert_eq!(copied.not_laid_out, ["link", "what?.txt"]);
    assert!(dest.join("link").symlink_metadata().is_err() && !dest.join("what?.txt").exists());
    assert_fsck(&dest);
    assert_eq!(git(&dest, &["diff-files"]), "");
    assert_eq!(reached(&dest), reached(book.dir()));
    assert_eq!(git(&dest, &["ls-files", "-s", "photo.txt"]), book.git(&["ls-files", "-s", "photo.txt"]));
    // The bundle is laid out by stock git, as it does.
    let bundle = book.temp.path().join("grey.bundle");
    to_bundle(&book.store, &bundle).unwrap();
    assert_eq!(reached(&cloned(&bundle, "clone")), reached(book.dir()));
}

/// One step of a generated book.
#[derive(Debug, Clone)]
enum Step {
    /// A record: which day, what the sheet says, a long file or a short one.
    Record(u8, u16, bool),
    /// A short line beside `main` that is joined to it, as a mend does.
    Joined(u8, Vec<u16>),
    /// Stock git packs everything.
    Gc,
    /// A copy of each form.
    Copies,
}

fn step() -> impl Strategy<Value = Step> {
    prop_oneof![
        6 => (0..5u8, any::<u16>(), any::<bool>()).prop_map(|(d, n, long)| Step::Record(d, n, long)),
        3 => (1..4u8, prop::collection::vec(any::<u16>(), 1..4)).prop_map(|(back, sheets)| Step::Joined(back, sheets)),
        1 => Just(Step::Gc),
        2 => Just(Step::Copies),
    ]
}

fn join(store: &Store, back: u8, sheets: &[u16]) {
    let log = store.log(None).unwrap();
    let from = log[usize::from(back).min(log.len() - 1)].commit.id;
    store
        .record_many(&quick(), &mut |batch| {
            let mut side = from;
            for n in sheets {
                side = batch.commit_on(Some(side), record(&[("setup.toml", &format!("mended = {n}\n"))]))?;
            }
            let last = sheets.last().copied().unwrap_or_default();
            batch.merge(record(&[("setup.toml", &format!("mended = {last}\n"))]), &[side])?;
            Ok(())
        })
        .unwrap();
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 8, failure_persistence: None, max_shrink_iters: 24, ..ProptestConfig::default() })]

    /// Stock git takes exactly the book's objects out of either form, whatever the book went through.
    #[test]
    fn both_forms_hold_what_the_book_holds(steps in prop::collection::vec(step(), 3..10)) {
        let book = Book::new();
        let (folder, bundle) = (book.temp.path().join("copy"), book.temp.path().join("grey.bundle"));
        let mut copies = 0;
        for step in steps.iter().chain([&Step::Copies]) {
            match step {
                Step::Record(day, n, long) => {
                    let text = format!("n = {n}\n").repeat(if *long { 900 } else { 1 });
                    book.put(&[("setup.toml", &format!("height = {n}\n")), (&format!("days/2026/{day}.toml"), &text)]);
                }
                Step::Joined(back, sheets) => join(&book.store, *back, sheets),
                Step::Gc => drop(book.git(&["gc", "-q"])),
                Step::Copies => {
                    let (a, b) = (to_folder(&book.store, &folder).unwrap(), to_bundle(&book.store, &bundle).unwrap());
                    prop_assert_eq!((a.tip, a.was, a.commits, a.objects), (b.tip, b.was, b.commits, b.objects));
                    assert_tidy(&folder);
                    let copy = Store::open(&folder).unwrap();
                    prop_assert_eq!(copy.log(None).unwrap(), book.store.log(None).unwrap());
                    let wanted = reached(book.dir());
                    prop_assert_eq!(wanted.len(), a.objects);
                    prop_assert_eq!(&reached(&folder), &wanted);
                    copies += 1;
                    let clone = cloned(&bundle, &format!("clone{copies}"));
                    assert_tidy(&clone);
                    prop_assert_eq!(&reached(&clone), &wanted);
                    let all = git(&clone, &["cat-file", "--batch-all-objects", "--batch-check=%(objectname)"]);
                    prop_assert_eq!(all.lines().map(str::to_owned).collect::<BTreeSet<_>>(), wanted, "nothing besides");
                }
            }
        }
    }
}

/// What the test program does when a test starts it again: copies without end, with a record in between.
#[test]
fn child_that_is_killed() {
    let Some(dir) = dir_of_child() else { return };
    let store = Store::open(&dir.join("book")).unwrap();
    let options = Options::default();
    println!("begun");
    for n in 0.. {
        let text = format!("n = {n}\n");
        store
            .record(&options, &mut |_| Ok(Some(record(&[("setup.toml", &text), ("days/2026/x.toml", &text)]))))
            .unwrap();
        store.copy_to_folder(&dir.join("copy"), &how(&options)).unwrap();
        store.copy_to_folder(&dir.join(format!("new{n}")), &how(&options)).unwrap();
        store.copy_to_bundle(&dir.join("grey.bundle"), &how(&options)).unwrap();
        // Out of the way first: a kill while it is taken away is not what is looked at.
        std::fs::rename(dir.join(format!("new{n}")), dir.join(format!("gone{n}"))).unwrap();
        std::fs::remove_dir_all(dir.join(format!("gone{n}"))).unwrap();
    }
}

/// Killed at any moment a name that is there is a whole copy, and the next copy puts right what was left.
#[test]
fn a_kill_leaves_no_half_copy() {
    let book = Book::new();
    let dir = book.temp.path();
    let mut dice = Dice::new();
    let mut left = 0;
    for round in 0..14 {
        AtWork::start(dir, &[], "begun").kill_after(Duration::from_millis(dice.roll(150)));
        let ours: BTreeSet<String> = book.store.log(None).unwrap().iter().map(|l| l.commit.id.to_string()).collect();
        for name in names(dir) {
            let path = dir.join(&name);
            if name.starts_with(".slipbook-copy-") {
                left += 1;
            } else if name.starts_with("new") || name == "copy" {
                let tip = Store::open(&path).unwrap().head().unwrap();
                assert!(tip.is_some_and(|t| ours.contains(&t.to_string())), "round {round}: {name}");
                assert_fsck(&path);
                to_folder(&book.store, &path).unwrap();
                assert_tidy(&path);
            } else if name == "grey.bundle" {
                verify(dir, &path);
            }
        }
        // A name that was begun is finished by the next copy to it, and nothing is left beside.
        for name in names(dir).iter().filter_map(|n| n.strip_prefix(".slipbook-copy-")) {
            let path = dir.join(name);
            if name.ends_with(".bundle") {
                to_bundle(&book.store, &path).unwrap()
            } else {
                to_folder(&book.store, &path).unwrap()
            };
        }
        assert!(!names(dir).iter().any(|n| n.starts_with(".slipbook-copy-")), "round {round}");
        for name in names(dir).iter().filter(|n| n.starts_with("new") || n.starts_with("gone")) {
            std::fs::remove_dir_all(dir.join(name)).unwrap();
        }
    }
    assert!(left > 0, "some kills fell into a copy");
}

/// Two at once to one place: one copies, the other is told.
#[test]
fn two_copies_to_one_place() {
    let book = Book::new();
    for n in 0..30 {
        book.put(&[("setup.toml", &format!("n = {n}\n"))]);
    }
    let (dir, dest) = (book.dir().to_path_buf(), book.temp.path().join("grey.bundle"));
    let results: Vec<_> = std::thread::scope(|scope| {
        let one = || Store::open(&dir).and_then(|own| to_bundle(&own, &dest)).map(|c| c.tip);
        let handles: Vec<_> = (0..4).map(|_| scope.spawn(one)).collect();
        handles.into_iter().map(|h| h.join().unwrap()).collect()
    });
    assert!(results.iter().any(Result::is_ok), "{results:?}");
    let fine = |e: &StoreError| matches!(e, StoreError::Underway { .. } | StoreError::Io { .. });
    assert!(results.iter().all(|r| r.as_ref().err().is_none_or(fine)), "{results:?}");
    to_bundle(&book.store, &dest).unwrap();
    verify(book.temp.path(), &dest);
    assert_eq!(names(book.temp.path()), ["book", "grey.bundle"].map(str::to_owned).into());
}

#[test]
fn what_a_killed_copy_of_another_car_left_on_the_stick_goes() {
    let book = Book::new();
    let stick = book.temp.path().join("stick");
    let left = |name: &str| {
        let dir = stick.join(format!(".slipbook-copy-{name}"));
        std::fs::create_dir_all(dir.join("copy/.git")).unwrap();
        std::fs::write(dir.join("copy/.git/names"), "Pell").unwrap();
        std::fs::write(dir.join("lock"), "").unwrap();
        dir
    };
    let (killed, at_work, theirs) = (left("grey"), left("wren"), left("no-mark"));
    std::fs::remove_file(theirs.join("lock")).unwrap();
    let held = std::fs::File::options().write(true).open(at_work.join("lock")).unwrap();
    held.lock().unwrap();
    to_bundle(&book.store, &stick.join("x.bundle")).unwrap();
    assert!(!killed.exists(), "nobody works there");
    assert!(at_work.join("copy/.git/names").exists(), "somebody does");
    assert!(theirs.exists(), "without the mark it may be anybody's");
    drop(held);
    to_bundle(&book.store, &stick.join("y.bundle")).unwrap();
    assert!(!at_work.exists());
}
