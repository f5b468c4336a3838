//! `copy`: a checked copy of the book on another drive.

use super::context::Context;
use super::progress::Progress;
use super::ui::Ui;
use crate::garage::{Form, Result, copy, copy_target, hand_edits, records_since};
use crate::render::{self, copy::CopyTold};
use clap::{Args, ValueEnum};
use std::path::PathBuf;

/// Write a checked copy of the book to another drive
///
/// Every record goes along, and all of it is read back from there and compared
/// before it is said to be done. The next copy to the same place brings it up
/// to the book; one that holds records the book has not is left as it is.
///
///   slipbook copy /media/stick                 a folder in it: opens as a book
///   slipbook copy /media/stick/old-plover      that folder, if it is not there
///   slipbook copy /media/stick/plover.bundle   one file: `git clone` takes it
#[derive(Debug, Args)]
#[command(verbatim_doc_comment)]
pub struct CopyArgs {
    /// Where to: a folder, or a file whose name ends in .bundle
    #[arg(value_name = "DEST")]
    dest: PathBuf,
    /// What the copy is, whatever its name ends in
    #[arg(long = "as", value_name = "FORM")]
    form: Option<FormArg>,
}

/// The form of a copy.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
enum FormArg {
    /// A repository with its files laid out
    Folder,
    /// One file, git's bundle
    Bundle,
}

/// Runs the command.
pub fn run(ctx: &Context, ui: &mut Ui, args: &CopyArgs) -> Result<()> {
    let book = ctx.book()?;
    let form = args.form.map(|f| match f {
        FormArg::Folder => Form::Folder,
        FormArg::Bundle => Form::Bundle,
    });
    let target = copy_target(&ctx.garage, &book, &args.dest, form)?;
    let progress = Progress::new(ui);
    let made = copy(&ctx.garage, &book, &ctx.options(), &ctx.hand, target, &|n| progress.at(n))?;
    progress.done();
    made.copied.notes.iter().for_each(|n| ui.status(n));
    let new = made.copied.was.map(|was| records_since(&book.store, Some(was), usize::MAX)).transpose()?;
    let unsaved: Vec<String> = hand_edits(&book)?.files.into_iter().map(|(path, _)| path).collect();
    let head = ctx.head(&book.car.name);
    let told = CopyTold { made: &made, new, unsaved: &unsaved };
    ctx.answer(ui, || render::copy::json(&head, &told), || render::copy::text(&head, &told));
    Ok(())
}
