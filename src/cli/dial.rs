//! `dial`: what the car should run.

use super::context::Context;
use super::footing::{FootingArgs, car_facts, footing, made, version_meant};
use super::ui::Ui;
use crate::garage::{Book, Error, History, Result};
use crate::pace::{Asked, Backtest, Expected, Footing, FootingOf, Made, Standing, backtest, expect};
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
/// Wind, sun and the driver are not in it.
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
    /// The time of the run, if not now
    #[arg(long, value_name = "TIME")]
    at: Option<String>,
    /// Earlier runs, each from those before it alone, beside what people do instead
    #[arg(long)]
    backtest: bool,
    /// With --backtest: the last so many runs
    #[arg(long, value_name = "N", default_value_t = 200)]
    last: usize,
    #[command(flatten)]
    footing: FootingArgs,
}

/// How far one reading of the air may be off: standard deviation of the logarithm of density (1 F, 3 % of humidity and
/// 0.03 inHg together). Common practice, no source.
const READING_LOG_SD: f64 = 0.0025;
/// How far the air walks in an hour; the same, and at the most.
const WALK_LOG_SD: f64 = 0.003;
const MOST_LOG_SD: f64 = 0.02;

/// Earlier runs looked at beside an expectation.
const LOOKED_BACK: usize = 20;

/// Runs the command.
pub fn run(ctx: &Context, ui: &mut Ui, args: &DialArgs) -> Result<()> {
    let book = ctx.book()?;
    let history = book.history()?;
    let head = ctx.head(&book.car.name);
    let finish_ft = history.finish_ft();
    if args.backtest {
        let tried = look_back(ui, &book, &history, args.last)?;
        ctx.answer(ui, || render::dial::backtest_json(&head, &tried), || render::dial::backtest_text(&head, &tried));
        return Ok(());
    }
    let version = version_meant(ctx, &book, &history, args.on.as_deref().unwrap_or("now"))?;
    let lane = match args.lane.as_deref() {
        Some(said) => Some(lane_word(said).ok_or_else(|| Error::usage(format!("`{said}` is no lane"), "l or r"))?),
        None => None,
    };
    let at = args.at.as_deref().map(|t| ctx.moment(t)).transpose()?.unwrap_or(ctx.hand.now);
    let day = day_of(&history, args, at)?;
    let footing = footing(&book, &history, args.footing.of(&history, Some(day.date))?)?;
    let asked_air = air_of(ui, &footing, &day, at, args)?;
    let asked = Asked {
        day: &day,
        at,
        lane,
        version,
        density_kg_m3: asked_air.density_kg_m3,
        density_log_sd: asked_air.log_sd,
    };
    let runs = made(&history);
    let expected: Vec<Expected> = expect(&history.timeline, &runs, &footing, finish_ft, &asked);
    let mark = history.timeline.versions[version].mark;
    let here: Vec<&Made> = runs
        .iter()
        .filter(|m| history.timeline.versions[m.2].mark == mark && Response::Et.of(m.0, m.1, finish_ft).is_some())
        .collect();
    let et = expected.iter().any(|e| e.response == Response::Et);
    let looked_back = if et { Some(look_back(ui, &book, &history, LOOKED_BACK)?) } else { None };
    let told = DialTold {
        version: history.timeline.versions[version].number.to_string(),
        on_car: version + 1 == history.timeline.versions.len(),
        finish_ft,
        track: &day.track,
        lane,
        air: asked_air,
        footing: &footing,
        densities: here.iter().filter_map(|m| read_density(&footing, m)).collect(),
        days: days_of(&here),
        last: here.last().map(|m| m.1.date),
        clean: runs.iter().filter(|m| Response::Et.of(m.0, m.1, finish_ft).is_some()).count(),
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
    let same = |d: &&Day| args.track.as_ref().is_none_or(|t| t.eq_ignore_ascii_case(&d.track));
    let on_date = history.days.iter().rev().filter(same).find(|d| d.date == at.race_day());
    let like = history.days.iter().rev().filter(same).find(|d| d.date <= at.race_day());
    let any = on_date.or(like).or_else(|| history.days.iter().rev().find(same)).or(history.days.last());
    let Some(any) = any else {
        return Err(Error::usage("no day is on record: nothing to expect from", "slipbook run records a run"));
    };
    let elevation = match args.elevation {
        Some(feet) => Some(super::run::elevation(feet)?),
        None => None,
    };
    let mut day = Day { runs: Vec::new(), ..any.clone() };
    if let Some(track) = args.track.as_ref().filter(|t| !t.eq_ignore_ascii_case(&day.track)) {
        // A track that was never run at: nothing of the other holds there.
        day = Day { track: track.trim().to_owned(), elevation_ft: None, ..day };
    }
    if on_date.is_none() {
        day = Day { date: at.race_day(), offset_seconds: at.offset_seconds, readings: Vec::new(), prep: None, ..day };
    }
    day.elevation_ft = elevation.or(day.elevation_ft);
    Ok(day)
}

/// The air asked about: as said, else the day's last reading, else as usual at the track.
fn air_of(ui: &mut Ui, footing: &Footing, day: &Day, at: Moment, args: &DialArgs) -> Result<AirAsked> {
    let usual = footing.reference.map(|_| footing.usual_at(&day.track));
    if let Some(said) = &args.air {
        let meant = super::air::typed(ui, &schema().run, said, at, day.elevation_ft)
            .map_err(|refused| Error::usage(refused.why(), "slipbook air --help"))?;
        let then = Day { readings: vec![meant.reading], ..day.clone() }.air_at(at);
        let Some(then) = then else {
            return Err(Error::usage(
                format!("`{said}` does not say what the air is"),
                "temperature, one of humidity, dew point and wet bulb, and the barometer: \"84F 52% 29.42 station\"",
            ));
        };
        let density_kg_m3 = Some(then.air.density_kg_m3());
        return Ok(AirAsked { air: Some(then.air), density_kg_m3, minutes: None, usual, log_sd: READING_LOG_SD });
    }
    Ok(match day.air_at(at) {
        Some(then) => {
            let walked = WALK_LOG_SD * (f64::from(then.minutes) / 60.0).sqrt();
            AirAsked {
                air: Some(then.air),
                density_kg_m3: Some(then.air.density_kg_m3()),
                minutes: Some(then.minutes),
                usual,
                log_sd: READING_LOG_SD.hypot(walked).min(MOST_LOG_SD),
            }
        }
        None => AirAsked { air: None, density_kg_m3: None, minutes: None, usual, log_sd: 0.0 },
    })
}

/// Expects earlier runs, showing how far it is where that takes a while.
fn look_back(ui: &Ui, book: &Book, history: &History, last: usize) -> Result<Backtest> {
    let runs = made(history);
    let finish_ft = history.finish_ft();
    let car = car_facts(book, history)?;
    let footing_of = |before: &[Made]| Footing::new(&history.timeline, before, finish_ft, &car, FootingOf::Book);
    let bar = (ui.progress() && last > LOOKED_BACK).then(|| indicatif::ProgressBar::new(1));
    let progress = |done: usize, all: usize| {
        if let Some(bar) = &bar {
            bar.set_length(all as u64);
            bar.set_position(done as u64);
        }
    };
    let tried = backtest(&history.timeline, &runs, &footing_of, finish_ft, last, &progress);
    if let Some(bar) = bar {
        bar.finish_and_clear();
    }
    Ok(tried)
}
