//! A sheet as far as it can be relied on, and what is not on it.

use super::{Stale, Timeline};
use crate::schema::{Field, Num, Role, Scalar, Schema, Sheet, Sides, Value};
use crate::slip::Moment;
use std::collections::{HashMap, HashSet};

/// A measured field of this car that is not on record, or some slots of it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Missing {
    /// The field.
    pub key: String,
    /// The slots that are missing; empty where all of it is.
    pub slots: Vec<usize>,
}

/// Measured fields that belong on the sheet of this car and are not on it, in sheet order.
pub fn missing(schema: &Schema, chassis: &[String], sheet: &Sheet) -> Vec<Missing> {
    let belongs = |f: &&Field| {
        f.role == Role::Measured
            && f.ring != crate::schema::Ring::Extra
            && f.on_chassis(chassis)
            && f.applies.holds(sheet)
    };
    let one = |f: &Field| match sheet.get(&f.key) {
        None => Some(Missing { key: f.key.clone(), slots: Vec::new() }),
        Some(Value::Slots(v)) if v.iter().any(Option::is_none) => {
            let slots = (0..v.len()).filter(|i| v[*i].is_none()).collect();
            Some(Missing { key: f.key.clone(), slots })
        }
        Some(_) => None,
    };
    schema.fields.iter().filter(belongs).filter_map(one).collect()
}

/// When each value on the sheet at the end of a version came on record: recorded, changed, or found as it was.
/// `sheets` holds every sheet of the timeline by its store id.
pub fn on_record_since(
    timeline: &Timeline,
    sheets: &HashMap<String, Sheet>,
    version: usize,
) -> HashMap<String, Moment> {
    let mut since: HashMap<String, Moment> = HashMap::new();
    let mut before: Option<&Sheet> = None;
    for (_, entry) in timeline.records().take_while(|(i, _)| *i <= version) {
        let Some(sheet) = sheets.get(&entry.blob) else { continue };
        for (key, value) in sheet.iter() {
            if before.and_then(|b| b.get(key)) != Some(value) {
                since.insert(key.to_owned(), entry.at);
            }
        }
        for path in entry.measured.iter().map(|m| m.split(' ').next().unwrap_or(m)) {
            // A slot counts for its field: the newest reading of it.
            let key = if sheet.get(path).is_some() { path } else { path.rsplit_once('.').map_or(path, |(k, _)| k) };
            since.insert(key.to_owned(), entry.at);
        }
        before = Some(sheet);
    }
    since
}

/// A sheet as far as it can be relied on. Whatever is computed from a sheet asks here: what is stale or in doubt is no
/// fact.
pub struct Facts<'a> {
    schema: &'a Schema,
    sheet: &'a Sheet,
    /// Stale slots; `None` for a field without slots.
    stale: HashSet<(&'a str, Option<usize>)>,
}

impl<'a> Facts<'a> {
    /// A sheet with what is stale on it.
    pub fn new(schema: &'a Schema, sheet: &'a Sheet, stale: &'a [Stale]) -> Facts<'a> {
        let slots = |s: &'a Stale| {
            let slots: Vec<Option<usize>> =
                if s.slots.is_empty() { vec![None] } else { s.slots.iter().map(|i| Some(*i)).collect() };
            slots.into_iter().map(|i| (s.key.as_str(), i))
        };
        Facts { schema, sheet, stale: stale.iter().flat_map(slots).collect() }
    }

    /// The value of a field, if all of it is a fact.
    pub fn usable(&self, key: &str) -> Option<&'a Value> {
        let value = self.sheet.get(key)?;
        let sure = !self.sheet.is_doubtful(key, None) && !self.stale.iter().any(|(k, _)| *k == key);
        sure.then_some(value)
    }

    /// One slot of a field, if it is a fact.
    pub fn usable_at(&self, key: &str, slot: usize) -> Option<&'a Scalar> {
        let value = self.sheet.get(key)?.slot(slot)?;
        let stale = self.stale.contains(&(key, None)) || self.stale.contains(&(key, Some(slot)));
        (!stale && !self.sheet.is_doubtful(key, Some(slot))).then_some(value)
    }

    /// The number at a dotted path: of a single value, of one slot, or of a pair that is alike.
    pub fn num(&self, path: &str) -> Option<Num> {
        let (field, slot) = self.schema.locate(path)?;
        match slot {
            Some(i) => self.usable_at(&field.key, i)?.num(),
            None => self.usable(&field.key)?.shared()?.num(),
        }
    }

    /// The numbers of all slots of a field; missing where one of them is no fact.
    pub fn nums(&self, key: &str) -> Option<Vec<Num>> {
        match (self.schema.field(key)?.sides, self.usable(key)?) {
            (Sides::List, Value::List(v)) => Some(v.clone()),
            (_, Value::Slots(v)) => v.iter().map(|s| s.as_ref()?.num()).collect(),
            (_, value) => Some(vec![value.one()?.num()?]),
        }
    }
}
