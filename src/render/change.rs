//! A change as it is told when it is made: the words, what a hand turns for it, what must be measured again.

use super::layout::Head;
use crate::garage::Changed;
use crate::schema::Schema;
use crate::timeline::Kind;
use serde_json::{Value as Json, json};

/// As text. `saved` is false for a dry run.
pub fn text(head: &Head, schema: &Schema, changed: &Changed, why: Option<&str>, saved: bool) -> String {
    let new = match changed.kind {
        Kind::Measured => "on record, nothing turned".to_owned(),
        _ => changed.number.to_string(),
    };
    let mut page = head.page(&format!("{new}   {}", head.when(changed.at)));
    for clause in &changed.clauses {
        let turned: Vec<&str> =
            changed.turned.iter().filter(|t| clause.fields.contains(&t.field)).map(|t| t.words.as_str()).collect();
        page.with_note("  ", &clause.text, &turned.join("; "));
    }
    if let Some(why) = why {
        page.wrap("  why: ", why);
    }
    if changed.time_unknown {
        page.wrap(
            "  ",
            "when it was done is not known: the last two runs of the day before its first run count for neither side. If \
             you know from when to when: --between FROM TO",
        );
    }
    if !changed.stale.is_empty() {
        let labels: Vec<&str> = changed.stale.iter().filter_map(|k| schema.field(k)).map(|f| short(&f.label)).collect();
        page.wrap("  re-measure: ", &labels.join(", "));
    }
    if changed.kind == Kind::Measured
        && changed
            .diff
            .changes
            .iter()
            .any(|c| schema.field(&c.key).is_some_and(|f| f.role == crate::schema::Role::Measured))
    {
        page.wrap("  ", "a measured value: no new version. If you turned something to get there, record that too");
    }
    page.line(if saved { "saved" } else { "nothing written" });
    page.text()
}

pub use crate::schema::short_label as short;

/// As JSON.
pub fn json(head: &Head, schema: &Schema, changed: &Changed, why: Option<&str>, saved: bool) -> Json {
    json!({
        "car": head.car,
        "saved": saved,
        "version": changed.number,
        "kind": changed.kind,
        "at": changed.at,
        "why": why,
        "words": changed.clauses.iter().map(|c| &c.text).collect::<Vec<_>>(),
        "changes": changed.diff.to_json(schema),
        "turned": changed.turned,
        "re_measure": changed.stale,
        "unusual": changed.unusual,
    })
}
