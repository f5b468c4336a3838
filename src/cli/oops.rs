//! `oops`: the last record was a mistake.

use super::context::Context;
use super::ui::Ui;
use crate::garage::{Book, Error, Result, last, move_to, sentence, take_back, to_move};
use clap::Args;
use serde_json::json;

/// Take back the last record: run, change, measurement or mend
///
///   slipbook oops               takes it back; again puts it back
///   slipbook oops --to heron    it belonged in the other car's book: moves it there
///
/// Nothing is lost: the log as written keeps the record and that it was taken
/// back. What lies further back is put right with mend.
#[derive(Debug, Args)]
#[command(verbatim_doc_comment)]
pub struct OopsArgs {
    /// The car it belongs to
    #[arg(long, value_name = "CAR")]
    to: Option<String>,
    /// Say what it would do, and do nothing
    #[arg(long)]
    dry_run: bool,
}

/// Runs the command.
pub fn run(ctx: &Context, ui: &mut Ui, args: &OopsArgs) -> Result<()> {
    let book = ctx.book()?;
    super::change::refuse_unsaved(&crate::garage::hand_edits(&book)?)?;
    let record = last(&book)?;
    let head = ctx.head(&book.car.name);
    let other = args.to.as_deref().map(|to| ctx.find_car(to)).transpose()?;
    let other = other.map(|folder| Book::open(&ctx.garage.car_dir(&folder))).transpose()?;
    if let Some(car) = record.moved_to.as_ref().filter(|_| !args.dry_run && !ctx.yes) {
        let message = format!("it was moved to {car}'s book; put back here it would be in both");
        if ui.confirm(&format!("{message}. Put it back?")) != Some(true) {
            let help = format!("slipbook oops --car {car} takes it back there; --yes if it is right in both");
            return Err(Error::Unconfirmed { message, help });
        }
    }
    let mut moved = None;
    if let Some(other) = &other {
        if other.store.dir() == book.store.dir() {
            return Err(Error::usage(format!("it is in {}'s book already", book.car.name), "--to the other car"));
        }
        let what = to_move(&book, &record)?;
        if !args.dry_run {
            // First there, then away from here: cut off between, it is in both, never in none.
            moved = Some(move_to(other, &ctx.options(), &ctx.hand, &what, &record.by)?);
        }
    }
    if !args.dry_run {
        let written = take_back(&book, &ctx.options(), &ctx.hand, &record, other.as_ref().map(|o| o.car.name.as_str()))
            .map_err(|e| match &other {
                Some(other) => Error::data(
                    format!("{e}; it is in {}'s book, and still in this one", other.car.name),
                    "slipbook oops once more, without --to",
                ),
                None => e,
            })?;
        written.notes.iter().for_each(|n| ui.status(n));
    }
    let what = sentence(&record).to_owned();
    let verb = match (record.puts_back, args.dry_run) {
        (false, false) => "took back",
        (true, false) => "put back",
        (false, true) => "would take back",
        (true, true) => "would put back",
    };
    ctx.answer(
        ui,
        || {
            json!({"car": head.car, "saved": !args.dry_run, "put_back": record.puts_back, "kind": record.kind,
                   "subject": what, "at": record.at, "moved_to": other.as_ref().map(|o| &o.car.name)})
        },
        || {
            let mut page = head.page(&format!("{verb}: {what}"));
            page.line(format!("  of {}, by {}", head.when(record.at), record.by));
            if let (Some(other), Some(moved)) = (&other, &moved) {
                page.wrap("  ", &format!("now in {}'s book: {moved}", other.car.name));
            } else if !args.dry_run && other.is_none() {
                page.line(format!("oops again {}", if record.puts_back { "takes it back" } else { "puts it back" }));
            }
            if args.dry_run {
                page.line("nothing written");
            }
            page.text()
        },
    );
    Ok(())
}
