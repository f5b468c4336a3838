//! The record was wrong, or news came late: dated changes put right, the sums taken again, the runs linked anew.
//!
//! In git nothing is rewritten. A mend is one merge commit on `main`: its first parent is the log as written, its second
//! a short line that holds the mended record and each later one once more. What concerns runs or tracks only is a plain
//! record.

mod build;
mod days;
mod fix;
mod live;
mod plan;

pub use build::confirmed;
pub use fix::{Fix, Span};
pub use plan::{Carried, Moved, Plan, carry_out, plan};

use super::Result;
use super::book::Book;
use crate::slip::{Moment, Run};

/// The run of an id (or its beginning), or made at a time.
pub fn run_named(book: &Book, said: &str, at: Option<Moment>) -> Result<Run> {
    let live = live::Live::read(book)?;
    let (d, r) = live::find_run(&live, said, at)?;
    Ok(live.days[d].day.runs[r].clone())
}
