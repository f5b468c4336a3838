//! What must be measured again once the list is done, because something in it moved it.

use super::place::Places;
use super::step::{Between, Step, Work};
use crate::diff::words::called;
use crate::schema::{Places as Doubt, Role, Schema, Sheet, Value};

/// What it should read.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Expected {
    /// The value on the sheet that the list goes to.
    pub value: Value,
    /// Which of its numbers were in doubt there.
    pub doubt: Doubt,
}

/// One thing to take again.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Remeasure {
    /// The field.
    pub field: String,
    /// What it is called: "rear ride height".
    pub label: String,
    /// It is set, not a result: it is checked, and set again where it moved.
    pub check: bool,
    /// What it should read; absent where that sheet has no value that was taken as it stood.
    pub expect: Option<Expected>,
}

/// What a step of this field moves: what the field names, and what measured values among those name in turn.
pub(super) fn moves(schema: &Schema, key: &str) -> Vec<String> {
    let mut out: Vec<String> = Vec::new();
    let mut open = vec![key.to_owned()];
    while let Some(next) = open.pop() {
        for moved in schema.field(&next).into_iter().flat_map(|f| &f.moves) {
            if moved == key || out.contains(moved) {
                continue;
            }
            out.push(moved.clone());
            if schema.field(moved).is_some_and(|f| f.role == Role::Measured) {
                open.push(moved.clone());
            }
        }
    }
    out
}

/// What the steps move, in the order it is taken again. `then` is the sheet the list goes to as it was measured; `stale`
/// are the keys whose values were no facts there.
pub(super) fn remeasure(
    between: Between,
    places: &Places,
    steps: &[Step],
    then: &Sheet,
    stale: &[String],
) -> Vec<Remeasure> {
    let schema = between.schema;
    let done = |key: &String| steps.iter().any(|s| s.field == *key && s.work != Work::OffRecord);
    let mut keys: Vec<String> = Vec::new();
    for step in steps.iter().filter(|s| s.work != Work::OffRecord) {
        for key in moves(schema, &step.field) {
            if !keys.contains(&key) {
                keys.push(key);
            }
        }
    }
    keys.sort_by_key(|k| (places.turn_of(k), schema.order(k)));
    let one = |key: String| {
        let field = schema.field(&key)?;
        let check = field.role == Role::Set;
        let wanted = match field.role {
            Role::Set => !done(&key) && between.to.get(&key).is_some(),
            Role::Measured => between.from.get(&key).is_some() || then.get(&key).is_some(),
            _ => false,
        };
        let of = if check { between.to } else { then };
        // What it read then says nothing where something that moves it is another now (tires that are gone).
        let as_then = || {
            let movers = schema.fields.iter().filter(|f| f.role == Role::Set && f.moves.contains(&key));
            movers.into_iter().all(|f| between.to.get(&f.key) == then.get(&f.key))
        };
        let fact = check || (!stale.contains(&key) && as_then());
        let value = of.get(&key).filter(|_| fact);
        let expect = value.map(|v| Expected { value: v.clone(), doubt: of.doubt(&key).clone() });
        let label = called(schema, between.from, between.to, field, None);
        wanted.then_some(Remeasure { field: key, label, check, expect })
    };
    keys.into_iter().filter_map(one).collect()
}

/// Names of what a racer asks first and that none of the steps touches or moves, as far as any of it is on record.
pub(super) fn not_moved(between: Between, places: &Places, steps: &[Step], remeasure: &[Remeasure]) -> Vec<String> {
    let on_record = |k: &String| between.from.get(k).is_some() || between.to.get(k).is_some();
    let touched = |k: &String| steps.iter().any(|s| s.field == *k) || remeasure.iter().any(|r| r.field == *k);
    let stays = places.headline.iter().filter(|h| h.fields.iter().any(on_record) && !h.fields.iter().any(touched));
    stays.map(|h| h.name.clone()).collect()
}
