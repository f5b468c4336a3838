//! What a sentence calls the thing: from the field's `noun`, or from its label.

use super::story::Story;
use super::template::render;
use crate::schema::Field;

/// The names of a field's thing.
#[derive(Debug, Clone)]
pub(super) struct Names {
    /// Without its end: "shock".
    pub thing: String,
    /// The only one: "limiter".
    pub one: String,
    pub pair: String,
    pub both: String,
    /// What stands on record: "limiter height".
    pub record: String,
    pub record_pair: String,
    pub record_both: String,
    sides: [String; 2],
    end: String,
    record_part: String,
}

/// A verb goes with it as with many.
pub(super) fn is_many(name: &str) -> bool {
    let last = name.split(" in ").next().unwrap_or(name);
    last.ends_with('s') && !last.ends_with("ss") || name.starts_with("both ")
}

fn words(parts: &[&str]) -> String {
    let mut out = String::new();
    for part in parts.iter().filter(|p| !p.is_empty()) {
        // "rear" is not said twice.
        if out == *part || (!out.is_empty() && part.starts_with(&format!("{out} "))) {
            out.clear();
        }
        if !out.is_empty() {
            out.push(' ');
        }
        out.push_str(part);
    }
    out
}

/// The label up to its first explanation.
fn from_label(field: &Field) -> String {
    let short = field.label.split([',', '(', ':']).next().unwrap_or_default().trim();
    if short.is_empty() { field.key.clone() } else { short.to_owned() }
}

impl Story<'_> {
    pub(super) fn names(&self, field: &Field) -> Names {
        let noun = &field.noun;
        // A noun may take its word from a value on the sheet; where there is none the label says it.
        let said = |text: &Option<String>| {
            let text = text.as_deref()?;
            if text.contains('{') {
                render(text, &mut |key| self.path(key, &mut Vec::new()))
            } else {
                Some(text.to_owned())
            }
        };
        let known = said(&noun.thing);
        let end = if known.is_some() { said(&noun.end).unwrap_or_default() } else { String::new() };
        let thing = known.clone().unwrap_or_else(|| from_label(field));
        let many = said(&noun.many).filter(|_| known.is_some()).unwrap_or_else(|| plural(&thing));
        let pair = said(&noun.pair).unwrap_or_else(|| words(&[&end, &many]));
        let given = said(&noun.both);
        let both = given.clone().unwrap_or_else(|| format!("both {pair}"));
        let record_part = said(&noun.record).unwrap_or_else(|| thing.clone());
        let record_many = said(&noun.record_many).map(|m| words(&[&end, &m]));
        let record_pair = record_many.clone().unwrap_or_else(|| pair.clone());
        let record_both = match (&record_many, &given) {
            (Some(many), _) => format!("both {many}"),
            (None, Some(given)) => given.clone(),
            (None, None) => both.clone(),
        };
        let side =
            |given: &Option<String>, side: &str| said(given).unwrap_or_else(|| words(&[side, &words(&[&end, &thing])]));
        Names {
            one: words(&[&end, &thing]),
            sides: [side(&noun.left, "left"), side(&noun.right, "right")],
            record: words(&[&end, &record_part]),
            thing,
            pair,
            both,
            record_pair,
            record_both,
            end,
            record_part,
        }
    }
}

impl Names {
    /// One of several: "left rear shock".
    pub(super) fn side(&self, field: &Field, i: usize) -> String {
        match (field.slots.len(), self.sides.get(i)) {
            (2, Some(side)) if field.sides == crate::schema::Sides::Pair => side.clone(),
            _ => words(&[super::show::label(field, i), &self.one]),
        }
    }

    /// What stands on record of one of several: "left rear tire pressure".
    pub(super) fn record_side(&self, field: &Field, i: usize) -> String {
        let label = super::show::label(field, i);
        match field.sides {
            crate::schema::Sides::Named => format!("{}, {label}", self.record),
            _ => words(&[label, &words(&[&self.end, &self.record_part])]),
        }
    }

    /// "right rear": the side and the end.
    pub(super) fn place(&self, field: &Field, i: usize) -> String {
        format!("{} {}", super::show::label(field, i), self.end).trim_end().to_owned()
    }

    /// What opposite directions are told under: "rear extension", or the pair.
    pub(super) fn head(&self, field: &Field) -> String {
        match &field.noun.on {
            Some(on) => words(&[&self.end, on]),
            None => self.pair.clone(),
        }
    }
}

pub(super) fn plural(thing: &str) -> String {
    if thing.ends_with('s') { thing.to_owned() } else { format!("{thing}s") }
}
