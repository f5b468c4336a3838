//! The joined line: numbers settled, the sums taken again from the first record that is another on either side.

use super::super::car::sheet_header;
use super::super::mend::build::{message, refuse_unread, refused};
use super::super::{Error, Result};
use super::records::{Item, identity};
use super::side::Side;
use crate::schema::{Schema, write_sheet_onto};
use crate::store::{Id, Store};
use crate::timeline::{Dated, Given, Kind, Steps, Timeline, VersionNumber, sums};
use std::collections::HashSet;

/// A version that has another number than on one side: it gave that up to one that was written earlier.
#[derive(Debug, Clone)]
pub(super) struct Renumbered {
    /// The side it is of.
    pub side: usize,
    /// Its number there.
    pub was: VersionNumber,
    /// Its number now.
    pub now: VersionNumber,
}

/// The line both go on with.
pub(super) struct Line {
    /// It is one side's own, as it stands.
    pub as_on: Option<usize>,
    /// How many of the first records stay as they are.
    pub kept: usize,
    /// The sheet's text after each of the others.
    pub texts: Vec<String>,
    /// The versions.
    pub timeline: Timeline,
    /// Every number given on either side.
    pub given: Given,
    /// Versions whose sheet holds what came from the other side too.
    pub carried: Vec<VersionNumber>,
    /// The sheet's text at its end.
    pub sheet: String,
}

/// Two versions of one number: the one written first keeps it.
pub(super) fn settle_numbers(sides: &mut [Side; 2], items: &mut [Item]) -> (Vec<Renumbered>, Given) {
    let mut given = Given::default();
    for side in sides.iter() {
        given.note_line(&side.live.given.to_line());
        side.entries().iter().filter_map(|e| e.entry.number.as_ref()).for_each(|n| given.note(n));
    }
    let mut held: HashSet<VersionNumber> = HashSet::new();
    let mut open = Vec::new();
    let mut order: Vec<usize> = (0..items.len()).filter(|i| items[*i].lived.entry.number.is_some()).collect();
    // What both sides call so is called so. Where each calls it otherwise, the one written first is asked first, so that
    // it is the same whoever joined with whom before.
    order.sort_by_key(|i| {
        let item = &items[*i];
        let rank = match (item.from.iter().all(Option::is_some), item.claims.is_empty()) {
            (true, true) => 0,
            (true, false) => 1,
            _ => 2,
        };
        let e = &item.lived.entry;
        let number = e.number.clone().filter(|_| rank != 1);
        (rank, number, e.written.seconds, identity(&item.lived).to_owned())
    });
    for i in order {
        let item = &mut items[i];
        let own = item.lived.entry.number.iter();
        let free = item.claims.iter().chain(own).find(|n| !held.contains(*n)).cloned();
        match free {
            Some(number) => {
                held.insert(number.clone());
                item.lived.entry.number = Some(number);
            }
            None => open.push(i),
        }
    }
    for i in open {
        let entry = &mut items[i].lived.entry;
        let Some(number) = entry.number.clone() else { continue };
        let now = given.instead_of(&number);
        given.note(&now);
        entry.number = Some(now);
    }
    let mut out = Vec::new();
    for item in items.iter_mut() {
        let Some(now) = item.lived.entry.number.clone() else { continue };
        item.lived.entry.was.retain(|n| *n != now);
        for side in [0, 1] {
            let was = item.from[side].and_then(|at| sides[side].entries()[at].entry.number.clone());
            let Some(was) = was.filter(|was| *was != now) else { continue };
            // A number that was told once is the version's other name.
            if !item.lived.entry.was.contains(&was) {
                item.lived.entry.was.push(was.clone());
            }
            sides[side].renamed.insert(was.clone(), now.clone());
            out.push(Renumbered { side, was, now: now.clone() });
        }
    }
    out.sort_by(|a, b| (&a.was, a.side, &a.now).cmp(&(&b.was, b.side, &b.now)));
    // What went back to a version goes back to it under its number of now.
    for item in items.iter_mut() {
        let entry = &mut item.lived.entry;
        let back: Option<VersionNumber> = entry.back_to.as_ref().and_then(|b| b.parse().ok());
        if let Some(now) = back.and_then(|b| sides[item.of].renamed.get(&b)) {
            entry.back_to = Some(now.to_string());
        }
    }
    (out, given)
}

/// Takes the sums again.
pub(super) fn build(
    schema: &Schema,
    sides: &[Side; 2],
    items: &mut [Item],
    given: Given,
    steps: Steps,
) -> Result<Line> {
    if items.is_empty() {
        return Err(Error::data("neither book has a sheet", "slipbook new"));
    }
    let whole = |side: usize| {
        let as_there = |(i, item): (usize, &Item)| item.from[side] == Some(i) && is_as_on(sides, item, side);
        sides[side].entries().len() == items.len() && items.iter().enumerate().all(as_there)
    };
    let as_on = [1, 0].into_iter().find(|side| whole(*side));
    if let Some(side) = as_on {
        let told = items.iter().map(|i| (i.lived.entry.clone(), i.lived.sheet())).collect();
        let timeline = Timeline::build(schema, told);
        let sheet = sides[side].live.sheet_text(&sides[side].book, &items[items.len() - 1].lived.entry)?;
        return Ok(Line { as_on, kept: items.len(), texts: Vec::new(), timeline, given, carried: Vec::new(), sheet });
    }
    let in_place = |i: &usize| {
        let both = |side: usize| {
            items[*i].from[side] == Some(*i) && *i < sides[side].live.in_order && is_as_on(sides, &items[*i], side)
        };
        both(0) && both(1)
    };
    let kept = (0..items.len()).take_while(in_place).count();
    let base = kept.checked_sub(1).map(|i| items[i].lived.sheet()).unwrap_or_default();
    let dated: Vec<Dated> = items[kept..].iter().map(|i| i.lived.dated(&sides[i.of].book)).collect();
    let lived: Vec<_> = items[kept..].iter().map(|i| i.lived.clone()).collect();
    let summed = sums(schema, &base, &dated, steps).map_err(|e| refused(schema, &lived, e))?;
    let mut sheet = base;
    let mut running = match kept.checked_sub(1) {
        Some(i) => sides[0].live.sheet_text(&sides[0].book, &items[i].lived.entry)?,
        None => String::new(),
    };
    let mut texts = Vec::with_capacity(summed.len());
    let mut carried = Vec::new();
    let mut told: Vec<_> = items[..kept].iter().map(|i| (i.lived.entry.clone(), i.lived.sheet())).collect();
    for s in summed {
        let item = &mut items[kept + s.index];
        let side = &sides[item.of];
        let mut text = side.live.sheet_text(&side.book, &item.lived.entry)?;
        let was = match item.from[item.of].and_then(|i| i.checked_sub(1)) {
            Some(before) => side.live.sheet_text(&side.book, &side.entries()[before].entry)?,
            None => String::new(),
        };
        let as_known = item.lived.known.as_deref().is_some_and(|k| k.1 == s.sheet);
        // Where it stands on the very text it was written on, its own is the one.
        if !as_known || running != was {
            refuse_unread(schema, &item.lived, &text)?;
            text = write_sheet_onto(schema, &s.sheet, &running, (&was, &text), &sheet_header());
        }
        if !as_known {
            carried.extend(item.lived.entry.number.clone());
        }
        running.clone_from(&text);
        item.lived.entry.blob = Store::blob_id(text.as_bytes()).to_string();
        reword_back(item, side);
        message(schema, &mut item.lived, &sheet, &s.sheet, &s.edits);
        sheet = s.sheet;
        told.push((item.lived.entry.clone(), sheet.clone()));
        texts.push(text);
    }
    let timeline = Timeline::build(schema, told);
    let sheet = match texts.last() {
        Some(text) => text.clone(),
        None => {
            let last = &items[items.len() - 1];
            sides[last.of].live.sheet_text(&sides[last.of].book, &last.lived.entry)?
        }
    };
    Ok(Line { as_on: None, kept, texts, timeline, given, carried, sheet })
}

/// Whether it is on a side as it is to be.
fn is_as_on(sides: &[Side; 2], item: &Item, side: usize) -> bool {
    let Some(there) = item.from[side].map(|i| &sides[side].entries()[i]) else { return false };
    let (a, b) = (&there.entry, &item.lived.entry);
    let same = (a.at, a.since, &a.number, &a.was, &a.why, &a.back_to, a.kind)
        == (b.at, b.since, &b.number, &b.was, &b.why, &b.back_to, b.kind);
    same && a.id == b.id && a.mended == b.mended && item.lived.edits.is_none() && !item.lived.is_touched()
}

/// A sentence that names the version gone back to names it as it is called now.
fn reword_back(item: &mut Item, side: &Side) {
    let was = item.from.iter().zip([0, 1]).find_map(|(at, s)| (s == item.of).then_some(*at).flatten());
    let was = was.and_then(|i| side.entries()[i].entry.back_to.clone());
    let now = item.lived.entry.back_to.clone();
    let (Some(was), Some(now)) = (was, now) else { return };
    if was == now || item.lived.entry.kind != Kind::Revert {
        return;
    }
    let said = |text: &str| text.replacen(&was, &now, 1);
    item.lived.message.subject = said(&item.lived.message.subject);
    item.lived.entry.words = item.lived.entry.words.iter().map(|w| said(w)).collect();
}

/// The commit a side line begins behind.
pub(super) fn start(items: &[Item], kept: usize) -> Option<Id> {
    kept.checked_sub(1).and_then(|i| items[i].lived.commit)
}
