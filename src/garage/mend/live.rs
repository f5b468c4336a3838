//! The record as it holds now, taken apart: dated changes with what was typed, and the days.

use super::super::book::{Book, History, linked};
use super::super::line;
use super::super::message::Message;
use super::super::now::text;
use super::super::{Error, Result, outline};
use crate::schema::{Edit, Sheet, typed};
use crate::slip::{Day, Moment};
use crate::store::{Id, Person};
use crate::timeline::{Entry, Given, Timeline};
use std::collections::{BTreeMap, HashMap};

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
        let store = &book.store;
        let head = store.head()?.ok_or_else(|| Error::data("the book has no sheet yet", "slipbook new"))?;
        let mut log = line::log(store, head)?;
        log.reverse();
        let kept = book.kept(&log)?;
        let mut entries: Vec<Lived> = Vec::with_capacity(kept.len());
        let mut before = Sheet::default();
        for (order, kept) in kept.into_iter().enumerate() {
            let commit = &log[kept.log].commit;
            let known = Some(Box::new((std::mem::replace(&mut before, kept.sheet.clone()), kept.sheet)));
            entries.push(Lived {
                entry: kept.entry,
                commit: Some(commit.id),
                message: kept.message,
                people: (commit.author.clone(), commit.committer.clone()),
                known,
                edits: None,
                fixed: Vec::new(),
                moved: false,
                order: order as u64,
            });
        }
        let by_time = |e: &Lived| (e.entry.at.seconds, e.order);
        let in_order = entries.windows(2).take_while(|w| by_time(&w[0]) <= by_time(&w[1])).count() + 1;
        let latest: Vec<i64> = suffix_minima(&entries);
        // Behind an entry a side line can begin only if nothing later on the line is earlier in time.
        let in_order =
            (0..in_order.min(entries.len())).take_while(|i| entries[*i].entry.at.seconds <= latest[*i]).count();
        entries.sort_by_key(by_time);
        let days = outline::days(store, head, HashMap::new())?;
        let timeline = timeline_of(book, &entries);
        let given = line::given(timeline.versions.iter().map(|v| &v.number), store, Some(head))?;
        let before = linked(timeline, days.iter().map(|(_, _, d)| d.clone()).collect(), Some(head));
        let days = days.into_iter().map(|(path, _, day)| DayFile { was: Some(path), old: day.clone(), day }).collect();
        Ok(Live { head, entries, days, before, given, in_order, car: None })
    }

    /// The text of a day file on record.
    pub fn day_text(&self, book: &Book, path: &str) -> Result<String> {
        let file = book.store.file(self.head, path)?;
        let (_, bytes) = file.ok_or_else(|| Error::data(format!("{path} is gone"), "git checkout -- <file>"))?;
        text(bytes, path)
    }

    /// The text of the sheet of an entry on record.
    pub fn sheet_text(&self, book: &Book, entry: &Entry) -> Result<String> {
        let id: Id = entry.blob.parse().map_err(|e| Error::data(format!("{e}"), "slipbook history"))?;
        text(book.store.blob(id)?, "setup.toml")
    }
}

/// The earliest time among the entries from each on.
fn suffix_minima(entries: &[Lived]) -> Vec<i64> {
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

/// The versions of entries in time order, each with the sheet on record.
fn timeline_of(book: &Book, entries: &[Lived]) -> Timeline {
    let known = |e: &Lived| e.known.as_deref().map(|k| k.1.clone()).unwrap_or_default();
    Timeline::build(&book.schema, entries.iter().map(|e| (e.entry.clone(), known(e))).collect())
}

/// The run of an id, or of a time, in words: `sat 14:20`.
pub fn find_run(live: &Live, said: &str, at: Option<Moment>) -> Result<(usize, usize)> {
    let all = || {
        live.days.iter().enumerate().flat_map(|(d, f)| f.day.runs.iter().enumerate().map(move |(r, run)| (d, r, run)))
    };
    if let Some((d, r, _)) = all().find(|(_, _, r)| r.id == said) {
        return Ok((d, r));
    }
    let by_id: Vec<(usize, usize)> =
        all().filter(|(_, _, r)| said.len() >= 4 && r.id.starts_with(said)).map(|(d, r, _)| (d, r)).collect();
    let minute = |m: Moment| m.seconds.div_euclid(60);
    let by_time = || {
        at.map_or(Vec::new(), |at| {
            all().filter(|(_, _, r)| minute(r.at) == minute(at)).map(|(d, r, _)| (d, r)).collect()
        })
    };
    let found = if by_id.is_empty() { by_time() } else { by_id };
    match found.as_slice() {
        [one] => Ok(*one),
        [] => {
            let near = at.and_then(|at| all().min_by_key(|(_, _, r)| (r.at.seconds - at.seconds).abs()));
            let help = near.map_or("slipbook runs lists them".to_owned(), |(_, _, r)| {
                format!("the nearest is the run of {} (id {})", r.at.words(None), r.id)
            });
            Err(Error::usage(format!("there is no run `{said}` on record"), help))
        }
        many => {
            let ids: Vec<String> = many.iter().map(|(d, r)| live.days[*d].day.runs[*r].id.clone()).collect();
            Err(Error::usage(format!("`{said}` is several runs"), format!("by its id: {}", ids.join(", "))))
        }
    }
}

/// Days by path, for writing.
pub type DayTexts = BTreeMap<String, Option<String>>;
