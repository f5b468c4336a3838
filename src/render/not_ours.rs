//! Records of a book that slipbook did not write, or none of its kind does what they did: said beside "whole", always.

use super::layout::{Head, Page, counted};
use crate::garage::{NotOurs, RunThen, Says};
use serde_json::{Value as Json, json};
use std::collections::BTreeSet;

/// As many runs, files and records are named of each kind.
const MOST_NAMED: usize = 8;

/// The first of many, and how many more there are.
pub(super) fn some(all: impl Iterator<Item = String>) -> String {
    let mut all: Vec<String> = all.collect();
    let more = all.len().saturating_sub(MOST_NAMED);
    all.truncate(MOST_NAMED);
    all.extend((more > 0).then(|| format!("and {more} more")));
    all.join(", ")
}

/// In a sentence: how many, by whom, and what they did to runs and sheets on record. None where all of it is ours.
pub(super) fn summary(all: &[NotOurs]) -> Option<String> {
    if all.is_empty() {
        return None;
    }
    let by: BTreeSet<&str> = all.iter().map(|n| n.hand.by.as_str()).collect();
    let were = |n: usize| if n == 1 { "was" } else { "were" };
    let edits = all.iter().filter(|n| n.says == Says::Edit).count();
    let strange = all.len() - edits;
    let mut what = Vec::new();
    what.extend(
        (strange > 0).then(|| format!("{} {} not written by slipbook", counted(strange, "record"), were(strange))),
    );
    what.extend((edits > 0).then(|| format!("{} by hand {} saved", counted(edits, "edit"), were(edits))));
    let of = |gone: bool| {
        let runs = all.iter().flat_map(|n| &n.runs).filter(|r| r.otherwise.is_empty() == gone);
        runs.map(|r| r.run.as_str()).collect::<BTreeSet<_>>().len()
    };
    let mut did = Vec::new();
    did.extend((of(false) > 0).then(|| format!("altered {}", counted(of(false), "run"))));
    did.extend((of(true) > 0).then(|| format!("took out {}", counted(of(true), "run"))));
    did.extend(all.iter().any(|n| !n.sheet.is_empty()).then(|| "altered the sheet".to_owned()));
    let did = if did.is_empty() { String::new() } else { format!("; {}", did.join(", ")) };
    let by = some(by.into_iter().map(str::to_owned));
    Some(format!("{}: by {by}{did}", what.join(" and ")))
}

/// A run as it was, and what of it is otherwise.
pub(super) fn run_words(head: &Head, run: &RunThen) -> String {
    let words: Vec<String> = run.otherwise.iter().map(|(what, was, is)| format!("{what} {was}, now {is}")).collect();
    let words = if words.is_empty() { String::new() } else { format!(" ({})", words.join("; ")) };
    format!("{}{words}", head.when(run.at))
}

/// Each record with the files it changed, and below it what it altered. `label` is as wide as the page's labels.
pub(super) fn lines(head: &Head, page: &mut Page, all: &[&NotOurs], label: &str) {
    let blank = " ".repeat(label.len());
    for (i, one) in all.iter().take(MOST_NAMED).enumerate() {
        let hand = &one.hand;
        let files = some(hand.files.iter().map(|(p, gone)| if *gone { format!("{p} taken out") } else { p.clone() }));
        let files = if files.is_empty() { "no file".to_owned() } else { files };
        let (when, id) = (head.when(hand.at), hand.record.short());
        let what = match &one.says {
            Says::Nothing => "was not written by slipbook".to_owned(),
            Says::Kind(kind) => format!("was not written by slipbook, though marked Kind: {kind}"),
            Says::Edit => "saved an edit by hand".to_owned(),
        };
        let said = format!("{id}, \"{}\" by {} of {when}, {what}: {files}", hand.subject, hand.by);
        page.wrap(if i == 0 { label } else { &blank }, &said);
        let (gone, altered): (Vec<&RunThen>, Vec<_>) = one.runs.iter().partition(|r| r.otherwise.is_empty());
        for (what, runs) in [("altered", altered), ("took out", gone)].into_iter().filter(|(_, r)| !r.is_empty()) {
            let named = some(runs.iter().map(|r| run_words(head, r)));
            page.wrap(&blank, &format!("it {what} {}: {named}", counted(runs.len(), "run")));
        }
        if !one.sheet.is_empty() {
            page.wrap(&blank, &format!("it altered the sheet: {}", some(one.sheet.iter().cloned())));
        }
    }
    if all.len() > MOST_NAMED {
        let more = counted(all.len() - MOST_NAMED, "record");
        page.wrap(&blank, &format!("and {more} more not written by slipbook: --format json"));
    }
}

/// The same as JSON.
pub(super) fn json(all: &[NotOurs]) -> Vec<Json> {
    let one = |n: &NotOurs| {
        let (gone, altered): (Vec<&RunThen>, Vec<_>) = n.runs.iter().partition(|r| r.otherwise.is_empty());
        let run = |r: &&RunThen| {
            let words = r.otherwise.iter().map(|(what, was, now)| json!({"what": what, "was": was, "now": now}));
            json!({"run": r.run, "at": r.at.iso(), "path": r.path, "otherwise": words.collect::<Vec<_>>()})
        };
        let mut told = hand_json(n);
        told["runs_gone"] = gone.iter().map(run).collect();
        told["runs_changed"] = altered.iter().map(run).collect();
        told["sheet"] = json!(n.sheet);
        told
    };
    all.iter().map(one).collect()
}

/// The record alone as JSON.
pub(super) fn hand_json(n: &NotOurs) -> Json {
    let hand = &n.hand;
    let files: Vec<Json> = hand.files.iter().map(|(path, gone)| json!({"path": path, "gone": gone})).collect();
    let kind = match &n.says {
        Says::Nothing => None,
        Says::Kind(kind) => Some(kind.as_str()),
        Says::Edit => Some("other"),
    };
    json!({
        "record": hand.record.to_string(), "at": hand.at.iso(), "by": hand.by, "subject": hand.subject, "kind": kind,
        "saved_edit": n.says == Says::Edit, "files": files,
    })
}
