//! Which book is meant by a folder.

use super::super::book::Book;
use super::super::place::Garage;
use super::super::{Error, Result};
use super::plan::own_head;
use crate::store::{Clock, Id, Limits, Store};
use std::path::{Path, PathBuf};

/// The book meant by a folder: itself, or the one of a garage that begins as this car's does and has what this one has not.
pub fn find_other(book: &Book, path: &Path, same_car: bool, limits: Limits) -> Result<PathBuf> {
    if !path.is_dir() || is_repository(path) {
        return Ok(path.to_owned());
    }
    let other = Garage::new(path.to_owned());
    let folders = other.folders()?;
    let own = own_first(book)?;
    // What another garage holds is a stranger's.
    let clock = Clock::start(path, limits.time);
    // The copies of this car, and whether the newest record of each is here already.
    let mut copies: Vec<(&String, bool)> = Vec::new();
    for folder in &folders {
        let read = || {
            let store = Store::open(&other.car_dir(folder)).ok()?.with_clock(&clock);
            let head = store.head().ok().flatten()?;
            Some((store.first_of(head).ok()?, book.store.commit(head).is_ok()))
        };
        copies.extend(read().filter(|(first, _)| *first == own).map(|(_, known)| (folder, known)));
        clock.check()?;
    }
    let more: Vec<&String> = copies.iter().filter(|(_, known)| !known).map(|(folder, _)| *folder).collect();
    if let [first, _, ..] = more.as_slice() {
        let names: Vec<&str> = more.iter().map(|f| f.as_str()).collect();
        let message = format!(
            "{} holds {} books of {} with something this one has not: {}; nothing was joined",
            path.display(),
            names.len(),
            book.car.name,
            names.join(", ")
        );
        let one = path.join(first).display().to_string();
        return Err(Error::usage(message, format!("say which, one after the other: slipbook join {one}")));
    }
    if let Some(folder) = more.first().or(copies.first().map(|(folder, _)| folder)) {
        return Ok(other.car_dir(folder));
    }
    match folders.as_slice() {
        [] if !held_in(path).1.is_empty() => Err(Error::usage(
            format!("{} is no book; it holds {}; nothing was changed", path.display(), held_in(path).1.join(", ")),
            format!("say which: slipbook join {}", path.join(&held_in(path).1[0]).display()),
        )),
        [] => Err(Error::usage(
            format!("{} is no book and no garage; nothing was changed", path.display()),
            "the folder of the other book, a bundle, or an address git knows",
        )),
        [one] if same_car => Ok(other.car_dir(one)),
        _ => Err(Error::usage(
            format!("no book in {} begins as the one of {} does; nothing was changed", path.display(), book.car.name),
            format!("it has {}; name the folder of the book itself", folders.join(", ")),
        )),
    }
}

/// The most entries of a folder that are looked at.
const MOST_LOOKED_AT: usize = 1000;

/// Books and bundles right in a folder, by name.
pub(in crate::garage) fn held_in(dir: &Path) -> (Vec<String>, Vec<String>) {
    let (mut books, mut bundles) = (Vec::new(), Vec::new());
    for entry in std::fs::read_dir(dir).into_iter().flatten().flatten().take(MOST_LOOKED_AT) {
        let (path, name) = (entry.path(), entry.file_name().to_string_lossy().into_owned());
        if path.is_dir() && is_repository(&path) {
            books.push(name);
        } else if path.is_file() && path.extension().is_some_and(|e| e == "bundle") {
            bundles.push(name);
        }
    }
    books.sort();
    bundles.sort();
    (books, bundles)
}

/// Whether a folder is a repository, with or without files beside it.
fn is_repository(dir: &Path) -> bool {
    dir.join(".git").exists() || (dir.join("HEAD").is_file() && dir.join("objects").is_dir())
}

fn own_first(book: &Book) -> Result<Id> {
    Ok(book.store.first_of(own_head(book)?)?)
}
