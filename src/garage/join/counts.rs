//! What each side brings, counted as what it is, with whose hand wrote it.

use super::super::line::turns;
use super::super::message::Message;
use super::plan::{Counts, Share, Tally};
use super::records::Item;
use super::side::Side;
use crate::slip::Run;
use crate::store::Commit;
use crate::timeline::Kind;
use std::collections::{HashMap, HashSet};

pub(super) fn runs_of(side: &Side) -> impl Iterator<Item = &Run> {
    side.days.iter().flat_map(|(_, day, _)| &day.runs)
}

/// Runs that only one side has.
pub(super) fn new_runs<'a>(sides: &'a [Side; 2], before: &'a [Side], side: usize) -> Vec<&'a Run> {
    let known: HashSet<&str> =
        before.iter().chain([&sides[1 - side]]).flat_map(runs_of).map(|r| r.id.as_str()).collect();
    runs_of(&sides[side]).filter(|r| !known.contains(r.id.as_str())).collect()
}

/// What one side of a joining brings.
pub(super) fn counts(sides: &[Side; 2], before: &[Side], items: &[Item], side: usize) -> Counts {
    let new = items.iter().filter(|i| i.from[side].is_some() && i.from[1 - side].is_none());
    let new = new.map(|i| (i.lived.entry.by.as_str(), i.lived.is_version(), i.lived.entry.id.as_str()));
    let runs: Vec<&str> = new_runs(sides, before, side).into_iter().map(|r| r.id.as_str()).collect();
    counted(&sides[side], &new.collect::<Vec<_>>(), &runs)
}

/// What a book that holds all of another has more than that.
pub(super) fn more(own: &Side, other: &Side) -> Counts {
    let known: HashSet<&str> = own.entries().iter().map(super::records::identity).collect();
    let new = other.entries().iter().filter(|l| !known.contains(super::records::identity(l)));
    let new: Vec<_> = new.map(|l| (l.entry.by.as_str(), l.is_version(), l.entry.id.as_str())).collect();
    let here: HashSet<&str> = runs_of(own).map(|r| r.id.as_str()).collect();
    let runs: Vec<&str> = runs_of(other).map(|r| r.id.as_str()).filter(|id| !here.contains(id)).collect();
    counted(other, &new, &runs)
}

/// Of a side: its records of the sheet (hand, whether a version, id) and its runs that are new.
fn counted(side: &Side, new: &[(&str, bool, &str)], runs: &[&str]) -> Counts {
    let own: Vec<(&Commit, Message)> = side.own.iter().rev().map(|c| (c, Message::read(&c.message))).collect();
    let own: Vec<_> = own.into_iter().filter(|(_, m)| m.get("Joins").is_none()).collect();
    let mut people: Vec<Share> = Vec::new();
    for (commit, _) in &own {
        if !people.iter().any(|p| p.by == commit.author.name) {
            people.push(Share { by: commit.author.name.clone(), ..Share::default() });
        }
    }
    let mut of = |by: &str, add: &dyn Fn(&mut Tally)| {
        let at = people.iter().position(|p| p.by == by).unwrap_or_else(|| {
            people.push(Share { by: by.to_owned(), ..Share::default() });
            people.len() - 1
        });
        add(&mut people[at].tally);
    };
    for (by, is_version, _) in new {
        of(by, &|t| if *is_version { t.changes += 1 } else { t.measurements += 1 });
    }
    let wrote: HashMap<&str, &str> =
        own.iter().flat_map(|(c, m)| m.all("Run").map(|id| (id, c.author.name.as_str()))).collect();
    let anybody = own.last().map_or("", |(c, _)| c.author.name.as_str());
    runs.iter().for_each(|id| of(wrote.get(id).copied().unwrap_or(anybody), &|t| t.runs += 1));
    let taken: HashSet<&str> = own.iter().flat_map(|(_, m)| m.all("Takes-back")).collect();
    let ids: HashSet<String> = own.iter().map(|(c, _)| c.id.to_string()).collect();
    let told: HashSet<&str> = new.iter().map(|(_, _, id)| *id).collect();
    for (commit, message) in &own {
        let by = commit.author.name.as_str();
        let id = commit.id.to_string();
        if taken.contains(id.as_str()) || told.contains(id.as_str()) {
            continue;
        }
        match message.kind() {
            Some(Kind::Mend) if !is_late(commit, message) => of(by, &|t| t.mends += 1),
            // What was written and taken back in between is nothing.
            Some(Kind::Oops) if message.all("Takes-back").any(|t| !ids.contains(t)) => of(by, &|t| t.mends += 1),
            Some(Kind::Other) | None if message.get("Trial").is_some() => of(by, &|t| t.trials += 1),
            Some(Kind::Other) | None => {
                let files = side.book.store.differing(commit.parents.first().copied(), commit.id).unwrap_or_default();
                match files.iter().any(|(path, _)| path == "car.toml") {
                    true => of(by, &|t| t.parts += 1),
                    false => of(by, &|t| t.notes += 1),
                }
            }
            _ => {}
        }
    }
    Counts {
        records: side.own.len(),
        tally: people.iter().fold(Tally::default(), |sum, p| sum.and(p.tally)),
        by: people.iter().map(|p| p.by.clone()).collect(),
        people,
    }
}

/// A mend that only told something late is that change or measurement.
fn is_late(commit: &Commit, message: &Message) -> bool {
    let late = |line: &String| line.split(' ').take(3).collect::<Vec<_>>().join(" ").contains("told late");
    let lines = if message.body.is_empty() { std::slice::from_ref(&message.subject) } else { &message.body };
    turns(commit) && lines.iter().all(late)
}
