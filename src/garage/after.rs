//! What came after a record: by whom, which of it was not written by this program, and what of the book as it was at that
//! record is no longer there or is otherwise now.

use super::Result;
use super::book::Book;
use super::history::History;
use super::not_ours::NotOurs;
use super::now::{read_day, text};
use super::who::moment;
use crate::schema::Num;
use crate::slip::{Day, Moment, Run, day_of_path};
use crate::store::{Commit, Id, Store};
use std::collections::{BTreeMap, HashMap, HashSet};
use std::path::Path;

/// What came after a record.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct After {
    /// Records.
    pub records: usize,
    /// Who wrote them down, with how many each; the most first.
    pub by: Vec<(String, usize)>,
    /// Those this program did not write, the oldest first. What they altered of what was there is told of the runs.
    pub by_hand: Vec<NotOurs>,
    /// Runs that are in no day any more.
    pub runs_gone: Vec<RunThen>,
    /// Runs that are otherwise now.
    pub runs_changed: Vec<RunThen>,
    /// Files that are no longer there.
    pub files_gone: Vec<String>,
    /// Days that are there and lost a reading or had one altered.
    pub days_changed: Vec<String>,
    /// Versions that are no longer in the history.
    pub versions_gone: Vec<String>,
    /// Versions before the one on the car then that have another sheet now.
    pub sheets_changed: Vec<String>,
    /// Why the versions could not be compared, where they could not.
    pub unread: Option<String>,
}

/// A record that this program did not write.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ByHand {
    /// The record.
    pub record: Id,
    /// When it was written down.
    pub at: Moment,
    /// By whom.
    pub by: String,
    /// Its first line.
    pub subject: String,
    /// Files it changed, and whether each is gone with it.
    pub files: Vec<(String, bool)>,
}

/// A run as it was.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct RunThen {
    /// Its own id.
    pub run: String,
    /// When it was made, as it was on record.
    pub at: Moment,
    /// Its day file then.
    pub path: String,
    /// What is otherwise: its name, as it was, as it is. Empty where the run is gone.
    pub otherwise: Vec<(String, String, String)>,
    /// The newest record that did it.
    pub record: Option<Id>,
    /// That record was not written by this program.
    pub by_hand: bool,
}

impl After {
    /// Nothing that was there is gone or otherwise.
    pub fn only_added(&self) -> bool {
        self.runs_gone.is_empty()
            && self.runs_changed.is_empty()
            && self.files_gone.is_empty()
            && self.days_changed.is_empty()
            && self.versions_gone.is_empty()
            && self.sheets_changed.is_empty()
    }
}

/// Compares a book with what it was at `then`. `new` are the records that are not it and not before it, newest first;
/// `not_ours` those of the whole book that are not ours.
pub(super) fn after(store: &Store, (then, head): (Id, Id), new: &[Id], not_ours: &[NotOurs]) -> Result<After> {
    let mut out = After { records: new.len(), ..After::default() };
    let mut by: HashMap<String, usize> = HashMap::new();
    for id in new {
        *by.entry(store.commit(*id)?.committer.name).or_default() += 1;
    }
    let came: HashSet<&Id> = new.iter().collect();
    let bare = |n: &NotOurs| NotOurs { runs: Vec::new(), sheet: Vec::new(), ..n.clone() };
    out.by_hand = not_ours.iter().filter(|n| came.contains(&n.hand.record)).map(bare).collect();
    let hands: HashSet<Id> = out.by_hand.iter().map(|n| n.hand.record).collect();
    out.by = by.into_iter().collect();
    out.by.sort_by(|a, b| b.1.cmp(&a.1).then_with(|| a.0.cmp(&b.0)));
    let (was, is) = (Days::read(store, then)?, Days::read(store, head)?);
    let there: HashSet<&str> = is.files.iter().map(String::as_str).collect();
    out.files_gone = was.files.iter().filter(|path| !there.contains(path.as_str())).cloned().collect();
    out.days_changed = was.readings_lost(&is);
    for (path, run) in &was.runs {
        let told = |otherwise| RunThen {
            run: run.id.clone(),
            at: run.at,
            path: path.clone(),
            otherwise,
            record: None,
            by_hand: false,
        };
        match is.of(&run.id) {
            now if now.clone().any(|r| r == run) => {}
            mut now => match now.next() {
                Some(now) => out.runs_changed.push(told(otherwise(run, now))),
                None => out.runs_gone.push(told(Vec::new())),
            },
        }
    }
    if !(out.runs_gone.is_empty() && out.runs_changed.is_empty()) {
        name_records(store, head, new, &hands, out.runs_gone.iter_mut().chain(&mut out.runs_changed))?;
    }
    match versions(store.dir(), then) {
        Ok((before, now)) => compare_versions(&mut out, &before, &now),
        Err(e) => out.unread = Some(e.to_string()),
    }
    Ok(out)
}

pub(super) fn by_hand(store: &Store, commit: Commit, subject: String) -> Result<ByHand> {
    let files = store.differing(commit.parents.first().copied(), commit.id)?;
    Ok(ByHand {
        record: commit.id,
        at: moment(commit.written),
        by: commit.committer.name,
        subject,
        files: files.into_iter().map(|(path, now)| (path, now.is_none())).collect(),
    })
}

/// The history as it was at a record, and as it is; both with the definitions of now.
fn versions(dir: &Path, then: Id) -> Result<(History, History)> {
    let book = Book::open(dir)?;
    Ok((book.history_at(then)?, book.history()?))
}

fn compare_versions(out: &mut After, before: &History, now: &History) {
    let old = &before.timeline.versions;
    for (i, version) in old.iter().enumerate() {
        match now.timeline.by_number(&version.number) {
            None => out.versions_gone.push(version.number.to_string()),
            // What was measured later on the setup on the car belongs to its sheet.
            Some(n) if i + 1 == old.len() => {
                let blobs = &now.timeline.versions[n].blobs;
                if !blobs.starts_with(&version.blobs) {
                    out.sheets_changed.push(version.number.to_string());
                }
            }
            Some(n) if now.timeline.versions[n].sheet_id() != version.sheet_id() => {
                out.sheets_changed.push(version.number.to_string());
            }
            Some(_) => {}
        }
    }
}

/// The runs and files of a record.
struct Days {
    files: Vec<String>,
    days: BTreeMap<String, Day>,
    /// With the path of the day.
    runs: Vec<(String, Run)>,
    by_id: HashMap<String, Vec<usize>>,
}

impl Days {
    /// A day that cannot be read holds nothing.
    fn read(store: &Store, at: Id) -> Result<Days> {
        let mut out = Days { files: Vec::new(), days: BTreeMap::new(), runs: Vec::new(), by_id: HashMap::new() };
        for (path, blob) in store.files(at)? {
            if day_of_path(&path).is_some()
                && let Some(day) = read(store, &path, blob)
            {
                for run in &day.runs {
                    out.by_id.entry(run.id.clone()).or_default().push(out.runs.len());
                    out.runs.push((path.clone(), run.clone()));
                }
                out.days.insert(path.clone(), day);
            }
            out.files.push(path);
        }
        Ok(out)
    }

    fn of(&self, id: &str) -> impl Iterator<Item = &Run> + Clone {
        self.by_id.get(id).map(Vec::as_slice).unwrap_or_default().iter().map(|i| &self.runs[*i].1)
    }

    fn readings_lost(&self, now: &Days) -> Vec<String> {
        let lost = |(path, day): &(&String, &Day)| {
            now.days.get(*path).is_some_and(|now| day.readings.iter().any(|r| !now.readings.contains(r)))
        };
        self.days.iter().filter(lost).map(|(path, _)| path.clone()).collect()
    }
}

/// A day; none where it cannot be read.
pub(super) fn read(store: &Store, path: &str, blob: Id) -> Option<Day> {
    read_day(path, &text(store.blob(blob).ok()?, path).ok()?).ok()
}

/// What is otherwise in a run.
pub(super) fn otherwise(was: &Run, now: &Run) -> Vec<(String, String, String)> {
    const NONE: &str = "none";
    let mut out = Vec::new();
    let names: std::collections::BTreeSet<&String> = was.numbers.keys().chain(now.numbers.keys()).collect();
    for name in names {
        let (a, b) = (was.numbers.get(name), now.numbers.get(name));
        let said = |n: Option<&Num>| n.map_or(NONE.to_owned(), Num::to_string);
        if a != b {
            out.push((name.clone(), said(a), said(b)));
        }
    }
    let bare = |run: &Run| {
        let run = Run { numbers: BTreeMap::new(), setup_was: None, ..run.clone() };
        serde_json::to_value(run).unwrap_or_default()
    };
    let (a, b) = (bare(was), bare(now));
    let said = |v: Option<&serde_json::Value>| match v {
        None | Some(serde_json::Value::Null) => NONE.to_owned(),
        Some(serde_json::Value::String(s)) => s.chars().take(40).collect(),
        Some(other) => other.to_string().chars().take(40).collect(),
    };
    for name in a.as_object().into_iter().flat_map(|o| o.keys()) {
        if a.get(name) != b.get(name) {
            match name.as_str() {
                "at" => out.push((name.clone(), was.at.iso(), now.at.iso())),
                _ => out.push((name.clone(), said(a.get(name)), said(b.get(name)))),
            }
        }
    }
    out
}

/// Finds the newest record that took each run out or altered it, along the log as written.
fn name_records<'a>(
    store: &Store,
    head: Id,
    new: &[Id],
    hands: &HashSet<Id>,
    runs: impl Iterator<Item = &'a mut RunThen>,
) -> Result<()> {
    let mut open: HashMap<String, Vec<&mut RunThen>> = HashMap::new();
    runs.for_each(|r| open.entry(r.run.clone()).or_default().push(r));
    let new: HashSet<&Id> = new.iter().collect();
    let mut at = Some(head);
    while let Some(id) = at.filter(|id| new.contains(id) && !open.is_empty()) {
        let commit = store.commit(id)?;
        at = commit.parents.first().copied();
        let before: HashMap<String, Id> = match at {
            Some(parent) => store.files(parent)?.into_iter().collect(),
            None => HashMap::new(),
        };
        let of = |path: &str, blob: Option<Id>| {
            blob.and_then(|b| read(store, path, b)).map(|day| day.runs).unwrap_or_default()
        };
        let (mut was, mut is) = (Vec::new(), Vec::new());
        for (path, now) in store.differing(at, id)?.iter().filter(|(path, _)| day_of_path(path).is_some()) {
            was.extend(of(path, before.get(path).copied()));
            is.extend(of(path, *now));
        }
        for run in was.iter().filter(|run| !is.contains(run)) {
            for told in open.remove(&run.id).into_iter().flatten() {
                (told.record, told.by_hand) = (Some(id), hands.contains(&id));
            }
        }
    }
    Ok(())
}
