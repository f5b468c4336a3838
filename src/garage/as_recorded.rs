//! The record as it was written down, before anything of it was put right.

use super::book::Book;
use super::history::{History, linked};
use super::line;
use super::message::Message;
use super::outline;
use super::run::run_recorded;
use super::{Result, who};
use crate::schema::Sheet;
use crate::slip::{Day, Reading, Run};
use crate::store::{Id, Logged};
use crate::timeline::{Entry, Kind, Timeline};
use std::collections::{HashMap, HashSet};

impl Book {
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
            put(&mut days, &path, &day, vec![run]);
        }
        let now = outline::days(&self.store, head, HashMap::new())?;
        // A run without a record of its own came with a mend, as in a copy that was handed over: it was never otherwise.
        let known: HashSet<String> = days.iter().flat_map(|(_, d)| &d.runs).map(|r| r.id.clone()).collect();
        for (path, _, today) in &now {
            let others = today.runs.iter().filter(|r| !known.contains(&r.id)).cloned();
            put(&mut days, path, today, others.collect());
        }
        // What was read of the air and the track is no record of the car: it holds as it is now.
        let readings: HashMap<String, Vec<Reading>> = now.into_iter().map(|(path, _, d)| (path, d.readings)).collect();
        let with = |(path, day): (String, Day)| match readings.get(&path) {
            Some(readings) => Day { readings: readings.clone(), ..day },
            None => day,
        };
        Ok(days.into_iter().map(with).collect())
    }
}

/// Puts runs to those of their day; a day that is not there yet is begun as `like`.
fn put(days: &mut Vec<(String, Day)>, path: &str, like: &Day, runs: Vec<Run>) {
    match days.iter_mut().find(|(p, _)| p == path) {
        Some((_, known)) => {
            known.runs.extend(runs);
            known.runs.sort_by_key(|r| r.at);
        }
        None if runs.is_empty() => {}
        None => days.push((path.to_owned(), Day { runs, ..like.clone() })),
    }
}
