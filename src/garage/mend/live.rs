//! The record as it holds now, taken apart: dated changes with what was typed, and the days.

use super::super::book::Book;
use super::super::entries::Kept;
use super::super::history::{History, linked};
use super::super::line;
use super::super::message::Message;
use super::super::now::text;
use super::super::{Error, Result, outline};
use crate::schema::{Edit, Sheet, typed};
use crate::slip::Day;
use crate::store::{Commit, Id, Person};
use crate::timeline::{Dated, Entry, Given, Timeline};
use std::collections::BTreeMap;

/// One record of the live line, or news for it.
#[derive(Debug, Clone)]
pub struct Lived {
    /// As the timeline tells it. Of news the id is empty.
    pub entry: Entry,
    /// The commit it is on record with; `None` = news.
    pub commit: Option<Id>,
    /// Its message.
    pub message: Message,
    /// Who it happened to, and who wrote it down.
    pub people: (Person, Person),
    /// The sheets before and after it as on record; `None` for news.
    pub known: Option<Box<(Sheet, Sheet)>>,
    /// What is typed now; `None` = as on record.
    pub edits: Option<Vec<Edit>>,
    /// What is put right in it, in words.
    pub fixed: Vec<String>,
    /// It happened at another time, which is told elsewhere.
    pub moved: bool,
    /// Place among records of the same second.
    pub order: u64,
}

/// A day file.
#[derive(Debug, Clone)]
pub struct DayFile {
    /// Its path on record; `None` = a new one.
    pub was: Option<String>,
    /// As on record.
    pub old: Day,
    /// As it is put right.
    pub day: Day,
}

/// The whole of it.
pub struct Live {
    /// The newest commit.
    pub head: Id,
    /// In time order.
    pub entries: Vec<Lived>,
    /// Day files in the order of their paths.
    pub days: Vec<DayFile>,
    /// As it was read.
    pub before: History,
    /// Numbers that were given.
    pub given: Given,
    /// How many of the first entries lie on the live line in the order of time: a side line can begin behind any of them.
    pub in_order: usize,
    /// A new text of `car.toml`.
    pub car: Option<String>,
}

impl Lived {
    /// What was typed: as on record, or as put right.
    pub fn edits(&self, book: &Book) -> Vec<Edit> {
        match (&self.edits, &self.known) {
            (Some(edits), _) => edits.clone(),
            (None, Some(known)) => {
                let trailers: Vec<&str> = self.message.all("Typed").collect();
                typed(&book.schema, &trailers, &known.0, &known.1)
            }
            (None, None) => Vec::new(),
        }
    }

    /// One on record.
    pub fn on_record(kept: Kept, commit: &Commit, before: Sheet, order: u64) -> Lived {
        Lived {
            entry: kept.entry,
            commit: Some(commit.id),
            message: kept.message,
            people: (commit.author.clone(), commit.committer.clone()),
            known: Some(Box::new((before, kept.sheet))),
            edits: None,
            fixed: Vec::new(),
            moved: false,
            order,
        }
    }

    /// The sheet after it, as on record.
    pub fn sheet(&self) -> Sheet {
        self.known.as_deref().map(|k| k.1.clone()).unwrap_or_default()
    }

    /// As the sums take it.
    pub fn dated(&self, book: &Book) -> Dated {
        Dated {
            at: self.entry.at,
            written: self.order,
            edits: self.edits(book),
            known: self.known.clone(),
            mended: self.edits.is_some(),
        }
    }

    /// Its place in time.
    fn place(&self) -> (i64, u64) {
        (self.entry.at.seconds, self.order)
    }

    /// Whether its own record is another now.
    pub fn is_touched(&self) -> bool {
        self.commit.is_none() || !self.fixed.is_empty() || self.moved
    }

    /// Whether it began a version.
    pub fn is_version(&self) -> bool {
        self.entry.number.is_some()
    }
}

impl Live {
    /// Reads it at the tip of the book.
    pub fn read(book: &Book) -> Result<Live> {
        let head = book.store.head()?.ok_or_else(|| Error::data("the book has no sheet yet", "slipbook new"))?;
        Live::read_at(book, head)
    }

    /// Reads it as it was at a commit.
    pub fn read_at(book: &Book, head: Id) -> Result<Live> {
        let store = &book.store;
        let mut log = line::log(store, head)?;
        log.reverse();
        let kept = book.kept(&log)?;
        let mut entries: Vec<Lived> = Vec::with_capacity(kept.len());
        let mut before = Sheet::default();
        for (order, kept) in kept.into_iter().enumerate() {
            let commit = &log[kept.log].commit;
            let was = std::mem::replace(&mut before, kept.sheet.clone());
            entries.push(Lived::on_record(kept, commit, was, order as u64));
        }
        // Behind an entry a side line can begin only if nothing later on the line is earlier in time.
        let earliest = earliest_from(&entries);
        let in_order = entries.iter().zip(&earliest).take_while(|(e, least)| e.entry.at.seconds <= **least).count();
        entries.sort_by_key(Lived::place);
        let kept = book.cache.as_deref().and_then(outline::read).map(|o| o.into_parts().1);
        let days = outline::days(store, head, kept.unwrap_or_default())?;
        let told = entries.iter().map(|e| (e.entry.clone(), e.sheet())).collect();
        let timeline = Timeline::build(&book.schema, told);
        let given = line::given(timeline.versions.iter().map(|v| &v.number), store, Some(head))?;
        let before = linked(timeline, days.iter().map(|(_, _, d)| d.clone()).collect(), Some(head));
        let days = days.into_iter().map(|(path, _, day)| DayFile { was: Some(path), old: day.clone(), day }).collect();
        Ok(Live { head, entries, days, before, given, in_order, car: None })
    }

    /// A place behind all of the same second.
    pub fn next_order(&self) -> u64 {
        self.entries.iter().map(|e| e.order).max().map_or(0, |o| o + 1)
    }

    /// Puts one more where it belongs in time.
    pub fn put(&mut self, lived: Lived) {
        self.entries.push(lived);
        self.sort();
    }

    /// Into the order of time.
    pub fn sort(&mut self) {
        self.entries.sort_by_key(Lived::place);
    }

    /// Where the run of an id stands: its day, and its place there.
    pub fn run(&self, id: &str) -> Result<(usize, usize)> {
        let of = |f: &DayFile| f.day.runs.iter().position(|r| r.id == id);
        let found = self.days.iter().enumerate().find_map(|(d, f)| Some((d, of(f)?)));
        found.ok_or_else(|| Error::usage(format!("there is no run `{id}` on record"), "slipbook runs lists them"))
    }

    /// The text of a day file on record.
    pub fn day_text(&self, book: &Book, path: &str) -> Result<String> {
        let file = book.store.file(self.head, path)?;
        let (_, bytes) = file.ok_or_else(|| Error::data(format!("{path} is not on record"), "slipbook verify"))?;
        text(bytes, path)
    }

    /// The text of the sheet of an entry on record.
    pub fn sheet_text(&self, book: &Book, entry: &Entry) -> Result<String> {
        let id: Id = entry.blob.parse().map_err(|e| Error::data(format!("{e}"), "slipbook history"))?;
        text(book.store.blob(id)?, "setup.toml")
    }
}

/// The earliest time among the entries from each on.
fn earliest_from(entries: &[Lived]) -> Vec<i64> {
    let mut least = i64::MAX;
    let mut out: Vec<i64> = entries
        .iter()
        .rev()
        .map(|e| {
            least = least.min(e.entry.at.seconds);
            least
        })
        .collect();
    out.reverse();
    out
}

/// Days by path, for writing.
pub type DayTexts = BTreeMap<String, Option<String>>;
