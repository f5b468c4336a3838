//! What a racer types of a part → its values and limits: `size 28 x 9-15, sidewall soft, least pressure 11`.

use super::assign::{assignment, scalar};
use super::clause::{Clause, match_clause};
use super::entry::{EntryContext, EntryError, clauses};
use super::{Edit, Field, Limit, Num, Scalar, Schema, Sheet, Takes, Typed, Value, same_name, with_unit};

/// What was said of a part.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct PartWords {
    /// Values that describe it.
    pub edits: Vec<Edit>,
    /// Limits its maker gives, by name; `None` takes one away.
    pub limits: Vec<(String, Option<Num>)>,
}

/// Reads what is said of a part of a kind; `sheet` is what is known of it.
pub fn read_part_words(
    schema: &Schema,
    kind: &Field,
    sheet: &Sheet,
    words: &[String],
) -> Result<PartWords, EntryError> {
    let only = schema.only(|f| f.part.as_deref() == Some(kind.key.as_str()));
    let ctx = EntryContext { schema: &only, chassis: &[], sheet };
    let mut out = PartWords::default();
    for words in clauses(words) {
        let text = words.join(" ");
        if let Some((limit, number)) = limit_in(schema, kind, &text) {
            out.limits.push((limit.name.clone(), limit_number(schema, limit, &text, number)?));
        } else if let Some((field, said)) = text_in(&only, &text) {
            let typed = Typed::Reading(Value::One(said));
            out.edits.push(Edit { key: field.key.clone(), slot: None, typed });
        } else if text.contains('=') && words.len() == 1 {
            out.edits.push(assignment(ctx, &text).map_err(|e| told(schema, kind, e))?);
        } else {
            let edits = match_clause(ctx, &Clause::read(&only, &words), &|_| true, &mut |_, _| None);
            out.edits.extend(edits.map_err(|e| told(schema, kind, e))?);
        }
    }
    Ok(out)
}

/// An entry no field fits names all that can be said of such a part.
fn told(schema: &Schema, kind: &Field, error: EntryError) -> EntryError {
    match error {
        EntryError::Unknown { clause, .. } | EntryError::Ambiguous { clause, .. } => EntryError::Value {
            why: format!("`{clause}` is nothing that is said of {}", schema.part_words(kind)),
            clause,
            help: what_is_said(schema, kind),
        },
        other => other,
    }
}

/// All that can be said of a part of a kind.
fn what_is_said(schema: &Schema, kind: &Field) -> String {
    let values = schema.part_values(&kind.key).map(|f| f.table_and_name().1.replace('_', " "));
    let limits = schema.part_limits(&kind.key).map(|l| format!("{} N", l.label));
    let all: Vec<String> = values.chain(limits).collect();
    if all.is_empty() { "no values are kept of it: --note TEXT".to_owned() } else { all.join(", ") }
}

/// The limit a clause begins with, and what stands behind its name.
fn limit_in<'a, 'b>(schema: &'a Schema, kind: &'a Field, text: &'b str) -> Option<(&'a Limit, &'b str)> {
    let (limits, lower) = (schema.part_limits(&kind.key), text.to_lowercase());
    let named = |name: &str| {
        let rest = lower.strip_prefix(&name.to_lowercase())?;
        rest.starts_with([' ', '=']).then(|| text.get(text.len() - rest.len()..)).flatten()
    };
    let behind = |l: &Limit| {
        let names = [l.name.as_str(), l.label.as_str()].into_iter().chain(l.says.iter().map(String::as_str));
        names.filter_map(named).min_by_key(|rest| rest.len())
    };
    limits.filter_map(|l| Some((l, behind(l)?.trim_matches([' ', '='])))).min_by_key(|(_, rest)| rest.len())
}

/// The number of a limit; `-` takes it away.
fn limit_number(schema: &Schema, limit: &Limit, clause: &str, text: &str) -> Result<Option<Num>, EntryError> {
    let wrong = |why: String| EntryError::Value {
        clause: clause.to_owned(),
        why,
        help: format!("{} and a number, as its maker gives it", limit.label),
    };
    if text == "-" {
        return Ok(None);
    }
    schema.limit_of(limit, text).map(Some).map_err(wrong)
}

impl Schema {
    /// The number of a limit from text, with or without its unit, in the unit of what it holds for.
    pub fn limit_of(&self, limit: &Limit, text: &str) -> Result<Num, String> {
        let field = limit.fields.first().and_then(|k| self.field(k));
        let number = match field {
            Some(field) => with_unit(&self.units, field, None, text)?,
            None => {
                let unit = self.limit_unit(limit).0.unwrap_or("passes");
                let bare = text.trim().trim_end_matches(unit).trim_end();
                Num::parse(bare).ok_or_else(|| format!("`{text}` is no number of {unit}"))?
            }
        };
        self.check_limit(limit, number).map(|()| number)
    }

    /// A limit must be a number the thing it holds for can have.
    pub fn check_limit(&self, limit: &Limit, n: Num) -> Result<(), String> {
        let of_field = limit.fields.first().and_then(|k| self.field(k)).and_then(|f| f.possible);
        let of_run = limit.run.first().and_then(|name| self.run.number(name)).map(|r| r.possible);
        let passes = limit.passes.then(|| [Num::int(1), Num::int(100_000)]);
        match of_field.or(of_run).or(passes) {
            Some([low, high]) if n < low || n > high => {
                Err(format!("{} {n} is not possible: {low} to {high} is", limit.label))
            }
            _ if limit.passes && !n.is_int() => Err(format!("{} {n}: passes are counted whole", limit.label)),
            _ => Ok(()),
        }
    }
}

/// A field of words named at the beginning of a clause, and the words: sizes begin with a number, and so do some choices.
fn text_in<'a>(only: &'a Schema, clause: &str) -> Option<(&'a Field, Scalar)> {
    let words: Vec<&str> = clause.split_whitespace().collect();
    let named = |f: &Field| {
        let last = f.table_and_name().1.replace('_', " ");
        let all = f.says.iter().map(String::as_str).chain([last.as_str()]);
        let fits = |s: &str| {
            let n = s.split_whitespace().count();
            (n < words.len() && same_name(s, &words[..n].join(" "))).then_some(n)
        };
        all.filter_map(fits).max()
    };
    let said = |f: &Field, n: usize| {
        let text = words[n..].join(" ").trim_matches('"').to_owned();
        match f.takes() {
            Takes::Text if f.slots.is_empty() => Some(Scalar::Text(text)),
            Takes::Choice => scalar(only, f, None, &text).ok(),
            _ => None,
        }
    };
    let found = only.fields.iter().filter_map(|f| named(f).and_then(|n| Some((n, f, said(f, n)?))));
    found.max_by_key(|(n, ..)| *n).map(|(_, field, said)| (field, said))
}

#[cfg(test)]
mod tests {
    use super::super::schema;
    use super::*;

    fn read(text: &str) -> Result<PartWords, EntryError> {
        let words: Vec<String> = text.split(' ').map(str::to_owned).collect();
        read_part_words(schema(), schema().field("rear.tire.name").unwrap(), &Sheet::default(), &words)
    }

    #[test]
    fn values_and_limits_in_a_racers_words() {
        let said = read("size 28 x 9-15, construction bias slick, sidewall soft, least pressure 11").unwrap();
        let keys: Vec<&str> = said.edits.iter().map(|e| e.key.as_str()).collect();
        assert_eq!(keys, ["rear.tire.size", "rear.tire.construction", "rear.tire.sidewall"]);
        let size = Typed::Reading(Value::One(Scalar::Text("28 x 9-15".to_owned())));
        assert_eq!(said.edits[0].typed, size);
        assert_eq!(said.limits, [("least_pressure".to_owned(), Num::parse("11"))]);
        assert_eq!(read("bead 8 rim screws, bead lock").unwrap().edits.len(), 2);
        assert_eq!(read("most_passes=120").unwrap().limits, [("most_passes".to_owned(), Num::parse("120"))]);
        assert_eq!(read("least psi -").unwrap().limits, [("least_pressure".to_owned(), None)]);
        assert_eq!(read("least pressure 0.76 bar").unwrap().limits[0].1.map(|n| n.round(1)), Num::parse("11"));
    }

    #[test]
    fn what_is_nothing_of_a_tire_is_refused_with_what_is() {
        for text in ["limiter down 1/4", "least pressure soon", "least pressure 900", "most passes 2.5", "gearbox=3"] {
            let error = read(text).unwrap_err();
            assert!(!error.to_string().is_empty(), "{text}");
        }
        let EntryError::Value { help, .. } = read("limiter down 1/4").unwrap_err() else { panic!("a value error") };
        assert!(help.contains("sidewall") && help.contains("least pressure"), "{help}");
    }
}
