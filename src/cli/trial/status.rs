//! `trial status`, and all trials of a book.

use super::Loaded;
use crate::cli::context::Context;
use crate::cli::footing::footing;
use crate::cli::ui::Ui;
use crate::garage::{Result, trial_named};
use crate::pace::FootingOf;
use crate::render;
use crate::render::trial::{ListedTrial, StatusTold};
use crate::trial::Trial;
use clap::Args;

/// What was run so far, and what comes next
#[derive(Debug, Args)]
pub struct StatusArgs {
    /// The trial; the open one if there is one only
    #[arg(value_name = "NAME")]
    name: Option<String>,
}

/// Runs `trial status`.
pub fn run(ctx: &Context, ui: &mut Ui, loaded: &Loaded, args: &StatusArgs) -> Result<()> {
    let trial = trial_named(&loaded.trials, args.name.as_deref())?;
    tell(ctx, ui, loaded, trial, None)
}

/// Tells where a trial stands; `saved` where it was just recorded.
pub fn tell(ctx: &Context, ui: &mut Ui, loaded: &Loaded, trial: &Trial, saved: Option<bool>) -> Result<()> {
    let h = &loaded.history;
    let standing = loaded.standing(trial);
    let footing = footing(&loaded.book, h, FootingOf::Book)?;
    let finish = h.finish_ft();
    let day_of = |id: &str| h.runs.iter().find(|m| m.run.id == id).map(|m| &h.days[m.day]);
    let in_one_air = standing.counted.iter().map(|c| {
        let day = day_of(&c.run.id)?;
        Some(footing.carried(c.run, day, trial.response.at_beam(finish), c.raw))
    });
    let told = StatusTold {
        trial,
        timeline: &h.timeline,
        one_air: in_one_air.collect(),
        has_air: footing.reference.is_some(),
        standing: &standing,
        saved,
    };
    let head = ctx.head(&loaded.book.car.name);
    ctx.answer(ui, || render::trial::status_json(&head, &told), || render::trial::status_text(&head, &told));
    Ok(())
}

/// Runs bare `trial`.
pub fn all(ctx: &Context, ui: &mut Ui, loaded: &Loaded) -> Result<()> {
    let listed: Vec<ListedTrial> =
        loaded.trials.iter().map(|trial| ListedTrial { trial, standing: loaded.standing(trial) }).collect();
    let head = ctx.head(&loaded.book.car.name);
    let timeline = &loaded.history.timeline;
    ctx.answer(
        ui,
        || render::trial::all_json(&head, timeline, &listed),
        || render::trial::all_text(&head, timeline, &listed),
    );
    Ok(())
}
