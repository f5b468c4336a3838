//! Two laptops, one car: what each wrote since they were one is brought together.
//!
//! Both lists of dated changes interleave by time and the sums are taken again, so that it is as if all had been entered
//! in one book. What comes of it depends on the two books and the answers alone, not on who joins or when: both laptops
//! make the very same record. Nothing that was written is lost: both histories are its parents.

mod altered;
mod both;
mod car;
mod carry_out;
mod choice;
mod counts;
mod day_comments;
mod days;
mod find;
mod graph;
mod line;
mod mended;
mod order;
mod plan;
mod readings;
mod records;
mod rewritten;
mod runs;
mod side;
mod told;
mod trials;
mod wrote;

pub use carry_out::carry_out_join;
pub use choice::{Decide, Decided, Question, Which};
pub(super) use find::held_in;
pub use find::{Found, find_other};
pub use plan::{Counts, How, JoinPlan, JoinWanted, NewName, NewNumber, Share, Tally, plan_join};
