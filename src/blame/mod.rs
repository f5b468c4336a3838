//! Which change preceded what: timeline + runs → differences and verdicts, computed once.

mod fields;
mod judge;
mod ranking;
mod segment;
mod story;

pub use fields::{FieldOrigin, Sheets, origins};
pub use judge::{CONFIDENCE, ENOUGH_RUNS, Judge, Verdict};
pub use ranking::{Ranked, Ranking, rank};
pub use segment::{By, Segment, segments, splits};
pub use story::{Apart, Held, Spot, Told, apart, held, told, where_apart};
