//! `sheet`: what is, or was, on the car; editing it whole.

use super::context::Context;
use super::footing::version_meant;
use super::ui::Ui;
use crate::garage::{
    Book, Car, Error, Result, edited_sheet, hand_edits, now, over_limits, preview_sheet, put_back, save_files,
    save_sheet, stale_at, stale_now,
};
use crate::render;
use crate::schema::Sheet;
use clap::Args;
use std::process::Command;

/// Show the setup sheet: now, of a version, or of a date; edit it whole
///
///   slipbook sheet              what is on the car, and edits made by hand that are not saved
///   slipbook sheet v17          a version
///   slipbook sheet jul 11       what was on the car at the end of that day
///   slipbook sheet v22 --as-recorded   as it was written, before it was mended
///   slipbook sheet --edit       opens $VISUAL or $EDITOR, and saves what is valid
///   slipbook sheet --save       saves edits made by hand in the book's files
///   slipbook sheet --put-back   brings back files of the book that were deleted
#[derive(Debug, Args)]
#[command(verbatim_doc_comment)]
pub struct SheetArgs {
    /// A version or a date
    #[arg(value_name = "WHICH")]
    which: Vec<String>,
    /// Open the sheet in an editor, and save it
    #[arg(long, conflicts_with = "which")]
    edit: bool,
    /// Save edits made by hand
    #[arg(long, conflicts_with_all = ["which", "edit"])]
    save: bool,
    /// Put back files a hand deleted; a FILE that is named, also if it was edited
    #[arg(long, value_name = "FILE", num_args = 0.., conflicts_with_all = ["which", "edit", "save"])]
    put_back: Option<Vec<String>>,
    /// As it was written, before it was mended
    #[arg(long, conflicts_with_all = ["edit", "save", "put_back"])]
    as_recorded: bool,
    /// Why, for --edit and --save
    #[arg(long, value_name = "TEXT")]
    why: Option<String>,
}

/// Runs the command.
pub fn run(ctx: &Context, ui: &mut Ui, args: &SheetArgs) -> Result<()> {
    let book = ctx.book()?;
    if let Some(named) = &args.put_back {
        return put_back_files(ctx, ui, &book, named);
    }
    if args.edit {
        edit(&book)?;
    }
    if args.edit || args.save {
        return save(ctx, ui, &book, args.why.clone());
    }
    let which = args.which.join(" ");
    let head = ctx.head(&book.car.name);
    if which.is_empty() && !args.as_recorded {
        let on = now(&book.store, &book.schema, book.store.head()?)?;
        let history = book.history()?;
        let stale = stale_now(&book, &history)?;
        let mut notes = unsaved(ctx, &book)?;
        let passes = super::part::passes_now(&book, &history);
        notes.extend(passes.iter().map(|(words, ..)| words.clone()));
        let title = format!("{}, {}", on.number, head.when(on.began));
        let number = on.number.to_string();
        ctx.answer(
            ui,
            || {
                let json = render::sheet::json(&head, &book.schema, &on.sheet, &stale, Some(number));
                render::part::with_passes_json(json, &passes)
            },
            || render::sheet::text(&head, &book.schema, &on.sheet, &stale, &title, &notes),
        );
        return Ok(());
    }
    let history = if args.as_recorded { book.as_recorded()? } else { book.history()? };
    let which = if which.is_empty() { "now".to_owned() } else { which };
    let i = version_meant(ctx, &book, &history, &which)?;
    let v = &history.timeline.versions[i];
    let sheet = book.sheet(v)?;
    // Of the log as written nobody asks what is stale.
    let stale = if args.as_recorded { Vec::new() } else { stale_at(&book, &history, i)? };
    let recorded = if args.as_recorded { " (as recorded)" } else { "" };
    let title = format!("{}, {}{recorded}", v.number, head.when(v.entry.at));
    let number = v.number.to_string();
    ctx.answer(
        ui,
        || render::sheet::json(&head, &book.schema, &sheet, &stale, Some(number)),
        || render::sheet::text(&head, &book.schema, &sheet, &stale, &title, &v.entry.mended),
    );
    Ok(())
}

/// What a hand edited and did not save yet, in words.
fn unsaved(ctx: &Context, book: &Book) -> Result<Vec<String>> {
    let edits = hand_edits(book)?;
    let mut notes = Vec::new();
    for (path, what) in &edits.files {
        match (&edits.sheet, path.as_str()) {
            (Some(sheet), "setup.toml") => {
                let (changed, _) = preview_sheet(book, sheet, None, &ctx.hand)?;
                let words: Vec<String> = changed.clauses.iter().map(|c| c.text.clone()).collect();
                let words = if words.is_empty() { "comments or layout only".to_owned() } else { words.join(", ") };
                notes.push(format!("edited by hand, not saved: {words}"));
            }
            _ => notes.push(format!("{path}: {what} by hand, not saved")),
        }
    }
    let deleted = |(_, what): &(String, &str)| *what == "deleted";
    if edits.files.iter().any(|f| !deleted(f)) {
        notes.push("slipbook sheet --save saves what was edited; slipbook diff shows it".to_owned());
    }
    if edits.files.iter().any(deleted) {
        notes.push("slipbook sheet --put-back brings back what was deleted, as it is on record".to_owned());
    }
    Ok(notes)
}

fn put_back_files(ctx: &Context, ui: &mut Ui, book: &Book, named: &[String]) -> Result<()> {
    let (files, written) = put_back(book, &ctx.options(), named)?;
    written.notes.iter().for_each(|n| ui.status(n));
    let head = ctx.head(&book.car.name);
    let said = match files.as_slice() {
        [] => "nothing was deleted by hand: nothing to put back".to_owned(),
        some => format!("put back as on record: {}", some.join(", ")),
    };
    ctx.answer(ui, || serde_json::json!({"car": head.car, "put_back": files}), || head.page(&said).text());
    Ok(())
}

fn edit(book: &Book) -> Result<()> {
    let editor = ["VISUAL", "EDITOR"].iter().find_map(|k| std::env::var(k).ok()).filter(|e| !e.trim().is_empty());
    let editor = editor.ok_or_else(|| {
        Error::usage("no editor is named", "set EDITOR, or edit setup.toml and then: slipbook sheet --save")
    })?;
    let path = book.store.dir().join("setup.toml");
    // EDITOR may carry arguments; it is the user's own setting, never the book's.
    let mut words = editor.split_whitespace();
    let program = words.next().unwrap_or_default();
    let status = Command::new(program)
        .args(words)
        .arg(&path)
        .status()
        .map_err(|e| Error::io(std::path::Path::new(program), e))?;
    if !status.success() {
        return Err(Error::data(
            format!("{program} ended with {status}"),
            "the sheet is as the editor left it; slipbook sheet --save saves it",
        ));
    }
    Ok(())
}

fn save(ctx: &Context, ui: &mut Ui, book: &Book, why: Option<String>) -> Result<()> {
    let edits = hand_edits(book)?;
    let head = ctx.head(&book.car.name);
    let sheet_edited = edits.files.iter().any(|(p, _)| p == "setup.toml");
    let others: Vec<String> = edits.files.iter().map(|(p, _)| p.clone()).filter(|p| p != "setup.toml").collect();
    if edits.files.is_empty() {
        ctx.answer(
            ui,
            || serde_json::json!({"car": head.car, "saved": false}),
            || head.page("nothing was edited by hand: nothing to save").text(),
        );
        return Ok(());
    }
    // Everything is read before anything is written.
    let edited: Option<(String, Sheet)> = sheet_edited.then(|| edited_sheet(book)).transpose()?;
    if let Some((_, sheet)) = &edited {
        let (planned, _) = preview_sheet(book, sheet, why.clone(), &ctx.hand)?;
        let limits = over_limits(&book.schema, &book.car, &planned);
        let asks = super::spoken::spoken(ctx, ui, book, &planned, &[]).map(|s| s.asks()).unwrap_or_default();
        super::change::confirm_unusual(ctx, ui, &[&planned.unusual[..], &limits, &asks].concat())?;
    }
    if others.iter().any(|p| p == "car.toml") {
        let text = book.store.read_work("car.toml")?.map(|b| String::from_utf8_lossy(&b).into_owned());
        if let Some(car) = text.map(|t| Car::read("car.toml", &t)).transpose()? {
            super::check::refuse_unknown(&car)?;
        }
    }
    if !others.is_empty() {
        let written = save_files(book, &ctx.options(), &ctx.hand, &others)?;
        written.notes.iter().for_each(|n| ui.status(n));
        ui.status(&format!("saved: {}", others.join(", ")));
    }
    let Some((text, _)) = edited else {
        ctx.answer(
            ui,
            || serde_json::json!({"car": head.car, "saved": true, "files": others}),
            || head.page("saved").text(),
        );
        return Ok(());
    };
    // car.toml may have brought a field of its own along.
    let book = &Book::open(book.store.dir())?;
    let (changed, written) = save_sheet(book, &ctx.options(), &ctx.hand, &text, why.clone())?;
    written.notes.iter().for_each(|n| ui.status(n));
    let why = why.as_deref();
    match changed {
        Some(changed) => ctx.answer(
            ui,
            || render::change::json(&head, &book.schema, &changed, why, true),
            || render::change::text(&head, &book.schema, &changed, why, true),
        ),
        None => ctx.answer(
            ui,
            || serde_json::json!({"car": head.car, "saved": true, "changes": []}),
            || head.page("saved: comments or layout only, no value differs").text(),
        ),
    }
    Ok(())
}
