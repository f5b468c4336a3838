//! What is kept of a model: the fit, the changes it is asked about, and the usual answers.

use super::Sheets;
use super::estimates::Book;
use super::model::{Asked, Belief, Design, Fit, Grid, LeftOut, Levels, Record, Settings, fit, levels_of};
use super::more::Needed;
use super::verdict::Effect;
use crate::diff::{diff, words};
use crate::schema::{Schema, Sheet, filled_back};
use crate::timeline::Timeline;
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;

/// A change of the sheet that runs lie on both sides of.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Move {
    /// Index of the version.
    pub version: usize,
    /// Index of the version before it that runs count on.
    pub before: usize,
    /// Keys of what a hand set, or what is described, that differs.
    pub keys: Vec<String>,
    /// What was turned, in words; what was only measured is no change of the car.
    pub words: Vec<String>,
    /// Columns that differ.
    pub step: Vec<(usize, f64)>,
}

/// What is kept: all of it follows from the book and what was asked.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Kept {
    /// The model; `None` where no run counts.
    pub fit: Option<Fit>,
    /// Runs that do not count, and why.
    pub left_out: Vec<(usize, LeftOut)>,
    /// The changes, in the order of time.
    pub moves: Vec<Move>,
    /// Keys that differ between each version and the one before it.
    pub keys: Vec<Vec<String>>,
    /// What was answered when the model was fitted.
    pub told: Told,
}

/// Columns and how far each is stepped.
pub type Step = Vec<(usize, i16)>;

/// Answers that take the draws: a kept model has them at hand for the questions everybody asks. All of them follow from the
/// fit and from what matters.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
pub struct Told {
    /// What matters, in the response's unit.
    pub matters: f64,
    /// What a step is worth, and how much of what was believed is left open.
    pub effects: BTreeMap<Step, (Effect, f64)>,
    /// The chance of each change to be the quickest step.
    pub best: Option<Vec<f64>>,
    /// Versions whose change these runs hardly part from that of a version.
    pub one_of_two: BTreeMap<usize, Vec<usize>>,
    /// Runs that would settle a change, by its version.
    pub needed: BTreeMap<usize, Option<Needed>>,
}

/// The sheet of every version with what was described later filled back, and what each setup sets.
pub(super) fn levels_of_setups(schema: &Schema, timeline: &Timeline, sheets: &Sheets) -> (Vec<Sheet>, Vec<Levels>) {
    let empty = Sheet::default();
    let of_versions: Vec<Sheet> =
        timeline.versions.iter().map(|v| sheets.get(v.sheet_id()).unwrap_or(&empty).clone()).collect();
    let filled = filled_back(schema, &of_versions);
    let setups = timeline.setups();
    let of = |v: Option<&usize>| v.map_or_else(BTreeMap::new, |v| levels_of(schema, &filled[*v]));
    let levels = setups.iter().map(|s| of(s.versions.first())).collect();
    (filled, levels)
}

/// The field a value came along with: its part, or itself.
pub(super) fn root_of(schema: &Schema, key: &str) -> String {
    let part = schema.field(key).and_then(|f| f.part.clone());
    part.unwrap_or_else(|| key.to_owned())
}

/// From one sheet to the next in words: what a hand turned or what it is judged by, or all where there is nothing of it.
fn turned(schema: &Schema, old: &Sheet, new: &Sheet, keys: &[String]) -> Vec<String> {
    let clauses = words::clauses(schema, old, new, &diff(schema, old, new));
    let tells = |c: &words::Clause| c.turned || c.fields.iter().any(|f| keys.contains(f));
    let any = clauses.iter().any(tells);
    clauses.into_iter().filter(|c| tells(c) || !any).map(|c| c.text).collect()
}

impl Told {
    /// Nothing yet.
    pub fn of(matters: f64) -> Told {
        Told { matters, ..Told::default() }
    }
}

impl Kept {
    /// Fits the model of a book.
    pub fn new(book: &Book, sheets: &Sheets, asked: &Asked) -> (Kept, Vec<Belief>) {
        let Book { schema, timeline, runs, footing, finish_ft } = *book;
        let record = Record::new(schema, timeline, runs, finish_ft, asked);
        let setups = timeline.setups();
        let setup_of = timeline.setup_of(&setups);
        let (_, levels) = levels_of_setups(schema, timeline, sheets);
        let empty = Sheet::default();
        let ground = crate::pace::Ground::new(timeline);
        let used = record.setups(setups.len());
        let grid = Grid::new(&levels, &|key| root_of(schema, key));
        let design = Design::new(&grid, ground.parents(), &used);
        let settings = |channel, middles| Settings::of(channel, footing, finish_ft, middles);
        let fitted = fit(&record, &design, finish_ft, asked.response, &settings, &|run| runs[run].version);
        // A change is judged between versions that runs count on; what was changed again before a run came along with it.
        // Equal setups pool: a version counts where its setup was run, even if not as this version.
        let counted: Vec<usize> = (0..setup_of.len()).filter(|v| used[setup_of[*v]]).collect();
        let differ = |a: usize, b: usize| grid.differ(a, b);
        let keys = (0..setup_of.len())
            .map(|v| v.checked_sub(1).map_or_else(Vec::new, |before| differ(setup_of[before], setup_of[v])))
            .collect();
        let mut moves = Vec::new();
        for pair in counted.windows(2) {
            let (a, b) = (setup_of[pair[0]], setup_of[pair[1]]);
            if a == b {
                continue;
            }
            let before = sheets.get(timeline.versions[pair[0]].sheet_id()).unwrap_or(&empty);
            let after = sheets.get(&timeline.versions[pair[1]].entry.blob).unwrap_or(&empty);
            moves.push(Move {
                version: pair[1],
                before: pair[0],
                keys: differ(a, b),
                words: turned(schema, before, after, &differ(a, b)),
                step: design.step(a, b),
            });
        }
        let (fit, beliefs) = fitted.unzip();
        let told = Told::of(asked.matters);
        (Kept { fit, left_out: record.left_out, moves, keys, told }, beliefs.unwrap_or_default())
    }
}
