//! Which columns of a fit are a field's own, and what these runs cannot part from it.

use super::kept::{levels_of_setups, root_of};
use super::model::{Fit, Level, Levels, bundle, patterns};
use super::{Estimates, Sheets};
use crate::pace::Ground;
use crate::schema::{Schema, Sheet};
use std::collections::BTreeSet;

/// A slot of a field: key and place.
pub type Spot = (String, usize);

/// The columns by what they are of.
pub struct Pieces<'a> {
    /// The model.
    pub estimates: &'a Estimates<'a>,
    /// The fields.
    pub schema: &'a Schema,
    /// The sheet of every version, with what was described later filled back.
    pub sheets: Vec<Sheet>,
    levels: Vec<Levels>,
    parent: Vec<Option<usize>>,
    /// Runs that count, by setup.
    counts: Vec<usize>,
}

impl<'a> Pieces<'a> {
    /// Of a book's model. `sheets` holds every sheet of the timeline.
    pub fn new(schema: &'a Schema, sheets: &Sheets, estimates: &'a Estimates<'a>) -> Pieces<'a> {
        let (sheets, levels) = levels_of_setups(schema, estimates.timeline, sheets);
        let parent = Ground::new(estimates.timeline).parents().to_vec();
        let mut counts = vec![0; levels.len()];
        for run in estimates.used() {
            counts[estimates.setup(estimates.runs[*run].version)] += 1;
        }
        Pieces { estimates, schema, sheets, levels, parent, counts }
    }

    /// Setups in the order of their first version.
    pub fn setups(&self) -> std::ops::Range<usize> {
        0..self.levels.len()
    }

    /// Runs that count on a setup.
    pub fn runs_on(&self, setup: usize) -> usize {
        self.counts[setup]
    }

    /// Setups with a run that counts.
    pub fn ran(&self) -> impl Iterator<Item = usize> + '_ {
        self.setups().filter(|s| self.counts[*s] > 0)
    }

    /// What a setup has in a slot.
    pub fn level(&self, setup: usize, spot: &Spot) -> Option<&Level> {
        self.levels[setup].get(spot)
    }

    /// The slots of a field that were ever on record.
    pub fn spots(&self, key: &str) -> Vec<Spot> {
        let all: BTreeSet<&Spot> = self.levels.iter().flat_map(|l| l.keys()).filter(|s| s.0 == key).collect();
        all.into_iter().cloned().collect()
    }

    /// Slots in which two setups differ.
    pub fn apart(&self, a: usize, b: usize) -> BTreeSet<&Spot> {
        let (la, lb) = (&self.levels[a], &self.levels[b]);
        la.keys().chain(lb.keys()).filter(|k| la.get(*k) != lb.get(*k)).collect()
    }

    /// The field a value came along with: the part it describes where that has a name on record, else itself.
    pub fn root(&self, key: &str) -> String {
        let root = root_of(self.schema, key);
        if self.levels.iter().any(|l| l.keys().any(|s| s.0 == root)) { root } else { key.to_owned() }
    }

    fn fit(&self) -> Option<&Fit> {
        self.estimates.kept.fit.as_ref()
    }

    /// The column of the fit with this pattern over the setups, by the setups that were run.
    fn column(&self, pattern: &[f64]) -> Option<usize> {
        let fit = self.fit()?;
        let base = pattern[self.ran().next()?];
        let p = fit.columns.len();
        let same = |k: &usize| self.ran().all(|s| f64::from(fit.z[s * p + k]) == pattern[s] - base);
        (0..p).find(same)
    }

    /// The columns that are these slots' own.
    pub fn own(&self, spots: &[Spot]) -> BTreeSet<usize> {
        let used: Vec<bool> = self.counts.iter().map(|n| *n > 0).collect();
        let values = |spot: &Spot| -> Vec<Option<&Level>> { self.levels.iter().map(|l| l.get(spot)).collect() };
        spots.iter().flat_map(|s| patterns(&values(s), &used)).filter_map(|p| self.column(&p)).collect()
    }

    /// The column of the bundle that made a setup.
    pub fn bundle(&self, setup: usize) -> Option<usize> {
        self.column(&bundle(&self.parent, setup))
    }

    /// Slots that the change which made a setup altered.
    pub fn altered(&self, setup: usize) -> BTreeSet<&Spot> {
        self.parent[setup].map_or_else(BTreeSet::new, |p| self.apart(p, setup))
    }

    /// Columns that are these turned round on every setup that was run: they cannot be told apart from them either.
    pub fn turned_round(&self, of: &BTreeSet<usize>) -> BTreeSet<usize> {
        let Some(fit) = self.fit() else { return BTreeSet::new() };
        let p = fit.columns.len();
        let at = |s: usize, k: usize| fit.z[s * p + k];
        let opposite = |j: usize, k: usize| self.ran().all(|s| at(s, j) == -at(s, k));
        (0..p).filter(|j| !of.contains(j) && of.iter().any(|k| opposite(*j, *k))).collect()
    }

    /// Keys in a column.
    pub fn keys(&self, column: usize) -> &[String] {
        self.fit().map_or(&[], |f| &f.columns[column].keys)
    }

    /// The step between two setups, of some columns.
    pub fn step(&self, from: usize, to: usize, of: impl Fn(usize) -> bool) -> Vec<(usize, f64)> {
        let Some(fit) = self.fit() else { return Vec::new() };
        fit.step(from, to).into_iter().filter(|(k, _)| of(*k)).collect()
    }
}
