//! The whole schema: areas, fields, kinds, units, templates and fixed words, read once from the embedded data.

use super::data::parse;
use super::embedded::{FIELD_FILES, KINDS, PARTS, RUN, TEMPLATES, TOGETHER, UNITS};
use super::run_words::RunWords;
use super::{Field, Limit, Num, Role, Sheet, Units};
use serde::Deserialize;
use std::collections::{BTreeMap, HashMap};
use std::sync::OnceLock;

/// A kind of field and its words (`schema/kinds.toml`).
#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Kind {
    /// `height`, `clicks`.
    pub id: String,
    /// Told when the value grew.
    pub more: String,
    /// Told when it fell.
    pub less: String,
    /// Short form of `more` in a list of clauses.
    pub short_more: Option<String>,
    /// Short form of `less`.
    pub short_less: Option<String>,
    /// Which way a hand turns it for more, where none of the above says it.
    pub hand_more: Option<String>,
    /// Which way for less.
    pub hand_less: Option<String>,
    /// A pair changed alike is told with "both".
    #[serde(default)]
    pub both: bool,
    /// Numbers are told without their unit.
    #[serde(default)]
    pub bare: bool,
    /// Typed for more.
    #[serde(default)]
    pub up: Vec<String>,
    /// Typed for less.
    #[serde(default)]
    pub down: Vec<String>,
    /// A number with a direction word is a reading with a sign, not a step.
    #[serde(default)]
    pub signed: bool,
    /// A direction before a number, or a number without one, could mean two things and is asked about.
    #[serde(default)]
    pub asks_order: bool,
    /// Small whole counts are spelled: "one hole".
    #[serde(default)]
    pub spelled: bool,
    /// Told in halves, quarters ... sixty-fourths where the number is one.
    #[serde(default)]
    pub fractions: bool,
    /// What a value above zero is called: "right", "toe-in".
    pub plus: Option<String>,
    /// What a value below zero is called.
    pub minus: Option<String>,
    /// Sentences by situation (schema/README.md, `tell`).
    #[serde(default)]
    pub tell: BTreeMap<String, String>,
}

/// How the steps of a sentence over several fields must stand to each other.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Deserialize)]
pub enum When {
    /// As they come.
    #[default]
    #[serde(rename = "any")]
    Any,
    /// Alike in size and direction.
    #[serde(rename = "same step")]
    SameStep,
    /// In opposite directions.
    #[serde(rename = "opposite")]
    Opposite,
}

/// A sentence over two or more fields that changed together (`schema/together.toml`).
#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Together {
    /// All of these changed; `{1|new}` in the sentence is the first of them.
    pub fields: Vec<String>,
    /// How their steps must stand to each other.
    #[serde(default)]
    pub when: When,
    /// The sentence.
    pub tell: String,
    /// Its short form, where cutting off the parenthesis is not it.
    pub brief: Option<String>,
}

/// A heading of the sheet.
#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Area {
    /// Heading on the sheet.
    pub title: String,
    /// Heading in a diff: weight, front, rear, driveline, launch, engine, body, note.
    pub group: String,
}

/// A chassis template: which front and rear a car has.
#[derive(Debug, Clone, Deserialize)]
pub struct Template {
    /// `leaf-torsion`.
    pub id: String,
    /// What it is called.
    pub title: String,
    /// Chassis kinds: one of the front, one of the rear.
    pub chassis: Vec<String>,
    /// Which car it is for.
    #[serde(default)]
    pub help: String,
}

/// All definitions.
#[derive(Debug, Clone)]
pub struct Schema {
    /// In the order of the sheet.
    pub areas: Vec<Area>,
    /// In the order of the sheet.
    pub fields: Vec<Field>,
    /// Units and conversions.
    pub units: Units,
    /// Kinds and their words.
    pub kinds: Vec<Kind>,
    /// Chassis templates.
    pub templates: Vec<Template>,
    /// Fixed words of a run.
    pub run: RunWords,
    /// Sentences of every kind that has none of its own, by situation.
    pub tell: BTreeMap<String, String>,
    /// Sentences over several fields; the first that fits is told.
    pub together: Vec<Together>,
    /// Limits a part's maker may give.
    pub limits: Vec<Limit>,
    index: HashMap<String, usize>,
}

#[derive(Deserialize)]
struct FieldFile {
    area: Area,
    #[serde(default)]
    field: Vec<Field>,
}

#[derive(Deserialize)]
struct Kinds {
    kind: Vec<Kind>,
    #[serde(default)]
    tell: BTreeMap<String, String>,
}

#[derive(Deserialize)]
struct TogetherFile {
    #[serde(default)]
    together: Vec<Together>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct PartsFile {
    limit: Vec<Limit>,
}

/// The built-in schema (without a book's own fields).
pub fn schema() -> &'static Schema {
    static SCHEMA: OnceLock<Schema> = OnceLock::new();
    SCHEMA.get_or_init(|| match Schema::load() {
        Ok(schema) => schema,
        // The data is part of the program and a test reads all of it: failing here is a build that was never tested.
        Err(problem) => panic!("the built-in schema is damaged: {problem}"),
    })
}

impl Schema {
    fn load() -> Result<Schema, String> {
        let kinds: Kinds = parse("kinds.toml", KINDS)?;
        let together: TogetherFile = parse("together.toml", TOGETHER)?;
        let parts: PartsFile = parse("parts.toml", PARTS)?;
        let mut schema = Schema {
            tell: kinds.tell,
            together: together.together,
            limits: parts.limit,
            areas: Vec::new(),
            fields: Vec::new(),
            units: parse("units.toml", UNITS)?,
            kinds: kinds.kind,
            templates: TEMPLATES.iter().map(|(name, text)| parse(name, text)).collect::<Result<_, _>>()?,
            run: parse("run.toml", RUN)?,
            index: HashMap::new(),
        };
        for (name, text) in FIELD_FILES {
            let file: FieldFile = parse(name, text)?;
            schema.add(file.area, file.field)?;
        }
        Ok(schema)
    }

    fn add(&mut self, area: Area, fields: Vec<Field>) -> Result<(), String> {
        for mut field in fields {
            field.finish(&area.title, &area.group)?;
            if self.index.insert(field.key.clone(), self.fields.len()).is_some() {
                return Err(format!("{} is defined twice", field.key));
            }
            if !self.kinds.iter().any(|k| k.id == field.kind) {
                return Err(format!("{}: there is no kind `{}`", field.key, field.kind));
            }
            if let Some(unit) = field.unit.as_deref().filter(|u| self.units.get(u).is_none()) {
                return Err(format!("{}: there is no unit `{unit}`", field.key));
            }
            self.fields.push(field);
        }
        self.areas.push(area);
        Ok(())
    }

    /// Every key a definition names is a field. The built-in data is checked by a test, not at every start.
    fn check(&self) -> Result<(), String> {
        for f in &self.fields {
            let turns = f.turn.iter().flat_map(|t| [&t.threads, &t.spacing, &t.per_turn].into_iter().flatten());
            let named = turns.chain(&f.moves).chain(&f.part).chain(&f.follows).map(String::as_str);
            if let Some(key) = named.chain(f.applies.keys()).find(|k| self.locate(k).is_none()) {
                return Err(format!("{}: `{key}` is no field", f.key));
            }
        }
        for t in &self.together {
            if t.fields.len() < 2 || t.fields.iter().any(|k| self.field(k).is_none()) {
                return Err(format!("together.toml: {:?} are not two fields or more", t.fields));
            }
        }
        self.check_parts()
    }

    /// This schema with a book's own fields added; the error says which field is wrong and how.
    pub fn with_own(&self, own: Vec<Field>) -> Result<Schema, String> {
        if own.is_empty() {
            return Ok(self.clone());
        }
        if let Some(f) = own.iter().find(|f| !f.key.starts_with("own.") || f.key.matches('.').count() != 1) {
            return Err(format!("{}: the key of a field of your own is `own.` and one name", f.key));
        }
        let mut schema = self.clone();
        schema.add(Area { title: "Own fields".to_owned(), group: "own".to_owned() }, own)?;
        schema.check()?;
        Ok(schema)
    }

    /// Only the fields that `keep` wants, in their order.
    pub(super) fn only(&self, keep: impl Fn(&Field) -> bool) -> Schema {
        let mut out = self.clone();
        out.fields.retain(keep);
        out.index = out.fields.iter().enumerate().map(|(i, f)| (f.key.clone(), i)).collect();
        out
    }

    /// The field with this key.
    pub fn field(&self, key: &str) -> Option<&Field> {
        self.index.get(key).map(|i| &self.fields[*i])
    }

    /// The field, and the slot of it, that a dotted path names: `rear.tire.pressure.left`.
    pub fn locate(&self, path: &str) -> Option<(&Field, Option<usize>)> {
        if let Some(field) = self.field(path) {
            return Some((field, None));
        }
        let (key, slot) = path.rsplit_once('.')?;
        let field = self.field(key)?;
        Some((field, Some(field.slot_index(slot)?)))
    }

    /// The dotted path of a field, or of a slot of it: what `locate` reads.
    pub fn path(&self, field: &Field, slot: Option<usize>) -> String {
        match slot.and_then(|i| field.slot_list().get(i)) {
            Some(slot) => format!("{}.{}", field.key, slot.id),
            None => field.key.clone(),
        }
    }

    /// The number at a dotted path: of a single-valued field, of one slot, or of a pair that is alike. `None` where it is
    /// in doubt: what is computed from it would pass for a fact.
    pub fn num_at(&self, sheet: &Sheet, path: &str) -> Option<Num> {
        let (field, slot) = self.locate(path)?;
        let value = sheet.get(&field.key).filter(|_| !sheet.is_doubtful(&field.key, slot))?;
        slot.map_or_else(|| value.shared(), |i| value.slot(i))?.num()
    }

    /// The label without its explanation, as far as that tells it from every other field: "rear shock length, extended".
    pub fn label_apart(&self, field: &Field) -> String {
        let short = super::short_label(&field.label);
        let shared =
            |f: &Field| f.label.starts_with(short) && f.key != field.key && super::short_label(&f.label) == short;
        let shared = self.fields.iter().any(shared);
        if !shared {
            return short.to_owned();
        }
        field.label.split('(').next().unwrap_or(&field.label).trim().to_owned()
    }

    /// Whether a setting that is on the sheet moves this field.
    pub fn is_moved(&self, sheet: &Sheet, key: &str) -> bool {
        let set = self.fields.iter().filter(|f| f.role == Role::Set && sheet.get(&f.key).is_some());
        set.flat_map(|f| &f.moves).any(|m| self.locate(m).is_some_and(|(moved, _)| moved.key == key))
    }

    /// Its place on the sheet.
    pub fn order(&self, key: &str) -> usize {
        self.index.get(key).copied().unwrap_or(usize::MAX)
    }

    /// The kind of a field.
    pub fn kind(&self, field: &Field) -> &Kind {
        // `add` refuses a field of an unknown kind.
        self.kinds.iter().find(|k| k.id == field.kind).unwrap_or(&self.kinds[0])
    }

    /// The template called `id`.
    pub fn template(&self, id: &str) -> Option<&Template> {
        self.templates.iter().find(|t| t.id == id)
    }

    /// Fields whose condition hangs on `parent`.
    pub fn dependents<'a>(&'a self, parent: &'a str) -> impl Iterator<Item = &'a Field> {
        self.fields.iter().filter(move |f| f.applies.keys().any(|k| k == parent))
    }

    /// Drops every value whose field does not apply on this sheet; returns the keys dropped.
    pub fn settle(&self, sheet: &mut Sheet) -> Vec<String> {
        let mut dropped = Vec::new();
        loop {
            let gone = self.fields.iter().find(|f| sheet.get(&f.key).is_some() && !f.applies.holds(sheet));
            let Some(field) = gone else { return dropped };
            sheet.remove(&field.key);
            dropped.push(field.key.clone());
        }
    }

    /// Definitions whose key, label, help, short names or choices hold every word of `text`, in sheet order.
    pub fn search(&self, text: &str) -> Vec<&Field> {
        let words: Vec<String> = text.split_whitespace().map(str::to_lowercase).collect();
        let hit = |f: &&Field| {
            let all = [&f.key, &f.label, &f.help, &f.area].into_iter().chain(&f.says).chain(&f.choices);
            let hay = all.map(|s| s.to_lowercase()).collect::<Vec<_>>().join("\n");
            words.iter().all(|w| hay.contains(w.as_str()))
        };
        self.fields.iter().filter(hit).collect()
    }

    /// Up to `n` keys nearest to what was typed.
    pub fn nearest<'a>(&'a self, typed: &str, n: usize) -> Vec<&'a str> {
        super::near::nearest(typed, self.fields.iter().map(|f| f.key.as_str()), n)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_built_in_data_is_whole() {
        let s = schema();
        assert_eq!(s.check(), Ok(()));
        assert!(s.fields.len() > 150, "{} fields", s.fields.len());
        for f in &s.fields {
            assert!(!f.help.is_empty() && !f.label.is_empty(), "{} lacks its help or label", f.key);
            if let (Some(u), Some(p)) = (f.usual, f.possible) {
                assert!(p[0] <= u[0] && u[1] <= p[1] && u[0] < u[1], "{}: usual within possible", f.key);
            }
        }
    }

    #[test]
    fn search_finds_by_label_key_and_help() {
        assert!(schema().search("limiter height").iter().any(|f| f.key == "rear.limiter.height"));
        assert!(schema().search("no such thing at all").is_empty());
    }
}
