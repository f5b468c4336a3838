//! What a list of jobs calls a thing, and the two values it goes from and to.

use super::story::Story;
use super::{numbers, show, template};
use crate::schema::{Field, Scalar, Schema, Sheet, Takes};

/// What stands on record of a field, or of one slot of it: "left rear shock extension".
pub fn called(schema: &Schema, old: &Sheet, new: &Sheet, field: &Field, slot: Option<usize>) -> String {
    /// A label that is longer is no name.
    const LONGEST: usize = 26;
    let names = Story { schema, old, new }.names(field);
    let short = field.label.split([',', '(']).next().unwrap_or_default().trim();
    let number = field.takes() == Takes::Number;
    let plain = field.noun.record.is_none() && number && short.chars().count() <= LONGEST;
    match slot {
        Some(i) => names.record_side(field, i),
        // Alone in a list, "preload" says too little: its label says of what.
        None if plain && !short.is_empty() => short.to_owned(),
        None => names.record,
    }
}

/// What stands on record of all slots together: "rear shock extensions".
pub fn called_all(schema: &Schema, old: &Sheet, new: &Sheet, field: &Field) -> String {
    Story { schema, old, new }.names(field).record_pair
}

/// Two values of a field side by side, the unit once: ("1.25", "0.75 in"), ("hole 3", "2"). Numbers that differ look
/// different.
pub fn from_to(schema: &Schema, field: &Field, slot: Option<usize>, a: &Scalar, b: &Scalar) -> (String, String) {
    let (Scalar::Num(x), Scalar::Num(y)) = (a, b) else {
        return (show::show(schema, field, slot, a), show::show(schema, field, slot, b));
    };
    let kind = schema.kind(field);
    let fractions = kind.fractions.then(|| numbers::fraction(*x).zip(numbers::fraction(*y))).flatten();
    let (x, b_text) = fractions.unwrap_or_else(|| numbers::both(field, slot, *x, *y));
    match field.tell.get("show").or(kind.tell.get("show")) {
        Some(form) => {
            let first = template::render(form, &mut |name| (name == "bare").then(|| x.clone()));
            (first.unwrap_or(x), b_text)
        }
        None => (x, numbers::with_unit(schema, field, slot, *y, &b_text)),
    }
}
