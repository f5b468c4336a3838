//! The versions of a book in time order, which of them are one setup, and which sheet a run was made on.

use super::{Fitted, VersionNumber, fitted_on};
use crate::schema::{Mark, Schema, Sheet, filled_back, mark_of};
use crate::slip::{Moment, Run};
use std::collections::{HashMap, HashSet};

/// What a record is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, serde::Serialize, serde::Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Kind {
    /// The first sheet of the book.
    Open,
    /// The car changed.
    Change,
    /// The car went back to an earlier setup.
    Revert,
    /// Something was measured, described or noted; no new setup.
    Measured,
    /// A run.
    Run,
    /// The record was wrong and was put right, or news came late. Never a change to the car.
    Mend,
    /// The record before it was taken back (or put back).
    Oops,
    /// Anything else (car.toml, a day's readings, a commit by hand that left the sheet alone).
    Other,
}

/// One record of the book that says something of the sheet, oldest first.
#[derive(Debug, Clone, serde::Serialize, serde::Deserialize)]
pub struct Entry {
    /// Its id in the store.
    pub id: String,
    /// What it is.
    pub kind: Kind,
    /// Its number, where it carries one.
    pub number: Option<VersionNumber>,
    /// When it happened.
    pub at: Moment,
    /// When it was written down.
    pub written: Moment,
    /// By whom.
    pub by: String,
    /// What happened, in words: all clauses.
    pub words: Vec<String>,
    /// Why.
    pub why: Option<String>,
    /// The version gone back to.
    pub back_to: Option<String>,
    /// Keys of measured fields that were taken in it, anew or found as they were.
    pub measured: Vec<String>,
    /// Where only a window of time is known, which ends at `at`: when it began.
    pub since: Option<Moment>,
    /// Typed in afterwards, and when it happened is not known: some time before `at`.
    pub time_unknown: bool,
    /// How it was mended, in words, oldest first.
    pub mended: Vec<String>,
    /// Ids of the records it stands for since, newest last.
    pub replaces: Vec<String>,
    /// Numbers it had on the laptop it was written on, where it had to give one up to a version of another's.
    pub was: Vec<VersionNumber>,
    /// Store id of the sheet after it.
    pub blob: String,
}

/// The sheet between two changes.
#[derive(Debug, Clone, serde::Serialize, serde::Deserialize)]
pub struct Version {
    /// Its number.
    pub number: VersionNumber,
    /// The record that began it.
    pub entry: Entry,
    /// Store ids of its sheets, in time order; the last is the sheet at its end, with what was measured while it was on
    /// the car.
    pub blobs: Vec<String>,
    /// Which setup it is.
    pub mark: Mark,
    /// The named parts on the car.
    pub fitted: Vec<Fitted>,
}

/// Something told of the sheet without anything turned.
#[derive(Debug, Clone, serde::Serialize, serde::Deserialize)]
pub struct Remark {
    /// The record.
    pub entry: Entry,
    /// Index of the version that was on the car.
    pub during: usize,
}

/// All versions that are one setup.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Setup {
    /// Its mark.
    pub mark: Mark,
    /// Indices of its versions, oldest first.
    pub versions: Vec<usize>,
}

/// The book's versions in time order.
#[derive(Debug, Clone, Default, serde::Serialize, serde::Deserialize)]
pub struct Timeline {
    /// Oldest first.
    pub versions: Vec<Version>,
    /// Oldest first.
    pub remarks: Vec<Remark>,
}

impl Version {
    /// Store id of the sheet at its end.
    pub fn sheet_id(&self) -> &str {
        self.blobs.last().unwrap_or(&self.entry.blob)
    }
}

impl Timeline {
    /// From records in the order of writing. A record that has no number but changed what is set or described (a commit
    /// by hand) takes the next one.
    pub fn build(schema: &Schema, entries: Vec<(Entry, Sheet)>) -> Timeline {
        let mut order: Vec<(usize, (Entry, Sheet))> = entries.into_iter().enumerate().collect();
        let mut last = 0;
        for (_, (e, _)) in &mut order {
            match &e.number {
                Some(n) => last = last.max(n.n),
                None if matches!(e.kind, Kind::Open | Kind::Change | Kind::Revert) => {
                    last += 1;
                    e.number = Some(VersionNumber::plain(last));
                }
                None => {}
            }
        }
        order.sort_by_key(|(i, (e, _))| (e.at.seconds, *i));
        let mut out = Timeline::default();
        let mut sheets: Vec<Sheet> = Vec::new();
        for (_, (entry, sheet)) in order {
            match (&entry.number, out.versions.last_mut(), sheets.last_mut()) {
                (Some(number), ..) => {
                    let (number, blobs) = (number.clone(), vec![entry.blob.clone()]);
                    let fitted = fitted_on(schema, &sheet);
                    out.versions.push(Version { number, blobs, mark: Mark::default(), entry, fitted });
                    sheets.push(sheet);
                }
                (None, Some(version), Some(at_end)) => {
                    let mend = entry.kind == Kind::Mend;
                    if !mend {
                        *at_end = sheet;
                        version.blobs.push(entry.blob.clone());
                    }
                    let during = out.versions.len() - 1;
                    if mend || entry.kind == Kind::Measured {
                        out.remarks.push(Remark { entry, during });
                    }
                }
                _ => {}
            }
        }
        for (version, sheet) in out.versions.iter_mut().zip(filled_back(schema, &sheets)) {
            version.mark = mark_of(schema, &sheet);
        }
        out
    }

    /// Every record of the sheet, oldest first, with the index of the version it belongs to.
    pub fn records(&self) -> impl Iterator<Item = (usize, &Entry)> {
        self.versions.iter().enumerate().flat_map(|(i, version)| {
            let first = self.remarks.partition_point(|r| r.during < i);
            let during = self.remarks[first..].iter().take_while(move |r| r.during == i);
            std::iter::once((i, &version.entry)).chain(during.map(move |r| (i, &r.entry)))
        })
    }

    /// Index of the version on the car at a moment; a change at the very second is already on it.
    pub fn at(&self, moment: Moment) -> Option<usize> {
        self.versions.partition_point(|v| v.entry.at.seconds <= moment.seconds).checked_sub(1)
    }

    /// Index of the version with this number.
    pub fn by_number(&self, number: &VersionNumber) -> Option<usize> {
        self.versions.iter().position(|v| v.number == *number)
    }

    /// Index of the version a run was made on: the one it names if that holds its sheet, else the one that held its
    /// sheet at its time, else the one on the car at its time.
    pub fn of_run(&self, run: &Run) -> Option<usize> {
        let named = run.on.parse().ok().and_then(|n| self.by_number(&n));
        self.of_named(run, named, |i| self.versions[*i].blobs.contains(&run.setup))
    }

    fn of_named(&self, run: &Run, named: Option<usize>, holds: impl Fn(&usize) -> bool) -> Option<usize> {
        named.filter(&holds).or_else(|| self.at(run.at).filter(&holds)).or(named).or_else(|| self.at(run.at))
    }

    /// The same of many runs: what it costs does not grow with versions times runs.
    pub fn of_runs<'r>(&self, runs: impl Iterator<Item = &'r Run>) -> Vec<Option<usize>> {
        let mut numbers: HashMap<&VersionNumber, usize> = HashMap::new();
        let mut held: HashSet<(usize, &str)> = HashSet::new();
        for (i, version) in self.versions.iter().enumerate() {
            numbers.entry(&version.number).or_insert(i);
            held.extend(version.blobs.iter().map(|b| (i, b.as_str())));
        }
        let of = |run: &Run| {
            let named = run.on.parse().ok().and_then(|n: VersionNumber| numbers.get(&n).copied());
            self.of_named(run, named, |i| held.contains(&(*i, run.setup.as_str())))
        };
        runs.map(of).collect()
    }

    /// The setups, in order of their first version.
    pub fn setups(&self) -> Vec<Setup> {
        let mut place: HashMap<Mark, usize> = HashMap::new();
        let mut out: Vec<Setup> = Vec::new();
        for (i, version) in self.versions.iter().enumerate() {
            let at = *place.entry(version.mark).or_insert_with(|| {
                out.push(Setup { mark: version.mark, versions: Vec::new() });
                out.len() - 1
            });
            out[at].versions.push(i);
        }
        out
    }

    /// The setup of each version: its place in `setups`, which is [`Timeline::setups`] of this timeline.
    pub fn setup_of(&self, setups: &[Setup]) -> Vec<usize> {
        let mut out = vec![0; self.versions.len()];
        for (s, setup) in setups.iter().enumerate() {
            setup.versions.iter().for_each(|v| out[*v] = s);
        }
        out
    }

    /// The version now on the car.
    pub fn now(&self) -> Option<&Version> {
        self.versions.last()
    }
}
