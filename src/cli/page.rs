//! `page`: a page to fill in at the track.

use super::context::Context;
use super::ui::Ui;
use crate::garage::{DayFacts, Error, Result, find_day, now};
use crate::render;
use clap::Args;

/// Print a page to fill in at the track, with what is on the car
///
///   slipbook page --blank | lp
///
/// One letter page of plain text: the facts of the day, what is on the car, then
/// lines for air, runs, changes and measurements in the order things happen.
/// Filled in as a text file it is read by `slipbook day --from FILE`; lines of
/// underscores take numbers, dots take words, lines with # are not read.
#[derive(Debug, Args)]
#[command(verbatim_doc_comment)]
pub struct PageArgs {
    /// A page with nothing filled in
    #[arg(long, required = true)]
    blank: bool,
    /// The finish, if not that of the last day: 660, 1000 or 1320 ft
    #[arg(long, value_name = "FT")]
    finish: Option<u32>,
}

/// Runs the command.
pub fn run(ctx: &Context, ui: &mut Ui, args: &PageArgs) -> Result<()> {
    let book = ctx.book()?;
    let head_id = book.store.head()?;
    let on = now(&book.store, &book.schema, head_id)?;
    if let Some(finish) = args.finish.filter(|f| !book.schema.run.finishes_ft.contains(f)) {
        return Err(Error::usage(format!("{finish} ft is no finish"), "660, 1000 or 1320"));
    }
    let today = ctx.hand.now.race_day();
    let last = find_day(&book.store, head_id, today, ctx.hand.now.offset_seconds, &DayFacts::default());
    let finish = args.finish.or(last.ok().map(|d| d.day.finish_ft)).unwrap_or(1320);
    let head = ctx.head(&book.car.name);
    let text = render::page::blank(&head, &book.schema, &on, finish);
    ctx.answer(ui, || render::page::json(&head, &text), || text.clone());
    Ok(())
}
