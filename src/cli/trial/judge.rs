//! `trial judge`: the verdict, by the same model as `blame`, written down with what it rested on.

use super::Loaded;
use crate::blame::{Estimates, Judged as Found, More, Verdict};
use crate::cli::context::Context;
use crate::cli::footing::footing;
use crate::cli::judged::{Ran, asked};
use crate::cli::ui::Ui;
use crate::garage::{Error, Result, end_trial, refuse_ended, trial_named};
use crate::pace::{Footing, FootingOf};
use crate::render::counted;
use crate::trial::{End, Judged, LEAST_RUNS, Next, Side, Standing, Trial};
use clap::Args;
use std::collections::BTreeMap;

/// Judge a trial, and write the verdict down with the numbers it rested on
///
/// The verdict is that of blame: one model of all runs of the book, in one air,
/// with day, lane and drift allowed for, in which equal setups pool; so runs on
/// the same two setups on other days count too. Beside it stands what the
/// trial's own runs say by hand: the difference of their means, day by day.
#[derive(Debug, Args)]
#[command(verbatim_doc_comment)]
pub struct JudgeArgs {
    /// The trial; the open one if there is one only
    #[arg(value_name = "NAME")]
    name: Option<String>,
    /// Say the verdict, and record nothing
    #[arg(long)]
    dry_run: bool,
}

/// Runs the command.
pub fn run(ctx: &Context, ui: &mut Ui, loaded: &Loaded, args: &JudgeArgs) -> Result<()> {
    let trial = trial_named(&loaded.trials, args.name.as_deref())?;
    refuse_ended(trial)?;
    let standing = loaded.standing(trial);
    let both = [Side::A, Side::B].map(|side| standing.version(side));
    let [Some(a), Some(b)] = both else {
        let help = "slipbook trial drop gives it up";
        return Err(Error::usage("one of its versions is no longer on record: it cannot be judged", help));
    };
    if let Some(side) = [Side::A, Side::B].into_iter().find(|side| standing.order_run.runs(*side) == 0) {
        let version = &trial.arm(side).version;
        let message = format!("no run on {version} counts yet ({side}): there is nothing to judge");
        return Err(Error::usage(message, "slipbook trial status lists the runs; nothing was recorded"));
    }
    let footing = footing(&loaded.book, &loaded.history, FootingOf::Book)?;
    let ran = Ran::new(&loaded.book, &loaded.history, &footing);
    let mut question = asked(trial.response);
    question.matters = trial.matters.to_f64();
    let estimates = ran.estimates(question)?;
    let found = estimates.compare(a, b).ok_or_else(|| {
        Error::usage("the model has no run on one of the sides: it cannot be judged", "slipbook blame --help")
    })?;
    let air_kg_m3 = footing.reference.map(|r| r.density_kg_m3);
    let judged = Judged {
        at: ctx.hand.now,
        by: ctx.hand.by.clone(),
        verdict: verdict_words(&found, &standing),
        evidence: evidence(ctx, trial, &standing, &estimates, &found, (a, b)),
        effect: Some(found.effect.value),
        sd: Some(found.effect.sd),
        lo95: Some(found.effect.lo95),
        hi95: Some(found.effect.hi95),
        p_gain: Some(found.effect.p_gain),
        p_loss: Some(found.effect.p_loss),
        p_same: Some(found.effect.p_same),
        by_hand: by_hand(loaded, trial, &standing, &footing),
        runs_a: standing.ids(Side::A),
        runs_b: standing.ids(Side::B),
        order_run: standing.order_run.clone(),
        air_kg_m3,
        method: format!(
            "the model of blame {}, {} of the book",
            trial.response.label(),
            counted(estimates.used().len(), "run")
        ),
    };
    let end = End::Judged(Box::new(judged));
    if args.dry_run {
        let trial = Trial { end: Some(end), ..trial.clone() };
        return super::status::tell(ctx, ui, loaded, &trial, Some(false));
    }
    let (trial, written) = end_trial(&loaded.book, &ctx.options(), &ctx.hand, &trial.name, &end)?;
    written.notes.iter().for_each(|n| ui.status(n));
    super::status::tell(ctx, ui, loaded, &trial, Some(true))
}

/// The verdict; where the trial itself has one run a side, that goes before what the book's other runs say.
fn verdict_words(found: &Found, standing: &Standing) -> String {
    let [a, b] = [Side::A, Side::B].map(|side| standing.order_run.runs(side));
    let words = found.verdict.words();
    if a.min(b) >= LEAST_RUNS || found.verdict == Verdict::TooEarly {
        return words;
    }
    format!("too early to call by this trial, {a} on A and {b} on B; with the other runs on the two setups: {words}")
}

/// What else is to be known of the verdict.
fn evidence(
    ctx: &Context,
    trial: &Trial,
    standing: &Standing,
    estimates: &Estimates,
    found: &Found,
    (a, b): (usize, usize),
) -> Vec<String> {
    let mut out = Vec::new();
    let head = ctx.head("");
    let (planned, ran) = (trial.order.len(), standing.order_run.len());
    if standing.next != Next::Judge {
        out.push(format!("judged early: {}, {planned} were planned", counted(ran, "run")));
    }
    out.push(match standing.order_run.returns() {
        true => "toggled: the car came back to where it began".to_owned(),
        false => "not toggled: the car never came back to where it began".to_owned(),
    });
    out.push(match found.sides.same_day.as_slice() {
        [] => "never both on one day".to_owned(),
        [day] => format!("both on {}", head.day(*day)),
        days => format!("both on {} days", days.len()),
    });
    let (of_a, of_b) = (standing.order_run.runs(Side::A), standing.order_run.runs(Side::B));
    let (all_a, all_b) = (found.sides.without.len(), found.sides.with.len());
    if (of_a, of_b) != (all_a, all_b) {
        out.push(format!("{all_a} and {all_b} runs on the two setups in all, {of_a} and {of_b} of them this trial's"));
    }
    let others = standing.left_out.len();
    if others > 0 {
        out.push(format!("{others} run{} made meanwhile did not count", if others == 1 { "" } else { "s" }));
    }
    if !found.verdict.settled()
        && let Some(more) = More::new(estimates, a, b)
    {
        out.push(match more.needed().at_80 {
            Some(m) => format!("{m} more run{} a side would settle it 4 times out of 5", if m == 1 { "" } else { "s" }),
            None => "twelve more runs a side would not settle it 4 times out of 5".to_owned(),
        });
    }
    out
}

/// The difference of the means of the trial's own runs in one air, day by day: each day weighs as its runs allow.
fn by_hand(loaded: &Loaded, trial: &Trial, standing: &Standing, footing: &Footing) -> Option<f64> {
    let h = &loaded.history;
    let finish = h.finish_ft();
    let mut days: BTreeMap<usize, [(f64, f64); 2]> = BTreeMap::new();
    for c in &standing.counted {
        let day = h.runs.iter().find(|m| m.run.id == c.run.id)?.day;
        let number = footing.carried(c.run, &h.days[day], trial.response.at_beam(finish), c.raw);
        let of_side = &mut days.entry(day).or_default()[usize::from(c.side == Side::B)];
        *of_side = (of_side.0 + number, of_side.1 + 1.0);
    }
    let (mut sum, mut weight) = (0.0, 0.0);
    for [(a, na), (b, nb)] in days.into_values().filter(|[a, b]| a.1 > 0.0 && b.1 > 0.0) {
        let w = na * nb / (na + nb);
        sum += w * (b / nb - a / na);
        weight += w;
    }
    (weight > 0.0).then(|| sum / weight)
}
