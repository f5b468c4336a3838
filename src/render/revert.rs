//! Going back: what will be turned, what is left alone, what must be measured after.

use super::change::short;
use super::layout::Head;
use crate::garage::{Changed, PartMoved};
use crate::schema::{Role, Schema, Sheet};
use serde_json::{Value as Json, json};

/// What is told.
pub struct RevertTold<'a> {
    /// The version gone back to.
    pub target: String,
    /// Lines on why it is that one.
    pub chosen: Vec<String>,
    /// The version on the car.
    pub from: String,
    /// What it does.
    pub changed: &'a Changed,
    /// Set fields that differ but stay.
    pub left_alone: &'a [String],
    /// The sheet gone back to.
    pub then: &'a Sheet,
    /// Written.
    pub saved: bool,
    /// Parts that are gone, and what stays.
    pub gone: &'a [String],
    /// Parts that are on the car still and have more passes on them than they had then.
    pub worn: &'a [String],
    /// Parts it fits.
    pub moved: &'a [PartMoved],
    /// The command that does it.
    pub command: String,
}

/// As text.
pub fn text(head: &Head, schema: &Schema, told: &RevertTold) -> String {
    let mut page = head.page(&told.chosen.first().cloned().unwrap_or_default());
    for line in told.chosen.iter().skip(1) {
        page.wrap("         ", line);
    }
    page.gap();
    page.line(format!("Turned back from {} to {}", told.from, told.target));
    for clause in &told.changed.clauses {
        let turned: Vec<&str> =
            told.changed.turned.iter().filter(|t| clause.fields.contains(&t.field)).map(|t| t.words.as_str()).collect();
        page.with_note("  ", &clause.text, &turned.join("; "));
    }
    if !told.left_alone.is_empty() {
        let labels: Vec<&str> =
            told.left_alone.iter().filter_map(|k| schema.field(k)).map(|f| short(&f.label)).collect();
        let by_rule = |k: &String| schema.field(k).is_some_and(|f| f.group == "launch" || f.group == "engine");
        let hint =
            if told.left_alone.iter().any(by_rule) { " (--engine takes launch and engine back too)" } else { "" };
        page.wrap("Left alone     ", &format!("{}{hint}", labels.join(", ")));
    }
    told.gone.iter().for_each(|g| page.wrap("Gone           ", g));
    if !told.gone.is_empty() {
        page.line("               --even-gone fits it again");
    }
    told.worn.iter().for_each(|w| page.wrap("Not the same   ", w));
    if !told.changed.stale.is_empty() {
        let one = |k: &String| {
            let field = schema.field(k).filter(|f| f.role == Role::Measured)?;
            let then = told
                .then
                .get(k)
                .map(|v| crate::diff::words::show_doubting(schema, field, v, told.then.doubt(k)))
                .map(|said| format!(" ({said} at {})", told.target));
            Some(format!("{}{}", short(&field.label), then.unwrap_or_default()))
        };
        let all: Vec<String> = told.changed.stale.iter().filter_map(one).collect();
        page.wrap("Measure after  ", &all.join(", "));
    }
    page.gap();
    if told.saved {
        page.line(format!("saved as {}", told.changed.number));
    } else {
        page.wrap("", &format!("Nothing written. To do it:  {}", told.command));
    }
    page.wrap(
        "",
        "First pass after it: feel for pull, shut off on anything odd. Tech inspection and class rules decide.",
    );
    page.text()
}

/// As JSON.
pub fn json(head: &Head, schema: &Schema, told: &RevertTold) -> Json {
    let out = super::change::json(head, schema, told.changed, None, told.saved);
    let mut out = super::part::with_moved_json(out, told.moved);
    if let Some(map) = out.as_object_mut() {
        map.insert("back_to".to_owned(), json!(told.target));
        map.insert("from".to_owned(), json!(told.from));
        map.insert("chosen".to_owned(), json!(told.chosen));
        map.insert("left_alone".to_owned(), json!(told.left_alone));
        map.insert("gone".to_owned(), json!(told.gone));
        map.insert("not_the_same".to_owned(), json!(told.worn));
    }
    out
}
