//! The list as JSON.

use super::super::layout::Head;
use super::WrenchTold;
use crate::schema::{Schema, Value, value_json};
use crate::wrench::{List, Step, Work};
use serde_json::{Value as Json, json};

/// As JSON.
pub fn json(head: &Head, schema: &Schema, told: &WrenchTold) -> Json {
    let mut out = json!({
        "car": head.car, "from": told.from, "to": told.to, "left_alone": told.left_alone, "not_on_record": told.not_on_record, "gone": told.gone, "command": told.command,
    });
    if let (Some(map), Json::Object(list)) = (out.as_object_mut(), list_json(schema, told.list)) {
        map.extend(list);
    }
    out
}

/// The list alone.
pub fn list_json(schema: &Schema, list: &List) -> Json {
    let places: Vec<Json> = list
        .stretches
        .iter()
        .map(|s| {
            let steps: Vec<Json> = s.steps.iter().filter_map(|i| list.steps.get(*i)).map(|s| step(schema, s)).collect();
            json!({"place": s.place, "heading": s.heading, "car_stands": s.car, "under": s.under, "cautions": s.cautions, "steps": steps})
        })
        .collect();
    let off: Vec<Json> = list.steps.iter().filter(|s| s.work == Work::OffRecord).map(|s| step(schema, s)).collect();
    let measure: Vec<Json> = list
        .remeasure
        .iter()
        .map(|r| {
            let expect = r.expect.as_ref().zip(schema.field(&r.field)).map(|(e, f)| value_json(f, &e.value));
            let doubt = r.expect.as_ref().is_some_and(|e| !e.doubt.is_empty());
            json!({"field": r.field, "label": r.label, "check": r.check, "expect": expect, "expect_doubtful": doubt})
        })
        .collect();
    json!({
        "jobs": list.jobs, "minutes": list.minutes, "shop": list.has_shop_work(), "times_under": list.times_under,
        "parts": list.parts, "places": places, "off_record": off, "measure": measure, "not_moved": list.not_moved,
        "before_the_run": list.before_the_run,
    })
}

fn step(schema: &Schema, step: &Step) -> Json {
    let field = schema.field(&step.field);
    let value = |v: &Option<Value>| v.as_ref().zip(field).map(|(v, f)| value_json(f, v));
    let slot = step.slot.and_then(|i| field?.slot_list().get(i)).map(|s| &s.id);
    let (kind, with) = match &step.work {
        Work::Turn => ("turn", None),
        Work::Along(key) => ("along", Some(key)),
        Work::OffRecord => ("off_record", None),
    };
    json!({
        "field": step.field, "slot": slot, "label": step.label, "kind": kind, "with": with,
        "from": value(&step.from), "to": value(&step.to), "amount": step.amount, "words": step.words, "change": step.change,
        "minutes": step.minutes, "shop": step.shop, "unreachable": step.unreachable, "needs": step.needs,
        "brings": step.brings, "cautions": step.cautions,
    })
}
