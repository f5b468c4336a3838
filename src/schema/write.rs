//! Values → the canonical TOML text of a sheet: schema order, a unit beside every number, comments kept.

use super::{Field, Num, Places, Row, Scalar, Schema, Sheet, Sides, Value};
use std::collections::BTreeMap;
use toml_edit::{DocumentMut, Item, RawString, TableLike};

/// The comments of an older text, by the dotted path of what they stand at.
#[derive(Debug, Default)]
struct Comments {
    above: BTreeMap<String, Vec<String>>,
    beside: BTreeMap<String, String>,
    tail: Vec<String>,
}

/// The text of a sheet. `before` is the text it replaces, whose comments are kept; `header` stands at the top of a new file.
pub fn write_sheet(schema: &Schema, sheet: &Sheet, before: Option<&str>, header: &[String]) -> String {
    with_comments(schema, sheet, before.map(Comments::of).unwrap_or_default(), header)
}

/// The same with the comments of `running`, but where `now` says another than `was` did: what one of two hands wrote
/// beside a field goes into a text that has the other's.
pub fn write_sheet_onto(
    schema: &Schema,
    sheet: &Sheet,
    running: &str,
    (was, now): (&str, &str),
    header: &[String],
) -> String {
    let mut comments = Comments::of(running);
    let (was, now) = (Comments::of(was), Comments::of(now));
    comments.above = onto(comments.above, &was.above, &now.above);
    comments.beside = onto(comments.beside, &was.beside, &now.beside);
    if was.tail != now.tail {
        comments.tail = now.tail;
    }
    with_comments(schema, sheet, comments, header)
}

fn onto<T: PartialEq + Clone>(
    mut running: BTreeMap<String, T>,
    was: &BTreeMap<String, T>,
    now: &BTreeMap<String, T>,
) -> BTreeMap<String, T> {
    for path in was.keys().chain(now.keys()).filter(|p| was.get(*p) != now.get(*p)) {
        match now.get(path) {
            Some(comment) => drop(running.insert(path.clone(), comment.clone())),
            None => drop(running.remove(path)),
        }
    }
    running
}

fn with_comments(schema: &Schema, sheet: &Sheet, mut comments: Comments, header: &[String]) -> String {
    let mut out = String::with_capacity(8 * 1024);
    let head = comments.above.remove("format").filter(|c| !c.is_empty()).unwrap_or_else(|| header.to_vec());
    push_lines(&mut out, &head);
    out.push_str("format = 1");
    push_beside(&mut out, None, comments.beside.remove("format"));
    let mut tables: Vec<&str> = Vec::new();
    for (field, _) in sheet.in_order(schema) {
        let (table, _) = field.table_and_name();
        if !tables.contains(&table) {
            tables.push(table);
        }
    }
    // TOML wants the keys of the root before the first table.
    tables.sort_by_key(|t| !t.is_empty());
    for table in tables {
        if !table.is_empty() {
            out.push('\n');
            push_lines(&mut out, &comments.take_above(table));
            out.push_str(&format!("[{table}]"));
            push_beside(&mut out, None, comments.beside.remove(table));
        }
        for (field, value) in sheet.in_order(schema).filter(|(f, _)| f.table_and_name().0 == table) {
            push_lines(&mut out, &comments.take_above(&field.key));
            out.push_str(&format!("{} = ", field.table_and_name().1));
            let beside = comments.beside.remove(&field.key);
            push_value(&mut out, field, value, sheet.doubt(&field.key), beside);
        }
    }
    // Comments of what is no longer on the sheet are kept at its end.
    let beside = comments.beside.into_iter().filter_map(|(key, words)| {
        let unit = schema.field(&key).and_then(unit_comment);
        let rest = without_unit(unit.as_deref(), words.trim_start_matches('#').trim());
        (!rest.is_empty()).then(|| format!("# {rest}"))
    });
    let orphans: Vec<String> = comments.above.into_values().flatten().chain(beside).collect();
    let tail: Vec<String> = orphans.into_iter().chain(comments.tail).collect();
    if !tail.is_empty() {
        out.push('\n');
        push_lines(&mut out, &tail);
    }
    out
}

fn push_lines(out: &mut String, lines: &[String]) {
    for line in lines {
        out.push_str(line);
        out.push('\n');
    }
}

/// Ends a line: `# unit`, `# unit; words of the racer`, `# words`, or nothing.
fn push_beside(out: &mut String, unit: Option<&str>, beside: Option<String>) {
    let words = beside.map(|b| without_unit(unit, b.trim_start_matches('#').trim()));
    match (unit, words.filter(|w| !w.is_empty())) {
        (Some(u), Some(w)) => out.push_str(&format!(" # {u}; {w}")),
        (Some(u), None) => out.push_str(&format!(" # {u}")),
        (None, Some(w)) => out.push_str(&format!(" # {w}")),
        (None, None) => {}
    }
    out.push('\n');
}

/// The racer's own words of a comment, without the unit our writer put before them.
fn without_unit(unit: Option<&str>, words: &str) -> String {
    match unit.and_then(|u| words.strip_prefix(u)) {
        // "inside" is no unit "in".
        Some(rest) if rest.starts_with(|c: char| c.is_alphanumeric()) => words.to_owned(),
        Some(rest) => rest.trim_start_matches([';', ',', ':', ' ']).trim().to_owned(),
        None => words.to_owned(),
    }
}

/// The comment that gives a field's unit: "in", or "in, psi" where the slots differ.
pub fn unit_comment(field: &Field) -> Option<String> {
    let list = field.slot_list();
    if list.iter().any(|s| s.unit.is_some()) {
        let said: Vec<String> =
            list.iter().filter_map(|s| s.unit.as_deref().map(|u| format!("{} {u}", s.id))).collect();
        return Some(said.join(", "));
    }
    field.unit.clone()
}

fn push_value(out: &mut String, field: &Field, value: &Value, doubt: &Places, beside: Option<String>) {
    let unit = unit_comment(field);
    match value {
        Value::Rows(rows) => {
            out.push('[');
            push_beside(out, unit.as_deref(), beside);
            for (r, row) in rows.iter().enumerate() {
                out.push_str("  ");
                out.push_str(&inline_slots(field, row, doubt, r * row.len()));
                out.push_str(",\n");
            }
            out.push_str("]\n");
        }
        value => {
            out.push_str(&inline(field, value, doubt));
            push_beside(out, unit.as_deref(), beside);
        }
    }
}

/// One value as it stands on one line: `0.75`, `{ left = 6, right = 7 }`, `[2.75, 1.79]`; a number in doubt as `"0.75?"`.
pub fn inline(field: &Field, value: &Value, doubt: &Places) -> String {
    let unsure = |i: usize| doubt.contains(&i);
    match value {
        Value::One(s) => scalar(field, None, s, unsure(0)),
        Value::Slots(v) if field.sides == Sides::Pair && value.shared().is_some() && unsure(0) == unsure(1) => {
            v[0].as_ref().map_or(String::new(), |s| scalar(field, Some(0), s, unsure(0)))
        }
        Value::Slots(v) => inline_slots(field, v, doubt, 0),
        Value::List(v) => {
            let one = |(i, n): (usize, &Num)| scalar(field, None, &Scalar::Num(*n), unsure(i));
            let all: Vec<String> = v.iter().enumerate().map(one).collect();
            format!("[{}]", all.join(", "))
        }
        Value::Rows(rows) => {
            let one = |(r, row): (usize, &Row)| inline_slots(field, row, doubt, r * row.len());
            format!("[{}]", rows.iter().enumerate().map(one).collect::<Vec<_>>().join(", "))
        }
    }
}

/// `first`: the place of the first of them in the whole value.
fn inline_slots(field: &Field, slots: &[Option<Scalar>], doubt: &Places, first: usize) -> String {
    let one = |(i, s): (usize, &Option<Scalar>)| {
        let s = s.as_ref()?;
        Some(format!("{} = {}", field.slot_list().get(i)?.id, scalar(field, Some(i), s, doubt.contains(&(first + i)))))
    };
    format!("{{ {} }}", slots.iter().enumerate().filter_map(one).collect::<Vec<_>>().join(", "))
}

fn scalar(field: &Field, slot: Option<usize>, s: &Scalar, doubtful: bool) -> String {
    match s {
        Scalar::Num(n) if doubtful => toml_string(&format!("{}?", n.show(field.decimals_of(slot), 6))),
        Scalar::Num(n) => n.show(field.decimals_of(slot), 6),
        Scalar::Flag(b) => b.to_string(),
        Scalar::Text(t) => toml_string(t),
    }
}

/// A TOML string: basic, or multi-line when it has lines.
pub fn toml_string(text: &str) -> String {
    toml_edit::Value::from(text).to_string()
}

impl Comments {
    fn of(text: &str) -> Comments {
        let mut comments = Comments::default();
        if let Ok(doc) = text.parse::<DocumentMut>() {
            comments.tail = lines(Some(doc.trailing()));
            comments.collect("", doc.as_table());
        }
        comments
    }

    fn take_above(&mut self, path: &str) -> Vec<String> {
        self.above.remove(path).unwrap_or_default()
    }

    fn add_above(&mut self, path: &str, mut found: Vec<String>) {
        if !found.is_empty() {
            self.above.entry(path.to_owned()).or_default().append(&mut found);
        }
    }

    fn add_beside(&mut self, path: &str, raw: Option<&RawString>) {
        let mut found = lines(raw);
        if !found.is_empty() {
            let first = found.remove(0);
            self.beside.insert(path.to_owned(), first);
            self.add_above(path, found);
        }
    }

    fn collect(&mut self, prefix: &str, table: &dyn TableLike) {
        for (name, item) in table.iter() {
            let path = if prefix.is_empty() { name.to_owned() } else { format!("{prefix}.{name}") };
            if let Some(key) = table.key(name) {
                self.add_above(&path, lines(key.leaf_decor().prefix()));
                self.add_above(&path, lines(key.dotted_decor().prefix()));
            }
            match item {
                Item::Table(inner) => {
                    self.add_above(&path, lines(inner.decor().prefix()));
                    self.add_beside(&path, inner.decor().suffix());
                    self.collect(&path, inner);
                }
                Item::ArrayOfTables(rows) => {
                    for row in rows {
                        self.add_above(&path, lines(row.decor().prefix()));
                        let mut inner = Comments::default();
                        inner.collect("", row);
                        self.add_above(&path, inner.above.into_values().flatten().collect());
                    }
                }
                Item::Value(v) => {
                    if let toml_edit::Value::Array(a) = v {
                        // Comments between the elements move above the field, except the unit on the first line.
                        let mut inside: Vec<String> = a
                            .iter()
                            .flat_map(|e| [lines(e.decor().prefix()), lines(e.decor().suffix())].concat())
                            .collect();
                        inside.extend(lines(Some(a.trailing())));
                        inside.retain(|c| !looks_like_units(c));
                        self.add_above(&path, inside);
                    }
                    self.add_beside(&path, v.decor().suffix());
                }
                Item::None => {}
            }
        }
    }
}

/// The comment our own writer puts behind the bracket of rows.
fn looks_like_units(comment: &str) -> bool {
    comment == "# weight lb, behind in, right in, height in"
}

fn lines(raw: Option<&RawString>) -> Vec<String> {
    let text = raw.and_then(RawString::as_str).unwrap_or_default();
    text.lines().map(str::trim).filter(|l| l.starts_with('#')).map(str::to_owned).collect()
}
