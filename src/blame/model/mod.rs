//! The model: what every step of the sheet is worth, from all runs of the book at once.

mod belief;
mod columns;
mod design;
mod fit;
#[cfg(test)]
mod golden;
mod parts;
mod priors;
mod propagation;
mod record;
mod seasons;

pub use belief::Belief;
pub use design::{Design, Grid, levels_of};
pub(super) use design::{Level, Levels, bundle, patterns};
pub use fit::{Fit, fit};
pub use parts::{Parts, parts};
pub use priors::Settings;
pub use record::{Asked, LeftOut, MOST_SETUPS, Record};
