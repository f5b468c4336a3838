//! One of the two books that are joined (or what both were before), read.

use super::super::book::Book;
use super::super::car::Car;
use super::super::mend::live::{Live, Lived};
use super::super::now::text;
use super::super::{Error, Result};
use super::wrote::Read;
use crate::schema::Schema;
use crate::slip::Day;
use crate::store::{Commit, Id, Store};
use crate::timeline::VersionNumber;
use crate::trial::slug_of_path;
use std::borrow::Cow;
use std::collections::{BTreeMap, HashMap};

/// A book as it was at one of its records.
pub(super) struct Side {
    /// The book, with what is defined on either side.
    pub book: Book,
    /// Its record.
    pub live: Live,
    /// Day files by path: the day and its text.
    pub days: Vec<(String, Day, String)>,
    /// Trials by path.
    pub trials: BTreeMap<String, String>,
    /// What it wrote since both were one, newest first.
    pub own: Vec<Commit>,
    /// Numbers of its versions that are others now.
    pub renamed: HashMap<VersionNumber, VersionNumber>,
    /// What was read of its log.
    pub read: Read,
}

impl Side {
    /// Reads it.
    pub fn read(store: Store, head: Id, car: &Car, schema: Cow<'static, Schema>, own: Vec<Commit>) -> Result<Side> {
        let book = Book { store, car: car.clone(), schema, cache: None, known: Default::default() };
        let live = Live::read_at(&book, head)?;
        let mut days = Vec::new();
        for file in &live.days {
            let path = file.was.clone().unwrap_or_else(|| file.day.path());
            let text = live.day_text(&book, &path)?;
            days.push((path, file.day.clone(), text));
        }
        let mut trials = BTreeMap::new();
        for (path, id) in book.store.files(head)?.into_iter().filter(|(p, _)| slug_of_path(p).is_some()) {
            let text = text(book.store.blob(id)?, &path)?;
            trials.insert(path, text);
        }
        Ok(Side { book, live, days, trials, own, renamed: HashMap::new(), read: Read::default() })
    }

    /// Its records in the order of time.
    pub fn entries(&self) -> &[Lived] {
        &self.live.entries
    }

    /// A number of its own, as it is now.
    pub fn number_now(&self, number: &VersionNumber) -> VersionNumber {
        self.renamed.get(number).unwrap_or(number).clone()
    }
}

/// The text of `car.toml` at a record.
pub(super) fn car_text(store: &Store, head: Id) -> Result<String> {
    let file = store.file(head, "car.toml")?;
    let (_, bytes) = file.ok_or_else(|| Error::data("there is no car.toml in the newest record", "slipbook verify"))?;
    text(bytes, "car.toml")
}
