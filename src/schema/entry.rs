//! What a racer types → edits: `limiter down 1/4, rear shocks looser 2`, `rear.tire.pressure=12.0/12.25`.

use super::assign::assignment;
use super::clause::{Clause, match_clause};
use super::{Edit, Schema, Sheet};

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
                edits.extend(match_clause(ctx, &clause, choose)?);
            }
        }
    }
    if edits.is_empty() { Err(EntryError::Empty) } else { Ok(edits) }
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
