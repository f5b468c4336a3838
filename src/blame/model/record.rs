//! The runs that count, those that do not and why, in the order of time.

use crate::pace::{Ground, Row, Seen, UNREAD_LOG_SD};
use crate::schema::Schema;
use crate::slip::{Beam, Response};
use crate::stats::Sample;
use crate::timeline::Timeline;
use std::collections::HashMap;

/// What is asked.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Asked {
    /// The number of the slip.
    pub response: Response,
    /// Smaller than this is not chased, in the response's unit.
    pub matters: f64,
    /// Only runs of that day and later.
    pub since: Option<jiff::civil::Date>,
    /// Only runs of that day and earlier.
    pub until: Option<jiff::civil::Date>,
}

/// Why a run does not count.
#[derive(Debug, Clone, Copy, PartialEq, Eq, serde::Serialize, serde::Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum LeftOut {
    /// Marked as not clean up to there.
    Marked,
    /// The number is not on the slip (or the day had another finish).
    NoNumber,
    /// No 60 ft on the slip: the finish time is told apart by it.
    No60,
    /// Made within a window in which something changed.
    InWindow,
    /// Directly before a change whose time is not known: it may have been made after it.
    MaybeAfter,
    /// Outside the time asked about.
    Outside,
}

/// A run that counts.
#[derive(Debug, Clone)]
pub struct Used {
    /// Its place among all runs.
    pub run: usize,
    /// Day, lane, hour, wear, setup; air = ln(1.2/ρ), 0 without.
    pub row: Row,
    /// What wears: the tires by name, else the season.
    pub life: usize,
    /// Passes on the tires by name before it; `None` without a name.
    pub passes: Option<f32>,
    /// The number, speeds with minus.
    pub y: f64,
    /// The 60 ft, s, where the finish time is told apart by it.
    pub ft60: Option<f64>,
}

/// The record of one response.
#[derive(Debug, Clone)]
pub struct Record {
    /// Runs that count, in the order of time.
    pub used: Vec<Used>,
    /// The others, with the reason.
    pub left_out: Vec<(usize, LeftOut)>,
    /// The finish time is told apart by the 60 ft.
    pub two: bool,
    /// Days of the book.
    pub days: usize,
    /// Tracks of the book.
    pub tracks: usize,
    /// The middle of the number, and of the 60 ft below, over all runs that are clean up to there: a run the racer marked
    /// never matters.
    pub middle: f64,
    /// 60 ft, s.
    pub middle_60: f64,
}

/// At most so many runs directly before a change of unknown time may have been made after it.
const MAY_BE_AFTER: usize = 2;

impl Record {
    /// From all runs of a book, in the order of time.
    pub fn new(schema: &Schema, timeline: &Timeline, runs: &[Seen], finish_ft: u32, asked: &Asked) -> Record {
        let mut ground = Ground::new(timeline);
        let mut passes: HashMap<usize, usize> = HashMap::new();
        let worn = worn(schema, timeline);
        let no_air = runs.first().is_none_or(|s| s.footing.reference.is_none());
        let at = asked.response.at_beam(finish_ft);
        let sign = if asked.response.is_speed() { -1.0 } else { 1.0 };
        let ft60 = Response::Time(Beam::Ft60);
        let mut used = Vec::new();
        let mut left_out = Vec::new();
        for (run, s) in runs.iter().enumerate() {
            let standing = s.footing.standing(s.run, s.day);
            let air = if no_air { 0.0 } else { standing.map_or(0.0, |a| (1.2 / a.density_kg_m3()).ln()) };
            let unread = match standing {
                Some(crate::pace::Standing::Assumed { .. }) => UNREAD_LOG_SD,
                _ => 0.0,
            };
            let mut row = ground.next(s.run, s.day, s.version, air, unread);
            let season = row.season as usize;
            let life = worn[s.version].unwrap_or(season);
            let before = passes.get(&life).copied().unwrap_or(0);
            let of_part = worn[s.version].map(|_| before as f32);
            if of_part.is_some() {
                row.wear = before as f64 / 100.0;
            }
            *passes.entry(life).or_default() += 1;
            let outside = asked.since.is_some_and(|d| s.day.date < d) || asked.until.is_some_and(|d| s.day.date > d);
            let why = match asked.response.of(s.run, s.day, finish_ft) {
                _ if outside => LeftOut::Outside,
                _ if s.unsure => LeftOut::InWindow,
                Some(y) => {
                    let ft60 = ft60.of(s.run, s.day, finish_ft);
                    used.push(Used { run, row, life, passes: of_part, y: sign * y, ft60 });
                    continue;
                }
                None => match at {
                    Response::Time(b) if s.run.time(b).is_some() && !s.run.clean_at(b.feet()) => LeftOut::Marked,
                    Response::Speed(b) if !s.run.clean_at(b.feet()) => LeftOut::Marked,
                    _ => LeftOut::NoNumber,
                },
            };
            left_out.push((run, why));
        }
        // Over all runs that are clean up to there, whenever they were made: it only scales the air.
        let middle_of = |r: Response| {
            Sample::new(runs.iter().filter_map(|s| r.of(s.run, s.day, finish_ft))).middle().unwrap_or_default()
        };
        let (middle, middle_60) = (middle_of(asked.response), middle_of(ft60));
        leave_out_late(timeline, runs, &mut used, &mut left_out);
        let two = asked.response == Response::Et && with_60(&used);
        if two {
            left_out.extend(used.iter().filter(|u| u.ft60.is_none()).map(|u| (u.run, LeftOut::No60)));
            used.retain(|u| u.ft60.is_some());
        }
        left_out.sort_by_key(|(run, _)| *run);
        let (days, tracks) = ground.counted();
        Record { used, left_out, two, days, tracks, middle, middle_60 }
    }

    /// Which setups have runs that count, of `setups` in all.
    pub fn setups(&self, setups: usize) -> Vec<bool> {
        let mut out = vec![false; setups];
        self.used.iter().for_each(|u| out[u.row.setup] = true);
        out
    }
}

/// At least three quarters of the runs have a 60 ft.
fn with_60(used: &[Used]) -> bool {
    let have = used.iter().filter(|u| u.ft60.is_some()).count();
    have > 0 && 4 * have >= 3 * used.len()
}

/// The part that is counted in passes on each version, if one is named: a number of its own beyond all seasons.
fn worn(schema: &Schema, timeline: &Timeline) -> Vec<Option<usize>> {
    let mut names: Vec<String> = Vec::new();
    let kinds: Vec<&str> = schema.counted_in_passes();
    timeline
        .versions
        .iter()
        .map(|v| {
            let part = v.fitted.iter().find(|f| kinds.contains(&f.key.as_str()))?;
            let name = part.name.to_lowercase();
            let at = names.iter().position(|n| *n == name).unwrap_or_else(|| {
                names.push(name);
                names.len() - 1
            });
            Some(100_000 + at)
        })
        .collect()
}

/// Where the true time of a change is not known, the runs directly before the first run of its version, at most two, of the
/// same day and credited to the version before, are left out; one is kept if it is that version's only one.
fn leave_out_late(timeline: &Timeline, runs: &[Seen], used: &mut Vec<Used>, left_out: &mut Vec<(usize, LeftOut)>) {
    for (late, _) in timeline.versions.iter().enumerate().filter(|(_, v)| v.entry.time_unknown) {
        let Some(first) = runs.iter().position(|s| s.version == late) else { continue };
        let day = |i: usize| (runs[i].day.date, &runs[i].day.track);
        for i in (0..first).rev().take(MAY_BE_AFTER) {
            if day(i) != day(first) || runs[i].version + 1 != late {
                break;
            }
            let of_version = used.iter().filter(|u| runs[u.run].version == runs[i].version).count();
            if let Some(at) = used.iter().position(|u| u.run == i).filter(|_| of_version > 1) {
                used.remove(at);
                left_out.push((i, LeftOut::MaybeAfter));
            }
        }
    }
}
