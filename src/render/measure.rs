//! What there is to measure: what is stale and what made it so, what is in doubt, what is not on record; how it is taken.

use super::change::short;
use super::layout::{Head, Page};
use crate::diff::words::{show_doubting, show_value};
use crate::schema::{Field, Places, Role, Schema, Sheet, Value, value_json};
use crate::timeline::{Cause, Missing, Stale};
use serde_json::{Value as Json, json};

/// What is told.
pub struct ToMeasure<'a> {
    /// The sheet on the car.
    pub sheet: &'a Sheet,
    /// What is stale on it.
    pub stale: &'a [Stale],
    /// What was set on it, and moved by another setting since.
    pub moved: &'a [Stale],
    /// What is not on it.
    pub missing: &'a [Missing],
}

impl ToMeasure<'_> {
    /// Fields with a number in doubt, in sheet order.
    fn doubtful<'s>(&self, schema: &'s Schema) -> Vec<&'s Field> {
        schema.fields.iter().filter(|f| self.sheet.is_doubtful(&f.key, None)).collect()
    }

    /// Minutes of all of it, each field counted once.
    fn minutes(&self, schema: &Schema) -> u32 {
        let mut keys: Vec<&str> = self.stale.iter().map(|s| s.key.as_str()).collect();
        keys.extend(self.moved.iter().map(|s| s.key.as_str()));
        keys.extend(self.doubtful(schema).iter().map(|f| f.key.as_str()));
        keys.extend(self.missing.iter().map(|m| m.key.as_str()));
        keys.sort_unstable();
        keys.dedup();
        keys.iter().filter_map(|k| schema.field(k)?.minutes).sum()
    }
}

/// As text.
pub fn text(head: &Head, schema: &Schema, told: &ToMeasure) -> String {
    let doubtful = told.doubtful(schema);
    let mut said: Vec<String> = Vec::new();
    for (n, what) in [
        (told.stale.len(), "stale"),
        (told.moved.len(), "set and moved since"),
        (doubtful.len(), "in doubt"),
        (told.missing.len(), "not on record"),
    ] {
        said.extend((n > 0).then(|| format!("{n} {what}")));
    }
    let line = match told.minutes(schema) {
        _ if said.is_empty() => {
            "nothing to measure: all of it is on record and was taken since its last change".to_owned()
        }
        0 => format!("to measure: {}", said.join(", ")),
        minutes => format!("to measure: {}; about {minutes} minutes for all", said.join(", ")),
    };
    let mut page = head.page(&line);
    if !told.stale.is_empty() {
        page.gap();
        page.line("Stale: what moves it was changed after it was taken");
    }
    for stale in told.stale {
        if let Some(field) = schema.field(&stale.key) {
            one_stale(&mut page, head, schema, field, stale, told.sheet);
        }
    }
    if !told.moved.is_empty() {
        page.gap();
        page.wrap("", "Set, and moved by something else since: set it again, then name it");
    }
    for moved in told.moved {
        if let Some(field) = schema.field(&moved.key) {
            one_stale(&mut page, head, schema, field, moved, told.sheet);
        }
    }
    if !doubtful.is_empty() {
        page.gap();
        page.line("In doubt");
    }
    for field in &doubtful {
        if let Some(value) = told.sheet.get(&field.key) {
            let unsure = only(value, told.sheet.doubt(&field.key));
            let said = show_doubting(schema, field, &unsure, told.sheet.doubt(&field.key));
            page.wrap(&format!("  {}: ", short(&field.label)), &said);
            page.wrap("    ", &how(field));
        }
    }
    if !told.missing.is_empty() {
        page.gap();
        page.line("Not on record");
    }
    for missing in told.missing {
        if let Some(field) = schema.field(&missing.key) {
            let label = format!("  {}{}: ", short(&field.label), sides(field, &missing.slots));
            page.wrap(&label, &how(field));
        }
    }
    page.gap();
    if !said.is_empty() {
        let first = told.stale.first().map(|s| s.key.as_str()).or(doubtful.first().map(|f| f.key.as_str()));
        let first = first.or(told.missing.first().map(|m| m.key.as_str())).and_then(|k| schema.field(k));
        if let Some(field) = first {
            let name = field.says.first().unwrap_or(&field.key);
            page.wrap("", &format!("Taken:  slipbook measure {name} ...   found as it was: without a number"));
        }
    }
    page.text()
}

fn one_stale(page: &mut Page, head: &Head, schema: &Schema, field: &Field, stale: &Stale, sheet: &Sheet) {
    let Some(value) = sheet.get(&stale.key) else { return };
    let places: Places = stale.slots.iter().copied().collect();
    let value = if places.is_empty() { value.clone() } else { only(value, &places) };
    let taken = stale.taken.as_ref().map(|t| format!(" ({}, {})", t.version, head.day(t.at.race_day())));
    let was =
        format!("was {}{}", show_doubting(schema, field, &value, sheet.doubt(&stale.key)), taken.unwrap_or_default());
    page.wrap(&format!("  {}: ", short(&field.label)), &was);
    for cause in stale.causes.iter().take(MOST_CAUSES) {
        page.wrap(&format!("    {}, {}: ", cause.version, head.day(cause.at.race_day())), &cause.words.join(", "));
    }
    let later: Vec<String> = stale.causes.iter().skip(MOST_CAUSES).map(|c| c.version.to_string()).collect();
    if !later.is_empty() {
        page.wrap("    ", &format!("and later {}", later.join(", ")));
    }
    if let Some(before) = &stale.before {
        let said = show_value(schema, field, &before.value);
        let day = head.day(before.taken.at.race_day());
        page.wrap("    ", &format!("set as now it was {said} at {}, {day}", before.taken.version));
    }
    page.wrap("    ", &how(field));
}

/// The most changes that are told of one value.
const MOST_CAUSES: usize = 2;

/// Only some numbers of a value.
fn only(value: &Value, places: &Places) -> Value {
    match value {
        Value::Slots(v) => {
            let keep = |(i, s): (usize, &Option<_>)| if places.contains(&i) { s.clone() } else { None };
            Value::Slots(v.iter().enumerate().map(keep).collect())
        }
        other => other.clone(),
    }
}

/// ", left front, right rear": which of several.
fn sides(field: &Field, slots: &[usize]) -> String {
    let name = |i: &usize| field.slots.get(*i).map(|s| format!(", {}", s.label.as_deref().unwrap_or(&s.id)));
    slots.iter().filter_map(name).collect()
}

/// "3 min, drill shank, feeler; under the rear"
fn how(field: &Field) -> String {
    let time = match (field.shop, field.minutes) {
        (true, _) => Some("not between rounds".to_owned()),
        (false, minutes) => minutes.map(|m| format!("{m} min")),
    };
    // Behind a semicolon stands what sets it.
    let tool = field.tool.as_deref().and_then(|t| t.split(';').next()).map(str::trim);
    let place = field.place.as_deref().filter(|p| !tool.is_some_and(|t| t.contains(p)));
    let with: Vec<&str> = tool.into_iter().chain(place).collect();
    let with = if with.is_empty() { field.help.clone() } else { with.join("; ") };
    time.into_iter().chain([with]).collect::<Vec<_>>().join(", ")
}

/// "not re-measured since v18", for the sheet; `None` where all of the value is as taken.
pub fn not_since(stale: &[Stale], field: &Field, value: &Value) -> Option<String> {
    let of: Vec<&Stale> = stale.iter().filter(|s| s.key == field.key).collect();
    let first = of.first()?;
    let there = value.number_places().len();
    let whole = of.len() == 1 && (first.slots.is_empty() || first.slots.len() == there);
    if whole {
        return Some(format!("not re-measured since {}", first.since().version));
    }
    let one = |s: &&Stale| {
        format!("{} not re-measured since {}", sides(field, &s.slots).trim_start_matches(", "), s.since().version)
    };
    Some(of.iter().map(one).collect::<Vec<_>>().join("; "))
}

/// Whether nothing of the value was taken since what moves it was changed.
pub fn is_all_stale(stale: &[Stale], field: &Field, value: &Value) -> bool {
    let of = stale.iter().filter(|s| s.key == field.key);
    let slots: Vec<&[usize]> = of.map(|s| s.slots.as_slice()).collect();
    !slots.is_empty() && (slots.iter().any(|s| s.is_empty()) || slots.concat().len() == value.number_places().len())
}

/// Paths of the numbers in doubt, for programs.
pub fn doubtful_json(schema: &Schema, sheet: &Sheet) -> Json {
    let paths = |f: &Field| -> Vec<String> {
        let slots = matches!(sheet.get(&f.key), Some(Value::Slots(_)));
        let one = |i: &usize| match slots {
            true => schema.path(f, Some(*i)),
            false => f.key.clone(),
        };
        let mut all: Vec<String> = sheet.doubt(&f.key).iter().map(one).collect();
        all.dedup();
        all
    };
    json!(schema.fields.iter().flat_map(paths).collect::<Vec<_>>())
}

/// What is stale, for programs.
pub fn stale_json(schema: &Schema, stale: &[Stale]) -> Json {
    let one = |s: &Stale| {
        let field = schema.field(&s.key)?;
        let cause = |c: &Cause| json!({"version": c.version, "at": c.at, "fields": c.fields, "words": c.words});
        let before = s
            .before
            .as_ref()
            .map(|b| json!({"value": value_json(field, &b.value), "version": b.taken.version, "at": b.taken.at}));
        Some(json!({
            "field": s.key, "slots": slot_ids(field, &s.slots), "taken": s.taken, "since": s.since().version,
            "causes": s.causes.iter().map(cause).collect::<Vec<_>>(), "set_as_now": before,
        }))
    };
    Json::Array(stale.iter().filter_map(one).collect())
}

fn slot_ids<'f>(field: &'f Field, slots: &[usize]) -> Vec<&'f str> {
    slots.iter().filter_map(|i| field.slots.get(*i)).map(|s| s.id.as_str()).collect()
}

/// As JSON.
pub fn json(head: &Head, schema: &Schema, told: &ToMeasure) -> Json {
    let how = |key: &str| {
        let field = schema.field(key)?;
        Some(json!({
            "field": key, "label": field.label, "measured": field.role == Role::Measured, "tool": field.tool,
            "place": field.place, "minutes": field.minutes, "shop": field.shop, "help": field.help,
        }))
    };
    let mut keys: Vec<&str> = told.stale.iter().map(|s| s.key.as_str()).collect();
    keys.extend(told.moved.iter().map(|s| s.key.as_str()));
    keys.dedup();
    let doubtful = told.doubtful(schema);
    keys.extend(doubtful.iter().map(|f| f.key.as_str()));
    keys.extend(told.missing.iter().map(|m| m.key.as_str()));
    let mut seen = std::collections::HashSet::new();
    keys.retain(|k| seen.insert(*k));
    let missing = |m: &Missing| {
        let field = schema.field(&m.key)?;
        Some(json!({"field": m.key, "slots": slot_ids(field, &m.slots)}))
    };
    json!({
        "car": head.car, "stale": stale_json(schema, told.stale), "moved": stale_json(schema, told.moved), "doubtful": doubtful_json(schema, told.sheet),
        "not_on_record": told.missing.iter().filter_map(missing).collect::<Vec<_>>(),
        "how": keys.into_iter().filter_map(how).collect::<Vec<_>>(), "minutes": told.minutes(schema),
    })
}
