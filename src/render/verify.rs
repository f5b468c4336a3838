//! Whether a book is whole, and what of it is not.

use super::layout::{Head, counted};
use crate::garage::{Harm, Stands, Verified, Wrong};
use serde_json::{Value as Json, json};

/// As many of what is wrong are named on a screen.
const MOST: usize = 40;

/// As text.
pub fn text(head: &Head, told: &Verified, unsaved: &[String]) -> String {
    let sound = &told.sound;
    let wrong = &sound.wrong;
    let mut page = head.page(&match (wrong.len(), told.is_good()) {
        (0, true) => "the book is whole: every record reads, every run's setup is there".to_owned(),
        (0, false) if told.unreadable.is_some() => "the book cannot be read as a whole".to_owned(),
        (0, false) => "the book is whole, and is not the one that was handed over".to_owned(),
        (n, _) => format!("{} not as {} should be", counted(n, "thing"), if n == 1 { "it" } else { "they" }),
    });
    for one in wrong.iter().take(MOST) {
        let (label, rest) = named(head, one);
        page.wrap(&format!("  {label:<10}"), &rest);
    }
    if wrong.len() > MOST {
        page.line(format!("  and {} more: --format json", wrong.len() - MOST));
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
        page.wrap("  id now    ", &id.words().join(" "));
        page.wrap("  in full   ", &id.to_string());
    }
    match &told.stands {
        Some(Stands::Same) => page.wrap("  against   ", "it is that book, unaltered"),
        Some(Stands::Since { at, added, record }) => {
            let (added, when) = (counted(*added, "record"), head.when(*at));
            let said = format!("whole and unaltered since that id ({when}, {}); {added} came after it", record.short());
            page.wrap("  against   ", &said);
        }
        Some(Stands::Other) => page
            .wrap("  against   ", "neither the book nor any record of it has that id: it is another, or was altered"),
        None => {}
    }
    if !unsaved.is_empty() {
        let files = unsaved.join(", ");
        page.wrap(
            "  by hand   ",
            &format!("{files}: edited and not saved, so no part of this (slipbook sheet --save)"),
        );
    }
    if wrong.iter().any(|w| w.harm == Harm::Lost) {
        page.wrap("", "What is lost may be in a copy: slipbook copy made it, `git fsck` names the objects.");
    }
    page.text()
}

/// What is wrong, in words: what it is, and the rest.
fn named(head: &Head, wrong: &Wrong) -> (&'static str, String) {
    let label = match wrong.harm {
        Harm::Lost => "lost",
        Harm::Form => "not ours",
        Harm::Content => "not right",
    };
    let what = match wrong.path.as_str() {
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
pub fn json(head: &Head, told: &Verified, unsaved: &[String]) -> Json {
    let against = told.stands.as_ref().map(|s| match s {
        Stands::Same => json!({"is": "same", "record": Json::Null, "at": Json::Null, "added": 0}),
        Stands::Since { record, at, added } => {
            json!({"is": "since", "record": record.to_string(), "at": at.iso(), "added": added})
        }
        Stands::Other => json!({"is": "other", "record": Json::Null, "at": Json::Null, "added": Json::Null}),
    });
    json!({
        "car": head.car, "good": told.is_good(), "records": told.sound.records, "sheets": told.sound.sheets,
        "days": told.sound.days, "runs": told.sound.runs, "files_now": told.now.1, "good_files_now": told.now.0,
        "wrong": wrong_json(&told.sound.wrong), "unreadable": told.unreadable,
        "handover_id": told.id.map(|id| id.to_string()), "handover_words": told.id.map(|id| id.words()),
        "against": against, "not_saved": unsaved, "tip": told.head.map(|h| h.to_string()),
    })
}
