//! The ranking: every change with runs on both sides, by what it is worth.

use super::estimates::{Estimates, Judged};
use super::kept::Move;
use super::model::LeftOut;
use super::verdict::{Side, Verdict};
use super::{By, Segment, segments, splits};
use crate::pace::{Seen, Splits, Standing};
use crate::timeline::VersionNumber;
use std::collections::BTreeSet;

/// One change, judged.
#[derive(Debug, Clone)]
pub struct Ranked {
    /// Its number.
    pub version: VersionNumber,
    /// The version before it that runs count on.
    pub before: VersionNumber,
    /// Indices in the timeline.
    pub index: (usize, usize),
    /// When.
    pub at: crate::slip::Moment,
    /// What changed, in words; with it what was changed before any run counted.
    pub words: Vec<String>,
    /// Keys of what changed; with them what was changed before any run counted.
    pub fields: Vec<String>,
    /// Versions changed along with it, before any run counted.
    pub along: Vec<VersionNumber>,
    /// Keys of what its own version changed.
    pub own: Vec<String>,
    /// What is said of it.
    pub judged: Judged,
    /// Chance to be the best step of all.
    pub p_best: f64,
    /// Fields these runs cannot part.
    pub bundles: Vec<Vec<String>>,
    /// On the car now as it was made (true), as it was before (false), or neither.
    pub stands: Option<bool>,
    /// Versions of other changes these runs hardly part from it: one of them did it.
    pub one_of_two: Vec<VersionNumber>,
    /// What could fool it.
    pub confounds: Vec<Confound>,
    /// Where in the run it lies, by the means of the runs on both sides in one air.
    pub segments: Vec<Segment>,
    /// Difference of the means as run, in whatever air there was.
    pub as_run: Option<f64>,
}

/// What may lie behind a difference beside the change.
#[derive(Debug, Clone, PartialEq, serde::Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Confound {
    /// No day has runs on both sides.
    NeverOneDay,
    /// Mean density of the air on the sides differs by so many percent.
    Air(f64),
    /// Passes on what wears differ by so many in the mean.
    Wear(f64),
    /// An engine, driveline or launch setting changed too.
    Engine,
    /// The sides ran at different tracks.
    Tracks,
    /// All runs of one side were in the one lane, all of the other in the other.
    Lane,
    /// On the one day with both, the runs with it all came later (true) or earlier.
    Order(bool),
}

/// The answer.
#[derive(Debug, Clone)]
pub struct Ranking {
    /// Most gained first.
    pub changes: Vec<Ranked>,
    /// Versions without a run that counts, or of the setup that ran before: nothing to judge.
    pub not_judged: Vec<Unjudged>,
    /// Runs that could not answer, and why.
    pub left_out: Vec<(LeftOut, usize)>,
    /// Runs that could.
    pub counted: usize,
    /// On how many days.
    pub days: usize,
}

/// A version that is not ranked.
#[derive(Debug, Clone)]
pub struct Unjudged {
    /// Its number.
    pub version: VersionNumber,
    /// When.
    pub at: crate::slip::Moment,
    /// What changed, in words.
    pub words: Vec<String>,
    /// Keys of what changed.
    pub fields: Vec<String>,
    /// Why.
    pub why: NotJudged,
}

/// Why a version is not ranked.
#[derive(Debug, Clone, Copy, PartialEq, Eq, serde::Serialize)]
#[serde(rename_all = "snake_case")]
pub enum NotJudged {
    /// No run of it counts.
    NeverRun,
    /// The runs before it were on an equal setup.
    SameSetup,
    /// It is the first with runs.
    First,
    /// Its runs are outside the time asked about.
    Outside,
}

/// Densities further apart than this are named, %: a third of it in the time.
const AIR_APART: f64 = 3.0;
/// Passes on what wears.
const WEAR_APART: f64 = 15.0;

impl Ranking {
    /// Ranks the changes of a book. `engine` says whether a key is a setting of engine, driveline or launch.
    pub fn new(estimates: &Estimates, engine: &dyn Fn(&str) -> bool) -> Ranking {
        let versions = &estimates.timeline.versions;
        let best = estimates.chances_of_best();
        let facts = Facts::new(estimates);
        let mut changes: Vec<Ranked> = estimates
            .kept
            .moves
            .iter()
            .zip(best)
            .filter_map(|(m, p_best)| ranked(estimates, &facts, m, p_best, engine))
            .collect();
        let gain =
            |r: &Ranked| if estimates.response().is_speed() { -r.judged.effect.value } else { r.judged.effect.value };
        changes.sort_by(|a, b| gain(a).total_cmp(&gain(b)).then(a.version.cmp(&b.version)));
        let setups: BTreeSet<usize> =
            estimates.used().iter().map(|r| estimates.setup(estimates.runs[*r].version)).collect();
        let ran: BTreeSet<usize> = (0..versions.len()).filter(|v| setups.contains(&estimates.setup(*v))).collect();
        let outside: BTreeSet<usize> = estimates
            .left_out()
            .iter()
            .filter(|(_, why)| *why == LeftOut::Outside)
            .map(|(r, _)| estimates.setup(estimates.runs[*r].version))
            .collect();
        let why = |v: usize| match () {
            () if Some(v) == ran.first().copied() => NotJudged::First,
            () if ran.contains(&v) => NotJudged::SameSetup,
            () if outside.contains(&estimates.setup(v)) => NotJudged::Outside,
            () => NotJudged::NeverRun,
        };
        let not_judged = (1..versions.len())
            .filter(|v| estimates.of_version(*v).is_none())
            .map(|v| Unjudged {
                version: versions[v].number.clone(),
                at: versions[v].entry.at,
                words: versions[v].entry.words.clone(),
                fields: estimates.kept.keys[v].clone(),
                why: why(v),
            })
            .collect();
        let mut left_out: Vec<(LeftOut, usize)> = Vec::new();
        for (_, why) in estimates.left_out() {
            match left_out.iter_mut().find(|(w, _)| w == why) {
                Some((_, n)) => *n += 1,
                None => left_out.push((*why, 1)),
            }
        }
        let days: BTreeSet<_> = estimates
            .used()
            .iter()
            .map(|r| (estimates.runs[*r].day.date, estimates.runs[*r].day.track.as_str()))
            .collect();
        Ranking { changes, not_judged, left_out, counted: estimates.used().len(), days: days.len() }
    }

    /// The changes, each once: one that was taken back and done again stands under its first version.
    pub fn each_once(&self) -> impl Iterator<Item = &Ranked> {
        self.changes.iter().filter(|r| r.judged.sides.toggles.iter().all(|v| *v >= r.index.1))
    }

    /// The changes most worth telling, each once, most gained first: what is settled, then what is likeliest something.
    pub fn telling(&self, top: usize) -> Vec<&Ranked> {
        let mut all: Vec<&Ranked> = self.each_once().collect();
        let weight = |r: &Ranked| {
            let e = &r.judged.effect;
            let sided = r.judged.verdict.settled() && r.judged.verdict.side().is_some();
            (sided, e.p_gain.max(e.p_loss))
        };
        // Equally unlikely ones: the newer is the one that is wondered about.
        all.sort_by(|a, b| {
            let (x, y) = (weight(a), weight(b));
            y.0.cmp(&x.0).then(y.1.total_cmp(&x.1)).then(b.index.cmp(&a.index))
        });
        all.truncate(top);
        let place = |r: &Ranked| self.changes.iter().position(|c| c.version == r.version);
        all.sort_by_key(|r| place(r));
        all
    }

    /// Changes of which something is settled on a side, each once.
    pub fn settled(&self, side: Side) -> impl Iterator<Item = &Ranked> {
        self.each_once().filter(move |r| r.judged.verdict.is(side))
    }

    /// What the runs have proven on a side, what is worth most first.
    pub fn proven(&self, side: Side) -> Vec<&Ranked> {
        let mut all: Vec<&Ranked> = self.settled(side).collect();
        if side == Side::Loss {
            all.reverse();
        }
        all
    }

    /// What is not settled, each once: the likeliest to be something first, of equals the newer.
    pub fn open(&self) -> Vec<&Ranked> {
        let mut all: Vec<&Ranked> = self.each_once().filter(|r| !r.judged.verdict.settled()).collect();
        let weight = |r: &Ranked| r.judged.effect.p_gain.max(r.judged.effect.p_loss);
        all.sort_by(|a, b| weight(b).total_cmp(&weight(a)).then(b.index.cmp(&a.index)));
        all
    }
}

impl Estimates<'_> {
    /// Versions of other changes that the runs hardly part from what differs between two versions, in the order they are named.
    pub fn hardly_parted(&self, a: usize, b: usize) -> Vec<usize> {
        let (a, b) = (self.setup(a), self.setup(b));
        let is = |m: &&Move| {
            let own = (self.setup(m.before), self.setup(m.version));
            own == (a, b) || own == (b, a)
        };
        let settled = |m: &&Move| self.judge(m).is_some_and(|j| j.verdict == Verdict::Nothing);
        let found = self.kept.moves.iter().find(is).filter(|m| !settled(m));
        found.map(|m| self.one_of_two(m)).unwrap_or_default()
    }

    /// The same of a change of these settings and no others.
    pub fn hardly_parted_of(&self, keys: &[String]) -> Vec<usize> {
        let is = |m: &&Move| m.keys.len() == keys.len() && m.keys.iter().all(|k| keys.contains(k));
        let found = self.kept.moves.iter().rev().find(is);
        found.map(|m| self.hardly_parted(m.before, m.version)).unwrap_or_default()
    }
}

/// What is asked of each run again and again.
struct Facts {
    splits: Vec<Splits>,
    /// Of the air that was read.
    density: Vec<Option<f64>>,
    track: Vec<String>,
}

impl Facts {
    fn new(estimates: &Estimates) -> Facts {
        let read = |s: &Seen| match s.footing.standing(s.run, s.day) {
            Some(Standing::Read { density_kg_m3, .. }) => Some(density_kg_m3),
            _ => None,
        };
        Facts {
            splits: splits(estimates.runs),
            density: estimates.runs.iter().map(read).collect(),
            track: estimates.runs.iter().map(|s| s.day.track.to_lowercase()).collect(),
        }
    }

    fn splits(&self, runs: &[usize]) -> Vec<Splits> {
        runs.iter().map(|r| self.splits[*r]).collect()
    }

    fn density(&self, runs: &[usize]) -> Option<f64> {
        let read: Vec<f64> = runs.iter().filter_map(|r| self.density[*r]).collect();
        (!read.is_empty()).then(|| read.iter().sum::<f64>() / read.len() as f64)
    }

    fn tracks(&self, runs: &[usize]) -> BTreeSet<&str> {
        runs.iter().map(|r| self.track[*r].as_str()).collect()
    }
}

fn ranked(
    estimates: &Estimates,
    facts: &Facts,
    m: &Move,
    p_best: f64,
    engine: &dyn Fn(&str) -> bool,
) -> Option<Ranked> {
    let versions = &estimates.timeline.versions;
    let judged = estimates.judge(m)?;
    let of = |places: &[usize]| -> Vec<Seen> { places.iter().map(|r| estimates.runs[*r]).collect() };
    let (without, with) = (of(&judged.sides.without), of(&judged.sides.with));
    let finish_ft = without.first().map_or(1320, |s| s.day.finish_ft);
    let mean = |runs: &[Seen]| {
        let raw: Vec<f64> = runs.iter().filter_map(|s| s.raw(estimates.response(), finish_ft)).collect();
        (!raw.is_empty()).then(|| raw.iter().sum::<f64>() / raw.len() as f64)
    };
    Some(Ranked {
        version: versions[m.version].number.clone(),
        before: versions[m.before].number.clone(),
        index: (m.before, m.version),
        at: versions[m.version].entry.at,
        words: m.words.clone(),
        fields: m.keys.clone(),
        along: versions[m.before + 1..m.version].iter().map(|v| v.number.clone()).collect(),
        own: estimates.kept.keys[m.version].clone(),
        p_best,
        bundles: estimates.bundles(m),
        one_of_two: estimates.one_of_two(m).iter().map(|v| versions[*v].number.clone()).collect(),
        stands: estimates.stands(m, versions.len() - 1),
        confounds: confounds(estimates, facts, &judged, m, engine),
        segments: segments(&facts.splits(&judged.sides.without), &facts.splits(&judged.sides.with), By::Mean),
        as_run: mean(&with).zip(mean(&without)).map(|(b, a)| b - a),
        judged,
    })
}

fn confounds(
    estimates: &Estimates,
    facts: &Facts,
    judged: &Judged,
    m: &Move,
    engine: &dyn Fn(&str) -> bool,
) -> Vec<Confound> {
    let mut out = Vec::new();
    if judged.sides.same_day.is_empty() {
        out.push(Confound::NeverOneDay);
    }
    let (without, with) = (&judged.sides.without[..], &judged.sides.with[..]);
    if let (Some(a), Some(b)) = (facts.density(without), facts.density(with)) {
        let percent = 100.0 * (b / a - 1.0);
        if percent.abs() >= AIR_APART {
            out.push(Confound::Air(percent));
        }
    }
    if let (Some(a), Some(b)) = (estimates.passes(&judged.sides.without), estimates.passes(&judged.sides.with))
        && (b - a).abs() >= WEAR_APART
    {
        out.push(Confound::Wear(b - a));
    }
    if facts.tracks(without).is_disjoint(&facts.tracks(with)) && !without.is_empty() && !with.is_empty() {
        out.push(Confound::Tracks);
    }
    let lanes = |runs: &[usize]| -> BTreeSet<Option<&str>> {
        runs.iter().map(|r| estimates.runs[*r].run.lane.as_deref()).collect()
    };
    let (la, lb) = (lanes(without), lanes(with));
    if la.len() == 1 && lb.len() == 1 && la != lb && !la.contains(&None) && !lb.contains(&None) {
        out.push(Confound::Lane);
    }
    if let [day] = judged.sides.same_day.as_slice()
        && judged.sides.toggles.len() < 2
    {
        let at = |runs: &[usize]| -> Vec<_> {
            runs.iter().map(|r| &estimates.runs[*r]).filter(|s| s.day.date == *day).map(|s| s.run.at).collect()
        };
        let (a, b) = (at(without), at(with));
        match (a.iter().max() < b.iter().min(), b.iter().max() < a.iter().min()) {
            (true, _) => out.push(Confound::Order(true)),
            (_, true) => out.push(Confound::Order(false)),
            _ => {}
        }
    }
    if m.keys.iter().any(|k| engine(k)) && m.keys.iter().any(|k| !engine(k)) {
        out.push(Confound::Engine);
    }
    out
}
