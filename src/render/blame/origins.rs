//! The sheet with the origin of each value, and what it was worth.

use super::super::layout::{Head, signed};
use crate::blame::FieldOrigin;
use crate::diff::words::show_doubting;
use crate::schema::{Schema, value_json};
use crate::slip::Response;
use serde_json::{Value as Json, json};

/// The sheet area by area with the origin of each value, as text.
pub fn fields_text(head: &Head, schema: &Schema, origins: &[FieldOrigin], response: Response) -> String {
    let mut page =
        head.page(&format!("where each value comes from, and what it was worth in the {}", response.label()));
    let mut area = "";
    for o in origins {
        let Some(field) = schema.field(&o.key) else { continue };
        if field.area != area {
            area = &field.area;
            page.gap();
            page.wrap("", area);
        }
        let why = o.why.as_ref().map(|w| format!(", why: {w}")).unwrap_or_default();
        let followed = match &o.followed {
            Some((e, v)) => format!("; {}: {} {}", o.since, signed(e.value, response.decimals()), v.words()),
            None => String::new(),
        };
        let value = show_doubting(schema, field, &o.value, &o.doubt).replace('\n', " / ");
        let label = format!("  {}: ", field.label);
        page.wrap(&label, &format!("{value}   {} {} by {}{why}{followed}", o.since, head.day(o.at.race_day()), o.by));
    }
    page.text()
}

/// The same as JSON.
pub fn fields_json(head: &Head, schema: &Schema, origins: &[FieldOrigin]) -> Json {
    let one = |o: &FieldOrigin| {
        let field = schema.field(&o.key)?;
        Some(json!({
            "field": o.key, "area": field.area, "value": value_json(field, &o.value), "unit": field.unit, "since": o.since,
            "at": o.at, "by": o.by, "why": o.why, "effect": o.followed.map(|(e, _)| e),
            "evidence": o.followed.map(|(_, v)| v.key()),
        }))
    };
    json!({ "car": head.car, "fields": origins.iter().filter_map(one).collect::<Vec<_>>() })
}
