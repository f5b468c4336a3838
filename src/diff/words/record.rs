//! What goes on the record, comes off it, was read again, or was recorded wrong.

use super::show;
use super::story::{Said, Story, Vars, Who};
use crate::schema::{Field, Places, Role, SURE, Scalar, Schema, Sheet, Sides, Value, about};

impl Story<'_> {
    /// "limiter height 0.75 in": the thing and its value, as the record has it.
    pub(super) fn entry(&self, field: &Field, value: &Value) -> String {
        let (who, text, bare) = self.valued(field, value, self.new.doubt(&field.key));
        let mut vars = self.base(field, &self.names(field), who);
        vars.extend([("value", text.clone()), ("bare", bare), ("quoted", quoted(field, value))]);
        let entry = self.say(field, &["entry"], &[], &vars);
        entry.map_or(text, |said| said.text)
    }

    /// Whom a whole value is about, the value with its unit, and without.
    fn valued(&self, field: &Field, value: &Value, doubt: &Places) -> (Who, String, String) {
        let schema = self.schema;
        let scalar = |slot: Option<usize>, s: &Scalar| match s {
            Scalar::Flag(true) => (schema.kind(field).more.clone(), schema.kind(field).more.clone()),
            Scalar::Flag(false) => (format!("not {}", schema.kind(field).more), "no".to_owned()),
            s => {
                let unsure = doubt.contains(&slot.unwrap_or(0));
                let (text, bare) = (show::show(schema, field, slot, s), show::bare(schema, field, slot, s));
                (about(text, unsure), about(bare, unsure))
            }
        };
        match value {
            Value::One(s) => {
                let (text, bare) = scalar(None, s);
                (Who::One, text, bare)
            }
            Value::Slots(v) => {
                let there: Vec<usize> = (0..v.len()).filter(|i| v[*i].is_some()).collect();
                match (value.shared(), there.as_slice()) {
                    (Some(s), _) if field.sides == Sides::Pair && doubt.contains(&0) == doubt.contains(&1) => {
                        let (text, bare) = scalar(Some(0), s);
                        (Who::Both, text, bare)
                    }
                    (_, [i]) => {
                        let (text, bare) = v[*i].as_ref().map(|s| scalar(Some(*i), s)).unwrap_or_default();
                        (Who::Side(*i), text, bare)
                    }
                    _ => {
                        let who = if field.sides == Sides::Named { Who::One } else { Who::Spread };
                        let said = |unit| show::slots(schema, field, v, unit, doubt);
                        (who, said(true), said(false))
                    }
                }
            }
            Value::List(v) => {
                let said = |unit| show::list(schema, field, v, unit, doubt);
                (Who::Spread, said(true), said(false))
            }
            Value::Rows(_) => {
                let text = show::show_doubting(schema, field, value, doubt);
                (Who::One, text.clone(), text)
            }
        }
    }

    /// It is on record now.
    pub(super) fn first(&self, field: &Field, value: &Value) -> Option<Said> {
        if let (Role::Note, Value::One(Scalar::Text(text))) = (field.role, value)
            && self.by_line(field, "", text)
        {
            return self.note(field, "", text);
        }
        let (who, text, bare) = self.valued(field, value, self.new.doubt(&field.key));
        let mut vars = self.base(field, &self.names(field), who);
        vars.extend([("value", text.clone()), ("new", text), ("bare", bare), ("entry", self.entry(field, value))]);
        self.say(field, &["first"], &[], &vars)
    }

    /// It is no longer on record.
    pub(super) fn gone(&self, field: &Field, value: &Value) -> Option<Said> {
        let (who, text, bare) = self.valued(field, value, self.old.doubt(&field.key));
        let mut vars = self.base(field, &self.names(field), who);
        vars.extend([("old", text), ("bare", bare), ("quoted", quoted(field, value))]);
        self.say(field, &["gone"], &[], &vars)
    }

    /// The value stays, what is held of it does not: sure now, or in doubt.
    pub(super) fn held(&self, field: &Field, value: &Value) -> Option<Said> {
        let (was, is) = (self.old.doubt(&field.key), self.new.doubt(&field.key));
        let moved: Places = was.symmetric_difference(is).copied().collect();
        let doubted = moved.iter().any(|i| is.contains(i));
        let told = match value {
            Value::Slots(v) => {
                let keep = |(i, s): (usize, &Option<Scalar>)| if moved.contains(&i) { s.clone() } else { None };
                Value::Slots(v.iter().enumerate().map(keep).collect())
            }
            other => other.clone(),
        };
        let (who, text, bare) = self.valued(field, &told, is);
        let mut vars = self.base(field, &self.names(field), who);
        vars.extend([("value", text), ("bare", bare), ("entry", self.entry(field, &told))]);
        self.say(field, &[if doubted { "doubted" } else { "confirmed" }], &[], &vars)
    }

    /// A list or rows with a number in doubt, told whole.
    pub(super) fn unsure_list(&self, field: &Field, a: &Value, b: &Value) -> Option<Said> {
        let shown = |v: &Value, doubt| show::show_doubting(self.schema, field, v, doubt);
        let mut vars = self.base(field, &self.names(field), Who::Spread);
        let (old, new) = (shown(a, self.old.doubt(&field.key)), shown(b, self.new.doubt(&field.key)));
        vars.extend([("value", new.clone()), ("new", new), ("old", old)]);
        self.say(field, &["list"], &["brief_list"], &vars)
    }

    /// Several values of one field, told whole: read again, or described anew.
    pub(super) fn whole(
        &self,
        field: &Field,
        situation: &str,
        a: &[Option<Scalar>],
        b: &[Option<Scalar>],
    ) -> Option<Said> {
        let (was_doubt, doubt) = (self.old.doubt(&field.key), self.new.doubt(&field.key));
        let changed = |values: &[Option<Scalar>]| -> Value {
            let keep = |(i, s): (usize, &Option<Scalar>)| {
                let same = a.get(i) == b.get(i) && was_doubt.contains(&i) == doubt.contains(&i);
                if same { None } else { s.clone() }
            };
            Value::Slots(values.iter().enumerate().map(keep).collect())
        };
        let (who, text, bare) = self.valued(field, &changed(b), doubt);
        let (was, _, old) = self.valued(field, &changed(a), was_doubt);
        let who = if who == was { who } else { Who::Spread };
        let mut vars = self.base(field, &self.names(field), who);
        vars.extend([("value", text), ("new", bare.clone()), ("bare", bare), ("old", old)]);
        self.say(field, &[situation], &[], &vars)
    }
}

/// "mended from v15 on: limiter was at 1.00 in, not 0.75": what was recorded wrong, and what it really was.
pub fn mended(
    since: Option<&str>,
    schema: &Schema,
    sheet: &Sheet,
    field: &Field,
    right: Option<&Value>,
    wrong: Option<&Value>,
) -> String {
    let story = Story { schema, old: sheet, new: sheet };
    let from = since.map_or("mended".to_owned(), |v| format!("mended from {v} on"));
    let named = |value: &Value| {
        let (who, text, bare) = story.valued(field, value, SURE);
        let mut vars: Vars = story.base(field, &story.names(field), who);
        vars.extend([("value", text), ("bare", bare)]);
        (who, vars)
    };
    let said = match (right, wrong) {
        (Some(right), Some(wrong)) => {
            // Only the sides that were wrong are told, where one of them was.
            let (right, wrong) = apart(right, wrong);
            let ((who, mut vars), (wrong_who, wrong)) = (named(&right), named(&wrong));
            if who != wrong_who {
                vars = story.base(field, &story.names(field), Who::Spread);
                vars.extend(named(&right).1.into_iter().filter(|(name, _)| matches!(*name, "value" | "bare")));
            }
            vars.insert("wrong", wrong.get("bare").cloned().unwrap_or_default());
            story.say(field, &["mended"], &[], &vars).map(|s| s.text)
        }
        (Some(right), None) => Some(format!("{} was not on record", story.entry(field, right))),
        (None, Some(wrong)) => Some(format!("{} was not so, now off the record", story.entry(field, wrong))),
        (None, None) => None,
    };
    super::visible(&format!("{from}: {}", said.unwrap_or_else(|| story.names(field).record)))
}

fn quoted(field: &Field, value: &Value) -> String {
    match (value, value.shared()) {
        (_, Some(one)) => show::quoted(field, &[(None, one)]),
        (Value::Slots(v), None) => {
            let there: Vec<_> = v.iter().enumerate().filter_map(|(i, s)| Some((Some(i), s.as_ref()?))).collect();
            match there.as_slice() {
                [(_, one)] => show::quoted(field, &[(None, one)]),
                several => show::quoted(field, several),
            }
        }
        _ => String::new(),
    }
}

fn apart(right: &Value, wrong: &Value) -> (Value, Value) {
    let (Value::Slots(a), Value::Slots(b)) = (right, wrong) else {
        return (right.clone(), wrong.clone());
    };
    if a.len() != b.len() || a.iter().zip(b).all(|(x, y)| x == y) {
        return (right.clone(), wrong.clone());
    }
    let keep = |of: &[Option<Scalar>]| {
        of.iter().enumerate().map(|(i, s)| if a[i] == b[i] { None } else { s.clone() }).collect()
    };
    (Value::Slots(keep(a)), Value::Slots(keep(b)))
}

/// "found: left rear leaf clamp loose (between 11:45 and 13:20)": what was seen, of which only a window of time is known.
pub fn found(text: &str, from: &str, to: &str) -> String {
    let said = format!("found: {}", text.trim());
    super::visible(&match (from.trim(), to.trim()) {
        ("", "") => said,
        (from, "") => format!("{said} (after {from})"),
        ("", to) => format!("{said} (before {to})"),
        (from, to) => format!("{said} (between {from} and {to})"),
    })
}

/// "measured again, as it was: limiter gap 0.50 in": a value (or one slot of it) that was found as it is on record.
pub fn confirmed(schema: &Schema, sheet: &Sheet, field: &Field, slot: Option<usize>) -> Option<super::Clause> {
    let story = Story { schema, old: sheet, new: sheet };
    let value = match (sheet.get(&field.key)?, slot) {
        (Value::Slots(v), Some(at)) => {
            let keep = |(i, s): (usize, &Option<Scalar>)| if i == at { s.clone() } else { None };
            Value::Slots(v.iter().enumerate().map(keep).collect())
        }
        (value, _) => value.clone(),
    };
    let entry = story.entry(field, &value);
    let mut vars = Vars::new();
    vars.insert("entry", entry);
    let said = story.say(field, &["as_it_was"], &[], &vars)?;
    Some(super::Clause {
        group: field.group.clone(),
        text: super::visible(&said.text),
        brief: super::visible(&said.brief),
        fields: vec![field.key.clone()],
        turned: false,
    })
}
