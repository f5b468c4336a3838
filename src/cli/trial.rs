//! `trial`: a planned back-to-back, from the plan to the verdict.

mod finish;
mod judge;
mod next;
mod plan;
mod start;
mod status;

use super::context::Context;
use super::judged::matters;
use super::ui::Ui;
use crate::garage::{Book, Error, History, Made, Result, trials};
use crate::render;
use crate::schema::Num;
use crate::slip::Response;
use crate::timeline::VersionNumber;
use crate::trial::{Standing, Trial, TrialRun, standing};
use clap::{Args, Subcommand};

/// Plan, run and judge a back-to-back of two setups: A, B, A again
///
///   slipbook trial                        all of them
///   slipbook trial plan v15 v16           which order, how many runs, how long
///   slipbook trial plan v15 v16 et --minutes 150 --matters 0.010
///   slipbook trial start clamps v15 v16   from now on runs on either belong to it
///   slipbook trial status                 what was run, what comes next
///   slipbook trial judge                  the verdict, written down
///   slipbook trial drop --why rain        it comes to nothing
///   slipbook trial next                   which experiment would tell the most
///
/// A back-to-back on one day is what settles a change: day, air and track are
/// then the same for both sides, and coming back to A shows that the time came
/// back with it. A run belongs to a trial when it was made after the start on
/// one of the two setups; runs that were not clean, or made while something
/// changed, do not count and are listed with the reason. The trial never turns
/// anything: what to turn, and how the car must stand for it, is in the list of
/// slipbook wrench.
#[derive(Debug, Args)]
#[command(verbatim_doc_comment)]
pub struct TrialArgs {
    #[command(subcommand)]
    what: Option<What>,
}

#[derive(Debug, Subcommand)]
enum What {
    Plan(plan::PlanArgs),
    Start(start::StartArgs),
    Status(status::StatusArgs),
    Judge(judge::JudgeArgs),
    Next(next::NextArgs),
    Drop(finish::DropArgs),
}

/// Runs the command.
pub fn run(ctx: &Context, ui: &mut Ui, args: &TrialArgs) -> Result<()> {
    let loaded = Loaded::new(ctx)?;
    match &args.what {
        None => status::all(ctx, ui, &loaded),
        Some(What::Plan(args)) => plan::run(ctx, ui, &loaded, args),
        Some(What::Start(args)) => start::run(ctx, ui, &loaded, args),
        Some(What::Status(args)) => status::run(ctx, ui, &loaded, args),
        Some(What::Judge(args)) => judge::run(ctx, ui, &loaded, args),
        Some(What::Next(args)) => next::run(ctx, ui, &loaded, args),
        Some(What::Drop(args)) => finish::drop(ctx, ui, &loaded, args),
    }
}

/// What a run that was just made is to the trials that are open, in sentences. A trial's file that is not right says nothing
/// here: the run is on record all the same.
pub fn of_run(book: &Book, run: &str) -> Result<Vec<String>> {
    let open = |mut all: Vec<Trial>| {
        all.retain(Trial::is_open);
        all
    };
    let trials = book
        .store
        .head()?
        .map_or_else(Vec::new, |head| trials(&book.store, Some(head)).map_or_else(|_| Vec::new(), open));
    if trials.is_empty() {
        return Ok(Vec::new());
    }
    let history = book.history()?;
    let told = |t: &Trial| render::trial::run_words(t, &history.timeline, &standing_in(&history, t), run);
    Ok(trials.iter().filter_map(told).collect())
}

/// What every part of the command works with.
struct Loaded {
    book: Book,
    history: History,
    trials: Vec<Trial>,
}

impl Loaded {
    fn new(ctx: &Context) -> Result<Loaded> {
        let book = ctx.book()?;
        let history = book.history()?;
        let trials = trials(&book.store, history.head)?;
        Ok(Loaded { book, history, trials })
    }

    /// Where a trial stands.
    fn standing<'a>(&'a self, trial: &Trial) -> Standing<'a> {
        standing_in(&self.history, trial)
    }

    fn number(&self, version: usize) -> &VersionNumber {
        &self.history.timeline.versions[version].number
    }
}

/// Where a trial stands in a record.
fn standing_in<'a>(history: &'a History, trial: &Trial) -> Standing<'a> {
    let of = |m: &'a Made| TrialRun { run: &m.run, day: &history.days[m.day], version: m.version, unsure: m.unsure };
    let runs: Vec<TrialRun> = history.runs.iter().map(of).collect();
    standing(trial, &history.timeline, &runs, history.finish_ft())
}

/// The number of the slip meant by a word.
fn response_named(text: &str) -> Result<Response> {
    Response::read(text)
        .ok_or_else(|| Error::usage(format!("`{text}` is no number of the slip"), "60, 330, 660, 1000, et or mph"))
}

/// The least difference that matters: as said, else what blame does not chase.
fn matters_of(response: Response, said: Option<&str>) -> Result<Num> {
    let usual = || Num::from_f64(matters(response)).unwrap_or_default();
    let Some(said) = said else { return Ok(usual()) };
    let number = Num::parse(said.trim_end_matches(['s', ' '])).filter(|n| *n > Num::ZERO && *n <= Num::int(10));
    number.ok_or_else(|| Error::usage(format!("`{said}` is no difference that could matter"), "--matters 0.010"))
}
