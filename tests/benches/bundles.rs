//! Bundles of a book: where they go, what they weigh, and one to take in.

use super::book::{program, said};
use std::fs;
use std::path::{Path, PathBuf};

/// Where a bundle of a book can go: beside its garage, swept with the copies, and not there yet.
pub fn new_bundle(book: &Path) -> String {
    let dir = bundle_dir(book);
    let _ = fs::remove_dir_all(&dir);
    fs::create_dir_all(&dir).expect("a folder for the bundle");
    dir.join("plover.bundle").display().to_string()
}

/// The folder it goes to.
pub fn bundle_dir(book: &Path) -> PathBuf {
    let garage = book.parent().unwrap_or(book);
    let mut name = garage.file_name().unwrap_or_default().to_owned();
    name.push("-bundle");
    garage.with_file_name(name)
}

/// A bundle of the book, made once, and a place that is not there yet to take it in.
pub fn to_take_in(book: &Path) -> (String, PathBuf) {
    let from = bundle_dir(book).with_extension("from");
    let file = from.join("plover.bundle").display().to_string();
    if !from.exists() {
        fs::create_dir_all(&from).expect("a folder for the bundle");
        said(program("git", book).args(["bundle", "create", "-q", &file, "main", "HEAD"]));
    }
    let to = bundle_dir(book).with_extension("to");
    let _ = fs::remove_dir_all(&to);
    (file, to)
}
