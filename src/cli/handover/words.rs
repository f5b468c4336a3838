//! What a handover leaves out, and what stays in it all the same, in words.

use super::{rejoined, what_of};
use crate::cli::history::named_field;
use crate::garage::{Book, History, LeaveOut, Outgoing, Rewritten, areas};
use crate::render;
use std::collections::BTreeSet;

/// What is not in the file, in words that tell none of it: a field of the car's own is called as its owner calls it.
pub(super) fn said(
    book: &Book,
    history: &History,
    out: &LeaveOut,
    since: Option<&str>,
    wanted: &[String],
) -> Vec<String> {
    let mut words = Vec::new();
    if let (Some(v), Some(_)) = (out.before, since) {
        words.push(format!("what was before {}", history.timeline.versions[v].number));
    }
    words.extend(out.notes.then(|| "notes and reasons".to_owned()));
    words.extend(out.scrub.people.then(|| "names of owners and of those who wrote".to_owned()));
    words.extend(out.files.then(|| "files by hand".to_owned()));
    words.extend(out.scrub.phones.then(|| "phone numbers".to_owned()));
    if !out.fields.is_empty() {
        let groups = areas(&book.schema);
        let own = |w: &str| {
            let field = named_field(book, w).ok().filter(|_| !groups.contains(&w.to_lowercase()))?;
            Some(field.key.clone()).filter(|key| key.starts_with("own."))
        };
        let (mut said, mut of_own) = (Vec::new(), BTreeSet::new());
        for word in rejoined(wanted, &groups).into_iter().filter(|w| what_of(&w.to_lowercase()).is_none()) {
            match own(&word) {
                Some(key) => drop(of_own.insert(key)),
                None => said.push(word),
            }
        }
        let fields = render::handover::fields_counted(out.fields.len());
        let bare = said.is_empty();
        match of_own.len() {
            0 => {}
            1 => said.push("a field of the car's own".to_owned()),
            n => said.push(format!("{n} fields of the car's own")),
        }
        words.push(match (said.is_empty(), bare) {
            (true, _) => fields,
            (_, true) => said.join(", "),
            _ => format!("{} ({fields})", said.join(", ")),
        });
    }
    words
}

/// What stays in a rewritten copy all the same, in words that tell none of it.
pub(super) fn kept(
    book: &Book,
    history: &History,
    out: &LeaveOut,
    found: &Outgoing,
    still: &Outgoing,
    copy: &Rewritten,
) -> Vec<String> {
    let mut words = Vec::new();
    if !copy.stay.is_empty() {
        let places: Vec<&str> = copy.stay.iter().map(String::as_str).collect();
        words.push(format!("what was left out, where it is in {}", places.join(", ")));
    }
    if out.scrub.people && found.has_initials() {
        words.push("single letters of names, where they stand in a text".to_owned());
    }
    if out.scrub.people && found.has_unparted() {
        words.push("parts of names written without blanks, where one stands alone".to_owned());
    }
    let notes = [
        (out.scrub.people, "they may name people who never wrote in the book"),
        (!out.fields.is_empty(), "they may tell of what was left out"),
    ];
    let notes: Vec<&str> = notes.into_iter().filter(|(so, _)| *so && still.notes > 0).map(|(_, words)| words).collect();
    if !notes.is_empty() {
        words.push(format!("notes and reasons: {}", notes.join("; ")));
    }
    if !out.fields.is_empty() {
        let read = |name: &str| history.runs.iter().any(|m| m.run.numbers.contains_key(name));
        let on_slip = |unit: &str| matches!(unit, "s" | "mph");
        let numbers = book.schema.run.number.iter().filter(|n| !on_slip(&n.unit) && read(&n.name));
        let labels: Vec<&str> = numbers.map(|n| n.label.as_str()).collect();
        if !labels.is_empty() {
            words.push(format!("what was read on the runs, whatever was left out: {}", labels.join(", ")));
        }
    }
    words
}
