//! `measure`: what was measured, and what there is to measure.

use super::change::{choose, confirm_unusual, on_then, record};
use super::context::Context;
use super::ui::Ui;
use crate::garage::{Book, Fix, OnCar, Result, measured, moved_at, now, preview, stale_now};
use crate::render;
use crate::render::measure::ToMeasure;
use crate::schema::{EntryContext, Role, read_measured};
use crate::timeline::missing;
use clap::Args;

/// Record what was measured, or list what there is to measure
///
///   slipbook measure                        what to measure, why, and how
///   slipbook measure corner lr 812          a new value
///   slipbook measure pinion 5 down
///   slipbook measure limiter gap 0.50       found as it was, or another
///   slipbook measure limiter gap            found as it is on record
///   slipbook measure front height 25.5?     not sure: kept as "about 25.50"
///   slipbook measure arm angle -4 --always  so from the first sheet on
///
/// Words and `FIELD=VALUE` as in `change`, several at once. Measuring makes no
/// new version and no new setup. What you are not sure of (`25.5?`, `about 25`)
/// is never used as a fact. What a hand sets is no measurement: that is
/// `slipbook change`. But what another setting moves (toe, a preload, the nuts
/// of a wheel that was off) is named here once it is set again as it was.
#[derive(Debug, Args)]
#[command(verbatim_doc_comment)]
pub struct MeasureArgs {
    /// What was measured
    #[arg(value_name = "WORDS", allow_negative_numbers = true)]
    words: Vec<String>,
    /// When it was measured, if not now: `14:20`, `sat 12:15`, `jul 11 12:15`, `2026-07-11 12:15`
    #[arg(long, value_name = "TIME", requires = "words")]
    when: Option<String>,
    /// It has always been so: from the first sheet on
    #[arg(long, requires = "words", conflicts_with = "when")]
    always: bool,
    /// Why, or how it was taken
    #[arg(long, value_name = "TEXT", requires = "words")]
    why: Option<String>,
    #[command(flatten)]
    steps: super::plan::StepArgs,
    /// Say what would be recorded, and record nothing
    #[arg(long, requires = "words")]
    dry_run: bool,
}

/// Runs the command.
pub fn run(ctx: &Context, ui: &mut Ui, args: &MeasureArgs) -> Result<()> {
    let book = ctx.book()?;
    let on = now(&book.store, &book.schema, book.store.head()?)?;
    if args.words.is_empty() {
        return list(ctx, ui, &book, &on);
    }
    let at = args.when.as_deref().map(|t| ctx.moment(t)).transpose()?;
    let then = at.map(|at| on_then(&book, at)).transpose()?.flatten();
    let sheet = &then.as_ref().unwrap_or(&on).sheet;
    let entry = EntryContext { schema: &book.schema, chassis: book.car.chassis(), sheet };
    let taken = read_measured(entry, &args.words, &mut |clause, candidates| choose(ui, clause, candidates))?;
    let stated = args.always.then_some(ctx.hand.now);
    let mut wanted = measured(&book.schema, sheet, &taken, stated)?;
    wanted.at = at;
    wanted.why.clone_from(&args.why);
    // A line added to a text holds for that text only.
    let grows = |e: &crate::schema::Edit| book.schema.field(&e.key).is_some_and(|f| f.lines);
    wanted.seen = wanted.edits.iter().any(grows).then_some(on.blob);
    if !args.always {
        return record(ctx, ui, &book, &wanted, &args.steps, args.dry_run);
    }
    let planned = preview(&book.schema, &on, &wanted, &ctx.hand)?;
    confirm_unusual(ctx, ui, &planned.unusual)?;
    super::plan::put_right(ctx, ui, &book, &[Fix::Always(wanted)], &args.steps, args.dry_run)
}

fn list(ctx: &Context, ui: &mut Ui, book: &Book, on: &OnCar) -> Result<()> {
    let history = book.history()?;
    let stale = stale_now(book, &history)?;
    let last = history.timeline.versions.len().saturating_sub(1);
    let moved = moved_at(book, &history, last, &[Role::Set])?;
    let missing = missing(&book.schema, book.car.chassis(), &on.sheet);
    let to_measure = ToMeasure { sheet: &on.sheet, stale: &stale, moved: &moved, missing: &missing };
    let head = ctx.head(&book.car.name);
    ctx.answer(
        ui,
        || render::measure::json(&head, &book.schema, &to_measure),
        || render::measure::text(&head, &book.schema, &to_measure),
    );
    Ok(())
}
