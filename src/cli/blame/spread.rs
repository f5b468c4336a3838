//! `blame spread`: did a change make the car steadier.

use super::super::context::Context;
use super::super::judged::Ran;
use super::super::ui::Ui;
use crate::blame::Estimates;
use crate::blame::steady::steadies;
use crate::garage::Result;
use crate::render::{self, blame_spread::Answer};

/// Answers it.
pub fn answer(ctx: &Context, ui: &mut Ui, ran: &Ran, estimates: &Estimates) -> Result<()> {
    let told = steadies(estimates, ran.history.finish_ft());
    let head = ctx.head(&ran.book.car.name);
    let answer = Answer {
        asked: estimates.asked,
        timeline: &ran.history.timeline,
        told: &told,
        counted: estimates.used().len(),
        footing: ran.footing,
    };
    ctx.answer(ui, || render::blame_spread::json(&head, &answer), || render::blame_spread::text(&head, &answer));
    Ok(())
}
