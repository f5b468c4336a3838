//! A book, opened: its history and its sheets as typed values.

use super::car::Car;
use super::history::{History, linked};
use super::line;
use super::message::Message;
use super::now::text;
use super::outline::{self, Outline};
use super::place::read_small;
use super::{Error, Result};
use crate::schema::{KnownParts, Schema, Sheet, read_in_parts, read_sheet};
use crate::store::{Id, Logged, Store};
use crate::timeline::{Kind, Timeline, Version};
use std::borrow::Cow;
use std::cell::RefCell;
use std::collections::HashMap;
use std::path::{Path, PathBuf};

/// A book opened for a command: its car, its definitions, its repository.
pub struct Book {
    /// The repository.
    pub store: Store,
    /// The car.
    pub car: Car,
    /// Definitions with the car's own fields.
    pub schema: Cow<'static, Schema>,
    pub(super) cache: Option<PathBuf>,
    /// Parts of sheets that were read: most of a sheet is as it was in the one before.
    pub(super) known: RefCell<KnownParts>,
}

impl Book {
    /// Opens the book in a folder.
    pub fn open(dir: &Path) -> Result<Book> {
        Book::of(Store::open(dir)?)
    }

    /// The book of an open repository.
    pub(super) fn of(store: Store) -> Result<Book> {
        let dir = store.dir();
        let head = store.head()?;
        let in_commit = head.map(|h| store.file(h, "car.toml")).transpose()?.flatten();
        let car_text = match in_commit {
            Some((_, bytes)) => text(bytes, "car.toml")?,
            None => read_small(&dir.join("car.toml"))?.ok_or_else(|| {
                Error::data(format!("{} has no car.toml", dir.display()), "slipbook new makes a book")
            })?,
        };
        let (car, schema) = Car::read_with_schema("car.toml", &car_text)?;
        Ok(Book { store, car, schema, cache: None, known: RefCell::default() })
    }

    /// With a folder for the derived cache.
    pub fn with_cache(mut self, cache: Option<&Path>) -> Book {
        self.cache = cache.map(|c| outline::file(c, self.store.dir()));
        self
    }

    /// Reads the whole record: from the cache where it is as new as the book, else what came since, else everything.
    pub fn history(&self) -> Result<History> {
        let Some(head) = self.store.head()? else { return Ok(linked(Timeline::default(), Vec::new(), None)) };
        let car = self.store.file(head, "car.toml")?.map_or_else(|| Store::blob_id(b""), |(id, _)| id);
        let kept = self.cache.as_deref().and_then(outline::read).filter(|o| o.of_car(car));
        let (timeline, known) = match kept {
            Some(kept) if kept.head() == head => return Ok(kept.into_history(head)),
            Some(kept) => {
                let tip = kept.head();
                let (timeline, known) = kept.into_parts();
                (self.only_runs_since(head, tip)?.then_some(timeline), known)
            }
            None => (None, HashMap::new()),
        };
        let timeline = match timeline {
            Some(timeline) => timeline,
            None => {
                let mut log = line::log(&self.store, head)?;
                log.reverse();
                Timeline::build(&self.schema, self.entries(&log)?)
            }
        };
        let days = outline::days(&self.store, head, known)?;
        match &self.cache {
            Some(path) => {
                let outline = Outline::new(head, car, timeline, days);
                outline::write(path, &outline);
                Ok(outline.into_history(head))
            }
            None => Ok(linked(timeline, days.into_iter().map(|(_, _, day)| day).collect(), Some(head))),
        }
    }

    /// The record as it was when `at` was the newest one, read with the definitions of now.
    pub(super) fn history_at(&self, at: Id) -> Result<History> {
        let mut log = line::log(&self.store, at)?;
        log.reverse();
        let timeline = Timeline::build(&self.schema, self.entries(&log)?);
        let days = outline::days(&self.store, at, HashMap::new())?;
        Ok(linked(timeline, days.into_iter().map(|(_, _, day)| day).collect(), Some(at)))
    }

    /// Whether nothing but runs and the like was recorded since `tip`: then the versions are as they were.
    fn only_runs_since(&self, head: Id, tip: Id) -> Result<bool> {
        let new = self.store.log_from(head, Some(tip))?;
        if new.iter().any(|l| line::turns(&l.commit)) {
            return Ok(false);
        }
        // A cache of another book that lay in the same folder: nothing of it is here.
        if new.last().is_none_or(|l| l.commit.parents.first() != Some(&tip)) {
            return Ok(false);
        }
        let quiet =
            |l: &Logged| matches!(Message::read(&l.commit.message).kind(), Some(Kind::Run | Kind::Other | Kind::Mend));
        let was = self.store.file(tip, "setup.toml")?.map(|(id, _)| id);
        let same_sheet = new.iter().all(|l| l.sheet == was);
        Ok(same_sheet && new.iter().all(quiet))
    }

    /// The sheet at the end of a version.
    pub fn sheet(&self, version: &Version) -> Result<Sheet> {
        self.sheet_by_id(version.sheet_id())
    }

    fn sheet_by_id(&self, id: &str) -> Result<Sheet> {
        let id: Id = id.parse().map_err(|e| Error::data(format!("{e}"), "slipbook history"))?;
        // Read leniently: a field of one's own that was given up later must not close the book.
        Ok(read_sheet(&self.schema, &text(self.store.blob(id)?, "setup.toml")?).sheet)
    }

    /// Every sheet of a timeline by its store id.
    pub fn sheets(&self, timeline: &Timeline) -> Result<HashMap<String, Sheet>> {
        self.sheets_with(timeline, &HashMap::new())
    }

    /// The same, some texts given by their id: they may not be written yet.
    pub(super) fn sheets_with(
        &self,
        timeline: &Timeline,
        texts: &HashMap<String, &str>,
    ) -> Result<HashMap<String, Sheet>> {
        let ids = timeline.versions.iter().flat_map(|v| &v.blobs).chain(timeline.remarks.iter().map(|r| &r.entry.blob));
        let mut out = HashMap::new();
        let mut known = self.known.borrow_mut();
        for id in ids {
            if !out.contains_key(id) {
                let text = match texts.get(id) {
                    Some(text) => (*text).to_owned(),
                    None => {
                        let blob: Id = id.parse().map_err(|e| Error::data(format!("{e}"), "slipbook history"))?;
                        text(self.store.blob(blob)?, "setup.toml")?
                    }
                };
                out.insert(id.clone(), read_in_parts(&self.schema, &text, &mut known));
            }
        }
        Ok(out)
    }

    /// The latest `versions` versions with the runs made since the first of them: enough to compare a run with its
    /// neighbours, at a cost that does not grow with the book.
    pub fn recent(&self, versions: usize) -> Result<History> {
        let head = self.store.head()?;
        let mut log = Vec::new();
        let mut found = 0;
        let mut next = head;
        while let Some(id) = next.filter(|_| found < versions) {
            let commit = self.store.commit(id)?;
            next = line::before(&commit);
            let message = Message::read(&commit.message);
            found += usize::from(message.version().is_some());
            if !matches!(message.kind(), Some(Kind::Run | Kind::Other)) {
                let sheet = self.store.file(id, "setup.toml")?.map(|(blob, _)| blob);
                log.push(Logged { commit, sheet, car: None });
            }
        }
        log.reverse();
        let timeline = Timeline::build(&self.schema, self.entries(&log)?);
        let since = timeline.versions.first().map(|v| v.entry.at.race_day());
        let mut days = Vec::new();
        if let (Some(head), Some(since)) = (head, since) {
            super::now::days_back(&self.store, head, &mut |day, _, _| {
                let wanted = day.date >= since;
                days.extend(wanted.then(|| day.clone()));
                wanted
            })?;
        }
        let mut history = linked(timeline, days, head);
        // A run on an older version is none of these; who asks for it reads further back.
        history.runs.retain(|m| history.timeline.versions[m.version].number.to_string() == m.run.on);
        Ok(history)
    }
}
