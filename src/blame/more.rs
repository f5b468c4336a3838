//! How many more back-to-back runs would settle it: expected by the model, not a rule of thumb.

use super::estimates::Estimates;
use crate::stats::{Random, exp_below};

/// Scatter of a day's comparison beyond the run-to-run scatter: bad runs, drift, lanes (empirical, the blame model's).
const BEYOND: f64 = 1.08;
/// Trials of a number of runs, and draws each is weighed over.
const REPEATS: usize = 200;
const THINNED: usize = 500;
/// More runs a side than this in a day nobody makes.
pub const MOST: usize = 12;
const SEED: u64 = 0x0005_e771;
/// With two runs on a side it takes this share.
const ALMOST_CERTAIN: f64 = 0.98;
/// A share of draws from which on it is settled.
pub(super) const SETTLED: f64 = 0.90;

/// The chance, for each number of runs a side, that it would be settled.
#[derive(Debug, Clone, PartialEq)]
pub struct More {
    /// Draws of the difference, channel by channel: how it counts, σ, draws.
    channels: Vec<(f64, f64, Vec<f64>)>,
    matters: f64,
    /// Clean runs on the thinner side so far.
    fewest: usize,
}

/// Runs a side that settle it with a chance of 80 % and of 95 %; `None` = not with twelve.
#[derive(Debug, Clone, Copy, PartialEq, Eq, serde::Serialize, serde::Deserialize)]
pub struct Needed {
    /// 4 times out of 5.
    pub at_80: Option<usize>,
    /// 19 times out of 20.
    pub at_95: Option<usize>,
}

impl More {
    /// Of two versions' setups.
    pub fn new(estimates: &Estimates, without: usize, with: usize) -> Option<More> {
        let fit = estimates.kept.fit.as_ref()?;
        let draws = estimates.channel_draws(without, with);
        let thin = |d: Vec<f64>| {
            let every = (d.len() / THINNED).max(1);
            d.into_iter().step_by(every).collect::<Vec<f64>>()
        };
        let channels =
            fit.channels.iter().zip(draws).map(|(c, (times, d))| (times, c.sd[0], thin(d))).collect::<Vec<_>>();
        let sides = estimates.compare(without, with).map(|j| j.sides);
        let fewest = sides.map_or(0, |s| s.without.len().min(s.with.len()));
        Some(More { channels, matters: estimates.asked.matters, fewest })
    }

    /// Variance of the difference that `m` runs on each of two sheets show in a day, there and back.
    pub(super) fn variance(run_sd: f64, m: usize) -> f64 {
        BEYOND * 2.0 * run_sd * run_sd / m as f64
    }

    /// The chance that `m` runs more on each of the two, in one day, there and back, settle it either way.
    pub fn chance(&self, m: usize) -> f64 {
        // The ladder wants more than one clean run on a side, and with two it says everything a rung lower.
        let bar = match self.fewest + m {
            0 | 1 => return 0.0,
            2 => ALMOST_CERTAIN,
            _ => SETTLED,
        };
        // The same luck for every number of runs: more runs settle more.
        let mut random = Random::new(SEED);
        let draws = self.channels.first().map_or(0, |c| c.2.len());
        if draws == 0 {
            return 0.0;
        }
        let worth: Vec<f64> =
            (0..draws).map(|i| self.channels.iter().map(|(times, _, d)| times * d[i]).sum()).collect();
        let of = |is: &dyn Fn(f64) -> bool| worth.iter().map(|x| f64::from(u8::from(is(*x)))).collect::<Vec<f64>>();
        let mut answers = vec![of(&|x| x < -self.matters), of(&|x| x > self.matters)];
        if bar <= SETTLED {
            answers.push(of(&|x| x.abs() <= 2.0 * self.matters));
        }
        let mut ln = vec![0.0; draws];
        let mut settled = 0;
        for _ in 0..REPEATS {
            let truth = ((random.uniform() * draws as f64) as usize).min(draws - 1);
            ln.fill(0.0);
            for (_, sd, d) in &self.channels {
                let variance = More::variance(*sd, m);
                let seen = d[truth] + variance.sqrt() * random.normal();
                let by = 0.5 / variance;
                ln.iter_mut().zip(d).for_each(|(ln, d)| *ln -= by * (seen - d) * (seen - d));
            }
            let most = ln.iter().copied().fold(f64::NEG_INFINITY, f64::max);
            // Single precision is plenty for a share.
            ln.iter_mut().for_each(|l| *l = f64::from(exp_below((*l - most) as f32)));
            let total: f64 = ln.iter().sum();
            let share = |answer: &Vec<f64>| ln.iter().zip(answer).map(|(w, yes)| w * yes).sum::<f64>() / total;
            settled += usize::from(answers.iter().any(|a| share(a) >= bar));
        }
        settled as f64 / REPEATS as f64
    }

    /// The fewest that reach a chance.
    pub fn needed(&self) -> Needed {
        // More runs never settle less, but for the luck of the draw: halving finds the number in four looks.
        let mut known = std::collections::BTreeMap::new();
        let mut first = |p: f64| {
            let mut reaches = |m: usize| *known.entry(m).or_insert_with(|| self.chance(m)) >= p;
            if !reaches(MOST) {
                return None;
            }
            let (mut short, mut enough) = (0, MOST);
            while enough - short > 1 {
                let m = (short + enough) / 2;
                if reaches(m) { enough = m } else { short = m }
            }
            Some(enough)
        };
        Needed { at_80: first(0.80), at_95: first(0.95) }
    }
}
