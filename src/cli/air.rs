//! `air`: what the instruments or a weather report show, and what it comes to.

pub(super) use super::air_said::{again, typed};
use super::air_said::{both, of_report, report_gaps, used_words};
use super::context::Context;
use super::run::{ask_track, elevation_said};
use super::ui::Ui;
use crate::garage::{
    AirWanted, AtDay, Book, DayFacts, Error, Result, air, air_never, at_odds, at_odds_words, by_the_day, days_back,
    days_on, find_day,
};
use crate::render;
use crate::render::Head;
use crate::render::air::{AirOf, AirTold, BarometerBy};
use crate::schema::{Num, schema};
use crate::slip::{AirMeans, AirRefused, Day, Moment, Reading, read_report, reading_words};
use clap::Args;

/// Record the air and the track, and show what they come to
///
///   slipbook air 84F 52% 29.42 station           read now
///   slipbook air 29C dew 18C 1013 hPa altimeter track 48C sun tail 4 mph
///   slipbook air 84F wet 70F 29.92 --elevation 5355 --at 12:30
///   slipbook air --metar "KXXX 221855Z 22008KT 10SM CLR 29/18 A3005"
///   slipbook air                                 the last reading, the air now
///   slipbook air 48F 52% 29.42 station --at 10:00 --replace   put one right
///   slipbook air --at 10:00 --never              there was no such reading
///
/// Temperature in F or C; the water in the air as humidity (%), `dew` or `wet`
/// bulb; the barometer in inHg, hPa, mbar, kPa or mmHg, and which number it is:
/// `station` (absolute, at the track) or `altimeter` (carried to sea level; it
/// wants the track's elevation). Where the elevation leaves one of the two, the
/// word may be left out. Also `track` temperature, sun, cloud, shade, night, and
/// `head` or `tail` wind. Any of it may be missing; what is missing is said.
///
/// The reading goes to the day of its date, at its time; a run takes the air
/// between the readings around it. Where its minute has one with other numbers,
/// --replace says that this is the right one. A weather report brings its own
/// time; one older than a day is recorded with --at only. With no car at hand,
/// or with --dry-run, all is computed and nothing recorded.
#[derive(Debug, Args)]
#[command(verbatim_doc_comment)]
pub struct AirArgs {
    /// The reading
    #[arg(value_name = "READING", allow_negative_numbers = true)]
    words: Vec<String>,
    /// A raw weather report (METAR): temperature, dew point, altimeter setting
    #[arg(long, value_name = "TEXT")]
    metar: Option<String>,
    /// When it was read, if not now
    #[arg(long, value_name = "TIME")]
    at: Option<String>,
    /// The day's track, where it is a new one or one of several
    #[arg(long, value_name = "NAME")]
    track: Option<String>,
    /// The track's elevation, ft; with its unit also m: 195m
    #[arg(long, value_name = "FT", allow_negative_numbers = true)]
    elevation: Option<String>,
    /// It is the right reading of its minute: put it in the place of the other
    #[arg(long)]
    replace: bool,
    /// Nothing was read then: take the reading of that minute away
    #[arg(long, requires = "at", conflicts_with_all = ["words", "metar", "replace", "elevation"])]
    never: bool,
    /// Compute, and record nothing
    #[arg(long)]
    dry_run: bool,
}

/// Runs the command.
pub fn run(ctx: &Context, ui: &mut Ui, args: &AirArgs) -> Result<()> {
    let said_at = args.at.as_deref().map(|t| ctx.moment(t)).transpose()?;
    let facts = DayFacts {
        track: args.track.clone(),
        elevation_ft: args.elevation.as_deref().map(elevation_said).transpose()?,
        ..DayFacts::default()
    };
    if args.never {
        return never(ctx, ui, said_at.unwrap_or(ctx.hand.now), args);
    }
    if args.words.is_empty() && args.metar.is_none() {
        if args.replace {
            return Err(Error::usage(
                "--replace wants the right reading",
                "slipbook air 84F 52% 29.42 station --replace",
            ));
        }
        return show(ctx, ui, said_at.unwrap_or(ctx.hand.now), &facts);
    }
    let book = book_at_hand(ctx)?;
    let report = args.metar.as_deref().map(read_report).transpose();
    let report = report.map_err(|why| Error::usage(why, "nothing was recorded"))?;
    let (at, too_old) = match (said_at, &report) {
        (Some(at), _) => (Some(at), None),
        (None, Some(report)) => of_report(ctx, report.time)?,
        (None, None) => (Some(ctx.hand.now), None),
    };
    let writes = book.is_some() && !args.dry_run && too_old.is_none();
    let when = at.unwrap_or(ctx.hand.now);
    let facts = match &book {
        Some(book) if writes => ask_track(ui, book, when, facts)?,
        _ => facts,
    };
    let day = book.as_ref().map(|book| day_of(book, when, &facts, writes)).transpose()?.flatten();
    let elevation_ft = day.as_ref().and_then(|d| d.day.elevation_ft).or(facts.elevation_ft);
    let words = &schema().run;
    let refused = |refused: AirRefused| Error::usage(refused.why(), "nothing was recorded");
    let (mut reading, mut barometer) = (Reading::default(), BarometerBy::Said);
    if !args.words.is_empty() {
        let meant = typed(ui, words, &args.words.join(" "), when, elevation_ft).map_err(refused)?;
        reading = meant.reading;
        barometer = meant.taken_as.map_or(BarometerBy::Said, BarometerBy::Only);
    }
    let mut notes = Vec::new();
    if let Some(report) = report {
        let sets = report.reading.numbers.contains_key("pressure_altimeter");
        if sets && elevation_ft.is_none() {
            return Err(Error::usage(
                "a report gives an altimeter setting: for the pressure at the track its elevation is wanted; nothing was recorded",
                "--elevation FT",
            ));
        }
        if sets {
            barometer = BarometerBy::Report;
        }
        notes.extend(report_gaps(&report.reading));
        reading = both(reading, report.reading)?;
        if let Some(fault) = crate::slip::air_faults(words, &reading, elevation_ft.map(Num::to_f64)).into_iter().next()
        {
            return Err(Error::usage(fault, "nothing was recorded"));
        }
    }
    notes.extend(used_words(&reading));
    let place = Place { at, track: day.as_ref().map(|d| d.day.track.clone()).or(facts.track.clone()), elevation_ft };
    let Some(book) = book.as_ref().filter(|_| writes) else {
        if let Some(day) = &day {
            reading = by_the_day(&reading, when, &day.day).0;
            let odds = at_odds(&day.day, &reading);
            notes.extend((!odds.is_empty()).then(|| at_odds_words(words, &day.day, &odds)));
        }
        let why = match &too_old {
            Some(why) if book.is_some() && !args.dry_run => why,
            _ if args.dry_run => "a dry run",
            _ => "no car is at hand",
        };
        let car = book.as_ref().map(|b| b.car.name.as_str());
        return answer(ctx, ui, car, &reading, &place, barometer, Err(why), &notes);
    };
    let mut wanted = AirWanted { reading, at: when, facts, replace: args.replace };
    let (done, written) = match air(book, &ctx.options(), &ctx.hand, &wanted) {
        Err(Error::Unconfirmed { message, help }) => {
            if ui.confirm(&format!("{message}. Put this in its place?")) != Some(true) {
                return Err(Error::Unconfirmed { message, help });
            }
            wanted.replace = true;
            air(book, &ctx.options(), &ctx.hand, &wanted)?
        }
        done => done?,
    };
    notes.extend(done.replaced.iter().map(|r| format!("in the place of: {}", reading_words(words, r))));
    notes.extend(done.new_day.then(|| format!("new day at {}, {} ft finish", done.day.track, done.day.finish_ft)));
    notes.extend(done.reopened.then(|| "the day was closed; it is open again".to_owned()));
    notes.extend(written.notes);
    let place = Place { at: Some(done.at), track: Some(done.day.track.clone()), elevation_ft: done.day.elevation_ft };
    let saved = if done.known { Err("it is on record already") } else { Ok(()) };
    answer(ctx, ui, Some(&book.car.name), &done.reading, &place, barometer, saved, &notes)
}

/// Takes the reading of a minute away.
fn never(ctx: &Context, ui: &mut Ui, at: Moment, args: &AirArgs) -> Result<()> {
    let book = ctx.book()?;
    let (gone, written) = air_never(&book, &ctx.options(), &ctx.hand, at, args.track.as_deref(), args.dry_run)?;
    let notes = written.as_ref().map(|w| w.notes.clone()).unwrap_or_default();
    let head = ctx.head(&book.car.name);
    let saved = written.is_some();
    ctx.answer(
        ui,
        || render::air::never_json(&head, &gone, saved, &notes),
        || render::air::never_text(&head, &schema().run, &gone, saved, &notes),
    );
    Ok(())
}

/// The book at hand; `None` where none is, and none was asked for.
fn book_at_hand(ctx: &Context) -> Result<Option<Book>> {
    match ctx.car_dir() {
        Ok(dir) => ctx.open(&dir).map(Some),
        Err(Error::Usage { .. }) if ctx.car.is_none() => Ok(None),
        Err(e) => Err(e),
    }
}

/// The day a reading falls in. Where nothing is written and the book begins later, it is one at the track of its last day.
fn day_of(book: &Book, at: Moment, facts: &DayFacts, writes: bool) -> Result<Option<AtDay>> {
    let head = book.store.head()?;
    let date = at.race_day();
    let mut facts = facts.clone();
    if let (false, None, Some(tip)) = (writes, &facts.track, head) {
        let (mut newest, mut known): (Option<Day>, bool) = (None, false);
        days_back(&book.store, tip, &mut |day, _, _| {
            newest.get_or_insert_with(|| day.clone());
            known = day.date <= date;
            !known
        })?;
        match newest {
            None => return Ok(None),
            Some(newest) if !known => {
                facts.elevation_ft = facts.elevation_ft.or(newest.elevation_ft);
                facts.track = Some(newest.track);
            }
            Some(_) => {}
        }
    }
    let day = find_day(&book.store, head, date, at.offset_seconds, &facts)?;
    Ok(Some(day.with_elevation(facts.elevation_ft)))
}

/// Where and when a reading is of.
struct Place {
    at: Option<Moment>,
    track: Option<String>,
    elevation_ft: Option<Num>,
}

#[expect(clippy::too_many_arguments, reason = "what a reading came to, told once")]
fn answer(
    ctx: &Context,
    ui: &mut Ui,
    car: Option<&str>,
    reading: &Reading,
    place: &Place,
    barometer: BarometerBy,
    saved: std::result::Result<(), &str>,
    notes: &[String],
) -> Result<()> {
    let means = reading.means(place.elevation_ft.map(Num::to_f64));
    let means = means.map_err(|r| Error::usage(r.words(), "the numbers as the instruments show them"))?;
    let told = AirTold {
        reading,
        means: &means,
        of: AirOf::Reading,
        at: place.at,
        now: None,
        track: place.track.as_deref(),
        elevation_ft: place.elevation_ft,
        barometer,
        saved: saved.is_ok(),
        not_saved: saved.err(),
        notes,
    };
    tell(ctx, ui, car, &told);
    Ok(())
}

fn tell(ctx: &Context, ui: &mut Ui, car: Option<&str>, told: &AirTold) {
    let plain = ctx.head(car.unwrap_or_default());
    let head = car.is_some().then_some(&plain);
    ctx.answer(ui, || render::air::json(head, told), || render::air::text(head, &plain, &schema().run, told));
}

/// The last reading of a day, and the air at a moment.
fn show(ctx: &Context, ui: &mut Ui, at: Moment, facts: &DayFacts) -> Result<()> {
    let book = ctx.book()?;
    let date = at.race_day();
    let here = |d: &Day| facts.track.as_ref().is_none_or(|t| t.eq_ignore_ascii_case(&d.track));
    let days = days_on(&book.store, book.store.head()?, date)?;
    let read = |d: &Day| d.readings.iter().filter_map(|r| Some((d.read_at(r)?.seconds, r.clone()))).max_by_key(|r| r.0);
    // Of two tracks on one date, the one that was read last.
    let last = days.into_iter().map(|d| d.day).filter(here).filter_map(|d| Some((read(&d)?, d))).max_by_key(|d| d.0.0);
    let Some(((_, reading), day)) = last else {
        let head: Head = ctx.head(&book.car.name);
        ctx.answer(ui, || render::air::none_json(&head, date), || render::air::none_text(&head, date));
        return Ok(());
    };
    let then = day.air_at(at);
    let elevation = day.elevation_ft.map(Num::to_f64);
    let means = match then {
        Some(then) => AirMeans::of_day(then.air, &day),
        None => reading.means(elevation).unwrap_or_default(),
    };
    let told = AirTold {
        reading: &reading,
        means: &means,
        of: then.map_or(AirOf::Reading, |then| AirOf::Day(then.minutes)),
        at: day.read_at(&reading),
        now: Some(Moment { offset_seconds: day.offset_seconds, ..at }),
        track: Some(&day.track),
        elevation_ft: day.elevation_ft,
        barometer: BarometerBy::Record,
        saved: false,
        not_saved: None,
        notes: &[],
    };
    tell(ctx, ui, Some(&book.car.name), &told);
    Ok(())
}
