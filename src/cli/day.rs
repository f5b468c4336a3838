//! `day`: a race day opened, shown, closed; a page of the notebook typed in late.

use super::context::Context;
use super::plan::{StepArgs, ask_steps};
use super::run::elevation_said;
use super::ui::Ui;
use crate::garage::{
    Amend, Book, DayFacts, Error, PageWanted, Result, STEPS_HELP, amend, closed_day, hand_edits, now, shown, take_page,
};
use crate::render;
use crate::slip::{LARGEST_PAGE, Moment, Notebook, read_day, read_notebook};
use crate::timeline::Steps;
use clap::Args;
use jiff::ToSpan;
use jiff::civil::Date;
use std::io::Read;
use std::path::{Path, PathBuf};

/// Open, show or close a race day; type one in from the notebook
///
///   slipbook day                          today: facts, runs, changes between
///   slipbook day sep 5                    another day
///   slipbook day --track "Osier Flats" --prep glue      opens it (or amends it)
///   slipbook day --close
///   slipbook day sep 5 --from page.txt    a page of the notebook; - reads stdin
///   slipbook day --paste                  lines typed or pasted, to an empty one
///
/// A track's elevation and finish are those of the last day there. A day lasts
/// until 06:00. What comes to a closed day opens it again.
///
/// On a page, facts first where they are not known: `sat sep 5 2026`, `track
/// Osier Flats`, `elevation 640`, `finish 1320`, `prep glue`, `car NAME`. Then
/// lines that begin with a time, in any mixture:
///
///   10:50 1.597 4.676 7.251 94.2 9.491 11.428 117.0 r hook     as in run
///   11:20 rear tires down 1/2 -- chasing bite                  as in change
///   12:00 84F 52% 29.42 station                                air or track
///   12:10 measure corner lr 812                                a measured value
///   12:15 note Pell drove
///
/// Behind ` -- ` stands why (of a run: a note); `why` does the same for a
/// change. A line that begins with a number is a run; one that is all air is a
/// reading; else it is a change. A leading `run`, `change`, `measure`, `air` or
/// `note` settles it. Lines with # are not read. Where no line says 13:00 or
/// later, 1:15 below 12:50 is 13:15: each time goes on from those above, and
/// what it was taken for is told.
///
/// All lines or none: the ones that cannot be read are shown with what would be
/// right. With --partial the others are recorded, and these are kept in the day
/// as they are written. A line that is on record already is not recorded twice.
///
/// A change before what is on record is told late: it is carried through the
/// later versions, as `change --when` does, and the runs after it move.
#[derive(Debug, Args)]
#[command(verbatim_doc_comment)]
pub struct DayArgs {
    /// The day, if not today: `sep 5`, `sat`, `2026-09-05`
    #[arg(value_name = "DATE")]
    when: Vec<String>,
    /// The track
    #[arg(long, value_name = "NAME")]
    track: Option<String>,
    /// The track's elevation, ft; with its unit also m: 195m
    #[arg(long, value_name = "FT", allow_negative_numbers = true)]
    elevation: Option<String>,
    /// The finish: 660, 1000 or 1320 ft
    #[arg(long, value_name = "FT")]
    finish: Option<u32>,
    /// How the track was prepared
    #[arg(long, value_name = "TEXT")]
    prep: Option<String>,
    /// A line for the day's note
    #[arg(long, value_name = "TEXT")]
    note: Option<String>,
    /// Nothing more is expected of this day
    #[arg(long, conflicts_with = "lines")]
    close: bool,
    /// The lines kept unread were entered otherwise
    #[arg(long, conflicts_with = "lines")]
    forget_unread: bool,
    /// A page of the notebook; - is stdin
    #[arg(long, value_name = "FILE", group = "lines")]
    from: Option<PathBuf>,
    /// Lines typed or pasted here, to an empty one
    #[arg(long, group = "lines")]
    paste: bool,
    /// Record what can be read, keep the other lines as they are written
    #[arg(long, requires = "lines")]
    partial: bool,
    /// Read and sum up, write nothing
    #[arg(long, requires = "lines")]
    dry_run: bool,
    #[command(flatten)]
    steps: StepArgs,
}

/// Runs the command.
pub fn run(ctx: &Context, ui: &mut Ui, args: &DayArgs) -> Result<()> {
    let book = ctx.book()?;
    let said = args.when.join(" ");
    let date = match said.as_str() {
        "" => None,
        said => {
            Some(read_day(said, ctx.hand.now).ok_or_else(|| Error::usage(format!("`{said}` is no date"), "sep 5"))?)
        }
    };
    if let Some(finish) = args.finish.filter(|f| !book.schema.run.finishes_ft.contains(f)) {
        return Err(Error::usage(format!("{finish} ft is no finish"), "660, 1000 or 1320"));
    }
    let facts = DayFacts {
        track: args.track.clone(),
        finish_ft: args.finish,
        elevation_ft: args.elevation.as_deref().map(elevation_said).transpose()?,
        prep: args.prep.clone(),
    };
    if let Some(text) = page_text(ui, args)? {
        return page(ctx, ui, &book, args, date, facts, &text);
    }
    if args.steps.steps() != Steps::Ask {
        return Err(Error::usage("--keep-steps and --keep-readings are for a page told late", "--from FILE"));
    }
    let today = ctx.hand.now.race_day();
    let date = date.unwrap_or(today);
    refuse_to_come(ctx, date)?;
    let notes = args.note.iter().map(|n| n.trim().to_owned()).filter(|n| !n.is_empty()).collect::<Vec<_>>();
    let amends = facts.track.is_some()
        || facts.finish_ft.is_some()
        || facts.elevation_ft.is_some()
        || facts.prep.is_some()
        || !notes.is_empty()
        || args.close
        || args.forget_unread;
    if !amends {
        return show(ctx, ui, &book, date, said.is_empty(), None);
    }
    // Saying more of a closed day does not open it: only what happened on it does.
    let said = Amend { facts, note: notes, close: args.close, forget_unread: args.forget_unread, ..Amend::default() };
    let noon =
        Moment::in_zone(date.at(12, 0, 0, 0), &ctx.zone).map_or(ctx.hand.now.offset_seconds, |m| m.offset_seconds);
    let offset = if date == today { ctx.hand.now.offset_seconds } else { noon };
    let (_, told, written) = amend(&book, &ctx.options(), &ctx.hand, date, offset, &said)?;
    written.notes.iter().for_each(|n| ui.status(n));
    let told = told.unwrap_or_else(|| "it says so already".to_owned());
    show(ctx, ui, &book, date, true, written.id.map(|_| told.as_str()))
}

/// A day may be opened on the evening before; further on, the date is a slip.
fn refuse_to_come(ctx: &Context, date: Date) -> Result<()> {
    let tomorrow = ctx.hand.now.race_day().checked_add(1.day()).unwrap_or(date);
    if date > tomorrow {
        return Err(Error::usage(format!("{date} is still to come"), "the date of the day; nothing was recorded"));
    }
    Ok(())
}

fn show(ctx: &Context, ui: &mut Ui, book: &Book, date: Date, quiet: bool, told: Option<&str>) -> Result<()> {
    let head = ctx.head(&book.car.name);
    let on = now(&book.store, &book.schema, book.store.head()?)?;
    let history = book.history()?;
    let days = shown(&history, date);
    if days.is_empty() && !quiet {
        let last = history.days.last().map(|d| format!("; the last is {} at {}", d.date, d.track)).unwrap_or_default();
        return Err(Error::usage(
            format!("nothing is on record for {date}{last}"),
            "slipbook runs --all lists every day",
        ));
    }
    ctx.answer(
        ui,
        || render::day::json(&head, &days, &on, told.is_some()),
        || render::day::text(&head, &book.schema.run, &days, &on, told),
    );
    Ok(())
}

/// The text of the page, where one is given.
fn page_text(ui: &mut Ui, args: &DayArgs) -> Result<Option<String>> {
    let limit = LARGEST_PAGE as u64 + 1;
    let (name, bytes) = match &args.from {
        Some(path) if path == Path::new("-") => ("stdin".to_owned(), ui.input(limit).map_err(|e| Error::io(path, e))?),
        Some(path) => {
            let file = std::fs::File::open(path).map_err(|e| Error::io(path, e))?;
            let mut bytes = Vec::new();
            file.take(limit).read_to_end(&mut bytes).map_err(|e| Error::io(path, e))?;
            (path.display().to_string(), bytes)
        }
        None if args.paste => {
            let help = "--from - reads the lines from a pipe, --from FILE from a file";
            let lines = ui.lines("lines that begin with a time; an empty one ends them");
            return lines.map(Some).ok_or_else(|| Error::usage("--paste wants a terminal", help));
        }
        None => return Ok(None),
    };
    let text = String::from_utf8(bytes);
    text.map(Some)
        .map_err(|_| Error::data(format!("{name} is not UTF-8 text; nothing was recorded"), "a plain text file"))
}

fn page(
    ctx: &Context,
    ui: &mut Ui,
    book: &Book,
    args: &DayArgs,
    date: Option<Date>,
    facts: DayFacts,
    text: &str,
) -> Result<()> {
    let mut notebook = read_notebook(&book.schema.run, text, ctx.hand.now)
        .map_err(|e| Error::data(format!("{}; nothing was recorded", e.why), e.help))?;
    if let Some(other) = notebook.car.as_ref().filter(|c| !c.eq_ignore_ascii_case(&book.car.name)) {
        let message = format!("the page is of {other}, the book is {}'s; nothing was recorded", book.car.name);
        return Err(Error::usage(message, format!("--car {}", crate::text::slug(other, "car"))));
    }
    if let (Some(a), Some(b)) = (date, notebook.date)
        && a != b
    {
        return Err(Error::usage(
            format!("the page is of {b}, not of {a}; nothing was recorded"),
            "one of the two dates",
        ));
    }
    let date = date.or(notebook.date).unwrap_or_else(|| ctx.hand.now.race_day());
    refuse_to_come(ctx, date)?;
    said_twice(&mut notebook, facts, args.note.as_deref())?;
    if notebook.lines.is_empty() {
        return Err(Error::usage(
            "no line of the page begins with a time; nothing was recorded",
            "10:50 1.597 11.428 117.0 r",
        ));
    }
    if args.dry_run {
        super::change::refuse_unsaved(&hand_edits(book)?)?;
    }
    let mut wanted = PageWanted {
        notebook: &notebook,
        date,
        zone: &ctx.zone,
        partial: args.partial,
        confirmed: ctx.yes,
        dry_run: args.dry_run,
        steps: args.steps.steps(),
    };
    let mut taken = take_page(book, &ctx.options(), &ctx.hand, &wanted);
    let (done, written) = loop {
        let Err(Error::Unconfirmed { message, help }) = &taken else { break taken? };
        // Steps on record are one question, unusual values another.
        if help.as_str() == STEPS_HELP && ui.asks() {
            if let Some(steps) = ask_steps(ui, message) { wanted.steps = steps } else { break taken? }
        } else if help.as_str() != STEPS_HELP && ui.confirm(&format!("{message}\nAre these right?")) == Some(true) {
            wanted.confirmed = true;
        } else {
            break taken?;
        }
        taken = take_page(book, &ctx.options(), &ctx.hand, &wanted);
    };
    let bad = done.unread().count();
    if bad > 0 && !args.partial {
        for said in render::day::unread_words(&done) {
            ui.status(&said);
        }
        return Err(Error::data(
            format!("{bad} of {} lines cannot be read; nothing was recorded", done.lines.len()),
            format!("the others: {}. Put these right, or --partial", render::day::count_words(&done)),
        ));
    }
    let head = ctx.head(&book.car.name);
    ctx.answer(
        ui,
        || render::day::page_json(&head, &done),
        || render::day::page_text(&head, &book.schema.run, &done, &written.notes),
    );
    Ok(())
}

/// What is said on the command line besides the page; one of the two may say it.
fn said_twice(notebook: &mut Notebook, facts: DayFacts, note: Option<&str>) -> Result<()> {
    fn one<T: PartialEq>(page: &mut Option<T>, said: Option<T>, name: &str) -> Result<()> {
        if let Some(said) = said {
            if page.as_ref().is_some_and(|p| *p != said) {
                return Err(Error::usage(
                    format!("the page says another {name}; nothing was recorded"),
                    "one of the two",
                ));
            }
            *page = Some(said);
        }
        Ok(())
    }
    one(&mut notebook.track, facts.track, "track")?;
    one(&mut notebook.finish_ft, facts.finish_ft, "finish")?;
    one(&mut notebook.elevation_ft, facts.elevation_ft, "elevation")?;
    one(&mut notebook.prep, facts.prep, "prep")?;
    notebook.notes.extend(note.map(|n| n.trim().to_owned()).filter(|n| !n.is_empty()));
    Ok(())
}

/// Says so where a change is dated in a day that was closed.
pub fn say_if_closed(ui: &mut Ui, book: &Book, at: Moment) -> Result<()> {
    if let Some(said) = closed_day(book, at.race_day())? {
        ui.status(&said);
    }
    Ok(())
}
