//! One step of a number: how far, which way, in holes, flats and inches.

use super::story::{Story, Vars};
use super::{numbers, show};
use crate::schema::{Condition, EntryContext, Field, Num, Scalar, Sheet, Sides, Turn, about, counted_from_stiff};

impl Story<'_> {
    /// The values a sentence about a step from `a` to `b` may use.
    pub(super) fn step(&self, field: &Field, slot: Option<usize>, a: Num, b: Num) -> Vars {
        let kind = self.schema.kind(field);
        let mut vars = Vars::new();
        let d = (b - a).abs();
        let fractions =
            |x: Num, y: Num| kind.fractions.then(|| numbers::fraction(x).zip(numbers::fraction(y))).flatten();
        let shown = |x: Num, y: Num| fractions(x, y).unwrap_or_else(|| numbers::both(field, slot, x, y));
        let (old, new) = shown(a, b);
        let (old_abs, new_abs) = shown(a.abs(), b.abs());
        let size = match kind.fractions.then(|| numbers::fraction(d)).flatten() {
            Some(text) => text,
            None if kind.spelled && d.is_int() => numbers::spelled(d),
            None => numbers::size(field, slot, d),
        };
        let unit = |n: Num, text: &str| numbers::with_unit(self.schema, field, slot, n, text);
        let n_unit = unit(d, &size);
        let n = if kind.bare { size.clone() } else { n_unit.clone() };
        vars.insert("by", if b.abs() + b.abs() == a.abs() { "by half".to_owned() } else { format!("by {n}") });
        vars.insert("old_size", unit(a.abs(), &old_abs));
        vars.insert("new_size", unit(b.abs(), &new_abs));
        vars.insert("n_plain", unit(d, &d.show(0, 4)));
        vars.insert("value", show::show(self.schema, field, slot, &Scalar::Num(b)));
        vars.insert("bare", new.clone());
        let texts = [("n", n), ("n_unit", n_unit), ("count", size), ("old", old), ("new", new), ("old_abs", old_abs)];
        vars.extend(texts);
        vars.insert("new_abs", new_abs);
        let stiff = kind.id == "clicks" && self.counts_from_stiff(self.new, field);
        let more = (b > a) != stiff;
        let short = if more { &kind.short_more } else { &kind.short_less };
        let word = if more { &kind.more } else { &kind.less };
        vars.insert("word", word.clone());
        vars.insert("short", short.as_ref().unwrap_or(word).clone());
        vars.insert("in_out", if more { "in" } else { "out" }.to_owned());
        let pole = |n: Num| {
            if n > Num::ZERO { kind.plus.as_ref() } else { kind.minus.as_ref().filter(|_| n < Num::ZERO) }
        };
        for (name, pole) in [("pole", pole(b)), ("old_pole", pole(a)), ("way", pole(b - a))] {
            if let Some(pole) = pole {
                vars.insert(name, pole.clone());
            }
        }
        let turn = self.turn(field);
        let extras = [
            ("effect", numbers::effect(field, a, b)),
            ("travel", self.travel(field, turn, a, b)),
            ("turned", self.counted(field, turn, d)),
            // A wrench's flat is worth hundredths: more decimals would say more than the hand knows.
            ("inches", Some(d.round(2)).filter(|n| *n != Num::ZERO).map(|n| unit(n, &n.fixed(2)))),
        ];
        vars.extend(extras.into_iter().filter_map(|(name, text)| Some((name, text?))));
        self.unsure_step(field, slot, &mut vars);
        vars
    }

    /// A step from or to a value in doubt says so, and nothing is computed from it.
    fn unsure_step(&self, field: &Field, slot: Option<usize>, vars: &mut Vars) {
        if matches!(field.sides, Sides::List | Sides::Rows) || !self.unsure(field) {
            return;
        }
        let unsure = |sheet: &Sheet| sheet.is_doubtful(&field.key, slot);
        let (was, is) = (unsure(self.old), unsure(self.new));
        let of_old: &[&str] = if was { &["old", "old_abs", "old_size"] } else { &[] };
        let of_new: &[&str] = if is { &["value", "bare", "new", "new_abs", "new_size"] } else { &[] };
        let of_step: &[&str] = if was || is { &["n", "n_unit", "n_plain", "count"] } else { &[] };
        for name in of_old.iter().chain(of_new).chain(of_step) {
            if let Some(text) = vars.get_mut(name) {
                *text = about(std::mem::take(text), true);
            }
        }
        if was || is {
            ["effect", "travel", "turned", "inches", "by"].iter().for_each(|name| drop(vars.remove(name)));
        }
    }

    /// How the hand turns it now.
    pub(super) fn turn<'f>(&self, field: &'f Field) -> Option<&'f Turn> {
        let holds = |when: &str| Condition::parse(when).is_ok_and(|c| c.holds(self.new));
        field.turn.iter().find(|t| t.when.as_deref().is_none_or(holds))
    }

    /// Whole flats or turns of a screw whose pitch is known: "2 flats".
    fn counted(&self, field: &Field, turn: Option<&Turn>, d: Num) -> Option<String> {
        let turn = turn.filter(|t| field.unit.as_deref() != Some(t.by.as_str()))?;
        let threads = self.num(turn.threads.as_deref()?)?.to_f64();
        let per_turn = match turn.by.as_str() {
            "flats" => 6.0,
            "turns" => 1.0,
            _ => return None,
        };
        let count = d.to_f64() * threads * per_turn;
        let whole = Num::from_f64(count.round())?;
        if (count - count.round()).abs() > 0.1 || whole < Num::int(1) {
            return None;
        }
        Some(format!("{whole} {}", self.schema.units.get(&turn.by)?.word(whole)))
    }

    /// What the holes are worth: from their spacing, or from the height that follows them.
    fn travel(&self, field: &Field, turn: Option<&Turn>, a: Num, b: Num) -> Option<String> {
        let turn = turn.filter(|t| t.by == "hole")?;
        let spaced = turn.spacing.as_deref().and_then(|k| Some((self.schema.locate(k)?.0, self.num(k)?)));
        let (of, d) = match spaced {
            Some((of, spacing)) => (of, Num::from_f64(spacing.to_f64() * (b - a).to_f64())?),
            None => {
                let of = self.schema.fields.iter().find(|f| f.follows.as_deref() == Some(&field.key))?;
                let step = self.new.num(&of.key)? - self.old.num(&of.key)?;
                (of, Some(step).filter(|s| *s != Num::ZERO && (*s > Num::ZERO) == (b > a))?)
            }
        };
        Some(numbers::with_unit(self.schema, of, None, d.abs(), &numbers::size(of, None, d)))
    }

    /// A number on either sheet, the newer first.
    pub(super) fn num(&self, path: &str) -> Option<Num> {
        self.schema.num_at(self.new, path).or_else(|| self.schema.num_at(self.old, path))
    }

    fn counts_from_stiff(&self, sheet: &Sheet, field: &Field) -> bool {
        counted_from_stiff(EntryContext { schema: self.schema, chassis: &[], sheet }, field)
    }

    /// The clicks were counted from the other end before: their numbers do not compare.
    pub(super) fn recounted(&self, field: &Field) -> bool {
        self.schema.kind(field).id == "clicks"
            && self.counts_from_stiff(self.old, field) != self.counts_from_stiff(self.new, field)
    }
}
