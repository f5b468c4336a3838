//! Values as JSON and back: one shape for every command's `--format json`.

use super::{Field, Num, Scalar, Schema, Sheet, Sides, Value};
use serde_json::{Map, Value as Json, json};

/// A value: a scalar, `{left, right}` and the like, a list, or rows.
pub fn value_json(field: &Field, value: &Value) -> Json {
    match value {
        Value::One(s) => json!(s),
        Value::Slots(v) => slots_json(field, v),
        Value::List(v) => json!(v),
        Value::Rows(rows) => Json::Array(rows.iter().map(|r| slots_json(field, r)).collect()),
    }
}

fn slots_json(field: &Field, slots: &[Option<Scalar>]) -> Json {
    let pairs = field.slot_list().iter().zip(slots).filter_map(|(s, v)| Some((s.id.clone(), json!(v.as_ref()?))));
    Json::Object(pairs.collect::<Map<_, _>>())
}

/// The value `value_json` wrote; `None` when it is none of this field's.
pub fn value_from_json(field: &Field, json: &Json) -> Option<Value> {
    let slots = |o: &Map<String, Json>| -> Option<Vec<Option<Scalar>>> {
        field.slot_list().iter().map(|s| o.get(&s.id).map_or(Some(None), |v| scalar(v).map(Some))).collect()
    };
    match (field.sides, json) {
        (Sides::One, j) => scalar(j).map(Value::One),
        (Sides::List, Json::Array(a)) => a.iter().map(|j| scalar(j)?.num()).collect::<Option<_>>().map(Value::List),
        (Sides::Rows, Json::Array(a)) => {
            a.iter().map(|j| slots(j.as_object()?)).collect::<Option<_>>().map(Value::Rows)
        }
        (_, Json::Object(o)) => slots(o).map(Value::Slots),
        _ => None,
    }
}

fn scalar(json: &Json) -> Option<Scalar> {
    match json {
        Json::Number(n) => Num::from_f64(n.as_f64()?).map(Scalar::Num),
        Json::String(s) => Some(Scalar::Text(s.clone())),
        Json::Bool(b) => Some(Scalar::Flag(*b)),
        _ => None,
    }
}

/// A whole sheet by key, in sheet order.
pub fn sheet_json(schema: &Schema, sheet: &Sheet) -> Json {
    Json::Object(sheet.in_order(schema).map(|(f, v)| (f.key.clone(), value_json(f, v))).collect::<Map<_, _>>())
}
