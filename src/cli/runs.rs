//! `runs`: the runs on record.

use super::context::Context;
use super::footing::{FootingArgs, footing, version_meant};
use super::ui::Ui;
use crate::garage::{Book, Error, History, Made, Result, run_named, stale_at};
use crate::pace::{explain, weight_lb};
use crate::render;
use crate::slip::read_day;
use crate::timeline::Facts;
use clap::Args;

/// List the runs: the latest days, one day, or one version
///
///   slipbook runs            the last three days
///   slipbook runs v14        the runs on a version
///   slipbook runs jul 11     the runs of a day
///   slipbook runs --by-version --all
///   slipbook runs --explain "jul 11 14:15"
///
/// Below each run, marked =, its clean numbers carried to one air by what this
/// car makes of the air; the slip's own stay as they are. `--explain` gives the
/// arithmetic of one.
#[derive(Debug, Args)]
#[command(verbatim_doc_comment)]
pub struct RunsArgs {
    /// A version (v14, best, previous …) or a day (jul 11, sat, 2026-07-11)
    #[arg(value_name = "WHICH")]
    which: Vec<String>,
    /// Group by version, not by day
    #[arg(long)]
    by_version: bool,
    /// All of them
    #[arg(long)]
    all: bool,
    /// The arithmetic of one run (its time, or its id; if not said, the last): to one air, and to g and power
    #[arg(long, value_name = "RUN", num_args = 0..=1, default_missing_value = "last", conflicts_with_all = ["by_version", "all"])]
    explain: Option<String>,
    #[command(flatten)]
    footing: FootingArgs,
}

/// Runs the command.
pub fn run(ctx: &Context, ui: &mut Ui, args: &RunsArgs) -> Result<()> {
    let book = ctx.book()?;
    let history = book.history()?;
    let which = args.which.join(" ");
    if let Some(said) = &args.explain {
        if !which.is_empty() {
            let help = format!("slipbook runs --explain \"{which} 14:20\"");
            return Err(Error::usage("--explain wants the run itself, by its time or its id", help));
        }
        return one(ctx, ui, &book, &history, args, said);
    }
    let mut left_out = 0;
    let shown: Vec<&Made> = if which.is_empty() {
        let recent = history.days.len().saturating_sub(3);
        let shown: Vec<&Made> = history.runs.iter().filter(|m| args.all || m.day >= recent).collect();
        left_out = history.runs.len() - shown.len();
        shown
    } else if let Some(day) = read_day(&which, ctx.hand.now) {
        let mut shown: Vec<&Made> = history.runs.iter().filter(|m| history.days[m.day].date == day).collect();
        if shown.is_empty() {
            // Runs past midnight are of the race day before: no other can be meant by their own date.
            shown.extend(history.runs.iter().filter(|m| m.run.at.civil().date() == day));
        }
        if shown.is_empty() {
            return Err(Error::usage(format!("no run on {day}"), "slipbook runs --all lists every day"));
        }
        shown
    } else {
        let v = version_meant(ctx, &book, &history, &which)?;
        history.runs_on(v).collect()
    };
    let named = read_day(&which, ctx.hand.now).map(|day| shown.first().map_or(day, |m| history.days[m.day].date));
    let footing = footing(&book, &history, args.footing.of(&history, named)?)?;
    let head = ctx.head(&book.car.name);
    ctx.answer(
        ui,
        || render::runs::json(&head, &history, &shown, &footing),
        || render::runs::text(&head, &history, &shown, args.by_version, left_out, &footing),
    );
    Ok(())
}

/// The arithmetic of one run.
fn one(ctx: &Context, ui: &mut Ui, book: &Book, history: &History, args: &RunsArgs, said: &str) -> Result<()> {
    let run = match said {
        "last" => {
            history.runs.last().map(|m| &m.run).ok_or_else(|| Error::usage("no run is on record", "slipbook run"))?
        }
        said => run_named(history, said, ctx.moment(said).ok())?,
    };
    let made = history.runs.iter().find(|m| m.run.id == run.id);
    let made = made.ok_or_else(|| Error::data("the run stands on no version", "slipbook runs --all"))?;
    let day = &history.days[made.day];
    let footing = footing(book, history, args.footing.of(history, Some(day.date))?)?;
    let sheet = book.sheet(&history.timeline.versions[made.version])?;
    let stale = stale_at(book, history, made.version)?;
    let weight = weight_lb(&Facts::new(&book.schema, &sheet, &stale));
    let explained = explain(&footing, run, day, weight);
    let head = ctx.head(&book.car.name);
    ctx.answer(
        ui,
        || render::explain::json(&head, run, day, &footing, &explained),
        || render::explain::text(&head, run, day, &footing, &explained),
    );
    Ok(())
}
