//! The pitfalls of git's index: each was seen to lose or hide something before it was avoided.
use slipbook::store::{Kind, StoreError};

mod store_support;
use store_support::*;

/// Sleeps until the file system's clock is in a new second, so that what follows happens within one.
fn start_of_a_second(book: &Book) {
    let path = book.temp.path().join("clock");
    let now = || {
        std::fs::write(&path, "x").unwrap();
        let time = std::fs::metadata(&path).unwrap().modified().unwrap();
        time.duration_since(std::time::UNIX_EPOCH).unwrap()
    };
    let first = now().as_secs();
    while now().as_secs() == first {
        std::thread::sleep(std::time::Duration::from_millis(5));
    }
}

#[test]
fn pitfall_a_the_cached_trees_go_so_the_next_commit_by_hand_keeps_our_record() {
    let book = Book::new();
    // A commit by hand leaves an index with cached trees.
    book.write("setup.toml", "height = 2\n");
    book.git(&["commit", "-qam", "by hand"]);
    book.put(&[("days/2026/06-01-south.toml", "run = 1\n")]);
    book.write("car.toml", "name = \"Blue\"\n");
    book.git(&["add", "car.toml"]);
    book.git(&["commit", "-qm", "by hand again"]);
    let files = book.git(&["ls-tree", "-r", "--name-only", "HEAD"]);
    assert!(files.contains("days/2026/06-01-south.toml"), "{files}");
    book.assert_tidy();
}

#[test]
fn pitfall_b_a_same_size_edit_in_the_same_second_stays_visible() {
    for round in 0..3 {
        let book = Book::new();
        start_of_a_second(&book);
        book.put(&[("setup.toml", "height = 1\n"), ("car.toml", "name = 1\n")]);
        book.write("setup.toml", "height = 2\n");
        assert_eq!(book.store.work_state().unwrap().len(), 1, "round {round}");
        // The next index is a second newer: without care git trusts the remembered stat from now on.
        start_of_a_second(&book);
        book.put(&[("car.toml", "name = 2\n")]);
        assert_eq!(book.git(&["status", "--porcelain"]), " M setup.toml\n");
        let edits = book.store.work_state().unwrap();
        assert_eq!(edits.len(), 1, "round {round}");
        assert_eq!((edits[0].path.as_str(), edits[0].kind), ("setup.toml", Kind::Changed));
        assert_eq!(book.read("setup.toml"), "height = 2\n");
    }
}

#[test]
fn pitfall_c_a_held_index_lock_refuses_before_the_branch_moves() {
    let book = Book::new();
    let before = book.store.head().unwrap();
    let lock = book.git_dir().join("index.lock");
    std::fs::write(&lock, "").unwrap();
    let mut options = quick();
    options.patience = std::time::Duration::from_millis(30);
    let result = book.store.record(&options, &mut |_| Ok(Some(record(&[("setup.toml", "x\n")]))));
    assert!(matches!(&result, Err(StoreError::LockFile { path, .. }) if *path == lock), "{result:?}");
    assert_eq!(book.store.head().unwrap(), before);
    assert_eq!(book.read("setup.toml"), "height = 0.75 # in\n");
    assert!(lock.exists(), "a lock of another program is never deleted");
    std::fs::remove_file(&lock).unwrap();
    book.assert_tidy();
    book.put(&[("setup.toml", "x\n")]);
    book.assert_tidy();
}

#[test]
fn pitfall_d_every_form_of_index_is_read() {
    let book = Book::new();
    let mut n = 0;
    let mut both_ways = |prepare: &[&[&str]]| {
        for args in prepare {
            book.git(args);
        }
        n += 1;
        assert_eq!(book.store.work_state().unwrap(), []);
        book.put(&[("setup.toml", &format!("height = {n}\n")), (&format!("days/2026/n{n}.toml"), "1\n")]);
        book.assert_tidy();
        book.write("car.toml", &format!("name = {n}\n"));
        book.git(&["commit", "-qam", "by hand"]);
        book.assert_tidy();
    };
    both_ways(&[&["update-index", "--index-version", "4"]]);
    both_ways(&[&["update-index", "--split-index"]]);
    both_ways(&[&["update-index", "--no-split-index"], &["update-index", "--force-untracked-cache"], &["status"]]);
    both_ways(&[&["config", "index.skipHash", "true"], &["update-index", "--force-write-index"]]);
    both_ways(&[&["update-index", "--index-version", "3"]]);
}

#[test]
fn after_gc_packed_refs_commit_graph_and_another_work_tree() {
    let book = Book::new();
    let mut n = 0;
    let mut after = |args: &[&str]| {
        book.git(args);
        n += 1;
        let before = book.store.head().unwrap();
        let id = book.put(&[("setup.toml", &format!("height = {n}\n"))]);
        assert_eq!(book.store.commit(id).unwrap().parents, before.into_iter().collect::<Vec<_>>());
        book.assert_tidy();
        assert_eq!(book.store.log(None).unwrap().len(), n + 1);
    };
    after(&["gc", "--quiet"]);
    after(&["pack-refs", "--all"]);
    after(&["commit-graph", "write", "--reachable"]);
    after(&["worktree", "add", "-q", "../other", "-b", "other"]);
    after(&["gc", "--quiet", "--prune=now"]);
    after(&["multi-pack-index", "write"]);
    after(&["repack", "-adq"]);
}

#[test]
fn a_branch_that_is_only_in_packed_refs_is_found() {
    let book = Book::new();
    let head = book.store.head().unwrap();
    book.git(&["pack-refs", "--all"]);
    assert!(!book.git_dir().join("refs/heads/main").exists());
    assert_eq!(book.store.head().unwrap(), head);
    assert_eq!(slipbook::store::Store::open(book.dir()).unwrap().head().unwrap(), head);
}

#[test]
fn a_lost_index_is_made_again() {
    let book = Book::new();
    std::fs::remove_file(book.git_dir().join("index")).unwrap();
    assert_eq!(book.store.work_state().unwrap(), []);
    book.put(&[("setup.toml", "height = 3\n")]);
    book.assert_tidy();
}

#[test]
fn the_stat_is_taken_after_the_rename() {
    // A rename changes the ctime: a stat taken before makes every file look touched.
    let book = Book::new();
    for n in 0..5 {
        book.put(&[("setup.toml", &format!("height = {n}\n")), (&format!("d{n}.toml"), "x\n")]);
        assert_eq!(book.git(&["diff-files"]), "");
    }
}

#[test]
fn what_is_staged_by_hand_stays_staged() {
    let book = Book::new();
    book.write("car.toml", "name = \"Blue\"\n");
    book.write("notes.toml", "x = 1\n");
    book.git(&["add", "car.toml", "notes.toml"]);
    book.put(&[("setup.toml", "height = 3\n")]);
    assert_eq!(book.git(&["status", "--porcelain"]), "M  car.toml\nA  notes.toml\n");
    assert_eq!(book.read("car.toml"), "name = \"Blue\"\n");
    let names: Vec<_> = book.store.work_state().unwrap().into_iter().map(|e| (e.path, e.kind)).collect();
    assert_eq!(names, [("car.toml".to_owned(), Kind::Changed), ("notes.toml".to_owned(), Kind::New)]);
}

#[test]
fn an_executable_file_and_a_link_in_the_book_keep_their_kind() {
    let book = Book::new();
    book.write("tool.toml", "x\n");
    book.git(&["add", "tool.toml"]);
    book.git(&["update-index", "--chmod=+x", "tool.toml"]);
    #[cfg(unix)]
    std::os::unix::fs::symlink("car.toml", book.dir().join("link.toml")).unwrap();
    book.git(&["add", "link.toml"]);
    book.git(&["commit", "-qm", "by hand"]);
    book.git(&["checkout", "-q", "."]);
    book.put(&[("setup.toml", "height = 3\n"), ("tool.toml", "y\n")]);
    book.assert_tidy();
    let listed = book.git(&["ls-tree", "HEAD", "tool.toml", "link.toml"]);
    assert!(listed.contains("100755 blob") && listed.contains("120000 blob"), "{listed}");
    let error = put(&book.store, &[("link.toml", "z\n")]).unwrap_err();
    assert!(matches!(error, StoreError::BadPath { .. }), "{error}");
    book.assert_tidy();
}

#[test]
fn a_merge_by_hand_under_way_is_not_written_into() {
    let book = Book::new();
    book.git(&["switch", "-qc", "other"]);
    book.write("setup.toml", "height = 5\n");
    book.git(&["commit", "-qam", "other"]);
    book.git(&["switch", "-q", "main"]);
    book.write("setup.toml", "height = 6\n");
    book.git(&["commit", "-qam", "main"]);
    assert!(!try_git(book.dir(), &["merge", "other"]).status.success());
    let error = put(&book.store, &[("car.toml", "z\n")]).unwrap_err();
    assert!(matches!(error, StoreError::Unfinished { .. }), "{error}");
    book.git(&["merge", "--abort"]);
    book.put(&[("car.toml", "z\n")]);
    book.assert_tidy();
}
