//! The texts in a book's files: where each stands, and what it is to whoever hands the book over. What goes along is
//! found, cleaned and looked for once more by this one table.
//!
//! It is closed: what it does not tell of is unknown, and a text is the program's own only where it has the form of one.

mod form;
mod table;

pub(super) use form::{is_hex, run_id as is_run_id, version as is_version};

use super::rewrite::is_free_note;
use crate::schema::{Field, Schema, Takes, flag_word};
use std::ops::Range;
use table::Row;
use toml::{Table, Value as Toml};

/// What a text is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Is {
    /// The name of a person.
    Person,
    /// Free words beside the record: they stay here with the notes.
    Note,
    /// Other words of somebody's.
    Words,
    /// What a thing is called, which stays: what thing.
    Name(&'static str),
    /// An id of a run that a hand made up: a rewritten copy has another.
    Run,
    /// One of the program's own words, an id, a time, a condition.
    Fixed,
    /// Nothing this program knows of: no rewritten copy has it.
    Unknown,
}

/// A text, and where it stands.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Piece {
    /// The key it stands under, dotted; empty for a comment, or where the file is of no known form.
    pub key: String,
    /// The text. Under a key that is not known: the name of the key and all that stands there.
    pub text: String,
}

/// What the car is called: of all names this one is no news.
pub const CAR_NAME: &str = "the car's name";

/// A key or a choice of one, which the sheets hold.
const OWN_FIELD: Is = Is::Name("a field of the car's own");

/// The name of a part.
const PART_NAME: Is = Is::Name("a part's name");

/// The name of a rule.
const OWN_RULE: Is = Is::Name("a rule of the car's own");

/// The texts of a file, however they are written there: what stands under its keys, and its comments; numbers are none.
pub fn pieces(schema: &Schema, path: &str, text: &str) -> Vec<Piece> {
    let Ok(table) = text.parse::<Table>() else { return vec![Piece { key: String::new(), text: text.to_owned() }] };
    let mut walk = Walk { schema, path, out: Vec::new() };
    walk.table(&table, "");
    // Behind a value a `#` is no sure sign of a comment: such a tail is a text as well, and seen twice if it is none.
    let comments = text.lines().filter_map(|l| l.split_once('#')).map(|(_, c)| c.to_owned());
    walk.out.extend(comments.map(|text| Piece { key: String::new(), text }));
    walk.out
}

struct Walk<'a> {
    schema: &'a Schema,
    path: &'a str,
    out: Vec<Piece>,
}

impl Walk<'_> {
    fn put(&mut self, key: &str, text: impl Into<String>) {
        self.out.push(Piece { key: key.to_owned(), text: text.into() });
    }

    fn table(&mut self, table: &Table, key: &str) {
        for (name, value) in table {
            let at = below(key, name);
            if !is_known(self.schema, self.path, &at) {
                self.put(&at, format!("{name} = {}", flat(value)));
                continue;
            }
            if table::names_are_texts(self.path, key) {
                self.put(key, name);
            }
            self.value(value, &at);
        }
    }

    fn value(&mut self, value: &Toml, key: &str) {
        match value {
            Toml::String(text) if takes_keys(self.schema, self.path, key) => {
                let keys = keys_in(self.schema, text);
                keys.iter().for_each(|k| self.put(key, &text[k.clone()]));
                let rest = beside(text, &keys);
                if !rest.trim().is_empty() {
                    self.put(key, rest);
                }
            }
            Toml::String(text) => self.put(key, text),
            Toml::Array(list) => list.iter().for_each(|v| self.value(v, key)),
            Toml::Table(table) => self.table(table, key),
            _ => {}
        }
    }
}

/// All that stands in a value, as it is written but for quotes.
fn flat(value: &Toml) -> String {
    match value {
        Toml::String(text) => text.clone(),
        Toml::Array(list) => list.iter().map(flat).collect::<Vec<_>>().join(", "),
        Toml::Table(table) => {
            table.iter().map(|(name, v)| format!("{name} = {}", flat(v))).collect::<Vec<_>>().join(", ")
        }
        other => other.to_string(),
    }
}

/// The key of what stands under a name in a table.
pub fn below(key: &str, name: &str) -> String {
    if key.is_empty() { name.to_owned() } else { format!("{key}.{name}") }
}

/// Whether a file of this path has something under a key.
pub fn is_known(schema: &Schema, path: &str, key: &str) -> bool {
    let of_sheet = |key: &str| {
        let under = |f: &Field| f.key.strip_prefix(key).is_some_and(|rest| rest.starts_with('.'));
        schema.locate(key).is_some() || schema.fields.iter().any(under)
    };
    match table::row(schema, path, key) {
        _ if path == super::sound::SHEET => key == "format" || of_sheet(key),
        Some(Row::Sheet) => of_sheet(value_of_part(key)),
        Some(_) => true,
        None => table::holds(path, key),
    }
}

/// The key of the sheet in that of a part's value.
fn value_of_part(key: &str) -> &str {
    key.strip_prefix("part.values.").unwrap_or(key)
}

/// What a text under a key of a file is; an empty key is a comment.
pub fn what(schema: &Schema, path: &str, key: &str, text: &str) -> Is {
    let own = |is_own: bool| if is_own { Is::Fixed } else { Is::Words };
    if key.is_empty() {
        return Is::Words;
    }
    if path == super::sound::SHEET {
        return of_sheet(schema, key, text);
    }
    match table::row(schema, path, key) {
        None => Is::Unknown,
        Some(Row::As(is)) => is,
        Some(Row::Own(_)) if key == "rule.id" && text.starts_with("own.") => OWN_RULE,
        Some(Row::Own(is_own)) => own(is_own(text)),
        Some(Row::Run) if form::run_id(text) => Is::Fixed,
        Some(Row::Run) => Is::Run,
        Some(Row::Sheet) => of_sheet(schema, value_of_part(key), text),
        Some(Row::Keys) => {
            let keys = keys_in(schema, text);
            let known = beside(text, &keys).split(BETWEEN_WORDS).all(form::of_conditions);
            match keys.iter().any(|k| text[k.clone()].starts_with("own.")) {
                true if known => OWN_FIELD,
                _ => own(known),
            }
        }
    }
}

/// Whether what stands under a key are keys of fields, and conditions on them.
pub fn takes_keys(schema: &Schema, path: &str, key: &str) -> bool {
    matches!(table::row(schema, path, key), Some(Row::Keys))
}

/// What stands between the words of a condition.
const BETWEEN_WORDS: [char; 6] = [' ', ',', '<', '>', '(', ')'];

/// Where keys of fields stand in a condition, or in a text that is one.
pub fn keys_in(schema: &Schema, text: &str) -> Vec<Range<usize>> {
    let is_key = |t: &str| schema.locate(t).is_some() || t == "own." || schema.fields.iter().any(|f| f.key == t);
    if is_key(text) {
        return std::iter::once(0..text.len()).collect();
    }
    let part = |c: Option<char>| c.is_some_and(|c| c.is_alphanumeric() || matches!(c, '_' | '.'));
    // A name a hand gave may have blanks in it.
    let own = schema.fields.iter().filter(|f| f.key.starts_with("own.")).flat_map(|f| {
        let ends = |at: usize| {
            let rest = &text[at + f.key.len()..];
            // With the slot of it.
            let slot = |s: &&crate::schema::Slot| rest.strip_prefix('.').is_some_and(|r| r.starts_with(s.id.as_str()));
            at + f.key.len() + f.slot_list().iter().find(slot).map_or(0, |s| s.id.len() + 1)
        };
        text.match_indices(f.key.as_str()).map(move |(at, _)| at..ends(at)).collect::<Vec<_>>()
    });
    let whole = |r: &Range<usize>| !part(text[..r.start].chars().next_back()) && !part(text[r.end..].chars().next());
    let mut found: Vec<Range<usize>> = own.filter(whole).collect();
    let mut at = 0;
    for word in text.split(BETWEEN_WORDS) {
        let range = at..at + word.len();
        at = range.end + 1;
        if !word.is_empty() && is_key(word) {
            found.push(range);
        }
    }
    found.sort_by_key(|r| (r.start, std::cmp::Reverse(r.end)));
    let mut end = 0;
    found.retain(|r| {
        let free = r.start >= end;
        end = if free { r.end } else { end };
        free
    });
    found
}

/// A text without what stands there.
fn beside(text: &str, taken: &[Range<usize>]) -> String {
    let (mut out, mut at) = (String::new(), 0);
    for range in taken {
        out.push_str(&text[at..range.start]);
        at = range.end;
    }
    out + &text[at..]
}

/// A condition, or a key, with its words changed and its keys as they are.
pub fn beside_keys(schema: &Schema, text: &str, change: &dyn Fn(&str) -> String) -> String {
    let (mut out, mut at) = (String::new(), 0);
    for range in keys_in(schema, text) {
        out.push_str(&change(&text[at..range.start]));
        out.push_str(&text[range.clone()]);
        at = range.end;
    }
    out + &change(&text[at..])
}

fn of_sheet(schema: &Schema, key: &str, text: &str) -> Is {
    let Some((field, slot)) = schema.locate(key) else { return Is::Unknown };
    let fixed = |is_own: bool| if is_own { Is::Fixed } else { Is::Words };
    match slot.map_or(field.takes(), |i| field.slot_takes(i)) {
        _ if field.kind == "own_part" => PART_NAME,
        _ if is_free_note(field) => Is::Note,
        Takes::Choice if field.choices.iter().any(|c| c == text) => {
            if field.key.starts_with("own.") {
                OWN_FIELD
            } else {
                Is::Fixed
            }
        }
        Takes::Text | Takes::Choice => Is::Words,
        _ if slot.is_none() && has_text(field) => Is::Words,
        Takes::Number => fixed(form::number(text)),
        Takes::Flag => fixed(flag_word(text).is_some()),
    }
}

/// What a `Typed:` trailer says of a field: `KEY reading VALUE`, `KEY step N`, `KEY off`; by hand it may be anything.
pub fn what_typed(schema: &Schema, trailer: &str) -> Is {
    let (path, said) = trailer.split_once(' ').unwrap_or((trailer, ""));
    let Some((field, _)) = schema.locate(path) else { return Is::Words };
    let of_field = |w: &str| {
        let choices = field.choices.iter().flat_map(|c| c.split(|c: char| !of_word(c)));
        w.is_empty() || form::of_typed(w) || field.slot_index(w).is_some() || choices.into_iter().any(|c| c == w)
    };
    match field.kind.as_str() {
        // The name of a part is what its runs and its record are found by.
        "own_part" => PART_NAME,
        _ if !has_text(field) && said.split(|c: char| !of_word(c)).all(of_field) => Is::Fixed,
        _ => Is::Words,
    }
}

fn of_word(c: char) -> bool {
    c.is_alphanumeric() || c == '_'
}

/// Whether a field holds words, itself or in a column.
pub fn has_text(field: &Field) -> bool {
    field.takes() == Takes::Text || (0..field.slot_list().len()).any(|i| field.slot_takes(i) == Takes::Text)
}

#[cfg(test)]
mod tests;
