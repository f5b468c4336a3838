//! Records of a book that this program did not write, and what they altered of what was on record. The book itself says
//! so, without an id to hold it against.

use super::Result;
use super::after::{ByHand, RunThen, by_hand, otherwise, read};
use super::change::told;
use super::message::Message;
use super::sound::SHEET;
use super::who::moment;
use crate::diff::diff;
use crate::schema::{Schema, Sheet, read_sheet};
use crate::slip::{Run, day_of_path};
use crate::store::{Commit, Id, Store};
use std::collections::HashSet;

/// A record that this program did not write.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct NotOurs {
    /// The record.
    pub hand: ByHand,
    /// Runs on record before it that it took out or altered; nothing is otherwise in one that is gone.
    pub runs: Vec<RunThen>,
    /// What it altered of the sheet, in words.
    pub sheet: Vec<String>,
}

/// The ones of these records that are not ours, the oldest first. Of one whose files are damaged only itself is told.
pub(super) fn not_ours(store: &Store, records: &[Id], schema: &Schema) -> Vec<NotOurs> {
    let mut out = Vec::new();
    for commit in records.iter().rev().filter_map(|id| store.commit(*id).ok()) {
        let message = Message::read(&commit.message);
        if message.kind().is_some() {
            continue;
        }
        let (record, at, by) = (commit.id, moment(commit.written), commit.committer.name.clone());
        let bare = ByHand { record, at, by, subject: message.subject.clone(), files: Vec::new() };
        let read = one(store, commit, message.subject, schema);
        out.push(read.unwrap_or(NotOurs { hand: bare, runs: Vec::new(), sheet: Vec::new() }));
    }
    out.sort_by_key(|n| n.hand.at);
    out
}

fn one(store: &Store, commit: Commit, subject: String, schema: &Schema) -> Result<NotOurs> {
    let (id, parents) = (commit.id, commit.parents.clone());
    let hand = by_hand(store, commit, subject)?;
    let (mut runs, mut sheet) = (Vec::new(), Vec::new());
    if let Some((first, others)) = parents.split_first() {
        // What a merge took from its other side was on record there.
        let mut elsewhere: HashSet<(String, Id)> = HashSet::new();
        for other in others {
            elsewhere.extend(store.files(*other)?);
        }
        let was = store.files(*first)?;
        let (mut before, mut after) = (Vec::new(), Vec::new());
        for (path, now) in store.differing(Some(*first), id)? {
            if now.is_some_and(|now| elsewhere.contains(&(path.clone(), now))) {
                continue;
            }
            let old = was.iter().find(|(p, _)| *p == path).map(|(_, blob)| *blob);
            if day_of_path(&path).is_some() {
                let of = |blob: Option<Id>| blob.and_then(|b| read(store, &path, b)).map_or(Vec::new(), |d| d.runs);
                before.extend(of(old).into_iter().map(|run| (path.clone(), run)));
                after.extend(of(now));
            } else if path == SHEET
                && let (Some(old), Some(now)) = (old, now)
            {
                let of = |blob: Id| -> Result<Sheet> {
                    Ok(read_sheet(schema, &String::from_utf8_lossy(&store.blob(blob)?)).sheet)
                };
                let (old, now) = (of(old)?, of(now)?);
                let clauses = told(schema, &old, &now, &diff(schema, &old, &now), &[]);
                sheet = clauses.into_iter().map(|c| c.text).collect();
            }
        }
        runs = altered(&before, &after, id);
    }
    Ok(NotOurs { hand, runs, sheet })
}

fn altered(before: &[(String, Run)], after: &[Run], record: Id) -> Vec<RunThen> {
    let gone_or_otherwise = before.iter().filter(|(_, run)| !after.contains(run));
    let then = |(path, run): &(String, Run)| {
        let now = after.iter().find(|r| r.id == run.id);
        RunThen {
            run: run.id.clone(),
            at: run.at,
            path: path.clone(),
            otherwise: now.map_or(Vec::new(), |now| otherwise(run, now)),
            record: Some(record),
            by_hand: true,
        }
    };
    gone_or_otherwise.map(then).collect()
}
