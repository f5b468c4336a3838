//! The package check: rules and cautions (data, `schema/rules/*.toml`) judged over what is on the sheet, what is stale of
//! it, what the runs say, and figures computed from it.
//!
//! A rule speaks, is quiet, or cannot tell: then it says what to measure. It never passes or fails for want of a number.

mod judge;
mod truth;
mod words;

pub use judge::{Judged, Muted, Verdict, check, rules_for, unknown_names};
pub use truth::Truth;
