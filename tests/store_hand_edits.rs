//! What the user edits by hand is seen, kept, and never written over unasked.
use slipbook::store::{Kind, Record, Store, StoreError};

mod store_support;
use store_support::*;

fn accepting(files: &[(&str, &str)]) -> Record {
    Record { accept_hand_edit: true, ..record(files) }
}

fn edits(store: &Store) -> Vec<(String, Kind)> {
    let state = store.work_state().unwrap();
    state.into_iter().map(|e| (e.path, e.kind)).collect()
}

#[test]
fn edits_are_listed_by_kind() {
    let book = Book::new();
    assert_eq!(edits(&book.store), []);
    book.write("setup.toml", "height = 9.75 # in\n");
    book.write("days/2026/new.toml", "x\n");
    book.write("days/2026/new.toml~", "an editor's copy\n");
    book.write(".hidden/x.toml", "x\n");
    std::fs::remove_file(book.dir().join("car.toml")).unwrap();
    assert_eq!(
        edits(&book.store),
        [
            ("car.toml".to_owned(), Kind::Deleted),
            ("days/2026/new.toml".to_owned(), Kind::New),
            ("setup.toml".to_owned(), Kind::Changed),
        ]
    );
    // Touched but equal is no edit.
    book.write("setup.toml", "height = 0.75 # in\n");
    assert_eq!(edits(&book.store).len(), 2);
}

#[test]
fn a_file_is_laid_out_as_it_is_on_record_and_no_record_is_made() {
    let book = Book::new();
    let head = book.store.head().unwrap();
    book.write("setup.toml", "height = 9.75 # in\n");
    book.write("car.toml", "name = \"Blue\"\n");
    std::fs::remove_dir_all(book.dir().join("days")).unwrap();
    let day = "days/2026/05-16-north.toml";
    // Taken out of git's index too.
    book.git(&["rm", "-q", "--cached", day]);
    let lay_out = |paths: &[&str]| {
        let done = book.store.record_many(&quick(), &mut |batch| {
            paths.iter().try_for_each(|path| batch.lay_out(path).map(drop))?;
            Ok(())
        });
        done.map(|done| done.id)
    };
    assert_eq!(lay_out(&[day, "setup.toml", "no/such.toml"]).unwrap(), None);
    assert_eq!(book.store.head().unwrap(), head);
    assert_eq!((book.read(day), book.read("setup.toml")), ("format = 1\n".into(), "height = 0.75 # in\n".into()));
    assert_eq!(edits(&book.store), [("car.toml".to_owned(), Kind::Changed)]);
    assert_eq!(book.git(&["status", "--porcelain"]), " M car.toml\n");
    // Nothing outside the folder, nothing through a link.
    assert!(lay_out(&["../x.toml"]).is_err() && lay_out(&[".git/config"]).is_err());
    #[cfg(unix)]
    {
        let elsewhere = book.temp.path().join("elsewhere");
        std::fs::write(&elsewhere, "mine\n").unwrap();
        std::fs::remove_file(book.dir().join("setup.toml")).unwrap();
        std::os::unix::fs::symlink(&elsewhere, book.dir().join("setup.toml")).unwrap();
        assert!(lay_out(&["setup.toml"]).is_err());
        assert_eq!(std::fs::read_to_string(&elsewhere).unwrap(), "mine\n");
        std::fs::remove_file(book.dir().join("setup.toml")).unwrap();
    }
    lay_out(&["car.toml", "setup.toml"]).unwrap();
    book.assert_tidy();
}

#[test]
fn an_edit_in_another_file_survives_and_stays_visible() {
    let book = Book::new();
    book.write("setup.toml", "height = 9.75 # in\n");
    book.put(&[("car.toml", "name = \"Blue\"\n")]);
    assert_eq!(book.read("setup.toml"), "height = 9.75 # in\n");
    assert_eq!(book.git(&["status", "--porcelain"]), " M setup.toml\n");
    assert_fsck(book.dir());
}

#[test]
fn an_edit_in_the_file_to_be_written_refuses_and_changes_nothing() {
    let book = Book::new();
    let before = book.store.head().unwrap();
    for change in ["edit", "delete"] {
        if change == "edit" {
            book.write("setup.toml", "height = 9\n");
        } else {
            std::fs::remove_file(book.dir().join("setup.toml")).unwrap();
        }
        let error = put(&book.store, &[("car.toml", "x\n"), ("setup.toml", "height = 1\n")]).unwrap_err();
        assert!(matches!(&error, StoreError::HandEdit { path } if path == "setup.toml"), "{error}");
        assert_eq!(book.store.head().unwrap(), before);
        assert_eq!(book.read("car.toml"), "name = \"Grey\"\n");
    }
    assert!(!book.dir().join("setup.toml").exists());
}

#[test]
fn a_file_that_lies_there_unrecorded_is_not_written_over() {
    let book = Book::new();
    book.write("days/2026/06-01-south.toml", "typed by hand\n");
    let error = put(&book.store, &[("days/2026/06-01-south.toml", "run\n")]).unwrap_err();
    assert!(matches!(error, StoreError::HandEdit { .. }), "{error}");
    assert_eq!(book.read("days/2026/06-01-south.toml"), "typed by hand\n");
}

#[test]
fn a_change_only_staged_counts_as_a_hand_edit() {
    let book = Book::new();
    book.write("setup.toml", "height = 9\n");
    book.git(&["add", "setup.toml"]);
    book.write("setup.toml", "height = 0.75 # in\n");
    let error = put(&book.store, &[("setup.toml", "height = 1\n")]).unwrap_err();
    assert!(matches!(error, StoreError::HandEdit { .. }), "{error}");
}

#[test]
fn an_accepted_edit_is_taken_in() {
    let book = Book::new();
    book.write("setup.toml", "height = 9\n");
    let done = book
        .store
        .record(&quick(), &mut |tip| {
            let text = tip.store.read_work("setup.toml")?.unwrap_or_default();
            let text = String::from_utf8(text)?;
            Ok(Some(accepting(&[("setup.toml", &text), ("notes.toml", "x\n")])))
        })
        .unwrap();
    assert!(done.left_alone.is_empty());
    let (_, text) = book.store.file(done.id.unwrap(), "setup.toml").unwrap().unwrap();
    assert_eq!(text, b"height = 9\n");
    book.assert_tidy();
    // And one that is replaced on purpose.
    book.write("setup.toml", "height = 10\n");
    book.store.record(&quick(), &mut |_| Ok(Some(accepting(&[("setup.toml", "height = 11\n")])))).unwrap();
    assert_eq!(book.read("setup.toml"), "height = 11\n");
    book.assert_tidy();
}

#[test]
fn an_edit_back_to_the_recorded_text_can_be_accepted() {
    let book = Book::new();
    book.put(&[("setup.toml", "height = 1\n")]);
    book.write("setup.toml", "height = 2\n");
    book.store.record(&quick(), &mut |_| Ok(Some(accepting(&[("setup.toml", "height = 1\n")])))).unwrap();
    assert_eq!(book.read("setup.toml"), "height = 1\n");
    book.assert_tidy();
}

#[test]
fn an_edit_saved_while_the_record_is_written_is_kept() {
    let book = Book::new();
    let path = book.dir().join("setup.toml");
    let done = book
        .store
        .record_many(&quick(), &mut |batch| {
            batch.commit(record(&[("setup.toml", "height = 1\n")]))?;
            // The editor saves after the file was looked at.
            std::fs::write(&path, "height = 7, by hand\n")?;
            Ok(())
        })
        .unwrap();
    assert_eq!(done.left_alone, ["setup.toml"]);
    assert_eq!(book.read("setup.toml"), "height = 7, by hand\n");
    assert_eq!(edits(&book.store), [("setup.toml".to_owned(), Kind::Changed)]);
    assert_eq!(book.git(&["status", "--porcelain"]), " M setup.toml\n");
}

#[test]
fn a_folder_put_in_the_way_while_the_record_is_written_is_kept() {
    let book = Book::new();
    let path = book.dir().join("setup.toml");
    let done = book
        .store
        .record_many(&quick(), &mut |batch| {
            batch.commit(record(&[("setup.toml", "height = 1\n"), ("n/n.toml", "x\n")]))?;
            std::fs::remove_file(&path)?;
            std::fs::create_dir(&path)?;
            std::fs::write(book.dir().join("n"), "a file where a folder should be\n")?;
            Ok(())
        })
        .unwrap();
    assert_eq!(done.left_alone, ["n/n.toml", "setup.toml"]);
    assert!(path.is_dir());
    assert_fsck(book.dir());
}

#[test]
fn a_batch_does_not_take_an_edit_in_by_its_second_commit() {
    let book = Book::new();
    book.write("setup.toml", "height = 9\n");
    let before = book.store.head().unwrap();
    let result = book.store.record_many(&quick(), &mut |batch| {
        batch.commit(record(&[("car.toml", "x\n")]))?;
        batch.commit(record(&[("setup.toml", "height = 1\n")]))?;
        Ok(())
    });
    assert!(matches!(result, Err(StoreError::HandEdit { .. })));
    assert_eq!(book.store.head().unwrap(), before);
    assert_eq!(book.read("car.toml"), "name = \"Grey\"\n");
}

#[cfg(unix)]
#[test]
fn links_in_the_folder_are_neither_followed_nor_written_through() {
    use std::os::unix::fs::symlink;
    let book = Book::new();
    let outside = book.temp.path().join("outside");
    std::fs::create_dir_all(outside.join("2026")).unwrap();
    let secret = outside.join("2026/05-16-north.toml");
    std::fs::write(&secret, "secret\n").unwrap();

    // A link in place of a file.
    std::fs::remove_file(book.dir().join("setup.toml")).unwrap();
    symlink(&secret, book.dir().join("setup.toml")).unwrap();
    assert!(matches!(book.store.read_work("setup.toml"), Err(StoreError::NotAFile { .. })));
    assert_eq!(edits(&book.store), [("setup.toml".to_owned(), Kind::Changed)]);
    for accept in [false, true] {
        let mut r = record(&[("setup.toml", "height = 1\n")]);
        r.accept_hand_edit = accept;
        let result = book.store.record(&quick(), &mut |_| Ok(Some(r.clone())));
        assert!(matches!(result, Err(StoreError::NotAFile { .. })), "{result:?}");
    }
    std::fs::remove_file(book.dir().join("setup.toml")).unwrap();
    book.write("setup.toml", "height = 0.75 # in\n");

    // A link in place of a folder on the way.
    std::fs::remove_dir_all(book.dir().join("days")).unwrap();
    symlink(&outside, book.dir().join("days")).unwrap();
    let path = "days/2026/05-16-north.toml";
    assert!(matches!(book.store.read_work(path), Err(StoreError::WrongKind { .. })));
    for new in [path, "days/2026/new.toml"] {
        let mut r = record(&[(new, "run\n")]);
        r.accept_hand_edit = true;
        let result = book.store.record(&quick(), &mut |_| Ok(Some(r.clone())));
        assert!(matches!(result, Err(StoreError::WrongKind { .. })), "{result:?}");
    }
    assert_eq!(edits(&book.store), [(path.to_owned(), Kind::Changed)]);
    assert_eq!(std::fs::read_to_string(&secret).unwrap(), "secret\n");
    assert_eq!(std::fs::read_dir(outside.join("2026")).unwrap().count(), 1);
}

#[test]
fn paths_that_leave_the_book_are_refused() {
    let book = Book::new();
    let before = book.store.head().unwrap();
    for path in ["../x", "/tmp/x", ".git/config", ".GIT/hooks/post-commit", "a//b", "", "a/./b", "a\nb"] {
        let error = put(&book.store, &[(path, "x")]).unwrap_err();
        assert!(matches!(error, StoreError::BadPath { .. }), "{path:?}: {error}");
        assert!(matches!(book.store.read_work(path), Err(StoreError::BadPath { .. })));
    }
    // A file where the book has a folder, and the other way round.
    for path in ["days", "days/2026", "setup.toml/x.toml"] {
        assert!(put(&book.store, &[(path, "x")]).is_err(), "{path}");
    }
    assert_eq!(book.store.head().unwrap(), before);
    book.assert_tidy();
}

#[test]
fn a_huge_file_in_the_folder_is_refused_unread() {
    let book = Book::new();
    let file = std::fs::File::create(book.dir().join("setup.toml")).unwrap();
    file.set_len(slipbook::store::MAX_FILE + 1).unwrap();
    assert!(matches!(book.store.read_work("setup.toml"), Err(StoreError::TooLarge { .. })));
    assert_eq!(edits(&book.store), [("setup.toml".to_owned(), Kind::Changed)]);
    let big = vec![b' '; slipbook::store::MAX_FILE as usize + 1];
    let result = book.store.record(&quick(), &mut |_| {
        let mut r = record(&[]);
        r.files.push(("big.toml".to_owned(), Some(big.clone())));
        Ok(Some(r))
    });
    assert!(matches!(result, Err(StoreError::TooLarge { .. })));
}

#[test]
fn what_is_laid_out_where_it_was_deleted_is_not_put_over_what_was_saved_again() {
    let book = Book::new();
    std::fs::remove_file(book.dir().join("car.toml")).unwrap();
    book.write("setup.toml", "height = 9.75 # in\n");
    let mut laid = Vec::new();
    let done = book.store.record_many(&quick(), &mut |batch| {
        for path in ["car.toml", "setup.toml", "none.toml"] {
            laid.push(batch.lay_out_if_gone(path)?);
        }
        Ok(())
    });
    assert_eq!((done.unwrap().id, laid), (None, vec![true, false, false]));
    assert_eq!(edits(&book.store), [("setup.toml".to_owned(), Kind::Changed)]);
    assert_eq!(std::fs::read_to_string(book.dir().join("setup.toml")).unwrap(), "height = 9.75 # in\n");
}
