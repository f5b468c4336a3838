//! What of a page is on record already: the page entered again, or a run typed in at the track.

use super::super::book::Book;
use super::super::message::Message;
use super::super::run::run_recorded;
use super::super::{Result, line, who};
use crate::slip::{Moment, Run};
use crate::store::{Commit, Id};
use crate::timeline::Kind;
use jiff::civil::Date;
use std::collections::HashSet;

/// A record of the sheet that a line may be told again by.
pub(super) struct Known {
    /// When it happened.
    pub at: Moment,
    /// What was typed for it, one for each value.
    pub typed: Vec<String>,
    /// What it is: `v2: both rear tires down 0.5 psi`.
    pub told: String,
}

/// Records of the sheet since the first time of a page. One that was mended is known by what was typed for it first, too.
pub(super) fn known(book: &Book, head: Id, since: Option<Moment>) -> Result<Vec<Known>> {
    let mut out = Vec::new();
    let Some(since) = since else { return Ok(out) };
    let mut next = Some(head);
    while let Some(id) = next {
        let commit = book.store.commit(id)?;
        next = line::before(&commit);
        let message = Message::read(&commit.message);
        let at = who::moment(commit.authored);
        if message.version().is_some() && at.seconds < since.seconds {
            break;
        }
        if line::is_mend(&message) || at.seconds < since.seconds {
            continue;
        }
        let version = message.version().map(|v| format!("{v}: ")).unwrap_or_default();
        let told = format!("{version}{}", message.subject);
        let mut add = |commit: &Commit, message: &Message| {
            let typed: Vec<String> = message.all("Typed").map(str::to_owned).collect();
            let known = Known { at: who::moment(commit.authored), typed, told: told.clone() };
            out.extend((!known.typed.is_empty()).then_some(known));
        };
        add(&commit, &message);
        for first in message.all("Replaces").filter_map(|id| id.parse().ok()) {
            let commit = book.store.commit(first)?;
            add(&commit, &Message::read(&commit.message));
        }
    }
    Ok(out)
}

/// Runs of a race day as they were first written, where something was mended since: a page read again finds them under
/// what is on record now. What was taken back is not among them: it may be told again.
pub(super) fn written(book: &Book, head: Id, since: Option<Moment>, date: Date) -> Result<Vec<Run>> {
    let mut commits = Vec::new();
    let mut mended = false;
    // Records that were taken back and not put back again, newest first.
    let mut undone: HashSet<Id> = HashSet::new();
    let mut next = since.map(|_| head);
    while let Some(id) = next {
        let commit = book.store.commit(id)?;
        next = commit.parents.first().copied();
        // Before the first time of the page nothing of it was written.
        if since.is_none_or(|s| who::moment(commit.written).seconds < s.seconds) {
            break;
        }
        let message = Message::read(&commit.message);
        mended |= message.kind() == Some(Kind::Mend);
        if undone.contains(&id) {
            continue;
        }
        let takes = message.get("Takes-back").or(message.get("Puts-back"));
        undone.extend(takes.and_then(|id| id.parse::<Id>().ok()));
        if message.kind() == Some(Kind::Run) && who::moment(commit.authored).race_day() == date {
            commits.push(commit);
        }
    }
    let mut out = Vec::new();
    for commit in commits.iter().filter(|_| mended) {
        out.extend(run_recorded(&book.store, commit)?.map(|(_, _, run)| run));
    }
    Ok(out)
}

/// So many numbers alike on one day are one run, whatever minute they were written down for.
const WHOLE_SLIP: usize = 4;

/// Whether two moments are of one minute.
pub(super) fn same_minute(a: Moment, b: Moment) -> bool {
    a.seconds.div_euclid(60) == b.seconds.div_euclid(60)
}

/// Whether a run of a page is one on record.
pub(super) fn same_run(a: &Run, b: &Run) -> bool {
    let alike = a.numbers == b.numbers && (!a.numbers.is_empty() || (a.did == b.did && a.why_not == b.why_not));
    alike && (same_minute(a.at, b.at) || a.numbers.len() >= WHOLE_SLIP)
}
