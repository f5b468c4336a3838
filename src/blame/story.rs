//! What the runs of each version say, side by side with the version before: plain numbers, with the verdict of the model.

use super::{By, Estimates, Judged, Samples, Segment, Sheets, segments, splits};
use crate::pace::Seen;
use crate::schema::{Places, Schema, Value};
use crate::slip::{Beam, Moment, Response};
use crate::stats::Sample;
use crate::timeline::{Timeline, VersionNumber};

/// Least and middle of a sample.
#[derive(Debug, Clone, Copy, PartialEq, serde::Serialize)]
pub struct Spot {
    /// Clean numbers behind it.
    pub n: usize,
    /// The best (quickest or fastest).
    pub best: f64,
    /// The median.
    pub middle: f64,
}

/// The spot of a sample.
pub fn spot(sample: &Sample, more_is_quicker: bool) -> Option<Spot> {
    let best = if more_is_quicker { sample.greatest() } else { sample.least() };
    Some(Spot { n: sample.n(), best: best?, middle: sample.middle()? })
}

/// One version of the history.
#[derive(Debug, Clone)]
pub struct Told {
    /// Index in the timeline.
    pub index: usize,
    /// Runs that followed, all of them.
    pub runs: usize,
    /// Clean 60 ft, s.
    pub ft60: Option<Spot>,
    /// Clean ET, s.
    pub et: Option<Spot>,
    /// The same two as run, in whatever air there was.
    pub as_run: [Option<Spot>; 2],
    /// Middle 60 ft minus that of the version before, s.
    pub apart: Option<f64>,
    /// What the model says of the change that made it.
    pub judged: Option<Judged>,
    /// The difference rests on fewer than three clean runs on a side.
    pub early: bool,
    /// Where in the run the difference to the version before lies.
    pub segments: Vec<Segment>,
    /// Numbers of the other versions that are the same setup.
    pub same_as: Vec<VersionNumber>,
}

/// 60 ft and ET of some runs as run.
fn as_run(runs: &[Seen], finish_ft: u32) -> [Option<Spot>; 2] {
    let of = |r: Response| spot(&Sample::new(runs.iter().filter_map(|s| s.raw(r, finish_ft))), false);
    [of(Response::Time(Beam::Ft60)), of(Response::Et)]
}

/// Every version, oldest first.
pub fn told(timeline: &Timeline, runs: &[Seen], finish_ft: u32, estimates: &Estimates) -> Vec<Told> {
    let count = timeline.versions.len();
    let mut by_version: Vec<Vec<Seen>> = vec![Vec::new(); count];
    runs.iter().for_each(|s| by_version[s.version].push(*s));
    let by_splits: Vec<_> = by_version.iter().map(|runs| splits(runs)).collect();
    let sample =
        |v: usize, response: Response| Sample::new(by_version[v].iter().filter_map(|s| s.number(response, finish_ft)));
    let ft60: Vec<Sample> = (0..count).map(|v| sample(v, Response::Time(Beam::Ft60))).collect();
    let mut told: Vec<Told> = (0..count)
        .map(|index| {
            let before = index.checked_sub(1).map(|i| &ft60[i]);
            let now = &ft60[index];
            Told {
                index,
                runs: by_version[index].len(),
                ft60: spot(now, false),
                et: spot(&sample(index, Response::Et), false),
                as_run: as_run(&by_version[index], finish_ft),
                apart: before.and_then(|b| Some(now.middle()? - b.middle()?)),
                judged: estimates.of_version(index).and_then(|m| estimates.judge(m)),
                early: now.n() < super::ENOUGH_RUNS || before.is_some_and(|b| b.n() < super::ENOUGH_RUNS),
                segments: index
                    .checked_sub(1)
                    .map_or(Vec::new(), |b| segments(&by_splits[b], &by_splits[index], By::Middle)),
                same_as: Vec::new(),
            }
        })
        .collect();
    for setup in timeline.setups() {
        for v in &setup.versions {
            let others = setup.versions.iter().filter(|o| *o != v);
            told[*v].same_as = others.map(|o| timeline.versions[*o].number.clone()).collect();
        }
    }
    told
}

/// A stretch of time in which a field had one value.
#[derive(Debug, Clone)]
pub struct Held {
    /// The value; `None` = not on record.
    pub value: Option<Value>,
    /// Which of its numbers are in doubt, at the end of the stretch.
    pub doubt: Places,
    /// First and last version of the stretch: indices.
    pub from: usize,
    /// Last version.
    pub to: usize,
    /// When it began.
    pub since: Moment,
    /// Runs in it.
    pub runs: usize,
    /// Clean 60 ft, s.
    pub ft60: Option<Spot>,
    /// Clean ET, s.
    pub et: Option<Spot>,
    /// The same two as run, in whatever air there was.
    pub as_run: [Option<Spot>; 2],
}

/// The values a field had, oldest first, and how the car ran with each.
pub fn held(
    schema: &Schema,
    timeline: &Timeline,
    sheets: &Sheets,
    runs: &[Seen],
    finish_ft: u32,
    key: &str,
) -> Vec<Held> {
    let mut out: Vec<Held> = Vec::new();
    if schema.field(key).is_none() {
        return out;
    }
    for (i, version) in timeline.versions.iter().enumerate() {
        let sheet = sheets.get(version.sheet_id());
        let value = sheet.and_then(|s| s.get(key)).cloned();
        let doubt = sheet.map_or_else(Places::new, |s| s.doubt(key).clone());
        match out.last_mut().filter(|h| h.value == value) {
            Some(last) => (last.to, last.doubt) = (i, doubt),
            None => out.push(Held {
                value,
                doubt,
                from: i,
                to: i,
                since: version.entry.at,
                runs: 0,
                ft60: None,
                et: None,
                as_run: [None; 2],
            }),
        }
    }
    for h in &mut out {
        let within: Vec<Seen> = runs.iter().filter(|s| (h.from..=h.to).contains(&s.version)).copied().collect();
        let sample = |r: Response| Sample::new(within.iter().filter_map(|s| s.number(r, finish_ft)));
        h.runs = within.len();
        h.ft60 = spot(&sample(Response::Time(Beam::Ft60)), false);
        h.et = spot(&sample(Response::Et), false);
        h.as_run = as_run(&within, finish_ft);
    }
    out
}

/// One number of the slip on two setups.
#[derive(Debug, Clone)]
pub struct Apart {
    /// Which.
    pub response: Response,
    /// On the first.
    pub a: Spot,
    /// On the second.
    pub b: Spot,
    /// Both as run, in whatever air there was.
    pub as_run: [Spot; 2],
    /// What the model says of it, where it was asked.
    pub judged: Option<Judged>,
}

/// Where in the run two versions' setups differ: all runs of each.
pub fn where_apart(timeline: &Timeline, runs: &[Seen], a: usize, b: usize) -> Vec<Segment> {
    let of = |v: usize| -> Vec<Seen> {
        let mark = timeline.versions[v].mark;
        runs.iter().filter(|s| timeline.versions[s.version].mark == mark).copied().collect()
    };
    if timeline.versions[a].mark == timeline.versions[b].mark {
        Vec::new()
    } else {
        segments(&splits(&of(a)), &splits(&of(b)), By::Middle)
    }
}

/// Two versions' setups, number by number; only numbers both have. `judged` are the responses the model was asked about.
pub fn apart(
    timeline: &Timeline,
    runs: &[Seen],
    finish_ft: u32,
    (a, b): (usize, usize),
    judged: &[Estimates],
) -> Vec<Apart> {
    let splits = Beam::ALL.into_iter().filter(|x| x.feet() < finish_ft).map(Response::Time);
    splits
        .chain([Response::Et, Response::Mph])
        .filter_map(|response| {
            let samples = Samples::new(timeline, runs, finish_ft, response);
            if samples.setup(a) == samples.setup(b) {
                return None;
            }
            let more = response.more_is_quicker();
            Some(Apart {
                response,
                a: spot(samples.of(a), more)?,
                b: spot(samples.of(b), more)?,
                as_run: [spot(samples.raw(a), more)?, spot(samples.raw(b), more)?],
                judged: judged.iter().find(|e| e.response() == response).and_then(|e| e.compare(a, b)),
            })
        })
        .collect()
}
