//! What the car should run: the next run's numbers in given air, from its own runs, with an honest spread.

use super::believed::{Believed, believed};
use super::footing::{Footing, Made};
use super::row::{Common, Ground, Row, day_kernel, drift_kernel, known};
use crate::slip::{Day, Moment, Response};
use crate::stats::{Fit, Mixed, Part, Sample, Spread};
use crate::timeline::Timeline;
use nalgebra::{DMatrix, DVector};

/// The latest runs that are looked at: older ones say nothing that these do not say better.
const LOOKED_AT: usize = 250;

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

/// Standard deviations of an expectation by where they come from; their squares add to that of the whole.
#[derive(Debug, Clone, Copy, PartialEq, serde::Serialize)]
pub struct SpreadOf {
    /// From run to run.
    pub run: f64,
    /// From day to day.
    pub day: f64,
    /// The air: what this car makes of it, and the reading.
    pub air: f64,
    /// How well its middle is known: runs behind it, lanes, tracks, wear.
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
pub struct Known {
    response: Response,
    believed: Believed,
    rows: Vec<Row>,
    fit: Fit,
    common: Common,
    ground: Ground,
    many_seasons: bool,
    unread: f64,
    exponent: f64,
    exponent_sd: f64,
    reference: Option<f64>,
    usual: Box<dyn Fn(&str) -> f64>,
    median: f64,
    middle: f64,
    sign: f64,
    share: f64,
}

/// How far a day's unread air lies from the usual: standard deviation of its logarithm (the blame model's).
const UNREAD_LOG_SD: f64 = 0.025;

impl Known {
    /// From the runs of a book in the order of time; `None` without enough clean numbers.
    ///
    /// `sd` = standard deviations of an earlier fit to begin from, with few iterations.
    pub fn new(
        timeline: &Timeline,
        runs: &[Made],
        footing: &Footing,
        finish_ft: u32,
        response: Response,
        also: Option<usize>,
        sd: Option<&[f64]>,
    ) -> Option<Known> {
        let mut ground = Ground::new(timeline);
        let mut all: Vec<(Row, f64)> = Vec::new();
        let reference = footing.reference.map(|r| r.density_kg_m3);
        for (run, day, version) in runs {
            let standing = footing.standing(run, day);
            let air = standing.zip(reference).map_or(0.0, |(s, r)| (s.density_kg_m3() / r).ln());
            let assumed = !matches!(standing, Some(super::Standing::Read { .. }));
            let row = ground.next(run, day, *version, air, assumed && reference.is_some());
            all.extend(response.of(run, day, finish_ft).map(|raw| (row, raw)));
        }
        let used = all.split_off(all.len().saturating_sub(LOOKED_AT));
        if used.len() < LEAST_RUNS {
            return None;
        }
        let sign = if response.more_is_quicker() { -1.0 } else { 1.0 };
        let median = Sample::new(used.iter().map(|(_, raw)| *raw)).middle()?;
        let exponent = footing.exponents.of(response);
        let believed = believed(response, finish_ft, median);
        // The prior's exponent carries; what the runs say of it is the model's to find, with its width.
        let carried: Vec<f64> = used.iter().map(|(row, raw)| raw * (-row.air * exponent.prior).exp()).collect();
        let middle = Sample::new(carried.iter().copied()).middle()?;
        let rows: Vec<Row> = used.into_iter().map(|(row, _)| row).collect();
        let mut placed = rows.clone();
        // The setup asked about may have no run yet.
        let asked = also.map(|v| Row { setup: ground.setup(v), ..rows[0].clone() });
        placed.extend(asked);
        let common = ground.common(&placed);
        let n = rows.len();
        let x = DVector::from_fn(n, |i, _| median * rows[i].air);
        let width = if reference.is_some() { exponent.prior_sd } else { 0.0 };
        let many_seasons = rows.iter().any(|r| r.season != rows[0].season);
        let unread = exponent.prior.abs() * median * UNREAD_LOG_SD;
        let kernel = |f: &dyn Fn(&Row, &Row) -> f64| DMatrix::from_fn(n, n, |i, j| f(&rows[i], &rows[j]));
        let model = Mixed {
            y: DVector::from_fn(n, |i, _| sign * (carried[i] - middle)),
            known: kernel(&|a, b| known(&believed, many_seasons, unread, a, b)) + &x * x.transpose() * (width * width),
            noise: believed.run,
            floor: believed.floor,
            parts: vec![
                Part { kernel: kernel(&day_kernel), prior: believed.day },
                Part { kernel: kernel(&drift_kernel), prior: believed.drift },
                Part { kernel: kernel(&|a, b| common.of(a, b)), prior: believed.change },
            ],
            bad: Some(believed.bad),
        };
        let fit = match sd {
            Some(sd) => model.fit_from(sd)?,
            None => model.fit()?,
        };
        let lost: f64 = fit.weights.iter().map(|w| 1.0 - w).sum();
        let share = (UNMARKED * UNMARKED_RUNS + lost) / (UNMARKED_RUNS + n as f64);
        let usual = footing.clone();
        Some(Known {
            response,
            believed,
            rows,
            fit,
            common,
            ground,
            many_seasons,
            unread,
            exponent: exponent.prior,
            exponent_sd: width,
            reference,
            usual: Box::new(move |track| usual.usual_at(track)),
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
        let air = self
            .reference
            .map_or(0.0, |r| (asked.density_kg_m3.unwrap_or_else(|| (self.usual)(&asked.day.track)) / r).ln());
        let assumed = asked.density_kg_m3.is_none() && self.reference.is_some();
        let row = self.ground.row(asked.day, asked.at, asked.lane, asked.version, air, assumed);
        let [run_sd, day_sd, drift_sd, change_sd] = [0, 1, 2, 3].map(|i| self.fit.sd[i]);
        // The sds are known only so well: the mean of a lognormal variance is wider than its most probable value.
        let wider = |i: usize| (self.fit.log_sd[i] * self.fit.log_sd[i]).exp();
        let (run_wide, rest_wide) = (run_sd * wider(0), wider(1).max(wider(3)));
        let slope = |a: &Row| self.median * a.air * self.exponent_sd;
        let of_air = |a: &Row, b: &Row| slope(a) * slope(b);
        let b = &self.believed;
        let of_day = |x: &Row, y: &Row| {
            day_sd * day_sd * day_kernel(x, y)
                + drift_sd * drift_sd * drift_kernel(x, y)
                + b.hour * b.hour * x.hour * y.hour * day_kernel(x, y)
        };
        let whole = |x: &Row, y: &Row| {
            known(b, self.many_seasons, self.unread, x, y)
                + day_sd * day_sd * day_kernel(x, y)
                + drift_sd * drift_sd * drift_kernel(x, y)
                + change_sd * change_sd * self.common.of(x, y)
                + of_air(x, y)
        };
        let against = |f: &dyn Fn(&Row, &Row) -> f64| {
            (DVector::from_iterator(self.rows.len(), self.rows.iter().map(|r| f(r, &row))), f(&row, &row))
        };
        let (with, own) = against(&whole);
        let (moved, latent) = self.fit.expect(&with, own);
        let left = |f: &dyn Fn(&Row, &Row) -> f64| {
            let (with, own) = against(f);
            self.fit.expect(&with, own).1
        };
        // The carried number goes back into the air asked about.
        let back = (air * self.exponent).exp();
        let middle = (self.middle + self.sign * moved) * back;
        let reading = self.exponent.abs() * self.median * asked.density_log_sd;
        let air_var = left(&of_air).min(latent);
        let day_var = left(&of_day).min(latent - air_var);
        // What is not known of the widths widens what rests on them.
        let knowing_var = (latent - air_var - day_var).max(0.0) * rest_wide * rest_wide;
        let day_var = day_var * rest_wide * rest_wide;
        let of = SpreadOf {
            run: run_wide * back,
            day: day_var.sqrt() * back,
            air: (air_var + reading * reading).sqrt() * back,
            knowing: knowing_var.sqrt() * back,
        };
        let sd = (run_wide * run_wide + day_var + knowing_var + air_var + reading * reading).sqrt() * back;
        let spread = Spread { mean: self.sign * middle, sd, share: self.share, shift: self.believed.bad.shift };
        let runs_here = self.rows.iter().filter(|r| r.setup == row.setup).count();
        Expected { response: self.response, middle, sd, of, runs_here, runs: self.rows.len(), spread, sign: self.sign }
    }
}

/// Share of runs that are bad and not marked, and how many runs' worth that belief is (the simulated seasons' middle).
const UNMARKED: f64 = 0.02;
const UNMARKED_RUNS: f64 = 20.0;

/// The expectation of each number the book has runs for.
pub fn expect(timeline: &Timeline, runs: &[Made], footing: &Footing, finish_ft: u32, asked: &Asked) -> Vec<Expected> {
    let beams = crate::slip::Beam::ALL.into_iter().filter(|b| b.feet() < finish_ft).map(Response::Time);
    beams
        .chain([Response::Et, Response::Mph])
        .filter_map(|response| {
            let known = Known::new(timeline, runs, footing, finish_ft, response, Some(asked.version), None);
            known.map(|mut k| k.expect(asked))
        })
        .collect()
}
