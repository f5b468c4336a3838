//! Going back: what will be turned, what is left alone, what must be measured after.

use super::layout::Head;
use super::wrench;
use crate::garage::{Changed, PartMoved};
use crate::schema::Schema;
use crate::wrench::List;
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
    /// Set fields that were not on record then, and stay.
    pub not_on_record: &'a [String],
    /// What to turn.
    pub list: &'a List,
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
    page.wrap("", &format!("Turned back from {} to {}: {}", told.from, told.target, wrench::sum(told.list)));
    told.changed.clauses.iter().for_each(|clause| page.wrap("  ", &clause.text));
    wrench::left_alone(&mut page, schema, told.left_alone);
    wrench::left_unknown(&mut page, schema, told.not_on_record, &told.target);
    wrench::gone(&mut page, told.gone, "revert");
    told.worn.iter().for_each(|w| page.wrap("Not the same   ", w));
    wrench::body(&mut page, schema, told.list, &told.target, true);
    page.gap();
    if told.saved {
        page.line(format!("saved as {}", told.changed.number));
    } else {
        page.wrap("", &format!("Nothing written. To do it:  {}", told.command));
    }
    if told.list.before_the_run.is_empty() {
        page.wrap(
            "",
            "First pass after it: feel for pull, shut off on anything odd. Tech inspection and class rules decide.",
        );
    }
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
        map.insert("not_on_record".to_owned(), json!(told.not_on_record));
        map.insert("gone".to_owned(), json!(told.gone));
        map.insert("not_the_same".to_owned(), json!(told.worn));
        map.insert("wrench".to_owned(), wrench::list_json(schema, told.list));
    }
    out
}

/// The last that ran well is what is on the car.
pub struct AlreadyTold<'a> {
    /// The last that ran well.
    pub target: String,
    /// The version on the car.
    pub on: String,
    /// Lines on why it is that one.
    pub chosen: Vec<String>,
    /// Set fields that differ but stay.
    pub left_alone: &'a [String],
    /// Set fields that were not on record then, and stay.
    pub not_on_record: &'a [String],
}

/// As text.
pub fn already_text(head: &Head, schema: &Schema, told: &AlreadyTold) -> String {
    let (target, on) = (&told.target, &told.on);
    let mut page = head.page(&match target == on {
        true => format!("already on {target}, the last that ran well: nothing to turn back"),
        false => format!("{on} is set as {target}, the last that ran well: nothing to turn back"),
    });
    for line in told.chosen.iter().skip(1) {
        page.wrap("         ", line);
    }
    wrench::left_alone(&mut page, schema, told.left_alone);
    wrench::left_unknown(&mut page, schema, told.not_on_record, target);
    page.text()
}

/// As JSON: nothing is recorded.
pub fn already_json(head: &Head, told: &AlreadyTold) -> Json {
    json!({
        "car": head.car, "saved": false, "already": true, "back_to": told.target, "from": told.on, "chosen": told.chosen,
        "left_alone": told.left_alone, "not_on_record": told.not_on_record, "words": [], "changes": [],
    })
}
