//! `car.toml`: the car's identity, its owners over time, the fields of its own.

use super::part::{self, Part};
use super::revert::areas;
use super::{Error, Result};
use crate::schema::{CarRules, Field, NeedsBelow, Problem, Schema, same_name, schema, toml_string};
use serde::Deserialize;
use std::borrow::Cow;

/// The longest name of a car, in characters.
pub const LONGEST_NAME: usize = 40;

/// A car.
#[derive(Debug, Clone, PartialEq)]
pub struct Car {
    /// The racer's own name for it.
    pub name: String,
    /// Id of its chassis template.
    pub template: String,
    /// The class it runs in, as the racer puts it.
    pub class: Option<String>,
    /// Owners, oldest first.
    pub owners: Vec<Owner>,
    /// Fields of its own.
    pub fields: Vec<Field>,
    /// Parts with a name of their own.
    pub parts: Vec<Part>,
    /// Keys of fields, or headings of the sheet, that are nobody else's business.
    pub private: Vec<String>,
    /// Rules of its own, and what it wants of the built-in ones.
    pub rules: CarRules,
}

/// An owner.
#[derive(Debug, Clone, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Owner {
    /// Name.
    pub name: String,
    /// Since when: a TOML date.
    pub since: Option<toml::value::Datetime>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct CarToml {
    format: u32,
    name: String,
    template: String,
    class: Option<String>,
    #[serde(default)]
    private: Vec<String>,
    #[serde(default)]
    owner: Vec<Owner>,
    #[serde(default)]
    field: Vec<Field>,
    /// Read by `part.rs`, which names every fault with its place.
    part: Option<serde::de::IgnoredAny>,
    #[serde(default)]
    rule: Vec<toml::Table>,
    #[serde(default)]
    needs_below: Vec<NeedsBelow>,
}

impl Car {
    /// Reads `car.toml`; `file` names it in errors.
    pub fn read(file: &str, text: &str) -> Result<Car> {
        Ok(Car::read_with_schema(file, text)?.0)
    }

    /// The same, with the schema it is read by: [`Car::schema`].
    pub fn read_with_schema(file: &str, text: &str) -> Result<(Car, Cow<'static, Schema>)> {
        let wrong =
            |problem: Problem| Error::Text { name: file.to_owned(), text: text.to_owned(), problems: vec![problem] };
        let raw: CarToml = toml::from_str(text).map_err(|e| wrong(Problem::at(e.span(), e.message().to_owned())))?;
        if raw.format != 1 {
            return Err(wrong(Problem::at(None, "this file's `format` is not 1").help("a newer slipbook may read it")));
        }
        let span = |needle: &str| text.find(needle).map(|i| i..i + needle.len());
        if schema().template(&raw.template).is_none() {
            let all: Vec<&str> = schema().templates.iter().map(|t| t.id.as_str()).collect();
            let problem = Problem::at(span(&raw.template), format!("there is no template `{}`", raw.template));
            return Err(wrong(problem.help(all.join(", "))));
        }
        if raw.name.trim().is_empty()
            || raw.name.chars().count() > LONGEST_NAME
            || raw.name.chars().any(char::is_control)
        {
            return Err(wrong(Problem::at(
                span("name"),
                format!("a car's name is 1 to {LONGEST_NAME} characters on one line"),
            )));
        }
        let rules = match (raw.rule.is_empty(), raw.needs_below.is_empty()) {
            (true, true) => CarRules::default(),
            _ => CarRules::read(raw.rule, raw.needs_below).map_err(|why| {
                let id = why.split(['`', ' ', ':']).find(|w| w.starts_with("own.") && w.len() > 4);
                wrong(Problem::at(id.and_then(span).or_else(|| span("[[rule]]")), why))
            })?,
        };
        let mut car = Car {
            rules,
            name: raw.name,
            template: raw.template,
            class: raw.class,
            owners: raw.owner,
            private: raw.private,
            fields: raw.field,
            parts: Vec::new(),
        };
        let mut schema = car.schema().map_err(|why| wrong(Problem::at(span("[[field]]"), why)))?;
        let known = |p: &&String| schema.field(p).is_some() || areas(&schema).contains(&p.to_lowercase());
        if let Some(named) = car.private.iter().find(|p| !known(p)) {
            let problem = Problem::at(span(named), format!("`{named}` is no field and no heading of the sheet"));
            return Err(wrong(problem.help("private = [\"engine\", \"launch.rpm\"]")));
        }
        if raw.part.is_some() {
            let read = part::read(&schema, car.chassis(), text);
            car.parts =
                read.map_err(|problems| Error::Text { name: file.to_owned(), text: text.to_owned(), problems })?;
            schema = Cow::Owned(schema.into_owned().with_part_names(car.part_names()));
        }
        Ok((car, schema))
    }

    /// The schema with this car's own fields and the names of its parts; the error says which field is wrong.
    pub fn schema(&self) -> std::result::Result<Cow<'static, Schema>, String> {
        if self.fields.is_empty() && self.parts.is_empty() {
            return Ok(Cow::Borrowed(schema()));
        }
        Ok(Cow::Owned(schema().with_own(self.fields.clone())?.with_part_names(self.part_names())))
    }

    fn part_names(&self) -> impl Iterator<Item = (&str, &str)> {
        self.parts.iter().map(|p| (p.kind.as_str(), p.name.as_str()))
    }

    /// The part of a kind called so.
    pub fn part(&self, kind: &str, name: &str) -> Option<&Part> {
        self.parts.iter().find(|p| p.kind == kind && same_name(&p.name, name))
    }

    /// Chassis kinds: one of the front, one of the rear.
    pub fn chassis(&self) -> &[String] {
        schema().template(&self.template).map_or(&[], |t| &t.chassis)
    }

    /// The text of a new car's file.
    pub fn new_text(
        name: &str,
        template: &str,
        class: Option<&str>,
        owner: Option<(&str, jiff::civil::Date)>,
    ) -> String {
        let quoted = |t: &str| toml_string(t).trim().to_owned();
        let mut out = format!("{CAR_HEADER}\nformat = 1\nname = {}\ntemplate = \"{template}\"\n", quoted(name));
        if let Some(class) = class {
            out.push_str(&format!("class = {}\n", quoted(class)));
        }
        if let Some((owner, since)) = owner {
            out.push_str(&format!("\n[[owner]]\nname = {}\nsince = {since}\n", quoted(owner)));
        }
        out
    }
}

/// Tells an editor with a TOML language server which schema holds for the file.
pub const CAR_HEADER: &str = "#:schema ../.schema/car.schema.json";

/// The header of a sheet.
pub fn sheet_header() -> Vec<String> {
    vec![
        "#:schema ../.schema/setup.schema.json".to_owned(),
        "# The setup sheet: what is on the car now. Edit by hand if you like, then: slipbook sheet --save".to_owned(),
    ]
}

/// The header of a day file.
pub fn day_header() -> Vec<String> {
    vec!["#:schema ../../../.schema/day.schema.json".to_owned()]
}
