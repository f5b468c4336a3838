//! Asking for the inputs of a figure: each is recorded, and what cannot be had is named.

use super::{Def, Figure, FromRuns, Given, Of, definition};
use crate::schema::{Scalar, Value, short_label as short};
use crate::slip::Moment;
use std::cell::RefCell;
use std::collections::HashMap;

/// Why an input cannot be had.
#[derive(Debug, Clone, PartialEq)]
pub enum Why {
    /// It is not on record.
    NotOnRecord,
    /// It was taken before something that moves it was turned.
    Stale {
        /// What it was.
        was: String,
        /// When what moves it was turned first.
        since: Moment,
    },
    /// It is held for "about" so.
    Doubtful,
    /// No run says it.
    NoRun,
}

/// A measurement that is missing.
#[derive(Debug, Clone, PartialEq)]
pub struct Missing {
    /// Field, or number of a run.
    pub name: String,
    /// What a racer calls it, with its side.
    pub label: String,
    /// The same without the side: what is measured at once.
    pub whole: String,
    /// Why it cannot be had.
    pub why: Why,
    /// With what it is taken.
    pub tool: Option<String>,
    /// Pit minutes it takes.
    pub minutes: Option<u32>,
}

/// Why there is no figure.
#[derive(Debug, Clone, PartialEq)]
pub enum Cannot {
    /// It says nothing of this car.
    NotHere,
    /// These are missing; the first is the one to take first.
    Missing(Vec<Missing>),
    /// The numbers have no answer, with the reason.
    Because(String),
}

/// What a figure was computed from.
#[derive(Debug, Clone, PartialEq)]
pub struct Input {
    /// Field, figure or number of a run.
    pub name: String,
    /// What a racer calls it.
    pub label: String,
    /// Its number.
    pub value: Option<f64>,
    /// Its words, where it is no number.
    pub words: Option<String>,
    /// Unit.
    pub unit: String,
    /// When it came on record.
    pub since: Option<Moment>,
    /// It was given in `--with`.
    pub what_if: bool,
}

pub(super) type Got<T> = Result<T, Cannot>;

/// Figures that were computed already, for figures rest on each other.
#[derive(Default)]
pub struct Memory(RefCell<HashMap<(&'static str, Option<usize>), Figure>>);

/// Computes a figure, once.
pub(super) fn figure(def: &'static Def, side: Option<usize>, given: &Given) -> Figure {
    let memory = &given.memory;
    if let Some(known) = memory.0.borrow().get(&(def.name, side)) {
        return known.clone();
    }
    let mut ask = Ask { given, side, inputs: Vec::new(), assumed: Vec::new() };
    let (Of::One(of) | Of::Side(of)) = def.of;
    let value = of(&mut ask).and_then(|x| {
        let no_number = || Cannot::Because("the numbers on record have no answer".to_owned());
        if x.is_finite() { Ok(x) } else { Err(no_number()) }
    });
    let figure = Figure { def, side, value, inputs: ask.inputs, assumed: ask.assumed };
    memory.0.borrow_mut().insert((def.name, side), figure.clone());
    figure
}

/// What a figure's function is handed.
pub(super) struct Ask<'a, 'g> {
    given: &'a Given<'g>,
    side: Option<usize>,
    inputs: Vec<Input>,
    assumed: Vec<String>,
}

impl<'g> Ask<'_, 'g> {
    /// What it asks of.
    pub fn given(&self) -> &Given<'g> {
        self.given
    }

    /// The side that is computed, 0 left, 1 right; of the whole car 0.
    pub fn side(&self) -> usize {
        self.side.unwrap_or(0)
    }

    /// Numbers of fields (names with a dot) and figures. All that are missing are named at once.
    pub fn nums<const N: usize>(&mut self, names: [&'static str; N]) -> Got<[f64; N]> {
        let mut out = [0.0; N];
        let mut missing: Vec<Missing> = Vec::new();
        for (to, name) in out.iter_mut().zip(names) {
            match self.num(name) {
                Ok(x) => *to = x,
                Err(Cannot::Missing(more)) => more
                    .into_iter()
                    .filter(|m| !missing.contains(m))
                    .collect::<Vec<_>>()
                    .into_iter()
                    .for_each(|m| missing.push(m)),
                Err(other) => return Err(other),
            }
        }
        if missing.is_empty() { Ok(out) } else { Err(Cannot::Missing(missing)) }
    }

    /// The same, of numbers that must be above 0.
    pub fn above_zero<const N: usize>(&mut self, names: [&'static str; N]) -> Got<[f64; N]> {
        let out = self.nums(names)?;
        match out.iter().zip(names).find(|(x, _)| **x <= 0.0) {
            Some((x, name)) => Err(Cannot::Because(format!("{} is {x}", self.label(name)))),
            None => Ok(out),
        }
    }

    /// What a name is called.
    fn label(&self, name: &str) -> String {
        let figure = || definition(name, self.given.chassis).map(|d| d.label.to_owned());
        let field = self.given.schema.locate(name).map(|(f, _)| short(&f.label).to_owned());
        field.or_else(figure).unwrap_or_else(|| name.to_owned())
    }

    /// A number of a field or a figure: of the side that is computed; of the whole car the middle of both sides.
    pub fn num(&mut self, name: &'static str) -> Got<f64> {
        if name.contains('.') { self.field(name) } else { self.figure(name) }
    }

    fn figure(&mut self, name: &'static str) -> Got<f64> {
        let def = definition(name, self.given.chassis).ok_or(Cannot::NotHere)?;
        let sides: Vec<Option<usize>> = match (def.of, self.side) {
            (Of::One(_), _) => vec![None],
            (Of::Side(_), Some(side)) => vec![Some(side)],
            (Of::Side(_), None) => vec![Some(0), Some(1)],
        };
        let mut sum = 0.0;
        for side in &sides {
            let figure = figure(def, *side, self.given);
            self.assume_all(&figure.assumed);
            match figure.value {
                Ok(x) => sum += x,
                Err(why) => {
                    // What it was found in is told as if it had been asked here.
                    self.take(figure.inputs);
                    return Err(why);
                }
            }
        }
        let value = sum / sides.len() as f64;
        self.take(vec![Input {
            name: name.to_owned(),
            label: def.label.to_owned(),
            value: Some(value),
            words: None,
            unit: def.unit.to_owned(),
            since: None,
            what_if: false,
        }]);
        Ok(value)
    }

    fn take(&mut self, inputs: Vec<Input>) {
        for input in inputs {
            if !self.inputs.contains(&input) {
                self.inputs.push(input);
            }
        }
    }

    fn field(&mut self, path: &'static str) -> Got<f64> {
        let (slots, value) = self.given.value(path, self.side)?;
        let nums: Vec<f64> = match (&value, slots.as_slice()) {
            (Value::One(Scalar::Num(n)), _) => vec![n.to_f64()],
            (value, slots) => {
                slots.iter().filter_map(|i| value.slot(*i)?.num()).map(crate::schema::Num::to_f64).collect()
            }
        };
        if nums.is_empty() {
            return Err(Cannot::Because(format!("{path} is no number")));
        }
        let mean = nums.iter().sum::<f64>() / nums.len() as f64;
        self.record(path, Some(mean), None);
        Ok(mean)
    }

    fn record(&mut self, path: &str, value: Option<f64>, words: Option<String>) {
        let Some((field, slot)) = self.given.schema.locate(path) else { return };
        let slot_label = slot.and_then(|i| field.slot_list().get(i)).and_then(|s| s.label.clone());
        let label = short(&field.label);
        self.take(vec![Input {
            name: path.to_owned(),
            label: slot_label.map_or(label.to_owned(), |s| format!("{label}, {s}")),
            value,
            words,
            unit: field.unit_of(slot).unwrap_or_default().to_owned(),
            since: self.given.since.get(&field.key).copied(),
            what_if: self.given.what_if.contains(&field.key),
        }]);
    }

    /// The words of a choice, yes or no, or a text.
    pub fn text(&mut self, key: &'static str) -> Got<String> {
        let (slots, value) = self.given.value(key, self.side)?;
        let scalar = value.one().or_else(|| value.slot(*slots.first()?));
        let words = scalar.map(ToString::to_string).ok_or(Cannot::NotHere)?;
        self.record(key, None, Some(words.clone()));
        Ok(words)
    }

    /// All numbers of a list, in order; of a field with slots all of them.
    pub fn list(&mut self, key: &'static str) -> Got<Vec<f64>> {
        let (_, value) = self.given.value(key, self.side)?;
        let nums: Vec<f64> = match &value {
            Value::List(all) => all.iter().map(|n| n.to_f64()).collect(),
            value => value.scalars().filter_map(|s| Some(s.num()?.to_f64())).collect(),
        };
        let words: Vec<String> = nums.iter().map(ToString::to_string).collect();
        self.record(key, None, Some(words.join(", ")));
        Ok(nums)
    }

    /// Whether a fact is on record.
    pub fn has(&self, path: &str) -> bool {
        self.given.value(path, self.side).is_ok()
    }

    /// What a function of these answers; where it cannot, what it looked at is forgotten.
    pub fn tried<T>(&mut self, of: impl Fn(&mut Self) -> Got<T>) -> Got<T> {
        let (inputs, assumed) = (self.inputs.len(), self.assumed.len());
        let got = of(self);
        if got.is_err() {
            self.inputs.truncate(inputs);
            self.assumed.truncate(assumed);
        }
        got
    }

    /// The value of a figure or a field if it can be had; what is missing to it is no matter.
    pub fn maybe(&mut self, name: &'static str) -> Option<f64> {
        self.tried(|ask| ask.num(name)).ok()
    }

    /// A number that the runs say; `label` is what is missing where they do not. `of` picks it. Where the setup has no run
    /// that says it, that of the setup that ran last is taken, and told as assumed.
    pub fn ran(&mut self, name: &str, label: &str, unit: &str, of: fn(&FromRuns) -> Option<(f64, usize)>) -> Got<f64> {
        let runs = self.given.runs;
        let earlier = runs.earlier.as_deref().and_then(|e| Some((of(e)?, e.setup.as_str())));
        let (value, n, setup) = match (of(runs), earlier) {
            (Some((value, n)), _) => {
                if !self.given.what_if.is_empty() {
                    self.assume(format!("{label} as {} ran it", runs.setup));
                }
                (value, n, runs.setup.as_str())
            }
            (None, Some(((value, n), setup))) => {
                self.assume(format!("{label} as {setup} ran it: {} has no clean run that says it", runs.setup));
                (value, n, setup)
            }
            (None, None) => {
                let (name, label) = (name.to_owned(), label.to_owned());
                let whole = label.clone();
                return Err(Cannot::Missing(vec![Missing {
                    name,
                    label,
                    whole,
                    why: Why::NoRun,
                    tool: None,
                    minutes: None,
                }]));
            }
        };
        let count = if n == 1 { "1 run".to_owned() } else { format!("middle of {n} runs") };
        self.number(name, &format!("{label}, {count} on {setup}"), unit, value);
        Ok(value)
    }

    /// Records a number that was asked for or has a source of its own.
    pub fn number(&mut self, name: &str, label: &str, unit: &str, value: f64) {
        self.take(vec![Input {
            name: name.to_owned(),
            label: label.to_owned(),
            value: Some(value),
            words: None,
            unit: unit.to_owned(),
            since: None,
            what_if: false,
        }]);
    }

    /// What is assumed, in words.
    pub fn assume(&mut self, words: impl Into<String>) {
        let words = words.into();
        if !self.assumed.contains(&words) {
            self.assumed.push(words);
        }
    }

    fn assume_all(&mut self, all: &[String]) {
        all.iter().for_each(|a| self.assume(a.clone()));
    }
}

/// An answer that need not be there.
pub(super) fn some(x: Option<f64>, why: &str) -> Got<f64> {
    x.ok_or_else(|| Cannot::Because(why.to_owned()))
}
