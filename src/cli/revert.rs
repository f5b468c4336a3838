//! `revert`: back to a setup that ran well.

use super::context::Context;
use super::footing::{footing, version_meant};
use super::judged::{Ran, of_60};
use super::ui::Ui;
use crate::blame::{PassedOver, Samples};
use crate::garage::{
    Error, Fix, Result, Scope, back_to, bring_along, change, fitted_passes, hand_edits, is_late, leave_gone, now,
    over_limits, preview,
};
use crate::pace::FootingOf;
use crate::render::{self, revert::AlreadyTold, revert::RevertTold};
use crate::slip::{Beam, Response};
use clap::Args;

/// Go back to an earlier version in what a hand sets, as a new version
///
/// Chassis settings are taken back; launch and engine settings follow the
/// weather and the driver and stay, unless --engine. Measured values and notes
/// stay; what the change moves is listed to be measured again.
///
/// --last-good is the latest setup that ran well: it has three clean 60-ft runs
/// or more, and the model of blame does not hold it likely slower than the best
/// setup with three or more. Setups passed over are named with the reason.
///
/// What was not on record at that version is left as it is and named.
///
/// A part that comes back brings along what is known of it now. One that is
/// gone is said and left alone, unless --even-gone.
///
///   slipbook revert --last-good --dry-run
///   slipbook revert v17
///   slipbook revert v17 --only "rear shocks"
#[derive(Debug, Args)]
#[command(verbatim_doc_comment)]
pub struct RevertArgs {
    /// The version to go back to: v17, a short id, a date, best, previous
    #[arg(value_name = "VERSION", required_unless_present = "last_good", conflicts_with = "last_good")]
    version: Option<String>,
    /// The latest setup that ran well
    #[arg(long)]
    last_good: bool,
    /// Only one area: front, rear, weight, driveline …, or one of the sheet's headings
    #[arg(long, value_name = "AREA")]
    only: Option<String>,
    /// Launch and engine settings too
    #[arg(long)]
    engine: bool,
    /// Fit parts again that are on record as gone
    #[arg(long)]
    even_gone: bool,
    /// Why
    #[arg(long, value_name = "TEXT")]
    why: Option<String>,
    /// When it happened, if not now
    #[arg(long, value_name = "TIME")]
    when: Option<String>,
    #[command(flatten)]
    steps: super::plan::StepArgs,
    /// Say what would be turned, and record nothing
    #[arg(long)]
    dry_run: bool,
}

/// Runs the command.
pub fn run(ctx: &Context, ui: &mut Ui, args: &RevertArgs) -> Result<()> {
    let book = ctx.book()?;
    let history = book.history()?;
    let footing = footing(&book, &history, FootingOf::Book)?;
    let ran = Ran::new(&book, &history, &footing);
    let versions = &history.timeline.versions;
    let last =
        versions.len().checked_sub(1).ok_or_else(|| Error::usage("the book has no version yet", "slipbook new"))?;
    super::wrench::refuse_no_area(&book, args.only.as_ref())?;
    let mut chosen = Vec::new();
    let target = match &args.version {
        Some(name) => version_meant(ctx, &book, &history, name)?,
        None => {
            let none =
                || Error::usage("no setup has three clean 60-ft runs yet, so none ran well", "slipbook revert VERSION");
            let (good, passed) = ran.estimates(of_60())?.last_good().ok_or_else(none)?;
            let v = &versions[good];
            let samples = Samples::new(&history.timeline, &ran.runs, history.finish_ft(), Response::Time(Beam::Ft60));
            let sample = samples.of(good);
            let same: Vec<String> = (0..versions.len())
                .filter(|i| *i != good && versions[*i].mark == v.mark)
                .map(|i| versions[i].number.to_string())
                .collect();
            let with = if same.is_empty() { String::new() } else { format!(", one setup with {}", same.join(", ")) };
            chosen.push(format!("last that ran well: {}, {}{with}", v.number, ctx.head("").when(v.entry.at)));
            chosen.push(format!(
                "{} clean runs, 60 ft {:.3} in the middle{}",
                sample.n(),
                sample.middle().unwrap_or(f64::NAN),
                if footing.reference.is_some() { ", in one air" } else { "" }
            ));
            if !passed.is_empty() {
                let all: Vec<String> =
                    passed.iter().map(|(i, why)| format!("{} ({})", versions[*i].number, passed_over(*why))).collect();
                chosen.push(format!("passed over: {}", all.join(", ")));
            }
            good
        }
    };
    let number = versions[target].number.to_string();
    if chosen.is_empty() {
        chosen.push(format!("back to {number}, {}", ctx.head("").when(versions[target].entry.at)));
    }
    let at = args.when.as_deref().map(|t| ctx.moment(t)).transpose()?;
    let mut on = now(&book.store, &book.schema, history.head)?;
    let late = is_late(&book, &on, at.unwrap_or(ctx.hand.now))?;
    if let Some(at) = at.filter(|_| late) {
        // Told late: it was turned back from what was on the car then.
        on = super::change::on_then(&book, at)?.unwrap_or(on);
    }
    let then = book.sheet(&versions[target])?;
    let scope = Scope { only: args.only.clone(), engine: args.engine };
    let mut back = back_to(&book.schema, &on.sheet, &then, &number, &scope);
    let year = ctx.head("").year;
    let gone = match args.even_gone {
        true => Vec::new(),
        false => leave_gone(&book.schema, &book.car, &on.sheet, &mut back.wanted, year),
    };
    if back.wanted.edits.is_empty() {
        super::change::refuse_unsaved(&hand_edits(&book)?)?;
        let left = match (back.left_alone.is_empty(), &args.only) {
            (true, _) => String::new(),
            (false, None) => format!("; {} differ but stay (--engine)", back.left_alone.join(", ")),
            (false, Some(only)) => format!(" in {only}; {} differ elsewhere", back.left_alone.join(", ")),
        };
        let left = gone.iter().fold(left, |left, g| format!("{left}; {g}"));
        let unknown = render::wrench::not_on_record(&book.schema, &back.not_on_record, &number);
        let left = unknown.map_or(left.clone(), |words| format!("{left}; {words}"));
        if args.last_good && args.only.is_none() && gone.is_empty() {
            let head = ctx.head(&book.car.name);
            let told = AlreadyTold {
                target: number,
                on: versions[last].number.to_string(),
                chosen,
                left_alone: &back.left_alone,
                not_on_record: &back.not_on_record,
            };
            ctx.answer(
                ui,
                || render::revert::already_json(&head, &told),
                || render::revert::already_text(&head, &book.schema, &told),
            );
            return Ok(());
        }
        return Err(Error::usage(
            format!("the car is set as {number} was: nothing to turn back{left}"),
            "slipbook history",
        ));
    }
    back.wanted.why.clone_from(&args.why);
    back.wanted.at = at;
    let brought = bring_along(&book, &back.wanted, ctx.hand.now)?;
    back.wanted = brought.wanted;
    if late {
        super::change::confirm_unusual(ctx, ui, &brought.doubts)?;
        return super::plan::put_right(ctx, ui, &book, &[Fix::Late(back.wanted)], &args.steps, args.dry_run);
    }
    back.wanted.seen = Some(on.blob);
    let planned = preview(&book.schema, &on, &back.wanted, &ctx.hand)?;
    let doubts = [&brought.doubts[..], &over_limits(&book.schema, &book.car, &planned)].concat();
    if !args.dry_run {
        super::change::confirm_unusual(ctx, ui, &doubts)?;
    }
    let head = ctx.head(&book.car.name);
    // A worn part is not the one that ran then.
    let last_then = history.runs_on(target).map(|m| m.run.at).max();
    let had = fitted_passes(&book, &history, last_then);
    let worn = fitted_passes(&book, &history, None).into_iter().filter_map(|(kind, name, passes, all_known)| {
        let field = book.schema.part_kind(&kind, &[])?;
        // Of a part that is not on record in car.toml nobody wants to know.
        book.car.part(&field.key, &name)?;
        let there = versions[target].fitted.iter().any(|f| f.key == field.key && f.name == name);
        let stays = planned.sheet.get(&field.key) == on.sheet.get(&field.key);
        let then = had.iter().find(|(k, n, ..)| *k == kind && *n == name)?.2;
        let more = if all_known { "" } else { " here" };
        (there && stays && last_then.is_some() && then < passes).then(|| {
            let now = render::part::counted_passes(passes);
            format!("{kind}: {name} has {now}{more}, had {then} when {number} last ran")
        })
    });
    let worn: Vec<String> = worn.collect();
    let list = super::wrench::list(&book, &history, (&on.sheet, Some(last)), &planned.sheet, target)?;
    let mut told = RevertTold {
        target: number.clone(),
        chosen,
        from: versions[last].number.to_string(),
        changed: &planned,
        left_alone: &back.left_alone,
        not_on_record: &back.not_on_record,
        list: &list,
        saved: false,
        gone: &gone,
        worn: &worn,
        moved: &brought.moved,
        command: format!(
            "slipbook revert {number}{}{}",
            super::wrench::scope_typed(&scope),
            if args.even_gone { " --even-gone" } else { "" }
        ),
    };
    if args.dry_run {
        super::change::refuse_unsaved(&hand_edits(&book)?)?;
        ctx.answer(
            ui,
            || render::revert::json(&head, &book.schema, &told),
            || render::revert::text(&head, &book.schema, &told),
        );
        return Ok(());
    }
    if !ctx.yes && ui.asks() {
        ui.status(&render::revert::text(&head, &book.schema, &told));
        if ui.confirm("Record that it is turned back?") != Some(true) {
            return Err(Error::usage("nothing was recorded", "slipbook revert again when it is turned back"));
        }
    }
    let (changed, written) = change(&book, &ctx.options(), &ctx.hand, &back.wanted)?;
    written.notes.iter().for_each(|n| ui.status(n));
    told.changed = &changed;
    told.saved = true;
    ctx.answer(
        ui,
        || render::revert::json(&head, &book.schema, &told),
        || render::revert::text(&head, &book.schema, &told),
    );
    Ok(())
}

fn passed_over(why: PassedOver) -> String {
    match why {
        PassedOver::Few(1) => "1 clean run, too early".to_owned(),
        PassedOver::Few(n) => format!("{n} clean runs, too early"),
        PassedOver::Slower(verdict) => verdict.apart(false),
    }
}
