//! The live line: the records as they hold now, found from git alone.
//!
//! A mend is a merge on `main`: its second parent is a short line beside `main` that holds the mended records and each
//! later one once more. So the live line goes from the newest record along first parents, and at a mend along its
//! second. What it then meets is everything that says something of the sheet, in the order of time. A record that was
//! taken back is passed over the same way: the second parent is the book as it was before it.
//!
//! Two laptops that are joined are a mend too, which names both in `Joins:`. Its first parent is one of them, its second
//! the end of the line that holds the changes of both in the order of time, its third the other one; where that line is one
//! laptop's own, that laptop is the second parent and there is no third.

use super::Result;
use super::message::Message;
use crate::store::{Commit, Id, Logged, Store};
use crate::timeline::{Given, Kind, VersionNumber};
use std::cmp::Reverse;
use std::collections::{BinaryHeap, HashMap, HashSet};

/// The record before this one on the live line.
pub fn before(commit: &Commit) -> Option<Id> {
    let first = commit.parents.first().copied();
    match commit.parents.as_slice() {
        [_, second, ..] if turns(commit) => Some(*second),
        _ => first,
    }
}

/// Whether the live line leaves the log as written here.
pub fn turns(commit: &Commit) -> bool {
    commit.parents.len() >= 2 && is_mend(&Message::read(&commit.message))
}

/// Whether a record puts the record right: it is none of the line itself.
pub fn is_mend(message: &Message) -> bool {
    matches!(message.kind(), Some(Kind::Mend | Kind::Oops))
}

/// The commits a record was written behind: of a mend the log as written, of two laptops that were joined both.
pub fn written_behind(commit: &Commit) -> Vec<Id> {
    match (turns(commit), joins(commit)) {
        (true, false) => commit.parents[..1].to_vec(),
        (true, true) if commit.parents.len() > 2 => vec![commit.parents[0], commit.parents[2]],
        _ => commit.parents.clone(),
    }
}

/// The log as written from a commit, oldest first: along first parents, and where two laptops were joined both of theirs in
/// the order of writing. The flag says whether there was such a place.
pub fn written(store: &Store, head: Id) -> Result<(Vec<Logged>, bool)> {
    let mut log = store.log_from(head, None)?;
    let mut known: HashSet<Id> = log.iter().map(|l| l.commit.id).collect();
    let others =
        |l: &Logged| written_behind(&l.commit).into_iter().skip(1).filter(|_| joins(&l.commit)).collect::<Vec<_>>();
    let mut left: Vec<Id> = log.iter().flat_map(others).collect();
    let joined = !left.is_empty();
    while let Some(id) = left.pop() {
        if !known.insert(id) {
            continue;
        }
        let commit = store.commit(id)?;
        let of = |path: &str| Ok::<_, super::Error>(store.file(id, path)?.map(|(id, _)| id));
        let logged = Logged { sheet: of("setup.toml")?, car: of("car.toml")?, commit };
        left.extend(others(&logged));
        left.extend(logged.commit.parents.first());
        log.push(logged);
    }
    log.reverse();
    if !joined {
        return Ok((log, false));
    }
    let behind =
        |c: &Commit| if joins(c) { written_behind(c) } else { c.parents.first().copied().into_iter().collect() };
    let mut waits: HashMap<Id, usize> = HashMap::new();
    let mut after: HashMap<Id, Vec<usize>> = HashMap::new();
    let mut ready = BinaryHeap::new();
    let key = |l: &Logged, i: usize| Reverse((l.commit.written.seconds, l.commit.id, i));
    for (i, logged) in log.iter().enumerate() {
        let before: Vec<Id> = behind(&logged.commit).into_iter().filter(|p| known.contains(p)).collect();
        before.iter().for_each(|p| after.entry(*p).or_default().push(i));
        if before.is_empty() {
            ready.push(key(logged, i));
        }
        waits.insert(logged.commit.id, before.len());
    }
    let mut order = Vec::with_capacity(log.len());
    while let Some(Reverse((_, id, i))) = ready.pop() {
        order.push(i);
        for next in after.remove(&id).unwrap_or_default() {
            let n = waits.entry(log[next].commit.id).or_default();
            *n = n.saturating_sub(1);
            if *n == 0 {
                ready.push(key(&log[next], next));
            }
        }
    }
    let mut log: Vec<Option<Logged>> = log.into_iter().map(Some).collect();
    Ok((order.into_iter().filter_map(|i| log[i].take()).collect(), true))
}

/// Whether a record joined two laptops.
fn joins(commit: &Commit) -> bool {
    turns(commit) && Message::read(&commit.message).get("Joins").is_some()
}

/// The live line from a commit, newest first.
pub fn log(store: &Store, head: Id) -> Result<Vec<Logged>> {
    Ok(store.log_along(head, &before)?)
}

/// The numbers given so far: those of versions, and those of records that are no longer on the line.
pub fn given<'a>(versions: impl Iterator<Item = &'a VersionNumber>, store: &Store, head: Option<Id>) -> Result<Given> {
    let mut given = Given::default();
    versions.for_each(|n| given.note(n));
    let mut next = head;
    while let Some(id) = next {
        let commit = store.commit(id)?;
        let message = Message::read(&commit.message);
        message.version().iter().for_each(|n| given.note(n));
        if let Some(line) = message.get("Given") {
            given.note_line(line);
            break;
        }
        next = commit.parents.first().copied();
    }
    Ok(given)
}
