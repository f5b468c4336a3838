//! A hostile book: its settings start nothing, its tricks read nothing, its sizes fill no memory.
use std::fs;
use std::path::{Path, PathBuf};

use slipbook::store::{Store, StoreError};

mod store_support;
use store_support::*;

/// A script that leaves a mark when anything runs it, and git settings that name it everywhere.
#[cfg(unix)]
fn booby_trap(book: &Book) -> PathBuf {
    use std::os::unix::fs::PermissionsExt;
    let marker = book.temp.path().join("marker");
    let script = book.temp.path().join("trap.sh");
    fs::write(&script, format!("#!/bin/sh\necho ran >> '{}'\ncat\n", marker.display())).unwrap();
    fs::set_permissions(&script, fs::Permissions::from_mode(0o755)).unwrap();
    let hooks = book.temp.path().join("hooks");
    fs::create_dir_all(&hooks).unwrap();
    fs::create_dir_all(book.git_dir().join("hooks")).unwrap();
    for hook in [
        "pre-commit",
        "post-commit",
        "commit-msg",
        "post-index-change",
        "reference-transaction",
        "post-checkout",
        "fsmonitor-watchman",
        "prepare-commit-msg",
        "pre-auto-gc",
    ] {
        fs::copy(&script, hooks.join(hook)).unwrap();
        fs::copy(&script, book.git_dir().join("hooks").join(hook)).unwrap();
    }
    let trap = script.display();
    let included = book.temp.path().join("included");
    fs::write(&included, format!("[core]\n\tfsmonitor = {trap}\n\thooksPath = {}\n", hooks.display())).unwrap();
    let config = format!(
        "[include]\n\tpath = {included}\n[includeIf \"gitdir:/\"]\n\tpath = {included}\n\
         [core]\n\tfsmonitor = {trap}\n\thooksPath = {hooks}\n\tsshCommand = {trap}\n\teditor = {trap}\n\tpager = {trap}\n\
         \tattributesFile = {included}\n\talternateRefsCommand = {trap}\n\tgitProxy = {trap}\n\
         [filter \"trap\"]\n\tclean = {trap}\n\tsmudge = {trap}\n\tprocess = {trap}\n\trequired = true\n\
         [diff \"trap\"]\n\tcommand = {trap}\n\ttextconv = {trap}\n[merge \"trap\"]\n\tdriver = {trap}\n\
         [alias]\n\tstatus = !{trap}\n\tlog = !{trap}\n[credential]\n\thelper = !{trap}\n[gpg]\n\tprogram = {trap}\n\
         [commit]\n\tgpgSign = true\n[gc]\n\tauto = 1\n[uploadpack]\n\tpackObjectsHook = {trap}\n",
        included = included.display(),
        hooks = hooks.display(),
    );
    let path = book.git_dir().join("config");
    let before = fs::read_to_string(&path).unwrap();
    fs::write(&path, before + &config).unwrap();
    fs::write(book.dir().join(".gitattributes"), "* filter=trap diff=trap merge=trap text eol=crlf\n").unwrap();
    fs::create_dir_all(book.git_dir().join("info")).unwrap();
    fs::write(book.git_dir().join("info/attributes"), "* filter=trap diff=trap\n").unwrap();
    marker
}

#[cfg(unix)]
#[test]
fn hostile_settings_start_nothing() {
    let book = Book::new();
    let marker = booby_trap(&book);
    let store = Store::open(book.dir()).unwrap();
    let head = store.head().unwrap().unwrap();
    store.log(None).unwrap();
    store.files(head).unwrap();
    store.file(head, "setup.toml").unwrap();
    book.write("car.toml", "name = \"Edit\"\n");
    store.work_state().unwrap();
    store.read_work("car.toml").unwrap();
    put(&store, &[("setup.toml", "height = 4\n")]).unwrap();
    store
        .record_many(&quick(), &mut |batch| {
            for n in 0..60 {
                batch.commit(record(&[("setup.toml", &format!("height = {n}\n"))]))?;
            }
            Ok(())
        })
        .unwrap();
    assert!(!marker.exists(), "something in the hostile book was run");
    // The bytes are ours, not those of a filter or of line-ending settings.
    let (_, text) = store.file(store.head().unwrap().unwrap(), "setup.toml").unwrap().unwrap();
    assert_eq!(text, b"height = 59\n");
    assert_eq!(book.read("setup.toml"), "height = 59\n");
    // The trap is a real one: stock git springs it.
    let _ = try_git(book.dir(), &["add", "car.toml"]);
    assert!(marker.exists(), "the trap does not work, so this test shows nothing");
}

#[test]
fn a_work_tree_set_elsewhere_is_ignored() {
    let book = Book::new();
    let elsewhere = book.temp.path().join("elsewhere");
    fs::create_dir(&elsewhere).unwrap();
    fs::write(elsewhere.join("setup.toml"), "not ours\n").unwrap();
    let path = book.git_dir().join("config");
    let config = fs::read_to_string(&path).unwrap();
    fs::write(&path, format!("{config}\tworktree = {}\n", elsewhere.display())).unwrap();
    let store = Store::open(book.dir()).unwrap();
    assert_eq!(store.work_state().unwrap(), []);
    put(&store, &[("setup.toml", "height = 4\n")]).unwrap();
    assert_eq!(book.read("setup.toml"), "height = 4\n");
    assert_eq!(fs::read_to_string(elsewhere.join("setup.toml")).unwrap(), "not ours\n");
}

#[test]
fn replacement_refs_and_grafts_are_ignored() {
    let book = Book::new();
    let head = book.store.head().unwrap().unwrap();
    let blob = Store::blob_id(b"height = 0.75 # in\n");
    book.put(&[("other.toml", "forged\n")]);
    let forged = Store::blob_id(b"forged\n");
    let dir = book.git_dir().join("refs/replace");
    fs::create_dir_all(&dir).unwrap();
    fs::write(dir.join(blob.to_string()), format!("{forged}\n")).unwrap();
    fs::create_dir_all(book.git_dir().join("info")).unwrap();
    let tip = book.store.head().unwrap().unwrap();
    fs::write(book.git_dir().join("info/grafts"), format!("{tip}\n")).unwrap();
    let store = Store::open(book.dir()).unwrap();
    assert_eq!(store.blob(blob).unwrap(), b"height = 0.75 # in\n");
    assert_eq!(store.file(head, "setup.toml").unwrap().unwrap().1, b"height = 0.75 # in\n");
    assert_eq!(store.log(None).unwrap().len(), 2);
    assert_eq!(book.git(&["cat-file", "blob", &blob.to_string()]), "forged\n", "the trap works");
}

#[test]
fn missing_and_broken_objects_are_told_apart() {
    let book = Book::new();
    let head = book.store.head().unwrap().unwrap();
    let blob = Store::blob_id(b"height = 0.75 # in\n");
    let path = object_path(book.dir(), &blob.to_string());
    assert!(matches!(book.store.blob(head), Err(StoreError::Damaged { .. })), "a commit is no blob");
    let bytes = fs::read(&path).unwrap();
    fs::remove_file(&path).unwrap();
    fs::write(&path, &bytes[..bytes.len() / 2]).unwrap();
    assert!(matches!(book.store.blob(blob), Err(StoreError::Damaged { .. })));
    fs::remove_file(&path).unwrap();
    assert!(matches!(book.store.blob(blob), Err(StoreError::Missing { id }) if id == blob));
    // The log needs only commits and trees.
    assert_eq!(book.store.log(None).unwrap().len(), 1);
}

fn object_path(dir: &Path, hex: &str) -> PathBuf {
    dir.join(".git/objects").join(&hex[..2]).join(&hex[2..])
}

#[test]
fn a_shallow_copy_says_what_is_missing() {
    let book = Book::new();
    book.put(&[("setup.toml", "x\n")]);
    let url = format!("file://{}", book.dir().display());
    git(book.temp.path(), &["clone", "-q", "--depth", "1", &url, "copy"]);
    let store = Store::open(&book.temp.path().join("copy")).unwrap();
    assert!(matches!(store.log(None), Err(StoreError::Missing { .. })));
}

#[test]
fn a_tree_that_stands_for_millions_of_files_is_refused() {
    let book = Book::new();
    let blob = Store::blob_id(b"height = 0.75 # in\n");
    let mut tree = format!("100644 blob {blob}\tf\n");
    for _ in 0..12 {
        let file = book.temp.path().join("tree");
        fs::write(&file, &tree).unwrap();
        let output = git_command(book.dir()).args(["mktree"]).stdin(fs::File::open(&file).unwrap()).output().unwrap();
        let id = String::from_utf8(output.stdout).unwrap().trim().to_owned();
        tree = (0..8).map(|n| format!("040000 tree {id}\td{n}\n")).collect();
    }
    let file = book.temp.path().join("tree");
    fs::write(&file, &tree).unwrap();
    let output = git_command(book.dir()).args(["mktree"]).stdin(fs::File::open(&file).unwrap()).output().unwrap();
    let root = String::from_utf8(output.stdout).unwrap().trim().to_owned();
    let commit = book.git(&["commit-tree", &root, "-m", "bomb"]);
    let error = book.store.files(commit.trim().parse().unwrap()).unwrap_err();
    assert!(matches!(error, StoreError::Damaged { .. }), "{error}");
}
