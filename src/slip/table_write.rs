//! Rows → a season table that is whole: what `import` needs to make an equal book of it.

use super::day::Reading;
use super::table::{Column, columns};
use super::{Day, Moment, Run};
use crate::schema::{Edit, Field, Num, RunWords, Scalar, Schema, Typed, Value, inline, toml_string};
use std::collections::{BTreeMap, BTreeSet};

/// What a row tells beside where and when.
#[derive(Debug, Clone, Default)]
pub struct RowOut {
    /// Cells of named columns.
    named: BTreeMap<&'static str, String>,
    /// Cells of fields, by key.
    fields: BTreeMap<String, String>,
}

/// A table that is being put together.
#[derive(Debug, Clone)]
pub struct TableOut<'a> {
    schema: &'a Schema,
    rows: Vec<RowOut>,
}

impl<'a> TableOut<'a> {
    /// An empty one.
    pub fn new(schema: &'a Schema) -> TableOut<'a> {
        TableOut { schema, rows: Vec::new() }
    }

    /// Adds a row.
    pub fn push(&mut self, row: RowOut) {
        self.rows.push(row);
    }

    /// Rows so far.
    pub fn len(&self) -> usize {
        self.rows.len()
    }

    /// There is no row.
    pub fn is_empty(&self) -> bool {
        self.rows.is_empty()
    }

    /// The columns that hold something, in the order of `schema/columns.toml` and then of the sheet.
    fn columns(&self) -> (Vec<Column>, Vec<&Field>) {
        let used: BTreeSet<&str> = self.rows.iter().flat_map(|r| r.named.keys().copied()).chain(["version"]).collect();
        let named = columns().into_iter().filter(|c| used.contains(c.name.as_str())).collect();
        let keys: BTreeSet<&str> = self.rows.iter().flat_map(|r| r.fields.keys().map(String::as_str)).collect();
        (named, self.schema.fields.iter().filter(|f| keys.contains(f.key.as_str())).collect())
    }

    /// The CSV.
    pub fn to_csv(&self) -> Result<String, csv::Error> {
        let (named, fields) = self.columns();
        let mut out = csv::Writer::from_writer(Vec::new());
        out.write_record(named.iter().map(|c| c.name.as_str()).chain(fields.iter().map(|f| f.key.as_str())))?;
        for row in &self.rows {
            let cell = |c: &Column| row.named.get(c.name.as_str()).map_or("", String::as_str);
            let of_field = |f: &&Field| row.fields.get(&f.key).map_or("", String::as_str);
            out.write_record(named.iter().map(cell).chain(fields.iter().map(of_field)))?;
        }
        text_of(out)
    }

    /// What its columns hold, in which unit, as a CSV of its own.
    pub fn legend(&self) -> Result<String, csv::Error> {
        let (named, fields) = self.columns();
        let mut out = csv::Writer::from_writer(Vec::new());
        out.write_record(["column", "what it holds", "unit", "how a cell is written", "an empty cell means"])?;
        for c in &named {
            let (unit, empty) = (c.unit.as_deref().unwrap_or_default(), c.empty.as_deref().unwrap_or("not taken"));
            out.write_record([&c.name, &c.label, unit, &c.form, empty])?;
        }
        for f in &fields {
            let label = safe(&f.label);
            out.write_record([
                &f.key,
                &label,
                f.unit.as_deref().unwrap_or_default(),
                "as on the sheet; - = off the record",
                "unchanged",
            ])?;
        }
        text_of(out)
    }
}

fn text_of(out: csv::Writer<Vec<u8>>) -> Result<String, csv::Error> {
    let bytes = out.into_inner().map_err(|e| csv::Error::from(e.into_error()))?;
    // It was made of texts.
    Ok(String::from_utf8_lossy(&bytes).into_owned())
}

impl RowOut {
    /// A row at a moment, at a track with its finish, ft.
    pub fn at(at: Moment, track: &str, finish_ft: u32) -> RowOut {
        let mut row = RowOut::default();
        let s = at.offset_seconds.abs();
        let sign = if at.offset_seconds < 0 { '-' } else { '+' };
        row.put("date", at.civil().date().to_string());
        row.put("time", at.civil().strftime("%H:%M:%S").to_string());
        row.put("offset", format!("{sign}{:02}:{:02}", s / 3600, s % 3600 / 60));
        row.put("track", safe(track));
        row.put("finish", finish_ft.to_string());
        row
    }

    fn put(&mut self, name: &'static str, cell: impl Into<String>) {
        let cell = cell.into();
        if !cell.is_empty() {
            self.named.insert(name, cell);
        }
    }

    /// A text under a named column.
    pub fn text(&mut self, name: &'static str, text: Option<&str>) {
        text.into_iter().for_each(|t| self.put(name, safe(t)));
    }

    /// What was put on the sheet or taken off it: readings of whole fields.
    pub fn edits(&mut self, schema: &Schema, edits: &[Edit]) {
        for edit in edits {
            let Some(field) = schema.field(&edit.key) else { continue };
            let cell = match &edit.typed {
                Typed::Reading(value) => field_cell(field, value, &Default::default()),
                Typed::Doubtful(value, places) => field_cell(field, value, places),
                Typed::Off | Typed::Step(_) => "-".to_owned(),
            };
            self.fields.insert(edit.key.clone(), cell);
        }
    }

    /// How the track was prepared; on the first row of the day.
    pub fn prep(&mut self, day: &Day) {
        self.text("prep", day.prep.as_deref());
    }

    /// What is to be remembered of a day, that it is closed, its unread lines; on its last row: what comes to a day that is
    /// closed opens it again.
    pub fn end_of(&mut self, day: &Day) {
        self.text("day_note", day.note.as_deref());
        self.put("day_closed", if day.closed { "yes" } else { "" });
        if !day.unread.is_empty() {
            self.put("unread", safe(&day.unread.join("\n")));
        }
    }

    /// The elevation of the track, ft; on every row of a day that has one.
    pub fn elevation(&mut self, elevation_ft: Option<Num>) {
        elevation_ft.into_iter().for_each(|e| self.put("elevation", e.to_string()));
    }

    /// Air and track as they were read.
    pub fn reading(&mut self, words: &'static RunWords, reading: &Reading) {
        for def in &words.reading {
            let number = reading.numbers.get(&def.name);
            number.into_iter().for_each(|n| self.put(&def.name, n.show(def.decimals, 6)));
        }
        self.text("sun", reading.sun.as_deref());
        self.text("report", reading.report.as_deref());
        self.text("read_by", reading.by.as_deref());
    }

    /// A run, with its id.
    pub fn run(&mut self, words: &'static RunWords, run: &Run) {
        self.text("run", Some(&run.id));
        let sides = |end: &str| [format!("psi_{end}_left"), format!("psi_{end}_right")];
        for def in words.number.iter().filter(|d| !d.name.starts_with("psi_")) {
            let number = run.numbers.get(&def.name);
            number.into_iter().for_each(|n| self.put(&def.name, n.show(def.decimals, 6)));
        }
        for (name, end) in [("psi_rear", "rear"), ("psi_front", "front")] {
            let of = sides(end).map(|s| run.num(&s));
            if of.iter().any(Option::is_some) {
                let side = |n: Option<Num>| n.map_or_else(|| "-".to_owned(), |n| n.to_string());
                self.put(name, format!("{}/{}", side(of[0]), side(of[1])));
            }
        }
        self.text("lane", run.lane.as_deref());
        self.text("round", run.round.as_deref());
        self.put("clean_to", run.clean_to.map(|f| f.to_string()).unwrap_or_default());
        self.text("why_not", run.why_not.as_deref());
        self.put("did", run.did.join("; "));
        self.text("staged", run.staged.as_deref());
        self.text("psi_taken", run.psi_taken.as_deref());
        self.put("shifts", run.shifts.iter().map(ToString::to_string).collect::<Vec<_>>().join("; "));
        self.text("note", run.note.as_deref());
    }
}

/// What a spreadsheet takes for the beginning of a formula; the wide forms too.
const FORMULA: [char; 8] = ['=', '+', '-', '@', '\u{ff1d}', '\u{ff0b}', '\u{ff0d}', '\u{ff20}'];

/// A text as a cell. One that a reader or a spreadsheet would take for something else stands in quotes, as TOML has it: a
/// spreadsheet shows what begins like a formula and computes none of it, and it is read back without the quotes.
fn safe(text: &str) -> String {
    let odd =
        text.starts_with(['"', '\'', '[', '{']) || text.starts_with(FORMULA) || text.trim() != text || text.is_empty();
    if odd || text.contains(|c: char| c.is_control() && c != '\n') {
        let quoted = toml_string(text);
        return quoted.trim().to_owned();
    }
    text.to_owned()
}

/// A value of a field as a cell.
fn field_cell(field: &Field, value: &Value, doubt: &crate::schema::Places) -> String {
    match value {
        Value::One(Scalar::Text(t)) => safe(t),
        Value::One(Scalar::Num(_)) => inline(field, value, doubt).trim_matches('"').to_owned(),
        other => inline(field, other, doubt).trim().to_owned(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn no_text_is_a_formula() {
        for text in ["=1+1", "+1", "-", "-2+3", "@SUM(A1)", "\t=1", "\r=1", " =1", "\u{ff1d}1", "'=1", "\"=1\""] {
            let cell = safe(text);
            assert!(cell.starts_with(['"', '\'']), "{text:?} -> {cell}");
            let table: toml::Table = format!("t = {cell}").parse().unwrap();
            assert_eq!(table["t"].as_str(), Some(text));
        }
        for text in ["plain", "a = b", "0.5?", "two\nlines"] {
            assert_eq!(safe(text), text);
        }
    }
}
