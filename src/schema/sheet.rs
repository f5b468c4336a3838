//! The sheet: every field's value at one moment, and the checks a value must pass.

use super::{Field, Num, Places, Role, Scalar, Schema, Sides, Takes, Value};
use std::collections::BTreeMap;

/// A setup sheet: values by key. What was not measured is absent.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Sheet {
    values: BTreeMap<String, Value>,
    /// Which numbers are in doubt; only of fields that are on record.
    pub(super) doubts: BTreeMap<String, Places>,
}

impl Sheet {
    /// The value of a field.
    pub fn get(&self, key: &str) -> Option<&Value> {
        self.values.get(key)
    }

    /// The number of a single-valued field.
    pub fn num(&self, key: &str) -> Option<Num> {
        self.get(key)?.shared()?.num()
    }

    /// The text of a single-valued field.
    pub fn text(&self, key: &str) -> Option<&str> {
        self.get(key)?.shared()?.text()
    }

    /// Sets a value, in no doubt; empty slots, lists and rows take the field off the record.
    pub fn set(&mut self, key: &str, value: Value) {
        let empty = match &value {
            Value::One(Scalar::Text(t)) => t.is_empty(),
            Value::One(_) => false,
            Value::Slots(v) => v.iter().all(Option::is_none),
            Value::List(v) => v.is_empty(),
            Value::Rows(v) => v.is_empty(),
        };
        self.doubts.remove(key);
        if empty {
            self.values.remove(key);
        } else {
            self.values.insert(key.to_owned(), value);
        }
    }

    /// Puts other words in the place of a field's texts; what is in doubt stays so.
    pub fn reword(&mut self, key: &str, say: &dyn Fn(&str) -> String) {
        let reword = |scalar: &mut Scalar| {
            if let Scalar::Text(text) = scalar {
                *text = say(text);
            }
        };
        match self.values.get_mut(key) {
            Some(Value::One(scalar)) => reword(scalar),
            Some(Value::Slots(slots)) => slots.iter_mut().flatten().for_each(reword),
            Some(Value::Rows(rows)) => rows.iter_mut().flatten().flatten().for_each(reword),
            Some(Value::List(_)) | None => {}
        }
    }

    /// Takes a field off the record.
    pub fn remove(&mut self, key: &str) -> Option<Value> {
        self.doubts.remove(key);
        self.values.remove(key)
    }

    /// Keys and values, in key order (not sheet order).
    pub fn iter(&self) -> impl Iterator<Item = (&str, &Value)> {
        self.values.iter().map(|(k, v)| (k.as_str(), v))
    }

    /// How many fields are on record.
    pub fn len(&self) -> usize {
        self.values.len()
    }

    /// No field is on record.
    pub fn is_empty(&self) -> bool {
        self.values.is_empty()
    }

    /// Fields with their values in sheet order.
    pub fn in_order<'a>(&'a self, schema: &'a Schema) -> impl Iterator<Item = (&'a Field, &'a Value)> {
        schema.fields.iter().filter_map(|f| Some((f, self.get(&f.key)?)))
    }

    /// Only the values of these roles, without their doubt.
    pub fn of_roles(&self, schema: &Schema, roles: &[Role]) -> Sheet {
        let keep = |k: &String| schema.field(k).is_some_and(|f| roles.contains(&f.role));
        let values = self.values.iter().filter(|(k, _)| keep(k)).map(|(k, v)| (k.clone(), v.clone())).collect();
        Sheet { values, ..Sheet::default() }
    }
}

/// How a value stands to the field's ranges.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Verdict {
    /// Usual.
    Fine,
    /// Outside the usual range: asked about.
    Unusual(String),
    /// Refused, with the rule that was broken and what is allowed.
    Refused(String),
}

/// The longest text a field takes, in bytes: a sheet is read whole each time.
pub const LONGEST_TEXT: usize = 16 * 1024;

/// The most entries of a list, and rows of one of rows.
const MOST_ENTRIES: usize = 64;

/// Checks a whole value against its field.
pub fn check_value(schema: &Schema, field: &Field, value: &Value) -> Verdict {
    let shaped = match (value, field.sides) {
        (Value::One(_), Sides::One) | (Value::List(_), Sides::List) => true,
        (Value::Slots(v), Sides::Pair | Sides::Corners | Sides::Named) => v.len() == field.slots.len(),
        (Value::Rows(rows), Sides::Rows) => rows.iter().all(|r| r.len() == field.columns.len()),
        _ => false,
    };
    if !shaped {
        return Verdict::Refused(format!("{} takes {}", field.key, takes_words(schema, field)));
    }
    let mut worst = Verdict::Fine;
    let mut note = |v: Verdict| match (&worst, &v) {
        (Verdict::Refused(_), _) | (_, Verdict::Fine) => {}
        (Verdict::Unusual(_), Verdict::Unusual(_)) => {}
        _ => worst = v,
    };
    match value {
        Value::One(s) => note(check_scalar(schema, field, None, s)),
        Value::Slots(v) => {
            for (i, s) in v.iter().enumerate() {
                if let Some(s) = s {
                    note(check_scalar(schema, field, Some(i), s));
                }
            }
        }
        Value::List(v) => {
            if v.len() > MOST_ENTRIES {
                note(Verdict::Refused(format!("{} has {} entries; {MOST_ENTRIES} at most", field.key, v.len())));
            }
            v.iter().for_each(|n| note(check_scalar(schema, field, None, &Scalar::Num(*n))));
        }
        Value::Rows(rows) => {
            if rows.len() > MOST_ENTRIES {
                note(Verdict::Refused(format!("{} has {} rows; {MOST_ENTRIES} at most", field.key, rows.len())));
            }
            for (i, s) in rows.iter().flat_map(|r| r.iter().enumerate()) {
                if let Some(s) = s {
                    note(check_scalar(schema, field, Some(i), s));
                }
            }
        }
    }
    worst
}

fn check_scalar(schema: &Schema, field: &Field, slot: Option<usize>, scalar: &Scalar) -> Verdict {
    let takes = slot.map_or(field.takes(), |i| field.slot_takes(i));
    match (takes, scalar) {
        (Takes::Flag, Scalar::Flag(_)) => Verdict::Fine,
        (Takes::Text, Scalar::Text(t)) if t.len() > LONGEST_TEXT => {
            Verdict::Refused(format!("{} is {} bytes long; {LONGEST_TEXT} at most", field.key, t.len()))
        }
        (Takes::Text, Scalar::Text(_)) => Verdict::Fine,
        (Takes::Choice, Scalar::Text(t)) if field.choices.contains(t) => Verdict::Fine,
        (Takes::Choice, Scalar::Text(t)) => {
            Verdict::Refused(format!("{} is one of {}; `{t}` is none of them", field.key, field.choices.join(", ")))
        }
        (Takes::Number, Scalar::Num(n)) => check_number(schema, field, slot, *n),
        _ => Verdict::Refused(format!("{} takes {}", field.key, takes_words(schema, field))),
    }
}

fn check_number(schema: &Schema, field: &Field, slot: Option<usize>, n: Num) -> Verdict {
    let own = slot.and_then(|i| field.slot_list().get(i));
    // A slot with a unit of its own (ballast: lb and in) is not measured by the field's range.
    let inherits = own.is_none_or(|s| s.unit.is_none());
    let usual = own.and_then(|s| s.usual).or(field.usual.filter(|_| inherits));
    let possible = own.and_then(|s| s.possible).or(field.possible.filter(|_| inherits));
    if matches!(field.kind.as_str(), "hole" | "count" | "position") && !n.is_int() {
        return Verdict::Refused(format!("{} is counted: {n} is not a whole number", field.key));
    }
    let unit = field.unit_of(slot).and_then(|u| schema.units.get(u)).map(|u| format!(" {}", u.word(Num::int(2))));
    let unit = unit.unwrap_or_default();
    let said = |range: [Num; 2]| format!("{} to {}{unit}", range[0], range[1]);
    match (possible, usual) {
        (Some(p), _) if n < p[0] || n > p[1] => {
            Verdict::Refused(format!("{} = {n}{unit} is not possible: {} is", field.key, said(p)))
        }
        (_, Some(u)) if n < u[0] || n > u[1] => {
            Verdict::Unusual(format!("{} = {n}{unit} is outside the usual {}", field.key, said(u)))
        }
        _ => Verdict::Fine,
    }
}

/// What a field takes, in words: "a number in in, one each side".
pub fn takes_words(schema: &Schema, field: &Field) -> String {
    let unit = field.unit.as_deref().and_then(|u| schema.units.get(u));
    let what = match field.takes() {
        Takes::Choice => format!("one of {}", field.choices.join(", ")),
        Takes::Text => "text".to_owned(),
        Takes::Flag => "true or false".to_owned(),
        Takes::Number => unit.map_or("a number".to_owned(), |u| format!("a number of {}", u.word(Num::int(2)))),
    };
    let ids: Vec<&str> = field.slot_list().iter().map(|s| s.id.as_str()).collect();
    match field.sides {
        Sides::One => what,
        Sides::Pair => format!("{what}, for both or {{ left, right }}"),
        Sides::Corners | Sides::Named => format!("{what} for each of {{ {} }}", ids.join(", ")),
        Sides::List => format!("a list: {what} each"),
        Sides::Rows => format!("rows of {{ {} }}", ids.join(", ")),
    }
}
