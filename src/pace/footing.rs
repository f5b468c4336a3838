//! Every run on the same footing: its air, and its numbers carried to one air.

use super::car::CarFacts;
use super::exponent::{Exponents, Learnt};
use super::row::Ground;
use crate::air::{Moist, carried, isa};
use crate::slip::{Beam, Day, Response, Run};
use crate::stats::Sample;
use crate::timeline::Timeline;
use std::collections::HashMap;

/// The air that all are carried to.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum FootingOf {
    /// The middle of the book's runs.
    Book,
    /// The standard atmosphere at sea level.
    SeaLevel,
    /// The middle of the runs of a date.
    Day(jiff::civil::Date),
    /// A density, kg/m3.
    Density(f64),
}

/// The reference air.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Reference {
    /// Density, kg/m3.
    pub density_kg_m3: f64,
    /// What it is.
    pub of: FootingOf,
}

/// The air of one run.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Standing {
    /// Read: the air, its density in kg/m3, and the minutes to the nearest reading it rests on.
    Read {
        /// The air.
        air: Moist,
        /// kg/m3.
        density_kg_m3: f64,
        /// Minutes.
        minutes: u32,
    },
    /// Not read: taken as usual at its track, or in the book (kg/m3).
    Assumed {
        /// kg/m3.
        density_kg_m3: f64,
    },
}

impl Standing {
    /// Density, kg/m3.
    pub fn density_kg_m3(&self) -> f64 {
        match self {
            Standing::Read { density_kg_m3, .. } | Standing::Assumed { density_kg_m3 } => *density_kg_m3,
        }
    }
}

/// A run further from a reading than this is told so, minutes.
pub const FAR_MINUTES: u32 = 60;

/// The latest runs an exponent is learnt from: enough for two seasons, and a matrix of a bearable size.
const LEARNT_FROM: usize = 200;

/// The footing of a book.
#[derive(Debug, Clone)]
pub struct Footing {
    /// The reference; `None` = no run has air on record, nothing is carried.
    pub reference: Option<Reference>,
    /// How this car follows the air.
    pub exponents: Exponents,
    /// Read air by run id; the others have none.
    read: HashMap<String, Standing>,
    /// Mean logarithm of density by track, for runs without.
    by_track: HashMap<String, f64>,
    usual: f64,
    finish_ft: u32,
}

/// A run with its day and the index of its version.
pub type Made<'a> = (&'a Run, &'a Day, usize);

impl Footing {
    /// From all runs of a book, in the order of time; `finish_ft` is what ET means.
    pub fn new(timeline: &Timeline, runs: &[Made], finish_ft: u32, car: &CarFacts, of: FootingOf) -> Footing {
        let mut read = HashMap::new();
        let mut tracks: HashMap<String, Vec<f64>> = HashMap::new();
        let mut all = Vec::new();
        for (run, day, _) in runs {
            if let Some(standing) = air_of(run, day) {
                let density = standing.density_kg_m3();
                tracks.entry(day.track.to_lowercase()).or_default().push(density.ln());
                all.push((day.date, density));
                read.insert(run.id.clone(), standing);
            }
        }
        let middle = |v: Vec<f64>| Sample::new(v).middle();
        let book = middle(all.iter().map(|(_, d)| *d).collect());
        let density_kg_m3 = match of {
            FootingOf::Book => book,
            FootingOf::SeaLevel => Some(isa(0.0).density_kg_m3),
            FootingOf::Day(date) => middle(all.iter().filter(|(d, _)| *d == date).map(|(_, x)| *x).collect()),
            FootingOf::Density(d) => Some(d),
        };
        let reference = book.and(density_kg_m3).map(|density_kg_m3| Reference { density_kg_m3, of });
        let mean = |v: &Vec<f64>| v.iter().sum::<f64>() / v.len() as f64;
        let medians = medians(runs, finish_ft);
        let mut footing = Footing {
            reference,
            exponents: Exponents::beforehand(car, finish_ft, &medians),
            usual: book.map_or(0.0, f64::ln),
            by_track: tracks.iter().map(|(t, v)| (t.clone(), mean(v))).collect(),
            read,
            finish_ft,
        };
        if let Some(book) = book {
            footing.learn(timeline, runs, book.ln());
        }
        footing
    }

    fn learn(&mut self, timeline: &Timeline, runs: &[Made], usual: f64) {
        let mut ground = Ground::new(timeline);
        let mut rows = Vec::new();
        for (run, day, version) in runs {
            let standing = self.read.get(&run.id).copied();
            let air = standing.map_or(0.0, |s| s.density_kg_m3().ln() - usual);
            let row = ground.next(run, day, *version, air, standing.is_none());
            if standing.is_some() {
                rows.push((*run, *day, row));
            }
        }
        let rows = &rows[rows.len().saturating_sub(LEARNT_FROM)..];
        let plain: Vec<_> = rows.iter().map(|(_, _, row)| row.clone()).collect();
        let common = ground.common(&plain);
        for response in responses() {
            let learnt = rows
                .iter()
                .filter_map(|(run, day, row)| Some(Learnt { row, raw: response.of(run, day, self.finish_ft)? }));
            let learnt: Vec<Learnt> = learnt.collect();
            self.exponents.learn(response, self.finish_ft, &common, &learnt);
        }
    }

    /// The air of a run: as read, else as usual at its track, else as usual in the book. `None` where the book has no air.
    pub fn standing(&self, run: &Run, day: &Day) -> Option<Standing> {
        self.reference?;
        let read = || air_of(run, day);
        let known = self.read.get(&run.id).copied().or_else(read);
        Some(known.unwrap_or_else(|| Standing::Assumed { density_kg_m3: self.usual_at(&day.track) }))
    }

    /// The density taken where none was read, kg/m3.
    pub fn usual_at(&self, track: &str) -> f64 {
        self.by_track.get(&track.to_lowercase()).copied().unwrap_or(self.usual).exp()
    }

    /// A number carried from the air of its run to the reference air; as it is where the book has no air.
    pub fn carried(&self, run: &Run, day: &Day, response: Response, raw: f64) -> f64 {
        match (self.standing(run, day), self.reference) {
            (Some(standing), Some(reference)) => {
                self.carry(response, raw, standing.density_kg_m3(), reference.density_kg_m3)
            }
            _ => raw,
        }
    }

    /// A number carried from one density to another, kg/m3: `raw · (to/from)^e`. There and back is the number itself.
    pub fn carry(&self, response: Response, raw: f64, from_kg_m3: f64, to_kg_m3: f64) -> f64 {
        carried(raw, to_kg_m3 / from_kg_m3, self.exponents.of(response).value)
    }

    /// Of some runs: how many had no air of their own, and how many had none within an hour.
    pub fn without_air<'a>(&self, runs: impl IntoIterator<Item = (&'a Run, &'a Day)>) -> (usize, usize) {
        let mut out = (0, 0);
        for (run, day) in runs {
            match self.standing(run, day) {
                Some(Standing::Read { minutes, .. }) => out.1 += usize::from(minutes > FAR_MINUTES),
                _ => out.0 += 1,
            }
        }
        out
    }
}

/// The air of a run as read.
fn air_of(run: &Run, day: &Day) -> Option<Standing> {
    let at = day.air_at(run.at)?;
    Some(Standing::Read { air: at.air, density_kg_m3: at.air.density_kg_m3(), minutes: at.minutes })
}

/// The numbers that are carried; ET and mph are the time and the speed at the finish.
pub(super) fn responses() -> impl Iterator<Item = Response> {
    let speeds = Beam::ALL.into_iter().filter(|b| b.speed_key().is_some()).map(Response::Speed);
    Beam::ALL.into_iter().map(Response::Time).chain(speeds)
}

/// The middle of each number over the book, those it has.
pub(super) fn medians(runs: &[Made], finish_ft: u32) -> Vec<(Response, f64)> {
    responses()
        .filter_map(|r| {
            let values = runs.iter().filter_map(|(run, day, _)| r.of(run, day, finish_ft));
            Some((r, Sample::new(values).middle()?))
        })
        .collect()
}
