//! `wrench`: what to turn, to go from what is on the car to another version.

use super::context::Context;
use super::footing::version_meant;
use super::ui::Ui;
use crate::check::{Muted, rules_for};
use crate::garage::{
    Book, Error, History, Result, Scope, areas, back_to, bring_along, hand_edits, leave_gone, moved_at, now, stale_at,
};
use crate::render::{self, wrench::WrenchTold};
use crate::schema::{Role, Rule, Severity, Sheet, apply};
use crate::wrench::{List, Wanted, places, plan};
use clap::Args;

/// List what to turn, to go from what is on the car to another version
///
///   slipbook wrench v17         from what is on the car
///   slipbook wrench v12 v17     from one version to another
///
/// The list goes by where a hand stands or lies, in an order in which nothing
/// that was set is moved again; a position that the holes do not give is said,
/// and what must be measured afterwards. It is a plan to print and tick: it
/// records nothing. Launch and engine settings stay, unless --engine.
///
/// A version is v12, a short id, a date (jul 11: on the car at the end of that
/// day), best, last-good or previous.
#[derive(Debug, Args)]
#[command(verbatim_doc_comment)]
pub struct WrenchArgs {
    /// The version to go to; with two, the one to start from
    #[arg(value_name = "VERSION")]
    a: String,
    /// The version to go to, where the first is not what is on the car
    #[arg(value_name = "TO")]
    b: Option<String>,
    /// Only one area: front, rear, weight, driveline ..., or one of the sheet's headings
    #[arg(long, value_name = "AREA")]
    only: Option<String>,
    /// Launch and engine settings too
    #[arg(long)]
    engine: bool,
}

/// The list from one sheet to another; what was measured at `target` says what to expect. `start` is the version that is on
/// the car: what of it was moved since it was set counts for nothing.
pub fn list(
    book: &Book,
    history: &History,
    (from, start): (&Sheet, Option<usize>),
    to: &Sheet,
    target: usize,
) -> Result<List> {
    let then = book.sheet(&history.timeline.versions[target])?;
    let then_stale: Vec<String> = stale_at(book, history, target)?.into_iter().map(|s| s.key).collect();
    let from_moved: Vec<String> = match start {
        Some(version) => moved_at(book, history, version, &[Role::Set])?.into_iter().map(|s| s.key).collect(),
        None => Vec::new(),
    };
    // A rule the owner muted is quiet here too, but not one that says what can hurt.
    let kept = |muted: &Option<Muted>, severity| muted.as_ref().is_none_or(|m| !m.mute) || severity == Severity::Safety;
    let all = rules_for(&book.car.rules).into_iter();
    let rules: Vec<Rule> = all.filter(|(rule, muted)| kept(muted, rule.severity)).map(|(rule, _)| rule).collect();
    Ok(plan(Wanted {
        schema: &book.schema,
        places: places(),
        rules: &rules,
        chassis: book.car.chassis(),
        from,
        to,
        then: &then,
        then_stale: &then_stale,
        from_moved: &from_moved,
    }))
}

/// `--only` and `--engine` as they are typed again.
pub fn scope_typed(scope: &Scope) -> String {
    let only = scope.only.as_ref().map(|o| format!(" --only \"{o}\"")).unwrap_or_default();
    format!("{only}{}", if scope.engine { " --engine" } else { "" })
}

/// Refuses an area that the sheet does not have.
pub fn refuse_no_area(book: &Book, only: Option<&String>) -> Result<()> {
    let known = areas(&book.schema);
    match only.filter(|o| !known.contains(&o.to_lowercase())) {
        Some(only) => Err(Error::usage(format!("`{only}` is no area of the sheet"), known.join(", "))),
        None => Ok(()),
    }
}

/// Runs the command.
pub fn run(ctx: &Context, ui: &mut Ui, args: &WrenchArgs) -> Result<()> {
    let book = ctx.book()?;
    let history = book.history()?;
    refuse_no_area(&book, args.only.as_ref())?;
    let meant = |name: &str| version_meant(ctx, &book, &history, name);
    let target = meant(args.b.as_deref().unwrap_or(&args.a))?;
    let start = args.b.is_some().then(|| meant(&args.a)).transpose()?;
    let versions = &history.timeline.versions;
    let number = versions[target].number.to_string();
    let (from, from_name) = match start {
        Some(start) => (book.sheet(&versions[start])?, versions[start].number.to_string()),
        None => {
            let on = now(&book.store, &book.schema, history.head)?;
            (on.sheet, format!("{} on the car", on.number))
        }
    };
    let then = book.sheet(&versions[target])?;
    let scope = Scope { only: args.only.clone(), engine: args.engine };
    let mut back = back_to(&book.schema, &from, &then, &number, &scope);
    let gone = leave_gone(&book.schema, &book.car, &from, &mut back.wanted, ctx.head("").year);
    if back.wanted.edits.is_empty() {
        let also = match (back.left_alone.is_empty(), &args.only) {
            (true, _) => String::new(),
            (false, None) => format!("; {} differ but stay (--engine)", back.left_alone.join(", ")),
            (false, Some(only)) => format!(" in {only}; {} differ elsewhere", back.left_alone.join(", ")),
        };
        let also = gone.iter().fold(also, |also, g| format!("{also}; {g}"));
        let unknown = render::wrench::not_on_record(&book.schema, &back.not_on_record, &number);
        let also = unknown.map_or(also.clone(), |words| format!("{also}; {words}"));
        return Err(Error::usage(
            format!("{from_name} is set as {number} was: nothing to turn{also}"),
            "slipbook history",
        ));
    }
    // A part that is fitted again is as it is known now; between two other sheets it is as that one says.
    let edits = match start {
        None => bring_along(&book, &back.wanted, ctx.hand.now)?.wanted.edits,
        Some(_) => back.wanted.edits,
    };
    let refused = |why: String| Error::data(why, "nothing was changed");
    let to = apply(&book.schema, &from, &edits).map_err(refused)?.sheet;
    if start.is_none() && hand_edits(&book)?.files.iter().any(|(path, _)| path == "setup.toml") {
        ui.status("setup.toml was edited by hand and not saved: the list starts from the sheet as it was saved");
    }
    let on = start.or_else(|| versions.len().checked_sub(1));
    let list = list(&book, &history, (&from, on), &to, target)?;
    let told = WrenchTold {
        from: from_name,
        to: number.clone(),
        list: &list,
        left_alone: &back.left_alone,
        not_on_record: &back.not_on_record,
        gone: &gone,
        command: start.is_none().then(|| format!("slipbook revert {number}{}", scope_typed(&scope))),
    };
    let head = ctx.head(&book.car.name);
    ctx.answer(
        ui,
        || render::wrench::json(&head, &book.schema, &told),
        || render::wrench::text(&head, &book.schema, &told),
    );
    Ok(())
}
