//! The words a change is told in: one place phrases them (see schema/kinds.toml and the nouns of the fields).

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

/// The clauses of a difference, in the order a racer tells it: rear, front, weight, driveline, launch, body, engine, own, note.
pub fn clauses(_schema: &Schema, _old: &Sheet, _new: &Sheet, _diff: &SheetDiff) -> Vec<Clause> {
    Vec::new()
}

/// tmp
pub fn subject(c: &[Clause]) -> String { let _ = c; "changed".into() }
/// tmp
pub fn body(_: &[Clause]) -> Option<String> { None }
/// tmp
pub fn back_to(v: &str, _: &[Clause]) -> String { format!("back to {v}") }
/// tmp
pub fn show_value(_: &Schema, f: &crate::schema::Field, v: &crate::schema::Value) -> String { crate::schema::inline(f, v) }
/// tmp
pub fn visible(t: &str) -> String { t.chars().map(|c| if c.is_control() { '?' } else { c }).collect() }
