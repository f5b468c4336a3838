//! What the time before a copy still says of the car: the passes on its parts, and what had gone stale by then. Without it
//! worn tires would be new in the copy, and a wheel that was off would be torqued.

use super::super::Result;
use super::super::book::Book;
use super::super::history::History;
use super::super::measure::moved_as_if;
use super::super::part::MOST_PASSES;
use super::super::shortened::Shortened;
use crate::schema::{Field, Role, Schema, same_name};
use crate::timeline::{Life, Stale, lives, moved_before};
use toml::{Table, Value as Toml};

/// What is carried over the beginning of a copy.
#[derive(Default)]
pub(super) struct Before {
    /// The version the copy begins with, in words.
    from: String,
    /// Parts with the passes they made here before.
    parts: Vec<Life>,
    /// Values that were stale on the sheet it begins with.
    stale: Vec<Stale>,
    /// What came before it, counted; none where the copy begins with the car's record.
    pub(super) shortened: Option<Shortened>,
}

impl Before {
    /// Brings it together; nothing, where the copy begins with the book.
    pub(super) fn of(book: &Book, history: &History, version: Option<usize>) -> Result<Before> {
        let earlier = book.shortened();
        let Some(version) = version else { return Ok(Before { shortened: earlier, ..Before::default() }) };
        let timeline = &history.timeline;
        let runs = history.runs.iter().map(|m| m.version).filter(|v| *v < version);
        let shortened = Some(Shortened { versions: version, runs: runs.clone().count() }.after(earlier));
        // At the end of the version: what was measured anew in it is on its own records.
        let roles = [Role::Measured, Role::Set];
        let stale = moved_as_if(book, history, version, &roles, &book.sheets(timeline)?, None)?;
        Ok(Before {
            from: timeline.versions[version].number.to_string(),
            parts: lives(timeline, runs),
            stale,
            shortened,
        })
    }

    /// Puts the passes a part of `car.toml` made before into what it came with; `notes` says whether notes go along.
    pub(super) fn carry_passes(&self, part: &mut Table, notes: bool) {
        let text = |key: &str| part.get(key).and_then(Toml::as_str).unwrap_or_default();
        let (kind, name) = (text("kind"), text("name"));
        let life = self.parts.iter().find(|l| l.key == kind && same_name(&l.name, name));
        let here = life.map_or(0, Life::runs);
        if here == 0 {
            return;
        }
        let came = part.get("came_with_passes").and_then(Toml::as_integer);
        let all = came.unwrap_or(0).saturating_add(i64::try_from(here).unwrap_or(MOST_PASSES)).min(MOST_PASSES);
        part.insert("came_with_passes".to_owned(), Toml::Integer(all));
        // A count that is too low still tells of a limit that was passed; none would not.
        if came.is_none() && notes && !part.contains_key("note") {
            let said = format!("passes before {}: {here} on this car, those on another are not on record", self.from);
            part.insert("note".to_owned(), Toml::String(said));
        }
    }

    /// What the first record says of values that were stale then, without the fields that stay here.
    pub(super) fn moved(&self, schema: &Schema, leaves: &dyn Fn(&Field) -> bool) -> Vec<String> {
        let field = |key: &str| schema.field(key).filter(|f| !leaves(f));
        let mut out = Vec::new();
        for stale in &self.stale {
            let Some(of) = field(&stale.key) else { continue };
            let mut by: Vec<&str> = stale.causes.iter().flat_map(|c| &c.fields).map(String::as_str).collect();
            by.sort_unstable();
            by.dedup();
            by.retain(|key| field(key).is_some());
            let slots: Vec<Option<usize>> = match stale.slots.is_empty() {
                true => vec![None],
                false => stale.slots.iter().copied().map(Some).collect(),
            };
            out.extend(slots.into_iter().map(|slot| moved_before(&schema.path(of, slot), stale.since(), &by)));
        }
        out
    }
}
