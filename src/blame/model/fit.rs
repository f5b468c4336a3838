//! The fit: sizes, chances that runs belong, and draws of what each column is worth.

use super::belief::Belief;
use super::columns::{CHANGE, Ground, compact, effects};
use super::design::{Column, Design};
use super::priors::{Channel, Middles, Settings};
use super::propagation::propagation;
use super::record::{Record, Used};
use super::seasons;
use crate::slip::{Beam, Response};
use crate::stats::{Draws, Effects, EffectsFit, Random, Sample, Slab, Sweeps, Walk, inverse};
use nalgebra::DMatrix;
use serde::{Deserialize, Serialize};

/// One fitted channel.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct ChannelFit {
    /// σ from run to run, of a day, of the drift from one day to the next, and of a change; in the response's unit.
    pub sd: Vec<f64>,
    /// The chance that each run that counts is an ordinary one.
    pub ordinary: Vec<f64>,
    /// What each column is worth: the mean of its draws.
    pub mean: Vec<f64>,
    /// How many times it counts in the answer: c for the 60 ft of a finish time.
    pub times: f64,
    /// Exponent on density it was carried by.
    pub exponent: f64,
    /// The median that was taken off, after carrying.
    pub centre: f64,
    /// Scale of the air term.
    pub scale: f64,
}

/// The model of a response, fitted; with its [`Belief`]s it is everything a verdict needs.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Fit {
    /// The 60 ft and the rest, or the response alone.
    pub channels: Vec<ChannelFit>,
    /// Columns.
    pub columns: Vec<Column>,
    /// Setups × columns, row by row.
    pub z: Vec<i8>,
    /// Places of the runs that count, in the order of time.
    pub used: Vec<usize>,
    /// Of each: passes on the tires by name before it; `None` without a name.
    pub passes: Vec<Option<f32>>,
}

/// Draws of which runs belong, and sweeps for each.
const INDICATORS: usize = 20;
const SWEEPS: usize = 100;
/// Sweeps not kept: from nothing, and from where the sweeps before stopped.
const BURN: (usize, usize) = (20, 10);
/// The same book gives the same answer.
const SEED: u64 = 0x0510_b007;
/// More runs than this are fitted season by season.
pub(super) const MANY: usize = 450;
/// A run less likely ordinary than this is left out where fractions will not do.
const RATHER_NOT: f64 = 0.5;

/// How a channel's numbers stand before the fit.
pub(super) struct Ready<'a> {
    pub rows: Vec<&'a Used>,
    /// Carried to one air, minus their median.
    pub y: Vec<f64>,
    pub centre: f64,
    pub settings: Settings,
}

/// Fits a response. `settings` gives what is believed of a channel, `version_of` the version of a run.
pub fn fit(
    record: &Record,
    design: &Design,
    finish_ft: u32,
    response: Response,
    settings: &dyn Fn(Channel, Middles) -> Settings,
    version_of: &dyn Fn(usize) -> usize,
) -> Option<(Fit, Vec<Belief>)> {
    if record.used.is_empty() {
        return None;
    }
    let middles = Middles { response: record.middle, ft60: record.middle_60 };
    let whole = settings(Channel::Number(response), middles);
    let mut channels = Vec::new();
    if record.two {
        let c = propagation(&record.used, version_of, finish_ft, whole.exponent);
        let of_60 = Middles { response: record.middle_60, ..middles };
        let ft60 = settings(Channel::Number(Response::Time(Beam::Ft60)), of_60);
        let rest = settings(Channel::Rest { times: c }, middles);
        let first = || one(record, design, ft60, &|u| u.ft60.unwrap_or(u.y), c, 0);
        let second = || one(record, design, rest, &|u| u.y - c * u.ft60.unwrap_or(0.0), 1.0, 1);
        let (first, second) = side_by_side(first, second);
        channels.extend([first?, second?]);
    } else {
        channels.push(one(record, design, whole, &|u| u.y, 1.0, 0)?);
    }
    let (channels, beliefs) = channels.into_iter().unzip();
    debug_assert!(design.z.iter().all(|v| v.abs() <= 1.0 && v.fract() == 0.0));
    let fit = Fit {
        channels,
        columns: design.columns.clone(),
        // Columns are steps of levels and bundles: -1, 0 or 1.
        z: design.z.transpose().iter().map(|v| *v as i8).collect(),
        used: record.used.iter().map(|u| u.run).collect(),
        passes: record.used.iter().map(|u| u.passes).collect(),
    };
    Some((fit, beliefs))
}

/// Both at once where there is a second core: they share nothing, each with its own stream of chance, so the answer is the
/// same either way. On one core a thread only costs.
fn side_by_side<T: Send>(first: impl FnOnce() -> T + Send, second: impl FnOnce() -> T) -> (T, T) {
    if std::thread::available_parallelism().is_ok_and(|cores| cores.get() == 1) {
        return (first(), second());
    }
    std::thread::scope(|both| {
        let beside = both.spawn(first);
        let second = second();
        (beside.join().unwrap_or_else(|panic| std::panic::resume_unwind(panic)), second)
    })
}

/// The numbers of a channel, carried and centred.
pub(super) fn ready<'a>(rows: Vec<&'a Used>, settings: Settings, of: &dyn Fn(&Used) -> f64) -> Ready<'a> {
    let mut y: Vec<f64> = rows.iter().map(|u| of(u) - settings.exponent * settings.scale * u.row.air).collect();
    let centre = Sample::new(y.iter().copied()).middle().unwrap_or_default();
    y.iter_mut().for_each(|v| *v -= centre);
    Ready { rows, y, centre, settings }
}

pub(super) fn several_seasons(rows: &[&Used]) -> bool {
    rows.iter().any(|u| u.row.season != rows[0].row.season)
}

fn one(
    record: &Record,
    design: &Design,
    settings: Settings,
    of: &dyn Fn(&Used) -> f64,
    times: f64,
    stream: u64,
) -> Option<(ChannelFit, Belief)> {
    let ready = ready(record.used.iter().collect(), settings, of);
    let ground = Ground { days: (record.days, 0), tracks: record.tracks, seasons: several_seasons(&ready.rows) };
    let (effects, fitted) = if ready.rows.len() > MANY {
        let fitted = seasons::fit(&ready, record.tracks, &design.z)?;
        (effects(&ready.rows, ready.y.clone(), &settings, &ground, None), fitted)
    } else {
        let effects = effects(&ready.rows, ready.y.clone(), &settings, &ground, Some(&design.z));
        let fitted = effects.fit()?;
        (effects, fitted)
    };
    let belief = believed(&effects, &fitted, design, &settings, &ready.rows, stream)?;
    let fit = ChannelFit {
        sd: fitted.sd,
        ordinary: fitted.weights,
        mean: (0..design.columns.len()).map(|k| belief.draws.mean(k)).collect(),
        times,
        exponent: settings.exponent,
        centre: ready.centre,
        scale: settings.scale,
    };
    Some((fit, belief))
}

/// What is believed of each column.
pub(super) fn slabs(design: &Design, settings: &Settings) -> Vec<Slab> {
    let of = |c: &Column| {
        let nothing = (1.0 - settings.field_share).powf(c.fields) * (1.0 - settings.edge_share).powf(c.edges);
        Slab::new((1.0 - nothing).clamp(1e-4, 0.9), settings.slabs)
    };
    design.columns.iter().map(of).collect()
}

/// The rows' setups numbered from 0 on, and the design's rows of them.
pub(super) fn levels(rows: &[&Used], design: &Design) -> (Vec<usize>, DMatrix<f64>) {
    let (setups, _) = compact(rows);
    let group_of = rows.iter().map(|u| setups.binary_search(&u.row.setup).unwrap_or(0)).collect();
    (group_of, design.z.select_rows(&setups))
}

/// Whether a run belongs is yes or no, not a fraction of it: drawn, and the effects drawn for each.
fn believed(
    effects: &Effects,
    fitted: &EffectsFit,
    design: &Design,
    settings: &Settings,
    rows: &[&Used],
    stream: u64,
) -> Option<Belief> {
    let p = design.columns.len();
    let mut draws = Draws::new(INDICATORS * SWEEPS, p);
    if p == 0 {
        return Some(Belief { draws, left: Vec::new() });
    }
    let mut rng = Random::new(SEED + stream);
    let gone: Vec<Vec<usize>> =
        (0..INDICATORS).map(|_| (0..rows.len()).filter(|i| rng.uniform() >= fitted.weights[*i]).collect()).collect();
    let rather_not: Vec<usize> = (0..rows.len()).filter(|i| fitted.weights[*i] < RATHER_NOT).collect();
    let mut may_go: Vec<usize> = gone.iter().flatten().chain(&rather_not).copied().collect();
    may_go.sort_unstable();
    may_go.dedup();
    let (group_of, levels) = levels(rows, design);
    let ones = vec![1.0; rows.len()];
    let evidence = effects.evidence(&fitted.sd, &ones, &[CHANGE], &group_of, &levels, &may_go)?;
    let slabs = slabs(design, settings);
    let mut walk = Walk::new(&slabs);
    for (i, gone) in gone.iter().enumerate() {
        let (a, b) = evidence.without(gone)?;
        let sweeps = Sweeps { burn: if i == 0 { BURN.0 } else { BURN.1 }, keep: SWEEPS };
        walk.go((&a, &b), sweeps, &mut rng, &mut draws, i * SWEEPS);
    }
    let left = left(evidence.without(&rather_not)?.0, fitted.sd[CHANGE + 1])?;
    Some(Belief { draws, left })
}

/// `(A + I/τ²)⁻¹`.
fn left(mut a: DMatrix<f64>, tau: f64) -> Option<Vec<f32>> {
    for k in 0..a.nrows() {
        a[(k, k)] += 1.0 / (tau * tau);
    }
    Some(inverse(&a)?.iter().map(|v| *v as f32).collect())
}

impl Fit {
    /// The step from one setup to another: columns that differ.
    pub fn step(&self, from: usize, to: usize) -> Vec<(usize, f64)> {
        let p = self.columns.len();
        let (a, b) = (&self.z[from * p..(from + 1) * p], &self.z[to * p..(to + 1) * p]);
        let apart = a.iter().zip(b).enumerate().map(|(k, (x, y))| (k, f64::from(*y) - f64::from(*x)));
        apart.filter(|(_, d)| *d != 0.0).collect()
    }

    /// Whether two setups differ in one of the columns of a step.
    pub fn differ(&self, a: usize, b: usize, step: &[(usize, f64)]) -> bool {
        let p = self.columns.len();
        step.iter().any(|(k, _)| self.z[a * p + k] != self.z[b * p + k])
    }
}

/// Both channels of the golden season, with its exponents: effects of each step by fractions of 20,000 sweeps, and as the
/// model does it.
#[cfg(test)]
pub(super) fn both_for_tests(
    used: &[Used],
    design: &Design,
    ground: &Ground,
    c: f64,
) -> (Vec<super::super::verdict::Effect>, Vec<super::super::verdict::Effect>) {
    use crate::pace::{CarFacts, Footing, FootingOf};
    use crate::timeline::Timeline;
    // A book without runs: its footing knows nothing of the car; what the file's settings say is put in by hand.
    let footing = Footing::new(&Timeline::default(), &[], 1320, &CarFacts::default(), FootingOf::Book);
    let median = |of: &dyn Fn(&Used) -> f64| {
        let mut v: Vec<f64> = used.iter().map(of).collect();
        v.sort_by(f64::total_cmp);
        (v[(v.len() - 1) / 2] + v[v.len() / 2]) / 2.0
    };
    const EDGE_OF_MODEL: f64 = 0.02;
    let (et, ft60) = (median(&|u| u.y), median(&|u| u.ft60.unwrap()));
    let sixty = Middles { response: ft60, ft60 };
    let settings = [
        (Channel::Number(Response::Time(Beam::Ft60)), sixty, [(0.20, 0.10), (0.08, 0.20)]),
        (Channel::Rest { times: c }, Middles { response: et, ft60 }, [(0.36, 0.06), (0.24, 0.12)]),
    ];
    let mut fixed: Vec<(f64, Draws)> = Vec::new();
    let mut whole: Vec<(f64, Draws)> = Vec::new();
    for (i, (channel, middles, exponents)) in settings.into_iter().enumerate() {
        let of = |u: &Used| if i == 0 { u.ft60.unwrap() } else { u.y - c * u.ft60.unwrap() };
        let with = |(exponent, exponent_sd): (f64, f64), edge_share: f64| {
            let s = Settings { exponent, exponent_sd, edge_share, ..Settings::of(channel, &footing, 1320, middles) };
            let ready = ready(used.iter().collect(), s, &of);
            let effects = effects(&ready.rows, ready.y.clone(), &s, ground, Some(&design.z));
            let fitted = effects.fit().unwrap();
            (s, ready, effects, fitted)
        };
        let (s, ready, effects, fitted) = with(exponents[0], 0.05);
        let (group_of, levels) = levels(&ready.rows, design);
        let evidence = effects.evidence(&fitted.sd, &fitted.weights, &[CHANGE], &group_of, &levels, &[]).unwrap();
        let mut draws = Draws::new(20_000, design.columns.len());
        let sweeps = Sweeps { burn: 200, keep: 20_000 };
        let times = if i == 0 { c } else { 1.0 };
        let slabs = slabs(design, &s);
        Walk::new(&slabs).go((&evidence.a, &evidence.b), sweeps, &mut Random::new(3), &mut draws, 0);
        fixed.push((times, draws));
        let (s, ready, effects, fitted) = with(exponents[1], EDGE_OF_MODEL);
        whole.push((times, believed(&effects, &fitted, design, &s, &ready.rows, i as u64).unwrap().draws));
    }
    let steps = |channels: &[(f64, Draws)]| {
        let one = |s: usize| {
            let step = design.step(s - 1, s);
            let mut sum = vec![0.0; channels[0].1.kept];
            for (times, draws) in channels {
                sum.iter_mut().zip(draws.sum(&step)).for_each(|(o, v)| *o += times * v);
            }
            super::super::verdict::Effect::of(&sum, 0.005, false)
        };
        (1..design.z.nrows()).map(one).collect::<Vec<_>>()
    };
    (steps(&fixed), steps(&whole))
}
