//! Records of a book that this program did not write, and what they altered of what was on record. The book itself says
//! so, without an id to hold it against. What a record says it is, anybody can write: it is judged by what it does.

use super::Result;
use super::after::{ByHand, RunThen, by_hand, otherwise, read};
use super::change::{only_describes, told};
use super::hand_edit::EDITED;
use super::message::Message;
use super::now::sets_differ;
use super::sound::SHEET;
use super::who::moment;
use crate::diff::diff;
use crate::schema::{Schema, Sheet, read_sheet};
use crate::slip::{Run, day_of_path};
use crate::store::{Commit, Id, Store};
use crate::timeline::Kind;
use std::collections::HashSet;

/// A record that this program did not write, or none of its kind does what it did.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct NotOurs {
    /// The record.
    pub hand: ByHand,
    /// What it says it is.
    pub says: Says,
    /// Runs on record before it that it took out or altered; nothing is otherwise in one that is gone.
    pub runs: Vec<RunThen>,
    /// What it altered of the sheet, in words.
    pub sheet: Vec<String>,
}

/// What a record says it is. Anybody can write that.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Says {
    /// Nothing.
    Nothing,
    /// A record of a kind that never does what it did: the word of the trailer.
    Kind(String),
    /// An edit by hand that was saved.
    Edit,
}

/// The ones of these records that are not ours, the oldest first. Of one whose files are damaged only itself is told.
pub(super) fn not_ours(store: &Store, records: &[Id], schema: &Schema) -> Vec<NotOurs> {
    let mut out = Vec::new();
    for commit in records.iter().rev().filter_map(|id| store.commit(*id).ok()) {
        let message = Message::read(&commit.message);
        let says = match (message.get("Kind"), message.subject.starts_with(EDITED)) {
            (None, _) => Says::Nothing,
            (Some("other"), true) => Says::Edit,
            (Some(kind), _) => Says::Kind(kind.to_owned()),
        };
        let (runs, sheet) = did(store, &commit, message.kind(), schema).unwrap_or_default();
        if says != Says::Nothing && runs.is_empty() && sheet.is_empty() {
            continue;
        }
        let (record, at, by) = (commit.id, moment(commit.written), commit.committer.name.clone());
        let bare = ByHand { record, at, by, subject: message.subject.clone(), files: Vec::new() };
        let hand = by_hand(store, commit, message.subject).unwrap_or(bare);
        out.push(NotOurs { hand, says, runs, sheet });
    }
    out.sort_by_key(|n| n.hand.at);
    out
}

/// What a record did that none of its kind does: runs it altered or took out, and what it altered of the sheet, in words.
fn did(store: &Store, commit: &Commit, kind: Option<Kind>, schema: &Schema) -> Result<(Vec<RunThen>, Vec<String>)> {
    let (mut days, mut sheet) = (Vec::new(), Vec::new());
    let Some((first, others)) = commit.parents.split_first() else { return Ok((Vec::new(), sheet)) };
    // What a merge took from its other side was on record there.
    let mut elsewhere: HashSet<(String, Id)> = HashSet::new();
    for other in others {
        elsewhere.extend(store.files(*other)?);
    }
    for (path, now) in store.differing(Some(*first), commit.id)? {
        let was_there = match (now, others, kind) {
            (Some(now), ..) => elsewhere.contains(&(path.clone(), now)),
            // Taking back brings the book of its other parent back, with what is not in it.
            (None, [before], Some(Kind::Oops)) => store.file(*before, &path)?.is_none(),
            _ => false,
        };
        if was_there {
            continue;
        }
        if day_of_path(&path).is_some() && kind != Some(Kind::Mend) {
            let old = store.file(*first, &path)?;
            days.push((path, old, now));
        } else if path == SHEET
            && !matches!(kind, Some(Kind::Open | Kind::Change | Kind::Revert))
            && let (Some((_, old)), Some(now)) = (store.file(*first, &path)?, now)
        {
            let of = |bytes: &[u8]| -> Sheet { read_sheet(schema, &String::from_utf8_lossy(bytes)).sheet };
            let (old, now) = (of(&old), of(&store.blob(now)?));
            let differ = diff(schema, &old, &now);
            let measures = !sets_differ(schema, &old, &now) || only_describes(schema, &differ);
            if kind != Some(Kind::Measured) || !measures {
                sheet = told(schema, &old, &now, &differ, &[]).into_iter().map(|c| c.text).collect();
            }
        }
    }
    // As a rule a run was put in and the others stand as they stood: nothing has to be read for that.
    let stay = days.iter().all(|(_, old, now)| match (old, now) {
        (None, _) => true,
        (Some(_), None) => false,
        (Some((_, old)), Some(now)) => store.blob(*now).is_ok_and(|now| has_runs_of(&now, old)),
    });
    if stay {
        return Ok((Vec::new(), sheet));
    }
    let (mut before, mut after) = (Vec::new(), Vec::new());
    for (path, old, now) in days {
        let of = |blob: Option<Id>| blob.and_then(|b| read(store, &path, b)).map_or(Vec::new(), |d| d.runs);
        before.extend(of(old.map(|(id, _)| id)).into_iter().map(|run| (path.clone(), run)));
        after.extend(of(now));
    }
    Ok((altered(&before, &after, commit.id), sheet))
}

/// Whether every run of a day stands in another text of it as it stood, letter by letter, below the same head. `false`
/// where that cannot be told from the letters.
fn has_runs_of(now: &[u8], old: &[u8]) -> bool {
    let text = |bytes| std::str::from_utf8(bytes).ok().and_then(tables);
    let (Some((now_head, now)), Some((head, old))) = (text(now), text(old)) else { return false };
    let now: HashSet<&str> = now.into_iter().collect();
    now_head == head && old.iter().filter(|t| t.starts_with("[[run]]")).all(|t| now.contains(t))
}

/// The head of a text and its tables, cut where a line is `[[NAME]]`. `None` where it has other tables, or texts of several
/// lines, in which such a line may stand.
fn tables(text: &str) -> Option<(&str, Vec<&str>)> {
    if text.contains("\"\"\"") || text.contains("'''") {
        return None;
    }
    let mut cuts = Vec::new();
    let mut at = 0;
    for line in text.split_inclusive('\n') {
        if line.trim_start().starts_with('[') {
            let name = line.trim_end().strip_prefix("[[")?.strip_suffix("]]")?;
            name.bytes().all(|b| b.is_ascii_lowercase()).then_some(())?;
            cuts.push(at);
        }
        at += line.len();
    }
    let ends = cuts.iter().skip(1).copied().chain([text.len()]);
    let out = cuts.iter().zip(ends).map(|(from, to)| text[*from..to].trim_end()).collect();
    Some((text[..cuts.first().copied().unwrap_or(text.len())].trim_end(), out))
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

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_run_put_in_leaves_the_others_as_they_stood() {
        let (head, a, b) = ("date = 2026-08-22\n\n", "[[run]]\nid = \"a\"\nft60 = 1.6\n", "[[run]]\nid = \"b\"\n");
        let reading = "[[reading]]\nat = 09:30:00\n";
        let day = |parts: &[&str]| parts.join("\n").into_bytes();
        let old = day(&[head, reading, a, b]);
        assert!(has_runs_of(&day(&[head, a, "[[run]]\nid = \"c\"\n", b]), &old));
        let more = "[[run]]\nid = \"a\"\nft60 = 1.65\n";
        for other in [
            day(&[head, a]),
            day(&[head, more, b]),
            day(&["date = 2026-08-23\n", a, b]),
            day(&[head, a, b, "note = \"\"\"\n", "\"\"\"\n"]),
            day(&[head, "[[run]]\nid = \"a\"\n[run.x]\nft60 = 1.6\n", a, b]),
        ] {
            assert!(!has_runs_of(&other, &old), "{}", String::from_utf8_lossy(&other));
        }
    }
}
