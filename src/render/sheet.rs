//! The sheet, area by area.

use super::layout::{Head, counted};
use super::measure::{doubtful_json, is_all_stale, not_since, stale_json};
use crate::diff::words::show_doubting;
use crate::schema::{Role, Schema, Sheet, sheet_json};
use crate::timeline::Stale;
use serde_json::{Value as Json, json};

/// As text. `title` says which sheet: "v17, Jul 11". A value that is `stale` is shown as what it was.
pub fn text(head: &Head, schema: &Schema, sheet: &Sheet, stale: &[Stale], title: &str, notes: &[String]) -> String {
    let mut page = head.page(&format!("{title}, {} on record", counted(sheet.len(), "field")));
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
            None => {
                let said = show_doubting(schema, field, value, sheet.doubt(&field.key));
                let said = if is_all_stale(stale, field, value) { format!("was {said}") } else { said };
                let since = not_since(stale, field, value).map(|s| format!(", {s}")).unwrap_or_default();
                page.wrap(&label, &format!("{said}{since}{role}"));
            }
        }
    }
    page.text()
}

/// As JSON.
pub fn json(head: &Head, schema: &Schema, sheet: &Sheet, stale: &[Stale], version: Option<String>) -> Json {
    json!({
        "car": head.car, "version": version, "fields": sheet_json(schema, sheet), "stale": stale_json(schema, stale),
        "doubtful": doubtful_json(schema, sheet),
    })
}
