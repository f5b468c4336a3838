//! Every run on the same footing: its air, and its numbers carried to one air.

use super::car::CarFacts;
use super::exponent::{Exponent, Exponents, Learnt};
use super::row::Ground;
use super::standing::{Standing, air_of, airs_of};
use super::usual::{AssumedBy, Usual};
use crate::air::{carried, isa};
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
    /// The air of each run by its id.
    standing: HashMap<String, Standing>,
    pub(super) usual: Usual,
    finish_ft: u32,
}

/// A run with its day and the index of its version.
pub type Made<'a> = (&'a Run, &'a Day, usize);

impl Footing {
    /// From all runs of a book, in the order of time; `finish_ft` is what ET means.
    pub fn new(timeline: &Timeline, runs: &[Made], finish_ft: u32, car: &CarFacts, of: FootingOf) -> Footing {
        Footing::learnt(timeline, runs, finish_ft, car, of, &[])
    }

    /// The same, with the exponents that were learnt of the very same runs before, by the key of each number.
    pub fn learnt(
        timeline: &Timeline,
        runs: &[Made],
        finish_ft: u32,
        car: &CarFacts,
        of: FootingOf,
        learnt: &[(String, Exponent)],
    ) -> Footing {
        Footing::made_of(timeline, runs, &airs_of(runs), finish_ft, (car, of), learnt)
    }

    /// The same, with the air of each run as it was read.
    pub(super) fn with_air(
        timeline: &Timeline,
        runs: &[Made],
        airs: &[Option<Standing>],
        finish_ft: u32,
        car: &CarFacts,
        of: FootingOf,
    ) -> Footing {
        Footing::made_of(timeline, runs, airs, finish_ft, (car, of), &[])
    }

    fn made_of(
        timeline: &Timeline,
        runs: &[Made],
        airs: &[Option<Standing>],
        finish_ft: u32,
        (car, of): (&CarFacts, FootingOf),
        learnt: &[(String, Exponent)],
    ) -> Footing {
        let both = || runs.iter().zip(airs);
        let read: Vec<(&Day, f64)> =
            both().filter_map(|((_, day, _), air)| Some((*day, air.as_ref()?.density_kg_m3()))).collect();
        let middle = |v: Vec<f64>| Sample::new(v).middle();
        let book = middle(read.iter().map(|(_, d)| *d).collect());
        let density_kg_m3 = match of {
            FootingOf::Book => book,
            FootingOf::SeaLevel => Some(isa(0.0).density_kg_m3),
            FootingOf::Day(date) => middle(read.iter().filter(|(d, _)| d.date == date).map(|(_, x)| *x).collect()),
            FootingOf::Density(d) => Some(d),
        };
        let reference = book.and(density_kg_m3).map(|density_kg_m3| Reference { density_kg_m3, of });
        let usual = book.map_or_else(Usual::default, |book| Usual::new(&read, book));
        let standing = |((run, day, _), air): (&Made, &Option<Standing>)| {
            let assumed = || {
                let (density_kg_m3, by) = usual.at(day);
                Standing::Assumed { density_kg_m3, by }
            };
            (run.id.clone(), air.unwrap_or_else(assumed))
        };
        let standing = if reference.is_some() { both().map(standing).collect() } else { HashMap::new() };
        let exponents = Exponents::beforehand(car, finish_ft, &medians(runs, finish_ft));
        let mut footing = Footing { reference, exponents, standing, usual, finish_ft };
        if book.is_some() && !footing.exponents.take(learnt) {
            footing.learn(timeline, runs, airs);
        }
        footing
    }

    fn learn(&mut self, timeline: &Timeline, runs: &[Made], airs: &[Option<Standing>]) {
        let mut ground = Ground::new(timeline);
        let mut rows = Vec::new();
        for ((run, day, version), air) in runs.iter().zip(airs) {
            let ln = air.map_or(0.0, |s| s.density_kg_m3().ln() - self.usual.book);
            let row = ground.next(run, day, *version, ln, 0.0);
            if air.is_some() {
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

    /// The air of a run: as read, else as usual. `None` where the book has no air.
    pub fn standing(&self, run: &Run, day: &Day) -> Option<Standing> {
        self.reference?;
        // A run that is not in the book yet is looked up by itself.
        let anew = || {
            let (density_kg_m3, by) = self.usual.at(day);
            air_of(run, day).unwrap_or(Standing::Assumed { density_kg_m3, by })
        };
        Some(self.standing.get(&run.id).copied().unwrap_or_else(anew))
    }

    /// The density taken on a day where none was read, kg/m3, and what that rests on.
    pub fn usual_at(&self, day: &Day) -> (f64, AssumedBy) {
        self.usual.at(day)
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

#[cfg(test)]
mod tests {
    use super::*;
    use crate::schema::Num;
    use crate::slip::{Moment, Reading};
    use proptest::prelude::*;

    /// A day of three runs, each with its own air, and one without.
    fn day() -> Day {
        let num = |t: &str| Num::parse(t).unwrap();
        let date = jiff::civil::date(2026, 8, 22);
        let at = |hour: i8| Moment::on_race_day(date, jiff::civil::time(hour, 0, 0, 0), -18_000).unwrap();
        let reading = |hour: i8, temperature: &str| Reading {
            at: jiff::civil::time(hour, 0, 0, 0),
            numbers: [("temperature", temperature), ("humidity", "50"), ("pressure_station", "29.4")]
                .map(|(k, v)| (k.to_owned(), num(v)))
                .into(),
            ..Reading::default()
        };
        let run = |id: &str, hour: i8, et: &str| {
            let numbers = [("ft60", "1.6"), ("ft1320", et), ("mph1320", "116")];
            Run {
                id: id.to_owned(),
                numbers: numbers.map(|(k, v)| (k.to_owned(), num(v))).into(),
                ..Run::new(at(hour))
            }
        };
        Day {
            date,
            track: "Osier Flats".to_owned(),
            finish_ft: 1320,
            elevation_ft: None,
            offset_seconds: -18_000,
            prep: None,
            note: None,
            closed: false,
            unread: Vec::new(),
            readings: vec![reading(9, "60"), reading(12, "80"), reading(15, "95")],
            runs: vec![run("a", 9, "11.60"), run("b", 12, "11.66"), run("c", 15, "11.72")],
        }
    }

    fn footing(day: &Day, of: FootingOf) -> Footing {
        let made: Vec<Made> = day.runs.iter().map(|r| (r, day, 0)).collect();
        Footing::new(&Timeline::default(), &made, 1320, &CarFacts::default(), of)
    }

    #[test]
    fn the_books_middle_is_the_reference_unless_another_is_said() {
        let day = day();
        let book = footing(&day, FootingOf::Book);
        let middle = day.air_at(day.runs[1].at).unwrap().air.density_kg_m3();
        assert_eq!(book.reference.unwrap().density_kg_m3, middle);
        assert_eq!(book.carried(&day.runs[1], &day, Response::Et, 11.66), 11.66);
        // Hot air was thinner: in one air that run was the better one.
        assert!(book.carried(&day.runs[2], &day, Response::Et, 11.72) < 11.72);
        assert!(book.carried(&day.runs[0], &day, Response::Mph, 116.0) < 116.0);
        assert!((footing(&day, FootingOf::SeaLevel).reference.unwrap().density_kg_m3 - 1.225).abs() < 1e-6);
        let other = jiff::civil::date(2026, 8, 23);
        assert_eq!(footing(&day, FootingOf::Day(other)).reference, None);
        let unread = Day { readings: Vec::new(), ..day.clone() };
        let none = footing(&unread, FootingOf::Density(1.2));
        assert_eq!((none.reference, none.carried(&unread.runs[0], &unread, Response::Et, 11.6)), (None, 11.6));
    }

    #[test]
    fn a_run_without_air_is_taken_as_usual_at_its_track() {
        let day = day();
        let book = footing(&day, FootingOf::Book);
        let unread = Day { readings: Vec::new(), date: jiff::civil::date(2026, 8, 23), ..day.clone() };
        let run = Run { id: "d".to_owned(), ..day.runs[0].clone() };
        let mean: f64 = day.runs.iter().map(|r| day.air_at(r.at).unwrap().air.density_kg_m3().ln()).sum::<f64>() / 3.0;
        let Some(Standing::Assumed { density_kg_m3, by: AssumedBy::Track }) = book.standing(&run, &unread) else {
            panic!()
        };
        assert!((density_kg_m3.ln() - mean).abs() < 1e-12);
        // Of another track nothing is known; at a known height the air is as much thinner as the standard atmosphere.
        let elsewhere = Day { track: "Tern Hollow".to_owned(), ..unread };
        assert_eq!(book.usual_at(&elsewhere), (book.reference.unwrap().density_kg_m3, AssumedBy::Book));
        let feet = |d: &Day, ft: i32| Day { elevation_ft: Some(Num::int(ft)), ..d.clone() };
        let home = feet(&day, 600);
        let book = footing(&home, FootingOf::Book);
        let (high, by) = book.usual_at(&feet(&elsewhere, 5600));
        let ratio = isa(5600.0).density_kg_m3 / isa(600.0).density_kg_m3;
        assert_eq!(by, AssumedBy::Elevation);
        assert!((high / book.reference.unwrap().density_kg_m3 - ratio).abs() < 1e-12 && ratio < 0.87);
        assert_eq!(book.without_air([(&run, &elsewhere), (&day.runs[0], &day)]), (1, 0));
    }

    /// Twenty days of a car that follows the air by exponents of its own, with a little scatter: what is learnt lies between
    /// the prior and those, near those, and narrower than the prior. A single day moves next to nothing.
    #[test]
    fn the_runs_move_the_exponents_as_far_as_they_can_say() {
        let (of_et, of_mph) = (-0.33, 0.42);
        let season = |count: usize| -> Vec<Day> {
            let mut days = Vec::new();
            for n in 0..count {
                let one = day();
                let date = jiff::civil::date(2026, 4, 1).checked_add(jiff::Span::new().days(7 * n as i64)).unwrap();
                let hot = 50.0 + 45.0 * ((n * 7) % count) as f64 / count as f64;
                let num = |x: f64, d: f64| Num::from_f64((x * d).round() / d).unwrap();
                let mut one = Day { date, ..one };
                for reading in &mut one.readings {
                    reading.numbers.insert("temperature".to_owned(), num(hot, 10.0));
                }
                for (i, run) in one.runs.iter_mut().enumerate() {
                    run.id = format!("{n}{i}");
                    let time = run.at.civil().time();
                    run.at = Moment::on_race_day(date, time, -18_000).unwrap();
                }
                let air = one.air_at(one.runs[0].at).unwrap().air.density_kg_m3() / 1.16;
                for (i, run) in one.runs.iter_mut().enumerate() {
                    let scatter = 0.002 * ((n * 5 + i * 3) % 7) as f64;
                    run.numbers.insert("ft1320".to_owned(), num(11.6 * air.powf(of_et) + scatter, 1000.0));
                    run.numbers.insert("mph1320".to_owned(), num(116.0 * air.powf(of_mph) + 10.0 * scatter, 100.0));
                }
                days.push(one);
            }
            days
        };
        let learnt = |days: &[Day]| {
            let made: Vec<Made> = days.iter().flat_map(|d| d.runs.iter().map(move |r| (r, d, 0))).collect();
            let f = Footing::new(&Timeline::default(), &made, 1320, &CarFacts::default(), FootingOf::Book);
            (f.exponents.of(Response::Et), f.exponents.of(Response::Mph))
        };
        let (et, mph) = learnt(&season(20));
        assert!((et.value - of_et).abs() < 0.03 && et.sd < 0.5 * et.prior_sd && et.runs == 60, "{et:?}");
        assert!((mph.value - of_mph).abs() < 0.04 && mph.sd < 0.7 * mph.prior_sd, "{mph:?}");
        assert!(et.prior < 0.0 && et.prior > of_et && mph.prior > 0.0 && mph.prior < of_mph, "{et:?} {mph:?}");
        let (one_day, _) = learnt(&season(1));
        assert!((one_day.value - one_day.prior).abs() < 0.2 * one_day.prior_sd, "{one_day:?}");
    }

    proptest! {
        /// There and back is the number itself; by way of another air it is the same; its own air changes nothing.
        #[test]
        fn carrying_there_and_back(raw in 0.5_f64..400.0, a in 0.8_f64..1.4, b in 0.8_f64..1.4, c in 0.8_f64..1.4) {
            let day = day();
            let footing = footing(&day, FootingOf::Book);
            for response in responses().chain([Response::Et, Response::Mph]) {
                let there = footing.carry(response, raw, a, b);
                prop_assert!((footing.carry(response, there, b, a) / raw - 1.0).abs() < 1e-13);
                prop_assert_eq!(footing.carry(response, raw, a, a), raw);
                let around = footing.carry(response, there, b, c);
                prop_assert!((around / footing.carry(response, raw, a, c) - 1.0).abs() < 1e-13);
            }
        }
    }
}
