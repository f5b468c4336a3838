//! A season table (CSV) → rows: one row a run, or a change without a run. Columns: `schema/columns.toml`.

use super::Moment;
use super::day::Reading;
use super::moment::read_clock;
use super::run::Run;
use super::text::{all_faults, reading_faults};
use super::typed::{lane_word, run_word};
use crate::schema::{Edit, Num, Schema, Sides, columns_data, nearest, reading, schema};
use jiff::civil::{Date, Time};
use jiff::tz::TimeZone;
use serde::Deserialize;
use std::collections::BTreeMap;

/// A column of the season table.
#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Column {
    /// Its name in the header.
    pub name: String,
    /// What it holds.
    pub label: String,
    /// How a cell is written.
    pub form: String,
    /// Unit without one in the header.
    pub unit: Option<String>,
    /// What an empty cell means, where it is not "not taken".
    pub empty: Option<String>,
}

/// The documented columns.
pub fn columns() -> Vec<Column> {
    #[derive(Deserialize)]
    struct File {
        column: Vec<Column>,
    }
    // The data is part of the program; a test reads it.
    columns_data::<File>().map(|f| f.column).unwrap_or_default()
}

/// What one row says.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct TableRow {
    /// Line of the file it begins on.
    pub line: u64,
    /// When.
    pub at: Moment,
    /// The race day it belongs to.
    pub day: Date,
    /// Track, carried down from the rows above.
    pub track: String,
    /// Finish, ft, carried down.
    pub finish_ft: u32,
    /// Elevation, ft, carried down while the track is the same.
    pub elevation_ft: Option<Num>,
    /// How the track was prepared.
    pub prep: Option<String>,
    /// The run, if the row holds one.
    pub run: Option<Run>,
    /// Version it ran on, if not the sheet of its time.
    pub on: Option<String>,
    /// The air and track reading, if the row holds one.
    pub reading: Option<Reading>,
    /// Fields given in the row, as readings.
    pub edits: Vec<Edit>,
    /// Reason of the change.
    pub why: Option<String>,
    /// Who wrote it down.
    pub by: Option<String>,
}

/// What is wrong with a cell (or a row, or the header).
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("line {line}, column `{column}`, value `{value}`: {message}")]
pub struct CellError {
    /// Line of the file.
    pub line: u64,
    /// Header of the column; empty for the row as a whole.
    pub column: String,
    /// The cell.
    pub value: String,
    /// What is wrong and what would be right.
    pub message: String,
}

/// The most a table may hold, in bytes.
pub const LARGEST_TABLE: usize = 64 << 20;

enum Meaning<'a> {
    Named(&'static str, Option<&'a str>),
    Field(&'a crate::schema::Field, Option<usize>, Option<String>),
    Ignored,
}

/// Reads a table. `renamed` maps a racer's own headers to ours (empty = leave the column out). Rows that are wrong are
/// left out and told; the caller decides whether the others count. `progress` hears how many bytes are read.
pub fn read_table(
    schema: &Schema,
    bytes: &[u8],
    renamed: &BTreeMap<String, String>,
    zone: &TimeZone,
    progress: &mut dyn FnMut(u64),
) -> (Vec<TableRow>, Vec<CellError>) {
    let whole = |message: String| {
        (Vec::new(), vec![CellError { line: 1, column: String::new(), value: String::new(), message }])
    };
    if bytes.len() > LARGEST_TABLE {
        return whole(format!("the table is {} bytes; {LARGEST_TABLE} at most", bytes.len()));
    }
    let bytes = bytes.strip_prefix(b"\xef\xbb\xbf").unwrap_or(bytes);
    let mut reader = csv::ReaderBuilder::new().flexible(true).from_reader(bytes);
    let headers: Vec<String> = match reader.headers() {
        Ok(h) => h.iter().map(|h| h.trim().to_owned()).collect(),
        Err(e) => return whole(format!("the header cannot be read: {e}")),
    };
    let mut errors = Vec::new();
    let mut meanings = Vec::new();
    for header in &headers {
        let ours = renamed.get(header).unwrap_or(header);
        match meaning(schema, ours) {
            Ok(m) => meanings.push(m),
            Err(message) => {
                errors.push(CellError { line: 1, column: header.clone(), value: String::new(), message });
                meanings.push(Meaning::Ignored);
            }
        }
    }
    if let Some(twice) = headers.iter().enumerate().find(|(i, h)| headers[..*i].contains(h) && !h.is_empty()) {
        errors.push(CellError {
            line: 1,
            column: twice.1.clone(),
            value: String::new(),
            message: "the column is there twice".to_owned(),
        });
    }
    if !errors.is_empty() {
        return (Vec::new(), errors);
    }
    let mut rows: Vec<TableRow> = Vec::new();
    let mut carried = Carried::default();
    let mut record = csv::StringRecord::new();
    loop {
        match reader.read_record(&mut record) {
            Ok(false) => break,
            Ok(true) => {}
            Err(e) => {
                let line = e.position().map_or(0, csv::Position::line);
                errors.push(CellError {
                    line,
                    column: String::new(),
                    value: String::new(),
                    message: format!("the row cannot be read: {e}"),
                });
                if !matches!(e.kind(), csv::ErrorKind::Utf8 { .. }) {
                    break;
                }
                continue;
            }
        }
        let line = record.position().map_or(0, csv::Position::line);
        progress(record.position().map_or(0, csv::Position::byte));
        if record.iter().all(|c| c.trim().is_empty()) {
            continue;
        }
        if record.len() != headers.len() {
            let message = format!("the row has {} cells, the header {}", record.len(), headers.len());
            errors.push(CellError { line, column: String::new(), value: String::new(), message });
            continue;
        }
        let mut row = RowReader { schema, zone, line, errors: Vec::new(), cells: Vec::new() };
        for ((meaning, cell), header) in meanings.iter().zip(record.iter()).zip(&headers) {
            row.cells.push((meaning, header.as_str(), cell.trim()));
        }
        let read = row.read(&mut carried);
        let clean = row.errors.is_empty();
        errors.append(&mut row.errors);
        rows.extend(read.filter(|_| clean));
    }
    (rows, errors)
}

fn meaning<'a>(schema: &'a Schema, header: &str) -> Result<Meaning<'a>, String> {
    if header.is_empty() {
        return Ok(Meaning::Ignored);
    }
    let (name, unit) = match header.split_once('[') {
        Some((name, unit)) => (name.trim(), Some(unit.trim_end_matches(']').trim())),
        None => (header, None),
    };
    static NAMES: std::sync::OnceLock<Vec<Column>> = std::sync::OnceLock::new();
    let known = NAMES.get_or_init(columns);
    if let Some(column) = known.iter().find(|c| c.name == name) {
        let given = unit
            .map(|u| {
                let stored = column.unit.as_deref().ok_or_else(|| format!("`{name}` has no unit"))?;
                schema.units.meant(u, stored).map(|u| u.symbol.as_str()).ok_or_else(|| {
                    format!("`{u}` is no unit of {name} ({})", schema.units.symbols_for(stored).join(", "))
                })
            })
            .transpose()?;
        return Ok(Meaning::Named(&column.name, given));
    }
    if let Some((field, slot)) = schema.locate(name) {
        if let Some(u) = unit {
            let stored = field.unit_of(slot).ok_or_else(|| format!("`{name}` has no unit"))?;
            schema.units.meant(u, stored).ok_or_else(|| {
                format!("`{u}` is no unit of {name} ({})", schema.units.symbols_for(stored).join(", "))
            })?;
        }
        return Ok(Meaning::Field(field, slot, unit.map(str::to_owned)));
    }
    let names = known.iter().map(|c| c.name.as_str()).chain(schema.fields.iter().map(|f| f.key.as_str()));
    let near = nearest(name, names, 3).join(", ");
    Err(format!("is no column of a season table (nearest: {near}); --columns maps headers of your own"))
}

#[derive(Default)]
struct Carried {
    date: Option<Date>,
    time: Option<Time>,
    track: Option<String>,
    finish: Option<u32>,
    elevation: Option<Num>,
}

struct RowReader<'a> {
    schema: &'a Schema,
    zone: &'a TimeZone,
    line: u64,
    errors: Vec<CellError>,
    cells: Vec<(&'a Meaning<'a>, &'a str, &'a str)>,
}

impl<'a> RowReader<'a> {
    fn wrong(&mut self, column: &str, value: &str, message: impl Into<String>) {
        let (column, value) = (column.to_owned(), value.chars().take(80).collect());
        self.errors.push(CellError { line: self.line, column, value, message: message.into() });
    }

    /// The filled cell of a named column: header, text, unit of the header.
    fn cell(&self, name: &str) -> Option<(&'a str, &'a str, Option<&'a str>)> {
        self.cells.iter().find_map(|(m, header, cell)| match m {
            Meaning::Named(n, unit) if *n == name && !cell.is_empty() => Some((*header, *cell, *unit)),
            _ => None,
        })
    }

    fn text(&self, name: &str) -> Option<String> {
        self.cell(name).map(|(_, cell, _)| cell.to_owned())
    }

    fn parsed<T>(&mut self, name: &str, form: &str, read: impl Fn(&str) -> Option<T>) -> Option<T> {
        let (header, cell, _) = self.cell(name)?;
        let value = read(cell);
        if value.is_none() {
            self.wrong(header, cell, format!("is not {form}"));
        }
        value
    }

    fn number(&mut self, name: &str, stored: &str) -> Option<Num> {
        let (header, cell, unit) = self.cell(name)?;
        let number = Num::parse(cell);
        let carried = match (number, unit.and_then(|u| self.schema.units.get(u))) {
            (Some(n), Some(from)) => self.schema.units.to_stored(n, from),
            (n, None) => n,
            _ => None,
        };
        if carried.is_none() {
            self.wrong(header, cell, format!("is no number of {}", unit.unwrap_or(stored)));
        }
        carried
    }

    fn read(&mut self, carried: &mut Carried) -> Option<TableRow> {
        let date = self.parsed("date", "a date like 2026-05-16", |t| t.parse::<Date>().ok()).or_else(|| {
            // A date that is there but wrong is told once; it is not the row above's.
            if self.cell("date").is_some() { None } else { carried.date }
        });
        let Some(date) = date else {
            if self.errors.is_empty() {
                self.wrong("date", "", "the first row needs its date");
            }
            return None;
        };
        let same_day = carried.date == Some(date);
        let time = self.parsed("time", "a time like 09:40", read_clock).unwrap_or_else(|| {
            match carried.time.filter(|_| same_day) {
                Some(t) => t.checked_add(jiff::Span::new().minutes(1)).unwrap_or(t),
                None => Time::constant(12, 0, 0, 0),
            }
        });
        let track = self.text("track").or(carried.track.clone());
        let Some(track) = track else {
            self.wrong("track", "", "the first row needs its track");
            return None;
        };
        let new_track = carried.track.as_ref() != Some(&track);
        let finishes = &schema().run.finishes_ft;
        let finish = self.parsed("finish", "660, 1000 or 1320", |t| t.parse().ok().filter(|f| finishes.contains(f)));
        let finish_ft = finish.or(carried.finish).unwrap_or(1320);
        let elevation_ft = self.number("elevation", "ft").or(carried.elevation.filter(|_| !new_track));
        let late = time.hour() < 6;
        let local =
            if late && self.rolls_over(carried, date, time) { date.tomorrow().ok()? } else { date }.to_datetime(time);
        let Some(at) = Moment::in_zone(local, self.zone) else {
            self.wrong("date", &date.to_string(), "is beyond the years 1 to 9999");
            return None;
        };
        *carried = Carried {
            date: Some(date),
            time: Some(time),
            track: Some(track.clone()),
            finish: Some(finish_ft),
            elevation: elevation_ft,
        };
        let run = self.run(at);
        let reading = self.reading(time);
        let edits = self.edits();
        let (on, why, by) = (self.text("on"), self.text("why"), self.text("by"));
        let prep = self.text("prep");
        Some(TableRow {
            line: self.line,
            at,
            day: at.race_day(),
            track,
            finish_ft,
            elevation_ft,
            prep,
            run,
            on,
            reading,
            edits,
            why,
            by,
        })
    }

    /// A time after midnight written under the date the race day began on.
    fn rolls_over(&self, carried: &Carried, date: Date, time: Time) -> bool {
        carried.date == Some(date) && carried.time.is_some_and(|t| t.hour() >= 6 || t < time && t.hour() < 6)
    }

    fn run(&mut self, at: Moment) -> Option<Run> {
        let words = &schema().run;
        let mut run = Run::new(at);
        for def in &words.number {
            if let Some(n) = self.number(&def.name, &def.unit) {
                run.numbers.insert(def.name.clone(), n);
            }
        }
        for end in ["rear", "front"] {
            let name = format!("psi_{end}");
            let Some((header, cell, unit)) = self.cell(&name) else { continue };
            let (l, r) = cell.split_once('/').unwrap_or((cell, cell));
            for (side, text) in [("left", l), ("right", r)] {
                let n = Num::parse(text.trim());
                let from = unit.and_then(|u| self.schema.units.get(u));
                let n = n.and_then(|n| from.map_or(Some(n), |f| self.schema.units.to_stored(n, f)));
                match n {
                    Some(n) => drop(run.numbers.insert(format!("{name}_{side}"), n)),
                    None => self.wrong(header, cell, "is no pressure like 12.0 or 12.0/12.5"),
                }
            }
        }
        run.lane = self.parsed("lane", "left or right", |t| lane_word(t).map(str::to_owned));
        run.round = self.text("round");
        run.note = self.text("note");
        run.staged =
            self.parsed("staged", &words.staged.join(", "), |t| words.staged.iter().find(|s| *s == t).cloned());
        run.psi_taken = self
            .parsed("psi_taken", &words.psi_taken.join(", "), |t| words.psi_taken.iter().find(|s| *s == t).cloned());
        let clean_to = self.parsed("clean_to", "0, 60, 330, 660, 1000 or finish", |t| match t {
            "finish" => Some(None),
            t => t.parse::<u32>().ok().filter(|f| *f == 0 || words.beams_ft.contains(f)).map(Some),
        });
        run.clean_to = clean_to.flatten();
        if let Some((header, cell, _)) = self.cell("why_not") {
            match run_word(&words.why_not, cell) {
                Ok(word) => run.why_not = Some(word),
                Err(why) => self.wrong(header, cell, why),
            }
        }
        if let Some((header, cell, _)) = self.cell("did") {
            for part in cell.split(';').map(str::trim).filter(|p| !p.is_empty()) {
                match run_word(&words.did, part) {
                    Ok(word) => run.did.push(word),
                    Err(why) => self.wrong(header, cell, why),
                }
            }
        }
        let slip = ["reaction", "ft60", "ft330", "ft660", "mph660", "ft1000", "mph1000", "ft1320", "mph1320"];
        if !slip.iter().any(|n| run.numbers.contains_key(*n)) {
            // A row without a slip is a change; what stands in a run's columns would be lost silently.
            let lost =
                run.clean_to.is_some() || run.why_not.is_some() || !run.did.is_empty() || !run.numbers.is_empty();
            if lost {
                self.wrong("ft60", "", "the row tells of a run, but has no number of its slip");
            }
            return None;
        }
        for fault in all_faults(words, &run) {
            self.wrong("", "", fault);
        }
        Some(run)
    }

    fn reading(&mut self, at: Time) -> Option<Reading> {
        let words = &schema().run;
        let mut reading = Reading { at, ..Reading::default() };
        for def in &words.reading {
            if let Some(n) = self.number(&def.name, &def.unit) {
                reading.numbers.insert(def.name.clone(), n);
            }
        }
        reading.sun = self.text("sun");
        for fault in reading_faults(words, &reading) {
            self.wrong("", "", fault);
        }
        (!reading.numbers.is_empty() || reading.sun.is_some()).then_some(reading)
    }

    fn edits(&mut self) -> Vec<Edit> {
        let mut edits = Vec::new();
        for (meaning, header, cell) in self.cells.clone() {
            let Meaning::Field(field, slot, unit) = meaning else { continue };
            if cell.is_empty() {
                continue;
            }
            let text = match unit {
                Some(u) if cell != "-" => with_header_unit(cell, u, field.sides == Sides::Pair && slot.is_none()),
                _ => cell.to_owned(),
            };
            match reading(self.schema, field, *slot, &text) {
                Ok(edit) => edits.push(edit),
                Err(why) => self.wrong(header, cell, why),
            }
        }
        edits
    }
}

/// `304/305` under `[mm]` → `304 mm, 305 mm`.
fn with_header_unit(cell: &str, unit: &str, pair: bool) -> String {
    match cell.split_once('/').filter(|_| pair) {
        Some((l, r)) => format!("{} {unit}, {} {unit}", l.trim(), r.trim()),
        None => format!("{cell} {unit}"),
    }
}
