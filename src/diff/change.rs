//! What differs between two sheets, field by field.

use crate::schema::{Places, Schema, Sheet, Value, value_from_json, value_json};
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
    /// Which of its numbers were in doubt before.
    pub old_doubt: Places,
    /// Which are in doubt after.
    pub new_doubt: Places,
}

impl FieldChange {
    /// The value is another: not only what is held of it.
    pub fn is_other_value(&self) -> bool {
        self.old != self.new
    }
}

/// All fields that differ, in sheet order. Empty exactly when the sheets are equal in value and in
/// what is in doubt.
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
        if !old.same_at(key, new) {
            let (a, b) = (old.get(key).cloned(), new.get(key).cloned());
            let (old_doubt, new_doubt) = (old.doubt(key).clone(), new.doubt(key).clone());
            changes.push(FieldChange { key: key.to_owned(), old: a, new: b, old_doubt, new_doubt });
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
                Some(value) => out.set_doubting(&change.key, value.clone(), &change.new_doubt),
                None => drop(out.remove(&change.key)),
            }
        }
        out
    }

    /// `[{field, old, new}]`; a value that is not on record is null. `old_doubtful`, `new_doubtful`: places of numbers
    /// in doubt, where there are any.
    pub fn to_json(&self, schema: &Schema) -> Json {
        let side = |key: &str, v: &Option<Value>| match (schema.field(key), v) {
            (Some(field), Some(value)) => value_json(field, value),
            _ => Json::Null,
        };
        let one = |c: &FieldChange| {
            let mut out = json!({"field": c.key, "old": side(&c.key, &c.old), "new": side(&c.key, &c.new)});
            for (name, doubt) in [("old_doubtful", &c.old_doubt), ("new_doubtful", &c.new_doubt)] {
                if let Some(map) = out.as_object_mut().filter(|_| !doubt.is_empty()) {
                    map.insert(name.to_owned(), json!(doubt));
                }
            }
            out
        };
        Json::Array(self.changes.iter().map(one).collect())
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
            let doubt = |name: &str| match j.get(name) {
                None => Some(Places::new()),
                Some(list) => list.as_array()?.iter().map(|p| usize::try_from(p.as_u64()?).ok()).collect(),
            };
            let (old_doubt, new_doubt) = (doubt("old_doubtful")?, doubt("new_doubtful")?);
            Some(FieldChange { key: key.to_owned(), old: side("old")?, new: side("new")?, old_doubt, new_doubt })
        };
        json.as_array()?.iter().map(one).collect::<Option<_>>().map(|changes| SheetDiff { changes })
    }
}
