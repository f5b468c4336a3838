//! `blame`: which change bought the time, how sure, and what to do.

mod bounds;
mod explain;
mod field;
mod package;
mod spread;

use super::context::Context;
use super::footing::{FootingArgs, footing, seen};
use super::judged::{Ran, asked, matters};
use super::ui::Ui;
use crate::blame::{Asked, Estimates, Ranking, Side, origins};
use crate::garage::{Error, Result, is_of_engine};
use crate::render::{self, blame::Answer};
use crate::slip::Response;
use clap::Args;

/// Which change bought the time, how sure that is, and what to do
///
/// One model of all runs of the book at once: equal setups pool, a change that
/// was taken back and done again counts every time, and day, lane, track, air,
/// hour, wear and drift are allowed for. A bad run nobody marked loses its say.
/// Most changes do nothing, and the model leans that way.
///
/// The words are a fixed ladder, the same for gains and losses, by the chance
/// that the change is worth more than what matters (--matters):
///   almost certainly      98 in 100 and more
///   very likely           90 to 98
///   likely, not settled   75 to 90
///   these runs cannot tell   anything less, or the runs hold too little of it
///   no effect worth chasing  90 in 100 that it is within twice what matters
///   too early to call     one clean run on a side, whatever the sum says;
///                         with two it is said one rung lower
///   toggled               done and taken back: every time counts
///   never both on one day     a day's own ups and downs may look like it
///   changed together      cannot be told apart: tried in halves it can
///
/// What can be known at all, on simulated seasons: of changes worth 0.025 to
/// 0.040 s in ET a single season calls 9 to 24 in 100 (one that knew the bad
/// runs would call 11 to 29): 0.03 s usually wants a back-to-back. Over 0.080 s
/// 71 to 95 in 100 are called. Without the 60 ft on the slip it is 40 % fewer.
/// In a messy book one called gain in ten to twenty is none. Of 95-in-100
/// ranges 91 to 94 in 100 held; of 90-in-100 ranges 9 in 10 overall, 7 in 10 of
/// changes that truly did something. The chances hold where about a quarter of
/// the settings matter; where one in twelve does, one called gain in six is
/// none.
///
///   slipbook blame            the 60 ft: the best signal of a chassis change
///   slipbook blame et         60, 330, 660, 1000, et or mph
///   slipbook blame --explain v14   all a verdict rests on: by hand, run by run
///   slipbook blame --fields   the sheet: since when each value, by whom, why, and what it was worth
///   slipbook blame --field limiter    each value of a field against the one on the car
///   slipbook blame --package          do settings that are said to work only together do so
///   slipbook blame 60 spread          did a change make the car steadier: that wins brackets
///
/// --field goes by the field's own part in the model: the rest of each change is
/// taken off, and where the rest always came along it says so.
///
/// --package: a set is one of the package check (slipbook check), of the car's
/// own rules with `package`, or fields with commas between. It needs runs with
/// none of the set, with all of it, and with its parts alone; where one is
/// wanting it says which to run.
///
/// spread: from run to run about the mean of setup and day, in one air, with
/// over without, as a range that holds 95 times in 100. Half the scatter takes
/// about 20 to 30 runs a side to see, so mostly it cannot tell. One change in
/// twenty that did nothing looks steadier or wilder.
#[derive(Debug, Args)]
#[command(verbatim_doc_comment)]
pub struct BlameArgs {
    /// The number asked about: 60, 330, 660, 1000, et, mph
    #[arg(value_name = "NUMBER", default_value = "60", hide_default_value = true)]
    number: String,
    /// `spread`: did a change make the car steadier
    #[arg(value_name = "spread", conflicts_with_all = ["fields", "field", "package"])]
    also: Option<String>,
    /// Every value of a field, and what each is worth: its key or a part of it
    #[arg(long, value_name = "FIELD", conflicts_with_all = ["fields", "package"])]
    field: Option<String>,
    /// Does a set work only together: a rule by its number or a word, or fields with commas between
    #[arg(long, value_name = "NAME", num_args = 0..=1, conflicts_with = "fields")]
    package: Option<Option<String>>,
    /// The sheet area by area, with the origin of each value
    #[arg(long)]
    fields: bool,
    /// Everything the verdict on one version rests on: by hand, and run by run
    #[arg(long, value_name = "VERSION", conflicts_with_all = ["fields", "top", "all"])]
    explain: Option<String>,
    /// With --explain: every run on both sides, not only those of the days compared by hand
    #[arg(long, requires = "explain")]
    all_runs: bool,
    /// How many changes are shown
    #[arg(long, value_name = "N", default_value_t = 8)]
    top: usize,
    /// All of them
    #[arg(long)]
    all: bool,
    /// Only runs from that day on
    #[arg(long, value_name = "DAY")]
    since: Option<String>,
    /// Only runs up to the end of that day
    #[arg(long, value_name = "DAY")]
    until: Option<String>,
    /// Smaller than this is not chased, s (mph of a speed); 0.005 s, 0.1 mph if not said
    #[arg(long, value_name = "S", allow_negative_numbers = true)]
    matters: Option<f64>,
    #[command(flatten)]
    footing: FootingArgs,
}

impl BlameArgs {
    /// The number, and whether it is its spread that is asked about; in either order.
    fn number(&self) -> Result<(Response, bool)> {
        let is_spread = |t: &str| t.eq_ignore_ascii_case("spread");
        let (number, spread) = match (self.number.as_str(), self.also.as_deref()) {
            (n, None) if is_spread(n) => ("60", true),
            (n, None) => (n, false),
            (n, Some(also)) if is_spread(also) => (n, true),
            (n, Some(also)) if is_spread(n) => (also, true),
            (_, Some(also)) => {
                return Err(Error::usage(format!("`{also}` was not understood"), "slipbook blame et spread"));
            }
        };
        let response = Response::read(number).ok_or_else(|| {
            Error::usage(format!("`{number}` is no number of the slip"), "60, 330, 660, 1000, et or mph")
        })?;
        if spread && (self.fields || self.field.is_some() || self.package.is_some()) {
            return Err(Error::usage("spread is of all changes", "slipbook blame et spread"));
        }
        Ok((response, spread))
    }

    fn asked(&self, ctx: &Context) -> Result<Asked> {
        let response = self.number()?.0;
        let matters = match self.matters {
            Some(m) if m.is_finite() && (0.0005..=10.0).contains(&m) => m,
            Some(m) => return Err(Error::usage(format!("{m} is nothing to chase"), "--matters 0.010 (seconds)")),
            None => matters(response),
        };
        let day = |t: &Option<String>| t.as_deref().map(|t| ctx.race_day(t)).transpose();
        Ok(Asked { matters, since: day(&self.since)?, until: day(&self.until)?, ..asked(response) })
    }
}

/// Runs the command.
pub fn run(ctx: &Context, ui: &mut Ui, args: &BlameArgs) -> Result<()> {
    let asked = args.asked(ctx)?;
    let book = ctx.book()?;
    let history = book.history()?;
    let footing = footing(&book, &history, args.footing.of(&history, None)?)?;
    let ran = Ran::new(&book, &history, &footing);
    bounds::refuse_too_many(&history.timeline, &ran.runs, (asked.since, asked.until))?;
    let estimates = ran.estimates(asked)?;
    let head = ctx.head(&book.car.name);
    if let Some(name) = &args.field {
        return field::answer(ctx, ui, &ran, &estimates, name);
    }
    if let Some(name) = &args.package {
        return package::answer(ctx, ui, &ran, &estimates, name.as_deref());
    }
    if args.number()?.1 {
        return spread::answer(ctx, ui, &ran, &estimates);
    }
    if args.fields {
        let origins = origins(&book.schema, &history.timeline, &book.sheets(&history.timeline)?, &estimates);
        ctx.answer(
            ui,
            || render::blame::fields_json(&head, &book.schema, &origins),
            || render::blame::fields_text(&head, &book.schema, &origins, asked.response),
        );
        return Ok(());
    }
    let engine = |key: &str| book.schema.field(key).is_some_and(is_of_engine);
    let ranking = Ranking::new(&estimates, &engine);
    if let Some(version) = &args.explain {
        return explain::run(ctx, ui, &ran, (&estimates, &ranking), version, args.all_runs);
    }
    let runs = seen(&history, &footing);
    let finish_ft = history.finish_ft();
    let answered: Vec<_> = runs.iter().filter(|s| s.number(asked.response, finish_ft).is_some()).collect();
    let answer = Answer {
        asked,
        ranking: &ranking,
        test: test(&estimates, &ranking),
        on_car: on_car(&estimates),
        span: span(&estimates),
        footing: &footing,
        allowed: estimates.allowed(),
        without_air: footing.without_air(answered.iter().map(|s| (s.run, s.day))),
        runs: answered.len(),
        label: &|key| book.schema.field(key).map_or_else(|| key.to_owned(), |f| f.label.clone()),
    };
    let top = if args.all { usize::MAX } else { args.top };
    ctx.answer(ui, || render::blame::json(&head, &answer), || render::blame::text(&head, &answer, top));
    Ok(())
}

/// What is worth testing, and how many runs would settle it.
fn test<'a>(estimates: &Estimates, ranking: &'a Ranking) -> Option<render::blame::Test<'a>> {
    let promising = estimates.promising()?;
    let change = ranking.changes.iter().find(|r| r.index.1 == promising.version)?;
    let needed = estimates.needed(promising)?;
    Some(render::blame::Test { change, needed })
}

/// The version on the car, against the best, where it is not one of the good ones.
fn on_car(estimates: &Estimates) -> Option<render::blame::OnCar> {
    let now = estimates.timeline.versions.len().checked_sub(1)?;
    let best = estimates.best()?;
    let judged = estimates.compare(best, now)?;
    (judged.verdict.side() == Some(Side::Loss)).then(|| render::blame::OnCar {
        version: estimates.timeline.versions[now].number.clone(),
        best: estimates.timeline.versions[best].number.clone(),
        verdict: judged.verdict,
    })
}

/// First and last day of the runs that count.
fn span(estimates: &Estimates) -> Option<(jiff::civil::Date, jiff::civil::Date)> {
    let day = |r: &usize| estimates.runs[*r].day.date;
    Some((day(estimates.used().first()?), day(estimates.used().last()?)))
}
