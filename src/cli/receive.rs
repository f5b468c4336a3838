//! `receive`: a car that was handed over becomes one of the garage.

use super::context::Context;
use super::progress::Progress;
use super::story::story;
use super::ui::Ui;
use crate::garage::{Limits, ReceiveWanted, Result, receive};
use crate::render::{self, receive::ReceivedTold};
use clap::Args;
use std::cell::RefCell;
use std::path::PathBuf;

/// Take in a car that was handed over: a bundle, or a clone
///
/// All of it is checked before any of it is put in: every object, every record,
/// sheet, day, part and run. Nothing in it can run, and what is no part of a
/// book is refused. Then it is there whole, or not at all.
///
/// Compare the handover id with what the giver says. A car you had before goes
/// back into its own book.
///
///   slipbook receive /media/stick/plover.bundle
///   slipbook receive /media/stick/plover.bundle --owner "Mo Teal"
///   slipbook receive old.bundle --as "Plover 2"    another car here has its name
#[derive(Debug, Args)]
#[command(verbatim_doc_comment)]
pub struct ReceiveArgs {
    /// The file, or the folder
    #[arg(value_name = "FILE")]
    file: PathBuf,
    /// Another name for the car
    #[arg(long = "as", value_name = "NAME")]
    called: Option<String>,
    /// Who has the car from now on (else whose hand writes, where something came in)
    #[arg(long, value_name = "NAME")]
    owner: Option<String>,
    /// Take in what this program would not have written as it is, and a book that lacks runs or versions of the one here
    #[arg(long, short = 'y', global = true)]
    yes: bool,
}

/// Runs the command.
pub fn run(ctx: &Context, ui: &mut Ui, args: &ReceiveArgs) -> Result<()> {
    let by = Some(ctx.hand.by.as_str()).filter(|by| *by != "unknown");
    let progress = Progress::new(ui);
    let asked = RefCell::new(&mut *ui);
    let wanted = ReceiveWanted {
        source: &args.file,
        called: args.called.as_deref(),
        other_name: &|taken| {
            progress.done();
            asked.borrow_mut().ask(&format!("another car here is in the folder {taken}. What is this one called?"))
        },
        owner: args.owner.as_deref().or(by),
        owner_named: args.owner.is_some(),
        as_it_is: args.yes,
        limits: Limits::default(),
        tell: &|n| progress.at(n),
    };
    let received = receive(&ctx.garage, &ctx.options(), &ctx.hand, &wanted);
    progress.done();
    let received = received?;
    received.notes.iter().for_each(|n| ui.status(n));
    // The car is in. What fails from here on is said, and undoes nothing.
    match make_current(ctx, &received.folder) {
        Ok(None) => {}
        Ok(Some(was)) => {
            ui.status(&format!("{} is the current car now: slipbook cars {was} goes back", received.folder))
        }
        Err(e) => ui.status(&format!("it is not the current car yet ({e}): slipbook cars {}", received.folder)),
    }
    let book = ctx.open(received.book.store.dir())?;
    let story = book.history().and_then(|history| story(&book, &history)).unwrap_or_else(|e| {
        ui.status(&format!("its story cannot be told: {e}"));
        None
    });
    let head = ctx.head(&book.car.name);
    let told = ReceivedTold { received: &received, story: story.as_ref() };
    ctx.answer(ui, || render::receive::json(&head, &told), || render::receive::text(&head, &told));
    Ok(())
}

/// The car it was before, where there was another.
fn make_current(ctx: &Context, folder: &str) -> Result<Option<String>> {
    let mut settings = ctx.garage.settings()?;
    // The only car was the current one without a word.
    let others: Vec<String> = ctx.garage.folders()?.into_iter().filter(|f| f != folder).collect();
    let only = Some(&others).filter(|o| o.len() == 1).and_then(|o| o.first().cloned());
    let was = match settings.current.replace(folder.to_owned()) {
        Some(current) if current == folder => None,
        current => {
            ctx.garage.remember(&settings)?;
            current.filter(|c| others.contains(c)).or(only)
        }
    };
    ctx.garage.keep_schemas(&crate::schema::json_schemas())?;
    Ok(was)
}
