//! Several values of one field: both alike, one side, sides that differ, swapped, made equal; corners and named slots.

use super::show;
use super::story::{Said, Story, Vars, Who};
use crate::schema::{Field, Num, Role, Scalar, Sheet, Sides, about};

type Slots = [Option<Scalar>];

impl Story<'_> {
    pub(super) fn slots(&self, field: &Field, a: &Slots, b: &Slots) -> Option<Said> {
        let changed: Vec<usize> = (0..a.len()).filter(|i| a[*i] != b[*i]).collect();
        let (was, is) = (self.old.doubt(&field.key), self.new.doubt(&field.key));
        let of_doubt = |i: &usize| was.contains(i) != is.contains(i);
        let held: Vec<usize> = (0..a.len()).filter(|i| !changed.contains(i)).filter(of_doubt).collect();
        let uneven =
            matches!(changed[..], [x, y] if was.contains(&x) != was.contains(&y) || is.contains(&x) != is.contains(&y));
        let alike = a.first() == a.get(1) && b.first() == b.get(1);
        let one_tale = !self.unsure(field) || (held.is_empty() && !uneven && (changed.len() == 1 || alike));
        if held.is_empty() && changed.iter().all(|i| a[*i].is_none()) {
            return self.first(field, &only(b, &changed));
        }
        if held.is_empty() && changed.iter().all(|i| b[*i].is_none()) {
            return self.gone(field, &only(a, &changed));
        }
        if changed.iter().any(|i| a[*i].is_none() || b[*i].is_none()) {
            return self.pieces(field, a, b, &[changed, held].concat());
        }
        if !self.unsure(field)
            && !field.groups.is_empty()
            && let Some(said) = self.grouped(field, &numbers(a), &numbers(b))
        {
            return Some(said);
        }
        if self.is_reading(field) {
            return self.whole(field, "remeasured", a, b);
        }
        let numbers = a.iter().chain(b).flatten().all(|s| s.num().is_some());
        if numbers && field.sides != Sides::Named && (field.role == Role::Described || self.recounted(field)) {
            return self.whole(field, "described", a, b);
        }
        match (field.sides, changed.as_slice()) {
            _ if !one_tale => self.pieces(field, a, b, &[changed, held].concat()),
            (Sides::Pair, [i]) => self.one_side(field, *i, a, b),
            (Sides::Pair, [_, _]) => self.both_sides(field, a, b),
            (Sides::Corners, [i]) => self.scalar(field, Who::Side(*i), Some(*i), a[*i].as_ref()?, b[*i].as_ref()?),
            _ => self.pieces(field, a, b, &changed),
        }
    }

    fn one_side(&self, field: &Field, i: usize, a: &Slots, b: &Slots) -> Option<Said> {
        let mut more = Vars::new();
        if let Some(rest) = b.get(1 - i.min(1)).and_then(Option::as_ref) {
            more.insert("rest", show::bare(self.schema, field, None, rest));
        }
        match (a[i].as_ref()?, b[i].as_ref()?) {
            (Scalar::Num(x), Scalar::Num(y)) => self.number(field, Who::Side(i), Some(i), *x, *y, more),
            (x, y) => self.words(field, Who::Side(i), x, y, more),
        }
    }

    fn both_sides(&self, field: &Field, a: &Slots, b: &Slots) -> Option<Said> {
        let [Some(a0), Some(a1)] = a else { return None };
        let [Some(b0), Some(b1)] = b else { return None };
        if (a0, b0) == (a1, b1) {
            return self.scalar(field, Who::Both, Some(0), a0, b0);
        }
        let mut vars = self.base(field, &self.names(field), Who::Spread);
        let bare = |s: &Scalar| show::bare(self.schema, field, Some(0), s);
        vars.extend([("left_old", bare(a0)), ("right_old", bare(a1)), ("left_new", bare(b0)), ("right_new", bare(b1))]);
        vars.extend([("value", show::show(self.schema, field, Some(0), b0)), ("new", bare(b0))]);
        if let (Some(l), Some(r)) = (b0.flag(), b1.flag()) {
            let kind = self.schema.kind(field);
            let word = |on: bool| {
                if on { kind.more.clone() } else { kind.less.clone() }
            };
            vars.extend([("left_word", word(l)), ("right_word", word(r)), ("word", word(l))]);
            return self.say(field, if l == r { &["equal"] } else { &["differ"] }, &[], &vars);
        }
        if b0 == a1 && b1 == a0 {
            return self.say(field, &["swapped"], &[], &vars);
        }
        if b0 == b1 {
            return self.say(field, &["equal"], &[], &vars);
        }
        let (Some(x0), Some(x1), Some(y0), Some(y1)) = (a0.num(), a1.num(), b0.num(), b1.num()) else {
            return self.say(field, &["differ"], &[], &vars);
        };
        self.apart(field, vars, [(x0, y0), (x1, y1)])
    }

    fn apart(&self, field: &Field, mut vars: Vars, steps: [(Num, Num); 2]) -> Option<Said> {
        let [(x0, y0), (x1, y1)] = steps;
        let (left, right) = (self.step(field, Some(0), x0, y0), self.step(field, Some(1), x1, y1));
        let signs = |n: Num| (n > Num::ZERO, n < Num::ZERO);
        if y0 - x0 == y1 - x1 && [x0, x1, y0, y1].iter().all(|n| signs(*n) == signs(x0)) {
            // One step from two places: "12.0/12.5 -> 11.5/12.0".
            let two = |name: &str| Some(format!("{}/{}", left.get(name)?, right.get(name)?));
            let more = [("old", two("old")?), ("new", two("new")?)];
            return self.number(field, Who::Both, Some(0), x0, y0, Vars::from(more));
        }
        let names: [[&'static str; 5]; 2] = [
            ["left_n", "left_word", "left_count", "left_short", "left_way"],
            ["right_n", "right_word", "right_count", "right_short", "right_way"],
        ];
        for (side, names) in [&left, &right].into_iter().zip(names) {
            for (name, of) in names.into_iter().zip(["n", "word", "count", "short", "way"]) {
                if let Some(text) = side.get(of) {
                    vars.insert(name, text.clone());
                }
            }
        }
        vars.insert("word", left.get("word").cloned().unwrap_or_default());
        let same = (y0 > x0) == (y1 > x1);
        self.say(field, if same { &["alike"] } else { &["apart"] }, &["brief_differ"], &vars)
    }

    /// Slot by slot under one head.
    fn pieces(&self, field: &Field, a: &Slots, b: &Slots, changed: &[usize]) -> Option<Said> {
        let names = self.names(field);
        let who = if field.sides == Sides::Pair { Who::Spread } else { Who::One };
        let piece = |i: usize| {
            let label = show::label(field, i).to_owned();
            let unsure = |sheet: &Sheet| sheet.is_doubtful(&field.key, Some(i));
            let (situation, mut vars) = match (&a[i], &b[i]) {
                (Some(x), Some(y)) if x == y => {
                    let unsure = unsure(self.new);
                    let value = about(show::show(self.schema, field, Some(i), y), unsure);
                    (if unsure { "piece_doubted" } else { "piece_confirmed" }, Vars::from([("value", value)]))
                }
                (Some(Scalar::Num(x)), Some(Scalar::Num(y))) => ("piece", self.step(field, Some(i), *x, *y)),
                (old, new) => {
                    let shown = |s: &Option<Scalar>, sheet| {
                        let text = show::show(self.schema, field, Some(i), s.as_ref()?);
                        Some(about(text, unsure(sheet)))
                    };
                    let mut vars = Vars::new();
                    vars.extend(shown(old, self.old).map(|t| ("old", t)));
                    vars.extend(shown(new, self.new).map(|t| ("new", t)));
                    vars.extend(shown(new, self.new).map(|t| ("value", t)));
                    let situation = match (old, new) {
                        (None, _) => "piece_first",
                        (_, None) => "piece_gone",
                        _ => "piece_words",
                    };
                    (situation, vars)
                }
            };
            vars.insert("label", label);
            self.say(field, &[situation], &[], &vars).map(|s| s.text)
        };
        let said: Vec<String> = changed.iter().filter_map(|i| piece(*i)).collect();
        let reading = if self.is_reading(field) { "re-measured: " } else { "" };
        let head = self.base(field, &names, who).remove("record")?;
        let brief = match said.as_slice() {
            [one] => super::subject::shorten(&format!("{reading}{head}: {one}"), &[]),
            _ => format!("{reading}{head} changed"),
        };
        Some(Said { text: format!("{reading}{head}: {}", said.join(", ")), brief, ..Said::default() })
    }
}

fn only(values: &Slots, keep: &[usize]) -> crate::schema::Value {
    let one = |(i, s): (usize, &Option<Scalar>)| if keep.contains(&i) { s.clone() } else { None };
    crate::schema::Value::Slots(values.iter().enumerate().map(one).collect())
}

fn numbers(values: &Slots) -> Vec<Option<Num>> {
    values.iter().map(|s| s.as_ref().and_then(Scalar::num)).collect()
}
