//! What is stale, kept in the derived cache: a long history is walked back once for each change, not for each question.
//!
//! Kept as the outline is (`outline.rs`): outside the book, deleted at any time, never changing an answer.

use super::Result;
use super::book::Book;
use super::history::History;
use super::outline::{program, put, sum_of, whole};
use crate::schema::{Schema, value_from_json, value_json};
use crate::store::{Id, Store};
use crate::timeline::{Before, Cause, Stale, Taken};
use serde::{Deserialize, Serialize};
use std::fs;
use std::path::Path;

#[derive(Serialize, Deserialize)]
struct Kept {
    of: String,
    stale: Vec<One>,
}

#[derive(Serialize, Deserialize)]
struct One {
    key: String,
    slots: Vec<usize>,
    taken: Option<Taken>,
    causes: Vec<Cause>,
    /// The value as JSON.
    before: Option<(String, Taken)>,
}

/// The largest file that is read, in bytes.
const LARGEST: u64 = 16 << 20;

/// What the answer hangs on: the program, the car's own fields, and every record of the sheet.
pub fn of(book: &Book, history: &History) -> Result<Id> {
    let car = history.head.map(|h| book.store.file(h, "car.toml")).transpose()?.flatten();
    let mut text = format!("{} {:?}\n", program(), car.map(|(id, _)| id.to_string()));
    let versions = history.timeline.versions.iter().map(|v| &v.entry);
    for entry in versions.chain(history.timeline.remarks.iter().map(|r| &r.entry)) {
        text.push_str(&entry.id);
        text.push('\n');
    }
    Ok(Store::blob_id(text.as_bytes()))
}

/// Reads it; anything wrong with it is as if it were not there.
pub fn read(path: &Path, schema: &Schema, of: Id) -> Option<Vec<Stale>> {
    if fs::metadata(path).ok()?.len() > LARGEST {
        return None;
    }
    let kept: Kept = postcard::from_bytes(whole(&fs::read(path).ok()?)?).ok()?;
    if kept.of != of.to_string() {
        return None;
    }
    let one = |k: One| {
        let field = schema.field(&k.key)?;
        let before = match k.before {
            Some((json, taken)) => {
                let json = serde_json::from_str(&json).ok()?;
                Some(Before { value: value_from_json(field, &json)?, taken })
            }
            None => None,
        };
        let known = !k.causes.is_empty() && k.slots.iter().all(|i| *i < field.slots.len());
        known.then_some(Stale { key: k.key, slots: k.slots, taken: k.taken, causes: k.causes, before })
    };
    kept.stale.into_iter().map(one).collect()
}

/// Keeps it for the next time.
pub fn write(path: &Path, schema: &Schema, of: Id, stale: &[Stale]) {
    let one = |s: &Stale| {
        let field = schema.field(&s.key)?;
        let before = s.before.as_ref().map(|b| (value_json(field, &b.value).to_string(), b.taken.clone()));
        let (key, slots) = (s.key.clone(), s.slots.clone());
        Some(One { key, slots, taken: s.taken.clone(), causes: s.causes.clone(), before })
    };
    let kept = Kept { of: of.to_string(), stale: stale.iter().filter_map(one).collect() };
    if let Ok(bytes) = postcard::to_stdvec(&kept) {
        put(path, &[&sum_of(&bytes), &bytes]);
    }
}
