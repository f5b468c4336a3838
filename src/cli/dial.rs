//! `dial`: what the car should run.

use super::context::Context;
use super::footing::{car_facts, made, version_meant};
use super::ui::Ui;
use crate::garage::{Error, History, Result};
use crate::pace::{
    Asked, Backtest, CarFacts, Expected, Footing, FootingOf, Made, Standing, backtest, expect, looked_at,
    reading_log_sd,
};
use crate::render;
use crate::render::dial::{AirAsked, DialTold};
use crate::schema::schema;
use crate::slip::{Day, Moment, Response, lane_word};
use clap::Args;

/// What the car should run in given air, and how far off that may be
///
/// ET, mph and splits on the setup on the car, from its own runs: recent ones
/// count more, a bad one counts for little, runs on other setups say what runs
/// scatter by and how this car follows the air. The range holds 19 runs in 20;
/// what it comes from is named. The chance of going under each number around the
/// expectation is told; which one to write on the window is the driver's choice.
///
///   slipbook dial                    in the air of the day's last reading
///   slipbook dial --air "84F 52% 29.42 station"
///   slipbook dial --on v17 --lane l
///   slipbook dial --backtest         how far earlier ones would have been off
///
/// The finish is the day's. Wind, sun and the driver are not in it.
#[derive(Debug, Args)]
#[command(verbatim_doc_comment)]
pub struct DialArgs {
    /// The version, if not the one on the car
    #[arg(long, value_name = "VERSION")]
    on: Option<String>,
    /// The air: "84F 52% 29.42 station"
    #[arg(long, value_name = "READING")]
    air: Option<String>,
    /// The track, if not that of the last day
    #[arg(long, value_name = "NAME")]
    track: Option<String>,
    /// The track's elevation, ft
    #[arg(long, value_name = "FT", allow_negative_numbers = true)]
    elevation: Option<f64>,
    /// The lane: l or r
    #[arg(long, value_name = "LANE")]
    lane: Option<String>,
    /// The time of the run, if not now: runs and changes after it are left out
    #[arg(long, value_name = "TIME")]
    at: Option<String>,
    /// The finish, if not the day's: 660, 1000 or 1320 ft
    #[arg(long, value_name = "FT")]
    finish: Option<u32>,
    /// Earlier runs, each from those before it alone, beside what people do instead
    #[arg(long, conflicts_with_all = ["on", "air", "track", "elevation", "lane", "at"])]
    backtest: bool,
    /// With --backtest: the last so many runs (if not said, 200)
    #[arg(long, value_name = "N", requires = "backtest", value_parser = clap::value_parser!(u64).range(1..=100_000))]
    last: Option<u64>,
}

/// Earlier runs looked at beside an expectation.
const LOOKED_BACK: usize = 20;

/// Runs the command.
pub fn run(ctx: &Context, ui: &mut Ui, args: &DialArgs) -> Result<()> {
    let book = ctx.book()?;
    let history = book.history()?;
    let head = ctx.head(&book.car.name);
    if let Some(finish) = args.finish.filter(|f| !book.schema.run.finishes_ft.contains(f)) {
        return Err(Error::usage(format!("{finish} ft is no finish"), "660, 1000 or 1320"));
    }
    let runs = made(&history);
    let car = car_facts(&book, &history)?;
    if args.backtest {
        let finish_ft = args.finish.unwrap_or(history.finish_ft());
        let most = args.last.map_or(200, |n| usize::try_from(n).unwrap_or(usize::MAX));
        let tried = look_back(ui, &history, &car, &runs, finish_ft, most);
        ctx.answer(ui, || render::dial::backtest_json(&head, &tried), || render::dial::backtest_text(&head, &tried));
        return Ok(());
    }
    let at = args.at.as_deref().map(|t| ctx.any_moment(t)).transpose()?.unwrap_or(ctx.hand.now);
    let lane = match args.lane.as_deref() {
        Some(said) => Some(lane_word(said).ok_or_else(|| Error::usage(format!("`{said}` is no lane"), "l or r"))?),
        None => None,
    };
    let versions = &history.timeline.versions;
    let version = match args.on.as_deref() {
        Some(name) => version_meant(ctx, &book, &history, name)?,
        None => versions.iter().rposition(|v| v.entry.at <= at).ok_or_else(|| {
            Error::usage(format!("the book begins after {}", at.words(None)), "--at TIME, or --on VERSION")
        })?,
    };
    let day = day_of(&history, args, at)?;
    let finish_ft = args.finish.unwrap_or(day.finish_ft);
    // What was not yet run then is not known then.
    let runs: Vec<Made> = runs.into_iter().filter(|m| m.0.at <= at).collect();
    let footing = Footing::new(&history.timeline, &runs, finish_ft, &car, FootingOf::Book);
    let asked_air = air_of(ui, &footing, &day, at, args)?;
    let asked = Asked {
        day: &day,
        at,
        lane,
        version,
        density_kg_m3: asked_air.density_kg_m3,
        density_log_sd: asked_air.log_sd,
    };
    let expected: Vec<Expected> = expect(&history.timeline, &runs, &footing, finish_ft, &asked);
    let mark = versions[version].mark;
    let clean = looked_at(&runs, finish_ft);
    let here: Vec<&Made> = clean.iter().copied().filter(|m| versions[m.2].mark == mark).collect();
    let et = expected.iter().any(|e| e.response == Response::Et);
    let read = asked_air.density_kg_m3.is_some() || footing.reference.is_none();
    let looked_back =
        if et && read { Some(look_back(ui, &history, &car, &runs, finish_ft, LOOKED_BACK)) } else { None };
    let told = DialTold {
        version: versions[version].number.to_string(),
        with: (0..versions.len())
            .filter(|i| *i != version && versions[*i].mark == mark)
            .map(|i| versions[i].number.to_string())
            .collect(),
        on_car: version + 1 == versions.len(),
        finish_ft,
        day: &day,
        at,
        lane,
        air: asked_air,
        footing: &footing,
        densities: here.iter().filter_map(|m| read_density(&footing, m)).collect(),
        days: days_of(&here),
        last: here.last().map(|m| m.1.date),
        clean: clean.len(),
        without_air: footing.without_air(here.iter().map(|m| (m.0, m.1))).0,
        expected: &expected,
        looked_back: looked_back.filter(|b| b.runs > 0),
    };
    ctx.answer(ui, || render::dial::json(&head, &told), || render::dial::text(&head, &told));
    Ok(())
}

fn days_of(runs: &[&Made]) -> usize {
    let mut dates: Vec<_> = runs.iter().map(|m| m.1.date).collect();
    dates.dedup();
    dates.len()
}

fn read_density(footing: &Footing, (run, day, _): &Made) -> Option<f64> {
    match footing.standing(run, day)? {
        Standing::Read { density_kg_m3, .. } => Some(density_kg_m3),
        Standing::Assumed { .. } => None,
    }
}

/// The day asked about: as it is on record, else like the last one at its track.
fn day_of(history: &History, args: &DialArgs, at: Moment) -> Result<Day> {
    let same = |d: &&Day| args.track.as_ref().is_none_or(|t| t.trim().eq_ignore_ascii_case(&d.track));
    let on_date = history.days.iter().rev().filter(same).find(|d| d.date == at.race_day());
    let like = history.days.iter().rev().filter(same).find(|d| d.date <= at.race_day());
    let any = on_date.or(like).or_else(|| history.days.iter().rev().find(same)).or(history.days.last());
    let Some(any) = any else {
        return Err(Error::usage("no day is on record: nothing to expect from", "slipbook run records a run"));
    };
    let mut day = Day { runs: Vec::new(), ..any.clone() };
    if let Some(track) = args.track.as_ref().filter(|t| !t.trim().eq_ignore_ascii_case(&day.track)) {
        // A track that was never run at: nothing of the other holds there.
        day = Day { track: track.trim().to_owned(), elevation_ft: None, ..day };
    }
    if on_date.is_none() {
        day = Day { date: at.race_day(), offset_seconds: at.offset_seconds, readings: Vec::new(), prep: None, ..day };
    }
    // Readings that are taken later are not known yet.
    let known: Vec<_> =
        day.readings.iter().filter(|r| day.read_at(r).is_some_and(|m| m.seconds <= at.seconds)).cloned().collect();
    day.readings = known;
    if let Some(feet) = args.elevation {
        let said = super::run::elevation(feet)?;
        if let Some(is) = day.elevation_ft.filter(|is| *is != said) {
            let help = format!("slipbook mend track \"{}\" --elevation {said} puts it right", day.track);
            return Err(Error::usage(format!("{}'s elevation is {is} ft on record, not {said}", day.track), help));
        }
        day.elevation_ft = Some(said);
    }
    Ok(day)
}

/// The air asked about: as said, else the day's last reading, else as usual at the track.
fn air_of(ui: &mut Ui, footing: &Footing, day: &Day, at: Moment, args: &DialArgs) -> Result<AirAsked> {
    let usual = footing.reference.map(|_| footing.usual_at(day));
    let unknown = AirAsked { air: None, density_kg_m3: None, minutes: None, taken_as: None, usual, log_sd: 0.0 };
    if let Some(said) = &args.air {
        let meant = super::air::typed(ui, &schema().run, said, at, day.elevation_ft)
            .map_err(|refused| Error::usage(refused.why(), "slipbook air --help"))?;
        let setting = meant.reading.numbers.contains_key("pressure_altimeter");
        let then = Day { readings: vec![meant.reading], ..day.clone() }.air_at(at);
        let Some(then) = then else {
            let help = if setting && day.elevation_ft.is_none() {
                "an altimeter setting wants the track's elevation: --elevation FT"
            } else {
                "temperature, one of humidity, dew point and wet bulb, and the barometer: \"84F 52% 29.42 station\""
            };
            return Err(Error::usage(format!("`{said}` does not say what the air is"), help));
        };
        let density_kg_m3 = Some(then.air.density_kg_m3());
        let log_sd = reading_log_sd(0);
        return Ok(AirAsked { air: Some(then.air), density_kg_m3, taken_as: meant.taken_as, log_sd, ..unknown });
    }
    Ok(match day.air_at(at) {
        Some(then) => AirAsked {
            air: Some(then.air),
            density_kg_m3: Some(then.air.density_kg_m3()),
            minutes: Some(then.minutes),
            log_sd: reading_log_sd(then.minutes),
            ..unknown
        },
        None => unknown,
    })
}

/// Expects earlier runs, showing how far it is where that takes a while.
fn look_back(ui: &Ui, history: &History, car: &CarFacts, runs: &[Made], finish_ft: u32, last: usize) -> Backtest {
    let bar = ui.progress().then(|| indicatif::ProgressBar::new(1));
    let progress = |done: usize, all: usize| {
        if let Some(bar) = &bar {
            bar.set_length(all as u64);
            bar.set_position(done as u64);
        }
    };
    let tried = backtest(&history.timeline, runs, car, finish_ft, last, &progress);
    if let Some(bar) = bar {
        bar.finish_and_clear();
    }
    tried
}
