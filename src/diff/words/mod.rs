//! The words a change is told in: one place phrases them. What they are stands in `schema/*.toml` (nouns and `tell` of
//! the fields, kinds, `together.toml`); here it is found out what happened, and which words are meant for it.

mod called;
mod fold;
mod lists;
mod names;
mod notes;
mod numbers;
mod pairs;
mod record;
mod show;
mod single;
mod step;
mod story;
mod subject;
mod template;

pub use called::{called, called_all, from_to};
pub use notes::{LineChange, NoteLine, note_lines};
pub use record::{confirmed, found, mended};
pub use show::{show, show_doubting, show_value, visible};
pub use subject::{LONGEST_SUBJECT, NOTHING_CHANGED, back_to, body, subject};

use super::SheetDiff;
use crate::schema::{Schema, Sheet};

/// One clause of the story: one thing that happened, with all fields folded into it.
#[derive(Debug, Clone, PartialEq, Eq, serde::Serialize)]
pub struct Clause {
    /// Heading of a diff: weight, front, rear, driveline, launch, engine, body, note, own.
    pub group: String,
    /// The whole clause: "limiter lowered 0.25 in (1.00 -> 0.75)". ASCII but for the racer's own names.
    pub text: String,
    /// Short form for a list of several, and for "back to": "limiter down 0.25 in".
    pub brief: String,
    /// The fields told in it.
    pub fields: Vec<String>,
    /// A hand turned something (false: measured, described or noted only).
    pub turned: bool,
}

/// The order a racer tells a car in: chassis first.
const TOLD: [&str; 9] = ["rear", "front", "weight", "driveline", "launch", "body", "engine", "own", "note"];

/// The clauses of a difference, in the order a racer tells it: rear, front, weight, driveline, launch, body, engine,
/// own, note. Every changed field is told in exactly one.
pub fn clauses(schema: &Schema, old: &Sheet, new: &Sheet, diff: &SheetDiff) -> Vec<Clause> {
    let mut out = fold::clauses(story::Story { schema, old, new }, diff);
    let place = |c: &Clause| {
        let group = TOLD.iter().position(|g| *g == c.group).unwrap_or(TOLD.len());
        (group, c.fields.iter().map(|k| schema.order(k)).min())
    };
    out.sort_by_key(place);
    out
}
