//! `trial next`: the one experiment that would tell the most for its minutes.

use super::plan::between_runs;
use super::{Loaded, matters_of, response_named};
use crate::blame::{RUNS_A_SIDE, toggles};
use crate::cli::context::Context;
use crate::cli::footing::footing;
use crate::cli::judged::{Ran, asked};
use crate::cli::ui::Ui;
use crate::garage::Result;
use crate::pace::FootingOf;
use crate::render;
use crate::render::trial_next::{Idea, NextTold};
use crate::trial::{Order, Pit, Side};
use clap::Args;

/// Say which single experiment now would tell the most for its minutes
///
/// What is tried: one thing on the car put back to a value it had, and halves of
/// what always changed together, as far as its members can be set apart. Each is
/// a back-to-back of four runs, there and back. What it is worth is what choosing
/// after it gains on average beyond choosing now, expected by the model of blame
/// (the fields' minutes are those of the sheet). Where nothing is worth a test,
/// that is the answer.
#[derive(Debug, Args)]
#[command(verbatim_doc_comment)]
pub struct NextArgs {
    /// The number asked about: 60 (if not said), 330, 660, 1000, et, mph
    #[arg(value_name = "NUMBER", default_value = "60", hide_default_value = true)]
    number: String,
    /// Less than that is not worth a job: 0.005 s if not said; of mph, mph
    #[arg(long, value_name = "SECONDS")]
    matters: Option<String>,
    /// Minutes from one run to the next with nothing turned, if not the book's middle
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u32).range(1..=600))]
    between: Option<u32>,
    /// All of them
    #[arg(long)]
    all: bool,
}

/// Shown without `--all`.
const SHOWN: usize = 5;

/// A test that gains less than this of what matters, on average, is not worth its minutes (own choice).
const WORTH_A_TEST: f64 = 0.1;

/// A half of A, all of B, the rest of A.
fn there_and_back() -> Order {
    let a = |n| std::iter::repeat_n(Side::A, n);
    let b = std::iter::repeat_n(Side::B, RUNS_A_SIDE);
    Order(a(RUNS_A_SIDE / 2).chain(b).chain(a(RUNS_A_SIDE.div_ceil(2))).collect())
}

/// Runs the command.
pub fn run(ctx: &Context, ui: &mut Ui, loaded: &Loaded, args: &NextArgs) -> Result<()> {
    let (book, h) = (&loaded.book, &loaded.history);
    let response = response_named(&args.number)?;
    let matters = matters_of(response, args.matters.as_deref())?;
    let footing = footing(book, h, FootingOf::Book)?;
    let ran = Ran::new(book, h, &footing);
    let mut question = asked(response);
    question.matters = matters.to_f64();
    let estimates = ran.estimates(question)?;
    let sheets = book.sheets(&h.timeline)?;
    let now = h.timeline.versions.len().saturating_sub(1);
    let on_car = sheets.get(h.timeline.versions[now].sheet_id()).cloned().unwrap_or_default();
    let between = args.between.map_or_else(|| between_runs(loaded).0, f64::from);
    let order = there_and_back();
    let mut ideas = Vec::new();
    for toggle in toggles(&book.schema, &sheets, &estimates) {
        let Some(worth) = toggle.worth(&estimates) else { continue };
        let there = crate::cli::wrench::list(book, h, (&on_car, Some(now)), &toggle.sheet, toggle.back_to)?;
        // No job, or one for the shop: nothing to do between rounds.
        if there.jobs == 0 {
            continue;
        }
        let pit = Pit { minutes_between: between, minutes_per_swap: f64::from(there.minutes) };
        let twins = estimates.hardly_parted_of(&toggle.keys);
        ideas.push(Idea {
            one_of_two: twins.iter().map(|v| h.timeline.versions[*v].number.clone()).collect(),
            words: toggle.words,
            parted_from: toggle.parted_from,
            keys: toggle.keys,
            back_to: h.timeline.versions[toggle.back_to].number.to_string(),
            jobs: there.jobs,
            turning_minutes: there.minutes,
            times_under: there.times_under,
            shop: there.has_shop_work(),
            minutes: pit.minutes(&order),
            worth,
        });
    }
    let rate = |i: &Idea| if i.shop { 0.0 } else { i.worth.gain / i.minutes };
    ideas.sort_by(|a, b| rate(b).total_cmp(&rate(a)).then(b.worth.gain.total_cmp(&a.worth.gain)));
    let told = NextTold {
        response,
        matters,
        order: order.to_string(),
        least_gain: WORTH_A_TEST * matters.to_f64(),
        shown: if args.all { usize::MAX } else { SHOWN },
        on_car: h.timeline.versions.get(now).map(|v| v.number.to_string()).unwrap_or_default(),
        never_run: estimates.on_setup(now).next().is_none(),
        open: loaded.trials.iter().filter(|t| t.is_open()).map(|t| t.name.clone()).collect(),
        ideas: &ideas,
    };
    let head = ctx.head(&book.car.name);
    ctx.answer(ui, || render::trial_next::json(&head, &told), || render::trial_next::text(&head, &told));
    Ok(())
}
