//! One change, so that a reader can follow it: by hand first, then run by run as the model has it.

mod hand;
mod noted;

pub use hand::{ByHand, How};
pub use noted::{Did, Order};

use super::estimates::{Book, Estimates};
use super::kept::Move;
use super::model::{LeftOut, Parts, Record, Settings, parts};
use super::more::{More, Needed};
use super::ranking::Ranked;
use crate::pace::Seen;
use crate::timeline::VersionNumber;
use std::collections::BTreeSet;

/// A run on either side, in parts: `one air = sheet + day and lane + left over`.
#[derive(Debug, Clone, PartialEq)]
pub struct RunTold {
    /// Its place among all runs.
    pub run: usize,
    /// On a sheet with the change.
    pub with: bool,
    /// Made on a day that is compared by hand.
    pub by_hand: bool,
    /// The slip's number.
    pub slip: f64,
    /// Carried to the one air.
    pub one_air: f64,
    /// What its sheet runs, as the model has it.
    pub sheet: f64,
    /// What is put down to its day and lane, with drift, hour, track and wear, and the little by which the model carries air
    /// otherwise than the table of one air does.
    pub day_lane: f64,
    /// That little, which is in `day_lane`.
    pub air: f64,
    /// What nothing explains.
    pub left: f64,
    /// Chance that it is an ordinary run, channel by channel (the 60 ft and the rest of a finish time).
    pub ordinary: Vec<f64>,
}

impl RunTold {
    /// How much it counts: the least of its channels.
    pub fn counts(&self) -> f64 {
        self.ordinary.iter().copied().fold(1.0, f64::min)
    }
}

/// What a sheet runs in one air, as the model has it.
#[derive(Debug, Clone, PartialEq)]
pub struct SheetTold {
    /// Its versions that runs count on.
    pub versions: Vec<VersionNumber>,
    /// With the change.
    pub with: bool,
    /// The number.
    pub value: f64,
}

/// A run on either side that does not count.
#[derive(Debug, Clone, PartialEq)]
pub struct RunLeft {
    /// Its place among all runs.
    pub run: usize,
    /// On a sheet with the change.
    pub with: bool,
    /// Why.
    pub why: LeftOut,
    /// Made on a day that is compared by hand.
    pub by_hand: bool,
}

/// One change with everything its verdict rests on.
#[derive(Debug, Clone)]
pub struct Explanation {
    /// The change, judged.
    pub change: Ranked,
    /// Each time it was made or taken back, and each other day with both, in the order of time.
    pub by_hand: Vec<ByHand>,
    /// Where no day has both: the two days that are nearest.
    pub nearest: Option<ByHand>,
    /// Times it was made or taken back without a day of both: the versions.
    pub not_one_day: Vec<VersionNumber>,
    /// All runs on both sides, in the order of time.
    pub runs: Vec<RunTold>,
    /// The sheets of those runs.
    pub sheets: Vec<SheetTold>,
    /// Runs on those sheets that do not count, those outside the time asked about only counted in `outside`.
    pub left_out: Vec<RunLeft>,
    /// Runs outside the time asked about.
    pub outside: usize,
    /// Versions of those sheets whose record was mended, and how.
    pub mended: Vec<(VersionNumber, Vec<String>)>,
    /// Runs that were put on another sheet by a mend: places.
    pub relinked: Vec<usize>,
    /// What the car did more often on one side.
    pub did: Vec<Did>,
    /// Days on which the sides ran one after the other only.
    pub order: Vec<Order>,
    /// The only track of the days that are compared by hand.
    pub one_track: Option<String>,
    /// Runs a side that would settle it, where it is not.
    pub needed: Option<Needed>,
}

/// The change in its fields on any sheet: setups without it and with it, and each time it was made or taken back.
struct Kin<'a> {
    /// The moves, and whether each is the change (or takes it back).
    moves: Vec<(&'a Move, bool)>,
    without: BTreeSet<usize>,
    with: BTreeSet<usize>,
}

impl<'a> Kin<'a> {
    /// All moves that change the same fields between the same values, there or back. The model judges those alone that also
    /// start from the same sheet; by hand the others are worth as much.
    fn of(estimates: &'a Estimates, m: &Move) -> Kin<'a> {
        let columns = estimates.kept.fit.as_ref().map_or(&[][..], |f| &f.columns);
        let fields = |m: &Move, sign: f64| -> Vec<(usize, f64)> {
            let of_field = |k: &usize| columns.get(*k).is_some_and(|c| c.fields > 0.0);
            m.step.iter().filter(|(k, _)| of_field(k)).map(|(k, d)| (*k, sign * d)).collect()
        };
        let (there, back) = (fields(m, 1.0), fields(m, -1.0));
        let mut kin = Kin { moves: Vec::new(), without: BTreeSet::new(), with: BTreeSet::new() };
        for other in &estimates.kept.moves {
            let its = fields(other, 1.0);
            let alike = !its.is_empty() && other.keys == m.keys;
            let forward = match () {
                () if other.step == m.step || alike && its == there => true,
                () if alike && its == back || negated(&other.step, &m.step) => false,
                () => continue,
            };
            let (a, b) = (estimates.setup(other.before), estimates.setup(other.version));
            kin.without.insert(if forward { a } else { b });
            kin.with.insert(if forward { b } else { a });
            kin.moves.push((other, forward));
        }
        kin
    }

    fn side(&self, setup: usize) -> Option<bool> {
        match (self.without.contains(&setup), self.with.contains(&setup)) {
            (true, false) => Some(false),
            (false, true) => Some(true),
            _ => None,
        }
    }
}

/// One step is the other, taken back.
fn negated(a: &[(usize, f64)], b: &[(usize, f64)]) -> bool {
    a.len() == b.len() && a.iter().zip(b).all(|((j, x), (k, y))| j == k && *x == -y)
}

impl Explanation {
    /// Of a change that was judged.
    pub fn new(book: &Book, estimates: &Estimates, change: Ranked) -> Option<Explanation> {
        let m = estimates.of_version(change.index.1)?;
        let kin = Kin::of(estimates, m);
        let hand = hand::by_hand(book, estimates, &kin, m);
        let compared: BTreeSet<usize> = hand.rows().flat_map(|r| r.without.iter().chain(&r.with)).copied().collect();
        let days: BTreeSet<_> = compared.iter().map(|r| day_of(&book.runs[*r])).collect();
        let runs = told(book, estimates, &kin, &compared)?;
        let setup = |r: usize| estimates.setup(book.runs[r].version);
        let aside = |(run, why): &(usize, LeftOut)| {
            let by_hand = days.contains(&day_of(&book.runs[*run]));
            kin.side(setup(*run)).map(|with| RunLeft { run: *run, with, why: *why, by_hand })
        };
        let (outside, left_out): (Vec<_>, Vec<_>) =
            estimates.left_out().iter().filter_map(aside).partition(|l| l.why == LeftOut::Outside);
        let tracks: BTreeSet<&str> = hand.rows().map(|r| r.track.as_str()).collect();
        let sheets = sheets(book, estimates, &runs);
        let of_sides = |v: &usize| kin.side(estimates.setup(*v)).is_some();
        let versions = &book.timeline.versions;
        let mended = (0..versions.len()).filter(of_sides).filter(|v| !versions[*v].entry.mended.is_empty());
        let settled = change.judged.verdict.settled();
        Some(Explanation {
            did: noted::did(book, &runs, &left_out),
            order: noted::orders(book, &hand.by_hand),
            one_track: match tracks.first() {
                Some(track) if tracks.len() == 1 => Some((*track).to_owned()),
                _ => None,
            },
            mended: mended.map(|v| (versions[v].number.clone(), versions[v].entry.mended.clone())).collect(),
            relinked: runs.iter().map(|r| r.run).filter(|r| book.runs[*r].run.setup_was.is_some()).collect(),
            needed: match settled {
                true => None,
                false => More::new(estimates, m.before, m.version).map(|more| more.needed()),
            },
            by_hand: hand.by_hand,
            nearest: hand.nearest,
            not_one_day: hand.not_one_day.into_iter().map(|v| versions[v].number.clone()).collect(),
            outside: outside.len(),
            change,
            runs,
            sheets,
            left_out,
        })
    }
}

impl Estimates<'_> {
    /// The version before it that runs count on.
    pub fn ran_before(&self, version: usize) -> Option<usize> {
        self.used().iter().map(|r| self.runs[*r].version).filter(|v| *v < version).max()
    }

    /// The change a version is judged along with: no run counted on it before the next was made.
    pub fn judged_along_with(&self, version: usize) -> Option<&Move> {
        self.kept.moves.iter().find(|m| m.before < version && version < m.version)
    }
}

/// A day is one at a track.
fn day_of<'a>(seen: &Seen<'a>) -> (jiff::civil::Date, &'a str) {
    (seen.day.date, seen.day.track.as_str())
}

/// The runs of both sides in parts.
fn told(book: &Book, estimates: &Estimates, kin: &Kin, compared: &BTreeSet<usize>) -> Option<Vec<RunTold>> {
    let fit = estimates.kept.fit.as_ref()?;
    let response = estimates.response();
    let record = Record::new(book.schema, book.timeline, book.runs, book.finish_ft, &estimates.asked);
    let settings = |channel, middles| Settings::of(channel, book.footing, book.finish_ft, middles);
    let density = book.footing.reference.map(|r| r.density_kg_m3);
    let all = parts(&record, fit, response, density, &settings)?;
    let one = |p: Parts| {
        let seen = &book.runs[p.run];
        let with = kin.side(estimates.setup(seen.version))?;
        let one_air = seen.number(response, book.finish_ft)?;
        let day_lane = one_air - p.sheet - p.left;
        Some(RunTold {
            run: p.run,
            with,
            by_hand: compared.contains(&p.run),
            slip: seen.raw(response, book.finish_ft)?,
            one_air,
            sheet: p.sheet,
            day_lane,
            air: day_lane - p.others,
            left: p.left,
            ordinary: p.ordinary,
        })
    };
    Some(all.into_iter().filter_map(one).collect())
}

/// The sheets of some runs: equal setups are one.
fn sheets(book: &Book, estimates: &Estimates, runs: &[RunTold]) -> Vec<SheetTold> {
    let mut out: Vec<(usize, SheetTold)> = Vec::new();
    for r in runs {
        let version = book.runs[r.run].version;
        let number = &book.timeline.versions[version].number;
        let setup = estimates.setup(version);
        match out.iter_mut().find(|(s, _)| *s == setup) {
            Some((_, sheet)) if sheet.versions.contains(number) => {}
            Some((_, sheet)) => sheet.versions.push(number.clone()),
            None => {
                out.push((setup, SheetTold { versions: vec![number.clone()], with: r.with, value: r.sheet }));
            }
        }
    }
    out.into_iter().map(|(_, sheet)| sheet).collect()
}
