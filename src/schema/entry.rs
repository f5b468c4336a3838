//! What a racer types → edits: `limiter down 1/4, rear shocks looser 2`, `rear.tire.pressure=12.0/12.25`.

use super::assign::assignment;
use super::clause::{Clause, match_clause, match_name};
use super::{Edit, Role, Schema, Sheet};

/// A field that fits what was typed.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Candidate {
    /// Its key.
    pub key: String,
    /// Its label.
    pub label: String,
}

/// Why an entry could not be read.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum EntryError {
    /// Several fields fit.
    #[error("`{clause}` could mean several fields")]
    Ambiguous {
        /// What was typed.
        clause: String,
        /// The fields that fit.
        candidates: Vec<Candidate>,
    },
    /// No field fits.
    #[error("`{clause}`: no field of this car's sheet fits")]
    Unknown {
        /// What was typed.
        clause: String,
        /// The nearest keys.
        near: Vec<String>,
    },
    /// The field is known, the value is not.
    #[error("{why}")]
    Value {
        /// What was typed.
        clause: String,
        /// What is wrong with it.
        why: String,
        /// What would be right.
        help: String,
    },
    /// Nothing was typed.
    #[error("nothing to change was given")]
    Empty,
}

/// What an entry is read against.
#[derive(Clone, Copy)]
pub struct EntryContext<'a> {
    /// Definitions, a book's own fields included.
    pub schema: &'a Schema,
    /// The car's chassis kinds.
    pub chassis: &'a [String],
    /// The sheet the entry is about: what applies, what a step counts from.
    pub sheet: &'a Sheet,
}

/// Asked when several fields fit; `None` = refuse.
pub type Choose<'a> = dyn FnMut(&str, &[Candidate]) -> Option<usize> + 'a;

/// Reads words and `FIELD=VALUE`, clause by clause (parted by a comma, a semicolon or "and").
pub fn read_entry(ctx: EntryContext, words: &[String], choose: &mut Choose) -> Result<Vec<Edit>, EntryError> {
    let mut edits = Vec::new();
    for words in clauses(words) {
        match words.as_slice() {
            [one] if one.contains('=') => edits.push(assignment(ctx, one)?),
            _ => {
                let clause = Clause::read(ctx.schema, &words);
                edits.extend(match_clause(ctx, &clause, &|_| true, choose)?);
            }
        }
    }
    if edits.is_empty() { Err(EntryError::Empty) } else { Ok(edits) }
}

/// What a hand measured: a value, or that it was found as it is on record.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Measured {
    /// A value.
    Given(Edit),
    /// Named without a number: as it was.
    AsItWas {
        /// The field.
        key: String,
        /// The slot; `None` = all of it.
        slot: Option<usize>,
    },
}

impl Measured {
    /// The field.
    pub fn key(&self) -> &str {
        match self {
            Measured::Given(edit) => &edit.key,
            Measured::AsItWas { key, .. } => key,
        }
    }

    /// The slot.
    pub fn slot(&self) -> Option<usize> {
        match self {
            Measured::Given(edit) => edit.slot,
            Measured::AsItWas { slot, .. } => *slot,
        }
    }
}

/// Reads what was measured, clause by clause as [`read_entry`] does. A field that is named and nothing else was found
/// as it is on record. A field that a hand sets is taken only where nothing measured is meant.
pub fn read_measured(ctx: EntryContext, words: &[String], choose: &mut Choose) -> Result<Vec<Measured>, EntryError> {
    let mut out = Vec::new();
    for words in clauses(words) {
        if let [one] = words.as_slice()
            && one.contains('=')
        {
            out.push(Measured::Given(assignment(ctx, one)?));
            continue;
        }
        // A key by itself: found as it is on record. With a value behind it: that was read.
        match words.split_first().filter(|(key, _)| key.contains('.') && ctx.schema.locate(key).is_some()) {
            Some((key, [])) => {
                let located = ctx.schema.locate(key);
                out.extend(located.map(|(f, slot)| Measured::AsItWas { key: f.key.clone(), slot }));
                continue;
            }
            Some((key, value)) => {
                out.push(Measured::Given(assignment(ctx, &format!("{key}={}", value.join(" ")))?));
                continue;
            }
            None => {}
        }
        let clause = Clause::read(ctx.schema, &words);
        if let Some((field, slot)) = match_name(ctx, &clause, choose)? {
            out.push(Measured::AsItWas { key: field.key.clone(), slot });
            continue;
        }
        let found = match match_clause(ctx, &clause, &|_| true, &mut |_, _| None) {
            // Where a measured field and a set one fit alike, the measured one is meant.
            Err(EntryError::Ambiguous { .. }) => match_clause(ctx, &clause, &|f| f.role != Role::Set, choose),
            found => found,
        };
        out.extend(found?.into_iter().map(Measured::Given));
    }
    if out.is_empty() { Err(EntryError::Empty) } else { Ok(out) }
}

/// Splits into clauses; a word with `=` is a clause of its own, with everything quoted in it.
pub(super) fn clauses(words: &[String]) -> Vec<Vec<String>> {
    let mut out: Vec<Vec<String>> = vec![Vec::new()];
    let next = |out: &mut Vec<Vec<String>>| {
        if out.last().is_some_and(|c| !c.is_empty()) {
            out.push(Vec::new());
        }
    };
    for word in words {
        if is_assignment(word) {
            next(&mut out);
            if let Some(last) = out.last_mut() {
                last.push(word.clone());
            }
            next(&mut out);
            continue;
        }
        for token in word.split_whitespace() {
            let bare = token.trim_end_matches([',', ';']);
            if bare.eq_ignore_ascii_case("and") {
                next(&mut out);
                continue;
            }
            if let Some(last) = out.last_mut().filter(|_| !bare.is_empty()) {
                last.push(bare.to_owned());
            }
            if bare.len() < token.len() {
                next(&mut out);
            }
        }
    }
    out.retain(|c| !c.is_empty());
    out
}

fn is_assignment(word: &str) -> bool {
    word.split_once('=').is_some_and(|(key, _)| {
        !key.is_empty() && key.chars().all(|c| c.is_alphanumeric() || matches!(c, '.' | '_' | '-'))
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn clauses_part_at_commas_and_ands() {
        let words = ["limiter down 1/4,".to_owned(), "rear shocks looser 2 and timing 34".to_owned(), "a.b=1 2".into()];
        let got: Vec<String> = clauses(&words).iter().map(|c| c.join(" ")).collect();
        assert_eq!(got, ["limiter down 1/4", "rear shocks looser 2", "timing 34", "a.b=1 2"]);
    }
}
