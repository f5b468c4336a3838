//! What the store's tests share: books in temporary folders, and stock git to check them with.
#![allow(dead_code, reason = "each test file uses its part")]
use std::path::{Path, PathBuf};
use std::process::{Command, Output};

use slipbook::store::{Id, Options, Person, Record, Recorded, Stamp, Store, StoreError};

/// A book in a folder that goes away with it.
pub struct Book {
    pub temp: tempfile::TempDir,
    pub store: Store,
}

impl Book {
    /// An empty book.
    pub fn empty() -> Book {
        let temp = tempfile::tempdir().unwrap();
        let store = Store::create(&temp.path().join("book")).unwrap();
        Book { temp, store }
    }

    /// A book with a car, a sheet and one day.
    pub fn new() -> Book {
        let book = Book::empty();
        book.put(&[
            ("car.toml", "name = \"Grey\"\n"),
            ("setup.toml", "height = 0.75 # in\n"),
            ("days/2026/05-16-north.toml", "format = 1\n"),
        ]);
        book
    }

    pub fn dir(&self) -> &Path {
        self.store.dir()
    }

    pub fn git_dir(&self) -> PathBuf {
        self.dir().join(".git")
    }

    pub fn put(&self, files: &[(&str, &str)]) -> Id {
        put(&self.store, files).unwrap().id.unwrap()
    }

    pub fn write(&self, path: &str, text: &str) {
        let path = self.dir().join(path);
        std::fs::create_dir_all(path.parent().unwrap()).unwrap();
        std::fs::write(path, text).unwrap();
    }

    pub fn read(&self, path: &str) -> String {
        std::fs::read_to_string(self.dir().join(path)).unwrap()
    }

    pub fn git(&self, args: &[&str]) -> String {
        git(self.dir(), args)
    }

    /// Nothing wrong in the repository, nothing to say about the folder.
    pub fn assert_tidy(&self) {
        assert_tidy(self.dir());
    }
}

pub fn person() -> Person {
    Person { name: "Test Racer".to_owned(), email: "racer@example.invalid".to_owned() }
}

pub fn stamp(seconds: i64) -> Stamp {
    Stamp { seconds, offset_seconds: -7 * 3600 }
}

pub fn record(files: &[(&str, &str)]) -> Record {
    Record {
        files: files.iter().map(|(path, text)| ((*path).to_owned(), Some(text.as_bytes().to_vec()))).collect(),
        author: person(),
        authored: stamp(1_780_000_000),
        committer: person(),
        written: stamp(1_780_000_100),
        message: format!("Write {}", files.first().map_or("nothing", |f| f.0)),
        accept_hand_edit: false,
    }
}

/// Tests need no disk to survive a power cut.
pub fn quick() -> Options {
    Options { fsync: false, ..Options::default() }
}

pub fn put(store: &Store, files: &[(&str, &str)]) -> Result<Recorded, StoreError> {
    store.record(&quick(), &mut |_| Ok(Some(record(files))))
}

pub fn git_command(dir: &Path) -> Command {
    let mut command = Command::new("git");
    command
        .current_dir(dir)
        .env_clear()
        .env("PATH", std::env::var_os("PATH").unwrap())
        .env("HOME", dir.parent().unwrap())
        .env("GIT_CONFIG_GLOBAL", "/dev/null")
        .env("GIT_CONFIG_NOSYSTEM", "1")
        .env("GIT_AUTHOR_NAME", "By Hand")
        .env("GIT_AUTHOR_EMAIL", "hand@example.invalid")
        .env("GIT_COMMITTER_NAME", "By Hand")
        .env("GIT_COMMITTER_EMAIL", "hand@example.invalid");
    command
}

pub fn try_git(dir: &Path, args: &[&str]) -> Output {
    git_command(dir).args(args).output().expect("the tests need git: install it (.ci/run does)")
}

/// Runs stock git and gives what it printed.
pub fn git(dir: &Path, args: &[&str]) -> String {
    let output = try_git(dir, args);
    assert!(
        output.status.success(),
        "git {args:?}: {}{}",
        String::from_utf8_lossy(&output.stdout),
        String::from_utf8_lossy(&output.stderr)
    );
    String::from_utf8(output.stdout).unwrap()
}

pub fn assert_fsck(dir: &Path) {
    let output = try_git(dir, &["fsck", "--full", "--strict", "--no-dangling"]);
    let said = format!("{}{}", String::from_utf8_lossy(&output.stdout), String::from_utf8_lossy(&output.stderr));
    assert!(output.status.success() && said.trim().is_empty(), "fsck: {said}");
}

pub fn assert_tidy(dir: &Path) {
    assert_fsck(dir);
    // The raw stat comparison first: status would refresh the index and hide a mismatch.
    assert_eq!(git(dir, &["diff-files"]), "");
    assert_eq!(git(dir, &["status", "--porcelain"]), "");
}
