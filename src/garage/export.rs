//! A book as plain files: a season table that `import` reads back to an equal book, the sheets, the days, the car.

use super::book::Book;
use super::copy::{refuse_own, whole};
use super::history::History;
use super::now::text;
use super::place::Garage;
use super::run_ids::RunIds;
use super::{Error, Result};
use crate::schema::{Edit, Sheet, Typed};
use crate::slip::{Day, Moment, RowOut, Run, TableOut, day_of_path};
use crate::store::{Id, Options, StoreError, write_folder};
use crate::text::counted;
use crate::timeline::{Entry, Kind};
use crate::trial::slug_of_path;
use std::collections::HashMap;
use std::path::Path;

/// The files of a book.
#[derive(Debug, Clone, Default)]
pub struct Exported {
    /// Path and text of each.
    pub files: Vec<(String, String)>,
    /// Rows of the table.
    pub rows: usize,
    /// Versions.
    pub versions: usize,
    /// Runs.
    pub runs: usize,
    /// What the table cannot hold, in sentences.
    pub lost: Vec<String>,
}

/// The moment a book of the files is opened, as `new --when` reads it: when this one was, or with the first row of the table
/// where that is earlier. A record that was shortened begins in the middle of a day, whose first reading is in it.
pub fn opened(history: &History) -> Option<Moment> {
    let first = history.timeline.versions.first()?.entry.at;
    Some(events(history).first().map_or(first, |e| e.at.min(first)))
}

/// Something that happened, in the order a table tells it.
struct Event<'a> {
    at: Moment,
    /// Index of the version that is on the car then.
    version: usize,
    what: What<'a>,
}

#[derive(Clone, Copy)]
enum What<'a> {
    Record(&'a Entry),
    Day(&'a Day),
    Reading(&'a Day, usize),
    Run(&'a Day, usize),
}

impl<'a> What<'a> {
    /// The day it tells of.
    fn of_day(&self) -> Option<&'a Day> {
        match self {
            What::Record(_) => None,
            What::Day(day) | What::Reading(day, _) | What::Run(day, _) => Some(day),
        }
    }

    fn rank(&self) -> u8 {
        match self {
            What::Record(_) => 0,
            What::Day(_) => 1,
            What::Reading(..) => 2,
            What::Run(..) => 3,
        }
    }
}

/// The version that a new book begins with.
const OPENING: &str = "v1";

/// Brings the files together; nothing is written.
pub fn export(book: &Book, history: &History) -> Result<Exported> {
    let head = history.head.ok_or_else(|| Error::data("the book has no record yet", "slipbook new"))?;
    let file = |path: &str| -> Result<String> {
        let found = book.store.file(head, path)?;
        found.map_or_else(|| Ok(String::new()), |(_, bytes)| text(bytes, path))
    };
    let of_blob = |id: &str| -> Result<String> {
        let id: Id = id.parse().map_err(|e| Error::data(format!("{e}"), "slipbook history"))?;
        text(book.store.blob(id)?, "setup.toml")
    };
    let timeline = &history.timeline;
    let first = timeline.versions.first().ok_or_else(|| Error::data("the book has no version yet", "slipbook new"))?;
    let mut out = Exported { versions: timeline.versions.len(), runs: history.runs.len(), ..Exported::default() };
    out.files.push(("car.toml".to_owned(), file("car.toml")?));
    out.files.push(("opening.toml".to_owned(), of_blob(&first.entry.blob)?));
    for version in &timeline.versions {
        out.files.push((format!("sheets/{}.toml", version.number), of_blob(version.sheet_id())?));
    }
    for (path, id) in book.store.files(head)? {
        if day_of_path(&path).is_some() || slug_of_path(&path).is_some() {
            let held = text(book.store.blob(id)?, &path)?;
            out.files.push((path, held));
        }
    }
    let table = table(book, history, &RunIds::new(head, history), &mut out.lost)?;
    out.rows = table.len();
    let wrong = |e| Error::data(format!("the table cannot be written: {e}"), "it is a bug");
    let (csv, legend) = (table.to_csv().map_err(wrong)?, table.legend().map_err(wrong)?);
    out.files.push(("season.csv".to_owned(), csv));
    out.files.push(("columns.csv".to_owned(), legend));
    if let Some(opened) = opened(history).filter(|at| *at < first.entry.at) {
        let (began, opened) = (first.entry.at.words(None), opened.words(None));
        let message = format!(
            "{} is of {began} here; a book made of the table begins {opened}, with its first row",
            first.number
        );
        out.lost.push(message);
    }
    if first.number.to_string() != OPENING {
        let on_it = match history.runs_on(0).count() {
            0 => String::new(),
            n => format!(
                ", which the {} made on it then {} on",
                counted(n, "run"),
                if n == 1 { "stands" } else { "stand" }
            ),
        };
        let message = format!(
            "the first version is {} here; a book made of the table begins with {OPENING}{on_it}",
            first.number
        );
        out.lost.push(message);
    }
    Ok(out)
}

fn table<'a>(book: &'a Book, history: &History, ids: &RunIds, lost: &mut Vec<String>) -> Result<TableOut<'a>> {
    let schema = &*book.schema;
    let words = &crate::schema::schema().run;
    let timeline = &history.timeline;
    let sheets = book.sheets(timeline)?;
    let none = Sheet::default();
    let sheet = |id: &str| sheets.get(id).unwrap_or(&none);
    let mut table = TableOut::new(schema);
    let opening = timeline.versions[0].number.to_string();
    // A book that begins with another version is made with an opening of its own: what was on the first is on that.
    let called = |number: &str| if number == opening { OPENING.to_owned() } else { number.to_owned() };
    let mut before = sheet(&timeline.versions[0].entry.blob);
    let mut on = 0;
    let mut last_day: Option<&Day> = None;
    let (first_day, usual_finish) = (history.days.first(), history.finish_ft());
    let events = events(history);
    let ends: HashMap<String, usize> =
        events.iter().enumerate().filter_map(|(n, e)| Some((e.what.of_day()?.path(), n))).collect();
    for (n, event) in events.into_iter().enumerate() {
        let day = event.what.of_day().or(last_day).or(first_day);
        let (track, finish) = day.map_or(("none", usual_finish), |d| (&d.track, d.finish_ft));
        let mut row = RowOut::at(event.at, track, finish);
        match event.what {
            What::Record(entry) => {
                let after = sheet(&entry.blob);
                let edits = whole_readings(schema, before, after);
                let begins = timeline.versions[event.version].entry.id == entry.id;
                if edits.is_empty() && entry.measured.is_empty() && !begins {
                    continue;
                }
                row.edits(schema, &edits);
                row.text("by", Some(&entry.by));
                row.text("why", entry.why.as_deref());
                row.text("measured", Some(&entry.measured.join("; ")).filter(|m| !m.is_empty()).map(String::as_str));
                row.text("change_since", entry.since.map(Moment::iso).as_deref());
                row.text("change_time", entry.time_unknown.then_some("unknown"));
                if begins {
                    row.text("version", Some(&timeline.versions[event.version].number.to_string()));
                    let back_to = entry.back_to.as_deref().filter(|_| entry.kind == Kind::Revert);
                    row.text("back_to", back_to.map(called).as_deref());
                    on = event.version;
                }
                before = after;
            }
            What::Day(day) => row.prep(day),
            What::Reading(day, i) => row.reading(words, &day.readings[i]),
            What::Run(_, i) => {
                let made = &history.runs[i];
                let at = made.run.at.words(None);
                // A table takes the ids of this program only.
                let run = Run { id: ids.of(&made.run.id), ..made.run.clone() };
                row.run(words, &run);
                if run.id != made.run.id {
                    let by_hand = &made.run.id;
                    lost.push(format!("the run of {at} has the id {by_hand}, by hand: in the table it is {}", run.id));
                }
                let number = timeline.versions[made.version].number.to_string();
                if made.version > on {
                    lost.push(format!(
                        "the run of {at} stands on {number}, which came later: in the table on its time's"
                    ));
                } else {
                    row.text("on", Some(&called(&number)));
                }
            }
        }
        if let Some(day) = event.what.of_day() {
            last_day = Some(day);
            row.elevation(day.elevation_ft);
            if ends.get(&day.path()) == Some(&n) {
                row.end_of(day);
            }
        }
        table.push(row);
    }
    Ok(table)
}

/// Everything but the opening, in the order of time; at one moment the car changes before it runs.
fn events(history: &History) -> Vec<Event<'_>> {
    let timeline = &history.timeline;
    let mut out: Vec<Event> = Vec::new();
    for (version, entry) in timeline.records().skip(1).filter(|(_, e)| e.kind != Kind::Mend) {
        out.push(Event { at: entry.at, version, what: What::Record(entry) });
    }
    let on_then = |at: Moment| timeline.at(at).unwrap_or(0);
    for (d, day) in history.days.iter().enumerate() {
        let readings: Vec<Moment> =
            (day.readings.iter()).filter_map(|r| Moment::on_race_day(day.date, r.at, day.offset_seconds)).collect();
        let runs: Vec<(usize, &super::history::Made)> =
            history.runs.iter().enumerate().filter(|(_, m)| m.day == d).collect();
        let noon = Moment::on_race_day(day.date, jiff::civil::Time::constant(12, 0, 0, 0), day.offset_seconds);
        let first = readings.iter().chain(runs.iter().map(|(_, m)| &m.run.at)).min().copied().or(noon);
        if day.prep.is_some() || readings.is_empty() && runs.is_empty() {
            // The first row of a day says how it was prepared, the last what it came to.
            out.extend(first.map(|at| Event { at, version: on_then(at), what: What::Day(day) }));
        }
        for (i, at) in readings.iter().enumerate() {
            out.push(Event { at: *at, version: on_then(*at), what: What::Reading(day, i) });
        }
        for (i, made) in runs {
            let at = made.run.at;
            out.push(Event { at, version: made.version.min(on_then(at)), what: What::Run(day, i) });
        }
    }
    out.sort_by_key(|e| (e.at.seconds, e.version, e.what.rank()));
    out
}

/// The readings that turn one sheet into another, each of the whole field; what is no longer there is taken off.
fn whole_readings(schema: &crate::schema::Schema, old: &Sheet, new: &Sheet) -> Vec<Edit> {
    let differs = |f: &&crate::schema::Field| !old.same_at(&f.key, new);
    let edit = |f: &crate::schema::Field| Edit { key: f.key.clone(), slot: None, typed: Typed::of(new, &f.key, None) };
    schema.fields.iter().filter(differs).map(edit).collect()
}

/// Writes the files into a folder that is not there, or empty ([`write_folder`]).
pub fn write_export(garage: &Garage, book: &Book, exported: &Exported, dir: &Path, options: &Options) -> Result<()> {
    refuse_own(garage, book, &whole(dir)?)?;
    write_folder(dir, &exported.files, options.fsync).map_err(|e| match e {
        StoreError::Occupied { path, what } => {
            let message = format!("{} is {what}; nothing was written", path.display());
            Error::usage(message, "a folder that is not there yet, or an empty one")
        }
        other => Error::Store(other),
    })
}
