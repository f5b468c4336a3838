//! A repository that leads elsewhere, or is of another kind, is refused with what was found and what would be right.
use std::fs;
use std::path::{Path, PathBuf};

use slipbook::store::{Store, StoreError};

mod store_support;
use store_support::*;

fn refusal(dir: &Path) -> StoreError {
    match Store::open(dir) {
        Ok(_) => panic!("{} was opened", dir.display()),
        Err(error) => error,
    }
}

fn append_config(book: &Book, text: &str) {
    let path = book.git_dir().join("config");
    let config = fs::read_to_string(&path).unwrap();
    fs::write(&path, config + text).unwrap();
}

#[test]
fn a_folder_without_a_repository() {
    let temp = tempfile::tempdir().unwrap();
    assert!(matches!(refusal(temp.path()), StoreError::NotABook { .. }));
    assert!(matches!(refusal(&temp.path().join("none")), StoreError::NotABook { .. }));
}

#[test]
fn a_gitfile() {
    let book = Book::new();
    let other = book.temp.path().join("other");
    fs::create_dir(&other).unwrap();
    fs::write(other.join(".git"), format!("gitdir: {}\n", book.git_dir().display())).unwrap();
    assert!(matches!(refusal(&other), StoreError::GitFile { .. }));
}

#[test]
fn a_linked_work_tree() {
    let book = Book::new();
    book.git(&["worktree", "add", "-q", "../other", "-b", "other"]);
    assert!(matches!(refusal(&book.temp.path().join("other")), StoreError::GitFile { .. }));
}

#[cfg(unix)]
#[test]
fn any_part_that_is_a_symbolic_link() {
    let parts = [
        "",
        "objects",
        "refs",
        "refs/heads",
        "HEAD",
        "index",
        "config",
        "objects/pack",
        "objects/info",
        "logs",
        "logs/HEAD",
        "logs/refs/heads/main",
        "refs/heads/main",
        "slipbook.lock",
    ];
    for part in parts {
        let book = Book::new();
        let path = if part.is_empty() { book.git_dir() } else { book.git_dir().join(part) };
        let real = book.temp.path().join("moved");
        fs::rename(&path, &real).unwrap();
        std::os::unix::fs::symlink(&real, &path).unwrap();
        let error = refusal(book.dir());
        assert!(matches!(&error, StoreError::Symlink { path: p } if *p == path), "{part}: {error}");
    }
}

#[cfg(unix)]
#[test]
fn a_link_that_appears_later_is_not_written_through() {
    let book = Book::new();
    let outside = book.temp.path().join("outside");
    fs::write(&outside, "keep\n").unwrap();
    for part in ["slipbook.lock", "logs/HEAD"] {
        let path = book.git_dir().join(part);
        let real = book.temp.path().join("real");
        fs::rename(&path, &real).unwrap();
        std::os::unix::fs::symlink(&outside, &path).unwrap();
        let error = put(&book.store, &[("setup.toml", "x\n")]).unwrap_err();
        assert!(matches!(error, StoreError::Symlink { .. }), "{part}: {error}");
        assert_eq!(fs::read_to_string(&outside).unwrap(), "keep\n");
        fs::remove_file(&path).unwrap();
        fs::rename(&real, &path).unwrap();
    }
    // A folder of objects that leads out.
    let id = Store::blob_id(b"y\n").to_string();
    let fan = book.git_dir().join("objects").join(&id[..2]);
    let _ = fs::remove_dir_all(&fan);
    let dir = book.temp.path().join("dir");
    fs::create_dir(&dir).unwrap();
    std::os::unix::fs::symlink(&dir, &fan).unwrap();
    let error = put(&book.store, &[("new.toml", "y\n")]).unwrap_err();
    assert!(matches!(error, StoreError::Symlink { .. }), "{error}");
    assert_eq!(fs::read_dir(&dir).unwrap().count(), 0);
}

#[test]
fn a_book_that_borrows() {
    for part in ["commondir", "objects/info/alternates"] {
        let book = Book::new();
        fs::create_dir_all(book.git_dir().join("objects/info")).unwrap();
        fs::write(book.git_dir().join(part), "/somewhere\n").unwrap();
        let error = refusal(book.dir());
        assert!(matches!(error, StoreError::Borrowed { .. }), "{part}: {error}");
        assert!(error.to_string().contains("complete in itself"));
    }
}

#[test]
fn unknown_repository_extensions() {
    for (name, value) in [
        ("objectFormat", "sha256"),
        ("refStorage", "reftable"),
        ("partialClone", "origin"),
        ("worktreeConfig", "true"),
        ("somethingNew", "1"),
    ] {
        let book = Book::new();
        append_config(&book, &format!("[Extensions]\n\t{name} = {value}\n"));
        match refusal(book.dir()) {
            StoreError::Extension { name: n, value: v, .. } => assert_eq!((&*n, &*v), (name, value)),
            other => panic!("{name}: {other}"),
        }
    }
    let book = Book::new();
    append_config(&book, "[extensions]\n\tsomething\n");
    assert!(matches!(refusal(book.dir()), StoreError::Extension { .. }));
}

#[test]
fn harmless_extensions_pass() {
    let book = Book::new();
    let config = fs::read_to_string(book.git_dir().join("config")).unwrap();
    let config = config.replace("repositoryformatversion = 0", "repositoryformatversion = 1");
    let text = "[extensions]\n\tobjectFormat = sha1\n\trefStorage = files\n\tpreciousObjects = true\n";
    fs::write(book.git_dir().join("config"), config + text).unwrap();
    let store = Store::open(book.dir()).unwrap();
    put(&store, &[("setup.toml", "x\n")]).unwrap();
    book.assert_tidy();
}

#[test]
fn repositories_of_git_itself_with_other_formats() {
    for format in ["--object-format=sha256", "--ref-format=reftable"] {
        let temp = tempfile::tempdir().unwrap();
        let dir = temp.path().join("book");
        fs::create_dir(&dir).unwrap();
        git(&dir, &["init", "-q", "-b", "main", format]);
        // git leaves a stub HEAD in the second form; either way the book is refused by name.
        let error = refusal(&dir);
        assert!(matches!(error, StoreError::Extension { .. } | StoreError::WrongKind { .. }), "{format}: {error}");
    }
}

#[test]
fn a_repository_made_by_git_is_a_book_too() {
    let temp = tempfile::tempdir().unwrap();
    let dir = temp.path().join("book");
    fs::create_dir(&dir).unwrap();
    git(&dir, &["init", "-q", "-b", "main"]);
    let store = Store::open(&dir).unwrap();
    put(&store, &[("setup.toml", "x\n")]).unwrap();
    assert_tidy(&dir);
}

#[test]
fn head_elsewhere_and_detached() {
    let book = Book::new();
    let head = book.git_dir().join("HEAD");
    let id = book.store.head().unwrap().unwrap();
    fs::write(&head, format!("{id}\n")).unwrap();
    let detached = refusal(book.dir());
    assert!(matches!(detached, StoreError::Detached { .. }), "{detached}");
    assert!(detached.to_string().contains("ref: refs/heads/main"));
    // A book that was opened before HEAD moved refuses as well, before anything is written.
    assert!(matches!(put(&book.store, &[("setup.toml", "x\n")]), Err(StoreError::Detached { .. })));
    for text in ["ref: refs/heads/other\n", "ref: refs/remotes/origin/main\n", "", "nonsense\n"] {
        fs::write(&head, text).unwrap();
        assert!(matches!(refusal(book.dir()), StoreError::HeadElsewhere { .. }), "{text}");
        assert!(put(&book.store, &[("setup.toml", "x\n")]).is_err());
    }
    fs::write(&head, "ref: refs/heads/main\n").unwrap();
    book.put(&[("setup.toml", "x\n")]);
    book.assert_tidy();
}

#[test]
fn parts_of_the_wrong_kind_and_broken_settings() {
    let book = Book::new();
    fs::remove_file(book.git_dir().join("HEAD")).unwrap();
    assert!(matches!(refusal(book.dir()), StoreError::WrongKind { .. }));
    fs::create_dir(book.git_dir().join("HEAD")).unwrap();
    assert!(matches!(refusal(book.dir()), StoreError::WrongKind { .. }));

    let book = Book::new();
    fs::write(book.git_dir().join("config"), "[core\nnonsense").unwrap();
    assert!(matches!(refusal(book.dir()), StoreError::Config { .. }));
    let file = fs::File::create(book.git_dir().join("config")).unwrap();
    file.set_len(1 << 30).unwrap();
    assert!(matches!(refusal(book.dir()), StoreError::TooLarge { .. }));

    let book = Book::new();
    fs::write(book.git_dir().join("refs/heads/main"), "ref: refs/heads/other\n").unwrap();
    assert!(matches!(book.store.head(), Err(StoreError::BranchLost { was: Some(_), .. })));
}

/// Giving a folder away needs the right to; where the test may not, there is no foreign book to try.
#[cfg(unix)]
#[test]
fn a_book_of_another_user() {
    let book = Book::new();
    for path in [book.git_dir(), book.dir().to_path_buf()] as [PathBuf; 2] {
        use std::os::unix::fs::MetadataExt;
        let own = fs::metadata(&path).unwrap().uid();
        if std::os::unix::fs::chown(&path, Some(own + 12_345), None).is_err() {
            return;
        }
        let error = refusal(book.dir());
        assert!(matches!(&error, StoreError::ForeignOwner { path: p } if *p == path), "{error}");
        std::os::unix::fs::chown(&path, Some(own), None).unwrap();
    }
    Store::open(book.dir()).unwrap();
}
