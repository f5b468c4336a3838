//! Which book is meant by a folder.

use super::super::book::Book;
use super::super::place::Garage;
use super::super::{Error, Result};
use super::plan::own_head;
use crate::store::{Clock, Foreign, Id, Limits, StoreError, repository_in};
use std::path::{Path, PathBuf};

/// The book meant by what was typed.
pub struct Found {
    /// Its folder, a bare repository, or a bundle.
    pub book: PathBuf,
    /// Books beside it that could not be read, each with why, where the one found has nothing that is new here: what was
    /// meant may be one of them.
    pub unread: Vec<String>,
}

/// The book meant by a folder: itself, or the one of a garage that begins as this car's does and has what this one has not.
pub fn find_other(book: &Book, path: &Path, same_car: bool, limits: Limits) -> Result<Found> {
    let found = |book: PathBuf| Found { book, unread: Vec::new() };
    if !path.is_dir() || repository_in(path).is_some() {
        return Ok(found(path.to_owned()));
    }
    let other = Garage::new(path.to_owned());
    let folders = other.folders()?;
    let own = own_first(book)?;
    // What another garage holds is a stranger's: all of it together gets the time of one book.
    let clock = Clock::start(path, limits.time);
    // The copies of this car, and whether the newest record of each is here already.
    let mut copies: Vec<(&String, bool)> = Vec::new();
    let mut unread = Vec::new();
    for folder in &folders {
        let read = || {
            let foreign = Foreign::look(&other.car_dir(folder))?;
            match book.store.commit(foreign.tip()) {
                Ok(_) => Ok(Some(true)),
                Err(_) => Ok((foreign.first(limits, &clock)? == own).then_some(false)),
            }
        };
        match read() {
            Ok(known) => copies.extend(known.map(|known| (folder, known))),
            // Another car's, not begun.
            Err(StoreError::NoRecords { .. }) => {}
            Err(why) => unread.push(format!("{folder}: {why}")),
        }
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
    if let Some(folder) = more.first() {
        return Ok(found(other.car_dir(folder)));
    }
    if let Some((folder, _)) = copies.first() {
        return Ok(Found { book: other.car_dir(folder), unread });
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
        [one] if same_car => Ok(found(other.car_dir(one))),
        _ => Err(no_copy(book, path, &folders, &unread)),
    }
}

/// None of the books of a garage is this car's; what could not be read may have been.
fn no_copy(book: &Book, path: &Path, folders: &[String], unread: &[String]) -> Error {
    let none = format!("no book in {} begins as the one of {} does", path.display(), book.car.name);
    if unread.is_empty() {
        let help = format!("it has {}; name the folder of the book itself", folders.join(", "));
        return Error::usage(format!("{none}; nothing was changed"), help);
    }
    let not = if unread.len() == folders.len() { "none" } else { "not all" };
    let more = unread.len().saturating_sub(MOST_SAID);
    let more = if more == 0 { String::new() } else { format!("\n  and {more} more") };
    let said = unread[..unread.len().min(MOST_SAID)].join("\n  ");
    Error::data(
        format!("{none}, and {not} of them could be read; nothing was changed:\n  {said}{more}"),
        "slipbook verify names what is wrong in a book, on the laptop it is from; a new copy of it may be whole",
    )
}

/// As many books that could not be read are named.
const MOST_SAID: usize = 12;

/// The most entries of a folder that are looked at.
const MOST_LOOKED_AT: usize = 1000;

/// Books and bundles right in a folder, by name.
pub(in crate::garage) fn held_in(dir: &Path) -> (Vec<String>, Vec<String>) {
    let (mut books, mut bundles) = (Vec::new(), Vec::new());
    for entry in std::fs::read_dir(dir).into_iter().flatten().flatten().take(MOST_LOOKED_AT) {
        let (path, name) = (entry.path(), entry.file_name().to_string_lossy().into_owned());
        if path.is_dir() && repository_in(&path).is_some() {
            books.push(name);
        } else if path.is_file() && path.extension().is_some_and(|e| e == "bundle") {
            bundles.push(name);
        }
    }
    books.sort();
    bundles.sort();
    (books, bundles)
}

fn own_first(book: &Book) -> Result<Id> {
    Ok(book.store.first_of(own_head(book)?)?)
}
