//! One value, or several that changed alike: numbers, choices, names, texts.

use super::notes;
use super::show;
use super::story::{Said, Story, Vars, Who};
use crate::schema::{Field, Num, Role, Scalar, Value};

impl Story<'_> {
    /// The sentence of one field that changed, whatever it is.
    pub(super) fn tell(&self, field: &Field, old: Option<&Value>, new: Option<&Value>) -> Said {
        let said = match (old, new) {
            (None, Some(v)) => self.first(field, v),
            (Some(v), None) => self.gone(field, v),
            (Some(a), Some(b)) if a == b => self.held(field, b),
            (Some(a @ (Value::List(_) | Value::Rows(_))), Some(b)) if self.unsure(field) => {
                self.unsure_list(field, a, b)
            }
            (Some(Value::One(a)), Some(Value::One(b))) => self.scalar(field, Who::One, None, a, b),
            (Some(Value::Slots(a)), Some(Value::Slots(b))) if a.len() == b.len() => self.slots(field, a, b),
            (Some(Value::List(a)), Some(Value::List(b))) => self.list(field, a, b),
            (Some(Value::Rows(a)), Some(Value::Rows(b))) => self.rows(field, a, b),
            _ => None,
        };
        said.unwrap_or_else(|| {
            let text = format!("{} changed", self.names(field).record);
            Said { brief: text.clone(), text, ..Said::default() }
        })
    }

    pub(super) fn scalar(&self, field: &Field, who: Who, slot: Option<usize>, a: &Scalar, b: &Scalar) -> Option<Said> {
        match (a, b) {
            (Scalar::Num(a), Scalar::Num(b)) => self.number(field, who, slot, *a, *b, Vars::new()),
            _ => self.words(field, who, a, b, Vars::new()),
        }
    }

    /// A number of the field was in doubt, or is.
    pub(super) fn unsure(&self, field: &Field) -> bool {
        self.old.is_doubtful(&field.key, None) || self.new.is_doubtful(&field.key, None)
    }

    /// The value was read again: nobody turned it.
    pub(super) fn is_reading(&self, field: &Field) -> bool {
        field.role == Role::Measured && field.told.as_deref() != Some("turned")
    }

    /// A number that changed. `more` goes before the values of the step.
    pub(super) fn number(
        &self,
        field: &Field,
        who: Who,
        slot: Option<usize>,
        a: Num,
        b: Num,
        more: Vars,
    ) -> Option<Said> {
        let names = self.names(field);
        let mut vars = self.step(field, slot, a, b);
        vars.extend(self.base(field, &names, who));
        vars.extend(more);
        if self.is_reading(field) {
            return self.say(field, &["remeasured"], &[], &vars);
        }
        if field.role == Role::Described || self.recounted(field) {
            return self.say(field, &["described"], &[], &vars);
        }
        // What is held for about nothing is not told as gone: those sentences do not say the number.
        let unsure = self.new.is_doubtful(&field.key, slot) || self.old.is_doubtful(&field.key, slot);
        let mut situations: Vec<&str> = match (a == Num::ZERO, b == Num::ZERO) {
            (true, _) if unsure => vec!["away"],
            (_, true) if unsure => vec!["toward"],
            (true, _) if !matches!(who, Who::Side(_)) => vec!["from_zero", "away"],
            (_, true) if !matches!(who, Who::Side(_)) => vec!["to_zero", "toward"],
            (true, _) => vec!["away"],
            (_, true) => vec!["toward"],
            _ if (a > Num::ZERO) != (b > Num::ZERO) => vec!["through"],
            _ if b.abs() > a.abs() => vec!["away"],
            _ => vec!["toward"],
        };
        let by = self.turn(field).map(|t| format!("by_{}", t.by));
        situations.extend(by.as_deref());
        let (one, brief) = match who {
            Who::Side(_) => ("side", "brief_side"),
            Who::Both => ("both", "brief_both"),
            _ => ("change", "brief"),
        };
        situations.extend([one, "change"]);
        self.say(field, &situations, &[brief, "brief"], &vars)
    }

    /// A choice, a name, a text or a flag that changed.
    pub(super) fn words(&self, field: &Field, who: Who, a: &Scalar, b: &Scalar, more: Vars) -> Option<Said> {
        let names = self.names(field);
        let kind = self.schema.kind(field);
        let mut vars = self.base(field, &names, who);
        let shown = |s: &Scalar| show::bare(self.schema, field, None, s);
        vars.extend([("old", shown(a)), ("new", shown(b)), ("value", shown(b))]);
        if let Some(on) = b.flag() {
            vars.insert("word", if on { kind.more.clone() } else { kind.less.clone() });
        }
        vars.extend(more);
        let texts = (a.text().unwrap_or_default(), b.text().unwrap_or_default());
        if self.by_line(field, texts.0, texts.1) {
            return self.note(field, texts.0, texts.1);
        }
        if self.is_reading(field) {
            return self.say(field, &["remeasured"], &[], &vars);
        }
        let mut situations = Vec::new();
        let whole = !matches!(who, Who::Side(_));
        if whole && a.text() == Some("none") {
            situations.push("fitted");
        }
        if whole && b.text() == Some("none") {
            situations.push("removed");
        }
        if whole {
            situations.push("swap");
        }
        if vars.get("rest") == vars.get("new") {
            situations.push("side_alike");
        }
        let (one, brief) = match who {
            Who::Side(_) => ("side", "brief_side"),
            Who::Both => ("both", "brief_both"),
            _ => ("change", "brief"),
        };
        situations.extend([one, "change"]);
        self.say(field, &situations, &[brief, "brief"], &vars)
    }

    /// Notes, and any text of several lines, are told line by line.
    pub(super) fn by_line(&self, field: &Field, old: &str, new: &str) -> bool {
        let lines = old.trim_end().contains('\n') || new.trim_end().contains('\n');
        self.schema.kind(field).id == "text" && (field.group == "note" || lines)
    }

    pub(super) fn note(&self, field: &Field, old: &str, new: &str) -> Option<Said> {
        let (line, count) = notes::summary(old, new);
        let mut vars = self.base(field, &self.names(field), Who::One);
        vars.extend([("new", line), ("count", count)]);
        self.say(field, &["note"], &[], &vars)
    }
}
