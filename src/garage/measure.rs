//! Measuring: what is stale on a sheet, what a hand measured, and what has always been so.

use super::book::Book;
use super::change::Wanted;
use super::history::History;
use super::kept_stale;
use super::now::text;
use super::{Error, Result};
use crate::diff::words;
use crate::schema::{Edit, Field, KnownParts, Measured, Role, Schema, Sheet, Typed, apply, read_in_parts};
use crate::slip::Moment;
use crate::store::Id;
use crate::timeline::{Entry, Stale, Step, VersionNumber, Walk, always_so};
use std::collections::HashMap;
use std::rc::Rc;

/// What is stale on the car now, in sheet order.
pub fn stale_now(book: &Book, history: &History) -> Result<Vec<Stale>> {
    let Some(last) = history.timeline.versions.len().checked_sub(1) else { return Ok(Vec::new()) };
    let Some(file) = book.cache.as_deref().map(|c| c.with_extension("stale")) else {
        return stale_at(book, history, last);
    };
    let of = kept_stale::of(book, history)?;
    if let Some(kept) = kept_stale::read(&file, &book.schema, of) {
        return Ok(kept);
    }
    let stale = stale_at(book, history, last)?;
    kept_stale::write(&file, &book.schema, of, &stale);
    Ok(stale)
}

/// What was stale at the end of a version, in sheet order.
pub fn stale_at(book: &Book, history: &History, version: usize) -> Result<Vec<Stale>> {
    moved_at(book, history, version, &[Role::Measured])
}

/// The same of fields of these roles: what was set and then moved by another setting as well.
pub fn moved_at(book: &Book, history: &History, version: usize, roles: &[Role]) -> Result<Vec<Stale>> {
    let mut known = KnownParts::default();
    let mut sheet = |id: &str| -> Result<Rc<Sheet>> {
        let id: Id = id.parse().map_err(|e| Error::data(format!("{e}"), "slipbook history"))?;
        Ok(Rc::new(read_in_parts(&book.schema, &text(book.store.blob(id)?, "setup.toml")?, &mut known)))
    };
    let Some(wanted) = history.timeline.versions.get(version) else { return Ok(Vec::new()) };
    let now = sheet(wanted.sheet_id())?;
    let walk = Walk::over(&book.schema, &now, roles);
    walked(walk, history, version, now.clone(), &mut sheet)
}

/// A record that is not written: what would be stale with it on top of a version.
pub struct AsIf<'a> {
    /// The sheet after it.
    pub sheet: &'a Sheet,
    /// Paths of what is taken in it.
    pub taken: Vec<String>,
    /// Its moment.
    pub at: Moment,
}

/// What is stale at the end of a version, of these roles, from sheets that were read already (`Book::sheets`); as if
/// something more had been recorded.
pub fn moved_as_if(
    book: &Book,
    history: &History,
    version: usize,
    roles: &[Role],
    sheets: &HashMap<String, Sheet>,
    as_if: Option<AsIf>,
) -> Result<Vec<Stale>> {
    let gone = || Error::data("a sheet of the book cannot be read", "slipbook history");
    let mut sheet = |id: &str| -> Result<Rc<Sheet>> { Ok(Rc::new(sheets.get(id).ok_or_else(gone)?.clone())) };
    let Some(wanted) = history.timeline.versions.get(version) else { return Ok(Vec::new()) };
    let end = sheet(wanted.sheet_id())?;
    let now = as_if.as_ref().map_or(&*end, |a| a.sheet);
    let mut walk = Walk::over(&book.schema, now, roles);
    if let Some(as_if) = &as_if {
        let entry = Entry { at: as_if.at, measured: as_if.taken.clone(), ..wanted.entry.clone() };
        walk.back(Step { entry: &entry, version: &wanted.number, before: Some(&end), after: as_if.sheet });
    }
    walked(walk, history, version, end.clone(), &mut sheet)
}

type ReadSheet<'a> = dyn FnMut(&str) -> Result<Rc<Sheet>> + 'a;

/// Walks back from the end of a version, as far as needed.
fn walked(
    mut walk: Walk,
    history: &History,
    version: usize,
    end: Rc<Sheet>,
    sheet: &mut ReadSheet,
) -> Result<Vec<Stale>> {
    let timeline = &history.timeline;
    let until = timeline.records().take_while(|(i, _)| *i <= version);
    let steps: Vec<(&Entry, &VersionNumber)> = until.map(|(i, e)| (e, &timeline.versions[i].number)).collect();
    let mut after = (timeline.versions[version].sheet_id(), end);
    for (i, (entry, number)) in steps.iter().enumerate().rev() {
        if walk.is_done() {
            break;
        }
        // Comments and layout make a sheet of their own, and no record.
        if after.0 != entry.blob {
            after = (&entry.blob, sheet(&entry.blob)?);
        }
        let before = match i.checked_sub(1).map(|b| steps[b].0.blob.as_str()) {
            Some(id) if id == after.0 => Some((id, after.1.clone())),
            Some(id) => Some((id, sheet(id)?)),
            None => None,
        };
        walk.back(Step { entry, version: number, before: before.as_ref().map(|(_, s)| &**s), after: &after.1 });
        if let Some(before) = before {
            after = before;
        }
    }
    Ok(walk.finish())
}

/// The record of what a hand measured on a car with this sheet.
///
/// What was named without a number was found as it is on record; in doubt before, it is not any more. A field that a
/// hand sets is refused, unless another setting moves it and it was set again as it is on record; so is a described value that is another than on record: the car changed there, or the
/// record was wrong. `always`: it has been so from the first sheet on.
pub fn measured(schema: &Schema, sheet: &Sheet, taken: &[Measured], always: Option<Moment>) -> Result<Wanted> {
    let mut wanted = Wanted::default();
    for one in taken {
        let (key, slot) = (one.key(), one.slot());
        let field = schema.field(key).ok_or_else(|| Error::data(format!("`{key}` is no field"), "slipbook fields"))?;
        let named = || named(field, slot);
        let on_record = Typed::of(sheet, key, slot);
        // What other settings move (toe, a preload, the nuts of a wheel that was off) may have been set again as it was.
        let again = match one {
            Measured::Given(edit) => edit.typed == on_record,
            Measured::AsItWas { .. } => true,
        };
        if field.role == Role::Set && !(again && always.is_none() && schema.is_moved(sheet, key)) {
            let typed = field.says.first().cloned().unwrap_or_else(|| field.key.clone());
            return Err(Error::usage(
                format!("{}: that is turned by a hand; nothing was recorded", named()),
                format!("slipbook change {typed} ... records what was turned; slipbook measure lists what is measured"),
            ));
        }
        let edit = match one {
            Measured::Given(edit) => edit.clone(),
            Measured::AsItWas { .. } if on_record == Typed::Off => {
                return Err(Error::usage(
                    format!("{} is not on record, so it cannot be found as it was", named()),
                    "give the number; nothing was recorded",
                ));
            }
            Measured::AsItWas { key, slot } => {
                let typed = match on_record {
                    Typed::Doubtful(value, _) => Typed::Reading(value),
                    other => other,
                };
                Edit { key: key.clone(), slot: *slot, typed }
            }
        };
        if let (Role::Described, Some(was)) = (field.role, sheet.get(key)) {
            // What cannot be applied is refused with its reason when it is recorded.
            let after = apply(schema, sheet, std::slice::from_ref(&edit)).map(|a| a.sheet).unwrap_or_default();
            if after.get(key) != Some(was) {
                let was = words::show_doubting(schema, field, was, sheet.doubt(key));
                return Err(Error::usage(
                    format!("{} is on record as {was}, and a part does not change by measuring", named()),
                    "slipbook change if another part was fitted, slipbook mend if it was recorded wrong; \
                     nothing was recorded",
                ));
            }
        }
        if field.role != Role::Note && edit.typed != Typed::Off {
            let path = schema.path(field, slot);
            wanted.measured.push(always.map_or(path.clone(), |stated| always_so(&path, stated)));
        }
        wanted.edits.push(edit);
    }
    Ok(wanted)
}

/// "rear ride height, left": what is meant, for an error.
fn named(field: &Field, slot: Option<usize>) -> String {
    let label = field.label.split([',', '(']).next().unwrap_or(&field.label).trim();
    match slot.and_then(|i| field.slots.get(i)) {
        Some(slot) => format!("{label}, {}", slot.label.as_deref().unwrap_or(&slot.id)),
        None => label.to_owned(),
    }
}
