//! `trial start`: from now on runs on either setup belong to it.

use super::Loaded;
use super::plan::{Asked, meant, plan};
use crate::cli::context::Context;
use crate::cli::ui::Ui;
use crate::diff::diff;
use crate::garage::{Error, Result, start_trial};
use crate::render::change::short;
use crate::schema::Role;
use crate::text::shell_word;
use crate::trial::{Arm, Order, Side, Trial, name_fault};
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
    /// Even while an open trial turns the same setting: what is turned for one is then turned for the other too
    #[arg(long)]
    even_open: bool,
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
    // A name that is taken is refused where it is written.
    if !loaded.trials.iter().any(|t| t.path() == trial.path()) {
        beside_open(ctx, ui, loaded, args.even_open, (meant.a, meant.b))?;
    }
    let written = start_trial(&loaded.book, &ctx.options(), &ctx.hand, &trial)?;
    written.notes.iter().for_each(|n| ui.status(n));
    super::status::tell(ctx, ui, loaded, &trial, Some(true))
}

/// Says which other trials are open, and refuses one that turns what an open one turns.
fn beside_open(ctx: &Context, ui: &mut Ui, loaded: &Loaded, even_open: bool, sides: (usize, usize)) -> Result<()> {
    let (schema, versions) = (&loaded.book.schema, &loaded.history.timeline.versions);
    let turned = |(a, b): (usize, usize)| -> Result<Vec<String>> {
        let differ = diff(schema, &loaded.book.sheet(&versions[a])?, &loaded.book.sheet(&versions[b])?);
        let is_set = |key: &String| schema.field(key).is_some_and(|f| f.role == Role::Set);
        Ok(differ.changes.into_iter().map(|c| c.key).filter(is_set).collect())
    };
    let ours = turned(sides)?;
    for open in loaded.trials.iter().filter(|t| t.is_open()) {
        let standing = loaded.standing(open);
        let theirs = standing.version(Side::A).zip(standing.version(Side::B)).map(turned).transpose()?;
        let shared: Vec<String> = theirs.iter().flatten().filter(|k| ours.contains(k)).cloned().collect();
        let shared =
            shared.iter().filter_map(|k| schema.field(k)).map(|f| short(&f.label)).collect::<Vec<_>>().join(", ");
        let since = ctx.head("").when(open.started);
        let is_open =
            format!("trial \"{}\" ({} against {}) is open since {since}", open.name, open.a.version, open.b.version);
        let name = shell_word(&open.name);
        let finish = format!("To finish it: slipbook trial judge {name}, or slipbook trial drop {name}");
        if shared.is_empty() {
            ui.status(&format!("{is_open} too: a run that stands on both trials' setups belongs to both. {finish}"));
        } else if even_open {
            ui.status(&format!("{is_open} too and turns {shared} as well: a run may belong to both. {finish}"));
        } else {
            let message = format!("{is_open}, and it turns {shared} as this one does; nothing was recorded");
            return Err(Error::usage(message, format!("{finish}. Both at once: --even-open")));
        }
    }
    Ok(())
}
