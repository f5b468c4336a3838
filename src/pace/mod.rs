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
mod row;
mod seen;

pub use backtest::{Backtest, Habit, Tried, backtest};
pub use car::{CarFacts, weight_lb};
pub use conditions::{Conditions, conditions};
pub use expect::{Asked, Expected, Known, SpreadOf, expect};
pub use explain::{Explained, Physics, Step, explain};
pub use exponent::{Exponent, Exponents};
pub use footing::{FAR_MINUTES, Footing, FootingOf, Made, Reference, Standing};
pub use seen::Seen;
