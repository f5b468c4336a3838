//! `car.toml` and the trials of both sides, entry by entry; comments of the text that goes on stay.

use super::super::car::Car;
use super::super::{Error, Result};
use super::choice::{Choice, Told, by_change};
use super::side::Side;
use crate::trial::read_trial;
use std::collections::{BTreeMap, HashMap};
use toml::{Table, Value};
use toml_edit::{DocumentMut, Item, TableLike};

/// What an entry of a list is known by.
fn known_by(list: &str) -> &'static [&'static str] {
    match list {
        "part" => &["kind", "name"],
        "field" => &["key"],
        "owner" => &["name", "since"],
        "rule" => &["id"],
        _ => &[],
    }
}

/// How a list is called in a question.
fn called(list: &str) -> &str {
    match list {
        "part" => "part",
        "field" => "own field",
        "owner" => "owner",
        "rule" => "own rule",
        other => other,
    }
}

/// The text of `car.toml` with what either side put in, put right or took out.
pub(super) fn merge_car(bases: &[String], texts: [&str; 2], written: [i64; 2], choice: &mut Choice) -> Result<String> {
    let before: Vec<&str> = bases.iter().map(String::as_str).collect();
    let start = match by_change(&before, texts) {
        Some(side) => return Ok(texts[side].to_owned()),
        None => 0,
    };
    let read = |text: &str| text.parse::<Table>().map_err(|e| Error::data(format!("{e}"), "car.toml"));
    let tables = [read(texts[0])?, read(texts[1])?];
    let old: Vec<Table> = bases.iter().map(|t| read(t)).collect::<Result<_>>()?;
    let mut merge = Merge { choice, written };
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

struct Merge<'m, 'c> {
    choice: &'m mut Choice<'c>,
    written: [i64; 2],
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
            if let Some(value) = self.value(&about, key, &was, pair) {
                out.insert(key.clone(), value);
            }
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
                let written = self.written;
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
            let pair = sides.map(of);
            let name = pair.iter().flatten().next().map_or(String::new(), |v| entry_words(key, v));
            let was: Vec<Option<&Value>> = was.iter().map(Option::as_ref).collect();
            let about = format!("{} {name}", called(key));
            out.extend(self.value(&about, "", &was, [pair[0].as_ref(), pair[1].as_ref()]));
        }
        // Owners follow each other in time.
        if key == "owner" {
            let since = |v: &Value| v.get("since").map(ToString::to_string).unwrap_or_default();
            out.sort_by_key(since);
        }
        out
    }
}

/// What an entry is known by, as one text. A name is one however its letters are written.
fn identity(list: &str, entry: &Value) -> String {
    let text = |key: &&str| entry.get(key).map(ToString::to_string).unwrap_or_default().to_lowercase();
    known_by(list).iter().map(text).collect::<Vec<_>>().join("\n")
}

fn entry_words(list: &str, entry: &Value) -> String {
    let name = entry.get("name").or_else(|| known_by(list).first().and_then(|k| entry.get(*k)));
    name.map_or(String::new(), words)
}

/// A value in words.
fn words(value: &Value) -> String {
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

/// All trials: path and text. Their versions are named as they are now.
pub(super) fn merge_trials(sides: &[Side; 2], bases: &[Side], choice: &mut Choice) -> Result<BTreeMap<String, String>> {
    let mut paths: Vec<&String> = sides.iter().flat_map(|s| s.trials.keys()).collect();
    paths.sort();
    paths.dedup();
    let mut out = BTreeMap::new();
    for path in paths {
        let was: Vec<Option<&String>> = bases.iter().map(|b| b.trials.get(path)).collect();
        let pair = [0, 1].map(|s| sides[s].trials.get(path));
        let nothing = was.is_empty() || was.iter().any(Option::is_none);
        let side = match (by_change(&was.iter().collect::<Vec<_>>(), [&pair[0], &pair[1]]), pair) {
            (Some(side), _) => side,
            (None, [Some(_), None]) if nothing => 0,
            (None, [None, Some(_)]) if nothing => 1,
            _ => {
                let said = pair.map(|t| t.map_or("it was taken away".to_owned(), |t| trial_words(t)));
                let written = [0, 1].map(|s| sides[s].written_to(path));
                choice.ask(Told { about: path.clone(), said, written })
            }
        };
        if let Some(text) = pair[side] {
            out.insert(path.clone(), renumbered(text, &sides[side])?);
        }
    }
    Ok(out)
}

fn trial_words(text: &str) -> String {
    let Ok(trial) = read_trial(text) else { return "it cannot be read".to_owned() };
    let ended = match (trial.judged(), trial.ended()) {
        (Some(judged), _) => format!("judged: {}", judged.verdict),
        (None, Some(at)) => format!("given up {}", at.words(None)),
        (None, None) => "still open".to_owned(),
    };
    format!("{} against {}, begun {}, {ended}", trial.b.version, trial.a.version, trial.started.words(None))
}

/// A trial with its versions named as they are now.
fn renumbered(text: &str, side: &Side) -> Result<String> {
    let Ok(mut doc) = text.parse::<DocumentMut>() else { return Ok(text.to_owned()) };
    let mut other = false;
    for key in ["a", "b"] {
        let Some(value) = doc.get_mut(key).and_then(Item::as_value_mut) else { continue };
        let was = value.as_str().and_then(|v| v.parse().ok());
        let Some(now) = was.and_then(|w| side.renamed.get(&w)) else { continue };
        let mut new = toml_edit::Value::from(now.to_string());
        *new.decor_mut() = value.decor().clone();
        *value = new;
        other = true;
    }
    Ok(if other { doc.to_string() } else { text.to_owned() })
}

#[cfg(test)]
mod tests {
    use super::super::choice::{Question, Which};
    use super::*;

    const BASE: &str = "# the car\nformat = 1\nname = \"Grey\"\ntemplate = \"leaf-torsion\"\n\n[[owner]]\nname = \"Ro\"\n\n\
        # bought used\n[[part]]\nname = \"pair A\"\nkind = \"rear.tire.name\"\ncame_with_passes = 12\n";

    fn merged(texts: [&str; 2], decide: &dyn Fn(&Question) -> Option<Which>) -> (Result<String>, usize) {
        let mut choice = Choice::new(0, decide);
        let text = merge_car(&[BASE.to_owned()], texts, [1, 2], &mut choice);
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
