//! Two at once, beside a user of git, and locks of others.
use std::fs;
use std::path::Path;
use std::process::{Command, Stdio};
use std::time::Duration;

use slipbook::store::{Store, StoreError};

mod store_support;
use store_support::*;

/// What the test program does when a test starts it again: records, one file of its own each time.
#[test]
fn child_that_records() {
    let Some(dir) = std::env::var_os("SLIPBOOK_TEST_DIR") else {
        return;
    };
    let name = std::env::var("SLIPBOOK_TEST_NAME").unwrap();
    let store = Store::open(Path::new(&dir)).unwrap();
    // Where it is to meet another program it goes on, with room between its records, until it is told that it did.
    let met = std::env::var_os("SLIPBOOK_TEST_UNTIL").map(std::path::PathBuf::from);
    let begun = std::time::Instant::now();
    let waits = |n: i32| n >= 40 && met.as_ref().is_some_and(|m| !m.exists()) && begun.elapsed().as_secs() < 120;
    for n in (0..).take_while(|n| *n < 40 || waits(*n)) {
        if n >= 40 {
            std::thread::sleep(Duration::from_millis(20));
        }
        let (own, text) = (format!("days/2026/{name}-{n}.toml"), format!("n = {n}\n"));
        put(&store, &[(&own, &text), ("setup.toml", &format!("by = \"{name}\" # {n}\n"))]).unwrap();
    }
}

fn child(dir: &Path, name: &str) -> Command {
    let mut command = Command::new(std::env::current_exe().unwrap());
    command
        .args(["--exact", "child_that_records", "--nocapture"])
        .env("SLIPBOOK_TEST_DIR", dir)
        .env("SLIPBOOK_TEST_NAME", name)
        .stdout(Stdio::null());
    command
}

fn start_child(dir: &Path, name: &str) -> std::process::Child {
    child(dir, name).spawn().unwrap()
}

#[test]
fn two_processes_at_once_both_succeed() {
    let book = Book::new();
    let mut children = [start_child(book.dir(), "a"), start_child(book.dir(), "b")];
    for child in &mut children {
        assert!(child.wait().unwrap().success());
    }
    let log = book.store.log(None).unwrap();
    assert_eq!(log.len(), 81);
    let head = log[0].commit.id;
    assert_eq!(book.store.files(head).unwrap().len(), 83);
    book.assert_tidy();
}

#[test]
fn beside_a_looping_commit_by_hand_nothing_is_lost() {
    let book = Book::new();
    // On a busy machine git may find the index held each time in forty records: it does not wait for it.
    let met = tempfile::tempdir().unwrap();
    let mark = met.path().join("met");
    let mut child = child(book.dir(), "a").env("SLIPBOOK_TEST_UNTIL", &mark).spawn().unwrap();
    let mut by_hand = 0;
    let mut tries = 0;
    while child.try_wait().unwrap().is_none() {
        tries += 1;
        book.write(&format!("hand{tries}.txt"), "by hand\n");
        let name = format!("hand{tries}.txt");
        let added = try_git(book.dir(), &["add", &name]).status.success();
        // git gives up at once when we hold the index; that is its way, and loses nothing.
        let message = format!("hand {tries}");
        if added && try_git(book.dir(), &["commit", "-qm", &message]).status.success() {
            by_hand += 1;
            std::fs::write(&mark, "").unwrap();
        }
    }
    assert!(child.wait().unwrap().success());
    assert!(by_hand > 0, "the two never met");
    let files = book.git(&["ls-files"]);
    let own = files.lines().filter(|l| l.starts_with("days/2026/a-")).count();
    assert!(own >= 40, "{own}");
    assert_eq!(book.store.log(None).unwrap().len(), 1 + own + by_hand);
    // What git had begun and given up is for the user to finish; nothing of ours is in doubt.
    for line in book.git(&["status", "--porcelain"]).lines() {
        assert!(line.contains("hand"), "{line}");
    }
    assert_fsck(book.dir());
    book.git(&["add", "."]);
    let _ = try_git(book.dir(), &["commit", "-qm", "the rest"]);
    book.assert_tidy();
}

#[test]
fn threads_with_stores_of_their_own_both_succeed() {
    let book = Book::new();
    std::thread::scope(|scope| {
        for name in ["a", "b", "c"] {
            let dir = book.dir();
            scope.spawn(move || {
                let store = Store::open(dir).unwrap();
                for n in 0..20 {
                    put(&store, &[(&format!("{name}{n}.toml"), "x\n")]).unwrap();
                }
            });
        }
    });
    assert_eq!(book.store.log(None).unwrap().len(), 61);
    book.assert_tidy();
}

#[test]
fn a_commit_by_hand_between_reading_and_writing_is_built_upon() {
    let book = Book::new();
    let mut calls = 0;
    let done = book
        .store
        .record(&quick(), &mut |tip| {
            calls += 1;
            if calls == 1 {
                // git's plumbing moves the branch without asking for the index.
                let tree = git(tip.store.dir(), &["rev-parse", "HEAD^{tree}"]);
                let old = git(tip.store.dir(), &["rev-parse", "HEAD"]);
                let args = ["commit-tree", tree.trim(), "-p", old.trim(), "-m", "by hand"];
                let new = git(tip.store.dir(), &args);
                git(tip.store.dir(), &["update-ref", "refs/heads/main", new.trim()]);
            }
            Ok(Some(record(&[("setup.toml", "height = 4\n")])))
        })
        .unwrap();
    assert_eq!(calls, 2);
    let log = book.store.log(None).unwrap();
    assert_eq!(log[0].commit.id, done.id.unwrap());
    assert_eq!(log[1].commit.message, "by hand\n");
    assert_eq!(log.len(), 3);
    book.assert_tidy();
}

#[test]
fn a_branch_that_moves_every_time_is_given_up_on() {
    let book = Book::new();
    let mut calls = 0;
    let result = book.store.record(&quick(), &mut |tip| {
        calls += 1;
        let tree = git(tip.store.dir(), &["rev-parse", "HEAD^{tree}"]);
        let message = format!("by hand {calls}");
        let new = git(tip.store.dir(), &["commit-tree", tree.trim(), "-p", "HEAD", "-m", &message]);
        git(tip.store.dir(), &["update-ref", "refs/heads/main", new.trim()]);
        Ok(Some(record(&[("setup.toml", "height = 4\n")])))
    });
    assert!(matches!(result, Err(StoreError::Contended { tries: 5 })), "{result:?}");
    assert_eq!(calls, 5);
    book.assert_tidy();
    book.put(&[("setup.toml", "height = 4\n")]);
    book.assert_tidy();
}

#[test]
fn waiting_for_another_slipbook_says_so_once_and_gives_up_in_the_end() {
    let book = Book::new();
    let lock = fs::OpenOptions::new().write(true).open(book.git_dir().join("slipbook.lock")).unwrap();
    lock.lock().unwrap();
    let said = std::rc::Rc::new(std::cell::RefCell::new(Vec::new()));
    let mut options = quick();
    options.patience = Duration::from_millis(1200);
    let heard = said.clone();
    options.waiting = Some(Box::new(move |text| heard.borrow_mut().push(text.to_owned())));
    let result = book.store.record(&options, &mut |_| Ok(Some(record(&[("setup.toml", "x\n")]))));
    assert!(matches!(result, Err(StoreError::Busy { .. })), "{result:?}");
    assert_eq!(said.borrow().len(), 1, "{:?}", said.borrow());
    assert!(said.borrow()[0].starts_with("waiting for another slipbook"));
    drop(lock);
    book.put(&[("setup.toml", "x\n")]);
    book.assert_tidy();
}

#[test]
fn a_lock_of_another_program_is_named_and_never_deleted() {
    for name in ["index.lock", "refs/heads/main.lock"] {
        for text in ["", "DIRC not ours", "0123456789012345678901234567890123456789\n"] {
            let book = Book::new();
            // Even after a record was cut off: whose a lock is, is read from the lock.
            fs::write(book.git_dir().join("slipbook.lock"), "busy 1 none\n").unwrap();
            let lock = book.git_dir().join(name);
            fs::write(&lock, text).unwrap();
            let before = book.store.head().unwrap();
            let mut options = quick();
            options.patience = Duration::from_millis(20);
            let error = book.store.record(&options, &mut |_| Ok(Some(record(&[("setup.toml", "x\n")])))).unwrap_err();
            assert!(matches!(&error, StoreError::LockFile { path, .. } if *path == lock), "{error}");
            assert!(error.to_string().contains("delete that file"));
            assert_eq!(fs::read_to_string(&lock).unwrap(), text);
            assert_eq!(book.store.head().unwrap(), before);
            fs::remove_file(&lock).unwrap();
            book.put(&[("setup.toml", "x\n")]);
            book.assert_tidy();
        }
    }
}
