//! Dated changes ⇄ sheets: what was on the car when. Pure: no files, no clock.

mod number;
mod sums;
mod versions;

pub use number::VersionNumber;
pub use sums::{Dated, SumError, sums};
pub use versions::{Entry, Kind, Remark, Setup, Timeline, Version};
