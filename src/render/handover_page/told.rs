//! What a handover page is made from.

use crate::garage::ContentId;
use crate::slip::Moment;

/// A best number, in words: "60 ft 1.567", when, and on which version.
#[derive(Debug, Clone)]
pub struct Best {
    /// What and how much.
    pub what: String,
    /// When.
    pub at: Moment,
    /// The track.
    pub track: String,
    /// The version it was run on.
    pub version: String,
    /// The wind of that day, where it is on record.
    pub wind: Option<String>,
}

/// A setup the model has ahead of the one to start from, which rides on what stays.
#[derive(Debug, Clone)]
pub struct Passed {
    /// Its latest version.
    pub version: String,
    /// The parts that stay.
    pub parts: Vec<String>,
    /// What is said of it against the setup to start from: "likely quicker, not settled". `None` without one.
    pub against: Option<String>,
}

/// The setup to start from.
#[derive(Debug, Clone)]
pub struct Start {
    /// Its latest version.
    pub version: String,
    /// When that went on the car.
    pub at: Moment,
    /// The other versions that are one setup with it, which may have made the runs.
    pub with: Vec<String>,
    /// Clean 60-ft times on the setup.
    pub runs: usize,
    /// The first and the last day of these.
    pub ran: Option<(jiff::civil::Date, jiff::civil::Date)>,
    /// So many of them are in the file, where it begins later than the book.
    pub runs_in_file: Option<usize>,
    /// The middle one, s, in one air where the book has air.
    pub middle_s: f64,
    /// The best one, s, in the same.
    pub best_s: f64,
    /// Numbers are carried to one air.
    pub one_air: bool,
    /// Parts of it of which nobody said whether they go along.
    pub unsaid: Vec<String>,
}

/// The setup the whole book would start from, which is not in the file.
#[derive(Debug, Clone)]
pub struct BeatenBy {
    /// Its version.
    pub version: String,
    /// What is said of the best in the file against it: "likely slower, not settled". `None` where there is none.
    pub against: Option<String>,
    /// What is said of the change that made the best in the file, where that is a loss.
    pub own_change: Option<String>,
    /// So the best in the file is nothing to start from.
    pub no_start: bool,
}

/// A change and what the runs say of it.
#[derive(Debug, Clone)]
pub struct Told {
    /// Its version.
    pub version: String,
    /// What was changed.
    pub words: String,
    /// What is said.
    pub said: String,
    /// Something that was left out moved with it: nothing is proven of what is told.
    pub mixed: bool,
    /// What it is worth in the 60 ft, s; less is quicker.
    pub worth_s: f64,
    /// 95 times in 100 it lies between these, s.
    pub between_s: (f64, f64),
    /// Runs without it and with it.
    pub runs: (usize, usize),
    /// What speaks against taking that at its word.
    pub doubts: Vec<String>,
}

/// What came before the file begins.
#[derive(Debug, Clone)]
pub struct Before {
    /// Versions.
    pub versions: usize,
    /// Runs.
    pub runs: usize,
    /// So many runs the page is judged by: all of the book it is handed over from.
    pub judged_by: usize,
}

/// What stands on the page.
#[derive(Debug, Clone)]
pub struct HandoverPage {
    /// The class it runs in.
    pub class: Option<String>,
    /// When it is handed over.
    pub at: Moment,
    /// Owners, oldest first, with the day since when.
    pub owners: Vec<(String, Option<String>)>,
    /// Versions.
    pub versions: usize,
    /// Runs.
    pub runs: usize,
    /// What came before the file begins, where it was shortened, now or when it was handed over before.
    pub before: Option<Before>,
    /// First and last day of the record.
    pub span: Option<(jiff::civil::Date, jiff::civil::Date)>,
    /// The finish most days have, in words.
    pub finish: String,
    /// The best numbers.
    pub bests: Vec<Best>,
    /// The setup to start from.
    pub start: Option<Start>,
    /// The one the whole book would start from, where the file has it not.
    pub beaten_by: Option<BeatenBy>,
    /// Setups ahead of it that need a part that stays.
    pub passed_over: Vec<Passed>,
    /// The version on the car.
    pub on_car: Option<String>,
    /// Settled: gains, then losses.
    pub proven: Vec<Told>,
    /// Settled to have no effect worth chasing.
    pub no_effect: Vec<Told>,
    /// Not settled.
    pub not_proven: Vec<Told>,
    /// Versions nobody can judge: never run, or too little.
    pub not_judged: usize,
    /// How it was weighed: label, value.
    pub weighed: Vec<(String, String)>,
    /// Parts that go along.
    pub along: Vec<String>,
    /// Parts that do not.
    pub stays: Vec<String>,
    /// Parts of which it was not said.
    pub unsaid: Vec<String>,
    /// What the check says of the car as it stands now, the gravest first.
    pub cautions: Vec<String>,
    /// So many of these, the first, are told however long the page is.
    pub grave: usize,
    /// Versions that moved what was left out.
    pub moved_with: Vec<String>,
    /// What is not in the file, in words.
    pub left_out: Vec<String>,
    /// What the book itself lacks, since the car was handed over before without it, in words.
    pub left_out_before: Vec<String>,
    /// Where something like it stays in the file, in words.
    pub kept: Vec<String>,
    /// The handover id.
    pub id: ContentId,
    /// The name of the file.
    pub file: String,
}
