//! What the car did on either side, and in which order the sides ran on a day.

use super::super::estimates::Book;
use super::super::model::LeftOut;
use super::hand::ByHand;
use super::{RunLeft, RunTold};
use std::collections::BTreeMap;

/// What the car did more often on one side. A run nobody wrote it of counts as one on which it did not happen.
#[derive(Debug, Clone, PartialEq)]
pub struct Did {
    /// In the words of the record.
    pub words: String,
    /// Runs without the change on which it did, and all of them.
    pub without: (usize, usize),
    /// With it.
    pub with: (usize, usize),
}

/// The runs with the change all came before or all after those without it.
#[derive(Debug, Clone, PartialEq)]
pub struct Order {
    /// The day.
    pub day: jiff::civil::Date,
    /// Those with it came later.
    pub with_later: bool,
    /// The track's surface with it was so much hotter in the mean, F; `None` where it was not read on both sides.
    pub track_hotter_f: Option<f64>,
}

/// Shares further apart than this are told, and only of two runs and more on each side, and what was seen twice.
const APART: f64 = 0.25;
const FEWEST: usize = 2;

/// Of the runs that count, and of those that do not because of the run itself: a spin is something the car did.
pub(super) fn did(book: &Book, runs: &[RunTold], left_out: &[RunLeft]) -> Vec<Did> {
    let by_itself = |l: &&RunLeft| matches!(l.why, LeftOut::Marked | LeftOut::NoNumber | LeftOut::No60);
    let left = left_out.iter().filter(by_itself).map(|l| (l.run, l.with));
    let all: Vec<(usize, bool)> = runs.iter().map(|r| (r.run, r.with)).chain(left).collect();
    let count = |with: bool| all.iter().filter(|(_, w)| *w == with).count();
    let totals = [count(false), count(true)];
    let mut words: BTreeMap<String, [usize; 2]> = BTreeMap::new();
    for (run, with) in &all {
        let mut said: Vec<String> = book.runs[*run].run.did.iter().map(|d| d.trim().to_lowercase()).collect();
        said.sort_unstable();
        said.dedup();
        said.into_iter().for_each(|d| words.entry(d).or_default()[usize::from(*with)] += 1);
    }
    let share = |n: &[usize; 2], i: usize| n[i] as f64 / totals[i].max(1) as f64;
    let mut out: Vec<(f64, Did)> = words
        .into_iter()
        .map(|(words, n)| {
            let did = Did { words, without: (n[0], totals[0]), with: (n[1], totals[1]) };
            (share(&n, 1) - share(&n, 0), did)
        })
        .filter(|(apart, d)| apart.abs() >= APART && d.without.0.max(d.with.0) >= FEWEST)
        .filter(|_| totals.iter().all(|t| *t >= FEWEST))
        .collect();
    out.sort_by(|a, b| b.0.abs().total_cmp(&a.0.abs()).then_with(|| a.1.words.cmp(&b.1.words)));
    out.into_iter().map(|(_, d)| d).collect()
}

/// Days on which one side always ran after the other. Where it went there and back in a day, order fools nobody.
pub(super) fn orders(book: &Book, rows: &[ByHand]) -> Vec<Order> {
    let all: Vec<Order> = rows.iter().filter_map(|row| order(book, row)).collect();
    let both = |o: &Order| all.iter().any(|x| x.day == o.day && x.with_later != o.with_later);
    all.iter().filter(|o| !both(o)).cloned().collect()
}

fn order(book: &Book, row: &ByHand) -> Option<Order> {
    let at = |r: &usize| book.runs[*r].run.at.seconds;
    let ends = |places: &[usize]| Some((places.iter().map(at).min()?, places.iter().map(at).max()?));
    let (without, with) = (ends(&row.without)?, ends(&row.with)?);
    let later = with.0 > without.1;
    if !later && with.1 >= without.0 {
        return None;
    }
    let track = |places: &[usize]| {
        let read = |r: &usize| book.runs[*r].day.track_at(book.runs[*r].run.at).track_temp_f;
        let all: Vec<f64> = places.iter().filter_map(read).collect();
        (all.len() == places.len()).then(|| all.iter().sum::<f64>() / all.len() as f64)
    };
    let track_hotter_f = track(&row.with).zip(track(&row.without)).map(|(b, a)| b - a);
    Some(Order { day: row.days.1, with_later: later, track_hotter_f })
}
