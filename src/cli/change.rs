//! `change`: something was changed on the car.

use super::context::Context;
use super::ui::Ui;
use crate::garage::{Book, Error, HandEdits, Result, Wanted, change, hand_edits, now, preview};
use crate::render;
use crate::schema::{Candidate, EntryContext, read_entry};
use clap::Args;

/// Record what was changed on the car: words or FIELD=VALUE
///
/// Words as you would say them, several at once as one version:
///
///   slipbook change limiter down 1/4
///   slipbook change rear shocks looser 2, lr tire 12.25 --why "chasing bite"
///   slipbook change pinion 5 down
///   slipbook change rear.tire.pressure=12.0/12.25 launch.rpm=4600
///
/// A direction with a number is a step (`down 1/4`); a number alone is a
/// reading (`limiter 3/4`). Fractions are read (`1-1/8`), units too (`6mm`,
/// `0.86 bar`). A part of a key or label that is unique is enough. `FIELD=-`
/// takes a value off the record. Measured values are recorded without a new
/// version.
#[derive(Debug, Args)]
#[command(verbatim_doc_comment)]
pub struct ChangeArgs {
    /// What changed
    #[arg(required = true, value_name = "WORDS", allow_negative_numbers = true)]
    words: Vec<String>,
    /// Why
    #[arg(long, value_name = "TEXT")]
    why: Option<String>,
    /// When it happened, if not now: `14:20`, `sat 12:15`, `jul 11 12:15`, `2026-07-11 12:15`
    #[arg(long, value_name = "TIME")]
    when: Option<String>,
    /// Say what would be recorded, and record nothing
    #[arg(long)]
    dry_run: bool,
}

/// Runs the command.
pub fn run(ctx: &Context, ui: &mut Ui, args: &ChangeArgs) -> Result<()> {
    let book = ctx.book()?;
    let on = now(&book.store, &book.schema, book.store.head()?)?;
    let entry = EntryContext { schema: &book.schema, chassis: book.car.chassis(), sheet: &on.sheet };
    let edits = read_entry(entry, &args.words, &mut |clause, candidates| choose(ui, clause, candidates))?;
    // A line added to a text holds for that text only; steps and readings hold for whatever is on the car.
    let grows = |e: &crate::schema::Edit| book.schema.field(&e.key).is_some_and(|f| f.lines);
    let seen = edits.iter().any(grows).then_some(on.blob);
    let at = args.when.as_deref().map(|t| ctx.moment(t)).transpose()?;
    let wanted = Wanted { edits, why: args.why.clone(), at, seen, ..Wanted::default() };
    record(ctx, ui, &book, &wanted, args.dry_run)
}

/// Previews, asks about what is unusual, records and answers. Shared with what else makes a change.
pub fn record(ctx: &Context, ui: &mut Ui, book: &Book, wanted: &Wanted, dry_run: bool) -> Result<()> {
    let head = ctx.head(&book.car.name);
    let on = now(&book.store, &book.schema, book.store.head()?)?;
    let planned = preview(&book.schema, &on, wanted, &ctx.hand)?;
    let why = wanted.why.as_deref();
    confirm_unusual(ctx, ui, &planned.unusual)?;
    if dry_run {
        refuse_unsaved(&hand_edits(book)?)?;
        if let Some(tip) = book.store.head()? {
            crate::garage::refuse_late(book, tip, &on, planned.at)?;
        }
        let s = &book.schema;
        ctx.answer(
            ui,
            || render::change::json(&head, s, &planned, why, false),
            || render::change::text(&head, s, &planned, why, false),
        );
        return Ok(());
    }
    let (changed, written) = change(book, &ctx.options(), &ctx.hand, wanted)?;
    written.notes.iter().for_each(|n| ui.status(n));
    let s = &book.schema;
    ctx.answer(
        ui,
        || render::change::json(&head, s, &changed, why, true),
        || render::change::text(&head, s, &changed, why, true),
    );
    Ok(())
}

/// Asks about values outside the usual range; refuses where nobody answers.
pub fn confirm_unusual(ctx: &Context, ui: &mut Ui, unusual: &[String]) -> Result<()> {
    if unusual.is_empty() || ctx.yes {
        return Ok(());
    }
    let message = unusual.join("; ");
    match ui.confirm(&format!("{message}. Is that right?")) {
        Some(true) => Ok(()),
        _ => Err(Error::Unconfirmed { message, help: "--yes if it is right; nothing was recorded".to_owned() }),
    }
}

/// A change on top of an unsaved edit by hand would hide what the hand did. Records are refused by the store, under its
/// lock; this is for what only tells what would be.
pub fn refuse_unsaved(edits: &HandEdits) -> Result<()> {
    match edits.files.iter().find(|(path, what)| path == "setup.toml" && *what != "new") {
        None => Ok(()),
        Some((path, what)) => Err(Error::data(
            format!("{path} was {what} by hand and is not saved yet; nothing was recorded"),
            format!("slipbook sheet shows the edit, slipbook sheet --save saves it, git checkout -- {path} drops it"),
        )),
    }
}

/// Asks which of several fields is meant.
pub fn choose(ui: &mut Ui, clause: &str, candidates: &[Candidate]) -> Option<usize> {
    if !ui.asks() || candidates.len() > 20 {
        return None;
    }
    ui.status(&format!("`{clause}` could be:"));
    for (i, c) in candidates.iter().enumerate() {
        ui.status(&format!("  {:>2}  {}", i + 1, c.label));
    }
    ui.ask("which number? (Enter: none)")?.parse::<usize>().ok()?.checked_sub(1)
}
