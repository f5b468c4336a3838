//! Where a trial stands: which runs belong to it, the order they were made in, what comes next.

use super::{Order, Side, Trial};
use crate::slip::{Day, Moment, Response, Run};
use crate::timeline::Timeline;

/// A run of the book, as the trial asks about it.
#[derive(Debug, Clone, Copy)]
pub struct TrialRun<'a> {
    /// The run.
    pub run: &'a Run,
    /// Its day.
    pub day: &'a Day,
    /// Index of its version in the timeline.
    pub version: usize,
    /// It was made in a window in which something changed.
    pub unsure: bool,
}

/// A run that counts.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Counted<'a> {
    /// The run.
    pub run: &'a Run,
    /// Index of its version.
    pub version: usize,
    /// What it was made on.
    pub side: Side,
    /// Its number as run.
    pub raw: f64,
}

/// A run made meanwhile that does not count.
#[derive(Debug, Clone, PartialEq)]
pub struct LeftOut<'a> {
    /// The run.
    pub run: &'a Run,
    /// Why not.
    pub why: String,
    /// It was made on one of the two setups.
    pub on_side: bool,
}

/// What comes next.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Next {
    /// Runs on this side.
    Run {
        /// On what.
        side: Side,
        /// How many until the next change-over or the end.
        runs: usize,
        /// Index of the version that is on the car, if it is this side's setup.
        on_car: Option<usize>,
    },
    /// All planned runs are made.
    Judge,
    /// A side's version is no longer on record.
    Gone(Side),
}

/// A trial with its runs.
#[derive(Debug, Clone, PartialEq)]
pub struct Standing<'a> {
    /// Indices of the versions of A and B; `None` = no longer on record.
    pub versions: [Option<usize>; 2],
    /// In the order of time.
    pub counted: Vec<Counted<'a>>,
    /// In the order of time.
    pub left_out: Vec<LeftOut<'a>>,
    /// The order of those that count.
    pub order_run: Order,
    /// What comes next.
    pub next: Next,
}

impl Standing<'_> {
    /// Index of a side's version.
    pub fn version(&self, side: Side) -> Option<usize> {
        self.versions[usize::from(side == Side::B)]
    }

    /// Ids of the runs of a side that count.
    pub fn ids(&self, side: Side) -> Vec<String> {
        self.counted.iter().filter(|c| c.side == side).map(|c| c.run.id.clone()).collect()
    }
}

/// Index of the version a side names: by its number, else (it was taken back or mended away) the one with its sheet.
fn version_of(timeline: &Timeline, trial: &Trial, side: Side) -> Option<usize> {
    let arm = trial.arm(side);
    let by_sheet = || timeline.versions.iter().rposition(|v| v.blobs.contains(&arm.setup));
    timeline.by_number(&arm.version).or_else(by_sheet)
}

/// Where a trial stands. `runs` are all of the book, in the order of time.
pub fn standing<'a>(trial: &Trial, timeline: &Timeline, runs: &[TrialRun<'a>], finish_ft: u32) -> Standing<'a> {
    let versions = [Side::A, Side::B].map(|side| version_of(timeline, trial, side));
    let mark = |i: Option<usize>| i.map(|i| timeline.versions[i].mark);
    let marks = [mark(versions[0]), mark(versions[1])];
    let side_of = |version: usize| {
        let of = Some(timeline.versions[version].mark);
        [Side::A, Side::B].into_iter().find(|side| marks[usize::from(*side == Side::B)] == of)
    };
    let (mut counted, mut left_out) = (Vec::new(), Vec::new());
    let end = trial.ended();
    let meanwhile = |at: Moment| at.seconds >= trial.started.seconds && end.is_none_or(|end| at.seconds <= end.seconds);
    // What the verdict rested on stays its own, though the clock of the machine that judged was behind that of the track.
    let rested_on =
        |run: &Run| trial.judged().is_some_and(|j| j.runs_a.contains(&run.id) || j.runs_b.contains(&run.id));
    for made in runs.iter().filter(|m| meanwhile(m.run.at) || rested_on(m.run)) {
        let run = made.run;
        let raw = trial.response.of(run, made.day, finish_ft);
        let why = match (side_of(made.version), raw) {
            (None, _) => {
                let on = &timeline.versions[made.version].number;
                format!("made on {on}, which is neither setup")
            }
            _ if made.unsure => "made in a window in which something changed".to_owned(),
            (Some(side), Some(raw)) => {
                counted.push(Counted { run, version: made.version, side, raw });
                continue;
            }
            (Some(_), None) => why_no_number(trial.response, run, made.day, finish_ft),
        };
        left_out.push(LeftOut { run, why, on_side: side_of(made.version).is_some() });
    }
    let order_run = Order(counted.iter().map(|c| c.side).collect());
    let on_car = timeline.versions.len().checked_sub(1);
    let on = |side: Side| on_car.filter(|i| side_of(*i) == Some(side));
    let gone = [Side::A, Side::B].into_iter().find(|s| versions[usize::from(*s == Side::B)].is_none());
    let next = match gone {
        Some(side) => Next::Gone(side),
        None => next(&trial.order, &order_run).map_or(Next::Judge, |(side, runs)| Next::Run {
            side,
            runs,
            on_car: on(side),
        }),
    };
    Standing { versions, counted, left_out, order_run, next }
}

/// Of the planned runs, the first that is not made yet, and how many follow it on the same side. Runs of a side are taken off
/// the plan in order, whatever order they were made in.
fn next(planned: &Order, run: &Order) -> Option<(Side, usize)> {
    let mut made = [run.runs(Side::A), run.runs(Side::B)];
    let left: Vec<(usize, Side)> = planned
        .0
        .iter()
        .copied()
        .enumerate()
        .filter(|(_, side)| {
            let n = &mut made[usize::from(*side == Side::B)];
            let still = *n == 0;
            *n = n.saturating_sub(1);
            still
        })
        .collect();
    let (_, side) = *left.first()?;
    Some((side, left.iter().take_while(|(_, s)| *s == side).count()))
}

/// Why a run on one of the two setups has no number.
fn why_no_number(response: Response, run: &Run, day: &Day, finish_ft: u32) -> String {
    let feet = match response.at_beam(finish_ft) {
        Response::Time(beam) | Response::Speed(beam) => beam.feet(),
        Response::Et | Response::Mph => finish_ft,
    };
    if !run.clean_at(feet) {
        let why = run.why_not.as_ref().map(|w| format!(": {w}")).unwrap_or_default();
        return match run.clean_to {
            Some(to) if to > 0 => format!("clean to {to} ft only{why}"),
            _ => format!("not clean{why}"),
        };
    }
    if matches!(response, Response::Et | Response::Mph) && day.finish_ft != finish_ft {
        return format!("the finish was at {} ft, not {finish_ft}", day.finish_ft);
    }
    format!("no {} on the slip", response.label())
}

#[cfg(test)]
mod tests {
    use super::*;

    fn order(text: &str) -> Order {
        text.parse().unwrap()
    }

    #[test]
    fn what_is_left_of_a_plan() {
        let next = |planned: &str, run: &str| super::next(&order(planned), &order(run));
        assert_eq!(next("AABBBBAA", ""), Some((Side::A, 2)));
        assert_eq!(next("AABBBBAA", "A"), Some((Side::A, 1)));
        assert_eq!(next("AABBBBAA", "AAB"), Some((Side::B, 3)));
        assert_eq!(next("AABBBBAA", "AABBBB"), Some((Side::A, 2)));
        assert_eq!(next("ABBA", "ABBA"), None);
        // In another order than planned: A is run one time too early, so only B is left, then nothing.
        assert_eq!(next("ABBA", "AA"), Some((Side::B, 2)));
        assert_eq!(next("ABBA", "AAABB"), None);
        assert_eq!(next("ABBA", "BB"), Some((Side::A, 2)));
    }
}
