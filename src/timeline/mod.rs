//! Dated changes ⇄ sheets: what was on the car when. Pure: no files, no clock.

mod facts;
mod life;
mod number;
mod relink;
mod stale;
mod sums;
mod versions;

pub use facts::{Facts, Missing, missing, on_record_since};
pub use life::{Fitted, Life, Stretch, fitted_on, lives};
pub use number::{Given, VersionNumber};
pub use relink::{Place, Places};
pub use stale::{Before, Cause, Stale, Step, Taken, Walk, always_so, moved_before, noted_again};
pub use sums::{Dated, MovedStep, Steps, SumError, Summed, sums};
pub use versions::{Entry, Kind, Remark, Setup, Timeline, Version};
