//! Figures: what the settings on a sheet *do*, each with what it was computed from, or with what is missing to say it.
//!
//! A figure is one entry in the list of its subject's file: name, words, unit, formula, source, and the function that asks for
//! its inputs by name (`Ask`) and computes. Asking records the inputs; an input that is not on record, stale or in doubt
//! makes the figure *missing* that measurement, and what was assumed marks everything computed from it. Nothing here is a
//! default that passes for a measurement, and nothing is NaN.

mod anti_squat;
mod antiroll;
mod ask;
mod axle;
mod book;
mod driveline;
mod front_spring;
mod given;
mod launch;
mod limiter;
mod rear_spring;
mod tires;
mod travel;
mod weight;

pub use ask::{Cannot, Input, Memory, Missing, Why};
pub use given::{FromRuns, Given, Wanted};

use ask::{Ask, Got};

/// Where the car is when the figure holds.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, serde::Serialize)]
#[serde(rename_all = "snake_case")]
pub enum State {
    /// Standing, driver in.
    AtRest,
    /// In a steady launch.
    AtLaunch,
    /// The moment the pinion limiter is met, the body still where it was.
    AtContact,
    /// The front as high as it goes.
    AtFullRise,
    /// In the traps.
    AtSpeed,
}

impl State {
    /// In words.
    pub fn words(self) -> &'static str {
        match self {
            State::AtRest => "at rest",
            State::AtLaunch => "in the launch",
            State::AtContact => "at contact",
            State::AtFullRise => "at full rise",
            State::AtSpeed => "at speed",
        }
    }
}

/// How a figure is computed.
#[derive(Clone, Copy)]
enum Of {
    /// One number of the car.
    One(fn(&mut Ask) -> Got<f64>),
    /// A number of each side; asked for left and right.
    Side(fn(&mut Ask) -> Got<f64>),
}

/// What a figure is.
pub struct Def {
    /// Its stable name: snake_case, the field's term.
    pub name: &'static str,
    /// What a racer calls it.
    pub label: &'static str,
    /// Its unit, by the symbol of `schema/units.toml` where it has one there.
    pub unit: &'static str,
    /// Decimals shown.
    pub decimals: usize,
    /// Where the car is.
    pub state: State,
    /// Chassis kinds it is for; empty = every car.
    pub chassis: &'static [&'static str],
    /// In symbols.
    pub formula: &'static str,
    /// Where the formula is from.
    pub source: &'static str,
    /// Shown on the page; one that is not is there for rules only.
    pub shown: bool,
    of: Of,
}

/// A heading and its figures.
pub struct Subject {
    /// The heading.
    pub title: &'static str,
    /// Its figures, in order.
    pub figures: &'static [Def],
}

/// All figures, in the order of the page.
pub static SUBJECTS: [Subject; 12] = [
    weight::SUBJECT,
    launch::SUBJECT,
    front_spring::SUBJECT,
    travel::SUBJECT,
    rear_spring::SUBJECT,
    antiroll::SUBJECT,
    anti_squat::SUBJECT,
    limiter::SUBJECT,
    axle::SUBJECT,
    driveline::SUBJECT,
    tires::SUBJECT,
    book::SUBJECT,
];

/// A figure of a car.
#[derive(Debug, Clone)]
pub struct Figure {
    /// What it is.
    pub def: &'static Def,
    /// The side it is of.
    pub side: Option<usize>,
    /// The value, with what it rests on; or why there is none.
    pub value: Result<f64, Cannot>,
    /// What it was computed from, as far as it came.
    pub inputs: Vec<Input>,
    /// What was assumed, in words.
    pub assumed: Vec<String>,
}

impl Figure {
    /// The name in answers: with the side where it is of one.
    pub fn full_name(&self) -> String {
        match self.side {
            Some(i) => format!("{}_{}", self.def.name, SIDES[i]),
            None => self.def.name.to_owned(),
        }
    }
}

/// The sides, as names and words have them.
pub const SIDES: [&str; 2] = ["left", "right"];

/// The definition called so that holds for a car of these chassis kinds.
pub fn definition(name: &str, chassis: &[String]) -> Option<&'static Def> {
    SUBJECTS.iter().flat_map(|s| s.figures).find(|d| d.name == name && d.is_for(chassis))
}

/// Whether there is a figure called so, for any car.
pub fn is_figure(name: &str) -> bool {
    SUBJECTS.iter().flat_map(|s| s.figures).any(|d| d.name == name)
}

impl std::fmt::Debug for Def {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str(self.name)
    }
}

impl Def {
    /// A figure of every car at rest, shown.
    const fn new(name: &'static str, label: &'static str, unit: &'static str, decimals: usize, of: Of) -> Def {
        Def {
            name,
            label,
            unit,
            decimals,
            state: State::AtRest,
            chassis: &[],
            formula: "",
            source: "",
            shown: true,
            of,
        }
    }

    /// Its formula and where that is from.
    const fn by(self, formula: &'static str, source: &'static str) -> Def {
        Def { formula, source, ..self }
    }

    /// Where the car is.
    const fn at(self, state: State) -> Def {
        Def { state, ..self }
    }

    /// The chassis kinds it is for.
    const fn on(self, chassis: &'static [&'static str]) -> Def {
        Def { chassis, ..self }
    }

    /// For rules only.
    const fn hidden(self) -> Def {
        Def { shown: false, ..self }
    }

    /// Whether it is for a car of these chassis kinds.
    pub fn is_for(&self, chassis: &[String]) -> bool {
        self.chassis.is_empty() || self.chassis.iter().any(|c| chassis.iter().any(|k| k == c))
    }

    /// Its figures on a car: one, or one a side. None where it says nothing of this car (no limiter on it).
    fn figures(&'static self, given: &Given) -> Vec<Figure> {
        let sides: &[Option<usize>] = match self.of {
            Of::One(_) => &[None],
            Of::Side(_) => &[Some(0), Some(1)],
        };
        let figure = |side: Option<usize>| ask::figure(self, side, given);
        sides.iter().map(|s| figure(*s)).filter(|f| f.value != Err(Cannot::NotHere)).collect()
    }
}

/// Every figure of a car, by subject; a subject that says nothing of it is left out.
pub fn figures(given: &Given) -> Vec<(&'static str, Vec<Figure>)> {
    let of = |s: &'static Subject| {
        let all = s.figures.iter().filter(|d| d.is_for(given.chassis));
        (s.title, all.flat_map(|d| d.figures(given)).collect::<Vec<_>>())
    };
    SUBJECTS.iter().map(of).filter(|(_, all)| !all.is_empty()).collect()
}

/// The figures of one name on a car (two where it is one a side); none where it is not for this car.
pub fn figures_named(given: &Given, name: &str) -> Vec<Figure> {
    definition(name, given.chassis).map(|d| d.figures(given)).unwrap_or_default()
}
