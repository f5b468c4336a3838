//! The `[[part]]` tables of `car.toml`: parts with a name of one's own, read strictly, written so that comments stay.

use crate::schema::{Field, Limit, Num, Problem, Role, Schema, Sheet, read_values, same_name};
use jiff::civil::Date;
use std::ops::Range;
use toml_edit::{Document, Item, Table, TableLike, Value as Toml};

/// A part.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Part {
    /// The racer's own name for it: "pair B".
    pub name: String,
    /// What it is: the key of the field that names such a part on the sheet.
    pub kind: String,
    /// Passes that were on it when it came.
    pub came_with_passes: Option<u32>,
    /// Limits as its maker gives them, by the name of the limit.
    pub limits: Vec<(String, Num)>,
    /// What describes it, by the keys of the sheet. While it is fitted the sheet itself holds them.
    pub values: Sheet,
    /// Whether it goes with the car when that is sold.
    pub goes_with: Option<bool>,
    /// It is no longer there.
    pub gone: Option<Gone>,
    /// Words beside it.
    pub note: Option<String>,
}

/// A part that is no longer there.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Gone {
    /// Since when.
    pub on: Date,
    /// How: "sold", "scrapped".
    pub how: Option<String>,
}

impl Gone {
    /// "sold Jul 05", "gone Jul 05".
    pub fn words(&self, year: Option<i16>) -> String {
        let day = crate::slip::Moment::day_words(self.on, year);
        format!("{} {day}", self.how.as_deref().unwrap_or("gone"))
    }
}

/// The most parts a car has.
const MOST_PARTS: usize = 500;
/// The longest name, in characters.
pub const LONGEST_NAME: usize = 60;
/// The longest words beside a part, in characters.
const LONGEST_NOTE: usize = 2000;
/// The most passes a part can have come with.
pub(super) const MOST_PASSES: i64 = 100_000;

/// What is wrong with a name for a part; `None` = nothing.
pub fn name_fault(name: &str) -> Option<&'static str> {
    let long = name.chars().count() > LONGEST_NAME || name.trim().is_empty();
    if long || name.chars().any(char::is_control) {
        return Some("a part's name is 1 to 60 characters on one line");
    }
    Num::parse(name).is_some().then_some("a part's name is more than a number: it would be read as a value")
}

/// Reads the parts of a `car.toml`; all that is wrong is the error.
pub fn read(schema: &Schema, chassis: &[String], text: &str) -> std::result::Result<Vec<Part>, Vec<Problem>> {
    let doc = Document::parse(text).map_err(|e| vec![Problem::at(e.span(), e.message().to_owned())])?;
    let Some(item) = doc.get("part") else { return Ok(Vec::new()) };
    let Some(tables) = item.as_array_of_tables() else {
        let problem = Problem::at(item.span(), "parts stand under lines [[part]]");
        return Err(vec![problem.help("[[part]], then name = \"pair B\" and kind = \"rear.tire.name\"")]);
    };
    let mut reader = Reader { schema, chassis, problems: Vec::new() };
    let mut out: Vec<Part> = Vec::new();
    if tables.len() > MOST_PARTS {
        reader.wrong(item.span(), format!("{} parts; {MOST_PARTS} at most", tables.len()), "take some out");
        return Err(reader.problems);
    }
    for table in tables {
        let part = reader.part(table);
        let twice = out.iter().any(|p| p.kind == part.kind && same_name(&p.name, &part.name));
        if twice && !part.name.is_empty() {
            let message = format!("\"{}\" is there twice", part.name);
            reader.wrong(span_of(table, "name"), message, "two parts of a kind have two names");
        }
        out.push(part);
    }
    if reader.problems.is_empty() { Ok(out) } else { Err(reader.problems) }
}

fn span_of(table: &Table, key: &str) -> Option<Range<usize>> {
    table.get(key).and_then(Item::span).or_else(|| table.span())
}

struct Reader<'a> {
    schema: &'a Schema,
    chassis: &'a [String],
    problems: Vec<Problem>,
}

const KEYS: &str = "name, kind, came_with_passes, goes_with, gone, gone_how, note, [part.limits], [part.values]";

impl Reader<'_> {
    fn wrong(&mut self, span: Option<Range<usize>>, message: impl Into<String>, help: impl Into<String>) {
        self.problems.push(Problem::at(span, message).help(help));
    }

    fn part(&mut self, table: &Table) -> Part {
        let mut part = Part::default();
        for needed in ["name", "kind"] {
            if !table.contains_key(needed) {
                self.wrong(table.span(), format!("this part has no `{needed}`"), format!("it has {KEYS}"));
            }
        }
        let kind = table.get("kind").and_then(Item::as_str);
        let kind = kind.and_then(|k| self.schema.field(k)).filter(|f| self.is_kind(f));
        if let (None, Some(item)) = (kind, table.get("kind")) {
            let all: Vec<&str> = self.schema.part_kinds().filter(|f| self.is_kind(f)).map(|f| f.key.as_str()).collect();
            let said = item.as_str().unwrap_or("this");
            self.wrong(item.span(), format!("`{said}` is no kind of part of this car"), all.join(", "));
        }
        part.kind = kind.map(|f| f.key.clone()).unwrap_or_default();
        for (key, item) in table.iter() {
            let span = span_of(table, key);
            match key {
                "kind" => {}
                "name" => part.name = self.text(item, LONGEST_NAME, key).unwrap_or_default(),
                "note" => part.note = self.text(item, LONGEST_NOTE, key),
                "gone_how" => drop(self.text(item, LONGEST_NAME, key)),
                "goes_with" => match item.as_bool() {
                    Some(goes) => part.goes_with = Some(goes),
                    None => self.wrong(span, "`goes_with` is true or false", "true: it is sold with the car"),
                },
                "came_with_passes" => match item.as_integer().filter(|n| (0..=MOST_PASSES).contains(n)) {
                    Some(n) => part.came_with_passes = u32::try_from(n).ok(),
                    None => self.wrong(span, "`came_with_passes` is a whole number", "0 for a new part"),
                },
                "gone" => match item.as_datetime().and_then(date_of) {
                    Some(on) => part.gone = Some(Gone { on, how: None }),
                    None => self.wrong(span, "`gone` is a date", "gone = 2026-07-05"),
                },
                "limits" => self.limits(&mut part, kind, item),
                "values" => self.values(&mut part, kind, item),
                other => self.wrong(span, format!("`{other}` is nothing of a part"), format!("it has {KEYS}")),
            }
        }
        match (&mut part.gone, table.get("gone_how")) {
            (Some(gone), Some(how)) => gone.how = how.as_str().map(|h| h.trim().to_owned()).filter(|h| !h.is_empty()),
            (None, Some(how)) => self.wrong(how.span(), "`gone_how` needs `gone`", "gone = 2026-07-05"),
            _ => {}
        }
        if let Some(fault) = name_fault(&part.name).filter(|_| table.get("name").is_some_and(Item::is_str)) {
            self.wrong(span_of(table, "name"), fault, "name = \"pair B\"");
        }
        part
    }

    fn is_kind(&self, field: &Field) -> bool {
        self.schema.part_kinds().any(|f| f.key == field.key) && field.on_chassis(self.chassis)
    }

    fn text(&mut self, item: &Item, longest: usize, key: &str) -> Option<String> {
        match item.as_str() {
            Some(text) if text.chars().count() <= longest => Some(text.to_owned()),
            Some(_) => {
                self.wrong(item.span(), format!("`{key}` is longer than {longest} characters"), "say it shorter");
                None
            }
            None => {
                self.wrong(item.span(), format!("`{key}` is a text"), format!("{key} = \"...\""));
                None
            }
        }
    }

    fn limits(&mut self, part: &mut Part, kind: Option<&Field>, item: &Item) {
        let (Some(kind), Some(table)) = (kind, item.as_table_like()) else {
            if kind.is_some() {
                self.wrong(item.span(), "limits stand under a line [part.limits]", "least_pressure = 11");
            }
            return;
        };
        for (name, item) in table.iter() {
            let Some(limit) = self.schema.part_limits(&kind.key).find(|l| l.name == name) else {
                let all: Vec<&str> = self.schema.part_limits(&kind.key).map(|l| l.name.as_str()).collect();
                let help = if all.is_empty() { "no limits are kept of it".to_owned() } else { all.join(", ") };
                let message = format!("`{name}` is no limit of {}", self.schema.part_words(kind));
                self.wrong(item.span(), message, help);
                continue;
            };
            match limit_number(self.schema, limit, item) {
                Ok(n) => part.limits.push((name.to_owned(), n)),
                Err(why) => self.wrong(item.span(), format!("`{name}`: {why}"), "the number its maker gives"),
            }
        }
    }

    fn values(&mut self, part: &mut Part, kind: Option<&Field>, item: &Item) {
        let (Some(kind), Some(table)) = (kind, item.as_table_like()) else {
            if kind.is_some() {
                self.wrong(item.span(), "values stand under a line [part.values]", "rear.tire.size = \"28 x 9-15\"");
            }
            return;
        };
        let read = read_values(self.schema, table);
        self.problems.extend(read.problems.into_iter().filter(|p| !p.unusual));
        for (key, value) in read.sheet.iter() {
            let field = self.schema.field(key).filter(|f| f.part.as_deref() == Some(kind.key.as_str()));
            if field.is_none_or(|f| f.role == Role::Measured) {
                let all: Vec<&str> = self.schema.part_values(&kind.key).map(|f| f.key.as_str()).collect();
                let help = if all.is_empty() { "no values are kept of it".to_owned() } else { all.join(", ") };
                let message = format!("{key} does not describe {}", self.schema.part_words(kind));
                self.wrong(find(table, key), message, help);
                continue;
            }
            part.values.set(key, value.clone());
        }
    }
}

/// The number of a limit, as a number in its unit or as text with another.
pub(super) fn limit_number(schema: &Schema, limit: &Limit, item: &Item) -> std::result::Result<Num, String> {
    let number = match item.as_value() {
        Some(Toml::Integer(n)) => Num::from_f64(*n.value() as f64).ok_or("is beyond 1e12".to_owned()),
        Some(Toml::Float(x)) => Num::from_f64(*x.value()).ok_or("is not finite, or beyond 1e12".to_owned()),
        Some(Toml::String(s)) => schema.limit_of(limit, s.value()),
        _ => Err("is no number".to_owned()),
    };
    number.and_then(|n| schema.check_limit(limit, n).map(|()| n))
}

fn date_of(d: &toml_edit::Datetime) -> Option<Date> {
    let date = d.date.filter(|_| d.time.is_none())?;
    Date::new(i16::try_from(date.year).ok()?, i8::try_from(date.month).ok()?, i8::try_from(date.day).ok()?).ok()
}

fn find(table: &dyn TableLike, key: &str) -> Option<Range<usize>> {
    match key.split_once('.') {
        None => table.get(key).and_then(Item::span),
        Some((first, rest)) => find(table.get(first)?.as_table_like()?, rest),
    }
}

#[cfg(test)]
mod tests {
    use super::super::Car;
    use super::super::Error;
    use super::super::part_put::put;
    use super::*;
    use crate::schema::schema;

    const CAR: &str = "format = 1\nname = \"Grey\"\ntemplate = \"leaf-torsion\"\n";

    const PAIR_B: &str = "
# bought from Wren in April
[[part]]
name = \"pair B\" # the soft ones
kind = \"rear.tire.name\"
came_with_passes = 12
goes_with = true

[part.limits]
least_pressure = \"0.76 bar\" # on the sidewall

[part.values]
rear.tire.size = \"28 x 9-15\"
rear.tire.sidewall = \"soft\"
";

    fn car(parts: &str) -> Car {
        Car::read("car.toml", &format!("{CAR}{parts}")).unwrap()
    }

    #[track_caller]
    fn wrong(parts: &str, wanted: &[&str]) {
        let text = format!("{CAR}{parts}");
        let Err(Error::Text { problems, .. }) = Car::read("car.toml", &text) else { panic!("{text} was taken") };
        let said: Vec<String> = problems.iter().map(|p| p.message.clone()).collect();
        for w in wanted {
            assert!(said.iter().any(|m| m.contains(w)), "`{w}` is not in {said:?}");
        }
        assert!(problems.iter().all(|p| p.span.is_some()), "each has its place: {problems:?}");
    }

    #[test]
    fn a_part_is_read() {
        let car = car(PAIR_B);
        let part = &car.parts[0];
        assert_eq!((part.name.as_str(), part.came_with_passes, part.goes_with), ("pair B", Some(12), Some(true)));
        assert_eq!(part.values.text("rear.tire.size"), Some("28 x 9-15"));
        assert_eq!(part.limits[0].1.round(1), Num::parse("11").unwrap());
    }

    #[test]
    fn every_fault_is_told_with_its_place() {
        let head = "[[part]]\nname = \"pair B\"\nkind = \"rear.tire.name\"\n";
        wrong("[[part]]\nkind = \"rear.tire.name\"\n", &["no `name`"]);
        wrong("[[part]]\nname = \"B\"\n", &["no `kind`"]);
        wrong("[[part]]\nname = \"12.5\"\nkind = \"rear.tire.name\"\n", &["more than a number"]);
        wrong("[[part]]\nname = \"a\\u001bb\"\nkind = \"rear.tire.name\"\n", &["on one line"]);
        wrong("[[part]]\nname = \"B\"\nkind = \"rear.tire.pressure\"\n", &["no kind of part"]);
        wrong("[[part]]\nname = \"B\"\nkind = \"rear.spring.name\"\n", &["no kind of part"]);
        wrong(&format!("{head}{head}"), &["there twice"]);
        wrong(&format!("{head}passes = 3\n"), &["nothing of a part"]);
        wrong(&format!("{head}came_with_passes = -1\ngoes_with = 1\n"), &["whole number", "true or false"]);
        wrong(&format!("{head}gone = \"July\"\n"), &["is a date"]);
        wrong(&format!("{head}gone_how = \"sold\"\n"), &["needs `gone`"]);
        wrong(&format!("{head}[part.limits]\nleast_pressure = 900\nrpm = 3\n"), &["not possible", "no limit"]);
        wrong(&format!("{head}[part.limits]\nleast_pressure = nan\n"), &["not finite"]);
        wrong(&format!("{head}[part.values]\nrear.tire.pressure = 12\n"), &["does not describe"]);
        wrong(&format!("{head}[part.values]\nrear.tire.sidewall = \"wobbly\"\n"), &["none of them"]);
        wrong(&format!("{head}[part.values]\nrear.tyre = 3\n"), &["no field"]);
        wrong("part = 3\n", &["stand under"]);
        wrong(&"[[part]]\nname = \"x\"\nkind = \"rear.tire.name\"\n".repeat(501), &["500 at most"]);
    }

    #[test]
    fn comments_and_order_stay() {
        let text = format!("{CAR}{PAIR_B}");
        let mut part = car(PAIR_B).parts[0].clone();
        assert_eq!(put(schema(), &text, &part).unwrap(), text, "what is so already is not written again");
        part.goes_with = Some(false);
        part.gone = Some(Gone { on: "2026-07-05".parse().unwrap(), how: Some("sold".to_owned()) });
        part.values.remove("rear.tire.sidewall");
        part.limits.clear();
        let new = put(schema(), &text, &part).unwrap();
        for kept in ["# bought from Wren in April", "# the soft ones", "rear.tire.size = \"28 x 9-15\""] {
            assert!(new.contains(kept), "{kept}: {new}");
        }
        assert!(!new.contains("sidewall"), "{new}");
        assert_eq!(Car::read("car.toml", &new).unwrap().parts, [part]);
    }

    #[test]
    fn braces_stay_braces() {
        let head = "[[part]]\nname = \"x\"\nkind = \"rear.leaf.name\"\n";
        for values in [
            "values = { rear = { leaf = { kind = \"mono\" } } }\n",
            "[part.values]\nrear = { leaf = { rate = 145 } } # as stamped\n",
            "[part.values.rear.leaf]\nrate = 145 # lb/in\n",
            "values = {}\n",
        ] {
            let text = format!("{CAR}{head}{values}");
            let read = Car::read("car.toml", &text).unwrap();
            let mut part = read.parts[0].clone();
            let more =
                crate::schema::read_sheet(schema(), "format = 1\n[rear.leaf]\nrate = 130.5\nfront_length = 20\n");
            more.sheet.iter().for_each(|(k, v)| part.values.set(k, v.clone()));
            let new = put(schema(), &text, &part).unwrap();
            assert_eq!(Car::read("car.toml", &new).unwrap().parts, [part], "{new}");
        }
    }

    #[test]
    fn a_new_part_is_put_behind_the_others() {
        let mut part = Part { name: "soft bars".to_owned(), kind: "front.spring.bars".to_owned(), ..Part::default() };
        let read = crate::schema::read_sheet(schema(), "format = 1\n[front.spring]\nbar_diameter = 0.86\n");
        part.values = read.sheet;
        part.note = Some("from the \"old\" car\nstraight".to_owned());
        let new = put(schema(), &format!("{CAR}{PAIR_B}"), &part).unwrap();
        assert!(new.contains("front.spring.bar_diameter = 0.86 # in"), "{new}");
        let read = Car::read("car.toml", &new).unwrap();
        assert_eq!(read.parts[1], part);
        let alone = put(schema(), CAR, &part).unwrap();
        assert_eq!(Car::read("car.toml", &alone).unwrap().parts, [part], "{alone}");
    }
}
