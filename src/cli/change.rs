//! `change`: something was changed on the car.

use super::context::Context;
use super::plan::{StepArgs, put_right};
use super::spoken::Spoken;
use super::ui::Ui;
use crate::garage::{
    Book, Changed, Error, Fix, HandEdits, History, OnCar, Result, Wanted, bring_along, change, edit_help, hand_edits,
    is_late, last_run, now, on_car_at, over_limits, preview,
};
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
///
/// What was forgotten is told late: --when a time before what is on record, or
/// --between two times where nobody knows better. It is carried through the
/// later versions until one that set the same, and the runs after it move to
/// the sheet they were made on. That is said first.
#[derive(Debug, Args)]
#[command(verbatim_doc_comment)]
pub struct ChangeArgs {
    /// What changed
    #[arg(required = true, value_name = "WORDS", allow_negative_numbers = true)]
    words: Vec<String>,
    /// Why
    #[arg(long, value_name = "TEXT")]
    why: Option<String>,
    /// When it happened, if not now: `14:20`, `sat 12:15`, `jul 11 12:15`, `2026-07-11 12:15`; `unknown`: some
    /// time before now, nobody knows when; the runs just before it may have been made on either
    #[arg(long, value_name = "TIME")]
    when: Option<String>,
    /// It happened at some time between these two; runs in between count for neither side
    #[arg(long, num_args = 2, value_names = ["FROM", "TO"], conflicts_with = "when")]
    between: Option<Vec<String>>,
    /// It was turned back then; for a change told late
    #[arg(long, value_name = "TIME")]
    until: Option<String>,
    #[command(flatten)]
    steps: StepArgs,
    /// Say what would be recorded, and record nothing
    #[arg(long)]
    dry_run: bool,
}

/// Runs the command.
pub fn run(ctx: &Context, ui: &mut Ui, args: &ChangeArgs) -> Result<()> {
    let book = ctx.book()?;
    let on = now(&book.store, &book.schema, book.store.head()?)?;
    let time_unknown = args.when.as_deref().is_some_and(|t| t.trim().eq_ignore_ascii_case("unknown"));
    let window = super::mend::window(ctx, args.between.as_deref())?;
    let at = match window {
        Some((_, to)) => Some(to),
        None => args.when.as_deref().filter(|_| !time_unknown).map(|t| ctx.moment(t)).transpose()?,
    };
    let late = is_late(&book, &on, at.unwrap_or(ctx.hand.now))?;
    // Words are said of what was on the car then.
    let then = at.filter(|_| late).map(|at| on_then(&book, at)).transpose()?.flatten();
    let sheet = &then.as_ref().unwrap_or(&on).sheet;
    let entry = EntryContext { schema: &book.schema, chassis: book.car.chassis(), sheet };
    let edits = read_entry(entry, &args.words, &mut |clause, candidates| choose(ui, clause, candidates))?;
    refuse_twice(&book, &edits)?;
    // A line added to a text holds for that text only; steps and readings hold for whatever is on the car.
    let grows = |e: &crate::schema::Edit| book.schema.field(&e.key).is_some_and(|f| f.lines);
    let seen = edits.iter().any(grows).then_some(on.blob);
    let since = window.map(|(from, _)| from);
    let wanted = Wanted { edits, why: args.why.clone(), at, since, time_unknown, seen, ..Wanted::default() };
    if late {
        if seen.is_some() {
            let help = "slipbook change notes \"sat 12:15: ...\" notes it now, with its time in the words";
            return Err(Error::usage(
                "a line for a text cannot be told late: it would not reach the text of today",
                help,
            ));
        }
        let until = args.until.as_deref().map(|t| ctx.moment(t)).transpose()?;
        let how = How { until, steps: &args.steps, dry_run: args.dry_run };
        return told_late(ctx, ui, &book, then.as_ref().unwrap_or(&on), &wanted, &how);
    }
    if args.until.is_some() {
        return Err(Error::usage("--until is for a change told late", "what is turned back now: slipbook change"));
    }
    other_car(ctx, ui, &book, at.is_some())?;
    record_now(ctx, ui, &book, &on, &wanted, args.dry_run)
}

/// Of two values for one field in one change, the first would be lost without a word.
pub fn refuse_twice(book: &Book, edits: &[crate::schema::Edit]) -> Result<()> {
    let meets = |a: &crate::schema::Edit, b: &crate::schema::Edit| {
        a.key == b.key && (a.slot.is_none() || b.slot.is_none() || a.slot == b.slot)
    };
    let twice = edits.iter().enumerate().find(|(i, e)| edits[..*i].iter().any(|o| meets(o, e)));
    match twice.and_then(|(_, e)| book.schema.field(&e.key)) {
        Some(field) if !field.lines => Err(Error::usage(
            format!("{} is given twice", field.label),
            "once; what happened later is a change of its own",
        )),
        _ => Ok(()),
    }
}

/// What was on the car then.
pub fn on_then(book: &Book, at: crate::slip::Moment) -> Result<Option<OnCar>> {
    let Some(head) = book.store.head()? else { return Ok(None) };
    on_car_at(&book.store, &book.schema, head, Some(at))
}

/// A change told late that was turned back later: the values of before, as readings at that time.
fn turned_back(
    book: &Book,
    history: &History,
    then: &OnCar,
    wanted: &Wanted,
    until: crate::slip::Moment,
) -> Result<Wanted> {
    let after = crate::schema::apply(&book.schema, &then.sheet, &wanted.edits)
        .map_err(|why| Error::usage(why, "nothing was recorded"))?;
    if wanted.at.is_some_and(|at| until <= at) {
        return Err(Error::usage("it was turned back before it was turned", "--until a later time"));
    }
    let edits = crate::schema::readings(&book.schema, &after.sheet, &then.sheet);
    let between = |v: &crate::timeline::Version| wanted.at.is_some_and(|at| at < v.entry.at) && v.entry.at <= until;
    for (i, v) in history.timeline.versions.iter().enumerate().skip(1).filter(|(_, v)| between(v)) {
        let (old, new) = (book.sheet(&history.timeline.versions[i - 1])?, book.sheet(v)?);
        if let Some(edit) = edits.iter().find(|e| !old.same_at(&e.key, &new)) {
            let label = book.schema.field(&edit.key).map_or(edit.key.as_str(), |f| f.label.as_str());
            let message = format!(
                "{} set {label} at {}: by {} it was no longer as told",
                v.number,
                v.entry.at.words(None),
                until.words(None)
            );
            return Err(Error::usage(message, "without --until: it is carried on until then"));
        }
    }
    Ok(Wanted { edits, at: Some(until), why: wanted.why.clone(), ..Wanted::default() })
}

/// Two cars in the trailer: where another one ran within the last hours and this one did not, it is asked once.
fn other_car(ctx: &Context, ui: &mut Ui, book: &Book, timed: bool) -> Result<()> {
    if timed || ctx.yes || !ui.asks() || ctx.car.is_some() {
        return Ok(());
    }
    let ran_lately = |book: &Book| -> bool {
        let last = book.store.head().ok().flatten().and_then(|h| last_run(&book.store, h).ok().flatten());
        last.is_some_and(|at| (0..=LATELY_S).contains(&(ctx.hand.now.seconds - at.seconds)))
    };
    if ran_lately(book) {
        return Ok(());
    }
    for folder in ctx.garage.folders()? {
        let dir = ctx.garage.car_dir(&folder);
        if dir == book.store.dir() {
            continue;
        }
        let Ok(other) = Book::open(&dir) else { continue };
        if ran_lately(&other) {
            let question =
                format!("{} ran today, {} did not. Is this {}'s?", other.car.name, book.car.name, book.car.name);
            return match ui.confirm(&question) {
                Some(true) => Ok(()),
                _ => Err(Error::usage("nothing was recorded", format!("--car {folder}"))),
            };
        }
    }
    Ok(())
}

/// A car that ran within this is the one at hand.
const LATELY_S: i64 = 6 * 3600;

/// How something told late is put in.
struct How<'a> {
    until: Option<crate::slip::Moment>,
    steps: &'a StepArgs,
    dry_run: bool,
}

/// Asks about what is unusual on what was on the car then, and puts it in.
fn told_late(ctx: &Context, ui: &mut Ui, book: &Book, then: &OnCar, wanted: &Wanted, how: &How) -> Result<()> {
    let brought = bring_along(book, wanted, ctx.hand.now)?;
    let wanted = &brought.wanted;
    let planned = preview(&book.schema, then, wanted, &ctx.hand)?;
    let history = book.history()?;
    let spoken = super::spoken::spoken_on(ctx, ui, book, &history, &then.number, &planned, &wanted.measured);
    confirm(ctx, ui, book, &planned, &[&brought.doubts[..], &asks(spoken.as_ref(), how.dry_run)].concat())?;
    let mut fixes = vec![Fix::Late(wanted.clone())];
    if let Some(until) = how.until {
        fixes.push(Fix::Late(turned_back(book, &history, then, wanted, until)?));
    }
    put_right(ctx, ui, book, &fixes, how.steps, how.dry_run)
}

/// Asks once about all there is to ask of a change: what is not usual, what goes beyond a limit of a part, and what else is
/// in doubt; gives all but the last.
fn confirm(ctx: &Context, ui: &mut Ui, book: &Book, planned: &Changed, doubts: &[String]) -> Result<Vec<String>> {
    let unusual = [&planned.unusual[..], &over_limits(&book.schema, &book.car, planned)].concat();
    confirm_unusual(ctx, ui, &[&unusual[..], doubts].concat())?;
    Ok(unusual)
}

/// What the rules ask of a change before it is recorded; what only is tried answers by saying it.
fn asks(spoken: Option<&Spoken>, dry_run: bool) -> Vec<String> {
    spoken.filter(|_| !dry_run).map(Spoken::asks).unwrap_or_default()
}

/// Previews, asks about what is unusual, records and answers; what comes late is put in. Shared with what else makes a
/// change.
pub fn record(ctx: &Context, ui: &mut Ui, book: &Book, wanted: &Wanted, steps: &StepArgs, dry_run: bool) -> Result<()> {
    let on = now(&book.store, &book.schema, book.store.head()?)?;
    match wanted.at {
        Some(at) if is_late(book, &on, at)? => {
            let then = on_then(book, at)?;
            let how = How { until: None, steps, dry_run };
            told_late(ctx, ui, book, then.as_ref().unwrap_or(&on), wanted, &how)
        }
        _ => record_now(ctx, ui, book, &on, wanted, dry_run),
    }
}

/// The same, of what follows all that is on record.
fn record_now(ctx: &Context, ui: &mut Ui, book: &Book, on: &OnCar, wanted: &Wanted, dry_run: bool) -> Result<()> {
    let head = ctx.head(&book.car.name);
    let brought = bring_along(book, wanted, ctx.hand.now)?;
    let wanted = &brought.wanted;
    let mut planned = preview(&book.schema, on, wanted, &ctx.hand)?;
    let spoken = super::spoken::spoken(ctx, ui, book, &planned, &wanted.measured);
    let spoken = spoken.as_ref();
    planned.unusual = confirm(ctx, ui, book, &planned, &[&brought.doubts[..], &asks(spoken, dry_run)].concat())?;
    let why = wanted.why.as_deref();
    if dry_run {
        refuse_unsaved(&hand_edits(book)?)?;
        if let Some(tip) = book.store.head()? {
            crate::garage::refuse_late(book, tip, on, planned.at)?;
        }
        let s = &book.schema;
        ctx.answer(
            ui,
            || {
                let told =
                    render::part::with_moved_json(render::change::json(&head, s, &planned, why, false), &brought.moved);
                super::spoken::with_json(told, spoken)
            },
            || {
                render::change::text(&head, s, &planned, why, false)
                    + &render::part::moved(&head, s, &brought.moved)
                    + &super::spoken::text(&head, spoken)
            },
        );
        return Ok(());
    }
    let (mut changed, written) = change(book, &ctx.options(), &ctx.hand, wanted)?;
    changed.unusual.clone_from(&planned.unusual);
    written.notes.iter().for_each(|n| ui.status(n));
    super::day::say_if_closed(ui, book, changed.at)?;
    let s = &book.schema;
    ctx.answer(
        ui,
        || {
            let told =
                render::part::with_moved_json(render::change::json(&head, s, &changed, why, true), &brought.moved);
            super::spoken::with_json(told, spoken)
        },
        || {
            render::change::text(&head, s, &changed, why, true)
                + &render::part::moved(&head, s, &brought.moved)
                + &super::spoken::text(&head, spoken)
        },
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
            edit_help(path),
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
