//! A run as the model sees it, and how alike two runs are before their times are looked at.

use super::believed::Believed;
use crate::slip::{Day, Moment, Run};
use crate::timeline::Timeline;
use nalgebra::DMatrix;
use std::collections::HashMap;

/// A run, or one still to come.
#[derive(Debug, Clone, PartialEq)]
pub struct Row {
    /// Day, counted through the book.
    pub day: usize,
    /// Season: the calendar year.
    pub season: i16,
    /// Track.
    pub track: usize,
    /// Left +½, right -½, unknown 0.
    pub lane: f64,
    /// Hours from noon.
    pub hour: f64,
    /// Runs before it in the season, in hundreds.
    pub wear: f64,
    /// Setup.
    pub setup: usize,
    /// Logarithm of its density over the reference.
    pub air: f64,
    /// The air was not read but taken as usual: how far it may be off, standard deviation of the logarithm of density; 0
    /// where it was read.
    pub unread: f64,
}

/// Days, tracks and setups counted, and the tree of the setups: parent = the setup in use before.
#[derive(Debug, Clone, Default)]
pub struct Ground {
    days: HashMap<(jiff::civil::Date, String), usize>,
    tracks: HashMap<String, usize>,
    wear: HashMap<i16, usize>,
    /// Setup of each version.
    setup_of: Vec<usize>,
    parent: Vec<Option<usize>>,
    depth: Vec<usize>,
}

impl Ground {
    /// For a timeline.
    pub fn new(timeline: &Timeline) -> Ground {
        let setups = timeline.setups();
        let setup_of = timeline.setup_of(&setups);
        // Setups come in the order of their first version, so a parent stands before its child.
        let parent: Vec<Option<usize>> = setups
            .iter()
            .map(|s| s.versions.first().and_then(|v| v.checked_sub(1)).map(|before| setup_of[before]))
            .collect();
        let mut depth = vec![0; parent.len()];
        for s in 0..parent.len() {
            depth[s] = parent[s].map_or(0, |p| depth[p] + 1);
        }
        Ground { setup_of, parent, depth, ..Ground::default() }
    }

    /// The row of a run; counts it as one that wears. Runs come in the order of time.
    pub fn next(&mut self, run: &Run, day: &Day, version: usize, air: f64, unread: f64) -> Row {
        let row = self.row(day, run.at, run.lane.as_deref(), version, air, unread);
        *self.wear.entry(row.season).or_default() += 1;
        row
    }

    /// The row of a run that is not made yet.
    pub fn row(&mut self, day: &Day, at: Moment, lane: Option<&str>, version: usize, air: f64, unread: f64) -> Row {
        let season = day.date.year();
        let (days, tracks) = (self.days.len(), self.tracks.len());
        let track = day.track.to_lowercase();
        let local = at.civil();
        // Past midnight the day goes on.
        let hour = f64::from(local.hour()) + f64::from(local.minute()) / 60.0;
        let hour = if Moment::of_next_morning(local.time()) { hour + 24.0 } else { hour };
        Row {
            day: *self.days.entry((day.date, track.clone())).or_insert(days),
            season,
            track: *self.tracks.entry(track).or_insert(tracks),
            lane: match lane {
                Some("left") => 0.5,
                Some("right") => -0.5,
                _ => 0.0,
            },
            hour: hour - 12.0,
            wear: self.wear.get(&season).copied().unwrap_or(0) as f64 / 100.0,
            setup: self.setup(version),
            air,
            unread,
        }
    }

    /// Days and tracks counted so far.
    pub fn counted(&self) -> (usize, usize) {
        (self.days.len(), self.tracks.len())
    }

    /// The setup in use before each setup's first version.
    pub fn parents(&self) -> &[Option<usize>] {
        &self.parent
    }

    /// The setup of a version.
    pub fn setup(&self, version: usize) -> usize {
        self.setup_of.get(version).copied().unwrap_or(0)
    }

    /// Steps two setups have in common, counted from the first sheet.
    fn together(&self, mut a: usize, mut b: usize) -> usize {
        while a != b {
            let up = if self.depth[a] >= self.depth[b] { &mut a } else { &mut b };
            match self.parent[*up] {
                Some(p) => *up = p,
                None => return 0,
            }
        }
        // A timeline without versions has no setups.
        self.depth.get(a).copied().unwrap_or(0)
    }

    /// Steps in common of every two of the setups that occur.
    pub(super) fn common(&self, rows: &[Row]) -> Common {
        let mut used: Vec<usize> = rows.iter().map(|r| r.setup).collect();
        used.sort_unstable();
        used.dedup();
        // What all have in common is the intercept's.
        let least = used.iter().map(|s| self.together(*s, used[0])).min().unwrap_or(0);
        let mut place = vec![None; used.last().map_or(0, |most| most + 1)];
        used.iter().enumerate().for_each(|(i, s)| place[*s] = Some(i));
        let steps = DMatrix::from_fn(used.len(), used.len(), |i, j| (self.together(used[i], used[j]) - least) as f64);
        Common { place, steps }
    }
}

/// Steps in common of the setups of some rows.
pub(super) struct Common {
    /// Of each setup, among those that occur.
    place: Vec<Option<usize>>,
    steps: DMatrix<f64>,
}

impl Common {
    /// Of two rows among those it was made for.
    pub fn of(&self, a: &Row, b: &Row) -> f64 {
        let of = |row: &Row| self.place.get(row.setup).copied().flatten();
        of(a).zip(of(b)).map_or(0.0, |at| self.steps[at])
    }
}

fn same<T: PartialEq>(a: T, b: T) -> f64 {
    f64::from(u8::from(a == b))
}

/// What two rows share of a day's own ups and downs (the kernel of the day's part).
pub(super) fn day_kernel(a: &Row, b: &Row) -> f64 {
    same(a.day, b.day)
}

/// What they share of the drift from day to day: a walk.
pub(super) fn drift_kernel(a: &Row, b: &Row) -> f64 {
    a.day.min(b.day) as f64
}

/// What unread air makes two rows of a day alike by, for an exponent of 1 (in the unit of the logarithm, squared).
pub(super) fn unread_kernel(a: &Row, b: &Row) -> f64 {
    a.unread * b.unread * same(a.day, b.day)
}

/// How wide the priors of known width make them alike, the air's exponent apart.
pub(super) fn known(b: &Believed, many_seasons: bool, x: &Row, y: &Row) -> f64 {
    let (day, track, season) = (same(x.day, y.day), same(x.track, y.track), same(x.season, y.season));
    let lanes = x.lane * y.lane;
    b.intercept * b.intercept
        + b.lane * b.lane * lanes * (1.0 + track)
        + b.track * b.track * track
        + b.hour * b.hour * x.hour * y.hour * day
        + b.wear * b.wear * x.wear * y.wear * (0.5 + 0.5 * season)
        + if many_seasons { b.season * b.season * season } else { 0.0 }
}
