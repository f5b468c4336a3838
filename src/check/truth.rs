//! Conditions over what is known: yes, no, or cannot tell for want of a number.

use crate::figures::{Cannot, Figure, Given, Input, Missing, SIDES, Why, figures_named, is_figure};
use crate::schema::{Compare, Expr, Num, Scalar, Term, Value, short_label};
use std::collections::BTreeMap;

/// What a condition comes to.
#[derive(Debug, Clone, PartialEq)]
pub enum Truth {
    /// It holds.
    Yes,
    /// It does not.
    No,
    /// Nobody can tell: these are missing, or the numbers have no answer for these reasons.
    Unknown(Vec<Missing>, Vec<String>),
}

impl Truth {
    fn of(holds: bool) -> Truth {
        if holds { Truth::Yes } else { Truth::No }
    }

    fn not(self) -> Truth {
        match self {
            Truth::Yes => Truth::No,
            Truth::No => Truth::Yes,
            unknown => unknown,
        }
    }

    fn cannot(why: Cannot) -> Truth {
        match why {
            Cannot::NotHere => Truth::No,
            Cannot::Missing(all) => Truth::Unknown(all, Vec::new()),
            Cannot::Because(why) => Truth::Unknown(Vec::new(), vec![why]),
        }
    }

    /// All of them: one that does not hold decides, whatever is missing to the others.
    pub(super) fn all(parts: impl Iterator<Item = Truth>) -> Truth {
        Truth::joined(parts, Truth::No, Truth::Yes)
    }

    /// One of them: one that holds decides.
    pub(super) fn any(parts: impl Iterator<Item = Truth>) -> Truth {
        Truth::joined(parts, Truth::Yes, Truth::No)
    }

    fn joined(parts: impl Iterator<Item = Truth>, decides: Truth, else_is: Truth) -> Truth {
        let (mut missing, mut why): (Vec<Missing>, Vec<String>) = (Vec::new(), Vec::new());
        let mut unknown = false;
        for part in parts {
            match part {
                Truth::Unknown(m, w) => {
                    unknown = true;
                    m.into_iter().for_each(|m| {
                        if !missing.contains(&m) {
                            missing.push(m);
                        }
                    });
                    why.extend(w);
                }
                part if part == decides => return decides,
                _ => {}
            }
        }
        if unknown { Truth::Unknown(missing, why) } else { else_is }
    }
}

/// A scalar of a field, or why it cannot be had; one a slot.
type Scalars = Vec<Result<Scalar, Cannot>>;

/// Numbers, one a side.
type Numbers = Vec<Result<f64, Cannot>>;

/// Judges conditions and notes what they looked at.
pub(super) struct Looking<'a, 'g> {
    given: &'a Given<'g>,
    limits: &'a BTreeMap<String, Num>,
    /// The side that is looked at.
    side: Option<usize>,
    /// What was looked at, once each.
    pub inputs: Vec<Input>,
    /// What was assumed in figures that were looked at.
    pub assumed: Vec<String>,
}

impl<'a, 'g> Looking<'a, 'g> {
    pub fn new(given: &'a Given<'g>, limits: &'a BTreeMap<String, Num>) -> Looking<'a, 'g> {
        Looking { given, limits, side: None, inputs: Vec::new(), assumed: Vec::new() }
    }

    /// What a condition comes to: of values each side it holds when it holds of one side, with every value of that side.
    pub fn at(&mut self, expr: &Expr) -> Truth {
        let sides = expr.names().iter().any(|n| self.has_sides(n));
        if !sides {
            return self.of_side(expr);
        }
        let each: Vec<Truth> = [0, 1]
            .into_iter()
            .map(|side| {
                self.side = Some(side);
                self.of_side(expr)
            })
            .collect();
        self.side = None;
        Truth::any(each.into_iter())
    }

    /// A value of left and right.
    fn has_sides(&self, name: &str) -> bool {
        let field = self.given.schema.field(name).is_some_and(|f| f.slots.len() == 2 && f.slots[0].id == SIDES[0]);
        field || (!name.contains('.') && figures_named(self.given, name).len() == 2)
    }

    /// Of two sides the one that is looked at.
    fn one_side<T>(&self, all: Vec<T>) -> Vec<T> {
        match (self.side, all.len()) {
            (Some(side), 2) => all.into_iter().nth(side).into_iter().collect(),
            _ => all,
        }
    }

    fn of_side(&mut self, expr: &Expr) -> Truth {
        match expr {
            // All parts are looked at, so that all that is missing is named.
            Expr::And(all) => {
                let parts: Vec<Truth> = all.iter().map(|e| self.of_side(e)).collect();
                Truth::all(parts.into_iter())
            }
            Expr::Or(all) => {
                let parts: Vec<Truth> = all.iter().map(|e| self.of_side(e)).collect();
                Truth::any(parts.into_iter())
            }
            Expr::Not(e) => self.of_side(e).not(),
            Expr::Number(a, compare, b) => self.compared(a, *compare, b),
            Expr::Is(key, words, wanted) => {
                let scalars = self.scalars(key);
                let each = self.one_side(scalars).into_iter().map(|s| match s {
                    Ok(s) => Truth::of(says(&s, words) == *wanted),
                    Err(why) => Truth::cannot(why),
                });
                Truth::any(each)
            }
            Expr::OnRecord(name, wanted) => {
                let there = match self.figures(name) {
                    Some(figures) => figures.iter().any(|f| f.value.is_ok()),
                    None => self.given.schema.locate(name).is_some_and(|(f, slot)| {
                        let value = self.given.sheet.get(&f.key);
                        value.is_some_and(|v| slot.is_none_or(|i| v.slot(i).is_some()))
                    }),
                };
                Truth::of(there == *wanted)
            }
            Expr::Moved(key) => match self.given.value(key, None) {
                Ok(_) => Truth::No,
                Err(Cannot::NotHere) => Truth::No,
                Err(_) if self.given.stale_of(key).is_some() => {
                    self.note_stale(key);
                    Truth::Yes
                }
                Err(why) => Truth::cannot(why),
            },
            Expr::Turned(key) => {
                let turned = self.given.runs.turned.as_ref();
                Truth::of(turned.is_some_and(|all| all.contains(key)))
            }
        }
    }

    fn compared(&mut self, a: &Term, compare: Compare, b: &Term) -> Truth {
        let (a, b) = (self.numbers(a), self.numbers(b));
        let each = (0..a.len().max(b.len())).map(|i| {
            // One number stands for both sides.
            let side = |all: &Numbers| all.get(i).or(all.first()).cloned().unwrap_or(Err(Cannot::NotHere));
            match (side(&a), side(&b)) {
                (Ok(x), Ok(y)) => Truth::of(compare.holds(x, y)),
                (Err(Cannot::NotHere), _) | (_, Err(Cannot::NotHere)) => Truth::No,
                (x, y) => Truth::all([x, y].into_iter().filter_map(Result::err).map(Truth::cannot)),
            }
        });
        Truth::any(each)
    }

    fn numbers(&mut self, term: &Term) -> Numbers {
        match term {
            Term::Number(x) => vec![Ok(*x)],
            Term::Name(name) => {
                let named = self.named(name);
                self.one_side(named)
            }
            Term::Abs(t) => self.numbers(t).into_iter().map(|x| x.map(f64::abs)).collect(),
            Term::Spread(key) => match self.named(key).as_slice() {
                [Ok(a), Ok(b)] => vec![Ok((a - b).abs())],
                [Err(Cannot::Missing(a)), Err(Cannot::Missing(b))] => {
                    vec![Err(Cannot::Missing([&a[..], &b[..]].concat()))]
                }
                [Err(why), _] | [_, Err(why)] => vec![Err(why.clone())],
                [one] => vec![one.clone().map(|_| 0.0)],
                _ => vec![Err(Cannot::NotHere)],
            },
            Term::Plus(a, b) | Term::Minus(a, b) => {
                let sign = if matches!(term, Term::Plus(..)) { 1.0 } else { -1.0 };
                let (a, b) = (self.numbers(a), self.numbers(b));
                let side =
                    |all: &Numbers, i: usize| all.get(i).or(all.first()).cloned().unwrap_or(Err(Cannot::NotHere));
                (0..a.len().max(b.len())).map(|i| Ok(side(&a, i)? + sign * side(&b, i)?)).collect()
            }
        }
    }

    /// A limit, a figure or a field.
    fn named(&mut self, name: &str) -> Numbers {
        if let Some(limit) = self.limits.get(name) {
            return vec![Ok(limit.to_f64())];
        }
        if let Some(figures) = self.figures(name) {
            return figures.into_iter().map(|f| f.value).collect();
        }
        let number = |s: Result<Scalar, Cannot>| {
            s.and_then(|s| s.num().map(Num::to_f64).ok_or_else(|| Cannot::Because(format!("{name} is no number"))))
        };
        self.scalars(name).into_iter().map(number).collect()
    }

    /// The figures of a name without a dot, noted; none for what is no figure.
    fn figures(&mut self, name: &str) -> Option<Vec<Figure>> {
        if name.contains('.') || !is_figure(name) {
            return None;
        }
        let figures = figures_named(self.given, name);
        for figure in &figures {
            let side = figure.side.map(|i| format!(", {}", SIDES[i])).unwrap_or_default();
            self.note(Input {
                name: figure.full_name(),
                label: format!("{}{side}", figure.def.label),
                value: figure.value.as_ref().ok().copied(),
                words: None,
                unit: figure.def.unit.to_owned(),
                since: None,
                what_if: false,
            });
            figure.inputs.iter().for_each(|i| self.note(i.clone()));
            for words in &figure.assumed {
                if !self.assumed.contains(words) {
                    self.assumed.push(words.clone());
                }
            }
        }
        Some(figures)
    }

    fn scalars(&mut self, path: &str) -> Scalars {
        let given = self.given;
        let Some((field, slot)) = given.schema.locate(path) else {
            return vec![Err(Cannot::Because(format!("`{path}` is no field and no figure")))];
        };
        let slots: Vec<Option<usize>> = match slot {
            Some(i) => vec![Some(i)],
            None if field.slots.is_empty() => vec![None],
            None => (0..field.slots.len()).map(Some).collect(),
        };
        let mut out = Vec::new();
        for slot in slots {
            let path = given.schema.path(field, slot);
            let got = given.value(&path, None).and_then(|(slots, value)| {
                let scalar = match (&value, slots.first()) {
                    (Value::One(s), _) => Some(s.clone()),
                    (value, Some(i)) => value.slot(*i).cloned(),
                    _ => None,
                };
                scalar.ok_or_else(|| Cannot::Because(format!("{path} is no single value")))
            });
            if let Ok(scalar) = &got {
                let side = slot.and_then(|i| field.slot_list().get(i)).and_then(|s| s.label.clone());
                self.note(Input {
                    name: path.clone(),
                    label: side.map_or_else(
                        || short_label(&field.label).to_owned(),
                        |s| format!("{}, {s}", short_label(&field.label)),
                    ),
                    value: scalar.num().map(Num::to_f64),
                    words: scalar.num().is_none().then(|| scalar.to_string()),
                    unit: field.unit_of(slot).unwrap_or_default().to_owned(),
                    since: given.since.get(&field.key).copied(),
                    what_if: given.what_if.contains(&field.key),
                });
            }
            out.push(got);
        }
        out
    }

    /// A value that something moved: what it was and when.
    fn note_stale(&mut self, key: &str) {
        if let Err(Cannot::Missing(all)) = self.given.value(key, None) {
            for m in all {
                let Why::Stale { was, since } = m.why else { continue };
                self.note(Input {
                    name: m.name,
                    label: m.label,
                    value: None,
                    words: Some(format!("was {was}; what moves it was changed since")),
                    unit: String::new(),
                    since: Some(since),
                    what_if: false,
                });
            }
        }
    }

    fn note(&mut self, input: Input) {
        if !self.inputs.contains(&input) {
            self.inputs.push(input);
        }
    }
}

/// Whether a plain value is these words.
fn says(scalar: &Scalar, words: &str) -> bool {
    match scalar {
        Scalar::Text(t) => t == words,
        Scalar::Flag(f) => (if *f { "yes" } else { "no" }) == words,
        Scalar::Num(n) => Num::parse(words) == Some(*n),
    }
}
