//! What is recorded can be read again, by us and by stock git.
use slipbook::store::{Id, Store, StoreError};

mod store_support;
use store_support::*;

#[test]
fn a_new_book_is_an_empty_repository_on_main() {
    let book = Book::empty();
    assert_eq!(book.store.head().unwrap(), None);
    assert!(book.store.log(None).unwrap().is_empty());
    assert!(book.store.work_state().unwrap().is_empty());
    assert_eq!(book.git(&["symbolic-ref", "HEAD"]).trim(), "refs/heads/main");
    // fsck of a book without commits says that there are none; status has nothing to say.
    assert_eq!(book.git(&["status", "--porcelain"]), "");
    assert!(matches!(Store::create(book.dir()), Err(StoreError::NotEmpty { .. })));
}

#[test]
fn a_record_reads_back_and_leaves_git_clean() {
    let book = Book::new();
    let first = book.store.head().unwrap().unwrap();
    book.assert_tidy();
    let second = book.put(&[("setup.toml", "height = 1.0 # in\n")]);
    book.assert_tidy();

    let log = book.store.log(None).unwrap();
    assert_eq!(log.iter().map(|l| l.commit.id).collect::<Vec<_>>(), [second, first]);
    assert_eq!(log[0].commit.parents, [first]);
    assert_eq!(log[0].commit.author, person());
    assert_eq!(log[0].commit.authored, stamp(1_780_000_000));
    assert_eq!(log[0].commit.written, stamp(1_780_000_100));
    assert_eq!(log[0].commit.message, "Write setup.toml\n");
    assert_eq!(log[0].sheet, Some(Store::blob_id(b"height = 1.0 # in\n")));
    assert_eq!(log[1].sheet, Some(Store::blob_id(b"height = 0.75 # in\n")));
    assert_eq!(log[0].car, log[1].car);
    assert_eq!(book.store.log(Some(first)).unwrap().len(), 1);

    let names: Vec<String> = book.store.files(second).unwrap().into_iter().map(|f| f.0).collect();
    assert_eq!(names, ["car.toml", "days/2026/05-16-north.toml", "setup.toml"]);
    let (id, text) = book.store.file(first, "setup.toml").unwrap().unwrap();
    assert_eq!(text, b"height = 0.75 # in\n");
    assert_eq!(book.store.blob(id).unwrap(), text);
    assert!(book.store.file(first, "days/none.toml").unwrap().is_none());
    assert!(book.store.file(first, "days").unwrap().is_none());

    let oneline = book.git(&["log", "--format=%H %s"]);
    assert_eq!(oneline, format!("{second} Write setup.toml\n{first} Write car.toml\n"));
    let dates = book.git(&["log", "-1", "--format=%at %ct %ai", "--date=raw"]);
    assert!(dates.starts_with("1780000000 1780000100 2026-05-28 "), "{dates}");
    assert!(dates.trim_end().ends_with("-0700"), "{dates}");
    assert_eq!(book.git(&["rev-parse", "HEAD@{1}"]).trim(), first.to_string());
    assert_eq!(book.git(&["rev-parse", "main@{0}"]).trim(), second.to_string());
}

#[test]
fn a_file_taken_away_is_gone_with_its_empty_folder() {
    let book = Book::new();
    book.store
        .record(&quick(), &mut |tip| {
            assert!(tip.head.is_some());
            let mut gone = record(&[]);
            gone.files.push(("days/2026/05-16-north.toml".to_owned(), None));
            Ok(Some(gone))
        })
        .unwrap();
    assert!(!book.dir().join("days").exists());
    book.assert_tidy();
}

#[test]
fn nothing_to_do_changes_nothing() {
    let book = Book::new();
    let before = book.store.head().unwrap();
    let done = book.store.record(&quick(), &mut |_| Ok(None)).unwrap();
    assert_eq!(done.id, None);
    assert_eq!(book.store.head().unwrap(), before);
    book.assert_tidy();
}

#[test]
fn an_error_of_the_builder_comes_out_and_changes_nothing() {
    let book = Book::new();
    let before = book.store.head().unwrap();
    let error = book.store.record(&quick(), &mut |_| Err("the sheet has an error".into())).unwrap_err();
    assert_eq!(error.to_string(), "the sheet has an error");
    assert_eq!(book.store.head().unwrap(), before);
    assert!(!book.git_dir().join("index.lock").exists());
    book.assert_tidy();
}

#[test]
fn with_fsync_the_result_is_the_same() {
    let book = Book::new();
    let options = slipbook::store::Options::default();
    let done = book.store.record(&options, &mut |_| Ok(Some(record(&[("days/2027/x.toml", "a = 1\n")])))).unwrap();
    assert_eq!(book.store.head().unwrap(), done.id);
    book.assert_tidy();
}

#[test]
fn names_that_sort_differently_as_folders_are_stored_in_gits_order() {
    let book = Book::new();
    book.put(&[("a/x.toml", "1"), ("a.toml", "2"), ("a-b.toml", "3"), ("a0/x", "4")]);
    book.put(&[("a/y.toml", "5"), ("a0/x", "6")]);
    book.assert_tidy();
}

#[test]
fn what_a_commit_cannot_hold_is_refused() {
    let book = Book::new();
    let mut wrong = Vec::new();
    for text in ["a <b", "a\nb", " a", ""] {
        let mut r = record(&[("setup.toml", "x")]);
        r.author.name = text.to_owned();
        wrong.push(r);
    }
    for seconds in [-1, 300_000_000_000] {
        let mut r = record(&[("setup.toml", "x")]);
        r.written = stamp(seconds);
        wrong.push(r);
    }
    for message in ["", "  \n", "a\0b"] {
        let mut r = record(&[("setup.toml", "x")]);
        r.message = message.to_owned();
        wrong.push(r);
    }
    for r in wrong {
        let said = format!("{r:?}");
        let result = book.store.record(&quick(), &mut |_| Ok(Some(r.clone())));
        assert!(matches!(result, Err(StoreError::BadRecord(_))), "{said}");
    }
    book.assert_tidy();
}

#[test]
fn an_import_is_one_move_of_the_branch() {
    let book = Book::new();
    let before = book.store.head().unwrap();
    let done = book
        .store
        .record_many(&quick(), &mut |batch| {
            for n in 0..400 {
                let mut r = record(&[
                    (&format!("days/{}/d{}.toml", 2000 + n % 7, n / 7), &format!("run = {n}\n")),
                    ("setup.toml", &format!("height = {n}\n")),
                ]);
                r.authored = stamp(1_600_000_000 + n);
                r.message = format!("Run {n}\n\nVersion: {n}");
                batch.commit(r)?;
            }
            Ok(())
        })
        .unwrap();
    let log = book.store.log(before).unwrap();
    assert_eq!(log.len(), 400);
    assert_eq!(done.id, Some(log[0].commit.id));
    assert_eq!(log[399].commit.authored, stamp(1_600_000_000));
    assert_eq!(book.read("setup.toml"), "height = 399\n");
    book.assert_tidy();
    let packs = std::fs::read_dir(book.git_dir().join("objects/pack")).unwrap().count();
    assert_eq!(packs, 2, "one pack and its index");
    assert_eq!(book.git(&["reflog", "show", "main"]).lines().count(), 2);
    book.git(&["verify-pack", &pack_index(&book)]);
    book.git(&["gc", "--quiet", "--prune=now"]);
    assert_eq!(book.store.log(None).unwrap().len(), 401);
    book.put(&[("setup.toml", "height = 1\n")]);
    book.assert_tidy();
}

#[test]
fn a_book_that_is_open_while_many_packs_come_in_reads_them_all() {
    let book = Book::new();
    let other = Store::open(book.dir()).unwrap();
    for n in 0..60 {
        other
            .record_many(&quick(), &mut |batch| {
                for k in 0..40 {
                    batch.commit(record(&[("setup.toml", &format!("height = {n}.{k}\n"))]))?;
                }
                Ok(())
            })
            .unwrap();
    }
    assert_eq!(book.store.log(None).unwrap().len(), 2401);
    book.put(&[("setup.toml", "height = 1\n")]);
    book.assert_tidy();
}

fn pack_index(book: &Book) -> String {
    let dir = std::fs::read_dir(book.git_dir().join("objects/pack")).unwrap();
    let path = dir.map(|e| e.unwrap().path()).find(|p| p.extension().unwrap() == "idx");
    path.unwrap().display().to_string()
}

#[test]
fn an_import_that_fails_leaves_nothing() {
    let book = Book::new();
    let before = book.store.head().unwrap();
    let result = book.store.record_many(&quick(), &mut |batch| {
        for n in 0..200 {
            batch.commit(record(&[("setup.toml", &format!("height = {n}\n"))]))?;
        }
        Err("line 201 is no run".into())
    });
    assert!(result.is_err());
    assert_eq!(book.store.head().unwrap(), before);
    let packs = std::fs::read_dir(book.git_dir().join("objects/pack")).unwrap();
    assert_eq!(packs.count(), 0);
    book.assert_tidy();
}

#[test]
fn a_mend_keeps_both_lines() {
    let book = Book::new();
    let first = book.store.head().unwrap().unwrap();
    let second = book.put(&[("setup.toml", "height = 1\n")]);
    let mut side = Vec::new();
    let done = book
        .store
        .record_many(&quick(), &mut |batch| {
            side.clear();
            side.push(batch.commit_on(Some(first), record(&[("setup.toml", "height = 2\n")]))?);
            side.push(batch.commit_on(Some(side[0]), record(&[("setup.toml", "height = 3\n")]))?);
            batch.merge(record(&[("setup.toml", "height = 3\n")]), &side[1..])?;
            Ok(())
        })
        .unwrap();
    let tip = book.store.commit(done.id.unwrap()).unwrap();
    assert_eq!(tip.parents, [second, side[1]]);
    assert_eq!(book.store.commit(side[1]).unwrap().parents, [side[0]]);
    assert_eq!(book.store.log_from(side[1], None).unwrap().len(), 3);
    assert_eq!(book.store.log(None).unwrap().len(), 3);
    assert_eq!(book.read("setup.toml"), "height = 3\n");
    book.assert_tidy();
}

#[test]
fn ids_read_and_print() {
    let text = "0123456789abcdef0123456789abcdef01234567";
    let id: Id = text.parse().unwrap();
    assert_eq!(id.to_string(), text);
    assert_eq!(id.short(), "01234567");
    for wrong in ["", "0123", "0123456789abcdef0123456789abcdef0123456g", "é123456789abcdef0123456789abcdef012345"] {
        assert!(wrong.parse::<Id>().is_err(), "{wrong}");
    }
    assert_eq!(Store::blob_id(b"").to_string(), "e69de29bb2d1d6434b8b29ae775ad8c2e48c5391");
}
