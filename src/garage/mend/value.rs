//! Values that were put down wrong: which record said so, and what it says then.

use super::super::book::Book;
use super::super::change::Wanted;
use super::super::{Error, Result};
use super::fix::{Span, find, note};
use super::live::{Live, Lived};
use crate::diff::words;
use crate::schema::{Edit, Field, Schema, Sheet, Typed, Value, apply};

/// Puts values right, each in the record that said so.
pub fn value(
    book: &Book,
    live: &mut Live,
    record: &str,
    edits: &[Edit],
    span: Span,
    said: &mut Vec<String>,
) -> Result<()> {
    let at = find(live, record)?;
    for edit in edits {
        let step = matches!(edit.typed, Typed::Step(_));
        match span {
            Span::Always if step => {
                return Err(Error::usage("what was always so is a reading, not a step", "give the value itself"));
            }
            Span::Always => always(book, live, edit, said)?,
            Span::Only => only(book, live, at, edit, said)?,
            Span::Stretch => {
                let from = if step { at } else { setter(book, live, at, edit) };
                one(book, live, from, edit, Some(from), said)?;
            }
        }
    }
    Ok(())
}

/// What has always been so goes to the first sheet; what was set or measured later goes on behind it.
pub fn from_the_first(book: &Book, live: &mut Live, wanted: &Wanted, said: &mut Vec<String>) -> Result<()> {
    let schema = &book.schema;
    let first = live.entries.first_mut().ok_or_else(|| Error::data("the book has no sheet yet", "slipbook new"))?;
    let (before, after) = first.known.as_deref().cloned().unwrap_or_default();
    let mut edits = first.edits(book);
    for edit in &wanted.edits {
        edits = with(schema, edits, first, edit);
    }
    let made = apply(schema, &before, &edits).map_err(|why| Error::usage(why, "nothing was recorded"))?;
    first.edits = Some(edits);
    for key in &wanted.measured {
        let path = |k: &str| k.split(' ').next().unwrap_or_default().to_owned();
        first.entry.measured.retain(|k| path(k) != path(key));
        first.entry.measured.push(key.clone());
    }
    let mut keys: Vec<&str> = wanted.edits.iter().map(|e| e.key.as_str()).collect();
    keys.dedup();
    for key in keys {
        let field = field(schema, key)?;
        let text = match made.sheet.same_at(key, &after) {
            true => format!("measured: {} always as on record", field.label),
            false => words_of(schema, None, &made.sheet, field, &after),
        };
        note(first, &text, said);
    }
    Ok(())
}

fn field<'a>(schema: &'a Schema, key: &str) -> Result<&'a Field> {
    schema.field(key).ok_or_else(|| Error::data(format!("`{key}` is no field"), "slipbook fields"))
}

fn covers(a: &Edit, b: &Edit) -> bool {
    a.key == b.key && (a.slot.is_none() || a.slot == b.slot)
}

/// A record's edits with this one in the place of what it says of the same. Where one side is put right, what was said of
/// all sides goes on for the others.
fn with(schema: &Schema, edits: Vec<Edit>, lived: &Lived, edit: &Edit) -> Vec<Edit> {
    let whole = |e: &Edit| edit.slot.is_some() && e.key == edit.key && e.slot.is_none();
    let mut out: Vec<Edit> = Vec::new();
    for e in edits {
        if whole(&e) {
            out.extend(split(schema, &e, lived));
        } else {
            out.push(e);
        }
    }
    out.retain(|e| !covers(edit, e));
    out.push(edit.clone());
    out
}

/// What was said of all sides, side by side: a step for each, else what the record left on the sheet.
fn split(schema: &Schema, edit: &Edit, lived: &Lived) -> Vec<Edit> {
    let slots = schema.field(&edit.key).map_or(0, |f| f.slots.len());
    let after = lived.known.as_deref().map(|k| &k.1);
    let one = |i: usize| {
        let typed = match (&edit.typed, after) {
            (Typed::Step(d), _) => Typed::Step(*d),
            (_, Some(after)) => Typed::of(after, &edit.key, Some(i)),
            (Typed::Reading(v @ Value::One(_)), None) => Typed::Reading(v.clone()),
            (Typed::Reading(v), None) => v.slot(i).cloned().map_or(Typed::Off, |s| Typed::Reading(Value::One(s))),
            (other, None) => other.clone(),
        };
        Edit { key: edit.key.clone(), slot: Some(i), typed }
    };
    (0..slots).map(one).collect()
}

/// In one version only: the next one goes on with what is on record, unless it was set anew there anyway.
fn only(book: &Book, live: &mut Live, at: usize, edit: &Edit, said: &mut Vec<String>) -> Result<()> {
    let schema = &book.schema;
    one(book, live, at, edit, None, said)?;
    let Some(next) = (at + 1..live.entries.len()).find(|i| live.entries[*i].is_version()) else { return Ok(()) };
    let name = number(live, at);
    let lived = &mut live.entries[next];
    let Some(known) = lived.known.as_deref() else { return Ok(()) };
    let edits = lived.edits(book);
    let anew = |e: &Edit| (covers(e, edit) || covers(edit, e)) && !matches!(e.typed, Typed::Step(_));
    if edits.iter().any(anew) {
        return Ok(());
    }
    let stays = Edit { typed: Typed::of(&known.1, &edit.key, edit.slot), ..edit.clone() };
    lived.edits = Some(with(schema, edits, lived, &stays));
    let label = schema.field(&edit.key).map_or(edit.key.as_str(), |f| f.label.as_str());
    note(lived, &format!("mended: {label} as on record, {name} had another"), &mut Vec::new());
    Ok(())
}

fn number(live: &Live, i: usize) -> String {
    live.entries[..=i].iter().rev().find_map(|e| e.entry.number.as_ref()).map(ToString::to_string).unwrap_or_default()
}

/// The record that set the value seen on the version that began with `at`: what was set while it was on the car counts.
fn setter(book: &Book, live: &Live, at: usize, edit: &Edit) -> usize {
    let end = (at + 1..live.entries.len()).find(|i| live.entries[*i].is_version()).unwrap_or(live.entries.len());
    let sets = |i: &usize| {
        let e = &live.entries[*i];
        let of = |sheet: &Sheet| Typed::of(sheet, &edit.key, edit.slot);
        let differs = e.known.as_deref().is_some_and(|k| of(&k.0) != of(&k.1));
        let key = format!("{} ", edit.key);
        let slot = format!("{}.", edit.key);
        let named = e.message.all("Typed").any(|t| t.starts_with(&key) || t.starts_with(&slot));
        differs || (named && e.edits(book).iter().any(|e| covers(e, edit) || covers(edit, e)))
    };
    (0..end).rev().find(sets).unwrap_or(0)
}

/// Puts one edit right in one record.
fn one(
    book: &Book,
    live: &mut Live,
    i: usize,
    edit: &Edit,
    since: Option<usize>,
    said: &mut Vec<String>,
) -> Result<()> {
    let schema = &book.schema;
    let from = since.map(|i| number(live, i));
    let lived = &mut live.entries[i];
    let edits = with(schema, lived.edits(book), lived, edit);
    let (before, after) = lived.known.as_deref().cloned().unwrap_or_default();
    let field = field(schema, &edit.key)?;
    // What goes with another value of the same mend shows once all are summed.
    let right = apply(schema, &before, &edits).map(|a| a.sheet);
    let text = match &right {
        Ok(right) if right.same_at(&edit.key, &after) => {
            return Err(Error::usage(
                format!("{} is on record so already", field.label),
                "slipbook sheet VERSION shows it",
            ));
        }
        Ok(right) => words_of(schema, from.as_deref(), right, field, &after),
        Err(_) => format!("mended: {}", field.label),
    };
    lived.edits = Some(edits);
    note(lived, &text, said);
    Ok(())
}

fn words_of(schema: &Schema, since: Option<&str>, right: &Sheet, field: &Field, wrong: &Sheet) -> String {
    let (now, was) = (right.get(&field.key), wrong.get(&field.key));
    let from = since.map_or(String::new(), |v| format!(" from {v} on"));
    let show = |v: &Value, sheet: &Sheet| words::show_doubting(schema, field, v, sheet.doubt(&field.key));
    match (now, was) {
        (Some(now), None) => format!("mended{from}: {} {}, was not on record", field.label, show(now, right)),
        // Only how sure it is differs.
        (Some(a), Some(b)) if a == b => {
            format!("mended{from}: {} {}, not {}", field.label, show(a, right), show(b, wrong))
        }
        (now, was) => words::mended(since, schema, right, field, now, was),
    }
}

/// From the first sheet on, whatever was said of it since.
fn always(book: &Book, live: &mut Live, edit: &Edit, said: &mut Vec<String>) -> Result<()> {
    let schema = &book.schema;
    let field = field(schema, &edit.key)?;
    let mut first = true;
    for i in 0..live.entries.len() {
        let lived = &live.entries[i];
        let edits = lived.edits(book);
        let (before, after) = lived.known.as_deref().cloned().unwrap_or_default();
        let said_here = edits.iter().any(|e| covers(e, edit) || covers(edit, e));
        let on = |sheet: &Sheet| Typed::of(sheet, &edit.key, edit.slot) != Typed::Off;
        // Where it comes on record again (what it belongs to came back), it comes with the right value.
        let comes = !on(&before) && on(&after);
        if i > 0 && !said_here && !comes {
            continue;
        }
        let mut edits = with(schema, edits, lived, edit);
        if i > 0 && !comes {
            edits.retain(|e| !covers(edit, e));
        }
        let right = apply(schema, &after, std::slice::from_ref(edit)).map_or_else(|_| after.clone(), |a| a.sheet);
        let same = right.same_at(&edit.key, &after);
        let text = match same {
            true => format!("mended: {} was so already", field.label),
            false => words_of(schema, None, &right, field, &after),
        };
        let mut silent = Vec::new();
        live.entries[i].edits = Some(edits);
        note(&mut live.entries[i], &text, if first && !same { said } else { &mut silent });
        first &= same;
    }
    if first {
        let message = format!("{} was always so on record", field.label);
        return Err(Error::usage(message, "slipbook sheet v1 shows it"));
    }
    Ok(())
}
