//! The sums taken again: from the first record that is another now, every later one once more.

use super::super::book::Book;
use super::super::car::sheet_header;
use super::super::change::{only_describes, say, told};
use super::super::message::{Message, NOTHING_TURNED};
use super::super::now::sets_differ;
use super::super::{Error, Result};
use super::live::{Live, Lived};
use crate::diff::{diff, words};
use crate::schema::{Edit, Schema, Sheet, Value, read_sheet, write_sheet};
use crate::store::Store;
use crate::timeline::{Dated, Given, Kind, MovedStep, Steps, SumError, Timeline, VersionNumber, sums};

/// One record of the side line.
#[derive(Debug, Clone)]
pub struct Rebuilt {
    /// The record, with its message as it will be written.
    pub lived: Lived,
    /// The sheet after it.
    pub sheet: Sheet,
    /// The sheet's text.
    pub text: String,
    /// It holds another sheet than on record, without being put right itself.
    pub carried: bool,
}

/// The live line as it was.
pub struct Line {
    /// How many of the first records stay as they are.
    pub kept: usize,
    /// The others, anew.
    pub rebuilt: Vec<Rebuilt>,
    /// Its versions.
    pub timeline: Timeline,
    /// Every number given so far, theirs included.
    pub given: Given,
}

/// Sums it again. `None` where no record of the sheet is another.
pub fn build(book: &Book, live: &Live, steps: Steps) -> Result<Option<Line>> {
    let schema = &book.schema;
    let same = |i: usize| live.entries[i].commit.is_some() && !live.entries[i].is_touched();
    let was: Vec<&str> = live.before.timeline.records().map(|(_, e)| e.id.as_str()).collect();
    let in_place =
        |i: &usize| *i < live.in_order && same(*i) && was.get(*i) == Some(&live.entries[*i].entry.id.as_str());
    let kept = (0..live.entries.len()).take_while(in_place).count();
    if kept == live.entries.len() && kept == was.len() {
        return Ok(None);
    }
    let base = match kept.checked_sub(1) {
        Some(i) => live.entries[i].sheet(),
        None => Sheet::default(),
    };
    let later = &live.entries[kept..];
    let dated: Vec<Dated> = later.iter().map(|e| e.dated(book)).collect();
    let summed = sums(schema, &base, &dated, steps).map_err(|e| refused(schema, later, e))?;
    let mut given = live.given.clone();
    let mut out: Vec<Rebuilt> = Vec::with_capacity(later.len());
    let mut sheet = base;
    let mut text = match kept.checked_sub(1) {
        Some(i) => live.sheet_text(book, &live.entries[i].entry)?,
        None => String::new(),
    };
    let mut numbers: Vec<VersionNumber> = live.entries[..kept].iter().filter_map(|e| e.entry.number.clone()).collect();
    for s in summed {
        let mut lived = later[s.index].clone();
        let known = lived.known.as_deref();
        text = match known {
            Some(_) => live.sheet_text(book, &lived.entry)?,
            None => text,
        };
        if known.is_none_or(|k| k.1 != s.sheet) {
            refuse_unread(schema, &lived, &text)?;
            text = write_sheet(schema, &s.sheet, Some(&text), &sheet_header());
        }
        let carried = known.is_some_and(|k| k.1 != s.sheet) && !lived.is_touched();
        if lived.commit.is_none() {
            let newest = !later.iter().any(|e| e.is_version() && e.entry.at > lived.entry.at);
            name(book, &mut lived, &sheet, &s.sheet, newest, numbers.last(), &mut given)?;
        }
        lived.entry.blob = Store::blob_id(text.as_bytes()).to_string();
        message(schema, &mut lived, &sheet, &s.sheet, &s.edits);
        if is_as_written(book, &lived)? {
            lived.entry.mended.clear();
            lived.message = lived.message.without("Mended");
        }
        numbers.extend(lived.entry.number.clone());
        sheet = s.sheet;
        out.push(Rebuilt { lived, sheet: sheet.clone(), text: text.clone(), carried });
    }
    let first = live.entries[..kept].iter().map(|e| (e.entry.clone(), e.sheet()));
    let rest = out.iter().map(|r| (r.lived.entry.clone(), r.sheet.clone()));
    let timeline = Timeline::build(schema, first.chain(rest).collect());
    Ok(Some(Line { kept, rebuilt: out, timeline, given }))
}

/// A sheet that holds what cannot be read is not written anew: that would be lost.
pub(in crate::garage) fn refuse_unread(schema: &Schema, lived: &Lived, text: &str) -> Result<()> {
    let read = read_sheet(schema, text);
    match read.refused().next() {
        None => Ok(()),
        Some(problem) => {
            let of = lived.entry.number.as_ref().map_or("a record".to_owned(), ToString::to_string);
            let message = format!("the sheet of {of} holds what cannot be read: {}", problem.message);
            Err(Error::data(message, "nothing was recorded; put the sheet right first: slipbook sheet --edit"))
        }
    }
}

/// What news is, and which number it carries.
fn name(
    book: &Book,
    lived: &mut Lived,
    before: &Sheet,
    after: &Sheet,
    newest: bool,
    neighbour: Option<&VersionNumber>,
    given: &mut Given,
) -> Result<()> {
    let schema = &book.schema;
    let differ = diff(schema, before, after);
    if differ.is_empty() && lived.entry.measured.is_empty() {
        let message = format!("nothing would change: the sheet of {} says so already", lived.entry.at.words(None));
        return Err(Error::usage(message, "slipbook sheet VERSION shows it"));
    }
    if !sets_differ(schema, before, after) || only_describes(schema, &differ) {
        lived.entry.kind = Kind::Measured;
        return Ok(());
    }
    let number = match neighbour {
        Some(n) if !newest => given.beside(n),
        _ => given.next(),
    };
    given.note(&number);
    lived.entry.number = Some(number);
    Ok(())
}

/// The message as it will be written: words anew where what it changes is another, all else as it was.
pub(in crate::garage) fn message(schema: &Schema, lived: &mut Lived, before: &Sheet, after: &Sheet, edits: &[Edit]) {
    let now = diff(schema, before, after);
    let was = lived.known.as_deref().map(|k| diff(schema, &k.0, &k.1));
    let old = std::mem::take(&mut lived.message);
    let e = &mut lived.entry;
    let mut message = Message::new(e.kind, old.subject.clone());
    message.body = old.body.clone();
    if was.as_ref() != Some(&now) && e.kind != Kind::Open {
        let clauses = told(schema, before, after, &now, &e.measured);
        say(&mut message, e.back_to.as_deref(), &clauses);
        if clauses.is_empty() && e.back_to.is_none() {
            message.subject = NOTHING_TURNED.to_owned();
        }
        e.words = if message.body.is_empty() { vec![message.subject.clone()] } else { message.body.clone() };
    }
    if let Some(number) = &e.number {
        message.push("Version", &number.to_string());
    }
    for edit in edits.iter().filter(|_| e.kind != Kind::Open) {
        message.push("Typed", &edit.to_trailer(schema));
    }
    e.measured.iter().for_each(|key| message.push("Measured", key));
    e.back_to.iter().for_each(|v| message.push("Back-to", v));
    e.since.iter().for_each(|s| message.push("Since", &s.iso()));
    e.why.iter().for_each(|w| message.push("Why", w));
    e.mended.extend(lived.fixed.iter().cloned());
    e.mended.iter().for_each(|m| message.push("Mended", m));
    if let Some(id) = lived.commit {
        // The first it stands for and the last: what lies between is found from one to the next.
        e.replaces.truncate(1);
        e.replaces.push(id.to_string());
    }
    e.replaces.iter().for_each(|r| message.push("Replaces", r));
    e.was.iter().for_each(|n| message.push("Was", &n.to_string()));
    // What else a record carries stays with it.
    let ours =
        ["Kind", "Version", "Typed", "Measured", "Back-to", "Since", "Why", "Mended", "Replaces", "Was", "Given"];
    for (key, value) in old.trailers.iter().filter(|(k, _)| !ours.contains(&k.as_str())) {
        message.push(key, value);
    }
    lived.message = message;
}

/// Whether a record that was mended is again what was written first: mended there and back, it is not marked.
fn is_as_written(book: &Book, lived: &Lived) -> Result<bool> {
    let e = &lived.entry;
    let Some(first) = e.replaces.first().filter(|_| !e.mended.is_empty() && e.replaces.len() > 1) else {
        return Ok(false);
    };
    // What a hand wrote there, or what is gone, is not as written.
    let Some(id) = first.parse().ok() else { return Ok(false) };
    let Ok(commit) = book.store.commit(id) else { return Ok(false) };
    let written = Message::read(&commit.message);
    let blob = book.store.file(id, "setup.toml")?.map(|(id, _)| id.to_string());
    let same = |key: &str| written.get(key) == lived.message.get(key);
    let at = super::super::who::moment(commit.authored);
    Ok(blob.as_ref() == Some(&e.blob)
        && at == e.at
        && written.subject == lived.message.subject
        && ["Since", "Why"].into_iter().all(same))
}

/// What an error says that asks about steps.
pub const STEPS_HELP: &str = "--keep-steps: it was turned as far as said, and ended elsewhere; --keep-readings: it ended \
     where the sheet says; nothing was recorded";

pub(in crate::garage) fn refused(schema: &Schema, later: &[Lived], error: SumError) -> Error {
    let label = |key: &str| schema.field(key).map_or(key.to_owned(), |f| f.label.clone());
    let of = |i: usize| {
        let e = &later[i].entry;
        let name = e.number.as_ref().map_or("the record".to_owned(), ToString::to_string);
        format!("{name} of {}", e.at.words(None))
    };
    match error {
        SumError::Refused { index, why } => Error::usage(
            format!("{} cannot be made on the sheet it would meet: {why}", of(index)),
            "nothing was recorded",
        ),
        SumError::Steps(steps) => {
            let one = |s: &MovedStep| {
                let (a, b) = (way(schema, s, &s.was), way(schema, s, &s.now));
                format!("{}: {} was typed as a step, {a}; with that step it would be {b}", of(s.index), label(&s.key))
            };
            Error::Unconfirmed {
                message: format!(
                    "{}. It would start from another value now",
                    steps.iter().map(one).collect::<Vec<_>>().join("; ")
                ),
                help: STEPS_HELP.to_owned(),
            }
        }
    }
}

/// A step's way in words: `13.0 psi -> 12.5 psi`.
fn way(schema: &Schema, step: &MovedStep, ends: &[Option<Value>; 2]) -> String {
    let one = |v: &Option<Value>| match (v, schema.field(&step.key)) {
        (None, _) => "nothing".to_owned(),
        (Some(v), Some(field)) => match v.one() {
            Some(one) => words::show(schema, field, step.slot.or(Some(0)), one),
            None => words::show_value(schema, field, v),
        },
        (Some(_), None) => "another value".to_owned(),
    };
    let to = if ends[1].is_none() { "no value it can have".to_owned() } else { one(&ends[1]) };
    format!("{} -> {to}", one(&ends[0]))
}
