//! What a hand turns to make a change, in words: the amounts of its numbers, told together.

use super::FieldChange;
use super::amount::amount;
use crate::schema::{Field, Num, Scalar, Schema, Sheet, Value};

/// What one field's change takes at the car.
#[derive(Debug, Clone, PartialEq, Eq, serde::Serialize)]
pub struct Turned {
    /// The field.
    pub field: String,
    /// What to do: "4 turns down, 16 threads per inch".
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
    // What is in doubt gives no instruction, and what stays no work.
    if !change.is_other_value() || !change.old_doubt.is_empty() || !change.new_doubt.is_empty() {
        return None;
    }
    let mut threads = None;
    let mut step = |slot: Option<usize>, a: Num, b: Num| {
        let amount = amount(schema, (old, new), field, slot, (a, b)).ok().filter(|a| a.counted)?;
        threads = amount.threads_per_inch;
        Some(amount.words(schema))
    };
    let words = match (change.old.as_ref()?, change.new.as_ref()?) {
        (Value::One(Scalar::Num(x)), Value::One(Scalar::Num(y))) => step(None, *x, *y)?,
        (Value::Slots(x), Value::Slots(y)) => slots(field, x, y, &mut step)?,
        _ => return None,
    };
    let words = threads.map_or(words.clone(), |tpi| format!("{words}, {tpi} threads per inch"));
    let (place, minutes, shop) = (field.place.clone(), field.minutes, field.shop);
    Some(Turned { field: field.key.clone(), words, place, minutes, shop })
}

type Step<'a> = dyn FnMut(Option<usize>, Num, Num) -> Option<String> + 'a;

fn slots(field: &Field, x: &[Option<Scalar>], y: &[Option<Scalar>], step: &mut Step) -> Option<String> {
    let num = |s: &Option<Scalar>| s.as_ref().and_then(Scalar::num);
    let mut said: Vec<(String, String)> = Vec::new();
    for (i, (a, b)) in x.iter().zip(y).enumerate().filter(|(_, (a, b))| a != b) {
        let slot = field.slots.get(i)?;
        said.push((slot.label.clone().unwrap_or(slot.id.clone()), step(Some(i), num(a)?, num(b)?)?));
    }
    let first = &said.first()?.1;
    if said.len() == field.slots.len() && said.iter().all(|(_, s)| s == first) {
        return Some(if said.len() == 2 { format!("{first}, both") } else { format!("{first}, each") });
    }
    Some(said.iter().map(|(side, s)| format!("{side} {s}")).collect::<Vec<_>>().join("; "))
}
