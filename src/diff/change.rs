//! What differs between two sheets, field by field.

use crate::schema::{Schema, Sheet, Value, value_from_json, value_json};
use serde_json::{Value as Json, json};

/// One field that differs.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct FieldChange {
    /// The field.
    pub key: String,
    /// Its value before; `None` = not on record.
    pub old: Option<Value>,
    /// Its value after; `None` = not on record.
    pub new: Option<Value>,
}

/// All fields that differ, in sheet order. Empty exactly when the sheets are equal in value.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct SheetDiff {
    /// The changes.
    pub changes: Vec<FieldChange>,
}

/// Compares two sheets.
pub fn diff(schema: &Schema, old: &Sheet, new: &Sheet) -> SheetDiff {
    let mut changes: Vec<FieldChange> = Vec::new();
    let keys = old.iter().map(|(k, _)| k).chain(new.iter().map(|(k, _)| k).filter(|k| old.get(k).is_none()));
    for key in keys {
        let (a, b) = (old.get(key), new.get(key));
        if a != b {
            changes.push(FieldChange { key: key.to_owned(), old: a.cloned(), new: b.cloned() });
        }
    }
    changes.sort_by(|a, b| (schema.order(&a.key), &a.key).cmp(&(schema.order(&b.key), &b.key)));
    SheetDiff { changes }
}

impl SheetDiff {
    /// Nothing differs.
    pub fn is_empty(&self) -> bool {
        self.changes.is_empty()
    }

    /// The change of a field.
    pub fn get(&self, key: &str) -> Option<&FieldChange> {
        self.changes.iter().find(|c| c.key == key)
    }

    /// Carries the older sheet to the newer.
    pub fn apply(&self, sheet: &Sheet) -> Sheet {
        let mut out = sheet.clone();
        for change in &self.changes {
            match &change.new {
                Some(value) => out.set(&change.key, value.clone()),
                None => drop(out.remove(&change.key)),
            }
        }
        out
    }

    /// `[{field, old, new}]`; a value that is not on record is null.
    pub fn to_json(&self, schema: &Schema) -> Json {
        let side = |key: &str, v: &Option<Value>| match (schema.field(key), v) {
            (Some(field), Some(value)) => value_json(field, value),
            _ => Json::Null,
        };
        let all = self
            .changes
            .iter()
            .map(|c| json!({"field": c.key, "old": side(&c.key, &c.old), "new": side(&c.key, &c.new)}));
        Json::Array(all.collect())
    }

    /// The differences `to_json` wrote; `None` when the JSON is no such list.
    pub fn from_json(schema: &Schema, json: &Json) -> Option<SheetDiff> {
        let one = |j: &Json| {
            let key = j.get("field")?.as_str()?;
            let field = schema.field(key)?;
            let side = |name: &str| match j.get(name)? {
                Json::Null => Some(None),
                v => value_from_json(field, v).map(Some),
            };
            Some(FieldChange { key: key.to_owned(), old: side("old")?, new: side("new")? })
        };
        json.as_array()?.iter().map(one).collect::<Option<_>>().map(|changes| SheetDiff { changes })
    }
}
