//! What a change newly breaks or mends, said with it.

use super::check::judge;
use super::context::Context;
use super::gather::{Looked, With};
use super::ui::Ui;
use crate::check::Judged;
use crate::garage::{Book, Changed, History};
use crate::render;
use crate::render::Head;
use crate::schema::Severity;
use crate::timeline::VersionNumber;
use serde_json::Value as Json;

/// The rules before and after.
pub struct Spoken {
    before: Vec<Judged>,
    after: Vec<Judged>,
    /// Fields that the change gives.
    touched: Vec<String>,
}

/// Judges the rules on what is on the car and on what a change makes of it, before it is recorded. `None` where they cannot
/// be judged: a change is recorded all the same, and `check` says why.
pub fn spoken(ctx: &Context, ui: &mut Ui, book: &Book, planned: &Changed, measured: &[String]) -> Option<Spoken> {
    let history = book.history().ok()?;
    let last = history.timeline.versions.last()?.number.clone();
    spoken_on(ctx, ui, book, &history, &last, planned, measured)
}

/// The same, of what was on the car as version `on`: a change that is told late.
pub fn spoken_on(
    ctx: &Context,
    ui: &mut Ui,
    book: &Book,
    history: &History,
    on: &VersionNumber,
    planned: &Changed,
    measured: &[String],
) -> Option<Spoken> {
    let at = history.timeline.versions.iter().rposition(|v| v.number == *on)?;
    let taken: Vec<String> = measured.iter().filter_map(|m| Some(m.split(' ').next()?.to_owned())).collect();
    let fields = taken.iter().filter_map(|p| book.schema.locate(p)).map(|(f, _)| f.key.clone());
    let touched = planned.diff.changes.iter().map(|c| c.key.clone()).chain(fields).collect();
    let looked = Looked::at(book, history, at).ok()?.undated();
    let before = judge(book, &looked.gather(ctx, ui, With::Nothing).ok()?);
    let then = looked.gather(ctx, ui, With::Sheet(&planned.sheet, &taken)).ok()?;
    Some(Spoken { before, after: judge(book, &then), touched })
}

impl Spoken {
    /// What it newly makes look mistyped, in words: that is asked about before it is recorded.
    pub fn asks(&self) -> Vec<String> {
        let new = render::check::compared(&self.before, &self.after, &self.touched).0.into_iter();
        new.filter(|j| j.rule.severity == Severity::Ask)
            .filter_map(|j| Some(format!("{} {}", j.rule.id, j.speaks()?)))
            .collect()
    }
}

/// As text, below the answer.
pub fn text(head: &Head, spoken: Option<&Spoken>) -> String {
    spoken.map(|s| render::check::changed(head, &s.before, &s.after, &s.touched)).unwrap_or_default()
}

/// The answer with `check` {`speaks[]`, `mended[]`}.
pub fn with_json(mut out: Json, spoken: Option<&Spoken>) -> Json {
    if let (Some(map), Some(s)) = (out.as_object_mut(), spoken) {
        map.insert("check".to_owned(), render::check::changed_json(&s.before, &s.after, &s.touched));
    }
    out
}
