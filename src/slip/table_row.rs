//! One row of a season table: its cells, read with what the rows above it say.

use super::Moment;
use super::barometer::air_faults;
use super::day::Reading;
use super::moment::{read_clock, read_date};
use super::run::Run;
use super::table::{CellError, OfDay, TableRow};
use super::text::{all_faults, read_offset, reading_faults};
use super::typed::{lane_word, run_word};
use crate::schema::{Edit, Field, Num, Schema, Sides, Typed, read_sheet, reading, schema};
use jiff::civil::{Date, Time};
use jiff::tz::TimeZone;

/// What a column means.
pub(super) enum Meaning<'a> {
    /// A documented column, with the unit its header gives.
    Named(&'static str, Option<&'a str>),
    /// A field of the sheet, or one slot of it, with the unit its header gives.
    Field(&'a Field, Option<usize>, Option<String>),
    /// Left out.
    Ignored,
}

/// What an empty cell takes from the rows above.
#[derive(Default)]
pub(super) struct Carried {
    date: Option<Date>,
    time: Option<Time>,
    track: Option<String>,
    finish: Option<u32>,
    elevation: Option<Num>,
}

/// Reads one row.
pub(super) struct RowReader<'a> {
    pub(super) schema: &'a Schema,
    pub(super) zone: &'a TimeZone,
    pub(super) line: u64,
    pub(super) errors: Vec<CellError>,
    pub(super) cells: Vec<(&'a Meaning<'a>, &'a str, &'a str)>,
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
        let cell = self.cell(name).map(|(_, cell, _)| cell)?;
        Some(self.is_whole().then(|| unquoted(cell)).flatten().unwrap_or_else(|| cell.to_owned()))
    }

    /// The table says all there is.
    fn is_whole(&self) -> bool {
        self.cells.iter().any(|(m, ..)| matches!(m, Meaning::Named("version", _)))
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

    /// The row; `None` where its errors stand in `errors`.
    pub(super) fn read(&mut self, carried: &mut Carried) -> Option<TableRow> {
        let date = self.parsed("date", "a date like 2026-05-16 or 5/16/2026", read_date).or_else(|| {
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
        let whole = self.is_whole();
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
        let elevation_ft = self.number("elevation", "ft").or(carried.elevation.filter(|_| !new_track && !whole));
        let late = time.hour() < 6;
        let local =
            if late && self.rolls_over(carried, date, time) { date.tomorrow().ok()? } else { date }.to_datetime(time);
        let offset = self.parsed("offset", "an offset like -05:00", read_offset);
        let at = match offset {
            // With its offset the date is the calendar's: nothing rolls over.
            Some(offset) => Moment::from_civil(date.to_datetime(time), offset),
            None => Moment::in_zone(local, self.zone),
        };
        let Some(at) = at else {
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
        let reading = self.reading(time, elevation_ft, whole);
        let edits = self.edits();
        let unknown = |t: &str| t.eq_ignore_ascii_case("unknown").then_some(());
        let time_unknown = self.parsed("change_time", "`unknown` (or empty: at the row's time)", unknown).is_some();
        let (on, by) = (self.text("on"), self.text("by"));
        // A note without a run is about the change.
        let why = self.text("why").or_else(|| self.text("note").filter(|_| run.is_none() && !whole));
        let prep = self.text("prep");
        let since = self.parsed("change_since", "a time like 2026-05-16T09:40:00-05:00", |t| t.parse().ok());
        let measured = self.text("measured").unwrap_or_default();
        let closed = self.parsed("day_closed", "`yes` (or empty)", |t| (t == "yes").then_some(())).is_some();
        let unread = self.text("unread").map(|t| t.lines().map(str::to_owned).collect()).unwrap_or_default();
        let of_day = OfDay { note: self.text("day_note"), closed, unread };
        Some(TableRow {
            whole,
            version: self.text("version"),
            back_to: self.text("back_to"),
            since,
            measured: measured.split(';').map(str::trim).filter(|m| !m.is_empty()).map(str::to_owned).collect(),
            of_day: Some(of_day).filter(|d| *d != OfDay::default()),
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
            time_unknown,
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
                if text.trim() == "-" {
                    continue;
                }
                let n = Num::parse(text.trim());
                let from = unit.and_then(|u| self.schema.units.get(u));
                let n = n.and_then(|n| from.map_or(Some(n), |f| self.schema.units.to_stored(n, f)));
                match n {
                    Some(n) => drop(run.numbers.insert(format!("{name}_{side}"), n)),
                    None => self.wrong(header, cell, "is no pressure like 12.0 or 12.0/12.5"),
                }
            }
        }
        if let Some((header, cell, _)) = self.cell("shifts") {
            for part in cell.split(';').map(str::trim).filter(|p| !p.is_empty()) {
                match Num::parse(part) {
                    Some(n) => run.shifts.push(n),
                    None => self.wrong(header, cell, "is no list of rpm like 7000; 7100"),
                }
            }
        }
        let is_id = |t: &str| t.len() == 8 && t.bytes().all(|b| b.is_ascii_hexdigit());
        let id = self.parsed("run", "the id of a run: 8 hexadecimal digits", |t| is_id(t).then(|| t.to_owned()));
        run.id = id.unwrap_or_default();
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
        if run.id.is_empty() && !slip.iter().any(|n| run.numbers.contains_key(*n)) {
            // A row without a slip is a change; what stands in a run's columns would be lost silently.
            let words = [&run.round, &run.lane, &run.staged, &run.psi_taken, &run.why_not];
            let lost = run.clean_to.is_some()
                || words.iter().any(|w| w.is_some())
                || !run.did.is_empty()
                || !run.shifts.is_empty()
                || !run.numbers.is_empty();
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

    fn reading(&mut self, at: Time, elevation_ft: Option<Num>, whole: bool) -> Option<Reading> {
        let words = &schema().run;
        let mut reading = Reading { at, ..Reading::default() };
        for def in &words.reading {
            if let Some(n) = self.number(&def.name, &def.unit) {
                reading.numbers.insert(def.name.clone(), n);
            }
        }
        reading.sun = self.text("sun");
        reading.report = self.text("report");
        reading.by = self.text("read_by");
        // What is on record is held to each number's range only.
        let faults = match whole {
            true => reading_faults(words, &reading),
            false => air_faults(words, &reading, elevation_ft.map(Num::to_f64)),
        };
        for fault in faults {
            self.wrong("", "", fault);
        }
        let says = !reading.numbers.is_empty() || reading.sun.is_some() || reading.report.is_some();
        (says || reading.by.is_some()).then_some(reading)
    }

    /// A value as the sheet has it: a list, the sides by name, rows, a text in quotes.
    fn as_on_sheet(&self, field: &Field, cell: &str) -> Option<Edit> {
        let read = read_sheet(self.schema, &format!("format = 1\n{} = {cell}\n", field.key));
        let typed = Typed::of(&read.sheet, &field.key, None);
        let clean = read.refused().next().is_none() && typed != Typed::Off && read.sheet.len() == 1;
        clean.then(|| Edit { key: field.key.clone(), slot: None, typed })
    }

    fn edits(&mut self) -> Vec<Edit> {
        let mut edits = Vec::new();
        for (meaning, header, cell) in self.cells.clone() {
            let Meaning::Field(field, slot, unit) = meaning else { continue };
            if cell.is_empty() {
                continue;
            }
            let as_on_sheet = unit.is_none() && slot.is_none() && cell.starts_with(['[', '{', '"', '\'']);
            if let Some(edit) = as_on_sheet.then(|| self.as_on_sheet(field, cell)).flatten() {
                edits.push(edit);
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

/// The text in a TOML string; none where it is something else.
fn unquoted(cell: &str) -> Option<String> {
    if !cell.starts_with(['"', '\'']) {
        return None;
    }
    let table: toml::Table = format!("text = {cell}\n").parse().ok()?;
    Some(table.get("text").filter(|_| table.len() == 1)?.as_str()?.to_owned())
}

/// `304/305` under `[mm]` → `304 mm, 305 mm`.
fn with_header_unit(cell: &str, unit: &str, pair: bool) -> String {
    match cell.split_once('/').filter(|_| pair) {
        Some((l, r)) => format!("{} {unit}, {} {unit}", l.trim(), r.trim()),
        None => format!("{cell} {unit}"),
    }
}
