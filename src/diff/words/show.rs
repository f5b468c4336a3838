//! A value as words show it, with its unit; a racer's own words made safe for a terminal.

use super::numbers;
use super::template::render;
pub use crate::text::visible;

use crate::schema::{Field, Num, Places, SURE, Scalar, Schema, Sides, Value, about};

/// The longest text of a racer's own that a sentence carries, in characters.
const LONGEST: usize = 60;

/// A racer's text for use inside a sentence: its first line, visible, cut when long.
pub(super) fn clip(text: &str) -> String {
    let line = text.lines().find(|l| !l.trim().is_empty()).unwrap_or(text).trim();
    let mut out: String = line.chars().take(LONGEST).collect();
    if line.chars().count() > LONGEST {
        out.push_str("...");
    }
    visible(&out)
}

/// One plain value with its unit as words show it: "0.75 in", "12.0 psi", "hole 3", "yes".
pub fn show(schema: &Schema, field: &Field, slot: Option<usize>, value: &Scalar) -> String {
    match value {
        Scalar::Num(n) => {
            let bare = bare(schema, field, slot, value);
            let form = field.tell.get("show").or(schema.kind(field).tell.get("show"));
            let shown = form.and_then(|f| render(f, &mut |name| (name == "bare").then(|| bare.clone())));
            shown.unwrap_or_else(|| numbers::with_unit(schema, field, slot, *n, &bare))
        }
        other => bare(schema, field, slot, other),
    }
}

/// One plain value without its unit.
pub(super) fn bare(schema: &Schema, field: &Field, slot: Option<usize>, value: &Scalar) -> String {
    match value {
        Scalar::Num(n) if schema.kind(field).fractions => {
            numbers::fraction(*n).unwrap_or_else(|| numbers::one(field, slot, *n))
        }
        Scalar::Num(n) => numbers::one(field, slot, *n),
        Scalar::Text(t) => clip(t),
        Scalar::Flag(f) => (if *f { "yes" } else { "no" }).to_owned(),
    }
}

/// A whole value: "12.0 psi", "12.0 left, 12.25 right psi", "2.75 1.79 1.28 1.00", "50 lb trunk right".
pub fn show_value(schema: &Schema, field: &Field, value: &Value) -> String {
    show_doubting(schema, field, value, SURE)
}

/// A whole value of which the numbers at these places are in doubt: "about 0.50 in", "12.0 left, about 12.25 right psi".
pub fn show_doubting(schema: &Schema, field: &Field, value: &Value, doubt: &Places) -> String {
    match value {
        Value::One(s) => about(show(schema, field, None, s), doubt.contains(&0)),
        Value::Slots(v) => match value.shared() {
            Some(s) if field.sides == Sides::Pair && doubt.contains(&0) == doubt.contains(&1) => {
                about(show(schema, field, Some(0), s), doubt.contains(&0))
            }
            _ => slots(schema, field, v, true, doubt),
        },
        Value::List(v) => list(schema, field, v, true, doubt),
        Value::Rows(rows) => {
            let one = |(r, row): (usize, &Vec<Option<Scalar>>)| self::row(schema, field, row, doubt, r * row.len());
            let said: Vec<String> = rows.iter().enumerate().map(one).collect();
            joined(&said, 3)
        }
    }
}

/// The values that are there with their sides; the unit once at the end, or with each where they differ.
pub(super) fn slots(schema: &Schema, field: &Field, values: &[Option<Scalar>], unit: bool, doubt: &Places) -> String {
    let own_units = field.slot_list().iter().any(|s| s.unit.is_some());
    let there = values.iter().enumerate().filter_map(|(i, s)| Some((i, s.as_ref()?)));
    let said: Vec<String> = there
        .map(|(i, s)| match own_units {
            true => {
                let text = if unit { show(schema, field, Some(i), s) } else { bare(schema, field, Some(i), s) };
                format!("{} {}", label(field, i), about(text, doubt.contains(&i)))
            }
            false => format!("{} {}", about(bare(schema, field, Some(i), s), doubt.contains(&i)), label(field, i)),
        })
        .collect();
    let text = said.join(", ");
    let numbers = values.iter().flatten().any(|s| s.num().is_some());
    if numbers && unit && !own_units { numbers::with_unit(schema, field, None, Num::int(2), &text) } else { text }
}

/// Numbers in order: one where all are alike, with the unit at the end.
pub(super) fn list(schema: &Schema, field: &Field, values: &[Num], unit: bool, doubt: &Places) -> String {
    let one = |(i, n): (usize, &Num)| about(numbers::one(field, None, *n), doubt.contains(&i));
    let said: Vec<String> = values.iter().take(12).enumerate().map(one).collect();
    let mut text = said.join(" ");
    if values.len() > 12 {
        text.push_str(" ...");
    }
    if unit { numbers::with_unit(schema, field, None, Num::int(2), &text) } else { text }
}

/// One row: its numbers with their units and its words, the first two of them.
pub(super) fn row(schema: &Schema, field: &Field, row: &[Option<Scalar>], doubt: &Places, first: usize) -> String {
    let cell = |(i, s): (usize, &Option<Scalar>)| {
        Some(about(show(schema, field, Some(i), s.as_ref()?), doubt.contains(&(first + i))))
    };
    let there = row.iter().enumerate().filter_map(cell);
    let said: Vec<String> = there.filter(|s| !s.is_empty()).take(2).collect();
    if said.is_empty() { "an empty row".to_owned() } else { said.join(" ") }
}

/// What a slot is called, without the explanation behind a comma.
pub(super) fn label(field: &Field, i: usize) -> &str {
    let full = field.slot_list().get(i).map_or("", |s| s.label.as_deref().unwrap_or(&s.id));
    full.split(',').next().unwrap_or(full).trim()
}

/// The words of a racer in quotes, side by side where there are several.
pub(super) fn quoted(field: &Field, values: &[(Option<usize>, &Scalar)]) -> String {
    let one = |(slot, s): &(Option<usize>, &Scalar)| {
        let text = format!("\"{}\"", clip(&s.to_string()));
        slot.map_or(text.clone(), |i| format!("{text} {}", label(field, i)))
    };
    values.iter().map(one).collect::<Vec<_>>().join(", ")
}

/// Up to `most` of them, then how many more.
pub(super) fn joined(said: &[String], most: usize) -> String {
    if said.len() <= most {
        return said.join(", ");
    }
    format!("{}, {} more", said[..most].join(", "), said.len() - most)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::schema::{read_sheet, schema};

    #[test]
    fn own_words_cannot_move_the_cursor_or_hide() {
        assert_eq!(visible("pair B"), "pair B");
        assert_eq!(visible("a\nb\t\u{1b}[31m\u{202e}\u{200b}"), "a\\nb\\t\\u{1b}[31m\\u{202e}\\u{200b}");
        assert_eq!(visible("Müller é"), "Müller é");
        assert_eq!(clip("\n first \nsecond"), "first");
        assert_eq!(clip(&"x".repeat(99)).len(), LONGEST + 3);
    }

    #[test]
    fn values_are_shown_with_their_unit() {
        let text = "format = 1\n[rear.tire]\npressure = { left = 12, right = 12.25 }\n[rear.limiter]\nkind = 'pin tower'\n\
                    height = 0.75\nhole = 3\nplate = true\n[front.align]\ntoe = 0.0625\n[driveline]\n\
                    ratios = [2.75, 1.79, 1.28, 1]\n[engine.lash]\nintake = 0.018\nexhaust = 0.02\n";
        let read = read_sheet(schema(), text);
        assert!(read.problems.is_empty(), "{:?}", read.problems);
        for (key, said) in [
            ("rear.tire.pressure", "12.0 left, 12.25 right psi"),
            ("rear.limiter.height", "0.75 in"),
            ("rear.limiter.hole", "hole 3"),
            ("rear.limiter.plate", "yes"),
            ("front.align.toe", "1/16 in"),
            ("driveline.ratios", "2.75 1.79 1.28 1.00"),
            ("engine.lash", "intake 0.018 in, exhaust 0.020 in"),
        ] {
            let field = schema().field(key).unwrap();
            assert_eq!(show_value(schema(), field, read.sheet.get(key).unwrap()), said);
        }
    }
}
