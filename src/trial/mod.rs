//! Trials: a planned back-to-back of two setups, A, B, A again. The file that keeps one, the order it is run in, the runs
//! that belong to it and what comes next. Pure: no repository, no clock, no verdicts.

mod file;
mod marks;
mod order;
mod read;
mod side;
mod standing;
mod write;

pub use file::{Arm, Dropped, End, Judged, Trial, name_fault, path_of, slug_of_path};
pub use marks::{TrialMark, trial_marks};
pub use order::{Drift, Pit, Proposal, candidates, propose, sd_of};
pub use read::{LARGEST_TRIAL, read_trial};
pub use side::{LEAST_RUNS, MOST_RUNS, Order, Side};
pub use standing::{Counted, LeftOut, Next, Standing, TrialRun, standing};
pub use write::{with_dropped, with_judged, write_trial};
