//! How far earlier expectations would have been off, and how far what people do instead.

use super::car::CarFacts;
use super::expect::{Asked, Known};
use super::footing::{Footing, FootingOf, Made};
use super::standing::{Standing, air_of, airs_of};
use super::usual::reading_log_sd;
use crate::slip::{Day, Response};
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
    /// The last clean run before it on the same day and setup, s, where there was one.
    pub last_run_s: Option<f64>,
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
    /// The last run of the same day on the same setup, where there was one: how many, how it did, and how the expectation
    /// did on those alone.
    pub last_run: Option<(usize, Habit, Habit)>,
    /// Each run.
    pub tried: Vec<Tried>,
}

/// A run is tried when this many clean ones came before it, some of them on an earlier day.
const BEFORE: usize = 5;

/// The rule of thumb: ET with the cube root of density (true of a car that is on power all the way).
const CUBE_ROOT: f64 = -1.0 / 3.0;

/// Expects each of the last `most` clean finishes from the runs and readings before it alone: exponents, reference and
/// spread are found anew from those. What is taken as known: the sheet it was made on, its lane, and the air it would have
/// been asked in (the readings up to its time, as far off as they were). `progress` hears how many are done.
pub fn backtest(
    timeline: &Timeline,
    runs: &[Made],
    car: &CarFacts,
    finish_ft: u32,
    most: usize,
    progress: &dyn Fn(usize, usize),
) -> Backtest {
    let ran = |(run, day, _): &Made| Response::Et.at_beam(finish_ft).of(run, day, finish_ft);
    let mut fit = Vec::new();
    let (mut clean, mut first) = (0, None);
    for (i, made) in runs.iter().enumerate() {
        if ran(made).is_none() {
            continue;
        }
        if clean >= BEFORE && first.is_some_and(|f| f < made.1.date) {
            fit.push(i);
        }
        clean += 1;
        first = first.or(Some(made.1.date));
    }
    let wanted = &fit[fit.len().saturating_sub(most)..];
    let airs = airs_of(runs);
    let book = Book { timeline, runs, airs: &airs, car, finish_ft };
    let mut tried = Vec::new();
    let mut sd: Option<(jiff::civil::Date, Vec<f64>)> = None;
    for (done, &i) in wanted.iter().enumerate() {
        progress(done, wanted.len());
        tried.extend(book.one(i, &mut sd));
    }
    let habit = |of: &dyn Fn(&Tried) -> Option<f64>| {
        let misses = Sample::new(tried.iter().filter_map(|t| Some((of(t)? - t.ran_s).abs())));
        Some(Habit { middle_miss_s: misses.middle()?, mean_miss_s: misses.mean()? })
    };
    let inside = |range: &dyn Fn(&Tried) -> (f64, f64)| {
        tried.iter().filter(|t| (range(t).0..=range(t).1).contains(&t.ran_s)).count()
    };
    let again = tried.iter().filter(|t| t.last_run_s.is_some()).count();
    let last_run = habit(&|t| t.last_run_s).zip(habit(&|t| t.last_run_s.map(|_| t.expected_s)));
    Backtest {
        runs: tried.len(),
        inside80: inside(&|t| t.range80_s),
        inside95: inside(&|t| t.range95_s),
        expected: habit(&|t| Some(t.expected_s)),
        last_day: habit(&|t| Some(t.last_day_s)),
        fixed: habit(&|t| Some(t.fixed_s)),
        last_run: last_run.map(|(last, dial)| (again, last, dial)),
        tried,
    }
}

/// What the backtest walks through.
struct Book<'a> {
    timeline: &'a Timeline,
    runs: &'a [Made<'a>],
    airs: &'a [Option<Standing>],
    car: &'a CarFacts,
    finish_ft: u32,
}

impl Book<'_> {
    fn et(&self, (run, day, _): &Made) -> Option<f64> {
        Response::Et.at_beam(self.finish_ft).of(run, day, self.finish_ft)
    }

    /// One run from those before it.
    fn one(&self, i: usize, sd: &mut Option<(jiff::civil::Date, Vec<f64>)>) -> Option<Tried> {
        let (run, day, version) = &self.runs[i];
        let ran_s = self.et(&self.runs[i])?;
        // Readings of the day that came later are not known yet, neither for this run nor for those before it.
        let early = Day { readings: Vec::new(), runs: Vec::new(), ..(*day).clone() };
        let known = |r: &&crate::slip::Reading| day.read_at(r).is_some_and(|at| at.seconds <= run.at.seconds);
        let early = Day { readings: day.readings.iter().filter(known).cloned().collect(), ..early };
        let same_day = |d: &Day| d.date == day.date && d.track == day.track;
        let cut = |d: &&'_ Day| same_day(d);
        let before: Vec<Made> =
            self.runs[..i].iter().map(|(r, d, v)| (*r, if cut(d) { &early } else { *d }, *v)).collect();
        let mut airs = self.airs[..i].to_vec();
        for ((r, d, _), air) in before.iter().zip(&mut airs) {
            if same_day(d) {
                *air = air_of(r, d);
            }
        }
        let footing = Footing::with_air(self.timeline, &before, &airs, self.finish_ft, self.car, FootingOf::Book);
        // A day's first run is fitted from the beginning, the others go on from there.
        let from = sd.as_ref().filter(|(date, _)| *date == day.date).map(|(_, sd)| sd.as_slice());
        let mut known = Known::new(self.timeline, &before, &footing, self.finish_ft, Response::Et, *version, from)?;
        *sd = Some((day.date, known.sd().to_vec()));
        let read = air_of(run, &early);
        let (density_kg_m3, density_log_sd) = match read {
            Some(Standing::Read { density_kg_m3, minutes, .. }) if footing.reference.is_some() => {
                (Some(density_kg_m3), reading_log_sd(minutes))
            }
            _ => (None, 0.0),
        };
        let lane = run.lane.as_deref();
        let asked = Asked { day: &early, at: run.at, lane, version: *version, density_kg_m3, density_log_sd };
        let expected = known.expect(&asked);
        let last_day = before.iter().filter(|m| m.1.date < day.date && self.et(m).is_some()).map(|m| m.1.date).max()?;
        let mean = |v: Vec<f64>| Sample::new(v).mean();
        let now = density_kg_m3.unwrap_or_else(|| footing.usual_at(&early).0);
        let carried = |m: &Made| {
            let raw = self.et(m)?;
            let then = footing.standing(m.0, m.1).map(|s| s.density_kg_m3());
            Some(then.map_or(raw, |then| raw * (now / then).powf(CUBE_ROOT)))
        };
        let mark = |v: usize| self.timeline.versions.get(v).map(|v| v.mark);
        let again = |m: &&Made| same_day(m.1) && mark(m.2) == mark(*version) && self.et(m).is_some();
        Some(Tried {
            run: run.id.clone(),
            ran_s,
            expected_s: expected.middle,
            range80_s: expected.range(0.8),
            range95_s: expected.range(0.95),
            last_run_s: before.iter().rev().find(again).and_then(|m| self.et(m)),
            last_day_s: mean(before.iter().filter(|m| m.1.date == last_day).filter_map(|m| self.et(m)).collect())?,
            fixed_s: mean(before.iter().filter_map(carried).collect())?,
            runs_here: expected.runs_here,
        })
    }
}
