//! `trial plan`: which order, how many runs, how long it takes.

use super::{Loaded, matters_of, response_named};
use crate::blame::{More, Needed, Verdict};
use crate::cli::context::Context;
use crate::cli::footing::{footing, version_meant};
use crate::cli::judged::{Ran, asked};
use crate::cli::ui::Ui;
use crate::garage::{Error, Result};
use crate::pace::FootingOf;
use crate::render;
use crate::render::trial_plan::{DAY_MINUTES, PlanTold, Settles, Turning};
use crate::schema::Num;
use crate::slip::Response;
use crate::stats::Sample;
use crate::trial::{Drift, LEAST_RUNS, MOST_RUNS, Pit, Proposal, Side, propose};
use clap::Args;

/// Propose the order and the number of runs, with what they take and tell
#[derive(Debug, Args)]
pub struct PlanArgs {
    #[command(flatten)]
    asked: Asked,
}

/// What two setups are asked about, for `plan` and `start`.
#[derive(Debug, Args)]
pub struct Asked {
    /// What it is compared with: v15, a short id, a date, best, last-good, previous or now
    #[arg(value_name = "A")]
    pub a: String,
    /// What is tried
    #[arg(value_name = "B")]
    pub b: String,
    /// The number asked about: 60 (if not said), 330, 660, 1000, et, mph
    #[arg(value_name = "NUMBER", default_value = "60", hide_default_value = true)]
    pub number: String,
    /// Less than that is not worth a job: 0.005 s if not said; of mph, mph
    #[arg(long, value_name = "SECONDS")]
    pub matters: Option<String>,
    /// Runs on each of the two
    #[arg(long, value_name = "N")]
    pub runs: Option<usize>,
    /// Minutes there are, from the first run to the last
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u32).range(1..=6000))]
    pub minutes: Option<u32>,
    /// Minutes from one run to the next with nothing turned, if not the book's middle
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u32).range(1..=600))]
    pub between: Option<u32>,
}

/// Runs a side where the model does not say how many it takes: an even number, so that an order can be symmetrical.
const USUAL_RUNS: usize = 4;

/// From run to run where a book says nothing yet: cooling down, the lanes (common practice, no source).
const USUAL_MINUTES: f64 = 45.0;

/// A longer pause between two runs was no turn-around.
const LONGEST_PAUSE_S: i64 = 3 * 3600;

/// What was asked, understood.
pub struct Meant {
    pub a: usize,
    pub b: usize,
    pub response: Response,
    pub matters: Num,
    /// The side whose setup is on the car.
    pub on_car: Option<Side>,
}

/// Understands it.
pub fn meant(ctx: &Context, loaded: &Loaded, asked: &Asked) -> Result<Meant> {
    let (book, history) = (&loaded.book, &loaded.history);
    let response = response_named(&asked.number)?;
    let [a, b] = [&asked.a, &asked.b].map(|name| version_meant(ctx, book, history, name));
    let (a, b) = (a?, b?);
    let versions = &history.timeline.versions;
    if versions[a].mark == versions[b].mark {
        let (a, b) = (&versions[a].number, &versions[b].number);
        let message = if a == b { format!("{a} against itself") } else { format!("{a} and {b} are one setup") };
        return Err(Error::usage(format!("{message}: there is nothing to try"), "slipbook history"));
    }
    let matters = matters_of(response, asked.matters.as_deref())?;
    let now = versions.last().map(|v| v.mark);
    let on_car = [(Side::A, a), (Side::B, b)].into_iter().find(|(_, v)| now == Some(versions[*v].mark)).map(|x| x.0);
    if let Some(runs) = asked.runs.filter(|n| !(LEAST_RUNS..=MOST_RUNS).contains(n)) {
        let help = format!("{LEAST_RUNS} to {MOST_RUNS}: one run a side is too early to call, whatever it says");
        return Err(Error::usage(format!("{runs} runs a side are no trial"), help));
    }
    Ok(Meant { a, b, response, matters, on_car })
}

/// What goes from one to the other, and what that takes.
pub fn turning(loaded: &Loaded, from: usize, to: usize) -> Result<Turning> {
    let (book, versions) = (&loaded.book, &loaded.history.timeline.versions);
    let [a, b] = [from, to].map(|v| book.sheet(&versions[v]));
    let list = crate::cli::wrench::list(book, &loaded.history, (&a?, None), &b?, to)?;
    Ok(Turning {
        to: versions[to].number.to_string(),
        jobs: list.jobs,
        minutes: list.minutes,
        times_under: list.times_under,
        shop: list.has_shop_work(),
        words: render::wrench::sum(&list),
    })
}

/// Minutes from run to run when nothing is turned: the middle of the book's, with the number behind it.
pub fn between_runs(loaded: &Loaded) -> (f64, usize) {
    let h = &loaded.history;
    let pairs = h.runs.windows(2).filter(|w| w[0].day == w[1].day && w[0].version == w[1].version);
    let gaps = pairs.map(|w| w[1].run.at.seconds - w[0].run.at.seconds).filter(|s| (60..LONGEST_PAUSE_S).contains(s));
    let gaps = Sample::new(gaps.map(|s| s as f64 / 60.0));
    match gaps.middle().filter(|_| gaps.n() >= 3) {
        Some(middle) => (middle.round(), gaps.n()),
        None => (USUAL_MINUTES, 0),
    }
}

/// What the model of blame says of the two before the trial.
struct Expected {
    drift: Drift,
    /// Runs behind its scatter.
    scatter_of: usize,
    /// How many more runs it takes; `None` where one of the two has no run yet.
    more: Option<More>,
    /// What is said of them now.
    verdict: Option<Verdict>,
}

fn expected(loaded: &Loaded, meant: &Meant) -> Result<Expected> {
    let h = &loaded.history;
    let footing = footing(&loaded.book, h, FootingOf::Book)?;
    let ran = Ran::new(&loaded.book, h, &footing);
    let mut question = asked(meant.response);
    question.matters = meant.matters.to_f64();
    let estimates = ran.estimates(question)?;
    let verdict = estimates.compare(meant.a, meant.b).map(|found| found.verdict);
    Ok(match estimates.run_sd() {
        Some(sd) => Expected {
            drift: Drift::of_scatter(sd),
            scatter_of: estimates.used().len(),
            more: verdict.and_then(|_| More::new(&estimates, meant.a, meant.b)),
            verdict,
        },
        None => {
            Expected { drift: Drift::usual(meant.response, h.finish_ft()), scatter_of: 0, more: None, verdict: None }
        }
    })
}

/// How many runs a side: as said; else as many as settle it 4 times out of 5, an even number, so that the order can be
/// symmetrical; fewer where the day has no time for them.
fn runs_a_side(asked: &Asked, needed: Option<Needed>, fits: &dyn Fn(usize) -> bool) -> usize {
    if let Some(said) = asked.runs {
        return said;
    }
    let wanted =
        needed.and_then(|n| n.at_80).map_or(USUAL_RUNS, |m| m.next_multiple_of(2).clamp(LEAST_RUNS, MOST_RUNS));
    (LEAST_RUNS..=wanted).rev().find(|m| fits(*m)).unwrap_or(LEAST_RUNS)
}

/// A plan, with what it rests on.
pub struct Plan {
    pub proposals: Vec<Proposal>,
    pub drift: Drift,
    pub pit: Pit,
    pub turning: [Turning; 2],
    /// Runs behind the minutes between runs; 0 = usual.
    pub gaps: usize,
    /// Runs behind the scatter; 0 = usual.
    pub scatter_of: usize,
    /// The chance that it settles the matter.
    pub settles: Option<Settles>,
}

/// Plans it.
pub fn plan(loaded: &Loaded, asked: &Asked, meant: &Meant) -> Result<Plan> {
    let turning = [turning(loaded, meant.a, meant.b)?, turning(loaded, meant.b, meant.a)?];
    let expected = expected(loaded, meant)?;
    let (between, gaps) = match asked.between {
        Some(said) => (f64::from(said), 0),
        None => between_runs(loaded),
    };
    let swap = f64::from(turning[0].minutes + turning[1].minutes) / 2.0;
    let pit = Pit { minutes_between: between, minutes_per_swap: swap };
    let first = meant.on_car.unwrap_or(Side::A);
    let drift = expected.drift;
    let orders = |runs: usize| propose(runs, first, &drift, &pit, asked.minutes.map(f64::from));
    let needed = expected.more.as_ref().map(More::needed);
    // The number of runs is what a day holds, if nobody said how long there is.
    let in_a_day = |p: &Proposal| asked.minutes.is_some() || p.minutes <= DAY_MINUTES;
    let fits = |runs: usize| orders(runs).first().is_some_and(|p| p.fits && p.order.returns() && in_a_day(p));
    let runs = runs_a_side(asked, needed, &fits);
    let settles = expected.more.as_ref().zip(needed).zip(expected.verdict).map(|((more, needed), verdict)| Settles {
        chance: more.chance(runs),
        needed,
        verdict,
    });
    Ok(Plan { proposals: orders(runs), drift, pit, turning, gaps, scatter_of: expected.scatter_of, settles })
}

/// Runs the command.
pub fn run(ctx: &Context, ui: &mut Ui, loaded: &Loaded, args: &PlanArgs) -> Result<()> {
    let asked = &args.asked;
    let meant = meant(ctx, loaded, asked)?;
    let plan = plan(loaded, asked, &meant)?;
    let told = PlanTold {
        a: loaded.number(meant.a).to_string(),
        b: loaded.number(meant.b).to_string(),
        response: meant.response,
        matters: meant.matters,
        within_minutes: asked.minutes,
        proposals: &plan.proposals,
        drift: plan.drift,
        scatter_of: plan.scatter_of,
        pit: plan.pit,
        gaps: plan.gaps,
        between_said: asked.between.is_some(),
        turning: &plan.turning,
        on_car: meant.on_car,
        settles: plan.settles,
    };
    let head = ctx.head(&loaded.book.car.name);
    ctx.answer(ui, || render::trial_plan::json(&head, &told), || render::trial_plan::text(&head, &told));
    Ok(())
}
