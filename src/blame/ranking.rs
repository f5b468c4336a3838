//! The ranking: every version that had runs before and after, by the difference of means.

use super::{By, Judge, Segment, Verdict, segments};
use crate::pace::{Seen, Splits};
use crate::stats::Difference;
use crate::timeline::{Timeline, VersionNumber};

/// One change with what followed it.
#[derive(Debug, Clone, serde::Serialize)]
pub struct Ranked {
    /// Its number.
    pub version: VersionNumber,
    /// Index in the timeline.
    #[serde(skip)]
    pub index: usize,
    /// When.
    pub at: crate::slip::Moment,
    /// What changed, in words.
    pub words: Vec<String>,
    /// The difference of means, with minus without, in the response's unit.
    pub difference: Option<Difference>,
    /// The difference of the means as run, in whatever air there was.
    pub as_run: Option<f64>,
    /// What it says.
    pub verdict: Verdict,
    /// Where in the run it lies.
    pub segments: Vec<Segment>,
    /// Clean runs on the setup before.
    pub n_without: usize,
    /// Clean runs on the setup it made.
    pub n_with: usize,
}

/// The answer.
#[derive(Debug, Clone, serde::Serialize)]
pub struct Ranking {
    /// Quickest first; what is too early comes last.
    pub changes: Vec<Ranked>,
    /// Versions without a clean run on one of the sides.
    pub never_compared: Vec<VersionNumber>,
    /// Runs that could not answer (not clean to there, or the number is missing).
    pub left_out: usize,
    /// Runs that could.
    pub counted: usize,
}

/// Ranks the versions of a book.
pub fn rank(timeline: &Timeline, runs: &[Seen], judge: &Judge) -> Ranking {
    let setups = (0..timeline.versions.len()).map(|v| judge.setup(v) + 1).max().unwrap_or(0);
    let mut by_setup: Vec<Vec<Splits>> = vec![Vec::new(); setups];
    runs.iter().for_each(|s| by_setup[judge.setup(s.version)].push(s.splits()));
    let mut changes = Vec::new();
    let mut never_compared = Vec::new();
    for (i, version) in timeline.versions.iter().enumerate().skip(1) {
        match judge.step(i) {
            Some((difference, verdict)) => changes.push(Ranked {
                version: version.number.clone(),
                index: i,
                at: version.entry.at,
                words: version.entry.words.clone(),
                difference,
                as_run: judge.raw(i).mean().zip(judge.raw(i - 1).mean()).map(|(with, without)| with - without),
                verdict,
                segments: segments(&by_setup[judge.setup(i - 1)], &by_setup[judge.setup(i)], By::Mean),
                n_without: judge.sample(i - 1).n(),
                n_with: judge.sample(i).n(),
            }),
            None => never_compared.push(version.number.clone()),
        }
    }
    let sign = if judge.response.more_is_quicker() { -1.0 } else { 1.0 };
    let cost = |r: &Ranked| r.difference.map_or(f64::INFINITY, |d| sign * d.value);
    changes.sort_by(|a, b| {
        let early = |r: &Ranked| r.verdict == Verdict::TooEarly;
        early(a).cmp(&early(b)).then(cost(a).total_cmp(&cost(b))).then(a.version.cmp(&b.version))
    });
    let mut setups: Vec<usize> = (0..timeline.versions.len()).collect();
    setups.sort_by_key(|v| judge.setup(*v));
    setups.dedup_by_key(|v| judge.setup(*v));
    let counted = setups.into_iter().map(|v| judge.sample(v).n()).sum();
    Ranking { changes, never_compared, left_out: judge.left_out, counted }
}
