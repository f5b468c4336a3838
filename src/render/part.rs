//! Parts with their life: passes, where they are, limits; and what came along when one was fitted.

use super::layout::{Head, Page, counted};
use crate::diff::words::show_value;
use crate::garage::{PartLife, PartMoved};
use crate::schema::{Field, Schema, sheet_json};
use serde_json::{Value as Json, json};

/// The one line where a limit is passed.
const MAKER: &str = "A limit is its maker's word; that, tech inspection and class rules go before anything here.";

/// All parts, kind by kind.
pub fn list(head: &Head, parts: &[PartLife]) -> String {
    if parts.is_empty() {
        let mut page = head.page("no part has a name of its own yet");
        page.wrap("", "slipbook part add \"pair A\" --kind \"rear tires\" sidewall soft, least pressure 11");
        return page.text();
    }
    let on = parts.iter().filter(|p| p.on_car().is_some()).count();
    let mut page = head.page(&format!("{}, {on} of them on the car", counted(parts.len(), "named part")));
    let mut kind = "";
    for part in parts {
        if part.kind != kind {
            kind = &part.kind;
            page.gap();
            page.line(&part.kind_words);
        }
        block(&mut page, head, part, parts);
    }
    close(&mut page, parts);
    page.text()
}

/// One part, with its values and every while on the car.
pub fn one(head: &Head, schema: &Schema, parts: &[PartLife]) -> String {
    let names = parts.first().map(|p| p.name.clone()).unwrap_or_default();
    let mut page = head.page(&names);
    for part in parts {
        page.gap();
        page.line(&part.kind_words);
        block(&mut page, head, part, parts);
        for (field, value) in part.values.in_order(schema) {
            page.wrap(&format!("    {}: ", value_word(field)), &show_value(schema, field, value));
        }
        for span in part.spans.iter().filter(|_| part.spans.len() > 1) {
            let until = match (&span.to, span.until) {
                (Some(to), Some(until)) => format!("to {to}, {}", head.when(until)),
                _ => "on the car".to_owned(),
            };
            let runs = counted(span.runs, "run");
            page.wrap("    ", &format!("from {}, {}, {until}: {runs}", span.from, head.when(span.since)));
        }
    }
    close(&mut page, parts);
    page.text()
}

/// What a value is called beside its part: "sidewall", "bar diameter".
fn value_word(field: &Field) -> String {
    field.table_and_name().1.replace('_', " ")
}

fn block(page: &mut Page, head: &Head, part: &PartLife, all: &[PartLife]) {
    let kin = all.iter().filter(|p| p.kind == part.kind).map(|p| p.name.chars().count()).max().unwrap_or(0);
    let wide = kin.min(24);
    page.wrap(&format!("  {:<wide$}  ", part.name), &passes(part));
    let indent = "    ";
    page.wrap(indent, &place(head, part));
    let limits: Vec<String> = part.limits.iter().map(|l| format!("{} {}", l.label, l.words)).collect();
    if !limits.is_empty() {
        page.wrap(indent, &format!("its maker says: {}", limits.join(", ")));
    }
    for limit in &part.limits {
        if let Some(passed) = &limit.passed {
            page.wrap(indent, &format!("OVER: {passed}, {} is {}", limit.label, limit.words));
        }
    }
    let goes = match part.goes_with {
        Some(true) => Some("goes with the car"),
        Some(false) => Some("does not go with the car"),
        None => None,
    };
    goes.into_iter().for_each(|g| page.wrap(indent, g));
    part.note.iter().for_each(|n| page.wrap(&format!("{indent}note: "), n));
}

/// "90 passes: 12 when it came, 78 here".
fn passes(part: &PartLife) -> String {
    match (part.came_with, part.passes()) {
        (Some(0), Some(all)) => format!("{}, all here", counted_passes(all)),
        // What it came with and what it ran here before are one number in a book that begins later.
        (Some(came), Some(all)) if part.record_begins.is_some() => {
            format!("{}: {came} before this record begins, {} in it", counted_passes(all), part.runs)
        }
        (Some(came), Some(all)) => format!("{}: {came} when it came, {} here", counted_passes(all), part.runs),
        _ => format!("{} here, those before are not on record", counted_passes(part.runs)),
    }
}

/// `1 pass`, `3 passes`.
pub fn counted_passes(n: usize) -> String {
    format!("{n} pass{}", if n == 1 { "" } else { "es" })
}

fn place(head: &Head, part: &PartLife) -> String {
    let gone = part.gone.as_ref().map(|g| format!(", {}", g.words(Some(head.year)))).unwrap_or_default();
    match (part.on_car(), part.spans.last()) {
        (Some(span), _) => format!("on the car since {}, {}{gone}", span.from, head.when(span.since)),
        (None, Some(span)) => {
            let until = span.until.map(|t| format!(" {}", head.when(t))).unwrap_or_default();
            format!("came off{until} ({}){gone}", span.to.as_deref().unwrap_or_default())
        }
        (None, None) => match &part.record_begins {
            Some(first) => format!("not on the car in this record, which begins with {first}{gone}"),
            None => format!("not on the car yet{gone}"),
        },
    }
}

fn close(page: &mut Page, parts: &[PartLife]) {
    page.gap();
    if parts.iter().any(|p| p.limits.iter().any(|l| l.passed.is_some())) {
        page.wrap("", MAKER);
    }
    page.wrap("", "Passes are counted from the runs. To fit one:  slipbook part fit NAME");
}

/// As JSON.
pub fn json(head: &Head, schema: &Schema, parts: &[PartLife]) -> Json {
    let one = |p: &PartLife| {
        json!({
            "kind": p.kind, "kind_words": p.kind_words, "name": p.name, "described": p.described,
            "on_car": p.on_car().is_some(), "passes": p.passes(), "came_with_passes": p.came_with,
            "passes_here": p.runs, "spans": p.spans, "limits": p.limits, "goes_with": p.goes_with,
            "gone": p.gone.as_ref().map(|g| json!({"on": g.on.to_string(), "how": g.how})),
            "note": p.note, "record_begins": p.record_begins, "values": sheet_json(schema, &p.values),
        })
    };
    json!({ "car": head.car, "parts": parts.iter().map(one).collect::<Vec<_>>() })
}

/// What came along with a change that fitted a part, below its words.
pub fn moved(head: &Head, schema: &Schema, moved: &[PartMoved]) -> String {
    let mut page = Page::below(head);
    let labels = |keys: &[String]| {
        let mut fields: Vec<&Field> = keys.iter().filter_map(|k| schema.field(k)).collect();
        fields.sort_by_key(|f| schema.order(&f.key));
        fields.into_iter().map(value_word).collect::<Vec<_>>().join(", ")
    };
    for part in moved.iter().filter(|m| m.on) {
        match (part.known, part.values.is_empty()) {
            (true, false) => page.wrap("  ", &format!("came along with {}: {}", part.name, labels(&part.values))),
            (true, true) => {}
            (false, _) => page.wrap(
                "  ",
                &format!("{} is new: slipbook part set \"{}\" ... puts its values on record", part.name, part.name),
            ),
        }
    }
    for part in moved.iter().filter(|m| !m.on && !m.values.is_empty()) {
        page.wrap("  ", &format!("kept of {}: {}", part.name, labels(&part.values)));
    }
    page.text()
}

/// The same as keys of the change's answer.
pub fn with_moved_json(mut change: Json, moved: &[PartMoved]) -> Json {
    if let (Some(map), false) = (change.as_object_mut(), moved.is_empty()) {
        map.insert("parts".to_owned(), json!(moved));
    }
    change
}

/// Passes of the parts on the car, as keys of the sheet's answer: (words, kind, name, passes).
pub fn with_passes_json(mut sheet: Json, passes: &[(String, String, String, usize)]) -> Json {
    if let (Some(map), false) = (sheet.as_object_mut(), passes.is_empty()) {
        let one = |(_, kind, name, n): &(String, String, String, usize)| json!({"kind_words": kind, "name": name, "passes": n});
        map.insert("passes".to_owned(), passes.iter().map(one).collect());
    }
    sheet
}
