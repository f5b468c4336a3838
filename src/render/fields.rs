//! Field definitions: what each is, takes, is called.

use super::layout::{Head, Page, counted};
use crate::schema::{Field, Role, Schema, takes_words};
use serde_json::{Value as Json, json};

/// As text: one line a field, or, for up to `MOST_WHOLE` of them, all that is known.
pub fn text(head: &Head, schema: &Schema, found: &[&Field], asked: Option<&str>) -> String {
    let asked = asked.map(|t| format!(" for `{t}`")).unwrap_or_default();
    let mut page = head.page(&format!("{}{asked}", counted(found.len(), "field")));
    let whole = found.len() <= MOST_WHOLE;
    let mut area = "";
    for field in found {
        if field.area != area {
            area = &field.area;
            page.gap();
            page.line(area);
        }
        if whole { one(&mut page, schema, field) } else { page.wrap(&format!("  {:<30}  ", field.key), &field.label) }
    }
    if !whole {
        page.gap();
        page.line("more of a field: fields KEY   all that speak of something: fields TEXT");
    }
    page.text()
}

/// Up to this many fields are shown whole.
const MOST_WHOLE: usize = 8;

fn one(page: &mut Page, schema: &Schema, f: &Field) {
    let role = match f.role {
        Role::Set => "set by hand",
        Role::Measured => "measured",
        Role::Described => "described once",
        Role::Note => "a note",
    };
    page.wrap(&format!("  {}  ", f.key), &f.label);
    page.wrap("      ", &format!("{role}; {}", takes_words(schema, f)));
    let range = |r: Option<[crate::schema::Num; 2]>| r.map(|[a, b]| format!("{a} to {b}"));
    if let Some(usual) = range(f.usual) {
        let possible = range(f.possible).map(|p| format!(", possible {p}")).unwrap_or_default();
        page.wrap("      usual ", &format!("{usual}{possible} ({})", f.source));
    }
    if f.applies_text.is_some() {
        page.wrap("      only where ", &f.applies.describe());
    }
    if !f.says.is_empty() {
        page.wrap("      typed: ", &f.says.join(", "));
    }
    if !f.moves.is_empty() {
        page.wrap("      measure after: ", &f.moves.join(", "));
    }
    let job: Vec<String> = f
        .tool
        .iter()
        .cloned()
        .chain(f.place.clone())
        .chain(if f.shop { Some("not between rounds".to_owned()) } else { f.minutes.map(|m| format!("{m} min")) })
        .collect();
    if f.role == Role::Set && !job.is_empty() {
        page.wrap("      by hand: ", &job.join(", "));
    }
    page.wrap("      ", &f.help);
}

/// As JSON.
pub fn json(found: &[&Field]) -> Json {
    let one = |f: &&Field| {
        json!({
            "key": f.key, "label": f.label, "area": f.area, "role": f.role, "ring": f.ring, "kind": f.kind, "sides": f.sides,
            "unit": f.unit, "usual": f.usual, "possible": f.possible, "choices": f.choices, "chassis": f.chassis,
            "applies": f.applies_text, "moves": f.moves, "typed": f.says, "minutes": f.minutes, "help": f.help, "source": f.source,
        })
    };
    json!({ "fields": found.iter().map(one).collect::<Vec<_>>() })
}
