//! Values of fields: one, one a side, one a corner, named slots, a list, or rows.

use super::Num;
use std::fmt;

/// One plain value.
#[derive(Debug, Clone, PartialEq, Eq, Hash, serde::Serialize)]
#[serde(untagged)]
pub enum Scalar {
    /// A number in the field's stored unit.
    Num(Num),
    /// A choice or a text.
    Text(String),
    /// Fitted or not.
    Flag(bool),
}

impl Scalar {
    /// The number, if it is one.
    pub fn num(&self) -> Option<Num> {
        if let Scalar::Num(n) = self { Some(*n) } else { None }
    }
    /// The text, if it is one.
    pub fn text(&self) -> Option<&str> {
        if let Scalar::Text(t) = self { Some(t) } else { None }
    }
    /// The flag, if it is one.
    pub fn flag(&self) -> Option<bool> {
        if let Scalar::Flag(f) = self { Some(*f) } else { None }
    }
}

impl fmt::Display for Scalar {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Scalar::Num(n) => write!(f, "{n}"),
            Scalar::Text(t) => f.write_str(t),
            Scalar::Flag(b) => f.write_str(if *b { "yes" } else { "no" }),
        }
    }
}

/// One row of a list of things (ballast): a value a column, `None` where nothing was taken.
pub type Row = Vec<Option<Scalar>>;

/// The value of a field on a sheet. A field without a value is absent, never a default.
#[derive(Debug, Clone, PartialEq, Eq, Hash)]
pub enum Value {
    /// One value.
    One(Scalar),
    /// One value a slot, in the order of the field's slots; at least one is there.
    Slots(Vec<Option<Scalar>>),
    /// Numbers in order.
    List(Vec<Num>),
    /// Rows in order.
    Rows(Vec<Row>),
}

impl Value {
    /// All plain values in it.
    pub fn scalars(&self) -> Box<dyn Iterator<Item = &Scalar> + '_> {
        match self {
            Value::One(s) => Box::new(std::iter::once(s)),
            Value::Slots(v) => Box::new(v.iter().flatten()),
            Value::List(_) => Box::new(std::iter::empty()),
            Value::Rows(rows) => Box::new(rows.iter().flatten().flatten()),
        }
    }

    /// The single value, if it has one.
    pub fn one(&self) -> Option<&Scalar> {
        if let Value::One(s) = self { Some(s) } else { None }
    }

    /// The value of slot `i` (0 for a single value).
    pub fn slot(&self, i: usize) -> Option<&Scalar> {
        match self {
            Value::One(s) if i == 0 => Some(s),
            Value::Slots(v) => v.get(i)?.as_ref(),
            _ => None,
        }
    }

    /// The value all slots share, if every slot has it.
    pub fn shared(&self) -> Option<&Scalar> {
        match self {
            Value::One(s) => Some(s),
            Value::Slots(v) => {
                let first = v.first()?.as_ref()?;
                v.iter().all(|s| s.as_ref() == Some(first)).then_some(first)
            }
            _ => None,
        }
    }
}
