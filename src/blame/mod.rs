//! Which change preceded what: timeline + runs → one model → estimates and verdicts, computed once.

mod allowed;
mod estimates;
mod explain;
mod fields;
mod good;
mod kept;
pub mod levels;
mod model;
mod more;
mod next;
pub mod package;
mod pieces;
mod ranking;
mod samples;
mod segment;
mod sides;
pub mod steady;
mod story;
mod verdict;

pub use allowed::Allowed;
pub use estimates::{Book, Estimates, Judged};
pub use explain::{ByHand, Did, Explanation, How, Order, RunLeft, RunTold, SheetTold};
pub use fields::{FieldOrigin, Sheets, origins};
pub use good::PassedOver;
pub use kept::{Kept, Move, Told as Foreseen};
pub use model::{Asked, Belief, LeftOut, MOST_SETUPS};
pub use more::{MOST, More, Needed};
pub use next::{RUNS_A_SIDE, Toggle, Worth, toggles};
pub use ranking::{Confound, NotJudged, Ranked, Ranking, Unjudged};
pub use samples::{ENOUGH_RUNS, Samples};
pub use segment::{By, Segment, segments, splits};
pub use sides::Sides;
pub use story::{Apart, Held, Spot, Told, apart, held, spot, told, where_apart};
pub use verdict::{Effect, MATTERS_S, OPEN, Side, Verdict};
