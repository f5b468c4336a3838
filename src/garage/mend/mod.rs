//! The record was wrong, or news came late: dated changes put right, the sums taken again, the runs linked anew.
//!
//! In git nothing is rewritten. A mend is one merge commit on `main`: its first parent is the log as written, its second
//! a short line that holds the mended record and each later one once more. What concerns runs or tracks only is a plain
//! record.

pub(super) mod build;
mod days;
mod fix;
pub(super) mod live;
mod plan;
mod then;
mod value;

pub use build::STEPS_HELP;
pub(super) use days::what_differs;
pub use fix::{Fix, Span};
pub use plan::{Carried, Moved, Plan, carry_out, plan};
pub use then::Then;

use super::book::Book;
use super::change::{Changed, Wanted, preview};
use super::now::on_car_at;
use super::record::Written;
use super::who::Hand;
use super::{Error, Result};
use crate::store::Options;
use crate::timeline::Steps;

/// A change (or a measurement) told late, carried out without asking. Steps on record that would start from another
/// value refuse it.
pub fn change_late(book: &Book, options: &Options, hand: &Hand, wanted: &Wanted) -> Result<(Changed, Written)> {
    let at = wanted.at.unwrap_or(hand.now);
    let plan = plan(book, hand, &[Fix::Late(wanted.clone())], Steps::Ask)?;
    let head = book.store.head()?.ok_or_else(|| Error::data("the book has no sheet yet", "slipbook new"))?;
    let then = on_car_at(&book.store, &book.schema, head, Some(at))?;
    let then =
        then.ok_or_else(|| Error::usage(format!("{} is before the book begins", at.words(None)), "mend v1 --when"))?;
    let mut changed = preview(&book.schema, &then, wanted, hand)?;
    if let Some(number) = plan.news.first().and_then(|e| e.number.clone()) {
        changed.number = number;
    }
    let written = carry_out(book, options, hand, &plan)?;
    Ok((changed, written))
}
