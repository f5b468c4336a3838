//! `check`: what fights each other, what could hurt, and what cannot be judged.

use super::context::Context;
use super::footing::version_meant;
use super::gather::{AsIf, Gathered, gather};
use super::ui::Ui;
use crate::check::{Judged, check, unknown_names};
use crate::figures::Wanted;
use crate::garage::{Book, Error, Result};
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
    let gathered = gather(ctx, ui, &book, &history, version, AsIf::Words(&args.with))?;
    let judged = judge(&book, &gathered)?;
    let as_is = match args.with.is_empty() {
        true => None,
        false => Some(judge(&book, &gather(ctx, ui, &book, &history, version, AsIf::Recorded)?)?),
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

/// All rules of the car over what was brought together. A rule of the car's own that names what there is not is its error.
pub fn judge(book: &Book, gathered: &Gathered) -> Result<Vec<Judged>> {
    for rule in &book.car.rules.own {
        if let Some(name) = unknown_names(rule, &book.schema).first() {
            let near = crate::schema::nearest(
                name,
                crate::figures::SUBJECTS
                    .iter()
                    .flat_map(|s| s.figures)
                    .map(|d| d.name)
                    .chain(book.schema.fields.iter().map(|f| f.key.as_str())),
                3,
            );
            return Err(Error::data(
                format!("car.toml, rule {}: `{name}` is neither a field, a figure nor a limit of the rule", rule.id),
                near.join(", "),
            ));
        }
    }
    for needs in &book.car.rules.needs_below {
        if let Some(field) = needs.field.as_ref().filter(|f| book.schema.locate(f).is_none()) {
            return Err(Error::data(
                format!("car.toml, needs_below: `{field}` is no field"),
                book.schema.nearest(field, 3).join(", "),
            ));
        }
    }
    Ok(check(&gathered.given(book, Wanted::default()), &book.car.rules))
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
