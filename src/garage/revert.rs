//! Going back: what must be turned so that a hand has set the car as an earlier version was.

use super::change::Wanted;
use crate::schema::{Edit, Field, Role, Schema, Sheet, Typed, apply, counted_from_key};

/// What to take back.
#[derive(Debug, Clone, Default)]
pub struct Scope {
    /// Only this heading (weight, front, rear …) or area ("front shocks").
    pub only: Option<String>,
    /// Launch and engine settings too.
    pub engine: bool,
}

/// The headings a revert leaves alone unless told: they follow the weather and the driver.
const LEFT_ALONE: [&str; 2] = ["launch", "engine"];

/// Whether a field follows the weather and the driver: no setting of the chassis.
pub fn is_of_engine(field: &Field) -> bool {
    LEFT_ALONE.contains(&field.group.as_str())
}

/// What a revert does and what it leaves.
#[derive(Debug, Clone)]
pub struct Back {
    /// The edits.
    pub wanted: Wanted,
    /// Set fields that differ but stay: keys.
    pub left_alone: Vec<String>,
    /// Set fields that were not on record then, though their part was on the car: keys. What they were is not known, so they
    /// stay as they are.
    pub not_on_record: Vec<String>,
}

/// The headings and areas that `--only` knows.
pub fn areas(schema: &Schema) -> Vec<String> {
    let mut out: Vec<String> = Vec::new();
    for area in &schema.areas {
        for name in [area.group.clone(), area.title.to_lowercase()] {
            if !out.contains(&name) {
                out.push(name);
            }
        }
    }
    out
}

/// The edits that take `now` back to `then` in what a hand sets. Measured values and notes stay; described values come
/// along with a part, or with a field that comes back. What was not on record then stays: nobody can turn it to what is not
/// known; but it goes with what it depends on, as where its part comes off.
pub fn back_to(schema: &Schema, now: &Sheet, then: &Sheet, number: &str, scope: &Scope) -> Back {
    let differs = |f: &&Field| now.get(&f.key) != then.get(&f.key);
    let wanted_area = |f: &Field| match scope.only.as_deref().map(str::to_lowercase) {
        Some(only) => f.group == only || f.area.to_lowercase() == only,
        None => scope.engine || !is_of_engine(f),
    };
    // Clicks are a number and the end it is counted from: one does not come back without the other.
    let counts: Vec<String> = schema.fields.iter().filter(|f| f.kind == "clicks").map(counted_from_key).collect();
    let mut edits = Vec::new();
    let (mut left_alone, mut absent) = (Vec::new(), Vec::new());
    for field in schema.fields.iter().filter(differs) {
        // A sheet that names no part does not say that there was none, nor what the one on the car now is like.
        let unnamed = |f: &Field| f.kind == "own_part" && then.get(&f.key).is_none() && now.get(&f.key).is_some();
        let of_part = field.part.as_deref().and_then(|p| schema.field(p));
        if unnamed(field) || of_part.is_some_and(unnamed) {
            if field.role == Role::Set && field.kind != "own_part" {
                left_alone.push(field.key.clone());
            }
            continue;
        }
        let taken = match field.role {
            Role::Set if wanted_area(field) => true,
            Role::Set => {
                left_alone.push(field.key.clone());
                false
            }
            Role::Described => {
                let part_moves = field.part.as_deref().is_some_and(|p| now.get(p) != then.get(p));
                let comes_back = now.get(&field.key).is_none() && !field.applies.holds(now);
                wanted_area(field) && (part_moves || comes_back || counts.contains(&field.key))
            }
            Role::Measured | Role::Note => false,
        };
        // What goes with its parent is dropped by the sheet itself.
        if taken && then.get(&field.key).is_none() && stays_unknown(schema, field, then, now) {
            absent.push(field.key.clone());
        } else if taken {
            edits.push(Edit { key: field.key.clone(), slot: None, typed: Typed::of(then, &field.key, None) });
        }
    }
    take_off_what_contradicts(schema, now, &mut edits, &mut absent);
    let after = apply(schema, now, &edits).map(|a| a.sheet).ok();
    let stays = |key: &String| after.as_ref().is_none_or(|sheet| sheet.get(key).is_some());
    let set = |key: &String| schema.field(key).is_some_and(|f| f.role == Role::Set);
    let not_on_record = absent.into_iter().filter(|key| stays(key) && set(key)).collect();
    let wanted = Wanted { edits, back_to: Some(number.to_owned()), ..Wanted::default() };
    Back { wanted, left_alone, not_on_record }
}

/// Whether a field that was not on record then stays as it is now. A set one does where it applied. What is described does
/// unless it is the end clicks are counted from, and a count comes back.
fn stays_unknown(schema: &Schema, field: &Field, then: &Sheet, now: &Sheet) -> bool {
    if field.part.as_deref().is_some_and(|p| now.get(p) != then.get(p)) {
        // What the part on the car now is set to says nothing of the one that comes back.
        return false;
    }
    let mut counts_of_it = schema.fields.iter().filter(|f| f.kind == "clicks" && counted_from_key(f) == field.key);
    let is_counted_from = counts_of_it.clone().next().is_some();
    // A count means nothing from the other end.
    let other_end = |end: &str| then.get(end).is_some() && then.get(end) != now.get(end);
    match field.role {
        Role::Set if field.kind == "clicks" && other_end(&counted_from_key(field)) => false,
        Role::Set => field.kind != "own_part" && field.applies.holds(then),
        Role::Described => is_counted_from && counts_of_it.all(|count| then.get(&count.key).is_none()),
        Role::Measured | Role::Note => false,
    }
}

/// What is on record now and was not then may contradict what comes back: then it goes off the record.
fn take_off_what_contradicts(schema: &Schema, now: &Sheet, edits: &mut Vec<Edit>, absent: &mut Vec<String>) {
    let mut result = now.clone();
    for edit in edits.iter() {
        match &edit.typed {
            Typed::Reading(value) | Typed::Doubtful(value, _) => result.set(&edit.key, value.clone()),
            Typed::Off | Typed::Step(_) => drop(result.remove(&edit.key)),
        }
    }
    let comes_back = |key: &String| edits.iter().any(|e| e.key == *key && e.typed != Typed::Off);
    let contradicted = |key: &&str| {
        let needs = schema.fields.iter().filter(|f| comes_back(&f.key) && !f.applies.holds(&result));
        needs.flat_map(|f| f.applies.keys()).any(|k| k == *key)
    };
    let off: Vec<String> = absent.iter().filter(|k| contradicted(&k.as_str())).cloned().collect();
    absent.retain(|k| !off.contains(k));
    edits.extend(off.into_iter().map(|key| Edit { key, slot: None, typed: Typed::Off }));
}
