//! The running sum: one pure function of a base sheet and dated changes. Entry, import and (later) mend and join use it.

use crate::schema::{Edit, Schema, Sheet, apply};
use crate::slip::Moment;

/// A dated change of the sheet.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Dated {
    /// When it happened.
    pub at: Moment,
    /// Place among changes of the same second: the order of writing.
    pub written: u64,
    /// What was typed.
    pub edits: Vec<Edit>,
}

/// A change that cannot be summed.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("{why}")]
pub struct SumError {
    /// Index into the changes as given.
    pub index: usize,
    /// What is wrong.
    pub why: String,
}

/// The sheet after each change, in time order: `(index into changes, sheet)`. The order of `changes` does not matter.
pub fn sums(schema: &Schema, base: &Sheet, changes: &[Dated]) -> Result<Vec<(usize, Sheet)>, SumError> {
    let mut order: Vec<usize> = (0..changes.len()).collect();
    order.sort_by_key(|i| (changes[*i].at, changes[*i].written));
    let mut sheet = base.clone();
    let mut out = Vec::with_capacity(order.len());
    for index in order {
        sheet = apply(schema, &sheet, &changes[index].edits).map_err(|why| SumError { index, why })?.sheet;
        out.push((index, sheet.clone()));
    }
    Ok(out)
}
