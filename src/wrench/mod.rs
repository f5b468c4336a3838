//! What to turn, to go from one sheet to another: a list of steps by where a hand stands, in an order in which nothing
//! that was set is moved again, with what must be measured after it. Pure: no files, no clock.

mod after;
mod caution;
mod order;
mod place;
mod plan;
mod reach;
mod step;

pub use after::{Expected, Remeasure};
pub use caution::Caution;
pub use place::{Headline, Place, Places, places};
pub use plan::{List, Stretch, Wanted, plan};
pub use reach::{Near, Unreachable};
pub use step::{Step, Work};
