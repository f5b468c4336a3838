//! The sheet, area by area.

use super::layout::Head;
use crate::diff::words::show_value;
use crate::schema::{Role, Schema, Sheet, sheet_json};
use serde_json::{Value as Json, json};

/// As text. `title` says which sheet: "v17, Jul 11".
pub fn text(head: &Head, schema: &Schema, sheet: &Sheet, title: &str, notes: &[String]) -> String {
    let mut page = head.page(&format!("{title}, {} fields on record", sheet.len()));
    for note in notes {
        page.wrap("  ", note);
    }
    let mut area = "";
    for (field, value) in sheet.in_order(schema) {
        if field.area != area {
            area = &field.area;
            page.gap();
            page.line(area);
        }
        let role = if field.role == Role::Measured { "  measured" } else { "" };
        let label = format!("  {}: ", field.label);
        match value.one().and_then(|s| s.text()).filter(|t| t.contains('\n')) {
            Some(text) => {
                page.line(&label);
                text.lines().for_each(|line| page.wrap("    ", line));
            }
            None => page.wrap(&label, &format!("{}{role}", show_value(schema, field, value))),
        }
    }
    page.text()
}

/// As JSON.
pub fn json(head: &Head, schema: &Schema, sheet: &Sheet, version: Option<String>) -> Json {
    json!({ "car": head.car, "version": version, "fields": sheet_json(schema, sheet) })
}
