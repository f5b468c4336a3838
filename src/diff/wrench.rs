//! What a hand turns to make a change: holes, turns, flats, clicks, in the direction of the hand.

use super::FieldChange;
use crate::schema::{Condition, Field, Num, Scalar, Schema, Sheet, Turn, Value};

/// What one field's change takes at the car.
#[derive(Debug, Clone, PartialEq, Eq, serde::Serialize)]
pub struct Turned {
    /// The field.
    pub field: String,
    /// What to do: "4 turns down, screw 16 per inch".
    pub words: String,
    /// Where a hand stands for it.
    pub place: Option<String>,
    /// Pit minutes, tools out; absent where it is no pit job.
    pub minutes: Option<u32>,
    /// Not between rounds.
    pub shop: bool,
}

/// What the hand does for a change from `old` to `new`; `None` for what no hand turns, or what nothing is known of.
pub fn turned(schema: &Schema, old: &Sheet, new: &Sheet, change: &FieldChange) -> Option<Turned> {
    let field = schema.field(&change.key)?;
    let turn = field.turn.iter().find(|t| {
        let condition = t.when.as_deref().and_then(|w| Condition::parse(w).ok()).unwrap_or_default();
        // What kind it is must be on record: a guess is no instruction.
        condition.keys().all(|k| new.get(k).is_some()) && condition.holds(new)
    })?;
    // What is in doubt gives no instruction, and what stays no work.
    if !change.is_other_value() || !change.old_doubt.is_empty() || !change.new_doubt.is_empty() {
        return None;
    }
    let (a, b) = (change.old.as_ref()?, change.new.as_ref()?);
    let count = |d: Num| amount(schema, new, field, turn, d);
    let step = |old: Num, new: Num| count(new - old).map(|n| format!("{n} {}", way(schema, field, turn, new > old)));
    let words = match (a, b) {
        (Value::One(Scalar::Num(x)), Value::One(Scalar::Num(y))) => step(*x, *y)?,
        (Value::Slots(x), Value::Slots(y)) => slots(field, x, y, &step)?,
        _ => return None,
    };
    let threads = turn.threads.as_deref().and_then(|k| schema.num_at(old, k).or(schema.num_at(new, k)));
    let words = match threads {
        Some(tpi) if matches!(turn.by.as_str(), "turns" | "flats") && field.unit.as_deref() == Some("in") => {
            format!("{words}, {tpi} threads per inch")
        }
        _ => words,
    };
    let (place, minutes, shop) = (field.place.clone(), field.minutes, field.shop);
    Some(Turned { field: field.key.clone(), words, place, minutes, shop })
}

type Step<'a> = dyn Fn(Num, Num) -> Option<String> + 'a;

fn slots(field: &Field, x: &[Option<Scalar>], y: &[Option<Scalar>], step: &Step) -> Option<String> {
    let num = |s: &Option<Scalar>| s.as_ref().and_then(Scalar::num);
    let mut said: Vec<(String, String)> = Vec::new();
    for (i, (a, b)) in x.iter().zip(y).enumerate().filter(|(_, (a, b))| a != b) {
        let slot = field.slots.get(i)?;
        said.push((slot.label.clone().unwrap_or(slot.id.clone()), step(num(a)?, num(b)?)?));
    }
    let first = &said.first()?.1;
    if said.len() == field.slots.len() && said.iter().all(|(_, s)| s == first) {
        return Some(if said.len() == 2 { format!("{first}, both") } else { format!("{first}, each") });
    }
    Some(said.iter().map(|(side, s)| format!("{side} {s}")).collect::<Vec<_>>().join("; "))
}

/// The amount in the unit a wrench counts; `None` when a measure needed for it is not on record. A field that is itself
/// counted in turns, holes, flats or clicks is told in its own count.
fn amount(schema: &Schema, sheet: &Sheet, field: &Field, turn: &Turn, d: Num) -> Option<String> {
    let d = d.abs();
    let at = |key: &Option<String>| key.as_deref().and_then(|k| schema.num_at(sheet, k)).filter(|n| *n > Num::ZERO);
    let own_count = matches!(field.unit.as_deref(), Some("turns" | "hole" | "flats" | "clicks" | "psi"));
    let (n, one, many) = match (turn.by.as_str(), own_count) {
        ("hole", true) => (d, "hole", "holes"),
        ("hole", false) => (ratio(d, at(&turn.spacing)?)?, "hole", "holes"),
        ("clicks", _) => (d, "click", "clicks"),
        ("psi", _) => (d, "psi", "psi"),
        ("flats", true) => (d, "flat", "flats"),
        ("flats", false) => {
            let flats = d.to_f64() * at(&turn.threads)?.to_f64() * 6.0;
            (Num::from_f64(flats)?.round(1), "flat", "flats")
        }
        ("turns", true) => (d, "turn", "turns"),
        ("turns", false) => match (at(&turn.threads), at(&turn.per_turn)) {
            (Some(tpi), _) => (Num::from_f64(d.to_f64() * tpi.to_f64())?.round(2), "turn", "turns"),
            (None, per) => (ratio(d, per?)?, "turn", "turns"),
        },
        _ => return None,
    };
    Some(format!("{n} {}", if n.abs() <= Num::int(1) { one } else { many }))
}

fn ratio(a: Num, b: Num) -> Option<Num> {
    Num::from_f64(a.to_f64() / b.to_f64()).map(|n| n.round(2))
}

fn way<'a>(schema: &'a Schema, field: &Field, turn: &Turn, more: bool) -> &'a str {
    match (turn.by.as_str(), more) {
        ("clicks", _) => {
            let kind = schema.kind(field);
            let word = if more { &kind.short_more } else { &kind.short_less };
            word.as_deref().unwrap_or(if more { "up" } else { "down" })
        }
        ("flats", true) if field.kind == "length" => "longer",
        ("flats", false) if field.kind == "length" => "shorter",
        ("flats", true) => "in",
        ("flats", false) => "out",
        (_, true) => "up",
        (_, false) => "down",
    }
}
