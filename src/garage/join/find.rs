//! Which book is meant by a folder.

use super::super::book::Book;
use super::super::place::Garage;
use super::super::{Error, Result};
use super::plan::own_head;
use crate::store::{Clock, Id, Limits, Store};
use std::path::{Path, PathBuf};

/// The book meant by a folder: itself, or the one of a garage that begins as this car's does.
pub fn find_other(book: &Book, path: &Path, same_car: bool, limits: Limits) -> Result<PathBuf> {
    let is_repository =
        |dir: &Path| dir.join(".git").exists() || (dir.join("HEAD").is_file() && dir.join("objects").is_dir());
    if !path.is_dir() || is_repository(path) {
        return Ok(path.to_owned());
    }
    let other = Garage::new(path.to_owned());
    let folders = other.folders()?;
    let own = own_first(book)?;
    // What another garage holds is a stranger's.
    let clock = Clock::start(path, limits.time);
    let first = |folder: &String| {
        let store = Store::open(&other.car_dir(folder)).ok()?.with_clock(&clock);
        let head = store.head().ok().flatten()?;
        store.first_of(head).ok()
    };
    for folder in &folders {
        if first(folder) == Some(own) {
            return Ok(other.car_dir(folder));
        }
        clock.check()?;
    }
    match folders.as_slice() {
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

fn own_first(book: &Book) -> Result<Id> {
    Ok(book.store.first_of(own_head(book)?)?)
}
