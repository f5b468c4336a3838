//! `export`: the book as plain files.

use super::context::Context;
use super::ui::Ui;
use crate::garage::{Result, export, hand_edits, opened, write_export};
use crate::render;
use clap::Args;
use std::path::PathBuf;

/// Write the book as plain files: a table, the sheets, the days
///
///   season.csv      every change, run and reading; `slipbook import` reads it
///                   back to an equal book, a spreadsheet opens it
///   columns.csv     what each of its columns holds, and the unit
///   opening.toml    the first sheet
///   sheets/v12.toml the sheet of each version
///   car.toml        the car, its owners, its parts, its own fields
///   days, trials    as the book has them
///
/// An equal book has the same versions by number and time, the same sheets, the
/// same runs with their ids, and the same days with their air. What a table
/// cannot hold: the log as it was written (mends, and what was taken back, stand
/// as they hold now), when each record was written down, comments in the files,
/// and trials, which `import` does not read. For all of that:
/// `slipbook handover` or `slipbook copy`. A run whose id was made up by hand gets
/// another in the table, and that is said.
///
/// A text that begins like a formula (= + - @) stands in quotes, so that a
/// spreadsheet shows it and computes nothing; `import` reads it without them.
/// Import the table as it was written: a spreadsheet that saves it may turn an id
/// or a date into a number.
///
///   slipbook export --to plover-files
#[derive(Debug, Args)]
#[command(verbatim_doc_comment)]
pub struct ExportArgs {
    /// The car, if not the one at hand
    #[arg(value_name = "CAR")]
    which: Option<String>,
    /// The folder: not there yet, or empty
    #[arg(long, value_name = "DIR")]
    to: PathBuf,
}

/// Runs the command.
pub fn run(ctx: &Context, ui: &mut Ui, args: &ExportArgs) -> Result<()> {
    let book = match &args.which {
        Some(car) => ctx.open(&ctx.garage.car_dir(&ctx.find_car(car)?))?,
        None => ctx.book()?,
    };
    let history = book.history()?;
    let unsaved: Vec<String> = hand_edits(&book)?.files.into_iter().map(|(path, _)| path).collect();
    let exported = export(&book, &history)?;
    write_export(&ctx.garage, &book, &exported, &args.to, &ctx.options())?;
    let head = ctx.head(&book.car.name);
    let told =
        render::export::ExportTold { to: &args.to, exported: &exported, opened: opened(&history), unsaved: &unsaved };
    ctx.answer(ui, || render::export::json(&head, &told), || render::export::text(&head, &told));
    Ok(())
}
