//! `runs`: the runs on record.

use super::context::Context;
use super::footing::{FootingArgs, footing, version_meant};
use super::ui::Ui;
use crate::garage::{Error, Made, Result};
use crate::render;
use crate::slip::read_day;
use clap::Args;

/// List the runs: the latest days, one day, or one version
///
///   slipbook runs            the last three days
///   slipbook runs v14        the runs on a version
///   slipbook runs jul 11     the runs of a day
///   slipbook runs --by-version --all
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
    #[command(flatten)]
    footing: FootingArgs,
}

/// Runs the command.
pub fn run(ctx: &Context, ui: &mut Ui, args: &RunsArgs) -> Result<()> {
    let book = ctx.book()?;
    let history = book.history()?;
    let which = args.which.join(" ");
    let mut left_out = 0;
    let shown: Vec<&Made> = if which.is_empty() {
        let recent = history.days.len().saturating_sub(3);
        let shown: Vec<&Made> = history.runs.iter().filter(|m| args.all || m.day >= recent).collect();
        left_out = history.runs.len() - shown.len();
        shown
    } else if let Some(day) = read_day(&which, ctx.hand.now) {
        let shown: Vec<&Made> = history.runs.iter().filter(|m| history.days[m.day].date == day).collect();
        if shown.is_empty() {
            return Err(Error::usage(format!("no run on {day}"), "slipbook runs --all lists every day"));
        }
        shown
    } else {
        let v = version_meant(ctx, &book, &history, &which)?;
        history.runs_on(v).collect()
    };
    let named = read_day(&which, ctx.hand.now);
    let footing = footing(&book, &history, args.footing.of(&history, named)?)?;
    let head = ctx.head(&book.car.name);
    ctx.answer(
        ui,
        || render::runs::json(&head, &history, &shown, &footing),
        || render::runs::text(&head, &history, &shown, args.by_version, left_out, &footing),
    );
    Ok(())
}
