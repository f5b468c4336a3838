//! What can be put right, and how each of it alters the list of dated changes and the days.

use super::super::book::Book;
use super::super::change::Wanted;
use super::super::message::Message;
use super::super::who::{Hand, person};
use super::super::{Error, Result};
use super::days;
use super::live::{Live, Lived, find_run};
use crate::diff::words;
use crate::schema::{Edit, Num, Schema, Sheet, Typed, Value, apply};
use crate::slip::{Moment, Run};
use crate::timeline::{Entry, Kind, VersionNumber};
use jiff::civil::Date;

/// For how long a value was wrong.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Span {
    /// From the record that set it until the field was next set.
    Stretch,
    /// In this version only; what was on record goes on behind it.
    Only,
    /// From the first sheet on, whatever was said of it in between.
    Always,
}

/// One thing to put right. Records of the sheet are named by their commit id.
#[derive(Debug, Clone)]
pub enum Fix {
    /// The car changed (or something was measured) before what is on record.
    Late(Wanted),
    /// Values were put down wrong.
    Value {
        /// The record that began the version it was seen on.
        record: String,
        /// What is right. A step is one from the sheet before that record.
        edits: Vec<Edit>,
        /// For how long.
        span: Span,
    },
    /// It has always been so: the first sheet says it, and every later one until it was measured or set otherwise.
    Always(Wanted),
    /// It happened at another time.
    Time {
        /// The record.
        record: String,
        /// When it happened, or the end of the window.
        at: Moment,
        /// The beginning of the window, where only one is known.
        since: Option<Moment>,
    },
    /// It had another reason.
    Why {
        /// The record.
        record: String,
        /// The reason.
        why: Option<String>,
    },
    /// It never happened on the car.
    Never {
        /// The record.
        record: String,
    },
    /// What was mended as never having happened did happen.
    Happened(VersionNumber),
    /// The clock was wrong that day: everything recorded on it was so much later (or earlier, below zero).
    Clock {
        /// The race day as recorded.
        day: Date,
        /// Seconds to add.
        seconds: i64,
    },
    /// A run's numbers or words: the run as it is right, under its own id.
    Run(Box<Run>),
    /// A run was made on that version, whatever was on the car by its time.
    RunOn {
        /// Its id or the beginning of it.
        run: String,
        /// Index of the version in the timeline on record.
        version: usize,
    },
    /// A run that was never made.
    NoRun {
        /// Its id or the beginning of it.
        run: String,
    },
    /// A track, on all its days.
    Track {
        /// As it is on record.
        name: String,
        /// Its right name.
        to: Option<String>,
        /// Its elevation, ft.
        elevation_ft: Option<Num>,
    },
}

/// Applies it; what it does is added to `said`, in words.
pub fn put_right(book: &Book, hand: &Hand, live: &mut Live, fix: &Fix, said: &mut Vec<String>) -> Result<()> {
    match fix {
        Fix::Late(wanted) => late(book, hand, live, wanted),
        Fix::Value { record, edits, span } => value(book, live, record, edits, *span, said),
        Fix::Always(wanted) => from_the_first(book, live, wanted, said),
        Fix::Time { record, at, since } => time(live, record, *at, *since, said),
        Fix::Why { record, why } => {
            let at = find(live, record)?;
            let e = &mut live.entries[at];
            let text = why.as_deref().map_or("it had no reason".to_owned(), |w| format!("why: {w}"));
            e.entry.why.clone_from(why);
            e.message = e.message.clone().without("Why");
            note(e, &format!("mended: {text}"), said);
            Ok(())
        }
        Fix::Never { record } => never(live, record, said),
        Fix::Happened(number) => happened(book, live, number, said),
        Fix::Clock { day, seconds } => clock(live, *day, *seconds, said),
        Fix::Run(run) => {
            let (d, r) = find_run(live, &run.id, None)?;
            let was = std::mem::replace(&mut live.days[d].day.runs[r], (**run).clone());
            said.push(format!(
                "mended: the run of {}{}",
                was.at.words(None),
                days::what_differs(&book.schema.run, &was, run)
            ));
            days::settle(live, d, r)
        }
        Fix::RunOn { run, version } => {
            let (d, r) = find_run(live, run, None)?;
            let id = live.days[d].day.runs[r].id.clone();
            let recorded = live.days.iter().flat_map(|f| &f.old.runs).find(|o| o.id == id).map(|o| o.on.clone());
            let was = recorded.unwrap_or_default();
            let version = &live.before.timeline.versions[*version];
            let run = &mut live.days[d].day.runs[r];
            said.push(format!("mended: the run of {} was made on {}, not {was}", run.at.words(None), version.number));
            let old = std::mem::replace(&mut run.setup, version.sheet_id().to_owned());
            run.on = version.number.to_string();
            days::keep_link(run, &old);
            Ok(())
        }
        Fix::NoRun { run } => {
            let (d, r) = find_run(live, run, None)?;
            let run = live.days[d].day.runs.remove(r);
            said.push(format!("mended: there was no run at {}", run.at.words(None)));
            Ok(())
        }
        Fix::Track { name, to, elevation_ft } => days::track(live, name, to.as_deref(), *elevation_ft, said),
    }
}

/// Index of the record with this commit id.
fn find(live: &Live, record: &str) -> Result<usize> {
    let found = live.entries.iter().position(|e| e.entry.id == record);
    found.ok_or_else(|| Error::data(format!("there is no record {record} on the car's line"), "slipbook history"))
}

fn note(lived: &mut Lived, text: &str, said: &mut Vec<String>) {
    lived.fixed.push(text.to_owned());
    let named = text.starts_with("mended from ");
    let of = lived.entry.number.as_ref().filter(|_| !named).map(|n| format!("{n} ")).unwrap_or_default();
    said.push(format!("{of}{text}"));
}

fn late(book: &Book, hand: &Hand, live: &mut Live, wanted: &Wanted) -> Result<()> {
    if let Some((was, text)) = &wanted.car {
        let is = book.store.file(live.head, "car.toml")?;
        if is.is_none_or(|(id, _)| id != *was) || live.car.is_some() {
            return Err(Error::data("car.toml changed meanwhile; nothing was recorded", "say it again"));
        }
        live.car = Some(text.clone());
    }
    let at = wanted.at.unwrap_or(hand.now);
    let first = live.entries.first().map(|e| e.entry.at).unwrap_or(at);
    if at < first {
        let message = format!("{} is before the book begins ({})", at.words(None), first.words(None));
        let help = "if the first sheet was on the car by then: slipbook mend v1 --when TIME, then this again";
        return Err(Error::usage(message, help));
    }
    if wanted.since.is_some_and(|since| since > at) {
        return Err(Error::usage("the window ends before it begins", "--between FROM TO"));
    }
    let person = person(&hand.by);
    let order = live.entries.iter().map(|e| e.order).max().map_or(0, |o| o + 1);
    let entry = Entry {
        id: String::new(),
        kind: if wanted.back_to.is_some() { Kind::Revert } else { Kind::Change },
        number: None,
        at,
        written: hand.now,
        by: person.name.clone(),
        words: Vec::new(),
        why: wanted.why.clone().filter(|w| !w.trim().is_empty()),
        back_to: wanted.back_to.clone(),
        measured: wanted.measured.clone(),
        since: wanted.since,
        mended: Vec::new(),
        replaces: Vec::new(),
        blob: String::new(),
    };
    live.entries.push(Lived {
        entry,
        commit: None,
        message: Message::default(),
        people: (person.clone(), person),
        known: None,
        edits: Some(wanted.edits.clone()),
        fixed: Vec::new(),
        moved: false,
        order,
    });
    sort(live);
    Ok(())
}

/// Into the order of time.
pub fn sort(live: &mut Live) {
    live.entries.sort_by_key(|e| (e.entry.at.seconds, e.order));
}

fn covers(a: &Edit, b: &Edit) -> bool {
    a.key == b.key && (a.slot.is_none() || a.slot == b.slot)
}

fn slot_of(sheet: &Sheet, e: &Edit) -> Option<Value> {
    match (sheet.get(&e.key), e.slot) {
        (Some(v), Some(i)) => v.slot(i).cloned().map(Value::One),
        (v, _) => v.cloned(),
    }
}

fn value(book: &Book, live: &mut Live, record: &str, edits: &[Edit], span: Span, said: &mut Vec<String>) -> Result<()> {
    let schema = &book.schema;
    let at = find(live, record)?;
    for edit in edits {
        let step = matches!(edit.typed, Typed::Step(_));
        match span {
            Span::Always if step => {
                return Err(Error::usage("what was always so is a reading, not a step", "give the value itself"));
            }
            Span::Always => always(book, live, edit, said)?,
            Span::Only => {
                let next = (at + 1..live.entries.len()).find(|i| live.entries[*i].is_version());
                let end = next.unwrap_or(live.entries.len()) - 1;
                let was = live.entries[end].known.as_deref().and_then(|k| slot_of(&k.1, edit));
                one(book, live, at, edit, None, said)?;
                // Behind it what was on record goes on, unless it was set anew there anyway.
                if let Some(next) = next {
                    let mut theirs = live.entries[next].edits(book);
                    if !theirs.iter().any(|e| covers(e, edit) && !matches!(e.typed, Typed::Step(_))) {
                        theirs.retain(|e| !covers(edit, e));
                        let known = live.entries[next].known.as_deref().and_then(|k| slot_of(&k.1, edit));
                        let stays = if known == was { was } else { known };
                        theirs.insert(0, Edit { typed: stays.map_or(Typed::Off, Typed::Reading), ..edit.clone() });
                        let text = format!(
                            "mended: {} as on record, {} had another",
                            label(schema, &edit.key),
                            number(live, at)
                        );
                        note(&mut live.entries[next], &text, &mut Vec::new());
                        live.entries[next].edits = Some(theirs);
                    }
                }
            }
            Span::Stretch => {
                let from = if step { at } else { setter(book, live, at, edit) };
                one(book, live, from, edit, Some(from), said)?;
            }
        }
    }
    Ok(())
}

fn label<'a>(schema: &'a Schema, key: &'a str) -> &'a str {
    schema.field(key).map_or(key, |f| f.label.as_str())
}

fn number(live: &Live, i: usize) -> String {
    live.entries[..=i].iter().rev().find_map(|e| e.entry.number.as_ref()).map(ToString::to_string).unwrap_or_default()
}

/// The record that set the value seen on the version that began with `at`: what was set while it was on the car counts.
fn setter(book: &Book, live: &Live, at: usize, edit: &Edit) -> usize {
    let end = (at + 1..live.entries.len()).find(|i| live.entries[*i].is_version()).unwrap_or(live.entries.len());
    let sets = |i: &usize| {
        let e = &live.entries[*i];
        let differs = e.known.as_deref().is_some_and(|k| slot_of(&k.0, edit) != slot_of(&k.1, edit));
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
    let mut edits = lived.edits(book);
    edits.retain(|e| !covers(edit, e));
    edits.push(edit.clone());
    let (before, after) = lived.known.as_deref().cloned().unwrap_or_default();
    let made = apply(schema, &before, &edits).map_err(|why| Error::usage(why, "nothing was mended"))?;
    let text = told(schema, from.as_deref(), &made.sheet, &edit.key, &after)?;
    lived.edits = Some(edits);
    note(lived, &text, said);
    Ok(())
}

fn from_the_first(book: &Book, live: &mut Live, wanted: &Wanted, said: &mut Vec<String>) -> Result<()> {
    let schema = &book.schema;
    let first = live.entries.first_mut().ok_or_else(|| Error::data("the book has no sheet yet", "slipbook new"))?;
    let (before, after) = first.known.as_deref().cloned().unwrap_or_default();
    let mut edits = first.edits(book);
    for edit in &wanted.edits {
        edits.retain(|e| !covers(edit, e));
        edits.push(edit.clone());
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
        let field = schema.field(key).ok_or_else(|| Error::data(format!("`{key}` is no field"), "slipbook fields"))?;
        let text = match (made.sheet.get(key), after.get(key)) {
            (Some(now), was) if Some(now) == was => format!("measured: {} always as on record", field.label),
            (Some(now), None) => format!("always so: {} {}", field.label, words::show_value(schema, field, now)),
            (now, was) => words::mended(None, schema, &made.sheet, field, now, was),
        };
        note(first, &text, said);
    }
    Ok(())
}

fn told(schema: &Schema, since: Option<&str>, right: &Sheet, key: &str, wrong: &Sheet) -> Result<String> {
    let field = schema.field(key).ok_or_else(|| Error::data(format!("`{key}` is no field"), "slipbook fields"))?;
    let (r, w) = (right.get(key), wrong.get(key));
    if r == w {
        return Err(Error::usage(
            format!("{} is on record so already", field.label),
            "slipbook sheet VERSION shows it",
        ));
    }
    if let (Some(now), None) = (r, w) {
        let from = since.map_or(String::new(), |v| format!(" from {v} on"));
        return Ok(format!(
            "mended{from}: {} {}, was not on record",
            field.label,
            words::show_value(schema, field, now)
        ));
    }
    Ok(words::mended(since, schema, right, field, r, w))
}

fn always(book: &Book, live: &mut Live, edit: &Edit, said: &mut Vec<String>) -> Result<()> {
    let schema = &book.schema;
    let mut first = true;
    for i in 0..live.entries.len() {
        let mut edits = live.entries[i].edits(book);
        let had = edits.len();
        edits.retain(|e| !covers(edit, e));
        if i == 0 {
            edits.push(edit.clone());
        } else if edits.len() == had {
            continue;
        }
        let (before, after) = live.entries[i].known.as_deref().cloned().unwrap_or_default();
        let base = if i == 0 {
            before
        } else {
            apply(schema, &before, std::slice::from_ref(edit)).map_or(before, |a| a.sheet)
        };
        let made = apply(schema, &base, &edits).map_err(|why| Error::usage(why, "nothing was mended"))?;
        let same = made.sheet.get(&edit.key) == after.get(&edit.key);
        let field = schema.field(&edit.key).ok_or_else(|| Error::data("no such field", "slipbook fields"))?;
        let text = words::mended(None, schema, &made.sheet, field, made.sheet.get(&edit.key), after.get(&edit.key));
        let text = if same { format!("mended: {} was so already", field.label) } else { text };
        live.entries[i].edits = Some(edits);
        let mut silent = Vec::new();
        note(&mut live.entries[i], &text, if first && !same { said } else { &mut silent });
        first &= same;
    }
    if first {
        return Err(Error::usage(
            format!("{} was always so on record", label(schema, &edit.key)),
            "slipbook sheet v1 shows it",
        ));
    }
    Ok(())
}

fn time(live: &mut Live, record: &str, at: Moment, since: Option<Moment>, said: &mut Vec<String>) -> Result<()> {
    let i = find(live, record)?;
    let others = || live.entries.iter().enumerate().filter(|(k, _)| *k != i).map(|(_, e)| e.entry.at);
    if i == 0 && others().any(|o| o < at) {
        let next = others().min().unwrap_or(at);
        return Err(Error::usage(
            format!("the book begins with it, and the next record is of {}", next.words(None)),
            "an earlier time",
        ));
    }
    if i > 0 && at < live.entries[0].entry.at {
        let first = live.entries[0].entry.at;
        return Err(Error::usage(
            format!("{} is before the book begins ({})", at.words(None), first.words(None)),
            "mend v1 --when first",
        ));
    }
    if since.is_some_and(|s| s > at) {
        return Err(Error::usage("the window ends before it begins", "--between FROM TO"));
    }
    let e = &mut live.entries[i];
    let was = std::mem::replace(&mut e.entry.at, at);
    if was == at && e.entry.since == since {
        return Err(Error::usage(format!("it is on record at {} already", at.words(None)), "nothing to mend"));
    }
    e.entry.since = since;
    e.message = e.message.clone().without("Since");
    note(e, &other_time(was, at, since), said);
    sort(live);
    Ok(())
}

fn other_time(was: Moment, at: Moment, since: Option<Moment>) -> String {
    // One year is said once.
    let year = Some(was.civil().year());
    let window = since.map(|s| format!("between {} and ", s.words(year))).unwrap_or_default();
    format!("mended: it was {window}{}, not {}", at.words(year), was.words(year))
}

fn never(live: &mut Live, record: &str, said: &mut Vec<String>) -> Result<()> {
    let i = find(live, record)?;
    if i == 0 {
        return Err(Error::usage(
            "the book begins with its first sheet",
            "mend v1 FIELD VALUE puts a value of it right",
        ));
    }
    let gone = live.entries.remove(i);
    let what = gone.entry.number.as_ref().map_or("it".to_owned(), ToString::to_string);
    said.push(format!("mended: {what} never happened on the car ({})", gone.entry.words.join(", ")));
    Ok(())
}

/// Finds the record in the line as it was before the mend that struck it out, and puts it in again.
fn happened(book: &Book, live: &mut Live, number: &VersionNumber, said: &mut Vec<String>) -> Result<()> {
    if live.before.timeline.by_number(number).is_some() {
        return Err(Error::usage(format!("{number} is on record"), "slipbook history shows it"));
    }
    let mut found = None;
    for logged in book.store.log(None)?.iter().filter(|l| super::super::line::turns(&l.commit)) {
        let Some(before) = logged.commit.parents.first() else { continue };
        let mut log = super::super::line::log(&book.store, *before)?;
        log.reverse();
        let kept = book.kept(&log)?;
        if let Some(i) = kept.iter().position(|k| k.entry.number.as_ref() == Some(number)) {
            let was = i.checked_sub(1).map(|b| kept[b].sheet.clone()).unwrap_or_default();
            let k = &kept[i];
            let commit = &log[k.log].commit;
            let order = live.entries.iter().map(|e| e.order).max().map_or(0, |o| o + 1);
            let mut lived = Lived {
                entry: k.entry.clone(),
                commit: Some(commit.id),
                message: k.message.clone(),
                people: (commit.author.clone(), commit.committer.clone()),
                known: Some(Box::new((was, k.sheet.clone()))),
                edits: None,
                fixed: Vec::new(),
                moved: false,
                order,
            };
            lived.edits = Some(lived.edits(book));
            found = Some(lived);
            break;
        }
    }
    let mut lived = found.ok_or_else(|| {
        Error::usage(format!("no record {number} was ever mended away"), "slipbook history --as-recorded")
    })?;
    note(&mut lived, "mended: it did happen", said);
    live.entries.push(lived);
    sort(live);
    Ok(())
}

fn clock(live: &mut Live, day: Date, seconds: i64, said: &mut Vec<String>) -> Result<()> {
    let first = live.entries.first().map(|e| e.entry.at);
    let mut any = 0;
    for e in live.entries.iter_mut().filter(|e| e.entry.at.race_day() == day) {
        e.entry.at.seconds += seconds;
        if seconds % 86_400 != 0 && e.entry.at.race_day() != day {
            let message = format!(
                "the record then at {} would fall on another race day (a day lasts until 06:00)",
                e.entry.at.words(None)
            );
            return Err(Error::usage(message, "whole days: --slow 1d; or one record: mend VERSION --when TIME"));
        }
        e.entry.since = e.entry.since.map(|s| Moment { seconds: s.seconds + seconds, ..s });
        e.message = e.message.clone().without("Since");
        // One line says it for the whole day.
        e.moved = true;
        if any == 0 {
            e.fixed.push(format!("mended: {}", clock_words(day, seconds)));
        }
        any += 1;
    }
    let opening = live.entries.first().map(|e| e.entry.id.clone());
    sort(live);
    if first.is_some() && live.entries.first().map(|e| e.entry.id.clone()) != opening {
        return Err(Error::usage(
            "another record would come before the first sheet of the book",
            "mend v1 --when first",
        ));
    }
    any += days::shift(live, day, seconds)?;
    if any == 0 {
        return Err(Error::usage(format!("nothing is on record for {day}"), "slipbook runs lists the days"));
    }
    said.push(format!("mended: {}", clock_words(day, seconds)));
    Ok(())
}

fn clock_words(day: Date, seconds: i64) -> String {
    let span = match seconds.abs() {
        s if s % 86_400 == 0 => format!("{} d", s / 86_400),
        s if s % 3600 == 0 => format!("{} h", s / 3600),
        s => format!("{} min", s / 60),
    };
    let way = if seconds > 0 { "behind" } else { "ahead" };
    format!("the clock of {} was {span} {way}", Moment::day_words(day, None))
}
