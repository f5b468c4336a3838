//! A book, opened: the whole history as typed values.

use super::car::Car;
use super::line;
use super::message::Message;
use super::now::{sets_differ, text};
use super::outline::{self, Outline};
use super::place::read_small;
use super::run::run_recorded;
use super::{Error, Result, who};
use crate::schema::{KnownParts, Schema, Sheet, read_in_parts, read_sheet};
use crate::slip::{Day, Moment, Reading, Run};
use crate::store::{Id, Logged, Store};
use crate::timeline::{Entry, Given, Kind, Timeline, Version};
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

/// A run with where it belongs.
#[derive(Debug, Clone)]
pub struct Made {
    /// The run.
    pub run: Run,
    /// Index of its day in [`History::days`].
    pub day: usize,
    /// Index of its version in the timeline.
    pub version: usize,
    /// It was made within a window in which something changed: it counts for neither side.
    pub unsure: bool,
}

/// The whole record, read.
pub struct History {
    /// Versions and remarks.
    pub timeline: Timeline,
    /// Days in time order.
    pub days: Vec<Day>,
    /// Runs in time order.
    pub runs: Vec<Made>,
    /// The newest commit.
    pub head: Option<Id>,
}

/// A record that says something of the sheet.
pub(super) struct Kept {
    /// As the timeline wants it.
    pub entry: Entry,
    /// The sheet after it.
    pub sheet: Sheet,
    /// Its message.
    pub message: Message,
    /// Its place in the log that was read.
    pub log: usize,
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

    /// The record as it was written, mends and all: what the sheets said before they were put right. Mends, and records
    /// taken back, are remarks; a run stands on the sheet it was first put on.
    pub fn as_recorded(&self) -> Result<History> {
        let Some(head) = self.store.head()? else { return Ok(linked(Timeline::default(), Vec::new(), None)) };
        let (log, joined) = line::written(&self.store, head)?;
        let mut entries = match joined {
            false => self.entries(&log)?,
            // Runs of the one laptop stand between changes of the other, on sheets of their own: they say nothing of it.
            true => {
                let quiet =
                    |l: &&Logged| !matches!(Message::read(&l.commit.message).kind(), Some(Kind::Run | Kind::Other));
                self.entries(&log.iter().filter(quiet).cloned().collect::<Vec<_>>())?
            }
        };
        for logged in &log {
            let message = Message::read(&logged.commit.message);
            if !line::is_mend(&message) {
                continue;
            }
            let at = who::moment(logged.commit.written);
            let words = if message.body.is_empty() { vec![message.subject.clone()] } else { message.body.clone() };
            let entry = Entry {
                id: logged.commit.id.to_string(),
                kind: Kind::Mend,
                number: None,
                at,
                written: at,
                by: logged.commit.author.name.clone(),
                words,
                why: message.get("Why").map(str::to_owned),
                back_to: None,
                measured: Vec::new(),
                since: None,
                time_unknown: false,
                mended: Vec::new(),
                replaces: Vec::new(),
                was: Vec::new(),
                blob: logged.sheet.map(|id| id.to_string()).unwrap_or_default(),
            };
            // It says nothing of the sheet itself.
            entries.push((entry, Sheet::default()));
        }
        let timeline = Timeline::build(&self.schema, entries);
        let days = self.days_as_recorded(&log, head)?;
        Ok(linked(timeline, days, Some(head)))
    }

    /// The runs as they were first written: those before the first mend as their days held them then, each later one from
    /// its own record.
    fn days_as_recorded(&self, log: &[Logged], head: Id) -> Result<Vec<Day>> {
        let follows = |i: usize| i == 0 || log[i].commit.parents.first() == Some(&log[i - 1].commit.id);
        let mended = |l: &Logged| line::is_mend(&Message::read(&l.commit.message));
        let first = (0..log.len()).find(|i| mended(&log[*i]) || !follows(*i));
        let Some(first) = first else {
            return Ok(outline::days(&self.store, head, HashMap::new())?.into_iter().map(|(_, _, day)| day).collect());
        };
        let before = first.checked_sub(1).map(|i| log[i].commit.id);
        let days = match before {
            Some(id) => outline::days(&self.store, id, HashMap::new())?,
            None => Vec::new(),
        };
        let mut days: Vec<(String, Day)> = days.into_iter().map(|(path, _, day)| (path, day)).collect();
        for logged in &log[first..] {
            let Some((path, day, run)) = run_recorded(&self.store, &logged.commit)? else { continue };
            match days.iter_mut().find(|(p, _)| *p == path) {
                Some((_, known)) => {
                    known.runs.push(run);
                    known.runs.sort_by_key(|r| r.at);
                }
                None => days.push((path, Day { runs: vec![run], ..day })),
            }
        }
        // What was read of the air and the track is no record of the car: it holds as it is now.
        let now = outline::days(&self.store, head, HashMap::new())?;
        let readings: HashMap<String, Vec<Reading>> = now.into_iter().map(|(path, _, d)| (path, d.readings)).collect();
        let with = |(path, day): (String, Day)| match readings.get(&path) {
            Some(readings) => Day { readings: readings.clone(), ..day },
            None => day,
        };
        Ok(days.into_iter().map(with).collect())
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

    /// The records that say something of the sheet, in the order of the log.
    fn entries(&self, log: &[Logged]) -> Result<Vec<(Entry, Sheet)>> {
        Ok(self.kept(log)?.into_iter().map(|k| (k.entry, k.sheet)).collect())
    }

    /// The records that say something of the sheet, each with its sheet and its message, in the order of the log.
    pub(super) fn kept(&self, log: &[Logged]) -> Result<Vec<Kept>> {
        let mut sheets: HashMap<Id, Sheet> = HashMap::new();
        let mut known = self.known.borrow_mut();
        let mut entries: Vec<Kept> = Vec::new();
        let mut before: Option<(Id, Sheet)> = None;
        let mut given = Given::default();
        for (at, logged) in log.iter().enumerate() {
            let Some(blob) = logged.sheet else { continue };
            let message = Message::read(&logged.commit.message);
            message.get("Given").into_iter().for_each(|l| given.note_line(l));
            message.version().iter().for_each(|n| given.note(n));
            if line::is_mend(&message) {
                continue;
            }
            let same = before.as_ref().is_some_and(|(id, _)| *id == blob);
            let kind = message.kind();
            let taken = message.get("Measured").is_some();
            let told = matches!(kind, Some(Kind::Change | Kind::Revert | Kind::Open | Kind::Measured));
            if same && !taken && !told {
                continue;
            }
            let sheet = match sheets.get(&blob) {
                Some(sheet) => sheet.clone(),
                None => {
                    let text = text(self.store.blob(blob)?, "setup.toml")?;
                    let sheet = read_in_parts(&self.schema, &text, &mut known);
                    sheets.insert(blob, sheet.clone());
                    sheet
                }
            };
            // A commit by hand, or one that changed the sheet without saying so, is what it did.
            let said = kind.filter(|k| !matches!(k, Kind::Run | Kind::Other));
            let kind = said.unwrap_or_else(|| match &before {
                None => Kind::Open,
                Some((_, old)) if sets_differ(&self.schema, old, &sheet) => Kind::Change,
                Some(_) => Kind::Measured,
            });
            before = Some((blob, sheet.clone()));
            // A version made by hand takes the next number, never one that was given before.
            let by_hand = || matches!(kind, Kind::Open | Kind::Change | Kind::Revert).then(|| given.next());
            let number = message.version().or_else(by_hand);
            number.iter().for_each(|n| given.note(n));
            let words = if message.body.is_empty() { vec![message.subject.clone()] } else { message.body.clone() };
            let entry = Entry {
                id: logged.commit.id.to_string(),
                kind,
                number,
                at: not_before(who::moment(logged.commit.authored), entries.first().map(|k| k.entry.at)),
                written: who::moment(logged.commit.written),
                by: logged.commit.author.name.clone(),
                words,
                why: message.get("Why").map(str::to_owned),
                back_to: message.get("Back-to").map(str::to_owned),
                measured: message.all("Measured").map(str::to_owned).collect(),
                since: message.get("Since").and_then(|t| t.parse().ok()),
                time_unknown: message.get("Time") == Some("unknown"),
                mended: message.all("Mended").map(str::to_owned).collect(),
                replaces: message.all("Replaces").map(str::to_owned).collect(),
                was: message.all("Was").filter_map(|n| n.parse().ok()).collect(),
                blob: blob.to_string(),
            };
            entries.push(Kept { entry, sheet, message, log: at });
        }
        Ok(entries)
    }
}

/// Nothing is on record before the first sheet: a commit that a hand dated earlier counts from there on.
fn not_before(at: Moment, first: Option<Moment>) -> Moment {
    first.filter(|f| at.seconds < f.seconds).unwrap_or(at)
}

/// Days in order, runs with their versions.
pub(super) fn linked(timeline: Timeline, mut days: Vec<Day>, head: Option<Id>) -> History {
    let first = |d: &Day| d.runs.first().map(|r| r.at);
    days.sort_by(|a, b| (a.date, first(a), &a.track).cmp(&(b.date, first(b), &b.track)));
    let window = |v: &Version| Some((v.entry.since?.seconds, v.entry.at.seconds));
    let mut windows: Vec<(i64, i64)> = timeline.versions.iter().filter_map(window).filter(|(a, b)| a < b).collect();
    windows.sort_unstable();
    // Those that overlap are one.
    windows.dedup_by(|next, last| {
        let overlap = next.0 < last.1;
        if overlap {
            last.1 = last.1.max(next.1);
        }
        overlap
    });
    let within = |at: i64| {
        let last = windows.partition_point(|(from, _)| *from < at).checked_sub(1);
        last.is_some_and(|i| at < windows[i].1)
    };
    let made = || days.iter().enumerate().flat_map(|(day, d)| d.runs.iter().map(move |run| (day, run)));
    let versions = timeline.of_runs(made().map(|(_, run)| run));
    let mut runs: Vec<Made> = Vec::new();
    for ((day, run), version) in made().zip(versions) {
        if let Some(version) = version {
            runs.push(Made { run: run.clone(), day, version, unsure: within(run.at.seconds) });
        }
    }
    runs.sort_by(|a, b| (a.run.at, &a.run.id).cmp(&(b.run.at, &b.run.id)));
    History { timeline, days, runs, head }
}

impl History {
    /// Runs made on a version.
    pub fn runs_on(&self, version: usize) -> impl Iterator<Item = &Made> {
        self.runs.iter().filter(move |m| m.version == version)
    }

    /// The finish most days of the book have, ft; what `et` means where nothing else says.
    pub fn finish_ft(&self) -> u32 {
        let mut count: HashMap<u32, usize> = HashMap::new();
        for made in &self.runs {
            *count.entry(self.days[made.day].finish_ft).or_default() += 1;
        }
        count.into_iter().max_by_key(|(feet, n)| (*n, *feet)).map_or(1320, |(feet, _)| feet)
    }
}
