//! `check`: what fights each other, what could hurt, and what cannot be judged.

use super::context::Context;
use super::footing::version_meant;
use super::gather::{Gathered, Looked, With};
use super::ui::Ui;
use crate::check::{Judged, check, unknown_names};
use crate::figures::{SUBJECTS, Wanted};
use crate::garage::{Book, Car, Error, Result, hand_edits};
use crate::render;
use crate::render::check::CheckTold;
use clap::Args;

/// Which settings fight each other, and what can hurt
///
/// Rules of the trade over the sheet, what is stale on it and the figures it
/// gives. Each speaks, is quiet, or says what to measure first. Many are
/// contested: some racers do it on purpose, and a back-to-back decides. What can
/// hurt is told with who decides: tech inspection, the class rule book, a
/// licensed mechanic. This list never does.
///
///   slipbook check                   the sheet on the car
///   slipbook check v14
///   slipbook check --why limiter     reason, inputs with their dates, source
///   slipbook check --with "limiter up 1/2"
///
/// A car's own rules, and built-in ones muted or moved with a reason, stand in
/// its car.toml (`[[rule]]`, `[[needs_below]]`).
#[derive(Debug, Args)]
#[command(verbatim_doc_comment)]
pub struct CheckArgs {
    /// A version (v14, best, previous ...), if not the one on the car
    #[arg(value_name = "VERSION")]
    version: Option<String>,
    /// As if this were so: words or FIELD=VALUE, as in `change`
    #[arg(long, value_name = "WORDS", num_args = 1.., allow_negative_numbers = true)]
    with: Vec<String>,
    /// A rule by its id (P4) or what it is about (limiter): reason, inputs, source
    #[arg(long, value_name = "RULE", num_args = 1..)]
    why: Vec<String>,
    /// Every rule, the quiet ones too
    #[arg(long, conflicts_with = "why")]
    all: bool,
    /// Exit code 1 where a warning or a safety caution speaks
    #[arg(long)]
    strict: bool,
}

/// Runs the command.
pub fn run(ctx: &Context, ui: &mut Ui, args: &CheckArgs) -> Result<()> {
    let book = ctx.book()?;
    let history = book.history()?;
    let last = history.timeline.versions.len().checked_sub(1);
    let last = last.ok_or_else(|| Error::usage("the book has no version yet", "slipbook new"))?;
    let version = args.version.as_ref().map(|v| version_meant(ctx, &book, &history, v)).transpose()?.unwrap_or(last);
    let looked = Looked::at(&book, &history, version)?;
    let gathered = looked.gather(ctx, ui, With::Words(&args.with))?;
    let judged = judge(&book, &gathered);
    not_in_force(ui, &book)?;
    let as_is = match args.with.is_empty() {
        true => None,
        false => Some(judge(&book, &looked.gather(ctx, ui, With::Nothing)?)),
    };
    let v = &history.timeline.versions[version];
    let told = CheckTold {
        version: v.number.to_string(),
        at: v.entry.at,
        with: (!args.with.is_empty()).then(|| args.with.join(" ")),
        judged: &judged,
        before: as_is.as_deref(),
        all: args.all,
    };
    let head = ctx.head(&book.car.name);
    if args.why.is_empty() {
        ctx.answer(ui, || render::check::json(&head, &told), || render::check::text(&head, &told));
    } else {
        let found = found(&judged, &args.why.join(" "))?;
        ctx.answer(ui, || render::check::why_json(&head, &told, &found), || render::check::why(&head, &told, &found));
    }
    let grave = judged.iter().filter(|j| j.is_grave()).count();
    if args.strict && grave > 0 {
        let (n, verb) = if grave == 1 { ("one rule", "speaks") } else { ("rules", "speak") };
        return Err(Error::No(format!("{n} of weight {verb}: warning or safety")));
    }
    Ok(())
}

/// What was edited by hand and not saved has no say.
pub fn not_in_force(ui: &mut Ui, book: &Book) -> Result<()> {
    let edits = hand_edits(book)?;
    for (path, what) in edits.files.iter().filter(|(path, _)| path == "car.toml" || path == "setup.toml") {
        ui.status(&format!("{path} was {what} by hand and has no say until it is saved: slipbook sheet --save"));
    }
    Ok(())
}

/// All rules of the car over what was brought together.
pub fn judge(book: &Book, gathered: &Gathered) -> Vec<Judged> {
    check(&gathered.given(book, Wanted::default()), &book.car.rules)
}

/// What the rules of a car's file name that there is not: refused when the file is saved.
pub fn refuse_unknown(car: &Car) -> Result<()> {
    let schema = car.schema().map_err(|why| Error::data(why, "car.toml"))?;
    let keys = || schema.fields.iter().map(|f| f.key.as_str());
    for rule in &car.rules.own {
        if let Some(name) = unknown_names(rule, &schema).first() {
            let figures = SUBJECTS.iter().flat_map(|s| s.figures).map(|d| d.name);
            let near = crate::schema::nearest(name, figures.chain(keys()), 3);
            let what = format!("car.toml, rule {}: `{name}` is no field, no figure and no limit of it", rule.id);
            return Err(Error::data(what, near.join(", ")));
        }
        let setting = |k: &&String| {
            schema.field(k).is_some_and(|f| matches!(f.role, crate::schema::Role::Set | crate::schema::Role::Described))
        };
        if let Some(key) = rule.package.iter().find(|k| !setting(k)) {
            let near = crate::schema::nearest(key, keys(), 3).join(", ");
            return Err(Error::data(format!("car.toml, rule {}: package: `{key}` is no setting", rule.id), near));
        }
    }
    match car.rules.needs_below.iter().filter_map(|n| n.field.as_ref()).find(|f| schema.locate(f).is_none()) {
        Some(field) => {
            let near = schema.nearest(field, 3).join(", ");
            Err(Error::data(format!("car.toml, needs_below: `{field}` is no field"), near))
        }
        None => Ok(()),
    }
}

/// The rules meant by an id, or by what they are about.
fn found<'a>(all: &'a [Judged], said: &str) -> Result<Vec<&'a Judged>> {
    let lower = said.trim().to_lowercase();
    let id: Vec<&Judged> = all.iter().filter(|j| j.rule.id.to_lowercase() == lower).collect();
    if !id.is_empty() {
        return Ok(id);
    }
    let about = |j: &&Judged| {
        j.rule.about.iter().any(|a| a.contains(&lower)) || lower.split_whitespace().all(|w| j.rule.name.contains(w))
    };
    let hits: Vec<&Judged> = all.iter().filter(about).collect();
    if !hits.is_empty() {
        return Ok(hits);
    }
    let words = all.iter().flat_map(|j| j.rule.about.iter().map(String::as_str));
    let near = crate::schema::nearest(&lower, words, 3);
    Err(Error::usage(
        format!("no rule is about `{said}`"),
        format!("{}; an id such as P4; slipbook check --all", near.join(", ")),
    ))
}
