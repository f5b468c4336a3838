//! The record as a whole: versions, days, and runs on the versions they were made on.

use crate::slip::{Day, Run};
use crate::store::Id;
use crate::timeline::{Timeline, Version};
use std::collections::HashMap;

/// A run with where it belongs.
#[derive(Debug, Clone)]
pub struct Made {
    /// The run.
    pub run: Run,
    /// Index of its day in [`History::days`].
    pub day: usize,
    /// Index of its version in the timeline.
    pub version: usize,
    /// It was made within a window in which something changed: it counts for neither side.
    pub unsure: bool,
}

/// The whole record, read.
pub struct History {
    /// Versions and remarks.
    pub timeline: Timeline,
    /// Days in time order.
    pub days: Vec<Day>,
    /// Runs in time order.
    pub runs: Vec<Made>,
    /// The newest commit.
    pub head: Option<Id>,
}

/// Days in order, runs with their versions.
pub(super) fn linked(timeline: Timeline, mut days: Vec<Day>, head: Option<Id>) -> History {
    let first = |d: &Day| d.runs.first().map(|r| r.at);
    days.sort_by(|a, b| (a.date, first(a), &a.track).cmp(&(b.date, first(b), &b.track)));
    let window = |v: &Version| Some((v.entry.since?.seconds, v.entry.at.seconds));
    let mut windows: Vec<(i64, i64)> = timeline.versions.iter().filter_map(window).filter(|(a, b)| a < b).collect();
    windows.sort_unstable();
    // Those that overlap are one.
    windows.dedup_by(|next, last| {
        let overlap = next.0 < last.1;
        if overlap {
            last.1 = last.1.max(next.1);
        }
        overlap
    });
    let within = |at: i64| {
        let last = windows.partition_point(|(from, _)| *from < at).checked_sub(1);
        last.is_some_and(|i| at < windows[i].1)
    };
    let made = || days.iter().enumerate().flat_map(|(day, d)| d.runs.iter().map(move |run| (day, run)));
    let versions = timeline.of_runs(made().map(|(_, run)| run));
    let mut runs: Vec<Made> = Vec::new();
    for ((day, run), version) in made().zip(versions) {
        if let Some(version) = version {
            runs.push(Made { run: run.clone(), day, version, unsure: within(run.at.seconds) });
        }
    }
    runs.sort_by(|a, b| (a.run.at, &a.run.id).cmp(&(b.run.at, &b.run.id)));
    History { timeline, days, runs, head }
}

impl History {
    /// Runs made on a version.
    pub fn runs_on(&self, version: usize) -> impl Iterator<Item = &Made> {
        self.runs.iter().filter(move |m| m.version == version)
    }

    /// The finish most days of the book have, ft; what `et` means where nothing else says.
    pub fn finish_ft(&self) -> u32 {
        let mut count: HashMap<u32, usize> = HashMap::new();
        for made in &self.runs {
            *count.entry(self.days[made.day].finish_ft).or_default() += 1;
        }
        count.into_iter().max_by_key(|(feet, n)| (*n, *feet)).map_or(1320, |(feet, _)| feet)
    }
}
