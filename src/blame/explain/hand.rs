//! By hand: means of one day, with the change and without it.

use super::super::estimates::{Book, Estimates};
use super::super::kept::Move;
use super::{Kin, day_of};
use std::collections::{BTreeMap, BTreeSet};

/// What a comparison by hand rests on.
#[derive(Debug, Clone, Copy, PartialEq, Eq, serde::Serialize)]
#[serde(rename_all = "snake_case")]
pub enum How {
    /// The change was made that day.
    Made,
    /// It was taken back.
    TakenBack,
    /// It was made once more.
    MadeAgain,
    /// Both ran that day, and neither began there.
    BothRan,
    /// No day has both: the two days that are nearest.
    TwoDays,
}

/// Means of runs with the change and without it.
#[derive(Debug, Clone, PartialEq)]
pub struct ByHand {
    /// What it is.
    pub how: How,
    /// The day of the runs without it, and with it.
    pub days: (jiff::civil::Date, jiff::civil::Date),
    /// The track (of the runs with it).
    pub track: String,
    /// Versions that ran, the earlier first: indices.
    pub from: Vec<usize>,
    /// The later.
    pub to: Vec<usize>,
    /// The sheets differ as the judged step does; else it is the same change on another sheet.
    pub same_step: bool,
    /// Runs without it: places among all runs.
    pub without: Vec<usize>,
    /// With it.
    pub with: Vec<usize>,
    /// Means in one air, in the response's unit.
    pub means: (f64, f64),
}

impl ByHand {
    /// With minus without.
    pub fn worth(&self) -> f64 {
        self.means.1 - self.means.0
    }
}

/// What can be compared by hand.
pub(super) struct Hand {
    pub by_hand: Vec<ByHand>,
    pub nearest: Option<ByHand>,
    /// Versions.
    pub not_one_day: Vec<usize>,
}

impl Hand {
    pub fn rows(&self) -> impl Iterator<Item = &ByHand> {
        self.by_hand.iter().chain(&self.nearest)
    }
}

type Days<'a> = BTreeMap<(jiff::civil::Date, &'a str), Vec<usize>>;

struct Hands<'b, 'a> {
    book: &'b Book<'a>,
    estimates: &'b Estimates<'a>,
}

pub(super) fn by_hand(book: &Book, estimates: &Estimates, kin: &Kin, m: &Move) -> Hand {
    let hands = Hands { book, estimates };
    let mut out = Hand { by_hand: Vec::new(), nearest: None, not_one_day: Vec::new() };
    let mut covered = BTreeSet::new();
    let mut made = false;
    for (other, forward) in &kin.moves {
        let how = match (forward, made) {
            (true, false) => How::Made,
            (true, true) => How::MadeAgain,
            (false, _) => How::TakenBack,
        };
        made |= forward;
        let same_step = other.step == m.step || super::negated(&other.step, &m.step);
        let first = hands.days(|v| v == other.version).into_keys().next();
        let (before, after) = (hands.days(|v| v == other.before), hands.days(|v| v == other.version));
        let here = before.iter().filter_map(|(d, a)| Some((*d, a, after.get(d)?)));
        let here: Vec<_> = here.filter(|(d, ..)| Some(*d) == first).collect();
        if here.is_empty() {
            out.not_one_day.push(other.version);
        }
        let pair = |setups: (usize, usize)| if *forward { setups } else { (setups.1, setups.0) };
        let setups = pair((estimates.setup(other.before), estimates.setup(other.version)));
        for (day, a, b) in here {
            covered.insert((day, setups));
            out.by_hand.extend(hands.row(how, same_step, (a, b), *forward));
        }
    }
    // Days with both sides on which neither began.
    for (other, forward) in &kin.moves {
        let same_step = other.step == m.step || super::negated(&other.step, &m.step);
        let of = |setup: usize| hands.days(|v| estimates.setup(v) == setup);
        let (a, b) = (estimates.setup(other.before), estimates.setup(other.version));
        let (without, with) = if *forward { (a, b) } else { (b, a) };
        let (on_without, on_with) = (of(without), of(with));
        for (day, a) in &on_without {
            if let Some(b) = on_with.get(day).filter(|_| covered.insert((*day, (without, with)))) {
                out.by_hand.extend(hands.row(How::BothRan, same_step, (a, b), true));
            }
        }
    }
    out.by_hand.sort_by_key(|r| (r.days.0, r.without.iter().chain(&r.with).max().copied()));
    if out.by_hand.is_empty() {
        out.nearest = hands.nearest(m);
    }
    out
}

impl<'a> Hands<'_, 'a> {
    /// Runs that count, on some versions, by day.
    fn days(&self, on: impl Fn(usize) -> bool) -> Days<'a> {
        let mut out = Days::new();
        for r in self.estimates.used() {
            let seen = &self.book.runs[*r];
            if on(seen.version) {
                out.entry(day_of(seen)).or_default().push(*r);
            }
        }
        out
    }

    fn mean(&self, places: &[usize]) -> Option<f64> {
        let number = |r: &usize| self.book.runs[*r].number(self.estimates.response(), self.book.finish_ft);
        let all: Vec<f64> = places.iter().filter_map(number).collect();
        (!all.is_empty()).then(|| all.iter().sum::<f64>() / all.len() as f64)
    }

    /// `sides`: before and after where it was made (`forward`), else the other way about.
    fn row(&self, how: How, same_step: bool, sides: (&[usize], &[usize]), forward: bool) -> Option<ByHand> {
        let (without, with) = if forward { sides } else { (sides.1, sides.0) };
        let versions = |places: &[usize]| -> Vec<usize> {
            let all: BTreeSet<usize> = places.iter().map(|r| self.book.runs[*r].version).collect();
            all.into_iter().collect()
        };
        let day = |places: &[usize]| places.first().map(|r| &self.book.runs[*r].day);
        Some(ByHand {
            how,
            days: (day(without)?.date, day(with)?.date),
            track: day(with)?.track.clone(),
            from: versions(sides.0),
            to: versions(sides.1),
            same_step,
            without: without.to_vec(),
            with: with.to_vec(),
            means: (self.mean(without)?, self.mean(with)?),
        })
    }

    /// The two days nearest to each other of the change's own sides.
    fn nearest(&self, m: &Move) -> Option<ByHand> {
        let of = |version: usize| self.days(|v| self.estimates.setup(v) == self.estimates.setup(version));
        let (a, b) = (of(m.before), of(m.version));
        let apart = |x: jiff::civil::Date, y: jiff::civil::Date| (y - x).get_days().abs();
        let pairs = a.iter().flat_map(|x| b.iter().map(move |y| (x, y)));
        let (x, y) = pairs.min_by_key(|(x, y)| apart(x.0.0, y.0.0))?;
        self.row(How::TwoDays, true, (x.1, y.1), true)
    }
}
