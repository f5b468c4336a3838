//! What a change newly breaks or mends, said with it.

use super::check::judge;
use super::context::Context;
use super::gather::{AsIf, gather};
use super::ui::Ui;
use crate::check::Judged;
use crate::garage::{Book, Changed};
use crate::render;
use crate::render::Head;
use serde_json::Value as Json;

/// The rules before and after.
pub struct Spoken {
    before: Vec<Judged>,
    after: Vec<Judged>,
}

/// Judges the rules on what is on the car and on what a change makes of it, before it is recorded. `None` where they cannot
/// be judged: a change is recorded all the same, and `check` says why.
pub fn spoken(ctx: &Context, ui: &mut Ui, book: &Book, planned: &Changed, measured: &[String]) -> Option<Spoken> {
    let history = book.history().ok()?;
    let last = history.timeline.versions.len().checked_sub(1)?;
    let taken = measured.iter().filter_map(|m| book.schema.locate(m.split(' ').next()?)).map(|(f, _)| f.key.clone());
    let keys: Vec<String> = planned.diff.changes.iter().map(|c| c.key.clone()).chain(taken).collect();
    let before = judge(book, &gather(ctx, ui, book, &history, last, AsIf::Recorded).ok()?).ok()?;
    let then = gather(ctx, ui, book, &history, last, AsIf::Sheet(&planned.sheet, &keys)).ok()?;
    Some(Spoken { before, after: judge(book, &then).ok()? })
}

/// As text, below the answer.
pub fn text(head: &Head, spoken: Option<&Spoken>) -> String {
    spoken.map(|s| render::check::changed(head, &s.before, &s.after)).unwrap_or_default()
}

/// The answer with `check` {`speaks[]`, `mended[]`}.
pub fn with_json(mut out: Json, spoken: Option<&Spoken>) -> Json {
    if let (Some(map), Some(s)) = (out.as_object_mut(), spoken) {
        map.insert("check".to_owned(), render::check::changed_json(&s.before, &s.after));
    }
    out
}
