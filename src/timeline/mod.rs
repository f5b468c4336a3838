//! Dated changes ⇄ sheets: what was on the car when. Pure: no files, no clock.

mod life;
mod number;
mod relink;
mod sums;
mod versions;

pub use life::{Fitted, Life, Stretch, fitted_on, lives};
pub use number::{Given, VersionNumber};
pub use relink::{Place, Places};
pub use sums::{Dated, Steps, SumError, Summed, sums};
pub use versions::{Entry, Kind, Remark, Setup, Timeline, Version};
