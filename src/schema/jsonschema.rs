//! JSON Schemas (draft 2020-12) for the files of a book, generated from the definitions.

use super::{Field, RunNumber, Sides, Takes, schema};
use serde_json::{Map, Value as Json, json};

/// The JSON Schemas: file name, text. `schema/generated/` holds them; a garage keeps a copy in `.schema/`.
pub fn json_schemas() -> Vec<(&'static str, String)> {
    let text = |json: Json| format!("{}\n", serde_json::to_string_pretty(&json).unwrap_or_default());
    vec![("car.schema.json", text(car())), ("setup.schema.json", text(setup())), ("day.schema.json", text(day()))]
}

fn file(title: &str, properties: Map<String, Json>, required: &[&str]) -> Json {
    json!({
        "$schema": "https://json-schema.org/draft/2020-12/schema", "title": title, "type": "object",
        "properties": properties, "required": required, "additionalProperties": false,
    })
}

fn format_one() -> Json {
    json!({"const": 1, "description": "the form of this file"})
}

/// A number in its stored unit, or text with another unit, or in doubt.
fn quantity(unit: Option<&str>) -> Json {
    match unit {
        Some(unit) => {
            let units = schema().units.symbols_for(unit).join(", ");
            let text = format!("a number with its unit ({units}); `?` behind the number: in doubt");
            json!({"anyOf": [{"type": "number"}, {"type": "string", "description": text}]})
        }
        None => {
            json!({"anyOf": [{"type": "number"}, {"type": "string", "description": "a number in doubt, `?` behind it"}]})
        }
    }
}

fn plain(field: &Field, slot: Option<usize>) -> Json {
    match slot.map_or(field.takes(), |i| field.slot_takes(i)) {
        Takes::Number => quantity(field.unit_of(slot)),
        Takes::Text => json!({"type": "string"}),
        Takes::Flag => json!({"type": "boolean"}),
        Takes::Choice => json!({"enum": field.choices}),
    }
}

fn slots(field: &Field) -> Json {
    let all = field.slot_list().iter().enumerate().map(|(i, s)| (s.id.clone(), plain(field, Some(i))));
    json!({"type": "object", "properties": all.collect::<Map<_, _>>(), "additionalProperties": false, "minProperties": 1})
}

fn field_schema(field: &Field) -> Json {
    let mut out = match field.sides {
        Sides::One => plain(field, None),
        Sides::Pair => {
            let pair = json!({"type": "array", "items": plain(field, Some(0)), "minItems": 2, "maxItems": 2});
            json!({"anyOf": [plain(field, Some(0)), slots(field), pair]})
        }
        Sides::Corners | Sides::Named => json!({"anyOf": [slots(field), {"type": "array"}]}),
        Sides::List => json!({"type": "array", "items": plain(field, None)}),
        Sides::Rows => json!({"type": "array", "items": slots(field)}),
    };
    if let Some(map) = out.as_object_mut() {
        let unit = field.unit.as_ref().map(|u| format!(" [{u}]")).unwrap_or_default();
        let usual = field.usual.map(|[a, b]| format!(" Usual: {a} to {b}.")).unwrap_or_default();
        map.insert("description".to_owned(), json!(format!("{}{unit}. {}{usual}", field.label, field.help)));
    }
    out
}

/// Puts a definition into the nested tables of its key.
fn put(table: &mut Map<String, Json>, parts: &[&str], definition: Json) {
    match parts {
        [] => {}
        [name] => drop(table.insert((*name).to_owned(), definition)),
        [first, rest @ ..] => {
            let empty = || json!({"type": "object", "properties": {}, "additionalProperties": false});
            let inner = table.entry((*first).to_owned()).or_insert_with(empty);
            if let Some(Json::Object(properties)) = inner.get_mut("properties") {
                put(properties, rest, definition);
            }
        }
    }
}

fn setup() -> Json {
    let mut root = Map::new();
    root.insert("format".to_owned(), format_one());
    for field in &schema().fields {
        let parts: Vec<&str> = field.key.split('.').collect();
        put(&mut root, &parts, field_schema(field));
    }
    // Fields of the car's own are defined in its car.toml.
    root.insert("own".to_owned(), json!({"type": "object", "description": "fields of this car's own, see car.toml"}));
    file("slipbook setup sheet", root, &["format"])
}

fn car() -> Json {
    let ids: Vec<&str> = schema().templates.iter().map(|t| t.id.as_str()).collect();
    let owner = json!({
        "type": "object", "required": ["name"], "additionalProperties": false,
        "properties": {"name": {"type": "string"}, "since": {"description": "a date"}},
    });
    let kinds: Vec<&str> = schema().kinds.iter().map(|k| k.id.as_str()).collect();
    let own = json!({
        "type": "object", "required": ["key", "label", "ring", "role", "kind"],
        "description": "a field of this car's own, in the form of schema/README.md",
        "properties": {
            "key": {"type": "string", "pattern": "^own\\.[^.]+$"}, "label": {"type": "string"},
            "ring": {"enum": ["pocket", "sheet", "extra"]}, "role": {"enum": ["set", "measured", "described", "note"]},
            "kind": {"enum": kinds}, "sides": {"enum": ["one", "pair", "corners", "named", "list", "rows"]},
            "unit": {"type": "string"}, "choices": {"type": "array", "items": {"type": "string"}}, "help": {"type": "string"},
            "private": {"type": "boolean", "description": "told before the book is handed over; --without private leaves it out"},
        },
    });
    let limits = json!({"type": "object", "additionalProperties": {"type": "number"}, "description": "numbers of the rule, moved"});
    let rule = json!({
        "type": "object", "required": ["id"],
        "description": "a rule of the package check: a built-in one muted or moved, with a reason; or one of this car's own, in the form of schema/README.md",
        "properties": {
            "id": {"type": "string"}, "mute": {"type": "boolean"}, "limits": limits, "reason": {"type": "string"},
            "name": {"type": "string"}, "severity": {"enum": ["ask", "note", "caution", "warning", "safety"]},
            "if": {"type": "string"}, "when": {"type": "string"}, "says": {"type": "string"}, "because": {"type": "string"}, "source": {"type": "string"},
        },
    });
    let needs = json!({
        "type": "object", "required": ["et", "item"], "additionalProperties": false,
        "description": "what the class rule book asks for below a time, as the owner put it down",
        "properties": {"et": {"type": "number"}, "finish": {"enum": [660, 1000, 1320]}, "item": {"type": "string"}, "field": {"type": "string"}},
    });
    let properties = json!({
        "rule": {"type": "array", "items": rule}, "needs_below": {"type": "array", "items": needs},
        "part": {"type": "array", "items": part()},
        "format": format_one(), "name": {"type": "string", "description": "the car's name"},
        "template": {"enum": ids, "description": "its chassis"}, "class": {"type": "string"},
        "private": {
            "type": "array", "items": {"type": "string"},
            "description": "fields, or headings of the sheet, that are told before the book is handed over; --without private leaves them out",
        },
        "owner": {"type": "array", "items": owner}, "field": {"type": "array", "items": own},
    });
    file("slipbook car", properties.as_object().cloned().unwrap_or_default(), &["format", "name", "template"])
}

fn part() -> Json {
    let kinds: Vec<&str> = schema().part_kinds().map(|f| f.key.as_str()).collect();
    let mut limits = Map::new();
    for limit in &schema().limits {
        let unit = schema().limit_unit(limit).0;
        let mut number = if limit.fields.is_empty() { json!({"type": "number"}) } else { quantity(unit) };
        let unit = unit.unwrap_or("passes");
        number["description"] = json!(format!("{} [{unit}], as its maker gives it", limit.label));
        limits.insert(limit.name.clone(), number);
    }
    let mut values = Map::new();
    for field in schema().fields.iter().filter(|f| f.part.is_some()) {
        let parts: Vec<&str> = field.key.split('.').collect();
        put(&mut values, &parts, field_schema(field));
    }
    json!({
        "type": "object", "required": ["name", "kind"], "additionalProperties": false,
        "description": "a part with a name of its own",
        "properties": {
            "name": {"type": "string", "description": "the racer's own name for it"},
            "kind": {"enum": kinds, "description": "the field of the sheet that names such a part"},
            "came_with_passes": {"type": "integer", "minimum": 0, "description": "passes on it when it came"},
            "goes_with": {"type": "boolean", "description": "whether it goes with the car when that is sold"},
            "gone": {"description": "a date: it is no longer there"},
            "gone_how": {"type": "string", "description": "sold, scrapped ..."}, "note": {"type": "string"},
            "limits": {"type": "object", "additionalProperties": false, "properties": limits},
            "values": {
                "type": "object", "description": "what describes it, under the keys of the sheet",
                "properties": values, "additionalProperties": false,
            },
        },
    })
}

fn numbers(list: &[RunNumber]) -> Map<String, Json> {
    let one = |n: &RunNumber| {
        let [a, b] = n.possible;
        (
            n.name.clone(),
            json!({"type": "number", "minimum": a, "maximum": b, "description": format!("{} [{}]", n.label, n.unit)}),
        )
    };
    list.iter().map(one).collect()
}

fn day() -> Json {
    let words = &schema().run;
    let list = |l: &[super::RunWord]| l.iter().map(|w| w.word.clone()).collect::<Vec<_>>();
    let mut reading = numbers(&words.reading);
    reading.insert("at".to_owned(), json!({"description": "local time"}));
    reading.insert("sun".to_owned(), json!({"enum": words.sun}));
    reading.insert("by".to_owned(), json!({"type": "string"}));
    reading
        .insert("report".to_owned(), json!({"type": "string", "description": "the weather report it was read from"}));
    let mut run = numbers(&words.number);
    let more = json!({
        "id": {"type": "string", "description": "the run's own id"}, "at": {"description": "local time"},
        "on": {"type": "string", "description": "the version it was made on", "pattern": "^v[0-9]+[a-z]*$"},
        "setup": {"type": "string", "description": "git id of the sheet it was made on", "pattern": "^[0-9a-f]{40}$"},
        "setup_was": {"type": "string"}, "lane": {"enum": words.lanes}, "round": {"type": "string"},
        "clean_to": {"enum": [0, 60, 330, 660, 1000], "description": "clean up to [ft]; absent = to the finish"},
        "why_not": {"enum": list(&words.why_not)}, "did": {"type": "array", "items": {"enum": list(&words.did)}},
        "staged": {"enum": words.staged}, "psi_taken": {"enum": words.psi_taken},
        "shifts": {"type": "array", "items": {"type": "number"}}, "note": {"type": "string"},
    });
    run.extend(more.as_object().cloned().unwrap_or_default());
    let object = |properties: Map<String, Json>, required: &[&str]| json!({"type": "array", "items": {"type": "object", "properties": properties, "required": required, "additionalProperties": false}});
    let properties = json!({
        "format": format_one(), "date": {"description": "the date the race day began on"}, "track": {"type": "string"},
        "finish": {"enum": words.finishes_ft, "description": "[ft]"}, "elevation": {"type": "number", "description": "[ft]"},
        "note": {"type": "string", "description": "what is to be remembered of the day"},
        "closed": {"type": "boolean", "description": "nothing more is expected of it"},
        "unread": {"type": "array", "items": {"type": "string"}, "description": "lines of a page that could not be read, as written"},
        "utc_offset": {"type": "string", "pattern": "^[+-][0-9]{2}:[0-9]{2}$"}, "prep": {"type": "string"},
        "reading": object(reading, &["at"]), "run": object(run, &["id", "at", "on", "setup"]),
    });
    file(
        "slipbook race day",
        properties.as_object().cloned().unwrap_or_default(),
        &["format", "date", "track", "finish", "utc_offset"],
    )
}
