//! A part written into `car.toml`, with everything else of the file left as it stands.

use super::part::{Part, limit_number};
use super::{Error, Result};
use crate::schema::{Num, Schema, inline, read_values, same_name, unit_comment};
use toml_edit::{ArrayOfTables, DocumentMut, InlineTable, Item, Table, TableLike, Value as Toml};

/// The text of `car.toml` with this part put in, or in the place of the one of its kind and name. Comments and what the
/// text says of other things stay.
pub fn put(schema: &Schema, text: &str, part: &Part) -> Result<String> {
    let wrong = || Error::data("car.toml is laid out so that a part cannot be put in", "parts stand under [[part]]");
    let mut doc: DocumentMut = text.parse().map_err(|_| wrong())?;
    let parts = doc.entry("part").or_insert_with(|| Item::ArrayOfTables(ArrayOfTables::new()));
    let parts = parts.as_array_of_tables_mut().ok_or_else(wrong)?;
    let is_it = |t: &Table| {
        let text = |k: &str| t.get(k).and_then(Item::as_str).unwrap_or_default();
        text("kind") == part.kind && same_name(text("name"), &part.name)
    };
    let there = parts.iter().position(is_it);
    let at = match there {
        Some(at) => at,
        None => {
            parts.push(Table::new());
            parts.len() - 1
        }
    };
    let table = parts.get_mut(at).ok_or_else(wrong)?;
    set(table, "name", Some(part.name.as_str().into()), None);
    set(table, "kind", Some(part.kind.as_str().into()), None);
    set(table, "came_with_passes", part.came_with_passes.map(|n| i64::from(n).into()), None);
    set(table, "goes_with", part.goes_with.map(Toml::from), None);
    let gone = part.gone.as_ref();
    set(table, "gone", gone.and_then(|g| g.on.to_string().parse().ok()), None);
    set(table, "gone_how", gone.and_then(|g| g.how.as_deref()).map(Toml::from), None);
    set(table, "note", part.note.as_deref().map(Toml::from), None);
    put_limits(schema, table, part).ok_or_else(wrong)?;
    put_values(schema, table, part).ok_or_else(wrong)?;
    Ok(doc.to_string())
}

/// Sets a value, with a comment behind a new one; what stood around an old one stays.
fn set(table: &mut dyn TableLike, key: &str, value: Option<Toml>, comment: Option<&str>) {
    let Some(mut value) = value else {
        drop(table.remove(key));
        return;
    };
    match table.get_mut(key).and_then(Item::as_value_mut) {
        Some(old) => {
            if !says_same(old, &value) {
                *value.decor_mut() = old.decor().clone();
                *old = value;
            }
        }
        None => {
            let comment = comment.map(|c| format!(" # {c}")).unwrap_or_default();
            value.decor_mut().set_suffix(comment);
            table.insert(key, Item::Value(value));
        }
    }
}

fn says_same(a: &Toml, b: &Toml) -> bool {
    let date = |v: &Toml| v.as_datetime().map(ToString::to_string);
    (a.as_str(), a.as_integer(), a.as_bool(), date(a)) == (b.as_str(), b.as_integer(), b.as_bool(), date(b))
        && a.type_name() == b.type_name()
        && !matches!(a, Toml::Float(_) | Toml::Array(_) | Toml::InlineTable(_))
}

fn number(n: Num, decimals: u32) -> Option<Toml> {
    n.show(decimals.min(if n.is_int() { 0 } else { decimals }), 6).parse().ok()
}

fn put_limits(schema: &Schema, table: &mut Table, part: &Part) -> Option<()> {
    if part.limits.is_empty() {
        table.remove("limits");
        return Some(());
    }
    let item = table.entry("limits").or_insert_with(|| Item::Table(Table::new()));
    // Braces hold no comments.
    let inline = item.is_inline_table();
    let limits = item.as_table_like_mut()?;
    let names: Vec<String> = limits.iter().map(|(k, _)| k.to_owned()).collect();
    for name in names.iter().filter(|n| !part.limits.iter().any(|(l, _)| l == *n)) {
        limits.remove(name);
    }
    for limit in schema.part_limits(&part.kind) {
        let Some((_, n)) = part.limits.iter().find(|(name, _)| *name == limit.name) else { continue };
        // A limit that reads the same may stand there in another unit, as the racer wrote it.
        if limits.get(&limit.name).and_then(|i| limit_number(schema, limit, i).ok()) != Some(*n) {
            let (unit, decimals) = schema.limit_unit(limit);
            set(limits, &limit.name, number(*n, decimals), unit.filter(|_| !inline));
        }
    }
    Some(())
}

fn put_values(schema: &Schema, table: &mut Table, part: &Part) -> Option<()> {
    if part.values.is_empty() && !table.contains_key("values") {
        return Some(());
    }
    let before = table.get("values").and_then(Item::as_table_like);
    let before = before.map(|t| read_values(schema, t).sheet).unwrap_or_default();
    let gone: Vec<String> = before.iter().map(|(k, _)| k.to_owned()).filter(|k| part.values.get(k).is_none()).collect();
    let item = table.entry("values").or_insert_with(|| Item::Table(Table::new()));
    let in_braces = item.is_inline_table();
    let values = item.as_table_like_mut()?;
    for key in &gone {
        take_out(values, key);
    }
    for (field, value) in part.values.in_order(schema) {
        // A value that reads the same may stand there in another unit, as the racer wrote it.
        if before.get(&field.key) == Some(value) {
            continue;
        }
        let text: Toml = inline(field, value, part.values.doubt(&field.key)).parse().ok()?;
        let mut at: &mut dyn TableLike = &mut *values;
        let (way, name) = field.table_and_name();
        let mut inline = in_braces;
        for step in way.split('.').filter(|s| !s.is_empty()) {
            if !at.contains_key(step) {
                at.insert(step, if inline { Item::Value(Toml::InlineTable(InlineTable::new())) } else { dotted() });
            }
            let item = at.get_mut(step)?;
            inline |= item.is_inline_table();
            at = item.as_table_like_mut()?;
        }
        set(at, name, Some(text), unit_comment(field).as_deref().filter(|_| !inline));
    }
    if part.values.is_empty() {
        table.remove("values");
    }
    Some(())
}

fn dotted() -> Item {
    let mut table = Table::new();
    table.set_dotted(true);
    Item::Table(table)
}

fn take_out(table: &mut dyn TableLike, key: &str) {
    match key.split_once('.') {
        None => drop(table.remove(key)),
        Some((first, rest)) => {
            if let Some(inner) = table.get_mut(first).and_then(Item::as_table_like_mut) {
                take_out(inner, rest);
                if inner.is_empty() {
                    table.remove(first);
                }
            }
        }
    }
}
