//! Whether a book is whole, and what of it is not.

use super::layout::{Head, Page, counted, id_lines};
use super::not_ours::{self, some};
use crate::garage::{After, Harm, NotOurs, RunThen, Stands, Verified, Wrong};
use crate::slip::Moment;
use serde_json::{Value as Json, json};
use std::collections::HashMap;

/// As many of what is wrong are named on a screen.
const MOST: usize = 40;

/// As text.
///
/// `copy`: where the last copy of the book went.
pub fn text(head: &Head, told: &Verified, unsaved: &[(String, &'static str)], copy: Option<&str>) -> String {
    let sound = &told.sound;
    let wrong = &sound.wrong;
    let mut page = head.page(&match (wrong.len(), told.is_good()) {
        (0, true) if taken(told) => {
            let said = not_ours::summary(&told.not_ours).map(|s| format!("; {s}")).unwrap_or_default();
            format!("the book is whole, and what came after that id took out or altered some of it{said}")
        }
        (0, true) => match not_ours::summary(&told.not_ours) {
            None => "the book is whole: every record reads, every run's setup is there".to_owned(),
            Some(said) => format!("the book is whole, but {said}"),
        },
        (0, false) if told.unreadable.is_some() => "the book cannot be read as a whole".to_owned(),
        (0, false) => "the book is whole, and is not the one that was handed over".to_owned(),
        (n, _) => format!("{} not as {} should be", counted(n, "thing"), if n == 1 { "it" } else { "they" }),
    });
    wrong_lines(head, &mut page, wrong, told.back.is_some());
    // What came after an id is told with it.
    let after: &[NotOurs] = match &told.stands {
        Some(Stands::Since { after, .. }) => &after.by_hand,
        _ => &[],
    };
    let others: Vec<&NotOurs> =
        told.not_ours.iter().filter(|n| !after.iter().any(|a| a.hand.record == n.hand.record)).collect();
    not_ours::lines(head, &mut page, &others, "  not ours  ");
    if let Some(back) = &told.back {
        let (when, id) = (head.when(back.at), back.record.short());
        page.wrap("  newest    ", &format!("the newest record that is there: {id}, \"{}\" of {when}", back.subject));
        let how = format!(
            "in the car's folder, git update-ref refs/heads/main {} makes it the newest. No file of the folder is \
             touched: what they hold beyond it, slipbook sheet --save records again",
            back.record
        );
        page.wrap("  go back   ", &how);
    }
    if let Some(why) = &told.unreadable {
        page.wrap("  so        ", &format!("not all of it can be opened: {why}"));
    }
    let counts = [(sound.records, "record"), (sound.sheets, "sheet")];
    let counts: Vec<String> = counts.iter().map(|(n, one)| counted(*n, one)).collect();
    let runs = if told.unreadable.is_none() { format!(", {}", counted(sound.runs, "run")) } else { String::new() };
    page.wrap(
        "  good      ",
        &format!("{}{runs}; of what holds now {} of {} files", counts.join(", "), told.now.0, told.now.1),
    );
    if let Some(id) = &told.id {
        id_lines(&mut page, ["  id now     ", "  check word ", "  in full    "], id);
    }
    match &told.stands {
        Some(Stands::Same) => page.wrap("  against   ", "it is that book, unaltered"),
        Some(Stands::Since { at, after, record }) => since(head, &mut page, (&record.short(), *at), after),
        Some(Stands::Other) => page
            .wrap("  against   ", "neither the book nor any record of it has that id: it is another, or was altered"),
        None => {}
    }
    let (deleted, edited): (Vec<_>, Vec<_>) = unsaved.iter().partition(|(_, what)| *what == "deleted");
    let named = |all: &[&(String, &str)]| all.iter().map(|(path, _)| path.clone()).collect::<Vec<_>>().join(", ");
    if !edited.is_empty() {
        let files = named(&edited);
        page.wrap(
            "  by hand   ",
            &format!("{files}: edited and not saved, so no part of this (slipbook sheet --save)"),
        );
    }
    if !deleted.is_empty() {
        let files = named(&deleted);
        let it = if deleted.len() == 1 { "it" } else { "them" };
        let said = format!(
            "{files}: deleted from the folder, and whole on record (slipbook sheet --put-back brings {it} back)"
        );
        page.wrap("  by hand   ", &said);
    }
    if wrong.iter().any(|w| w.harm == Harm::Lost) {
        let last = copy.map(|to| format!("; the last one went to {to}")).unwrap_or_default();
        page.wrap("", &format!("slipbook receive COPY mends it, from a copy or a bundle of this book{last}."));
    }
    page.text()
}

/// Whether something that was there at the id is gone or otherwise.
fn taken(told: &Verified) -> bool {
    matches!(&told.stands, Some(Stands::Since { after, .. }) if !after.only_added())
}

/// What came after the record that has the id.
fn since(head: &Head, page: &mut Page, (record, at): (&str, Moment), after: &After) {
    let by =
        some(after.by.iter().map(|(name, n)| if after.by.len() == 1 { name.clone() } else { format!("{name} {n}") }));
    let unaltered = match after.only_added() && after.by_hand.is_empty() {
        true => "whole and unaltered since that id",
        false => "it was that book, and every record up to that id is there as it was",
    };
    let (came, when) = (counted(after.records, "record"), head.when(at));
    page.wrap("  against   ", &format!("{unaltered} ({when}, {record}); {came} came after it, by {by}"));
    not_ours::lines(head, page, &after.by_hand.iter().collect::<Vec<_>>(), "  not ours  ");
    let run = |r: &RunThen| {
        let record = r.record.map(|id| format!(" by {}", id.short())).unwrap_or_default();
        let hand = if r.by_hand { ", not slipbook's" } else { "" };
        format!("{}{record}{hand}", not_ours::run_words(head, r))
    };
    let mut told = |label: &str, what: String, all: &[String]| {
        if !all.is_empty() {
            page.wrap(&format!("  {label:<10}"), &format!("{what}: {}", some(all.iter().cloned())));
        }
    };
    let is = |n: usize| if n == 1 { "is" } else { "are" };
    let gone: Vec<String> = after.runs_gone.iter().map(run).collect();
    told("gone", format!("{} of then", counted(gone.len(), "run")), &gone);
    let changed: Vec<String> = after.runs_changed.iter().map(run).collect();
    told("altered", format!("{} of then", counted(changed.len(), "run")), &changed);
    let files = &after.files_gone;
    told("gone", format!("{} of then {} no longer there", counted(files.len(), "file"), is(files.len())), files);
    let days = &after.days_changed;
    told("altered", format!("{} lost a reading or had one altered", counted(days.len(), "day")), days);
    let versions = &after.versions_gone;
    told("gone", format!("{} of then {} not there", counted(versions.len(), "version"), is(versions.len())), versions);
    let sheets = &after.sheets_changed;
    told("altered", format!("the sheet of {} of then", counted(sheets.len(), "version")), sheets);
    if let Some(why) = &after.unread {
        page.wrap("            ", &format!("its versions could not be compared: {why}"));
    }
    if !after.only_added() {
        let note = format!("as it was then it still is in the record {record}: git show {record}:PATH prints a file");
        page.wrap("            ", &note);
    }
}

/// The same as JSON.
fn after_json(after: &After) -> Json {
    let run = |r: &RunThen| {
        let words: Vec<Json> =
            r.otherwise.iter().map(|(what, was, now)| json!({"what": what, "was": was, "now": now})).collect();
        json!({
            "run": r.run, "at": r.at.iso(), "path": r.path, "otherwise": words, "record": r.record.map(|r| r.to_string()),
            "by_slipbook": r.record.map(|_| !r.by_hand),
        })
    };
    json!({
        "by": after.by.iter().map(|(name, n)| json!({"name": name, "records": n})).collect::<Vec<_>>(),
        "not_by_slipbook": after.by_hand.iter().map(not_ours::hand_json).collect::<Vec<_>>(),
        "runs_gone": after.runs_gone.iter().map(run).collect::<Vec<_>>(),
        "runs_changed": after.runs_changed.iter().map(run).collect::<Vec<_>>(),
        "files_gone": after.files_gone, "days_changed": after.days_changed, "versions_gone": after.versions_gone,
        "sheets_changed": after.sheets_changed, "unread": after.unread, "only_added": after.only_added(),
    })
}

/// Names what is wrong, one line a file. `newest`: the record that is lost is the newest, and those before it are there.
pub(super) fn wrong_lines(head: &Head, page: &mut Page, wrong: &[Wrong], newest: bool) {
    let mut files: Vec<(&Wrong, usize)> = Vec::new();
    let mut place: HashMap<(&str, Harm), usize> = HashMap::new();
    for one in wrong {
        // A record is a thing of its own.
        let known = (!one.path.is_empty()).then(|| place.get(&(one.path.as_str(), one.harm)).copied()).flatten();
        match known {
            Some(i) => files[i].1 += 1,
            None => {
                place.insert((&one.path, one.harm), files.len());
                files.push((one, 0));
            }
        }
    }
    for (one, more) in files.iter().take(MOST) {
        let (label, rest) = named(head, one, newest);
        let more = if *more == 0 { String::new() } else { format!(" (and {more} more in this file)") };
        page.wrap(&format!("  {label:<10}"), &format!("{rest}{more}"));
    }
    if files.len() > MOST {
        page.line(format!("  and {} more: --format json", files.len() - MOST));
    }
}

/// What is wrong, in words: what it is, and the rest.
fn named(head: &Head, wrong: &Wrong, newest: bool) -> (&'static str, String) {
    let label = match wrong.harm {
        Harm::Lost => "lost",
        Harm::Form => "not ours",
        Harm::Content => "not right",
    };
    let what = match wrong.path.as_str() {
        "" if wrong.harm == Harm::Lost && newest && wrong.record.is_none() => {
            format!("the newest record, {}", wrong.object.short())
        }
        "" if wrong.harm == Harm::Lost => format!("the record {} and those before it", wrong.object.short()),
        "" => format!("the record {}", wrong.object.short()),
        "." => "all files".to_owned(),
        path => path.to_owned(),
    };
    let of = match &wrong.said {
        Some((at, said)) if wrong.path.is_empty() => format!(", which \"{said}\" of {} follows", head.when(*at)),
        Some((at, said)) => format!(", first in \"{said}\" of {}", head.when(*at)),
        None => String::new(),
    };
    (label, format!("{what}{of}: {}", wrong.why))
}

/// What is wrong, as JSON.
pub fn wrong_json(wrong: &[Wrong]) -> Vec<Json> {
    let one = |w: &Wrong| {
        json!({
            "harm": w.harm, "path": w.path, "record": w.record.map(|r| r.to_string()), "object": w.object.to_string(),
            "at": w.said.as_ref().map(|(at, _)| at.iso()), "subject": w.said.as_ref().map(|(_, s)| s), "why": w.why,
        })
    };
    wrong.iter().map(one).collect()
}

/// As JSON.
pub fn json(head: &Head, told: &Verified, unsaved: &[(String, &'static str)]) -> Json {
    let against = told.stands.as_ref().map(|s| match s {
        Stands::Same => json!({"is": "same", "record": Json::Null, "at": Json::Null, "added": 0, "after": Json::Null}),
        Stands::Since { record, at, after } => json!({
            "is": "since", "record": record.to_string(), "at": at.iso(), "added": after.records,
            "after": after_json(after),
        }),
        Stands::Other => {
            json!({"is": "other", "record": Json::Null, "at": Json::Null, "added": Json::Null, "after": Json::Null})
        }
    });
    json!({
        "car": head.car, "good": told.is_good(), "records": told.sound.records, "sheets": told.sound.sheets,
        "days": told.sound.days, "runs": told.sound.runs, "files_now": told.now.1, "good_files_now": told.now.0,
        "wrong": wrong_json(&told.sound.wrong), "unreadable": told.unreadable,
        "handover_id": told.id.map(|id| id.to_string()), "handover_words": told.id.map(|id| id.words()[..6].to_vec()),
        "check_word": told.id.map(|id| id.words()[6]), "not_by_slipbook": not_ours::json(&told.not_ours),
        "against": against, "not_saved": unsaved.iter().map(|(path, _)| path).collect::<Vec<_>>(),
        "deleted": unsaved.iter().filter(|(_, what)| *what == "deleted").map(|(path, _)| path).collect::<Vec<_>>(),
        "newest_there": told.back.as_ref().map(|b| json!({
            "record": b.record.to_string(), "at": b.at.iso(), "subject": b.subject,
        })), "tip": told.head.map(|h| h.to_string()),
    })
}
