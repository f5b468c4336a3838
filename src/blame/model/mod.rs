//! The model: what every step of the sheet is worth, from all runs of the book at once.

mod columns;
mod design;
mod fit;
#[cfg(test)]
mod golden;
mod priors;
mod propagation;
mod record;
mod seasons;

pub use design::{Column, Design, Level, Levels, levels_of};
pub use fit::{ChannelFit, Fit, fit};
pub use priors::{Channel, Settings};
pub use record::{Asked, LeftOut, Record, Used};
