//! The air that runs are carried to, as a command asks for it.

use super::context::Context;
use super::judged::{Ran, of_60};
use crate::air::KG_M3_PER_LB_FT3;
use crate::blame::Estimates;
use crate::garage::{Book, Error, History, Result, version_named};
use crate::pace::{CarFacts, Exponent, Footing, FootingOf, Made, Seen};
use clap::Args;

/// Where numbers are compared in one air.
#[derive(Debug, Clone, Default, Args)]
pub struct FootingArgs {
    /// The one air: book (its middle; if not said), sea-level, day, or a density (1.15, 0.0718)
    #[arg(long, value_name = "AIR")]
    reference: Option<String>,
}

impl FootingArgs {
    /// What was asked for. `day` is the middle of the day named, else of the last with air.
    pub fn of(&self, history: &History, day: Option<jiff::civil::Date>) -> Result<FootingOf> {
        let Some(said) = self.reference.as_deref().map(str::trim) else { return Ok(FootingOf::Book) };
        match said.to_lowercase().as_str() {
            "book" => return Ok(FootingOf::Book),
            "sea-level" | "sea level" => return Ok(FootingOf::SeaLevel),
            "day" => {
                let with_air = |m: &&crate::garage::Made| history.days[m.day].air_at(m.run.at).is_some();
                let last = || history.runs.iter().rev().find(with_air).map(|m| history.days[m.day].date);
                return day.or_else(last).map_or(Ok(FootingOf::Book), |d| Ok(FootingOf::Day(d)));
            }
            _ => {}
        }
        density(said).map(FootingOf::Density)
    }
}

/// A density as typed: kg/m3, or lb/ft3, which no air in the other unit could be.
fn density(said: &str) -> Result<f64> {
    let help = "book, sea-level, day, or a density of air: 1.15 (kg/m3) or 0.0718 (lb/ft3)";
    let digits = said.trim_end_matches("kg/m3").trim_end_matches("lb/ft3").trim();
    let wrong = || Error::usage(format!("`{said}` is no air to carry runs to"), help);
    let n: f64 = digits.parse().map_err(|_| wrong())?;
    let (kg, lb) = (!said.ends_with("lb/ft3"), !said.ends_with("kg/m3"));
    match n {
        n if kg && (0.5..=1.6).contains(&n) => Ok(n),
        n if lb && (0.031..=0.1).contains(&n) => Ok(n * KG_M3_PER_LB_FT3),
        _ => Err(wrong()),
    }
}

/// The runs of a book as the pace wants them: those made while something changed at an unknown moment have no say.
pub fn made(history: &History) -> Vec<Made<'_>> {
    history.runs.iter().filter(|m| !m.unsure).map(|m| (&m.run, &history.days[m.day], m.version)).collect()
}

/// What the sheet on the car says of how it follows the air.
pub fn car_facts(book: &Book, history: &History) -> Result<CarFacts> {
    Ok(match history.timeline.now() {
        Some(version) => CarFacts::of(&book.sheet(version)?),
        None => CarFacts::default(),
    })
}

/// The footing of a book: its air, and how this car follows it.
pub fn footing(book: &Book, history: &History, of: FootingOf) -> Result<Footing> {
    let kept = book.derived(history, "air", "").and_then(|b| postcard::from_bytes::<Vec<(String, Exponent)>>(&b).ok());
    let car = car_facts(book, history)?;
    let (timeline, runs, finish) = (&history.timeline, made(history), history.finish_ft());
    let footing = Footing::learnt(timeline, &runs, finish, &car, of, kept.as_deref().unwrap_or_default());
    if kept.is_none() && footing.reference.is_some() {
        let learnt: Vec<(String, Exponent)> = footing.exponents.all().map(|(r, e)| (r.key(), e)).collect();
        if let Ok(bytes) = postcard::to_stdvec(&learnt) {
            book.keep_derived(history, "air", "", &bytes);
        }
    }
    of_that_day(footing, of)
}

/// The same of a record whose sheets are not all written yet.
pub fn footing_of(car: &CarFacts, history: &History, of: FootingOf) -> Result<Footing> {
    let footing = Footing::new(&history.timeline, &made(history), history.finish_ft(), car, of);
    of_that_day(footing, of)
}

fn of_that_day(footing: Footing, of: FootingOf) -> Result<Footing> {
    if let (FootingOf::Day(date), None) = (of, footing.reference) {
        return Err(Error::usage(format!("no air is on record on {date}"), "--reference book"));
    }
    Ok(footing)
}

/// The runs as the judge wants them, each carried to one air.
pub fn seen<'a>(history: &'a History, footing: &'a Footing) -> Vec<Seen<'a>> {
    seen_all(history, footing).into_iter().filter(|s| !s.unsure).collect()
}

/// All runs, those in a window of change too.
pub fn seen_all<'a>(history: &'a History, footing: &'a Footing) -> Vec<Seen<'a>> {
    let one = |m: &'a crate::garage::Made| Seen {
        run: &m.run,
        day: &history.days[m.day],
        version: m.version,
        unsure: m.unsure,
        footing,
    };
    history.runs.iter().map(one).collect()
}

/// The version a name means; `best` and `last-good` by the 60 ft in one air.
pub fn version_meant(ctx: &Context, book: &Book, history: &History, name: &str) -> Result<usize> {
    let judged = |pick: &dyn Fn(&Estimates) -> Option<usize>| {
        let footing = footing(book, history, FootingOf::Book).ok()?;
        let ran = Ran::new(book, history, &footing);
        pick(&ran.estimates(of_60()).ok()?)
    };
    let best = |e: &Estimates| e.best();
    let good = |e: &Estimates| e.last_good().map(|g| g.0);
    ctx.tell_also_called(history, name);
    version_named(history, name, ctx.hand.now, &|| judged(&best), &|| judged(&good))
}

/// `best` and `last-good` as the number of the version they are now; another name as it was said.
pub fn judged_name(ctx: &Context, book: &Book, name: Option<&str>) -> Result<Option<String>> {
    let Some(name) = name else { return Ok(None) };
    if !matches!(name.trim().to_lowercase().as_str(), "best" | "last-good") {
        return Ok(Some(name.to_owned()));
    }
    let history = book.history()?;
    let meant = version_meant(ctx, book, &history, name)?;
    Ok(Some(history.timeline.versions[meant].number.to_string()))
}
