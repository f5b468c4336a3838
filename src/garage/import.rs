//! A season table into the book: a version whenever set fields change, a run a row; all of it or nothing.

use super::book::Book;
use super::car::{Car, sheet_header};
use super::change::{Wanted, after, message, preview};
use super::message::{Message, subject_of};
use super::now::{OnCar, last_run, now, text};
use super::parts::{Along, Ground, along, last_said, touches_parts};
use super::record::{Draft, Written, finish};
use super::run::{AtDay, DayFacts, find_day, put_in, run_id, run_subject};
use super::who::Hand;
use super::{Error, Result};
use crate::schema::{Edit, apply};
use crate::slip::{CellError, Day, Moment, Reading, TableRow, edit_day, insert_reading, write_day};
use crate::store::{Batch, Id, Options};
use crate::timeline::Kind;
use std::collections::{BTreeMap, BTreeSet};

/// What an import did.
#[derive(Debug, Clone, Default, PartialEq, Eq, serde::Serialize)]
pub struct Imported {
    /// Rows taken.
    pub rows: usize,
    /// Runs recorded.
    pub runs: usize,
    /// Versions made.
    pub versions: usize,
    /// Entries of measured, described and noted values.
    pub measurements: usize,
    /// Days made.
    pub days: usize,
    /// Values outside the usual range, taken because they were confirmed.
    pub unusual: Vec<String>,
    /// Rows left out, with the reason.
    pub left_out: Vec<String>,
}

/// How to import.
pub struct ImportOptions<'a> {
    /// Bad rows are left out and told.
    pub partial: bool,
    /// Unusual values are right.
    pub confirmed: bool,
    /// All is built and counted, nothing is written.
    pub dry_run: bool,
    /// Hears how many rows are done.
    pub progress: &'a dyn Fn(usize),
}

/// What the rows so far have made of the book.
struct State {
    head: Id,
    on: OnCar,
    car: Car,
    car_text: String,
    last: Moment,
    days: BTreeMap<String, AtDay>,
    blobs: Vec<(String, Id)>,
    /// Versions that are on record, where rows give numbers.
    given: BTreeSet<String>,
    done: Imported,
}

/// Imports rows in their order.
pub fn import(
    book: &Book,
    options: &Options,
    hand: &Hand,
    how: &ImportOptions,
    rows: &[TableRow],
) -> Result<(Imported, Written)> {
    let mut result = None;
    let mut failed = None;
    let done = book.store.record_many(options, &mut |batch| match all_rows(book, batch, hand, how, rows) {
        Ok(imported) => {
            result = Some(imported);
            if how.dry_run { Err("a dry run writes nothing".into()) } else { Ok(()) }
        }
        Err(e) => {
            failed = Some(e);
            Err("a row was refused".into())
        }
    });
    if how.dry_run && failed.is_none() && result.is_some() {
        return Ok((result.unwrap_or_default(), Written { id: None, notes: Vec::new() }));
    }
    let written = finish(done, failed)?;
    Ok((result.unwrap_or_default(), written))
}

fn all_rows(book: &Book, batch: &mut Batch, hand: &Hand, how: &ImportOptions, rows: &[TableRow]) -> Result<Imported> {
    let head = batch.tip().head.ok_or_else(|| Error::data("the book has no sheet yet", "slipbook new"))?;
    let on = now(&book.store, &book.schema, Some(head))?;
    let last = last_run(&book.store, head)?.map_or(on.began, |l| l.max(on.began));
    let blobs = vec![(on.number.to_string(), on.blob)];
    let car_file = book.store.file(head, "car.toml")?.map(|(_, bytes)| text(bytes, "car.toml")).transpose()?;
    let (car, car_text) = (book.car.clone(), car_file.unwrap_or_default());
    let given = match rows.iter().any(|r| r.version.is_some()) {
        true => book.history()?.timeline.versions.iter().map(|v| v.number.to_string()).collect(),
        false => BTreeSet::new(),
    };
    let done = Imported::default();
    let mut state = State { head, on, car, car_text, last, days: BTreeMap::new(), blobs, given, done };
    for (i, row) in rows.iter().enumerate() {
        match one_row(book, batch, hand, &mut state, row, how.confirmed) {
            Ok(()) => state.done.rows += 1,
            Err(why) if how.partial => state.done.left_out.push(format!("line {}: {why}", row.line)),
            Err(why) => {
                let cell = CellError { line: row.line, column: String::new(), value: String::new(), message: why };
                return Err(Error::Table { name: String::new(), text: String::new(), errors: vec![cell] });
            }
        }
        (how.progress)(i + 1);
    }
    if !state.done.unusual.is_empty() && !how.confirmed {
        return Err(Error::Unconfirmed {
            message: state.done.unusual.join("\n"),
            help: "--yes if these are right; nothing was imported".to_owned(),
        });
    }
    Ok(state.done)
}

fn one_row(
    book: &Book,
    batch: &mut Batch,
    hand: &Hand,
    state: &mut State,
    row: &TableRow,
    confirmed: bool,
) -> std::result::Result<(), String> {
    let said = |e: Error| e.to_string();
    if row.at < state.last {
        let (at, last) = apart(row.at, state.last);
        return Err(format!("{at} is before the record so far ({last}): a table goes on from there"));
    }
    let hand = &Hand { by: row.by.clone().unwrap_or(hand.by.clone()), now: hand.now };
    let schema = &book.schema;
    // All of a row is checked before any of it is written.
    let edits: Vec<Edit> = changed_edits(book, &state.on, &row.edits)?;
    let ground = Ground {
        schema,
        car: &state.car,
        text: &state.car_text,
        sheet: &state.on.sheet,
        at: row.at,
        late: false,
        back: false,
        last: &|kind, name| last_said(book, kind, name),
    };
    // What a part brings along stands in a table that is whole.
    let along = match touches_parts(schema, &edits) && !row.whole {
        true => along(&ground, &edits).map_err(said)??,
        false => Along { edits, ..Along::default() },
    };
    let (edits, car_text) = (along.edits, along.car);
    let car = car_text.as_deref().map(|t| Car::read("car.toml", t)).transpose().map_err(said)?;
    let mut on = state.on.clone();
    let mut change = None;
    if !edits.is_empty() || !row.measured.is_empty() || row.version.is_some() {
        let wanted = Wanted {
            edits,
            measured: row.measured.clone(),
            why: row.why.clone(),
            at: Some(row.at),
            since: row.since,
            time_unknown: row.time_unknown,
            back_to: row.back_to.clone(),
            ..Wanted::default()
        };
        let mut changed = preview(schema, &on, &wanted, hand).map_err(said)?;
        if row.whole {
            as_the_table_says(state, row, &on, &mut changed)?;
        }
        let text = crate::schema::write_sheet(schema, &changed.sheet, Some(&on.text), &sheet_header());
        on = after(on, &changed, text.clone());
        change = Some((changed, wanted, text));
    }
    let day = (row.run.is_some() || row.reading.is_some() || is_of_day(row))
        .then(|| the_day(book, state, row))
        .transpose()
        .map_err(said)?;
    let run = match &row.run {
        Some(run) => {
            let mut run = run.clone();
            let link = match &row.on {
                // The sheet of a version is the one at its end.
                Some(name) => state.blobs.iter().rev().find(|(n, _)| n == name).cloned().ok_or_else(|| {
                    format!(
                        "column `on`, value `{name}`: no version of that name in this table or on the car before it"
                    )
                })?,
                None => (on.number.to_string(), on.blob),
            };
            (run.on, run.setup) = (link.0, link.1.to_string());
            Some(run)
        }
        None => None,
    };
    let commit = |batch: &mut Batch, draft: Draft| batch.commit(draft.by(hand)).map_err(|e| e.to_string());
    if let Some((changed, wanted, text)) = change {
        let mut files = vec![("setup.toml".to_owned(), Some(text.into_bytes()))];
        if let (Some(text), Some(car)) = (car_text, car) {
            files.push(("car.toml".to_owned(), Some(text.clone().into_bytes())));
            (state.car, state.car_text) = (car, text);
        }
        let mut message = message(schema, &changed, &wanted);
        if message.subject.is_empty() {
            message.subject = "nothing that is on record was changed".to_owned();
        }
        state.given.insert(changed.number.to_string());
        commit(batch, Draft { files, message, at: row.at, takes_hand_edit: false })?;
        match changed.kind {
            Kind::Measured => state.done.measurements += 1,
            _ => state.done.versions += 1,
        }
        if !confirmed {
            let unusual = changed.unusual.iter().chain(&along.doubts);
            state.done.unusual.extend(unusual.map(|u| format!("line {}: {u}", row.line)));
        }
        state.blobs.push((on.number.to_string(), on.blob));
        state.on = on;
    }
    if let Some(day) = day {
        let (text, message, new) = with_row(book, batch, hand, &day, run, row).map_err(said)?;
        if day.text.is_none() {
            state.done.days += 1;
        }
        state.done.runs += usize::from(row.run.is_some());
        commit(
            batch,
            Draft {
                files: vec![(day.path.clone(), Some(text.clone().into_bytes()))],
                message,
                at: row.at,
                takes_hand_edit: false,
            },
        )?;
        state.days.insert(day.path.clone(), AtDay { path: day.path, text: Some(text), day: new });
    }
    state.last = row.at;
    Ok(())
}

/// Two moments in words that tell them apart: to the second, where the minute is one.
fn apart(a: Moment, b: Moment) -> (String, String) {
    let second = |m: Moment| m.civil().strftime(":%S").to_string();
    match (a.words(None), b.words(None)) {
        (one, other) if one == other => (one + &second(a), other + &second(b)),
        both => both,
    }
}

/// The edits of a row that say something new.
fn changed_edits(book: &Book, on: &OnCar, edits: &[Edit]) -> std::result::Result<Vec<Edit>, String> {
    let applied = apply(&book.schema, &on.sheet, edits)?;
    Ok(edits.iter().filter(|e| !on.sheet.same_at(&e.key, &applied.sheet)).cloned().collect())
}

/// Whether a row tells of a day and nothing else, in a table that says all there is.
fn is_of_day(row: &TableRow) -> bool {
    let of_car = !row.edits.is_empty() || row.version.is_some() || !row.measured.is_empty();
    row.of_day.is_some() || row.whole && !of_car && row.run.is_none() && row.reading.is_none()
}

/// A table that is whole says which rows begin a version, and its number.
fn as_the_table_says(
    state: &State,
    row: &TableRow,
    on: &OnCar,
    changed: &mut super::change::Changed,
) -> std::result::Result<(), String> {
    let Some(version) = &row.version else {
        (changed.kind, changed.number) = (Kind::Measured, on.number.clone());
        return Ok(());
    };
    let wrong = |what: &str| format!("column `version`, value `{version}`: {what}");
    changed.number = version.parse().map_err(|_| wrong("is no number of a version, like v12"))?;
    if state.given.contains(&changed.number.to_string()) {
        return Err(wrong("is on record already"));
    }
    if changed.kind == Kind::Measured {
        changed.kind = if row.back_to.is_some() { Kind::Revert } else { Kind::Change };
    }
    Ok(())
}

fn the_day(book: &Book, state: &State, row: &TableRow) -> Result<AtDay> {
    let same = |d: &&AtDay| d.day.date == row.day && d.day.track.eq_ignore_ascii_case(&row.track);
    if let Some(day) = state.days.values().find(same) {
        if day.day.finish_ft != row.finish_ft {
            let message = format!("this day's finish is {} ft above, here {}", day.day.finish_ft, row.finish_ft);
            return Err(Error::data(message, "a day has one finish"));
        }
        return Ok(day.clone());
    }
    let facts = DayFacts {
        track: Some(row.track.clone()),
        finish_ft: Some(row.finish_ft),
        elevation_ft: row.elevation_ft,
        prep: row.prep.clone(),
    };
    // Only days that were on record before the import are in the store.
    let at = find_day(&book.store, Some(state.head), row.day, row.at.offset_seconds, &facts)?;
    if state.days.contains_key(&at.path) {
        return Err(Error::data("two spellings of one track on one day", "spell it as in the rows above"));
    }
    Ok(at)
}

fn with_row(
    book: &Book,
    batch: &mut Batch,
    hand: &Hand,
    day: &AtDay,
    run: Option<crate::slip::Run>,
    row: &TableRow,
) -> Result<(String, Message, crate::slip::Day)> {
    let reading: Option<&Reading> = row.reading.as_ref();
    let (text, message, new) = with_run_or_reading(book, batch, hand, day, run, reading)?;
    let Some(of_day) = &row.of_day else { return Ok((text, message, new)) };
    let said = Day { note: of_day.note.clone(), closed: of_day.closed, unread: of_day.unread.clone(), ..new.clone() };
    let text = edit_day(&text, &new, &said).map_err(|why| Error::data(why, "a day's facts stand at its head"))?;
    Ok((text.clone(), message, super::now::read_day(&day.path, &text)?))
}

fn with_run_or_reading(
    book: &Book,
    batch: &mut Batch,
    hand: &Hand,
    day: &AtDay,
    run: Option<crate::slip::Run>,
    reading: Option<&Reading>,
) -> Result<(String, Message, Day)> {
    if let Some(mut run) = run {
        // The same table taken in twice.
        if let Some(same) =
            day.day.runs.iter().find(|r| r.at == run.at && r.numbers == run.numbers && r.lane == run.lane)
        {
            return Err(Error::data(format!("this run is on record already, on {}", same.on), "leave the row out"));
        }
        run.at.offset_seconds = day.day.offset_seconds;
        if run.id.is_empty() {
            run.id = run_id(&run, hand, batch.tip().head);
        } else if day.day.runs.iter().any(|r| r.id == run.id) {
            return Err(Error::data(format!("a run with the id {} is on record already", run.id), "leave the row out"));
        }
        let (text, new) = put_in(&book.schema, day, &run, reading)?;
        let mut message = Message::new(Kind::Run, run_subject(&run, new.finish_ft));
        message.push("Run", &run.id);
        message.push("On", &run.on);
        return Ok((text, message, new));
    }
    let words = &book.schema.run;
    let text = day.text.clone().unwrap_or_else(|| write_day(words, &day.day, &super::car::day_header()));
    let text = reading.map_or(text.clone(), |r| insert_reading(words, &text, &day.day, r));
    let new = super::now::read_day(&day.path, &text)?;
    let what = if reading.is_some() { "air and track read" } else { "the day" };
    let message = Message::new(Kind::Other, subject_of(&format!("{what} at {}", new.track)));
    Ok((text, message, new))
}
