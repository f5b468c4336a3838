//! Two sheets → changes; changes → sentences (`words`, the only place that phrases them) and wrench steps.

mod amount;
mod change;
pub mod words;
mod wrench;

pub use amount::{Amount, NoAmount, amount};
pub use change::{FieldChange, SheetDiff, diff};
pub use wrench::{Turned, turned};
