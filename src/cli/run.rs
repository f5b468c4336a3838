//! `run`: a time slip.

use super::context::Context;
use super::footing::{footing, judged_name, seen};
use super::ui::Ui;
use crate::blame::{By, Judged, More, Needed, Samples, Segment, segments, splits};
use crate::garage::{
    AtDay, Book, DayFacts, Error, History, Ran, Result, RunWanted, at_odds, at_odds_words, by_the_day, find_day,
    made_on, run as record_run,
};
use crate::pace::{Footing, FootingOf, Seen, Standing};
use crate::render;
use crate::render::run::{Against, AirAgain, RunTold};
use crate::schema::{Num, schema};
use crate::slip::{AirMeant, AirRefused, Beam, Day, Moment, Reading, Response, Run, read_slip};
use clap::Args;

/// Record a run from its time slip
///
/// Numbers in slip order, or by name; thousandths may be typed without the
/// point:
///
///   slipbook run 1597 4676 7.251 94.2 9.491 11.428 117.0 r hook
///   slipbook run 60=1.597 et=11.428 mph=117 left --air "84F 52% 29.42 station"
///   slipbook run 1.702 - - - - 12.9 88 spun at the hit
///
/// Slip order: [reaction] 60 330 660 mph 1000 1320 mph (as far as the day's
/// finish); `-` for one that is missing. Then, in any order: the lane (l, r),
/// what the car did (dead hook, spun at the hit, shook, bounced, went left …),
/// why it was not clean and where (lifted at 660), deep/shallow, `psi
/// 12.0/12.25`, `rpm 4200`. Other words are a note. The run goes to the day of
/// its date (a day lasts until 06:00) and to the sheet that was on the car at
/// its time.
#[derive(Debug, Args)]
#[command(verbatim_doc_comment)]
#[allow(rustdoc::broken_intra_doc_links, reason = "the comment is the help, brackets and all")]
pub struct RunArgs {
    /// The slip
    #[arg(value_name = "SLIP", allow_negative_numbers = true)]
    slip: Vec<String>,
    /// When it was made, if not now
    #[arg(long, value_name = "TIME")]
    at: Option<String>,
    /// The version it was made on, if not the sheet of its time
    #[arg(long, value_name = "VERSION")]
    on: Option<String>,
    /// The day's track, where it is a new one
    #[arg(long, value_name = "NAME")]
    track: Option<String>,
    /// The day's finish: 660, 1000 or 1320 ft
    #[arg(long, value_name = "FT")]
    finish: Option<u32>,
    /// The track's elevation, ft; with its unit also m: 195m
    #[arg(long, value_name = "FT", allow_negative_numbers = true)]
    elevation: Option<String>,
    /// How the track was prepared
    #[arg(long, value_name = "TEXT")]
    prep: Option<String>,
    /// Air and track as measured with it: "84F 52% 29.42 station track 118F"
    #[arg(long, value_name = "READING")]
    air: Option<String>,
    /// A note
    #[arg(long, value_name = "TEXT")]
    note: Option<String>,
}

/// Runs the command.
pub fn run(ctx: &Context, ui: &mut Ui, args: &RunArgs) -> Result<()> {
    let book = ctx.book()?;
    let at = args.at.as_deref().map(|t| ctx.moment(t)).transpose()?.unwrap_or(ctx.hand.now);
    let facts = DayFacts {
        track: args.track.clone(),
        finish_ft: args.finish,
        elevation_ft: args.elevation.as_deref().map(elevation_said).transpose()?,
        prep: args.prep.clone(),
    };
    if let Some(finish) = args.finish.filter(|f| !book.schema.run.finishes_ft.contains(f)) {
        return Err(Error::usage(format!("{finish} ft is no finish"), "660, 1000 or 1320"));
    }
    let on = judged_name(ctx, &book, args.on.as_deref())?;
    if let Some(head) = book.store.head()? {
        // A time the book does not reach back to, or a version it does not have, is told before anything is asked.
        made_on(&book, head, at, on.as_deref())?;
    }
    let facts = ask_track(ui, &book, at, facts)?;
    let day = find_day(&book.store, book.store.head()?, at.race_day(), at.offset_seconds, &facts)?;
    // What the slip is read by is what it is recorded under.
    let facts = DayFacts { track: Some(day.day.track.clone()), finish_ft: Some(day.day.finish_ft), ..facts };
    let words = if args.slip.is_empty() { ask_slip(ui, day.day.finish_ft)? } else { args.slip.clone() };
    let mut run =
        read_slip(&book.schema.run, &words, day.day.finish_ft, at).map_err(|e| Error::usage(e.why, e.help))?;
    if let Some(note) = &args.note {
        run.note = Some(run.note.map_or(note.clone(), |n| format!("{n}; {note}")));
    }
    // A run without its air is worth more than none: what cannot be read is told, and the run recorded.
    let day = day.with_elevation(facts.elevation_ft);
    let (meant, refused) = match args.air.as_deref().map(|text| air_with(ctx, ui, &day.day, text, at, args)) {
        Some(Ok(meant)) => (Some(meant), None),
        Some(Err(refused)) => (None, Some(refused)),
        None => (None, None),
    };
    let taken_as = meant.as_ref().and_then(|m| m.taken_as.clone());
    let reading = meant.map(|m| m.reading);
    let used = reading.as_ref().map(super::air_said::used_words).unwrap_or_default();
    let mut wanted = RunWanted { run, facts, on, reading, confirmed: ctx.yes };
    let (ran, written) = match record_run(&book, &ctx.options(), &ctx.hand, &wanted) {
        Err(Error::Unconfirmed { message, help }) => {
            if ui.confirm(&format!("{message}. Is that right?")) != Some(true) {
                return Err(Error::Unconfirmed { message, help });
            }
            wanted.confirmed = true;
            record_run(&book, &ctx.options(), &ctx.hand, &wanted)?
        }
        done => done?,
    };
    let mut notes = written.notes;
    notes.extend(taken_as);
    notes.extend(used);
    notes.extend(wanted.reading.as_ref().and_then(|reading| air_counts_not(reading, &ran)));
    notes.extend(ran.reopened.then(|| "the day was closed; it is open again".to_owned()));
    answer(ctx, ui, &book, &ran, &notes, refused.as_ref())
}

/// The reading given with a run; why it is not taken, and how to give it again.
fn air_with(
    ctx: &Context,
    ui: &mut Ui,
    day: &Day,
    text: &str,
    at: Moment,
    args: &RunArgs,
) -> std::result::Result<AirMeant, AirAgain> {
    let track = args.track.as_deref();
    let words = &schema().run;
    let meant = super::air::typed(ui, words, text, at, day.elevation_ft).map_err(|refused| {
        let or = matches!(refused, AirRefused::Ambiguous(_)).then_some(" (below: station; or altimeter)");
        let why = format!("{}{}", refused.why(), or.unwrap_or_default());
        AirAgain { why, again: super::air::again(ctx, text, &refused, at, track) }
    })?;
    let (reading, _) = by_the_day(&meant.reading, at, day);
    let odds = at_odds(day, &reading);
    if odds.is_empty() {
        return Ok(meant);
    }
    let mut again: Vec<String> = vec!["slipbook air".to_owned()];
    again.extend(text.split_whitespace().map(crate::text::shell_word));
    again.extend(super::air_said::placed(ctx, at, track));
    again.push("--replace".to_owned());
    let why = format!("{}; the command puts this in its place", at_odds_words(&schema().run, day, &odds));
    Err(AirAgain { why, again: again.join(" ") })
}

/// What is missing for the air given with a run to count for it.
fn air_counts_not(reading: &Reading, ran: &Ran) -> Option<String> {
    if !reading.is_of_air() || ran.day.air_at(ran.run.at).is_some() {
        return None;
    }
    let means = reading.means(ran.day.elevation_ft.map(Num::to_f64)).ok()?;
    if means.missing == ["elevation"] {
        let date = ran.day.date;
        return Some(format!("air kept; its pressure wants the track's elevation: slipbook day {date} --elevation FT"));
    }
    Some(format!("air kept; for it to count is still missing: {}", render::air::missing_words(&means.missing)))
}

/// From below the sea to above any track.
pub(super) fn elevation(feet: f64) -> Result<Num> {
    let n = Num::from_f64(feet).filter(|_| (-1500.0..=15_000.0).contains(&feet));
    n.ok_or_else(|| Error::usage(format!("{feet} is no elevation in feet; nothing was recorded"), "--elevation 640"))
}

/// An elevation as it is said: `640`, `640ft`, `640 ft`, `195m`, `195 m`.
pub(super) fn elevation_said(text: &str) -> Result<Num> {
    /// Feet in a meter (exact: a foot is 0.3048 m).
    const FT_PER_M: f64 = 1.0 / 0.304_8;
    let lower = text.trim().to_lowercase();
    let split = lower.find(|c: char| !(c.is_ascii_digit() || "+-.".contains(c))).unwrap_or(lower.len());
    let feet = Num::parse(&lower[..split]).and_then(|n| match lower[split..].trim() {
        "" | "ft" | "feet" | "foot" => Some(n.to_f64()),
        // To the foot: no map says more.
        "m" | "meter" | "meters" | "metre" | "metres" => Some((n.to_f64() * FT_PER_M).round()),
        _ => None,
    });
    let feet = feet.ok_or_else(|| {
        Error::usage(
            format!("`{text}` is no elevation in feet or meters; nothing was recorded"),
            "--elevation 640, 640ft or 195m",
        )
    })?;
    elevation(feet)
}

pub(super) fn ask_track(ui: &mut Ui, book: &Book, at: crate::slip::Moment, mut facts: DayFacts) -> Result<DayFacts> {
    if facts.track.is_none() && ui.asks() {
        let found: Result<AtDay> = find_day(&book.store, book.store.head()?, at.race_day(), at.offset_seconds, &facts);
        match found {
            Err(Error::Usage { .. }) => facts.track = ui.ask("which track?").filter(|t| !t.is_empty()),
            Ok(day) if day.text.is_none() => {
                let answer = ui.ask(&format!("a new day. Track (Enter: {})?", day.day.track)).filter(|t| !t.is_empty());
                facts.track = answer.or(Some(day.day.track));
            }
            _ => {}
        }
    }
    Ok(facts)
}

/// One number at a time, for cold fingers.
fn ask_slip(ui: &mut Ui, finish_ft: u32) -> Result<Vec<String>> {
    if !ui.asks() {
        return Err(Error::usage("no slip was given", "slipbook run 1.597 4.676 7.251 94.2 9.491 11.428 117.0 r"));
    }
    let mut words = Vec::new();
    for beam in Beam::ALL.into_iter().filter(|b| b.feet() <= finish_ft) {
        let mut put = |name: &str, question: String| {
            if let Some(n) = ui.ask(&question).filter(|a| !a.is_empty() && a != "-") {
                words.push(format!("{name}={n}"));
            }
        };
        put(beam.key(), format!("{} ft (Enter: none)?", beam.feet()));
        if let Some(key) = beam.speed_key().filter(|_| beam == Beam::Ft660 || beam.feet() == finish_ft) {
            put(key, format!("mph at {} ft?", beam.feet()));
        }
    }
    if let Some(rest) = ui.ask("lane, what it did, why not clean, note?").filter(|a| !a.is_empty()) {
        words.push(rest);
    }
    Ok(words)
}

fn answer(
    ctx: &Context,
    ui: &mut Ui,
    book: &Book,
    ran: &Ran,
    notes: &[String],
    air_refused: Option<&AirAgain>,
) -> Result<()> {
    let head = ctx.head(&book.car.name);
    let notes = &[notes, &super::trial::of_run(book, &ran.run.id)?].concat();
    let Compared { against, place, standing, reference_kg_m3, without_air, segments, judged } = compare(book, ran)?;
    let told = RunTold {
        run: &ran.run,
        day: &ran.day,
        new_day: ran.new_day,
        place,
        against,
        standing,
        reference_kg_m3,
        without_air,
        segments,
        judged,
        air_refused,
        notes,
    };
    ctx.answer(ui, || render::run::json(&head, &told), || render::run::text(&head, &told));
    Ok(())
}

/// What the run is told against.
struct Compared {
    against: Vec<Against>,
    place: usize,
    standing: Option<Standing>,
    reference_kg_m3: Option<f64>,
    /// Runs it is compared with that have no air of their own.
    without_air: usize,
    /// Where in the run it differs from the version before, by its name.
    segments: Option<(String, Vec<Segment>)>,
    /// What the model says of the setup against the one that ran before, in the 60 ft, and how many more runs it wants.
    judged: Option<(String, Judged, Option<Needed>)>,
}

/// The run against its setup's others and against the version before, all in one air.
fn compare(book: &Book, ran: &Ran) -> Result<Compared> {
    // The whole book: its middle is the one air that every command compares in.
    let history = book.history()?;
    let footing = footing(book, &history, FootingOf::Book)?;
    let runs = seen(&history, &footing);
    let standing = footing.standing(&ran.run, &ran.day);
    let reference_kg_m3 = footing.reference.map(|r| r.density_kg_m3);
    let mut out = Compared {
        against: Vec::new(),
        place: 1,
        standing,
        reference_kg_m3,
        without_air: 0,
        segments: None,
        judged: None,
    };
    let Some(mine) = history.runs.iter().find(|m| m.run.id == ran.run.id) else { return Ok(out) };
    out.place = history.runs_on(mine.version).count();
    let me = Seen { run: &ran.run, day: &ran.day, version: mine.version, unsure: mine.unsure, footing: &footing };
    let others: Vec<Seen> = runs.iter().filter(|s| s.run.id != ran.run.id).copied().collect();
    let finish = ran.day.finish_ft;
    let before = mine.version.checked_sub(1);
    for response in [Response::Time(Beam::Ft60), Response::Et] {
        let samples = Samples::new(&history.timeline, &others, finish, response);
        let Some(x) = me.number(response, finish) else { continue };
        let mut against = Vec::new();
        let before = before.filter(|v| samples.setup(*v) != samples.setup(mine.version));
        for v in [Some(mine.version), before].into_iter().flatten() {
            let sample = samples.of(v);
            if let Some(middle) = sample.middle() {
                let number = history.timeline.versions[v].number.to_string();
                let name = if v == mine.version { "this setup".to_owned() } else { number };
                against.push((format!("{name} (middle of {})", sample.n()), x - middle));
            }
        }
        let value = number(&ran.run, response, finish);
        let one_air = reference_kg_m3.is_some().then_some(x);
        out.against.extend(value.map(|value| Against { label: response.label(), value, one_air, others: against }));
    }
    let setup = |v: usize| history.timeline.versions[v].mark;
    let compared = |s: &&Seen| Some(setup(s.version)) == before.map(setup) || setup(s.version) == setup(mine.version);
    out.without_air = footing.without_air(others.iter().filter(compared).map(|s| (s.run, s.day))).0;
    out.judged = judged(book, &history, &footing, mine.version)?;
    // Against the version before; else against the setup's other runs.
    for v in before.into_iter().chain([mine.version]) {
        let those: Vec<Seen> = others.iter().filter(|s| s.version == v).copied().collect();
        let list = segments(&splits(&those), &[me.splits()], By::Middle);
        if out.segments.is_none() && list.len() > 1 {
            let number = history.timeline.versions[v].number.to_string();
            let against = if v == mine.version { "this setup's other runs".to_owned() } else { number };
            out.segments = Some((against, list));
        }
    }
    Ok(out)
}

/// The version's setup against the one that ran before it.
fn judged(
    book: &Book,
    history: &History,
    footing: &Footing,
    version: usize,
) -> Result<Option<(String, Judged, Option<Needed>)>> {
    let ran = super::judged::Ran::new(book, history, footing);
    let estimates = ran.estimates(super::judged::of_60())?;
    let Some(m) = estimates.of_version(version) else { return Ok(None) };
    let Some(judged) = estimates.judge(m) else { return Ok(None) };
    let needed = match judged.verdict.settled() {
        true => None,
        false => More::new(&estimates, m.before, m.version).map(|more| more.needed()),
    };
    Ok(Some((history.timeline.versions[m.before].number.to_string(), judged, needed)))
}

fn number(run: &Run, response: Response, finish_ft: u32) -> Option<Num> {
    match response {
        Response::Time(beam) => run.time(beam),
        _ => run.time(Beam::at(finish_ft)?),
    }
}
