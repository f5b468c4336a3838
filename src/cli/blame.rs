//! `blame`: which change preceded a gain.

use super::context::Context;
use super::footing::{FootingArgs, footing, seen};
use super::ui::Ui;
use crate::blame::{Judge, origins, rank};
use crate::garage::{Error, Result};
use crate::render;
use crate::slip::Response;
use clap::Args;

/// Which change preceded a gain or a loss
///
/// Every version that had clean runs before and after it, by the difference of
/// their means, with the interval that holds it 95 times in 100 if runs scatter
/// alike on every setup and nothing but the setup differs. Equal setups pool.
/// All runs are carried to one air first. Beyond that this is plain before/after
/// arithmetic: day, lane and luck are not allowed for, and a back-to-back on one
/// day decides. Under three clean runs
/// on a side it is too early to call.
///
///   slipbook blame           the 60 ft: the best signal of a chassis change
///   slipbook blame et        60, 330, 660, 1000, et or mph
///   slipbook blame --fields  the sheet: since when each value, by whom, why, and what followed
#[derive(Debug, Args)]
#[command(verbatim_doc_comment)]
pub struct BlameArgs {
    /// The number asked about: 60, 330, 660, 1000, et, mph
    #[arg(value_name = "NUMBER", default_value = "60", hide_default_value = true)]
    number: String,
    /// The sheet area by area, with the origin of each value
    #[arg(long)]
    fields: bool,
    /// How many changes are shown
    #[arg(long, value_name = "N", default_value_t = 8)]
    top: usize,
    /// All of them
    #[arg(long)]
    all: bool,
    #[command(flatten)]
    footing: FootingArgs,
}

/// Runs the command.
pub fn run(ctx: &Context, ui: &mut Ui, args: &BlameArgs) -> Result<()> {
    let response = Response::read(&args.number).ok_or_else(|| {
        Error::usage(format!("`{}` is no number of the slip", args.number), "60, 330, 660, 1000, et or mph")
    })?;
    let book = ctx.book()?;
    let history = book.history()?;
    let footing = footing(&book, &history, args.footing.of(&history, None)?)?;
    let runs = seen(&history, &footing);
    let judge = Judge::new(&history.timeline, &runs, history.finish_ft(), response);
    let head = ctx.head(&book.car.name);
    if args.fields {
        let origins = origins(&book.schema, &history.timeline, &book.sheets(&history.timeline)?, &judge);
        ctx.answer(
            ui,
            || render::blame::fields_json(&head, &book.schema, &origins),
            || render::blame::fields_text(&head, &book.schema, &origins, response),
        );
        return Ok(());
    }
    let mut ranking = rank(&history.timeline, &runs, &judge);
    // Those in a window count for neither side.
    ranking.left_out += history.runs.iter().filter(|m| m.unsure).count();
    let answered: Vec<_> = runs.iter().filter(|s| s.number(response, history.finish_ft()).is_some()).collect();
    let without = footing.without_air(answered.iter().map(|s| (s.run, s.day)));
    let air = render::blame::OneAir { footing: &footing, runs: answered.len(), without };
    let top = if args.all { usize::MAX } else { args.top };
    ctx.answer(
        ui,
        || render::blame::json(&head, response, &ranking, &air),
        || render::blame::text(&head, response, &ranking, top, &air),
    );
    Ok(())
}
