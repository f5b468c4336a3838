//! `trial start`: from now on runs on either setup belong to it.

use super::Loaded;
use super::plan::{Asked, meant, plan};
use crate::cli::context::Context;
use crate::cli::ui::Ui;
use crate::garage::{Error, Result, start_trial};
use crate::trial::{Arm, Order, Trial, name_fault};
use clap::Args;

/// Begin a trial: runs on either setup belong to it from then on
#[derive(Debug, Args)]
pub struct StartArgs {
    /// Your name for it
    #[arg(value_name = "NAME")]
    name: String,
    #[command(flatten)]
    asked: Asked,
    /// The order, one letter a run, if not the one `trial plan` proposes: ABBA
    #[arg(long, value_name = "ORDER", conflicts_with = "runs")]
    order: Option<String>,
    /// Why
    #[arg(long, value_name = "TEXT")]
    why: Option<String>,
    /// When it began, if not now: runs from then on belong to it
    #[arg(long, value_name = "TIME")]
    when: Option<String>,
}

/// Runs the command.
pub fn run(ctx: &Context, ui: &mut Ui, loaded: &Loaded, args: &StartArgs) -> Result<()> {
    let name = args.name.trim();
    if let Some(fault) = name_fault(name) {
        return Err(Error::usage(fault, "slipbook trial start clamps v15 v16; nothing was recorded"));
    }
    let meant = meant(ctx, loaded, &args.asked)?;
    let order = match &args.order {
        Some(said) => {
            let order: Order = said.parse().map_err(|why: String| Error::usage(why, "--order ABBA"))?;
            if let Some(fault) = order.plan_fault() {
                return Err(Error::usage(fault, "--order ABBA; nothing was recorded"));
            }
            order
        }
        None => {
            let plan = plan(loaded, &args.asked, &meant)?;
            let best = plan.proposals.into_iter().next();
            best.map(|p| p.order).ok_or_else(|| Error::usage("there is no order for that", "--order ABBA"))?
        }
    };
    let versions = &loaded.history.timeline.versions;
    let arm = |v: usize| Arm { version: versions[v].number.clone(), setup: versions[v].sheet_id().to_owned() };
    let why = args.why.as_deref().map(str::trim).filter(|w| !w.is_empty());
    let trial = Trial {
        name: name.to_owned(),
        response: meant.response,
        a: arm(meant.a),
        b: arm(meant.b),
        order,
        matters: meant.matters,
        started: args.when.as_deref().map(|t| ctx.moment(t)).transpose()?.unwrap_or(ctx.hand.now),
        by: ctx.hand.by.clone(),
        why: why.map(str::to_owned),
        end: None,
    };
    let same = |t: &&Trial| t.is_open() && [&t.a.setup, &t.b.setup] == [&trial.a.setup, &trial.b.setup];
    if let Some(open) = loaded.trials.iter().find(same) {
        ui.status(&format!("trial \"{}\" of the same two is open too: a run belongs to both", open.name));
    }
    let written = start_trial(&loaded.book, &ctx.options(), &ctx.hand, &trial)?;
    written.notes.iter().for_each(|n| ui.status(n));
    super::status::tell(ctx, ui, loaded, &trial, Some(true))
}
