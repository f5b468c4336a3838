//! `FIELD=VALUE`: a key (or a part of one that is unique), a side, a value with or without its unit.

use super::entry::{Candidate, EntryContext, EntryError};
use super::read::{choice_word, flag_word, with_unit};
use super::sheet::takes_words;
use super::{Edit, Field, Num, Places, Scalar, Schema, Sides, Takes, Typed, Value, is_about, without_doubt};

/// Reads one assignment.
pub fn assignment(ctx: EntryContext, text: &str) -> Result<Edit, EntryError> {
    let (name, value) = text.split_once('=').unwrap_or((text, ""));
    let (field, slot) = find_field(ctx.schema, ctx.chassis, name.trim())?;
    if !field.on_chassis(ctx.chassis) {
        return Err(EntryError::Value {
            clause: text.to_owned(),
            why: format!("{} is a field of another chassis: {}", field.key, field.chassis.join(", ")),
            help: format!("this car has {}", ctx.chassis.join(" and ")),
        });
    }
    reading(ctx.schema, field, slot, value.trim()).map_err(|why| EntryError::Value {
        clause: text.to_owned(),
        why: format!("{}: {why}", field.key),
        help: format!("it takes {}", takes_words(ctx.schema, field)),
    })
}

/// The field meant by a key, or by a part of one that is unique on this car; with `.left`, `.lr` for one side.
pub fn find_field<'a>(
    schema: &'a Schema,
    chassis: &[String],
    name: &str,
) -> Result<(&'a Field, Option<usize>), EntryError> {
    if let Some(found) = schema.locate(name) {
        return Ok(found);
    }
    let lower = name.to_lowercase();
    let parts: Vec<&str> = lower.split('.').collect();
    let fits = |f: &&Field| {
        let mut segments = f.key.split('.');
        f.on_chassis(chassis) && parts.iter().all(|p| segments.any(|s| s == *p))
    };
    let found: Vec<&Field> = schema.fields.iter().filter(fits).collect();
    match found.as_slice() {
        [field] => Ok((field, None)),
        [] => Err(EntryError::Unknown { clause: name.to_owned(), near: near_on(schema, chassis, name) }),
        many => Err(EntryError::Ambiguous {
            clause: name.to_owned(),
            candidates: many.iter().map(|f| candidate(f)).collect(),
        }),
    }
}

/// The nearest keys of fields this car can have.
fn near_on(schema: &Schema, chassis: &[String], name: &str) -> Vec<String> {
    let keys = schema.fields.iter().filter(|f| f.on_chassis(chassis)).map(|f| f.key.as_str());
    super::near::nearest(name, keys, 4).into_iter().map(str::to_owned).collect()
}

pub(super) fn candidate(field: &Field) -> Candidate {
    Candidate { key: field.key.clone(), label: field.label.clone() }
}

/// A reading from text; `-` and nothing take the field off the record. Used for entry and for table cells alike.
pub fn reading(schema: &Schema, field: &Field, slot: Option<usize>, text: &str) -> Result<Edit, String> {
    let edit = |typed| Edit { key: field.key.clone(), slot, typed };
    if text == "-" {
        return Ok(edit(Typed::Off));
    }
    if text.is_empty() {
        return Err("no value was given; `-` takes it off the record".to_owned());
    }
    // "about" stands for all numbers behind it, `?` for the one before it.
    let all_behind =
        |t: &str| t.split_once(' ').filter(|(first, _)| is_about(first)).map(|(_, rest)| rest.trim().to_owned());
    let behind = all_behind(text).filter(|_| field.takes() == Takes::Number);
    let text = behind.as_deref().unwrap_or(text);
    // What each text says, and which of the numbers are in doubt.
    let mut doubt = Places::new();
    let mut one = |i: usize, slot: Option<usize>, text: &str| -> Result<Scalar, String> {
        if slot.map_or(field.takes(), |i| field.slot_takes(i)) != Takes::Number {
            return scalar(schema, field, slot, text);
        }
        let (number, doubtful) = without_doubt(text);
        doubt.extend(doubtful.then_some(i));
        scalar(schema, field, slot, &number)
    };
    let value = if slot.is_some() || field.sides == Sides::One {
        Value::One(one(0, slot, text)?)
    } else {
        let mut many = |texts: Vec<&str>| -> Result<Value, String> {
            let n = field.slots.len();
            if texts.len() != n {
                return Err(format!("{} values were given, it has {n}", texts.len()));
            }
            let side = |(i, t): (usize, &&str)| match t.trim() {
                "-" => Ok(None),
                t => one(i, Some(i), t).map(Some),
            };
            texts.iter().enumerate().map(side).collect::<Result<_, _>>().map(Value::Slots)
        };
        match field.sides {
            Sides::Pair => match sides_in(schema, field, text) {
                Some((left, right)) => many(vec![left, right])?,
                None => many(vec![text, text])?,
            },
            Sides::Corners | Sides::Named => many(parts(text))?,
            Sides::List => {
                let number =
                    |(i, t): (usize, &str)| one(i, None, t)?.num().ok_or_else(|| format!("`{t}` is no number"));
                Value::List(parts(text).into_iter().enumerate().map(number).collect::<Result<_, _>>()?)
            }
            Sides::Rows | Sides::One => return Err("is edited on the sheet: slipbook sheet --edit".to_owned()),
        }
    };
    if behind.is_some() {
        doubt = value.number_places();
    }
    Ok(edit(if doubt.is_empty() { Typed::Reading(value) } else { Typed::Doubtful(value, doubt) }))
}

fn parts(text: &str) -> Vec<&str> {
    let text = text.trim_matches(['[', ']', '{', '}']);
    let by: &[char] = if text.contains(',') { &[','] } else { &['/', ' '] };
    text.split(by).map(str::trim).filter(|t| !t.is_empty()).collect()
}

/// `12.0/12.25` is left and right. `3/4` is a fraction: a whole over a larger power of two, for what is not counted.
fn sides_in<'a>(schema: &Schema, field: &Field, text: &'a str) -> Option<(&'a str, &'a str)> {
    if let Some(two) = text.split_once(',') {
        return Some(two);
    }
    let (a, b) = text.split_once('/')?;
    if field.takes() != Takes::Number {
        // "free-rise (90/10)" style words hold a slash themselves.
        let known = |t: &str| scalar(schema, field, Some(0), t).is_ok();
        return (!known(text) && known(a) && known(b)).then_some((a, b));
    }
    if b.contains('/') {
        // `3/4/1/2`: nobody types that; `1-1/8 / 1-1/4` needs the comma.
        return None;
    }
    let counted = matches!(field.kind.as_str(), "clicks" | "hole" | "count" | "position" | "preload" | "rate");
    let ((top, _), (bottom, _)) = (without_doubt(a), without_doubt(b));
    let fraction = matches!(bottom.as_str(), "2" | "4" | "8" | "16" | "32" | "64")
        && top.rsplit(['-', ' ']).next().and_then(Num::parse).is_some_and(|n| n.is_int())
        && Num::parse(top.rsplit(['-', ' ']).next().unwrap_or(&top)) < Num::parse(&bottom);
    (counted || !fraction).then_some((a, b))
}

/// One plain value from text.
pub fn scalar(schema: &Schema, field: &Field, slot: Option<usize>, text: &str) -> Result<Scalar, String> {
    let text = text.trim().trim_matches('"');
    match slot.map_or(field.takes(), |i| field.slot_takes(i)) {
        Takes::Number => with_unit(&schema.units, field, slot, text).map(Scalar::Num),
        Takes::Text => Ok(Scalar::Text(text.to_owned())),
        Takes::Flag => flag_word(text).map(Scalar::Flag).ok_or_else(|| format!("`{text}` is not yes or no")),
        Takes::Choice => {
            let word = choice_word(field, text);
            if field.choices.iter().any(|c| c == word) {
                return Ok(Scalar::Text(word.to_owned()));
            }
            Err(format!("`{text}` is none of {}", field.choices.join(", ")))
        }
    }
}

#[cfg(test)]
mod tests {
    use super::super::{Sheet, schema};
    use super::*;

    fn read(text: &str) -> Result<Edit, EntryError> {
        let sheet = Sheet::default();
        assignment(EntryContext { schema: schema(), chassis: &[], sheet: &sheet }, text)
    }

    fn pair(a: &str, b: &str) -> Typed {
        let n = |t| Num::parse(t).map(Scalar::Num);
        Typed::Reading(Value::Slots(vec![n(a), n(b)]))
    }

    #[test]
    fn a_slash_parts_sides_but_not_a_fraction() {
        assert_eq!(read("rear.tire.pressure=12.0/12.25").unwrap().typed, pair("12.0", "12.25"));
        assert_eq!(read("rear.tire.pressure=12/12").unwrap().typed, pair("12", "12"));
        assert_eq!(read("rear.shock.extension=6/8").unwrap().typed, pair("6", "8"));
        assert_eq!(read("wheelie.height=3-1/2").unwrap().typed, pair("3.5", "3.5"));
        assert_eq!(read("front.travel.up=3/4").unwrap().typed, pair("0.75", "0.75"));
    }

    #[test]
    fn units_are_carried_and_wrong_ones_refused() {
        assert_eq!(
            read("rear.limiter.height=19 mm").unwrap().typed,
            Typed::Reading(Value::One(Scalar::Num(Num::from_micros(748_000))))
        );
        let e = read("rear.limiter.height=19 psi").unwrap_err().to_string();
        assert!(e.contains("`psi` is no unit") && e.contains("mm"), "{e}");
        assert!(
            matches!(read("rear.limitr.height=1"), Err(EntryError::Unknown { near, .. }) if near[0] == "rear.limiter.height")
        );
        assert!(matches!(read("height=1"), Err(EntryError::Ambiguous { .. })));
    }

    #[test]
    fn one_side_and_off_the_record() {
        assert_eq!(read("rear.tire.pressure.left=12.25").unwrap().slot, Some(0));
        assert_eq!(read("rear.limiter.height=-").unwrap().typed, Typed::Off);
    }
}
