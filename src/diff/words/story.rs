//! Two sheets and the schema: finds the template of a situation and fills it in.

use super::names::{Names, is_many, plural};
use super::template::render;
use super::{numbers, show};
use crate::schema::{Field, Num, Scalar, Schema, Sheet, Value, about};
use std::collections::BTreeMap;

/// Values of a sentence by the name a template gives them.
pub(super) type Vars = BTreeMap<&'static str, String>;

/// One sentence.
#[derive(Debug, Clone, Default)]
pub(super) struct Said {
    pub text: String,
    pub brief: String,
    /// Fields whose values are told in it.
    pub used: Vec<String>,
    /// From a template of the field's own.
    pub special: bool,
}

/// Whom a sentence is about.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Who {
    /// The only one.
    One,
    /// One of several.
    Side(usize),
    /// Both of a pair, alike.
    Both,
    /// Several, not alike.
    Spread,
}

/// What sentences are made from.
#[derive(Clone, Copy)]
pub(super) struct Story<'a> {
    pub schema: &'a Schema,
    pub old: &'a Sheet,
    pub new: &'a Sheet,
}

impl Story<'_> {
    /// The sentence for the first of these situations that has a template whose values are all there.
    pub(super) fn say(&self, field: &Field, situations: &[&str], briefs: &[&str], vars: &Vars) -> Option<Said> {
        let kind = self.schema.kind(field);
        for (i, source) in [&field.tell, &kind.tell, &self.schema.tell].into_iter().enumerate() {
            for situation in situations {
                let mut used = Vec::new();
                let Some(text) = source.get(*situation).and_then(|t| self.fill(field, t, vars, &mut used)) else {
                    continue;
                };
                let own = format!("brief_{situation}");
                let wanted: Vec<&str> = std::iter::once(own.as_str()).chain(briefs.iter().copied()).collect();
                // What is special in words is special when short.
                let sources =
                    if i == 0 { &[&field.tell][..] } else { &[&field.tell, &kind.tell, &self.schema.tell][..] };
                let short = wanted.iter().find_map(|w| {
                    let template = sources.iter().find_map(|s| s.get(*w))?;
                    self.fill(field, template, &shorter(vars), &mut Vec::new())
                });
                let cuts: &[&str] = match *situation {
                    "swap" => &[": "],
                    "fitted" | "removed" => &[", "],
                    _ => &[],
                };
                let brief = short.unwrap_or_else(|| super::subject::shorten(&text, cuts));
                return Some(Said { text, brief, used, special: i == 0 });
            }
        }
        None
    }

    fn fill(&self, field: &Field, template: &str, vars: &Vars, used: &mut Vec<String>) -> Option<String> {
        render(template, &mut |name| match vars.get(name) {
            Some(value) => Some(value.clone()),
            // A word of the field's own: "off the ground".
            None => field.tell.get(name).cloned().or_else(|| self.path(name, used)),
        })
    }

    /// `{key}`, `{key|old}`, `{key|n}` ...: a value of the sheets (schema/README.md, `tell`).
    pub(super) fn path(&self, expr: &str, used: &mut Vec<String>) -> Option<String> {
        let (path, parts) = expr.split_once('|').unwrap_or((expr, ""));
        let (field, slot) = self.schema.locate(path)?;
        let mut sheet = self.new;
        let mut bare = false;
        let mut told = None;
        for part in parts.split('|').filter(|p| !p.is_empty()) {
            match part {
                "old" => sheet = self.old,
                "bare" => bare = true,
                other => told = Some(other),
            }
        }
        let value = sheet.get(&field.key)?;
        let unsure = sheet.is_doubtful(&field.key, slot);
        let text = match (told, slot) {
            (Some(told), _) => match told.strip_prefix("share:") {
                Some(slots) => self.share(field, value, slots)?,
                None => self.moved(path, field, slot, told)?,
            },
            (None, Some(i)) if bare => about(show::bare(self.schema, field, Some(i), value.slot(i)?), unsure),
            (None, Some(i)) => about(show::show(self.schema, field, Some(i), value.slot(i)?), unsure),
            (None, None) if bare => about(show::bare(self.schema, field, None, value.shared()?), unsure),
            (None, None) => show::show_doubting(self.schema, field, value, sheet.doubt(&field.key)),
        };
        used.push(field.key.clone());
        Some(text)
    }

    /// The share of some slots in all: `lf+rf`. Missing when a slot is, when one is in doubt, and when only some were
    /// taken anew: the others are of another day.
    fn share(&self, field: &Field, value: &Value, slots: &str) -> Option<String> {
        let old = self.old.get(&field.key);
        let kept = |i: usize| old.is_some_and(|o| o.slot(i).is_some() && o.slot(i) == value.slot(i));
        let anew = old == Some(value) || !(0..field.slots.len()).any(kept);
        if !anew || self.new.is_doubtful(&field.key, None) {
            return None;
        }
        let at = |i: usize| value.slot(i).and_then(Scalar::num);
        let sum = |numbers: Vec<Option<Num>>| numbers.into_iter().try_fold(Num::ZERO, |sum, n| Some(sum + n?));
        let all = sum((0..field.slots.len()).map(at).collect())?;
        let part = sum(slots.split('+').map(|id| field.slot_index(id).and_then(at)).collect())?;
        numbers::percent(part, all)
    }

    /// A part of the step of a number between the sheets.
    fn moved(&self, path: &str, field: &Field, slot: Option<usize>, part: &str) -> Option<String> {
        let (a, b) = (self.schema.num_at(self.old, path)?, self.schema.num_at(self.new, path)?);
        if a == b {
            return None;
        }
        let vars = self.step(field, slot, a, b);
        match part {
            "more" => Some(format!("{} {}", vars.get("n_unit")?, if b > a { "more" } else { "less" })),
            part => vars.get(part).cloned(),
        }
    }

    /// The names a sentence about `who` may use.
    pub(super) fn base(&self, field: &Field, names: &Names, who: Who) -> Vars {
        let kind = self.schema.kind(field);
        let (name, record) = match who {
            Who::One => (names.one.clone(), names.record.clone()),
            Who::Side(i) => (names.side(field, i), names.record_side(field, i)),
            Who::Both if kind.both => (names.both.clone(), names.record_both.clone()),
            Who::Both => (names.pair.clone(), names.record_both.clone()),
            Who::Spread => (names.pair.clone(), names.record_pair.clone()),
        };
        let mut vars = Vars::new();
        if let Who::Side(i) = who {
            vars.insert("where", names.place(field, i));
            vars.insert("side", show::label(field, i).to_owned());
            if field.slots.len() == 2 {
                vars.insert("other", show::label(field, 1 - i.min(1)).to_owned());
            }
            let of = field.tell.get("of").map(|of| format!("{} {of}", show::label(field, i)));
            vars.insert("side_of", of.unwrap_or_else(|| name.clone()));
        }
        let many = is_many(&name);
        // Where the pair has one name, each of the two is still both.
        let short = if who == Who::Both { names.pair.clone() } else { name.clone() };
        vars.insert("brief_name", short);
        vars.insert("was", if many { "were" } else { "was" }.to_owned());
        vars.insert("record_was", if is_many(&record) { "were" } else { "was" }.to_owned());
        vars.insert("s", if many { "" } else { "s" }.to_owned());
        vars.insert("each", if who == Who::Both { names.both.clone() } else { name.clone() });
        vars.insert("each_of", field.tell.get("of").map_or(names.pair.clone(), |of| plural(of)));
        vars.insert("name", name);
        vars.insert("record", record);
        vars.insert("thing", names.thing.clone());
        vars.insert("pair", names.pair.clone());
        vars.insert("both", names.both.clone());
        vars.insert("records", names.record_pair.clone());
        vars.insert("boths", names.record_both.clone());
        vars.insert("head", names.head(field));
        for (name, text) in [("on", &field.noun.on), ("at", &field.noun.at), ("end", &field.noun.end)] {
            if let Some(text) = text {
                vars.insert(name, text.clone());
            }
        }
        vars
    }
}

fn shorter(vars: &Vars) -> Vars {
    let mut vars = vars.clone();
    if let Some(name) = vars.get("brief_name").cloned() {
        vars.insert("name", name);
    }
    vars
}
