//! `trial drop`: it comes to nothing; its file stays, marked.

use super::Loaded;
use crate::cli::context::Context;
use crate::cli::ui::Ui;
use crate::garage::{Result, end_trial, refuse_ended, trial_named};
use crate::trial::{Dropped, End};
use clap::Args;

/// Give a trial up; it stays on record, marked
#[derive(Debug, Args)]
pub struct DropArgs {
    /// The trial; the open one if there is one only
    #[arg(value_name = "NAME")]
    name: Option<String>,
    /// Why
    #[arg(long, value_name = "TEXT")]
    why: Option<String>,
}

/// Runs the command.
pub fn drop(ctx: &Context, ui: &mut Ui, loaded: &Loaded, args: &DropArgs) -> Result<()> {
    let trial = trial_named(&loaded.trials, args.name.as_deref())?;
    refuse_ended(trial)?;
    let why = args.why.as_deref().map(str::trim).filter(|w| !w.is_empty()).map(str::to_owned);
    // No trial ends before its last run, whatever the clock of this machine says.
    let last = loaded.standing(trial).counted.iter().map(|c| c.run.at).max();
    let at = last.filter(|at| at.seconds > ctx.hand.now.seconds).unwrap_or(ctx.hand.now);
    let end = End::Dropped(Dropped { at, by: ctx.hand.by.clone(), why });
    let (trial, written) = end_trial(&loaded.book, &ctx.options(), &ctx.hand, &trial.name, &end)?;
    written.notes.iter().for_each(|n| ui.status(n));
    super::status::tell(ctx, ui, loaded, &trial, Some(true))
}
