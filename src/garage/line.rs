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
    match (turns(commit), Message::read(&commit.message).get("Joins").is_some()) {
        (true, false) => commit.parents[..1].to_vec(),
        (true, true) if commit.parents.len() > 2 => vec![commit.parents[0], commit.parents[2]],
        _ => commit.parents.clone(),
    }
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
