//! What a run would have been in other air, and what the next one will be: every run on one footing.

mod backtest;
mod believed;
mod car;
mod conditions;
mod expect;
mod explain;
mod exponent;
mod footing;
#[cfg(test)]
mod golden;
mod model;
mod row;
mod seen;
mod standing;
mod usual;

pub use backtest::{Backtest, Habit, Tried, backtest};
pub use believed::{Believed, believed};
pub use car::{CarFacts, weight_lb};
pub use conditions::{Conditions, conditions};
pub use expect::{Asked, Expected, SpreadOf, expect, looked_at};
pub use explain::{Explained, Physics, Step, explain};
pub use exponent::{DRAG_ON_SPEED, Exponent, Exponents};
pub use footing::{FAR_MINUTES, Footing, FootingOf, Made, Reference};
pub use row::{Ground, Row};
pub use seen::{Seen, Splits};
pub use standing::Standing;
pub use usual::{AssumedBy, UNREAD_LOG_SD, reading_log_sd};
