//! `numbers`: what the settings do.

use super::context::Context;
use super::footing::version_meant;
use super::gather::{Gathered, Looked, With};
use super::ui::Ui;
use crate::figures::{Figure, Wanted, figures};
use crate::garage::{Book, Error, History, Result};
use crate::render;
use crate::render::beside::Beside;
use crate::render::numbers::Of;
use clap::Args;

/// What the settings do, in figures, and what is missing for the rest
///
/// Loads and their transfer, wheel rates, ride, anti-squat, the pinion limiter,
/// driveshaft torque, working angles, tires and gear. Each with what it was
/// computed from; one that cannot be said names the measurement that is missing.
/// What was assumed is marked and told.
///
///   slipbook numbers                     of the sheet on the car
///   slipbook numbers v14                 of a version
///   slipbook numbers v12 v15             side by side, what differs
///   slipbook numbers --why anti_squat    one of them: formula, inputs, source
///   slipbook numbers --with "limiter 1.00, pinion 3 down"
///   slipbook numbers --cg                weigh the center of gravity's height
///
/// Statics: a car at rest or in a steady launch. Dampers, tire wrap and growth,
/// lift, and the converter are not in it. Check with scales, tape and video; a
/// back-to-back decides.
#[derive(Debug, Args)]
#[command(verbatim_doc_comment)]
pub struct NumbersArgs {
    /// A version (v14, best, previous ...), if not the one on the car; two to set side by side
    #[arg(value_name = "VERSION", num_args = 0..=2)]
    versions: Vec<String>,
    /// As if this were so: words or FIELD=VALUE, as in `change`
    #[arg(long, value_name = "WORDS", num_args = 1.., allow_negative_numbers = true)]
    with: Vec<String>,
    /// The launch, g, if not the average to the 60-ft line
    #[arg(long, value_name = "G")]
    g: Option<f64>,
    /// The 60 ft, s, if not the middle of the setup's runs
    #[arg(long, value_name = "S")]
    ft60: Option<f64>,
    /// Where the pinion is wanted when the limiter is met, degrees nose up against the ground
    #[arg(long, value_name = "DEG", allow_negative_numbers = true)]
    pinion_at: Option<f64>,
    /// One figure (its name, or words of its label): formula, inputs, source
    #[arg(long, value_name = "FIGURE", num_args = 1..)]
    why: Vec<String>,
    /// Without the inputs
    #[arg(long, conflicts_with = "why")]
    short: bool,
    /// The height of the center of gravity from a weighing with one axle raised; without numbers it walks through it
    #[arg(long, value_name = "NUMBERS", num_args = 0.., conflicts_with_all = ["with", "g", "ft60", "pinion_at", "why", "short", "versions"])]
    cg: Option<Vec<String>>,
}

/// Runs the command.
pub fn run(ctx: &Context, ui: &mut Ui, args: &NumbersArgs) -> Result<()> {
    if let Some(numbers) = &args.cg {
        return super::cg::run(ctx, ui, numbers);
    }
    let wanted = wanted(args)?;
    let book = ctx.book()?;
    let history = book.history()?;
    let last = history.timeline.versions.len().checked_sub(1);
    let last = last.ok_or_else(|| Error::usage("the book has no version yet", "slipbook new"))?;
    super::check::not_in_force(ui, &book)?;
    let named = |name: &String| version_meant(ctx, &book, &history, name);
    let head = ctx.head(&book.car.name);
    match args.versions.as_slice() {
        [a, b] => {
            let (a, b) = (named(a)?, named(b)?);
            let first = Looked::at(&book, &history, a)?.gather(ctx, ui, With::Nothing)?;
            let second = Looked::at(&book, &history, b)?.gather(ctx, ui, With::Words(&args.with))?;
            beside(ctx, ui, &book, &history, [&first, &second], wanted, args)
        }
        one => {
            let version = one.first().map(named).transpose()?.unwrap_or(last);
            let looked = Looked::at(&book, &history, version)?;
            let as_is = looked.gather(ctx, ui, With::Nothing)?;
            if !args.with.is_empty() && args.why.is_empty() && ctx.format == super::args::Format::Text {
                let what_if = looked.gather(ctx, ui, With::Words(&args.with))?;
                return beside(ctx, ui, &book, &history, [&as_is, &what_if], wanted, args);
            }
            let gathered =
                if args.with.is_empty() { as_is } else { looked.gather(ctx, ui, With::Words(&args.with))? };
            let given = gathered.given(&book, wanted);
            let all = figures(&given);
            if !args.why.is_empty() {
                let found = found(&args.why.join(" "), &all)?;
                ctx.answer(
                    ui,
                    || render::numbers::json(&head, &of(&history, &gathered, args), &found),
                    || render::numbers::why(&head, &of(&history, &gathered, args), &found),
                );
                return Ok(());
            }
            ctx.answer(
                ui,
                || render::numbers::json(&head, &of(&history, &gathered, args), &all),
                || render::numbers::text(&head, &of(&history, &gathered, args), &all, args.short),
            );
            Ok(())
        }
    }
}

/// What was asked, if it can be.
fn wanted(args: &NumbersArgs) -> Result<Wanted> {
    let within = |name: &str, x: Option<f64>, low: f64, high: f64| match x {
        Some(x) if !(low..=high).contains(&x) => {
            Err(Error::usage(format!("{name} {x} cannot be reckoned with"), format!("{low} to {high}")))
        }
        x => Ok(x),
    };
    Ok(Wanted {
        launch_g: within("--g", args.g, 0.05, 4.0)?,
        ft60_s: within("--ft60", args.ft60, 0.7, 4.0)?,
        pinion_deg: within("--pinion-at", args.pinion_at, -15.0, 30.0)?,
    })
}

/// Two sets of figures side by side.
fn beside(
    ctx: &Context,
    ui: &mut Ui,
    book: &Book,
    history: &History,
    [a, b]: [&Gathered; 2],
    wanted: Wanted,
    args: &NumbersArgs,
) -> Result<()> {
    let (first, second) = (figures(&a.given(book, wanted)), figures(&b.given(book, wanted)));
    let told = Beside {
        a: Of { name: name(history, a.version), at: history.timeline.versions[a.version].entry.at, with: None },
        b: Of {
            name: match (b.what_if.is_empty(), a.version == b.version) {
                (true, _) => name(history, b.version),
                (false, true) => "as if".to_owned(),
                (false, false) => format!("{} as if", name(history, b.version)),
            },
            at: history.timeline.versions[b.version].entry.at,
            with: (!b.what_if.is_empty()).then(|| args.with.join(" ")),
        },
        first: &first,
        second: &second,
    };
    let head = ctx.head(&book.car.name);
    ctx.answer(ui, || render::beside::json(&head, &told), || render::beside::text(&head, &told));
    Ok(())
}

fn name(history: &History, version: usize) -> String {
    history.timeline.versions[version].number.to_string()
}

fn of(history: &History, gathered: &Gathered, args: &NumbersArgs) -> Of {
    let with = (!args.with.is_empty()).then(|| args.with.join(" "));
    Of { name: name(history, gathered.version), at: history.timeline.versions[gathered.version].entry.at, with }
}

/// The figures meant by a name or by words of a label.
fn found(said: &str, all: &[(&'static str, Vec<Figure>)]) -> Result<Vec<(&'static str, Vec<Figure>)>> {
    let lower = said.trim().to_lowercase();
    let name = lower.replace([' ', '-'], "_");
    let exact = |f: &Figure| f.def.name == name || f.full_name() == name;
    let label = |f: &Figure| lower.split_whitespace().all(|w| f.def.label.contains(w) || f.def.name.contains(w));
    let keep =
        |by: &dyn Fn(&Figure) -> bool, all: &[(&'static str, Vec<Figure>)]| -> Vec<(&'static str, Vec<Figure>)> {
            let of = |(title, figures): &(&'static str, Vec<Figure>)| {
                (*title, figures.iter().filter(|f| by(f)).cloned().collect::<Vec<_>>())
            };
            all.iter().map(of).filter(|(_, f)| !f.is_empty()).collect()
        };
    let hits = keep(&exact, all);
    let hits = if hits.is_empty() { keep(&label, all) } else { hits };
    if !hits.is_empty() {
        return Ok(hits);
    }
    let names: Vec<&str> = all.iter().flat_map(|(_, f)| f).map(|f| f.def.name).collect();
    let near = crate::schema::nearest(&name, names.into_iter(), 3);
    Err(Error::usage(
        format!("there is no figure `{said}` of this car"),
        match near.is_empty() {
            true => "slipbook numbers lists them".to_owned(),
            false => format!("{}; slipbook numbers lists them", near.join(", ")),
        },
    ))
}
