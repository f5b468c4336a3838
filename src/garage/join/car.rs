//! `car.toml` and the trials of both sides, entry by entry; comments of the text that goes on stay.

use super::super::car::Car;
use super::super::{Error, Result};
use super::choice::{Choice, Told, by_change};
use crate::slip::Moment;
use jiff::civil::Date;
use std::collections::HashMap;
use toml::{Table, Value};
use toml_edit::{DocumentMut, Item, TableLike};

/// What an entry of a list is known by.
pub(super) fn known_by(list: &str) -> &'static [&'static str] {
    match list {
        "part" => &["kind", "name"],
        "field" => &["key"],
        "owner" => &["name", "since"],
        "rule" => &["id"],
        _ => &[],
    }
}

/// How a list is called in a question.
pub(super) fn called(list: &str) -> &str {
    match list {
        "part" => "part",
        "field" => "own field",
        "owner" => "owner",
        "rule" => "own rule",
        other => other,
    }
}

/// The text of `car.toml` with what either side put in, put right or took out.
pub(super) fn merge_car(
    bases: &[String],
    texts: [&str; 2],
    written: &dyn Fn(&[Step]) -> [i64; 2],
    choice: &mut Choice,
) -> Result<String> {
    let before: Vec<&str> = bases.iter().map(String::as_str).collect();
    let start = match by_change(&before, texts) {
        Some(side) => return Ok(texts[side].to_owned()),
        None => 0,
    };
    let read = |text: &str| text.parse::<Table>().map_err(|e| Error::data(format!("{e}"), "car.toml"));
    let tables = [read(texts[0])?, read(texts[1])?];
    let old: Vec<Table> = bases.iter().map(|t| read(t)).collect::<Result<_>>()?;
    let mut merge = Merge { choice, written, way: Vec::new() };
    let wanted = merge.table("", &old.iter().collect::<Vec<_>>(), [&tables[0], &tables[1]]);
    let text = put_into(texts, start, &tables[start], &wanted).ok_or_else(|| {
        Error::data("car.toml is laid out so that both cannot be put into one", "nothing was changed")
    })?;
    if read(&text)? != wanted {
        return Err(Error::data("car.toml is laid out so that both cannot be put into one", "nothing was changed"));
    }
    Car::read("car.toml", &text)?;
    Ok(text)
}

/// One step on the way to a value: a key, or an entry of a list by what it is known by.
#[derive(Debug, Clone)]
pub(super) enum Step {
    /// What stands at a key.
    Key(String),
    /// The entry of the list of this name.
    Entry(String, String),
}

/// What stands in the text at the end of a way.
pub(super) fn value_at(text: &str, way: &[Step]) -> Option<Value> {
    let mut at = Value::Table(text.parse::<Table>().ok()?);
    for step in way {
        at = match step {
            Step::Key(key) => at.get(key)?.clone(),
            Step::Entry(list, known) => at.as_array()?.iter().find(|v| identity(list, v) == *known)?.clone(),
        };
    }
    Some(at)
}

struct Merge<'m, 'c> {
    choice: &'m mut Choice<'c>,
    /// When each side wrote what stands at the end of a way.
    written: &'m dyn Fn(&[Step]) -> [i64; 2],
    /// The way to what is being merged.
    way: Vec<Step>,
}

impl Merge<'_, '_> {
    fn table(&mut self, about: &str, old: &[&Table], sides: [&Table; 2]) -> Table {
        let mut keys: Vec<&String> = sides[0].keys().collect();
        keys.extend(sides[1].keys().filter(|k| !sides[0].contains_key(*k)));
        let mut out = Table::new();
        for key in keys {
            let was: Vec<Option<&Value>> = old.iter().map(|t| t.get(key)).collect();
            let pair = sides.map(|t| t.get(key));
            let word = key.replace('_', " ");
            // Of a part's values the field is said in one: "part pair B: rear tire size".
            let about = match (about.is_empty(), key == "values", about.contains(": ")) {
                (true, ..) => word,
                (_, true, _) => about.to_owned(),
                (.., true) => format!("{about} {word}"),
                _ => format!("{about}: {word}"),
            };
            self.way.push(Step::Key(key.clone()));
            if let Some(value) = self.value(&about, key, &was, pair) {
                out.insert(key.clone(), value);
            }
            self.way.pop();
        }
        out
    }

    fn value(&mut self, about: &str, key: &str, was: &[Option<&Value>], pair: [Option<&Value>; 2]) -> Option<Value> {
        let before: Vec<&Option<&Value>> = was.iter().collect();
        if let Some(side) = by_change(&before, [&pair[0], &pair[1]]) {
            return pair[side].cloned();
        }
        let nothing = was.iter().all(Option::is_none);
        match pair {
            [Some(one), None] | [None, Some(one)] if nothing => Some(one.clone()),
            [Some(Value::Table(a)), Some(Value::Table(b))] => {
                let old: Vec<&Table> = was.iter().filter_map(|v| v.and_then(Value::as_table)).collect();
                Some(Value::Table(self.table(about, &old, [a, b])))
            }
            [Some(Value::Array(a)), Some(Value::Array(b))] if !known_by(key).is_empty() => {
                let old: Vec<&Vec<Value>> = was.iter().filter_map(|v| v.and_then(Value::as_array)).collect();
                Some(Value::Array(self.list(key, &old, [a, b])))
            }
            [a, b] => {
                let said = [a, b].map(|v| v.map_or("none".to_owned(), words));
                let written = (self.written)(&self.way);
                let told = Told { about: about.to_owned(), said, written };
                pair[self.choice.ask(told)].cloned()
            }
        }
    }

    fn list(&mut self, key: &str, old: &[&Vec<Value>], sides: [&Vec<Value>; 2]) -> Vec<Value> {
        let id = |v: &Value| identity(key, v);
        let mut ids: Vec<String> = sides[0].iter().map(id).collect();
        ids.extend(sides[1].iter().map(id));
        let mut seen = std::collections::HashSet::new();
        ids.retain(|i| seen.insert(i.clone()));
        let mut out = Vec::new();
        for one in ids {
            let of = |list: &Vec<Value>| list.iter().find(|v| id(v) == one).cloned();
            let was: Vec<Option<Value>> = old.iter().map(|l| of(l)).collect();
            let pair = sides.map(&of);
            let name = pair.iter().flatten().next().map_or(String::new(), |v| entry_words(key, v));
            let was: Vec<Option<&Value>> = was.iter().map(Option::as_ref).collect();
            let about = format!("{} {name}", called(key));
            self.way.push(Step::Entry(key.to_owned(), one));
            let pair = [pair[0].as_ref(), pair[1].as_ref()];
            let merged = self.value(&about, "", &was, pair);
            out.extend(match (merged, pair) {
                (Some(Value::Table(part)), [Some(a), Some(b)]) if key == "part" => {
                    Some(Value::Table(self.gone_or_not(&about, part, [a, b])))
                }
                (merged, _) => merged,
            });
            self.way.pop();
        }
        // Owners follow each other in time.
        if key == "owner" {
            let since = |v: &Value| v.get("since").map(ToString::to_string).unwrap_or_default();
            out.sort_by_key(since);
        }
        out
    }
}

impl Merge<'_, '_> {
    /// A part that is gone on the one laptop and goes with the car on the other does one of the two.
    fn gone_or_not(&mut self, about: &str, mut part: Table, sides: [&Value; 2]) -> Table {
        let goes = |v: &Value| v.get("goes_with").and_then(Value::as_bool) == Some(true);
        let gone = |v: &Value| v.get("gone").is_some();
        let as_both = Value::Table(part.clone());
        let Some(left) = [0, 1].into_iter().find(|s| gone(sides[*s]) && !goes(sides[*s])) else { return part };
        if !(gone(&as_both) && goes(&as_both) && goes(sides[1 - left]) && !gone(sides[1 - left])) {
            return part;
        }
        let key = ["goes_with", "gone"];
        let written = [0, 1].map(|s| {
            let mut way = self.way.clone();
            way.push(Step::Key(key[usize::from(s == left)].to_owned()));
            (self.written)(&way)[s]
        });
        let mut said = [String::from("goes with the car"), String::from("goes with the car")];
        if let Some(on) = sides[left].get("gone") {
            said[left] = gone_words(on, sides[left].get("gone_how"));
        }
        if self.choice.ask(Told { about: about.to_owned(), said, written }) == left {
            part.remove("goes_with");
            part.extend(sides[left].get("goes_with").map(|v| ("goes_with".to_owned(), v.clone())));
        } else {
            part.remove("gone");
            part.remove("gone_how");
        }
        part
    }
}

/// `sold to Wren Nov 26`.
pub(super) fn gone_words(on: &Value, how: Option<&Value>) -> String {
    let how = how.map_or("gone".to_owned(), words);
    match on.to_string().parse::<Date>() {
        Ok(on) => format!("{how} {}", Moment::day_words(on, Some(on.year()))),
        Err(_) => how,
    }
}

/// What an entry is known by, as one text. A name is one however its letters are written.
pub(super) fn identity(list: &str, entry: &Value) -> String {
    let text = |key: &&str| entry.get(key).map(ToString::to_string).unwrap_or_default().to_lowercase();
    known_by(list).iter().map(text).collect::<Vec<_>>().join("\n")
}

pub(super) fn entry_words(list: &str, entry: &Value) -> String {
    let name = entry.get("name").or_else(|| known_by(list).first().and_then(|k| entry.get(*k)));
    name.map_or(String::new(), words)
}

/// A value in words.
pub(super) fn words(value: &Value) -> String {
    match value {
        Value::String(s) => s.clone(),
        Value::Boolean(b) => if *b { "yes" } else { "no" }.to_owned(),
        Value::Array(all) => all.iter().map(words).collect::<Vec<_>>().join(", "),
        Value::Table(t) => {
            t.iter().map(|(k, v)| format!("{} {}", k.replace('_', " "), words(v))).collect::<Vec<_>>().join(", ")
        }
        other => other.to_string(),
    }
}

/// The text of one side as it is wanted; what comes from the other keeps its comments.
fn put_into(texts: [&str; 2], start: usize, was: &Table, wanted: &Table) -> Option<String> {
    let mut doc: DocumentMut = texts[start].parse().ok()?;
    let other: DocumentMut = texts[1 - start].parse().ok()?;
    put_table(doc.as_table_mut(), other.as_table(), was, wanted)?;
    Some(doc.to_string())
}

fn put_table(into: &mut dyn TableLike, other: &dyn TableLike, was: &Table, wanted: &Table) -> Option<()> {
    for key in was.keys().filter(|k| !wanted.contains_key(*k)) {
        into.remove(key);
    }
    for (key, value) in wanted.iter().filter(|(k, v)| was.get(*k) != Some(*v)) {
        let theirs = other.get(key);
        let as_there = theirs.filter(|item| item_value(item).as_ref() == Some(value));
        match (value, into.get_mut(key), was.get(key)) {
            (Value::Table(to), Some(item), Some(Value::Table(from))) if item.is_table_like() => {
                let empty = toml_edit::Table::new();
                let theirs = theirs.and_then(Item::as_table_like).unwrap_or(&empty);
                put_table(item.as_table_like_mut()?, theirs, from, to)?;
            }
            (Value::Array(to), Some(Item::ArrayOfTables(list)), Some(Value::Array(from))) => {
                let other = theirs.and_then(Item::as_array_of_tables);
                put_list(key, list, other, from, to)?;
            }
            (_, Some(item), _) => {
                let mut new = as_there.cloned().or_else(|| new_item(value))?;
                if let (Some(new), Some(old)) = (new.as_value_mut(), item.as_value()) {
                    *new.decor_mut() = old.decor().clone();
                }
                *item = new;
            }
            (_, None, _) => drop(into.insert(key, as_there.cloned().or_else(|| new_item(value))?)),
        }
    }
    Some(())
}

/// Entries of a list under lines `[[part]]` and the like.
fn put_list(
    key: &str,
    list: &mut toml_edit::ArrayOfTables,
    other: Option<&toml_edit::ArrayOfTables>,
    was: &[Value],
    wanted: &[Value],
) -> Option<()> {
    let mut tables: HashMap<String, toml_edit::Table> = HashMap::new();
    for (table, value) in list.iter().zip(was) {
        tables.insert(identity(key, value), table.clone());
    }
    let of_other = |value: &Value| {
        other?.iter().find(|t| table_value(t).is_some_and(|v| identity(key, &v) == identity(key, value))).cloned()
    };
    let mut out = toml_edit::ArrayOfTables::new();
    for value in wanted {
        let to = value.as_table()?;
        let before = was.iter().find(|w| identity(key, w) == identity(key, value));
        let theirs = of_other(value);
        let table = match (tables.remove(&identity(key, value)), before) {
            (Some(mut table), Some(before)) => {
                let empty = toml_edit::Table::new();
                put_table(&mut table, theirs.as_ref().unwrap_or(&empty), before.as_table()?, to)?;
                table
            }
            _ => match theirs {
                Some(table) if table_value(&table).as_ref() == Some(value) => table,
                _ => new_item(value)?.into_table().ok()?,
            },
        };
        out.push(table);
    }
    // Where each stands in the file is settled by the order they are in.
    out.iter_mut().for_each(|t| t.set_position(None));
    *list = out;
    Some(())
}

fn table_value(table: &toml_edit::Table) -> Option<Value> {
    table.to_string().parse::<Table>().ok().map(Value::Table)
}

fn item_value(item: &Item) -> Option<Value> {
    let mut doc = DocumentMut::new();
    doc.insert("it", item.clone());
    doc.to_string().parse::<Table>().ok()?.remove("it")
}

fn new_item(value: &Value) -> Option<Item> {
    let mut table = Table::new();
    table.insert("it".to_owned(), value.clone());
    let mut doc: DocumentMut = toml::to_string(&table).ok()?.parse().ok()?;
    doc.remove("it")
}

#[cfg(test)]
mod tests {
    use super::super::choice::{Question, Which};
    use super::*;

    const BASE: &str = "# the car\nformat = 1\nname = \"Grey\"\ntemplate = \"leaf-torsion\"\n\n[[owner]]\nname = \"Ro\"\n\n\
        # bought used\n[[part]]\nname = \"pair A\"\nkind = \"rear.tire.name\"\ncame_with_passes = 12\n";

    fn merged(texts: [&str; 2], decide: &dyn Fn(&Question) -> Option<Which>) -> (Result<String>, usize) {
        let mut choice = Choice::new(0, decide);
        let text = merge_car(&[BASE.to_owned()], texts, &|_| [1, 2], &mut choice);
        (text, choice.open.len() + choice.decided.len())
    }

    fn nobody(_: &Question) -> Option<Which> {
        None
    }

    #[test]
    fn what_either_put_in_is_there_and_comments_stay() {
        let part = |name: &str| format!("\n# {name} is soft\n[[part]]\nname = \"{name}\"\nkind = \"rear.tire.name\"\n");
        let a = format!("{BASE}{}", part("pair B")).replace("passes = 12", "passes = 12\nnote = \"grooved\"");
        let b = format!("{BASE}{}", part("pair C")).replace("passes = 12", "passes = 14");
        for texts in [[&a, &b], [&b, &a]] {
            let (text, asked) = merged(texts.map(String::as_str), &nobody);
            let text = text.unwrap();
            let car = Car::read("car.toml", &text).unwrap();
            let names: Vec<&str> = car.parts.iter().map(|p| p.name.as_str()).collect();
            assert_eq!((names.len(), asked), (3, 0), "{text}");
            assert_eq!((car.parts[0].came_with_passes, car.parts[0].note.as_deref()), (Some(14), Some("grooved")));
            for kept in ["# the car", "# bought used", "# pair B is soft", "# pair C is soft"] {
                assert!(text.contains(kept), "{kept}: {text}");
            }
        }
    }

    #[test]
    fn what_is_taken_out_is_gone_and_what_differs_is_asked_about() {
        let without = BASE.split("\n# bought").next().unwrap().to_owned();
        let named = BASE.replace("Grey", "Gray");
        let text = merged([&without, &named], &nobody).0.unwrap();
        assert!(text.contains("Gray") && !text.contains("[[part]]"), "{text}");
        let other = BASE.replace("Grey", "Gr\u{e9}y");
        assert_eq!(merged([&named, &other], &nobody).1, 1);
        let (text, _) = merged([&named, &other], &|q| {
            assert_eq!((q.about.as_str(), q.here.as_str()), ("name", "Gray"));
            Some(Which::There)
        });
        assert!(text.unwrap().contains("Gr\u{e9}y"));
        let changed = BASE.replace("passes = 12", "passes = 13");
        assert_eq!(merged([&without, &changed], &nobody).1, 1, "taken out here, put right there");
    }
}
