//! `history`: what was done to the car, newest first.

use super::context::Context;
use super::footing::{FootingArgs, car_facts, footing, footing_of, seen};
use super::judged::{Ran, of_60};
use super::ui::Ui;
use crate::blame::{held, told};
use crate::garage::{Error, History, Result, trials};
use crate::render::{self, history::Shown};
use crate::schema::{Field, find_field};
use crate::slip::{Moment, read_day};
use crate::trial::trial_marks;
use clap::Args;

/// Show what was changed, when and why, and how it ran
///
///   slipbook history                    the latest versions
///   slipbook history clamps             those whose words or reasons hold a word
///   slipbook history jul 11             those of a day
///   slipbook history --field limiter    when that field had which value, and how it ran
///   slipbook history --as-recorded      as it was written, with each mend at its time
#[derive(Debug, Args)]
#[command(verbatim_doc_comment)]
pub struct HistoryArgs {
    /// Words to look for, or a day
    #[arg(value_name = "TEXT")]
    text: Vec<String>,
    /// One field over time: its key or a part of it
    #[arg(long, value_name = "FIELD")]
    field: Option<String>,
    /// All versions
    #[arg(long)]
    all: bool,
    /// As it was written, before anything was mended or taken back
    #[arg(long)]
    as_recorded: bool,
    #[command(flatten)]
    footing: FootingArgs,
}

/// Versions shown without `--all`.
const LATEST: usize = 8;

/// Runs the command.
pub fn run(ctx: &Context, ui: &mut Ui, args: &HistoryArgs) -> Result<()> {
    let book = ctx.book()?;
    let history = if args.as_recorded { book.as_recorded()? } else { book.history()? };
    let of = args.footing.of(&history, None)?;
    // What was kept of the book is kept of the record as it holds.
    let footing = match args.as_recorded {
        true => footing_of(&car_facts(&book, &history)?, &history, of)?,
        false => footing(&book, &history, of)?,
    };
    let runs = seen(&history, &footing);
    let finish = history.finish_ft();
    let head = ctx.head(&book.car.name);
    let without = footing.without_air(runs.iter().map(|s| (s.run, s.day)));
    let foot = render::footing::foot(&footing, "60 ft and ET", runs.len(), without);
    if let Some(name) = &args.field {
        let field = named_field(&book, name)?;
        let held = held(&book.schema, &history.timeline, &book.sheets(&history.timeline)?, &runs, finish, &field.key);
        ctx.answer(
            ui,
            || render::history::field_json(&head, field, &history, &held, &footing),
            || render::history::field_text(&head, &book.schema, field, &history, &held, &foot),
        );
        return Ok(());
    }
    let ran = Ran::new(&book, &history, &footing);
    let estimates = match args.as_recorded {
        true => ran.estimates_of(of_60(), &book.sheets(&history.timeline)?),
        false => ran.estimates(of_60())?,
    };
    let all = told(&history.timeline, &runs, finish, &estimates);
    let text = args.text.join(" ");
    let wanted = filter(ctx, &history, &text);
    let mut shown: Vec<_> = all.iter().rev().filter(|t| wanted(t.index)).collect();
    let older = if args.all || !text.is_empty() { 0 } else { shown.len().saturating_sub(LATEST) };
    shown.truncate(shown.len() - older);
    let remarks = history.timeline.remarks.iter().filter(|r| shown.iter().any(|t| t.index == r.during)).collect();
    let filter = (!text.is_empty()).then_some(text);
    let as_recorded = args.as_recorded;
    // A trial's file that is not right must not hide the history.
    let trials = trials(&book.store, history.head).unwrap_or_else(|e| {
        ui.status(&format!("trials are not shown: {e} (slipbook trial)"));
        Vec::new()
    });
    let trials = trial_marks(&trials, &history.timeline);
    let shown = Shown {
        history: &history,
        told: shown,
        remarks,
        older,
        filter,
        as_recorded,
        footing: &footing,
        without,
        foot,
        trials,
    };
    ctx.answer(ui, || render::history::json(&head, &shown), || render::history::text(&head, &shown));
    Ok(())
}

/// Which versions fit: of a day, or whose number, words, reasons or remarks hold every word.
fn filter<'a>(ctx: &Context, history: &'a History, text: &str) -> Box<dyn Fn(usize) -> bool + 'a> {
    if let Some(day) = read_day(text, ctx.hand.now) {
        let versions = &history.timeline.versions;
        let raced = versions.iter().any(|v| v.entry.at.race_day() == day);
        // What was changed past midnight is of the race day before, and meant by its own date where nothing else is.
        let of = move |at: Moment| if raced { at.race_day() } else { at.civil().date() };
        return Box::new(move |i| of(versions[i].entry.at) == day);
    }
    let words: Vec<String> = text.split_whitespace().map(str::to_lowercase).collect();
    Box::new(move |i| {
        let v = &history.timeline.versions[i];
        let remarks = history.timeline.remarks.iter().filter(|r| r.during == i).map(|r| &r.entry);
        let said = std::iter::once(&v.entry).chain(remarks).flat_map(|e| e.words.iter().chain(&e.why).cloned());
        let hay = said.chain([v.number.to_string(), v.entry.by.clone()]).collect::<Vec<_>>().join("\n").to_lowercase();
        words.iter().all(|w| hay.contains(w.as_str()))
    })
}

/// The field meant by a key, a short name, or a part of either.
pub fn named_field<'a>(book: &'a crate::garage::Book, name: &str) -> Result<&'a Field> {
    let chassis = book.car.chassis();
    let said = |f: &&Field| f.on_chassis(chassis) && f.says.first().is_some_and(|s| s.eq_ignore_ascii_case(name));
    let by_say: Vec<&Field> = book.schema.fields.iter().filter(said).collect();
    if let [one] = by_say.as_slice() {
        return Ok(one);
    }
    find_field(&book.schema, chassis, name).map(|(f, _)| f).map_err(|e| match e {
        e @ crate::schema::EntryError::Unknown { .. } => {
            let found: Vec<&str> = book
                .schema
                .search(name)
                .iter()
                .filter(|f| f.on_chassis(chassis))
                .map(|f| f.key.as_str())
                .take(6)
                .collect();
            if found.is_empty() {
                Error::Entry(e)
            } else {
                Error::usage(format!("`{name}` is no field"), format!("perhaps: {}", found.join(", ")))
            }
        }
        e => Error::Entry(e),
    })
}
