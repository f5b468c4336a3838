//! `verify`: is the book whole, and is it the one that was handed over.

use super::context::Context;
use super::progress::Progress;
use super::ui::Ui;
use crate::garage::{Against, Book, Error, Result, hand_edits, verify};
use crate::render;
use clap::Args;

/// Check the whole of a book, and name what is damaged
///
/// Every object is read and its sum compared, every sheet, day, part and trial
/// of every record is read as this program reads it, and every run's setup has
/// to be there. What is lost is named, and what is still good. Nothing is
/// changed. Exit code 1 where something is wrong.
///
///   slipbook verify
///   slipbook verify plover --against floodgate attend oatmeal locksmith \
///     marathon blubber salami
///
/// --against: the handover id that was told, in full or its seven words. It says
/// whether the book is that one, or was that one and what came after. The words
/// guard against a slip; against a forger the full id is the proof.
#[derive(Debug, Args)]
#[command(verbatim_doc_comment)]
pub struct VerifyArgs {
    /// The car, if not the one at hand
    #[arg(value_name = "CAR")]
    named: Option<String>,
    /// The handover id to hold it against
    #[arg(long, value_name = "ID", num_args = 1..=7)]
    against: Option<Vec<String>>,
}

/// Runs the command.
pub fn run(ctx: &Context, ui: &mut Ui, args: &VerifyArgs) -> Result<()> {
    let against = args.against.as_ref().map(|words| Against::read(&words.join(" "))).transpose()?;
    let dir = match &args.named {
        Some(name) => ctx.garage.car_dir(&ctx.find_car(name)?),
        None => ctx.car_dir()?,
    };
    let progress = Progress::new(ui);
    let told = verify(&dir, against, &|n| progress.at(n));
    progress.done();
    let told = told?;
    let book = Book::open(&dir);
    let unsaved = book.as_ref().ok().and_then(|b| hand_edits(b).ok());
    let unsaved = unsaved.map(|e| e.files).unwrap_or_default();
    let folder = dir.file_name().unwrap_or_default().to_string_lossy().into_owned();
    let copy = ctx.garage.settings().ok().and_then(|s| s.copy.get(&folder).map(|c| c.to.clone()));
    let head = ctx.head(&book.map_or(folder, |b| b.car.name));
    let text = || render::verify::text(&head, &told, &unsaved, copy.as_deref());
    ctx.answer(ui, || render::verify::json(&head, &told, &unsaved), text);
    if told.is_good() {
        return Ok(());
    }
    Err(Error::No("verify: not as it should be".to_owned()))
}
