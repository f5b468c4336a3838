//! The one interface between runs and verdicts: plain before/after arithmetic for now, behind it.

use crate::pace::Seen;
use crate::slip::Response;
use crate::stats::{Difference, Sample, Scatter, difference};
use crate::timeline::Timeline;

/// Under this many clean runs on a side it is too early to call.
pub const ENOUGH_RUNS: usize = 3;

/// Intervals hold this share of the time, if runs scatter alike on every setup and nothing but the setup differs.
pub const CONFIDENCE: f64 = 0.95;

/// What a comparison of two setups says.
#[derive(Debug, Clone, Copy, PartialEq, Eq, serde::Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Verdict {
    /// A side has fewer than three clean runs.
    TooEarly,
    /// The interval lies on the quick side of zero.
    Quicker,
    /// The interval lies on the slow side of zero.
    Slower,
    /// The interval holds zero.
    CannotTell,
}

impl Verdict {
    /// In words.
    pub fn words(self) -> &'static str {
        match self {
            Verdict::TooEarly => "too early to call",
            Verdict::Quicker => "quicker, by more than the scatter",
            Verdict::Slower => "slower, by more than the scatter",
            Verdict::CannotTell => "these runs cannot tell",
        }
    }
}

/// The clean numbers of every setup, and the scatter pooled over them.
pub struct Judge {
    /// What is asked.
    pub response: Response,
    /// By setup: index into `Timeline::setups` order.
    samples: Vec<Sample>,
    /// The same as run.
    raw: Vec<Sample>,
    /// Setup of each version.
    setup_of: Vec<usize>,
    scatter: Option<Scatter>,
    /// Clean numbers made on each version itself.
    own: Vec<usize>,
    /// Runs that could not answer.
    pub left_out: usize,
}

impl Judge {
    /// Sorts the runs by setup.
    pub fn new(timeline: &Timeline, runs: &[Seen], finish_ft: u32, response: Response) -> Judge {
        let setups = timeline.setups();
        let setup_of = timeline.setup_of(&setups);
        let mut values: Vec<Vec<f64>> = vec![Vec::new(); setups.len()];
        let mut raw = values.clone();
        let mut left_out = 0;
        let mut own = vec![0; timeline.versions.len()];
        for seen in runs {
            match seen.number(response, finish_ft) {
                Some(x) => {
                    values[setup_of[seen.version]].push(x);
                    raw[setup_of[seen.version]].extend(seen.raw(response, finish_ft));
                    own[seen.version] += 1;
                }
                None => left_out += 1,
            }
        }
        let samples: Vec<Sample> = values.into_iter().map(Sample::new).collect();
        let scatter = Scatter::pooled(&samples, response.resolution());
        let raw = raw.into_iter().map(Sample::new).collect();
        Judge { response, samples, raw, setup_of, scatter, own, left_out }
    }

    /// The clean numbers of the setup a version is.
    pub fn sample(&self, version: usize) -> &Sample {
        &self.samples[self.setup_of[version]]
    }

    /// The same as run, in whatever air there was.
    pub fn raw(&self, version: usize) -> &Sample {
        &self.raw[self.setup_of[version]]
    }

    /// Index of the setup a version is.
    pub fn setup(&self, version: usize) -> usize {
        self.setup_of[version]
    }

    /// A version against the one before it: only where the car ran on it after the change was made.
    pub fn step(&self, version: usize) -> Option<(Option<Difference>, Verdict)> {
        let before = version.checked_sub(1).filter(|_| self.own[version] > 0)?;
        self.compare(before, version)
    }

    /// One setup against another, pooled over equal versions. `None` without a clean run on both, or of one setup.
    pub fn compare(&self, without: usize, with: usize) -> Option<(Option<Difference>, Verdict)> {
        let (a, b) = (self.sample(without), self.sample(with));
        if a.n() == 0 || b.n() == 0 || self.setup_of[without] == self.setup_of[with] {
            return None;
        }
        let d = self.scatter.and_then(|s| difference(a, b, s, CONFIDENCE));
        let verdict = match d {
            _ if a.n() < ENOUGH_RUNS || b.n() < ENOUGH_RUNS => Verdict::TooEarly,
            Some(d) if d.lo > 0.0 => self.sided(true),
            Some(d) if d.hi < 0.0 => self.sided(false),
            _ => Verdict::CannotTell,
        };
        Some((d, verdict))
    }

    fn sided(&self, more: bool) -> Verdict {
        if more == self.response.more_is_quicker() { Verdict::Quicker } else { Verdict::Slower }
    }

    /// Mean time of a setup with enough clean runs, with minus for what is better when large.
    fn cost(&self, version: usize) -> Option<f64> {
        let sample = self.sample(version);
        let mean = sample.mean().filter(|_| sample.n() >= ENOUGH_RUNS)?;
        Some(if self.response.more_is_quicker() { -mean } else { mean })
    }

    /// The latest version of the quickest setup with enough clean runs.
    pub fn best(&self) -> Option<usize> {
        let quickest =
            (0..self.setup_of.len()).filter_map(|v| Some((v, self.cost(v)?))).min_by(|a, b| a.1.total_cmp(&b.1))?;
        (0..self.setup_of.len()).rev().find(|v| self.setup_of[*v] == self.setup_of[quickest.0])
    }

    /// The latest version that ran well: enough clean runs, and, within scatter, as quick as the best. With the versions
    /// after it that were passed over, each with the reason.
    pub fn last_good(&self) -> Option<(usize, Vec<(usize, String)>)> {
        let best = self.best()?;
        let mut passed: Vec<(usize, String)> = Vec::new();
        for v in (0..self.setup_of.len()).rev() {
            let n = self.sample(v).n();
            if n < ENOUGH_RUNS {
                let runs = if n == 1 { "1 clean run".to_owned() } else { format!("{n} clean runs") };
                passed.push((v, format!("{runs}, too early")));
                continue;
            }
            match self.compare(best, v) {
                Some((Some(d), Verdict::Slower)) => {
                    let unit = if self.response == Response::Mph { "mph" } else { "s" };
                    passed.push((v, format!("slower by {:.3} {unit}", d.value.abs())));
                }
                _ => return Some((v, passed)),
            }
        }
        None
    }
}
