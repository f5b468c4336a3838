//! A season table (CSV) → rows: one row a run, or a change without a run. Columns: `schema/columns.toml`.

use super::Moment;
use super::day::Reading;
use super::run::Run;
use super::table_row::{Carried, Meaning, RowReader};
use crate::schema::{Edit, Num, Schema, columns_data, nearest};
use jiff::civil::Date;
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
    /// When the change in the row was made is not known: some time before the row.
    pub time_unknown: bool,
    /// Reason of the change.
    pub why: Option<String>,
    /// Who wrote it down.
    pub by: Option<String>,
    /// The table says all there is: it has a column `version`.
    pub whole: bool,
    /// Number of the version the row begins.
    pub version: Option<String>,
    /// Version the change went back to.
    pub back_to: Option<String>,
    /// Where only a window of time is known: when it began.
    pub since: Option<Moment>,
    /// What was taken, as trailers say it.
    pub measured: Vec<String>,
    /// What is said of the day itself.
    pub of_day: Option<OfDay>,
}

/// What a row says of its day.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct OfDay {
    /// What is to be remembered of it.
    pub note: Option<String>,
    /// Nothing more is expected of it.
    pub closed: bool,
    /// Lines that could not be read.
    pub unread: Vec<String>,
}

/// What is wrong with a cell (or a row, or the header).
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("line {line}{}: {message}", self.place())]
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

impl CellError {
    /// The cell, where it is one and not the row as a whole.
    fn place(&self) -> String {
        match (self.column.as_str(), self.value.as_str()) {
            ("", _) => String::new(),
            (column, "") => format!(", column `{column}`"),
            (column, value) => format!(", column `{column}`, value `{value}`"),
        }
    }
}

/// The most a table may hold, in bytes.
pub const LARGEST_TABLE: usize = 64 << 20;

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
    for wanted in renamed.keys().filter(|k| !headers.contains(*k)) {
        let message = "is in the map of columns, but not in the table's header".to_owned();
        errors.push(CellError { line: 1, column: wanted.clone(), value: String::new(), message });
    }
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
        if let [one] = headers.as_slice()
            && let Some((mark, called)) = other_mark(one)
        {
            return whole(format!(
                "`{one}` is the whole header: its cells are parted by {called} (`{}`), not by commas; save the table \
                 with commas (and numbers with a point)",
                mark.escape_default()
            ));
        }
        return (Vec::new(), errors);
    }
    let mut lines = Lines { bytes, to: 0, line: 1 };
    let mut rows: Vec<TableRow> = Vec::new();
    let mut carried = Carried::default();
    let mut record = csv::StringRecord::new();
    loop {
        match reader.read_record(&mut record) {
            Ok(false) => break,
            Ok(true) => {}
            Err(e) => {
                let line = e.position().map_or(0, |p| lines.of(p.byte()));
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
        let line = record.position().map_or(0, |p| lines.of(p.byte()));
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
    if rows.is_empty() && errors.is_empty() {
        return whole("there is no row under the header".to_owned());
    }
    (rows, errors)
}

/// What parts the cells of a header that has no comma, where that can be told.
fn other_mark(header: &str) -> Option<(char, &'static str)> {
    [(';', "semicolons"), ('\t', "tabs"), ('|', "bars")].into_iter().find(|(mark, _)| header.contains(*mark))
}

/// Lines of the file, counted on from row to row. The reader's own count is one behind where lines end in CR and LF:
/// its row ends between the two.
struct Lines<'b> {
    bytes: &'b [u8],
    to: usize,
    line: u64,
}

impl Lines<'_> {
    /// The line a row begins on that the reader says begins at this byte.
    fn of(&mut self, byte: u64) -> u64 {
        let begin = usize::try_from(byte).map_or(self.bytes.len(), |b| b.min(self.bytes.len())).max(self.to);
        let ends = self.bytes[begin..].iter().take_while(|b| matches!(b, b'\r' | b'\n')).count();
        let begin = begin + ends;
        self.line += self.bytes[self.to..begin].iter().filter(|b| **b == b'\n').count() as u64;
        self.to = begin;
        self.line
    }
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
