//! What the first screen tells of a book, found without reading the whole of it.

use super::book::Book;
use super::car::Car;
use super::copy::{Since, last_copy, records_since};
use super::hand_edit::hand_edits;
use super::now::{last_run, now};
use super::place::{Garage, LastCopy, read_small};
use super::{Error, Result};
use crate::slip::Moment;
use crate::timeline::VersionNumber;

/// Records looked at to say how many are not in the last copy; "over so many" says as much.
const MOST_SINCE: usize = 200;

/// A book at a glance.
#[derive(Debug, Clone)]
pub struct Home {
    /// The version on the car.
    pub version: VersionNumber,
    /// Since when.
    pub began: Moment,
    /// What was done to the car, in words.
    pub words: Vec<String>,
    /// Why.
    pub why: Option<String>,
    /// Runs made on it.
    pub runs: usize,
    /// The last run on record, on whatever version.
    pub last_run: Option<Moment>,
    /// Files edited by hand and not saved, with what happened to each.
    pub unsaved: Vec<(String, &'static str)>,
    /// The last copy.
    pub copy: Option<LastCopy>,
    /// What is not in it; without a copy, all records.
    pub since: Since,
}

/// Looks at a book.
pub fn home(garage: &Garage, book: &Book) -> Result<Home> {
    let head = book.store.head()?;
    let on = now(&book.store, &book.schema, head)?;
    let recent = book.recent(1)?;
    let versions = &recent.timeline.versions;
    let index = recent.timeline.by_number(&on.number).or(versions.len().checked_sub(1));
    let entry = index.map(|i| &versions[i].entry);
    let copy = last_copy(garage, book)?;
    Ok(Home {
        version: on.number,
        began: on.began,
        words: entry.map(|e| e.words.clone()).unwrap_or_default(),
        why: entry.and_then(|e| e.why.clone()),
        runs: index.map_or(0, |i| recent.runs_on(i).count()),
        last_run: head.map(|h| last_run(&book.store, h)).transpose()?.flatten(),
        unsaved: hand_edits(book)?.files,
        since: records_since(&book.store, copy.as_ref().map(|c| c.tip), MOST_SINCE)?,
        copy,
    })
}

/// A car of the garage, by name.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct CarName {
    /// Its folder.
    pub folder: String,
    /// Its name, or the folder's where `car.toml` cannot be read.
    pub name: String,
}

/// The cars of a garage, from their `car.toml` alone: no book is opened.
pub fn car_names(garage: &Garage) -> Result<Vec<CarName>> {
    let name = |folder: &String| -> Result<String> {
        let text = read_small(&garage.car_dir(folder).join("car.toml"))?;
        let text = text.ok_or_else(|| Error::data("no car.toml", "slipbook cars"))?;
        Car::read("car.toml", &text).map(|c| c.name)
    };
    let folders = garage.folders()?.into_iter();
    Ok(folders.map(|folder| CarName { name: name(&folder).unwrap_or_else(|_| folder.clone()), folder }).collect())
}
