//! Two sheets → changes; changes → sentences (`words`, the only place that phrases them) and wrench steps.

mod change;
mod wrench;
pub mod words;

pub use change::{FieldChange, SheetDiff, diff};
pub use wrench::{Turned, turned};
