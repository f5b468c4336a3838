//! Healing after a record was cut off, by the next one.
use std::fs;

use slipbook::store::{Store, StoreError};

mod store_support;
use store_support::*;

#[test]
fn what_a_cut_off_record_left_is_swept() {
    let book = Book::new();
    let git = book.git_dir();
    let head = book.store.head().unwrap().unwrap();
    fs::write(git.join("slipbook.lock"), format!("busy 1 {head}\n")).unwrap();
    let ours = ["index.lock", "refs/heads/main.lock"];
    for name in ours {
        fs::write(git.join(name), "busy 1\n").unwrap();
    }
    let fan = git.join("objects/00");
    fs::create_dir_all(&fan).unwrap();
    let left = [
        git.join("slipbook-aside-0"),
        git.join("slipbook-aside-index"),
        fan.join("tmp_obj_slipbook_1_0"),
        git.join("objects/pack/tmp_pack_slipbook_1"),
    ];
    for path in &left {
        fs::write(path, "half").unwrap();
    }
    // A running git's own file is not ours to remove.
    let gits = fan.join("tmp_obj_a1b2c3");
    fs::write(&gits, "half").unwrap();
    let done = book.store.record(&quick(), &mut |_| Ok(None)).unwrap();
    assert!(done.healed.is_empty(), "nothing had been recorded: {:?}", done.healed);
    for path in left.iter().chain(&ours.map(|name| git.join(name))) {
        assert!(!path.exists(), "{}", path.display());
    }
    assert!(gits.exists());
    fs::remove_file(&gits).unwrap();
    book.assert_tidy();
}

/// A book whose branch has moved but whose index and folder have not: cut off in between.
fn cut_off(files: &[(&str, &str)], mark: impl Fn(&str) -> String) -> Book {
    let book = Book::new();
    let base = book.store.head().unwrap().unwrap();
    let copy = book.temp.path().join("before");
    fs::create_dir(&copy).unwrap();
    fs::copy(book.git_dir().join("index"), copy.join("index")).unwrap();
    let old: Vec<_> = files.iter().map(|f| fs::read(book.dir().join(f.0)).ok()).collect();
    book.put(files);
    fs::copy(copy.join("index"), book.git_dir().join("index")).unwrap();
    for ((path, _), old) in files.iter().zip(old) {
        match old {
            Some(bytes) => fs::write(book.dir().join(path), bytes).unwrap(),
            None => fs::remove_file(book.dir().join(path)).unwrap(),
        }
    }
    fs::write(book.git_dir().join("slipbook.lock"), mark(&base.to_string())).unwrap();
    fs::hard_link(book.git_dir().join("slipbook.lock"), book.git_dir().join("index.lock")).unwrap();
    book
}

#[test]
fn a_folder_that_is_behind_is_brought_in_step() {
    // The second mark was lost with the power: the tip's parent stands in for it.
    let marks: [fn(&str) -> String; 2] = [|base| format!("busy 1 {base}\n"), |_| String::new()];
    for mark in marks {
        let book = cut_off(&[("setup.toml", "height = 4\n"), ("days/2026/n.toml", "x\n")], mark);
        let done = book.store.record(&quick(), &mut |_| Ok(None)).unwrap();
        assert_eq!(book.read("setup.toml"), "height = 4\n");
        assert_eq!(book.read("days/2026/n.toml"), "x\n");
        assert_eq!(done.healed.len(), 1, "{:?}", done.healed);
        assert!(done.healed[0].contains("days/2026/n.toml, setup.toml"), "{:?}", done.healed);
        book.assert_tidy();
        let again = book.store.record(&quick(), &mut |_| Ok(None)).unwrap();
        assert!(again.healed.is_empty());
    }
}

#[test]
fn an_edit_by_hand_since_a_cut_off_record_is_kept_and_told() {
    let book = cut_off(&[("setup.toml", "height = 4\n"), ("car.toml", "x\n")], |base| format!("busy 1 {base}\n"));
    book.write("setup.toml", "height = 9, by hand\n");
    let done = book.store.record(&quick(), &mut |_| Ok(Some(record(&[("d.toml", "y\n")])))).unwrap();
    assert_eq!(book.read("setup.toml"), "height = 9, by hand\n");
    assert_eq!(book.read("car.toml"), "x\n");
    assert_eq!(done.left_alone, ["setup.toml"]);
    assert_eq!(done.healed.len(), 2, "{:?}", done.healed);
    assert_eq!(book.git(&["status", "--porcelain"]), " M setup.toml\n");
}

#[test]
fn what_was_staged_before_a_record_was_cut_off_is_not_touched_by_healing() {
    let book = Book::new();
    let base = book.store.head().unwrap().unwrap();
    book.put(&[("setup.toml", "height = 4\n")]);
    book.write("car.toml", "staged\n");
    book.git(&["add", "car.toml"]);
    fs::write(book.git_dir().join("slipbook.lock"), format!("busy 1 {base}\n")).unwrap();
    let done = book.store.record(&quick(), &mut |_| Ok(None)).unwrap();
    assert!(done.healed.is_empty(), "{:?}", done.healed);
    assert_eq!(book.git(&["status", "--porcelain"]), "M  car.toml\n");
}

#[test]
fn a_record_whose_folder_cannot_follow_says_that_it_is_recorded_and_heals() {
    let book = Book::new();
    // A folder where the new index is to be written: the branch moves, the index cannot.
    let in_the_way = book.git_dir().join("slipbook-aside-index");
    fs::create_dir(&in_the_way).unwrap();
    let error = put(&book.store, &[("setup.toml", "height = 4\n")]).unwrap_err();
    let StoreError::Unsettled { id, .. } = error else {
        panic!("{error}");
    };
    assert_eq!(book.store.head().unwrap(), Some(id));
    assert!(!book.git_dir().join("index.lock").exists());
    fs::remove_dir(&in_the_way).unwrap();
    let done = book.store.record(&quick(), &mut |_| Ok(None)).unwrap();
    assert_eq!(done.healed.len(), 1, "{:?}", done.healed);
    book.assert_tidy();
}

#[test]
fn a_lost_branch_is_said_with_the_record_it_named() {
    let book = Book::new();
    let head = book.put(&[("setup.toml", "height = 0.50 # in\n")]);
    let branch = book.git_dir().join("refs/heads/main");
    let said = fs::read(&branch).unwrap();
    let again = || Store::open(book.dir()).and_then(|store| store.head());
    for damage in [Some(&b""[..]), Some(b"0123\n"), None] {
        match damage {
            Some(bytes) => fs::write(&branch, bytes).unwrap(),
            None => fs::remove_file(&branch).unwrap(),
        }
        match again() {
            Err(StoreError::BranchLost { path, was }) => assert_eq!((path, was), (branch.clone(), Some(head))),
            other => panic!("{damage:?}: {other:?}"),
        }
        fs::write(&branch, format!("{head}\n")).unwrap();
        assert_eq!(fs::read(&branch).unwrap(), said, "what is advised is what was there");
        assert_eq!(again().unwrap(), Some(head));
    }
    // A new book has no record and has lost none.
    assert_eq!(Book::empty().store.head().unwrap(), None);
}

#[test]
fn an_index_that_cannot_be_read_is_made_anew() {
    let book = Book::new();
    let index = book.git_dir().join("index");
    let whole = fs::read(&index).unwrap();
    let mut turned = whole.clone();
    turned[20] ^= 1;
    for damage in [&b""[..], &whole[..40], &turned] {
        fs::write(&index, damage).unwrap();
        let store = Store::open(book.dir()).unwrap();
        put(&store, &[("setup.toml", &format!("height = 0.{} # in\n", damage.len()))]).unwrap();
        book.assert_tidy();
    }
}
