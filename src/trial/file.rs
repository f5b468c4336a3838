//! What a trial is, as its file `trials/<slug>.toml` keeps it.

use super::{Order, Side};
use crate::schema::Num;
use crate::slip::{Moment, Response};
use crate::text::slug;
use crate::timeline::VersionNumber;

/// The longest name, in characters.
const LONGEST_NAME: usize = 40;

/// One of the two setups.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Arm {
    /// The version that was named for it.
    pub version: VersionNumber,
    /// Store id of its sheet when the trial began.
    pub setup: String,
}

/// What a trial came to, with the numbers it rested on. Numbers are in the unit of the response: s, or mph.
#[derive(Debug, Clone, PartialEq)]
pub struct Judged {
    /// When.
    pub at: Moment,
    /// By whom.
    pub by: String,
    /// The verdict on B against A, in the words of `blame`.
    pub verdict: String,
    /// What else is to be known of it, in words.
    pub evidence: Vec<String>,
    /// B against A: what it is worth; minus is less.
    pub effect: Option<f64>,
    /// Its standard deviation.
    pub sd: Option<f64>,
    /// The lower end of what holds it 95 times in 100.
    pub lo95: Option<f64>,
    /// The upper end.
    pub hi95: Option<f64>,
    /// The chance of a gain beyond what matters, 0 to 1.
    pub p_gain: Option<f64>,
    /// The chance of a loss beyond what matters.
    pub p_loss: Option<f64>,
    /// The chance that they are the same for all that matters.
    pub p_same: Option<f64>,
    /// B against A by the means of the trial's own runs, by hand: each day's difference, weighed by its runs.
    pub by_hand: Option<f64>,
    /// Ids of the trial's runs on A that counted.
    pub runs_a: Vec<String>,
    /// On B.
    pub runs_b: Vec<String>,
    /// The order they were made in.
    pub order_run: Order,
    /// The one air all were carried to, kg/m3; `None` = as run.
    pub air_kg_m3: Option<f64>,
    /// How it was computed, in words.
    pub method: String,
}

/// A trial that was given up.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Dropped {
    /// When.
    pub at: Moment,
    /// By whom.
    pub by: String,
    /// Why.
    pub why: Option<String>,
}

/// How a trial ended.
#[derive(Debug, Clone, PartialEq)]
pub enum End {
    /// It was judged.
    Judged(Box<Judged>),
    /// It was given up.
    Dropped(Dropped),
}

/// A trial.
#[derive(Debug, Clone, PartialEq)]
pub struct Trial {
    /// The racer's name for it.
    pub name: String,
    /// The number of the slip it is about.
    pub response: Response,
    /// What it is compared with: as a rule what was on the car before.
    pub a: Arm,
    /// What is tried.
    pub b: Arm,
    /// The order planned, one letter a run.
    pub order: Order,
    /// A smaller difference is not worth a job; in the response's unit.
    pub matters: Num,
    /// Runs from then on belong to it.
    pub started: Moment,
    /// Who began it.
    pub by: String,
    /// Why.
    pub why: Option<String>,
    /// How it ended; `None` = open.
    pub end: Option<End>,
}

impl Trial {
    /// The path of its file in the book.
    pub fn path(&self) -> String {
        path_of(&self.name)
    }

    /// The setup of a side.
    pub fn arm(&self, side: Side) -> &Arm {
        match side {
            Side::A => &self.a,
            Side::B => &self.b,
        }
    }

    /// Runs are still made for it.
    pub fn is_open(&self) -> bool {
        self.end.is_none()
    }

    /// What it came to, where it was judged.
    pub fn judged(&self) -> Option<&Judged> {
        match &self.end {
            Some(End::Judged(judged)) => Some(judged),
            _ => None,
        }
    }

    /// When it ended.
    pub fn ended(&self) -> Option<Moment> {
        match self.end.as_ref()? {
            End::Judged(judged) => Some(judged.at),
            End::Dropped(dropped) => Some(dropped.at),
        }
    }
}

/// The path of the file of a trial of this name: `trials/clamps.toml`.
pub fn path_of(name: &str) -> String {
    format!("trials/{}.toml", slug(name, "trial"))
}

/// The slug in a trial file's path; `None` where it is the path of something else.
pub fn slug_of_path(path: &str) -> Option<&str> {
    let slug = path.strip_prefix("trials/")?.strip_suffix(".toml")?;
    (!slug.is_empty() && !slug.contains('/')).then_some(slug)
}

/// What is wrong with a name.
pub fn name_fault(name: &str) -> Option<String> {
    if name.trim().is_empty() || name.chars().count() > LONGEST_NAME || name.chars().any(char::is_control) {
        return Some(format!("a trial's name is 1 to {LONGEST_NAME} characters on one line"));
    }
    // Its file is named after it, and a word of the command must not be taken for it.
    if !name.chars().any(char::is_alphanumeric) {
        return Some("a trial's name has a letter or a digit in it".to_owned());
    }
    None
}
