//! What every command has in common that puts the record right: say what it would do, ask, do it, say it is done.

use super::context::Context;
use super::footing::{car_facts, footing_of};
use super::judged::{Ran, of_60};
use super::ui::Ui;
use crate::blame::{Ranking, Sheets};
use crate::garage::{Book, Error, Fix, History, Plan, Result, carry_out, hand_edits, is_of_engine, plan};
use crate::pace::FootingOf;
use crate::render::{self, mend::Verdicts};
use crate::timeline::Steps;
use clap::Args;

/// What becomes of steps that would start from another value.
#[derive(Debug, Clone, Default, Args)]
pub struct StepArgs {
    /// A later step (`down 1/4`) was turned as far as said: it ended elsewhere
    #[arg(long, conflicts_with = "keep_readings")]
    keep_steps: bool,
    /// A later step ended where the sheet says
    #[arg(long)]
    keep_readings: bool,
}

impl StepArgs {
    /// As the sums want it.
    pub fn steps(&self) -> Steps {
        match (self.keep_steps, self.keep_readings) {
            (true, _) => Steps::KeepSteps,
            (_, true) => Steps::KeepReadings,
            _ => Steps::Ask,
        }
    }
}

/// Asks what became of the steps that would start from another value; `None` where nobody answers.
pub fn ask_steps(ui: &mut Ui, message: &str) -> Option<Steps> {
    ui.status(message);
    let taken = ui.confirm("Was it turned as far as said, and ended elsewhere? (no: it ended where the sheet says)")?;
    Some(if taken { Steps::KeepSteps } else { Steps::KeepReadings })
}

/// Works it out, tells it, asks where somebody answers, and carries it out.
pub fn put_right(
    ctx: &Context,
    ui: &mut Ui,
    book: &Book,
    fixes: &[Fix],
    steps: &StepArgs,
    dry_run: bool,
) -> Result<()> {
    let wanted = steps.steps();
    let plan = match plan(book, &ctx.hand, fixes, wanted) {
        Err(Error::Unconfirmed { message, help }) if wanted == Steps::Ask && ui.asks() => {
            match ask_steps(ui, &message) {
                Some(steps) => plan(book, &ctx.hand, fixes, steps)?,
                None => return Err(Error::Unconfirmed { message, help }),
            }
        }
        done => done?,
    };
    if plan.is_empty() {
        return Err(Error::usage("nothing would be another than it is on record", "slipbook history shows it"));
    }
    super::change::refuse_unsaved(&hand_edits(book)?)?;
    super::change::confirm_unusual(ctx, ui, &plan.unusual)?;
    let head = ctx.head(&book.car.name);
    let verdicts = verdicts(book, &plan)?;
    if dry_run {
        ctx.answer(
            ui,
            || render::mend::json(&head, &plan, &verdicts, false),
            || render::mend::text(&head, &plan, &verdicts, false),
        );
        return Ok(());
    }
    if ui.asks() && !ctx.yes {
        ui.status(&render::mend::text(&head, &plan, &verdicts, false));
        if ui.confirm("Save?") != Some(true) {
            return Err(Error::usage("nothing was recorded", "--dry-run only says it"));
        }
        let written = carry_out(book, &ctx.options(), &ctx.hand, &plan)?;
        written.notes.iter().for_each(|n| ui.status(n));
        ctx.answer(ui, || render::mend::json(&head, &plan, &verdicts, true), || render::mend::done(&head, &plan));
        return Ok(());
    }
    let written = carry_out(book, &ctx.options(), &ctx.hand, &plan)?;
    written.notes.iter().for_each(|n| ui.status(n));
    ctx.answer(
        ui,
        || render::mend::json(&head, &plan, &verdicts, true),
        || render::mend::text(&head, &plan, &verdicts, true),
    );
    Ok(())
}

/// What blame says before and after, where it is not the same.
fn verdicts(book: &Book, plan: &Plan) -> Result<Vec<Verdicts>> {
    // The sheets of the plan are not written yet; what was on the car says how it follows the air.
    let car = car_facts(book, &plan.before)?;
    let engine = |key: &str| book.schema.field(key).is_some_and(is_of_engine);
    let ranking = |history: &History, sheets: &Sheets| -> Result<Ranking> {
        let footing = footing_of(&car, history, FootingOf::Book)?;
        Ok(Ranking::new(&Ran::new(book, history, &footing).estimates_of(of_60(), sheets), &engine))
    };
    let before = ranking(&plan.before, &book.sheets(&plan.before.timeline)?)?;
    let after = ranking(&plan.after, &plan.sheets(book)?)?;
    let told = |r: &crate::blame::Ranked| {
        let sides = &r.judged.sides;
        (format!("{:+.3}", r.judged.effect.value), r.judged.verdict, (sides.without.len(), sides.with.len()))
    };
    let mut out: Vec<Verdicts> = Vec::new();
    for b in &before.changes {
        let now = after.changes.iter().find(|a| a.version == b.version);
        if now.map(told) != Some(told(b)) {
            out.push(Verdicts { version: b.version.clone(), before: Some(b.clone()), after: now.cloned() });
        }
    }
    for a in after.changes.iter().filter(|a| !before.changes.iter().any(|b| b.version == a.version)) {
        out.push(Verdicts { version: a.version.clone(), before: None, after: Some(a.clone()) });
    }
    out.sort_by(|a, b| a.version.cmp(&b.version));
    Ok(out)
}
