//! How far earlier expectations would have been off, and how far what people do instead.

use super::expect::{Asked, Known};
use super::footing::{Footing, Made, Standing};
use crate::slip::Response;
use crate::stats::Sample;
use crate::timeline::Timeline;

/// One earlier run, expected from those before it.
#[derive(Debug, Clone, PartialEq, serde::Serialize)]
pub struct Tried {
    /// Id of the run.
    pub run: String,
    /// What it ran, s.
    pub ran_s: f64,
    /// What was expected, s.
    pub expected_s: f64,
    /// Range for 8 runs in 10.
    pub range80_s: (f64, f64),
    /// Range for 19 runs in 20.
    pub range95_s: (f64, f64),
    /// The average of the last day before, s.
    pub last_day_s: f64,
    /// The average of all runs before, each carried by the cube root of density, s.
    pub fixed_s: f64,
    /// Clean runs there were on its setup.
    pub runs_here: usize,
}

/// How a way of guessing did: middle and mean of the misses, s.
#[derive(Debug, Clone, Copy, PartialEq, serde::Serialize)]
pub struct Habit {
    /// Half the misses are smaller.
    pub middle_miss_s: f64,
    /// Their mean.
    pub mean_miss_s: f64,
}

/// The sum of it.
#[derive(Debug, Clone, PartialEq, serde::Serialize)]
pub struct Backtest {
    /// Runs tried.
    pub runs: usize,
    /// Of them, within the range for 8 in 10.
    pub inside80: usize,
    /// Within the range for 19 in 20.
    pub inside95: usize,
    /// The expectation.
    pub expected: Option<Habit>,
    /// The last day's average.
    pub last_day: Option<Habit>,
    /// The book's average with a fixed correction.
    pub fixed: Option<Habit>,
    /// Each run.
    pub tried: Vec<Tried>,
}

/// A run is tried when this many clean ones came before it, some of them on an earlier day.
const BEFORE: usize = 5;

/// The rule of thumb: ET with the cube root of density (true of a car that is on power all the way).
const CUBE_ROOT: f64 = -1.0 / 3.0;

/// Expects each of the last `most` clean finishes from the runs before it alone: exponents, reference and spread are found
/// anew from those. `progress` hears how many are done.
pub fn backtest(
    timeline: &Timeline,
    runs: &[Made],
    footing_of: &dyn Fn(&[Made]) -> Footing,
    finish_ft: u32,
    most: usize,
    progress: &dyn Fn(usize, usize),
) -> Backtest {
    let ran = |(run, day, _): &Made| Response::Et.of(run, day, finish_ft);
    let fit: Vec<usize> = (0..runs.len())
        .filter(|i| {
            let before = || runs[..*i].iter().filter(|m| ran(m).is_some());
            ran(&runs[*i]).is_some() && before().count() >= BEFORE && before().any(|m| m.1.date < runs[*i].1.date)
        })
        .collect();
    let wanted = &fit[fit.len().saturating_sub(most)..];
    let mut tried = Vec::new();
    let mut sd: Option<(usize, Vec<f64>)> = None;
    for (done, &i) in wanted.iter().enumerate() {
        progress(done, wanted.len());
        tried.extend(one(timeline, &runs[..i], &runs[i], footing_of, finish_ft, &mut sd, ran(&runs[i])));
    }
    let sum = |guess: &dyn Fn(&Tried) -> f64| {
        let misses = Sample::new(tried.iter().map(|t| (guess(t) - t.ran_s).abs()));
        Some(Habit { middle_miss_s: misses.middle()?, mean_miss_s: misses.mean()? })
    };
    let inside = |range: &dyn Fn(&Tried) -> (f64, f64)| {
        tried.iter().filter(|t| (range(t).0..=range(t).1).contains(&t.ran_s)).count()
    };
    Backtest {
        runs: tried.len(),
        inside80: inside(&|t| t.range80_s),
        inside95: inside(&|t| t.range95_s),
        expected: sum(&|t| t.expected_s),
        last_day: sum(&|t| t.last_day_s),
        fixed: sum(&|t| t.fixed_s),
        tried,
    }
}

fn one(
    timeline: &Timeline,
    before: &[Made],
    (run, day, version): &Made,
    footing_of: &dyn Fn(&[Made]) -> Footing,
    finish_ft: u32,
    sd: &mut Option<(usize, Vec<f64>)>,
    ran: Option<f64>,
) -> Option<Tried> {
    let ran_s = ran?;
    let footing = footing_of(before);
    // A day's first run is fitted from the beginning, the others go on from there.
    let key = day.date.day_of_year() as usize + day.date.year() as usize * 400;
    let from = sd.as_ref().filter(|(k, _)| *k == key).map(|(_, sd)| sd.as_slice());
    let mut known = Known::new(timeline, before, &footing, finish_ft, Response::Et, Some(*version), from)?;
    *sd = Some((key, known.sd().to_vec()));
    let density = match footing.standing(run, day) {
        Some(Standing::Read { density_kg_m3, .. }) => Some(density_kg_m3),
        _ => None,
    };
    let lane = run.lane.as_deref();
    let asked = Asked { day, at: run.at, lane, version: *version, density_kg_m3: density, density_log_sd: 0.0 };
    let expected = known.expect(&asked);
    let et = |m: &Made| Response::Et.of(m.0, m.1, finish_ft);
    let last_day = before.iter().filter(|m| m.1.date < day.date && et(m).is_some()).map(|m| m.1.date).max()?;
    let mean = |v: Vec<f64>| Sample::new(v).mean();
    let now = density.unwrap_or_else(|| footing.usual_at(&day.track));
    let carried = |m: &Made| {
        let raw = et(m)?;
        let then = footing.standing(m.0, m.1).map(|s| s.density_kg_m3());
        Some(then.filter(|_| footing.reference.is_some()).map_or(raw, |then| raw * (now / then).powf(CUBE_ROOT)))
    };
    Some(Tried {
        run: run.id.clone(),
        ran_s,
        expected_s: expected.middle,
        range80_s: expected.range(0.8),
        range95_s: expected.range(0.95),
        last_day_s: mean(before.iter().filter(|m| m.1.date == last_day).filter_map(et).collect())?,
        fixed_s: mean(before.iter().filter_map(carried).collect())?,
        runs_here: expected.runs_here,
    })
}
