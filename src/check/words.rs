//! The sentence of a rule: `{name}` is the value of a field, a figure or a limit with its unit; what stands in `[...]` goes
//! where a value in it cannot be had.

use crate::diff::words::{show, show_doubting};
use crate::figures::{Given, figures_named, is_figure};
use crate::schema::Num;
use std::collections::BTreeMap;

/// Units that the name of a limit ends in, and how they are written.
const UNITS: [(&str, &str); 8] = [
    ("_in", " in"),
    ("_deg", " deg"),
    ("_psi", " psi"),
    ("_pct", " %"),
    ("_hz", " Hz"),
    ("_lb", " lb"),
    ("_rpm", " rpm"),
    ("_s", " s"),
];

/// Fills in a sentence; `list` is for `{list}`, `more` are words of this rule alone.
pub(super) fn filled(
    text: &str,
    given: &Given,
    limits: &BTreeMap<String, Num>,
    list: &str,
    more: &[(&str, String)],
) -> String {
    let value = |name: &str| -> Option<String> {
        if name == "list" {
            return Some(list.to_owned());
        }
        if let Some((_, words)) = more.iter().find(|(n, _)| *n == name) {
            return Some(words.clone());
        }
        limits
            .get(name)
            .map(|n| with_unit(name, *n))
            .or_else(|| of_figure(given, name))
            .or_else(|| of_field(given, name))
    };
    let mut out = String::new();
    let mut rest = text;
    while let Some(open) = rest.find(['[', '{']) {
        out.push_str(&rest[..open]);
        let optional = rest[open..].starts_with('[');
        let close = rest[open..].find(if optional { ']' } else { '}' });
        let Some(end) = close.map(|c| open + c) else { break };
        let inner = &rest[open + 1..end];
        if optional {
            out.push_str(&whole(inner, &value).unwrap_or_default());
        } else {
            out.push_str(&value(inner).unwrap_or_else(|| "not on record".to_owned()));
        }
        rest = &rest[end + 1..];
    }
    out.push_str(rest);
    out
}

/// A piece whose values are all there.
fn whole(text: &str, value: &dyn Fn(&str) -> Option<String>) -> Option<String> {
    let mut out = String::new();
    let mut rest = text;
    while let Some(open) = rest.find('{') {
        let end = open + rest[open..].find('}')?;
        out.push_str(&rest[..open]);
        out.push_str(&value(&rest[open + 1..end])?);
        rest = &rest[end + 1..];
    }
    out.push_str(rest);
    Some(out)
}

fn with_unit(name: &str, n: Num) -> String {
    let unit = UNITS.iter().find(|(end, _)| name.ends_with(end)).map_or("", |u| u.1);
    format!("{n}{unit}")
}

fn of_figure(given: &Given, name: &str) -> Option<String> {
    if name.contains('.') || !is_figure(name) {
        return None;
    }
    let figures = figures_named(given, name);
    let def = figures.first()?.def;
    let unit = match def.unit {
        "" => String::new(),
        unit => format!(" {unit}"),
    };
    let shown: Vec<Option<String>> =
        figures.iter().map(|f| f.value.as_ref().ok().map(|x| format!("{x:.*}", def.decimals))).collect();
    match shown.as_slice() {
        [one] => one.as_ref().map(|x| format!("{x}{unit}")),
        [Some(l), Some(r)] if l == r => Some(format!("{l}{unit}")),
        [Some(l), Some(r)] => Some(format!("{l} left, {r} right{unit}")),
        [Some(l), None] => Some(format!("{l} left{unit}")),
        [None, Some(r)] => Some(format!("{r} right{unit}")),
        _ => None,
    }
}

fn of_field(given: &Given, path: &str) -> Option<String> {
    let (field, slot) = given.schema.locate(path)?;
    let value = given.sheet.get(&field.key)?;
    let said = match slot {
        Some(i) => show(given.schema, field, Some(i), value.slot(i)?),
        None => show_doubting(given.schema, field, value, given.sheet.doubt(&field.key)),
    };
    // What is no fact does not pass for one.
    let stale = given.stale_of(&field.key).is_some();
    Some(if stale { format!("{said}, stale") } else { said })
}
