//! Did a change make the car steadier: scatter from run to run without it and with it.

use super::model::LeftOut;
use super::{Estimates, Move};
use crate::pace::Seen;
use crate::stats::{Residuals, Sample, Steadiness, needed, quantile, steadiness};
use std::collections::{BTreeMap, BTreeSet};

/// Fewer runs than this on a side say nothing of scatter.
pub const LEAST_RUNS: usize = 8;
/// How sure the interval is, and how often the runs asked for would settle it.
const SURE: f64 = 0.95;
const OFTEN: f64 = 0.80;
/// A run less likely ordinary than this is left out.
const ORDINARY: f64 = 0.5;

/// The runs of a side.
#[derive(Debug, Clone, Default)]
pub struct Side {
    /// Runs the scatter is of: clean, ordinary, with another on their setup and day.
    pub runs: usize,
    /// Clean runs that were alone on their setup and day.
    pub lone: usize,
    /// Marked by the racer: left out.
    pub marked: usize,
    /// Clean, but rather no ordinary run: left out.
    pub improbable: usize,
    /// Standard deviation from run to run about the mean of the setup and day, in the response's unit.
    pub sd: Option<f64>,
    left: Option<Residuals>,
}

/// More runs a side that would settle a true ratio four times out of five; `None` where no number would.
#[derive(Debug, Clone, Copy, PartialEq, Eq, serde::Serialize)]
pub struct MoreRuns {
    /// Half the scatter.
    pub halving: Option<usize>,
    /// The ratio that was seen.
    pub seen: Option<usize>,
}

/// What is said of a change.
#[derive(Debug, Clone)]
pub enum Steadier {
    /// So many more on each of the sides.
    TooFew {
        /// On the setup before.
        without: usize,
        /// On the setup with it.
        with: usize,
    },
    /// Enough runs, and yet no interval: nothing scatters, or something scatters beyond all bounds.
    NoRatio,
    /// The ratio, with over without.
    Ratio(Steadiness, MoreRuns),
}

/// A change, by its scatter.
#[derive(Debug, Clone)]
pub struct Steady {
    /// Index of the version, and of the one before it that runs count on.
    pub index: (usize, usize),
    /// Keys that changed.
    pub keys: Vec<String>,
    /// What was turned, in words.
    pub words: Vec<String>,
    /// Without it, and with it, over all equal and toggled setups.
    pub sides: [Side; 2],
    /// What is said.
    pub said: Steadier,
}

/// How the setup on the car now repeats.
#[derive(Debug, Clone)]
pub struct Repeats {
    /// Index of the version.
    pub version: usize,
    /// Its runs.
    pub side: Side,
    /// On how many days.
    pub days: usize,
    /// Half of its clean runs, the improbable ones too, lie so near their middle in one air; with two runs.
    pub half_within: Option<f64>,
    /// Nine in ten; with ten runs.
    pub nine_in_ten_within: Option<f64>,
}

/// Nine in ten of fewer runs is all of them.
const NINE_IN_TEN_NEEDS: usize = 10;

/// Everything that is told of scatter.
#[derive(Debug, Clone)]
pub struct Steadies {
    /// The changes, newest first.
    pub changes: Vec<Steady>,
    /// The setup on the car now.
    pub now: Option<Repeats>,
}

/// Of a book's model. `finish_ft` is what ET means.
pub fn steadies(estimates: &Estimates, finish_ft: u32) -> Steadies {
    let scatter = Scatter::new(estimates, finish_ft);
    let mut seen: Vec<(BTreeSet<usize>, BTreeSet<usize>)> = Vec::new();
    let mut changes = Vec::new();
    for m in &estimates.kept.moves {
        let (without, with) = scatter.setups(m);
        // There and back, and again, are one change: told where it was first made.
        if seen.iter().any(|(a, b)| (*a == without && *b == with) || (*a == with && *b == without)) {
            continue;
        }
        changes.push(scatter.change(m, &without, &with));
        seen.push((without, with));
    }
    changes.reverse();
    Steadies { changes, now: scatter.now() }
}

struct Scatter<'e, 'a> {
    estimates: &'e Estimates<'a>,
    finish_ft: u32,
    /// Places of runs that rather do not belong.
    improbable: BTreeSet<usize>,
}

impl<'e, 'a> Scatter<'e, 'a> {
    fn new(estimates: &'e Estimates<'a>, finish_ft: u32) -> Scatter<'e, 'a> {
        let fit = estimates.kept.fit.as_ref();
        let improbable = fit.map_or_else(BTreeSet::new, |fit| {
            let odd = |i: &usize| fit.channels.iter().any(|c| c.ordinary[*i] < ORDINARY);
            (0..fit.used.len()).filter(odd).map(|i| fit.used[i]).collect()
        });
        Scatter { estimates, finish_ft, improbable }
    }

    fn setup(&self, run: usize) -> usize {
        self.estimates.setup(self.estimates.runs[run].version)
    }

    fn seen(&self, run: usize) -> Seen<'a> {
        self.estimates.runs[run]
    }

    fn value(&self, run: usize) -> Option<f64> {
        self.seen(run).number(self.estimates.response(), self.finish_ft)
    }

    fn setups(&self, m: &Move) -> (BTreeSet<usize>, BTreeSet<usize>) {
        let sides = self.estimates.sides(m);
        let of = |runs: &[usize]| runs.iter().map(|r| self.setup(*r)).collect();
        (of(&sides.without), of(&sides.with))
    }

    fn side(&self, setups: &BTreeSet<usize>) -> Side {
        let mut groups: BTreeMap<(usize, jiff::civil::Date, &str), Vec<f64>> = BTreeMap::new();
        let mut side = Side::default();
        let used = self.estimates.used().iter().copied();
        for run in used.filter(|r| setups.contains(&self.setup(*r))) {
            if self.improbable.contains(&run) {
                side.improbable += 1;
            } else if let Some(value) = self.value(run) {
                let day = self.seen(run).day;
                groups.entry((self.setup(run), day.date, &day.track)).or_default().push(value);
            }
        }
        let marked = self.estimates.left_out().iter().filter(|(_, why)| *why == LeftOut::Marked);
        side.marked = marked.filter(|(run, _)| setups.contains(&self.setup(*run))).count();
        let groups: Vec<Sample> = groups.into_values().map(Sample::new).collect();
        side.lone = groups.iter().filter(|g| g.n() == 1).count();
        side.left = Residuals::of_groups(&groups);
        if let Some(left) = &side.left {
            side.runs = left.n();
            side.sd = Some(left.sd(self.estimates.response().resolution()));
        }
        side
    }

    fn change(&self, m: &Move, without: &BTreeSet<usize>, with: &BTreeSet<usize>) -> Steady {
        let sides = [self.side(without), self.side(with)];
        let resolution = self.estimates.response().resolution();
        let said = compare(&sides[0], &sides[1], resolution);
        Steady { index: (m.version, m.before), keys: m.keys.clone(), words: m.words.clone(), sides, said }
    }

    fn now(&self) -> Option<Repeats> {
        let version = self.estimates.timeline.versions.len().checked_sub(1)?;
        let side = self.side(&BTreeSet::from([self.estimates.setup(version)]));
        let runs: Vec<usize> = self.estimates.on_setup(version).collect();
        let days: BTreeSet<_> = runs.iter().map(|r| (self.seen(*r).day.date, &self.seen(*r).day.track)).collect();
        let all = Sample::new(runs.iter().filter_map(|r| self.value(*r)));
        let mut far: Vec<f64> =
            all.middle().map_or_else(Vec::new, |m| all.values().iter().map(|v| (v - m).abs()).collect());
        far.sort_by(f64::total_cmp);
        let within = |share: f64, least: usize| (far.len() >= least).then(|| quantile(&far, share));
        Some(Repeats {
            version,
            side,
            days: days.len(),
            half_within: within(0.5, 2),
            nine_in_ten_within: within(0.9, NINE_IN_TEN_NEEDS),
        })
    }
}

/// Two sides, with what would settle it.
fn compare(without: &Side, with: &Side, resolution: f64) -> Steadier {
    let lacks = |s: &Side| LEAST_RUNS.saturating_sub(s.runs);
    let told = without.left.as_ref().zip(with.left.as_ref());
    let told = told.filter(|_| lacks(without) + lacks(with) == 0);
    // Eight runs in pairs leave the four degrees of freedom that the interval needs.
    let Some((a, b)) = told else { return Steadier::TooFew { without: lacks(without), with: lacks(with) } };
    let Some(told) = steadiness(a, b, resolution, SURE) else { return Steadier::NoRatio };
    // A few values seldom show heavy tails, and light ones are luck.
    let kurtosis = told.kurtosis.max(3.0);
    let have = a.freedom().min(b.freedom()) as usize + 1;
    let more = |ratio: f64| needed(ratio, OFTEN, SURE, kurtosis).map(|n| n.saturating_sub(have));
    Steadier::Ratio(told, MoreRuns { halving: more(0.5), seen: more(told.ratio) })
}

impl Steadier {
    /// The interval leaves 1 out: true is steadier, false is wilder.
    pub fn settled(&self) -> Option<bool> {
        match self {
            Steadier::Ratio(s, _) if s.hi < 1.0 => Some(true),
            Steadier::Ratio(s, _) if s.lo > 1.0 => Some(false),
            _ => None,
        }
    }

    /// Its key in JSON.
    pub fn key(&self) -> &'static str {
        match (self, self.settled()) {
            (Steadier::TooFew { .. }, _) => "too_few",
            (_, Some(true)) => "steadier",
            (_, Some(false)) => "wilder",
            (_, None) => "cannot_tell",
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// So many pairs on days of their own, each run so far from the mean of its day.
    fn side(pairs: usize, far: f64) -> Side {
        let groups: Vec<Sample> = (0..pairs).map(|d| Sample::new([d as f64 - far, d as f64 + far])).collect();
        let left = Residuals::of_groups(&groups);
        Side { runs: 2 * pairs, sd: left.as_ref().map(|l| l.sd(0.001)), left, ..Side::default() }
    }

    #[test]
    fn eight_runs_a_side_are_the_least() {
        let Steadier::TooFew { without, with } = compare(&side(3, 0.01), &side(4, 0.01), 0.001) else { panic!() };
        assert_eq!((without, with), (2, 0));
        assert!(matches!(compare(&side(4, 0.01), &side(4, 0.01), 0.001), Steadier::Ratio(..)));
    }

    #[test]
    fn the_ratio_is_of_with_over_without_and_settled_where_it_leaves_out_one() {
        let (wild, tame) = (side(20, 0.02), side(20, 0.005));
        let steadier = compare(&wild, &tame, 0.001);
        let Steadier::Ratio(told, _) = &steadier else { panic!() };
        assert!((told.ratio - 0.25).abs() < 1e-9);
        assert_eq!((steadier.settled(), steadier.key()), (Some(true), "steadier"));
        assert_eq!(compare(&tame, &wild, 0.001).key(), "wilder");
        assert_eq!(compare(&tame, &tame, 0.001).key(), "cannot_tell");
    }

    #[test]
    fn more_runs_are_counted_beyond_those_there_are() {
        let more = |pairs| match compare(&side(pairs, 0.01), &side(pairs, 0.011), 0.001) {
            Steadier::Ratio(_, more) => more.halving.unwrap(),
            other => panic!("{other:?}"),
        };
        // Pairs leave one degree of freedom each: twelve runs are worth seven about one mean.
        let all = needed(0.5, OFTEN, SURE, 3.0).unwrap();
        assert_eq!((more(6), more(10)), (all - 7, all - 11));
        assert_eq!(more(100), 0);
    }
}
