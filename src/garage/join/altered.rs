//! What was on record here and is otherwise after the joining, in the words of what put it right.

use super::super::mend::live::Lived;
use super::super::mend::what_differs;
use super::car::{self, called, entry_words, gone_words, known_by, words};
use super::mended::gave_way;
use super::readings::reading_words;
use super::records::{identity, label, named, time, typed_words};
use super::side::Side;
use super::trials;
use crate::schema::{Edit, Schema};
use crate::slip::{Day, Moment, Run};
use std::collections::{BTreeMap, HashMap};
use toml::{Table, Value};

/// A book as it is afterwards.
pub(super) struct After<'a> {
    /// Its records by what they are known by, each with what was typed; `None` = as here.
    pub records: HashMap<String, (&'a Lived, Option<Vec<Edit>>)>,
    /// Its days.
    pub days: Vec<&'a Day>,
    /// Its `car.toml`.
    pub car: &'a str,
    /// Its trials by path.
    pub trials: &'a BTreeMap<String, String>,
}

impl<'a> After<'a> {
    /// Of a book that was read; `here` = the one it is held against.
    pub fn of(here: &Side, other: &'a Side, car: &'a str) -> After<'a> {
        let own: HashMap<&str, &Lived> = here.entries().iter().map(|l| (identity(l), l)).collect();
        let one = |l: &'a Lived| {
            let other_than = own.get(identity(l)).is_some_and(|was| was.entry.id != l.entry.id);
            (identity(l).to_owned(), (l, other_than.then(|| l.edits(&other.book))))
        };
        After {
            records: other.entries().iter().map(one).collect(),
            days: other.days.iter().map(|(_, day, _)| day).collect(),
            car,
            trials: &other.trials,
        }
    }
}

/// Every value of this book that is another afterwards, and what is gone.
pub(super) fn altered(here: &Side, car: &str, after: &After) -> Vec<String> {
    let mut out = Vec::new();
    for lived in here.entries() {
        match after.records.get(identity(lived)) {
            Some((now, edits)) => out.extend(record(here, lived, now, edits.as_ref())),
            None => {
                let what = lived.entry.number.as_ref().map_or_else(|| named(lived), ToString::to_string);
                out.push(format!("{what} never happened on the car ({})", lived.entry.words.join(", ")));
            }
        }
    }
    let runs: HashMap<&str, &Run> = after.days.iter().flat_map(|d| &d.runs).map(|r| (r.id.as_str(), r)).collect();
    for (_, day, _) in &here.days {
        out.extend(head(day, after));
        for run in &day.runs {
            let at = run.at.words(None);
            match runs.get(run.id.as_str()) {
                None => out.push(format!("there was no run at {at}")),
                Some(now) => match what_differs(&here.book.schema.run, run, now) {
                    same if same.is_empty() => {}
                    differs => out.push(format!("the run of {at}{differs}")),
                },
            }
        }
    }
    out.extend(car_altered(car, after.car));
    out.extend(trials::altered(&here.trials, after.trials));
    out
}

/// One record: the sentences of the mends that came from there, or what is otherwise.
fn record(here: &Side, was: &Lived, now: &Lived, edits: Option<&Vec<Edit>>) -> Vec<String> {
    let old = edits.map(|_| was.edits(&here.book)).unwrap_or_default();
    let empty = Vec::new();
    let new = edits.unwrap_or(&empty);
    if time(was) == time(now) && was.entry.why == now.entry.why && old == *new {
        return Vec::new();
    }
    let number = was.entry.number.as_ref().map_or_else(|| named(was), ToString::to_string);
    let told: Vec<&String> = now.entry.mended.iter().filter(|m| !was.entry.mended.contains(m)).collect();
    if !told.is_empty() {
        let of = |m: &&String| if m.starts_with("mended from ") { (**m).clone() } else { format!("{number} {m}") };
        return told.iter().filter(|m| !gave_way(m)).map(of).collect();
    }
    let mut out = differing(&here.book.schema, &old, new);
    if time(was) != time(now) {
        out.push(format!("it was {}", now.entry.at.words(None)));
    }
    if was.entry.why != now.entry.why {
        out.push(now.entry.why.as_ref().map_or("it had no reason".to_owned(), |w| format!("why: {w}")));
    }
    out.into_iter().map(|what| format!("{number}: {what}")).collect()
}

/// What was typed otherwise, field by field.
fn differing(schema: &Schema, old: &[Edit], new: &[Edit]) -> Vec<String> {
    let same = |a: &Edit, b: &Edit| (&a.key, a.slot) == (&b.key, b.slot);
    let gone = old.iter().filter(|e| !new.iter().any(|n| same(e, n)));
    let mut out: Vec<String> = Vec::new();
    for edit in new.iter().filter(|e| !old.contains(e)) {
        let name = label(schema, &edit.key, edit.slot);
        let was = old.iter().find(|o| same(o, edit)).map(|o| format!(", not {}", typed_words(schema, o)));
        out.push(format!("{name} {}{}", typed_words(schema, edit), was.unwrap_or_default()));
    }
    out.extend(gone.map(|e| format!("{} was not {}", label(schema, &e.key, e.slot), typed_words(schema, e))));
    out
}

/// What is said otherwise of a day itself, and of its readings.
fn head(day: &Day, after: &After) -> Vec<String> {
    let shares = |d: &&&Day| d.runs.iter().any(|r| day.runs.iter().any(|o| o.id == r.id));
    let same = |d: &&&Day| d.path() == day.path();
    let about = format!("the day of {} at {}", Moment::day_words(day.date, Some(day.date.year())), day.track);
    let Some(now) = after.days.iter().find(same).or_else(|| after.days.iter().find(shares)) else {
        return vec![format!("{about} is no more on record")];
    };
    let or_none = |t: &Option<String>| t.clone().unwrap_or_else(|| "none".to_owned());
    let feet = |d: &Day| d.elevation_ft.map_or("none".to_owned(), |n| format!("{n} ft"));
    let told = [
        ("track", day.track.clone(), now.track.clone()),
        ("date", day.date.to_string(), now.date.to_string()),
        ("finish", format!("{} ft", day.finish_ft), format!("{} ft", now.finish_ft)),
        ("elevation", feet(day), feet(now)),
        ("prep", or_none(&day.prep), or_none(&now.prep)),
        ("note", or_none(&day.note).replace('\n', "; "), or_none(&now.note).replace('\n', "; ")),
    ];
    let differs = told.into_iter().filter(|(_, was, is)| was != is);
    let mut out: Vec<String> = differs.map(|(what, was, is)| format!("{about}: {what} {is}, not {was}")).collect();
    if day.closed != now.closed {
        out.push(format!("{about} is {}", if now.closed { "closed" } else { "open again" }));
    }
    let by_clock = day.offset_seconds == now.offset_seconds;
    for reading in day.readings.iter().filter(|r| by_clock && !now.readings.contains(r)) {
        let is = now.readings.iter().find(|r| r.at == reading.at);
        let is = is.map_or("it was taken away".to_owned(), reading_words);
        let was = reading_words(reading);
        out.push(format!("{about}: the reading of {}: {is}, not {was}", reading.at.strftime("%H:%M")));
    }
    out
}

/// What `car.toml` had and has otherwise now; what is new beside it is no part of it.
fn car_altered(was: &str, now: &str) -> Vec<String> {
    let mut out = Vec::new();
    if let (Ok(was), Ok(now)) = (was.parse::<Table>(), now.parse::<Table>()) {
        keys_differing("", &was, &now, &mut out);
    }
    out
}

/// How a part went.
fn left(part: &Table) -> Option<String> {
    part.get("gone").map(|on| gone_words(on, part.get("gone_how")))
}

fn keys_differing(about: &str, was: &Table, now: &Table, out: &mut Vec<String>) {
    match (left(was), left(now)) {
        (a, b) if a == b => {}
        (_, None) => out.push(format!("{about}: it is not gone")),
        (None, Some(b)) => out.push(format!("{about}: {b}")),
        (Some(a), Some(b)) => out.push(format!("{about}: {b}, not {a}")),
    }
    let mut keys: Vec<&String> = was.keys().collect();
    keys.extend(now.keys().filter(|k| !was.contains_key(*k)));
    let told = |k: &String| matches!(k.as_str(), "gone" | "gone_how");
    for key in keys.into_iter().filter(|k| was.get(*k) != now.get(*k) && !told(k)) {
        let name = if key == "goes_with" { "goes with the car".to_owned() } else { key.replace('_', " ") };
        let about = if about.is_empty() { name } else { format!("{about}: {name}") };
        match (was.get(key), now.get(key)) {
            (Some(Value::Array(a)), b) if !known_by(key).is_empty() => {
                let empty = Vec::new();
                let b = b.and_then(Value::as_array).unwrap_or(&empty);
                for entry in a {
                    let name = format!("{} {}", called(key), entry_words(key, entry));
                    let new = b.iter().find(|v| car::identity(key, v) == car::identity(key, entry));
                    match (entry, new) {
                        (Value::Table(a), Some(Value::Table(b))) => keys_differing(&name, a, b, out),
                        (_, None) => out.push(format!("{name} was taken away")),
                        _ => {}
                    }
                }
            }
            (Some(Value::Table(a)), Some(Value::Table(b))) => keys_differing(&about, a, b, out),
            (None, Some(Value::Array(_))) if !known_by(key).is_empty() => {}
            (a, b) => {
                let said = |v: Option<&Value>| v.map_or("none".to_owned(), words);
                out.push(format!("{about} {}, not {}", said(b), said(a)));
            }
        }
    }
}
