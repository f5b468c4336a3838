//! What the car should run: the next run's numbers in given air, from its own runs, with an honest spread.

use super::believed::{Believed, believed};
use super::footing::{Footing, Made};
use super::model::{Alike, model, of_air};
use super::row::{Common, Ground, Row, day_kernel, drift_kernel, known};
use super::standing::Standing;
use super::usual::unread_log_sd;
use crate::slip::{Beam, Day, Moment, Response};
use crate::stats::{Fit, Sample, Spread};
use crate::timeline::Timeline;
use nalgebra::DVector;

/// The latest runs that are looked at: older ones say nothing that these do not say better.
const LOOKED_AT: usize = 160;

/// Fewer clean runs than this give no expectation.
pub const LEAST_RUNS: usize = 3;

/// The run asked about.
#[derive(Debug, Clone, Copy)]
pub struct Asked<'a> {
    /// Its day: date and track.
    pub day: &'a Day,
    /// Its time.
    pub at: Moment,
    /// Its lane, where it is known.
    pub lane: Option<&'a str>,
    /// Index of its version.
    pub version: usize,
    /// Its air, kg/m3; `None` = nothing is known of it, and it is taken as usual at the track.
    pub density_kg_m3: Option<f64>,
    /// Standard deviation of the logarithm of that density: how far the reading may be off.
    pub density_log_sd: f64,
}

/// The latest clean runs to a finish that an expectation rests on.
pub fn looked_at<'a, 'b>(runs: &'b [Made<'a>], finish_ft: u32) -> Vec<&'b Made<'a>> {
    let response = Response::Et.at_beam(finish_ft);
    let clean: Vec<&Made> = runs.iter().filter(|(run, day, _)| response.of(run, day, finish_ft).is_some()).collect();
    let older = clean.len().saturating_sub(LOOKED_AT);
    clean[older..].to_vec()
}

/// Standard deviations of an expectation by where they come from; their squares add to that of the whole.
#[derive(Debug, Clone, Copy, PartialEq, serde::Serialize)]
pub struct SpreadOf {
    /// From run to run.
    pub run: f64,
    /// From day to day: what a new day brings; 0 on a day the car has run on.
    pub day: f64,
    /// The air: what this car makes of it, and the reading, or that there is none.
    pub air: f64,
    /// How well its middle is known: runs behind it, the change just made, lanes, tracks, wear.
    pub knowing: f64,
}

/// The answer for one number of the slip.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Expected {
    /// Which.
    pub response: Response,
    /// Most runs fall about this, s or mph.
    pub middle: f64,
    /// Standard deviation of a clean run about it.
    pub sd: f64,
    /// Where that comes from.
    pub of: SpreadOf,
    /// Clean runs on the setup asked about.
    pub runs_here: usize,
    /// Clean runs that had a say.
    pub runs: usize,
    spread: Spread,
    sign: f64,
}

impl Expected {
    /// The range that holds `share` of runs (0.8, 0.95), as many missing on either side.
    pub fn range(&self, share: f64) -> (f64, f64) {
        let tail = (1.0 - share) / 2.0;
        let (a, b) = (self.sign * self.spread.quantile(tail), self.sign * self.spread.quantile(1.0 - tail));
        (a.min(b), a.max(b))
    }

    /// The chance of a number under `x`.
    pub fn under(&self, x: f64) -> f64 {
        let below = self.spread.below(self.sign * x);
        if self.sign < 0.0 { 1.0 - below } else { below }
    }
}

/// What the runs so far say of one number, ready to be asked.
pub(super) struct Known<'a> {
    response: Response,
    footing: &'a Footing,
    believed: Believed,
    rows: Vec<Row>,
    fit: Fit,
    common: Common,
    ground: Ground,
    /// The exponent before the runs, by which all are carried; its width is the model's.
    exponent: f64,
    exponent_sd: f64,
    median: f64,
    middle: f64,
    sign: f64,
    share: f64,
}

impl<'a> Known<'a> {
    /// From the runs of a book in the order of time; `None` without enough clean numbers. `also` = the version that will be
    /// asked about; `sd` = standard deviations of an earlier fit to begin from, with few iterations.
    pub fn new(
        timeline: &Timeline,
        runs: &[Made],
        footing: &'a Footing,
        finish_ft: u32,
        response: Response,
        also: usize,
        sd: Option<&[f64]>,
    ) -> Option<Known<'a>> {
        let mut ground = Ground::new(timeline);
        let mut used: Vec<(Row, f64)> = Vec::new();
        for (run, day, version) in runs {
            let (air, unread) = air_of(footing, footing.standing(run, day));
            let row = ground.next(run, day, *version, air, unread);
            // A run to a longer finish that was clean to here counts here too.
            used.extend(response.at_beam(finish_ft).of(run, day, finish_ft).map(|raw| (row, raw)));
        }
        let used = used.split_off(used.len().saturating_sub(LOOKED_AT));
        if used.len() < LEAST_RUNS {
            return None;
        }
        let sign = if response.more_is_quicker() { -1.0 } else { 1.0 };
        let median = Sample::new(used.iter().map(|(_, raw)| *raw)).middle()?;
        let exponent = footing.exponents.of(response.at_beam(finish_ft));
        let believed = believed(response, finish_ft, median);
        let carried: Vec<f64> = used.iter().map(|(row, raw)| raw * (-row.air * exponent.prior).exp()).collect();
        let middle = Sample::new(carried.iter().copied()).middle()?;
        let rows: Vec<Row> = used.into_iter().map(|(row, _)| row).collect();
        // The setup asked about may have no run yet.
        let asked = Row { setup: ground.setup(also), ..rows[0].clone() };
        let common = ground.common(&[&rows[..], &[asked]].concat());
        let exponent_sd = if footing.reference.is_some() { exponent.prior_sd } else { 0.0 };
        let y = carried.iter().map(|c| sign * (c - middle)).collect();
        let alike = Alike {
            change: &|a, b| common.of(a, b),
            slope: &|r| exponent_sd * median * r.air,
            unread: exponent.prior.abs() * median,
        };
        // A new season begins sooner or later, so seasons have levels even while there is one.
        let model = model(&believed, &rows.iter().collect::<Vec<_>>(), y, &alike, true, Some(believed.bad));
        let fit = match sd {
            Some(sd) => model.fit_from(sd)?,
            None => model.fit()?,
        };
        let lost: f64 = fit.weights.iter().map(|w| 1.0 - w).sum();
        let share = (UNMARKED * UNMARKED_RUNS + lost) / (UNMARKED_RUNS + rows.len() as f64);
        let exponent = exponent.prior;
        Some(Known {
            response,
            footing,
            believed,
            rows,
            fit,
            common,
            ground,
            exponent,
            exponent_sd,
            median,
            middle,
            sign,
            share,
        })
    }

    /// The standard deviations found: run, day, drift, change.
    pub fn sd(&self) -> &[f64] {
        &self.fit.sd
    }

    /// The expectation of a run.
    pub fn expect(&mut self, asked: &Asked) -> Expected {
        let standing = match (asked.density_kg_m3, self.footing.reference) {
            (_, None) => (0.0, 0.0),
            (Some(density), Some(r)) => ((density / r.density_kg_m3).ln(), 0.0),
            (None, Some(r)) => {
                let (density, by) = self.footing.usual_at(asked.day);
                ((density / r.density_kg_m3).ln(), unread_log_sd(by))
            }
        };
        let row = self.ground.row(asked.day, asked.at, asked.lane, asked.version, standing.0, standing.1);
        let [run_sd, day_sd, drift_sd, change_sd] = [0, 1, 2, 3].map(|i| self.fit.sd[i]);
        // The sds are known only so well: the mean of a lognormal variance is wider than its most probable value.
        let wider = |i: usize| (self.fit.log_sd[i] * self.fit.log_sd[i]).exp();
        let (run_wide, rest_wide) = (run_sd * wider(0), wider(1).max(wider(3)));
        let b = &self.believed;
        let alike = Alike {
            change: &|x, y| self.common.of(x, y),
            slope: &|r| self.exponent_sd * self.median * r.air,
            unread: self.exponent.abs() * self.median,
        };
        let whole = |x: &Row, y: &Row| {
            known(b, true, x, y)
                + day_sd * day_sd * day_kernel(x, y)
                + drift_sd * drift_sd * drift_kernel(x, y)
                + change_sd * change_sd * self.common.of(x, y)
                + of_air(&alike, x, y)
        };
        let left = |f: &dyn Fn(&Row, &Row) -> f64| {
            let with = DVector::from_iterator(self.rows.len(), self.rows.iter().map(|r| f(r, &row)));
            self.fit.expect(&with, f(&row, &row))
        };
        let (moved, latent) = left(&whole);
        // The carried number goes back into the air asked about.
        let back = (row.air * self.exponent).exp();
        let middle = (self.middle + self.sign * moved) * back;
        let reading = if self.footing.reference.is_some() {
            self.exponent.abs() * self.median * asked.density_log_sd
        } else {
            0.0
        };
        // What a day brings that nothing was run on yet: its own level, its slope by the hour, the drift up to it.
        let last = self.rows.iter().map(|r| r.day).max().unwrap_or(0);
        let ran_that_day = self.rows.iter().any(|r| r.day == row.day);
        let new_day = if ran_that_day {
            0.0
        } else {
            let walked = row.day.saturating_sub(last) as f64;
            day_sd * day_sd + drift_sd * drift_sd * walked + b.hour * b.hour * row.hour * row.hour
        };
        let air = left(&|x, y| of_air(&alike, x, y)).1;
        let sheet = left(&|x, y| known(b, true, x, y) + change_sd * change_sd * self.common.of(x, y)).1;
        // Each by itself, the parts overlap (the runs tell them apart only so far): they share what is left in proportion.
        let all = new_day + air + sheet;
        let share = if all > 0.0 { latent / all } else { 0.0 };
        // What is not known of the widths widens what rests on them.
        let widened = rest_wide * rest_wide;
        let (day_var, air_var, knowing_var) = (new_day * share * widened, air * share, sheet * share * widened);
        let air_var = air_var + reading * reading;
        let of = SpreadOf {
            run: run_wide * back,
            day: day_var.sqrt() * back,
            air: air_var.sqrt() * back,
            knowing: knowing_var.sqrt() * back,
        };
        let sd = (run_wide * run_wide + day_var + knowing_var + air_var).sqrt() * back;
        let spread = Spread { mean: self.sign * middle, sd, share: self.share, shift: self.believed.bad.shift };
        let runs_here = self.rows.iter().filter(|r| r.setup == row.setup).count();
        let (response, runs, sign) = (self.response, self.rows.len(), self.sign);
        Expected { response, middle, sd, of, runs_here, runs, spread, sign }
    }
}

/// Logarithm of a run's density over the reference, and how far it may be off where it was not read.
fn air_of(footing: &Footing, standing: Option<Standing>) -> (f64, f64) {
    match (standing, footing.reference) {
        (Some(s), Some(r)) => {
            let unread = match s {
                Standing::Read { .. } => 0.0,
                Standing::Assumed { by, .. } => unread_log_sd(by),
            };
            ((s.density_kg_m3() / r.density_kg_m3).ln(), unread)
        }
        _ => (0.0, 0.0),
    }
}

/// Share of runs that are bad and not marked, and how many runs' worth that belief is (the simulated seasons' middle).
const UNMARKED: f64 = 0.02;
const UNMARKED_RUNS: f64 = 20.0;

/// The expectation of each number there are runs for, to a finish: splits, ET, mph.
pub fn expect(timeline: &Timeline, runs: &[Made], footing: &Footing, finish_ft: u32, asked: &Asked) -> Vec<Expected> {
    let beams = Beam::ALL.into_iter().filter(|b| b.feet() < finish_ft).map(Response::Time);
    beams
        .chain([Response::Et, Response::Mph])
        .filter_map(|response| {
            let known = Known::new(timeline, runs, footing, finish_ft, response, asked.version, None);
            known.map(|mut k| k.expect(asked))
        })
        .collect()
}
