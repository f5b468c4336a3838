//! TOML text of a sheet → values, with every problem and its place.

use super::sheet::{Verdict, check_value, takes_words};
use super::{Field, Num, Places, Problem, Scalar, Schema, Sheet, Sides, Takes, Units, Value, without_doubt};
use std::collections::HashMap;
use std::ops::Range;
use toml_edit::{Document, Item, TableLike, Value as Toml};

/// A sheet as read from its text. Where there are problems the sheet holds what could be read.
#[derive(Debug, Clone, Default)]
pub struct SheetText {
    /// The values.
    pub sheet: Sheet,
    /// All that is wrong, in the order of the file.
    pub problems: Vec<Problem>,
}

impl SheetText {
    /// Problems that forbid taking the sheet (not merely unusual values).
    pub fn refused(&self) -> impl Iterator<Item = &Problem> {
        self.problems.iter().filter(|p| !p.unusual)
    }
}

/// The most a sheet may hold, in bytes.
pub const LARGEST_SHEET: usize = 1 << 20;

/// Reads a sheet.
pub fn read_sheet(schema: &Schema, text: &str) -> SheetText {
    let mut out = SheetText::default();
    if text.len() > LARGEST_SHEET {
        out.problems.push(Problem::at(None, format!("the sheet is {} bytes; {LARGEST_SHEET} at most", text.len())));
        return out;
    }
    let doc = match Document::parse(text) {
        Ok(doc) => doc,
        Err(e) => {
            out.problems.push(Problem::at(e.span(), format!("this is no TOML: {}", e.message())));
            return out;
        }
    };
    let mut reader = Reader { schema, out: &mut out };
    reader.table("", doc.as_table());
    check_format(doc.as_table(), &mut out.problems);
    let mut settled = out.sheet.clone();
    for key in schema.settle(&mut settled) {
        if let Some(field) = schema.field(&key) {
            let span = find_span(doc.as_table(), &key);
            let message = format!("{key} does not apply: it needs {}", field.applies.describe());
            out.problems.push(Problem::at(span, message).help("take the line out, or set what it needs"));
        }
    }
    out.sheet = settled;
    out.problems.sort_by_key(|p| p.span.as_ref().map_or(0, |s| s.start));
    out
}

/// Reads values that stand in a table of another file, under the keys of the sheet.
pub fn read_values(schema: &Schema, table: &dyn TableLike) -> SheetText {
    let mut out = SheetText::default();
    Reader { schema, out: &mut out }.table("", table);
    out
}

/// Each file states its form.
pub(super) fn check_format(root: &toml_edit::Table, problems: &mut Vec<Problem>) {
    match root.get("format") {
        Some(item) if item.as_integer() == Some(1) => {}
        Some(item) => problems
            .push(Problem::at(item.span(), "this file's `format` is not 1").help("a newer slipbook may read it")),
        None => problems.push(Problem::at(None, "`format = 1` is missing").help("put it on the first line")),
    }
}

/// Parts of sheets that were read before, by their text: neighbouring versions differ in a line or two.
#[derive(Default)]
pub struct KnownParts(HashMap<String, Option<Sheet>>);

/// The values of a sheet's text, leniently, part by part (a part begins at a line `[table]`); a part seen before is not
/// read again. What cannot be read in parts is read whole.
pub fn read_in_parts(schema: &Schema, text: &str, known: &mut KnownParts) -> Sheet {
    let mut sheet = Sheet::default();
    for part in parts(text) {
        let read = match known.0.get(part) {
            Some(read) => read,
            None => {
                let alone = if part.starts_with('[') { format!("format = 1\n{part}") } else { part.to_owned() };
                let read = read_sheet(schema, &alone);
                let clean = read.refused().next().is_none();
                known.0.entry(part.to_owned()).or_insert(clean.then_some(read.sheet))
            }
        };
        let Some(read) = read else { return read_sheet(schema, text).sheet };
        read.iter().for_each(|(key, _)| sheet.put(key, read));
    }
    schema.settle(&mut sheet);
    sheet
}

fn parts(text: &str) -> impl Iterator<Item = &str> {
    let starts: Vec<usize> = std::iter::once(0).chain(text.match_indices("\n[").map(|(i, _)| i + 1)).collect();
    let ends: Vec<usize> = starts.iter().skip(1).copied().chain([text.len()]).collect();
    starts.into_iter().zip(ends).map(|(a, b)| &text[a..b])
}

fn find_span(root: &toml_edit::Table, key: &str) -> Option<Range<usize>> {
    let mut table: &dyn TableLike = root;
    let mut parts = key.split('.').peekable();
    while let Some(part) = parts.next() {
        let (k, item) = table.get_key_value(part)?;
        if parts.peek().is_none() {
            return item.span().or_else(|| k.span());
        }
        table = item.as_table_like()?;
    }
    None
}

struct Reader<'a> {
    schema: &'a Schema,
    out: &'a mut SheetText,
}

impl Reader<'_> {
    fn table(&mut self, prefix: &str, table: &dyn TableLike) {
        for (name, item) in table.iter() {
            let key = if prefix.is_empty() { name.to_owned() } else { format!("{prefix}.{name}") };
            if key == "format" {
                continue;
            }
            let span = item.span().or_else(|| table.key(name).and_then(toml_edit::Key::span));
            if let Some(field) = self.schema.field(&key) {
                self.field(field, item, span);
            } else if let Some(inner) = item.as_table_like().filter(|_| self.is_prefix(&key)) {
                self.table(&key, inner);
            } else {
                self.unknown(&key, table.key(name).and_then(toml_edit::Key::span).or(span));
            }
        }
    }

    fn is_prefix(&self, key: &str) -> bool {
        let dotted = format!("{key}.");
        key.matches('.').count() < 4 && self.schema.fields.iter().any(|f| f.key.starts_with(&dotted))
    }

    fn unknown(&mut self, key: &str, span: Option<Range<usize>>) {
        let near = self.schema.nearest(key, 3);
        let help = match near.as_slice() {
            [] => "`slipbook fields` lists every field".to_owned(),
            near => format!("nearest: {}", near.join(", ")),
        };
        self.out.problems.push(Problem::at(span, format!("`{key}` is no field of the sheet")).help(help));
    }

    fn field(&mut self, field: &Field, item: &Item, span: Option<Range<usize>>) {
        let value = match item {
            Item::Value(v) => value(&self.schema.units, field, v),
            Item::Table(t) => slots(&self.schema.units, field, t),
            Item::ArrayOfTables(tables) => {
                rows(&self.schema.units, field, tables.iter().map(|t| Ok(t as &dyn TableLike)))
            }
            Item::None => Err("is empty".to_owned()),
        };
        let (value, doubt) = match value {
            Ok(read) => read,
            Err(why) => {
                let help = format!("it takes {}", takes_words(self.schema, field));
                self.out.problems.push(Problem::at(span, format!("{}: {why}", field.key)).help(help));
                return;
            }
        };
        match check_value(self.schema, field, &value) {
            Verdict::Fine => {}
            Verdict::Unusual(why) => self.out.problems.push(Problem::at(span, why).unusual()),
            Verdict::Refused(why) => {
                self.out.problems.push(Problem::at(span, why));
                return;
            }
        }
        self.out.sheet.set_doubting(&field.key, value, &doubt);
    }
}

/// A value, and which of its numbers are in doubt.
type Read = Result<(Value, Places), String>;

fn value(units: &Units, field: &Field, v: &Toml) -> Read {
    let mut doubt = Places::new();
    let mut one = |i: usize, slot: Option<usize>, v: &Toml| -> Result<Scalar, String> {
        let (scalar, doubtful) = scalar(units, field, slot, v)?;
        doubt.extend(doubtful.then_some(i));
        Ok(scalar)
    };
    let value = match (field.sides, v) {
        (Sides::One, v) => one(0, None, v).map(Value::One),
        (Sides::Pair | Sides::Corners | Sides::Named, Toml::InlineTable(t)) => return slots(units, field, t),
        (Sides::Pair | Sides::Corners | Sides::Named, Toml::Array(a)) if a.len() == field.slots.len() => {
            a.iter().enumerate().map(|(i, v)| one(i, Some(i), v).map(Some)).collect::<Result<_, _>>().map(Value::Slots)
        }
        (Sides::Pair, v) => {
            let both = one(0, Some(0), v)?;
            if doubt.contains(&0) {
                doubt.insert(1);
            }
            Ok(Value::Slots(vec![Some(both); 2]))
        }
        (Sides::Corners | Sides::Named, _) => Err("one value will not do".to_owned()),
        (Sides::List, Toml::Array(a)) => a
            .iter()
            .enumerate()
            .map(|(i, v)| one(i, None, v)?.num().ok_or_else(|| "is no number".to_owned()))
            .collect::<Result<_, _>>()
            .map(Value::List),
        (Sides::Rows, Toml::Array(a)) => {
            let rows = a.iter().map(|v| v.as_inline_table().ok_or("each row stands in braces".to_owned()));
            return self::rows(units, field, rows.map(|t| t.map(|t| t as &dyn TableLike)));
        }
        (Sides::List | Sides::Rows, _) => Err("is no list".to_owned()),
    };
    value.map(|v| (v, doubt))
}

fn rows<'a>(units: &Units, field: &Field, tables: impl Iterator<Item = Result<&'a dyn TableLike, String>>) -> Read {
    let (mut rows, mut doubt) = (Vec::new(), Places::new());
    for table in tables {
        let (row, unsure) = row(units, field, table?)?;
        doubt.extend(unsure.into_iter().map(|i| rows.len() * field.columns.len() + i));
        rows.push(row);
    }
    Ok((Value::Rows(rows), doubt))
}

fn slots(units: &Units, field: &Field, table: &dyn TableLike) -> Read {
    if !matches!(field.sides, Sides::Pair | Sides::Corners | Sides::Named) {
        return Err("takes no table".to_owned());
    }
    row(units, field, table).map(|(slots, doubt)| (Value::Slots(slots), doubt))
}

fn row(units: &Units, field: &Field, table: &dyn TableLike) -> Result<(super::Row, Places), String> {
    let (mut out, mut doubt) = (vec![None; field.slot_list().len()], Places::new());
    for (name, item) in table.iter() {
        let i = field.slot_index(name).ok_or_else(|| {
            let ids: Vec<&str> = field.slot_list().iter().map(|s| s.id.as_str()).collect();
            format!("`{name}` is none of {}", ids.join(", "))
        })?;
        let v = item.as_value().ok_or_else(|| format!("`{name}` is no plain value"))?;
        let (scalar, doubtful) = scalar(units, field, Some(i), v)?;
        doubt.extend(doubtful.then_some(i));
        out[i] = Some(scalar);
    }
    Ok((out, doubt))
}

/// A plain value, and whether it is in doubt: numbers may be, `"0.50?"`.
fn scalar(units: &Units, field: &Field, slot: Option<usize>, v: &Toml) -> Result<(Scalar, bool), String> {
    let takes = slot.map_or(field.takes(), |i| field.slot_takes(i));
    if let (Takes::Number, Toml::String(s)) = (takes, v) {
        let (number, doubtful) = without_doubt(s.value());
        return with_unit(units, field, slot, &number).map(|n| (Scalar::Num(n), doubtful));
    }
    let sure = match (takes, v) {
        (Takes::Flag, Toml::Boolean(b)) => Ok(Scalar::Flag(*b.value())),
        (Takes::Flag, Toml::String(s)) => flag_word(s.value()).map(Scalar::Flag).ok_or("is not yes or no".to_owned()),
        (Takes::Text, Toml::String(s)) => Ok(Scalar::Text(s.value().trim_end_matches('\n').to_owned())),
        (Takes::Choice, Toml::String(s)) => Ok(Scalar::Text(choice_word(field, s.value()).to_owned())),
        (Takes::Number, Toml::Integer(n)) => {
            Num::from_f64(*n.value() as f64).map(Scalar::Num).ok_or("is beyond 1e12".to_owned())
        }
        (Takes::Number, Toml::Float(x)) => {
            Num::from_f64(*x.value()).map(Scalar::Num).ok_or("is not finite, or beyond 1e12".to_owned())
        }
        (_, other) => Err(format!("is a {}", other.type_name())),
    };
    sure.map(|s| (s, false))
}

/// `yes`, `no` and their like.
pub fn flag_word(text: &str) -> Option<bool> {
    match text.trim().to_lowercase().as_str() {
        "yes" | "true" | "fitted" | "on" | "in" => Some(true),
        "no" | "false" | "removed" | "off" | "out" | "none" => Some(false),
        _ => None,
    }
}

/// The choice meant by a word: itself, or the one it is another way to say.
pub fn choice_word<'a>(field: &'a Field, text: &'a str) -> &'a str {
    let lower = text.trim().to_lowercase();
    let said = |c: &&String| {
        c.to_lowercase() == lower
            || field.choice_says.get(*c).is_some_and(|ways| ways.iter().any(|w| w.to_lowercase() == lower))
    };
    field.choices.iter().find(said).map_or(text, String::as_str)
}

/// A number with or without a unit, carried to the stored unit: `0.75`, `3/4`, `19 mm`, `6mm`, `0.86bar`.
pub fn with_unit(units: &Units, field: &Field, slot: Option<usize>, text: &str) -> Result<Num, String> {
    let text = text.trim();
    let end = text.find(|c: char| !(c.is_ascii_digit() || "+-./ ".contains(c))).unwrap_or(text.len());
    let (number, unit) = (text[..end].trim(), text[end..].trim());
    let n = Num::parse(number).ok_or_else(|| format!("`{text}` is no number"))?;
    if unit.is_empty() {
        return Ok(n);
    }
    let stored = field.unit_of(slot).ok_or_else(|| format!("has no unit, so `{unit}` cannot be read"))?;
    if stored == "tpi" && matches!(unit, "mm" | "mm pitch") {
        return Units::tpi_of_pitch_mm(n).ok_or_else(|| "a pitch is above zero".to_owned());
    }
    let from = units.meant(unit, stored).ok_or_else(|| {
        let allowed = units.symbols_for(stored).join(", ");
        format!("`{unit}` is no unit it is measured in ({allowed})")
    })?;
    units.to_stored(n, from).ok_or_else(|| "is beyond 1e12".to_owned())
}
