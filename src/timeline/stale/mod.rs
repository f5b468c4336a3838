//! What a measured value is worth now: when it was taken, and what that moves it was changed since.
//!
//! Turning a setting back does not make the old reading fresh again, but it is said what was read when the car was set
//! like that.

mod notes;
mod walk;

pub use notes::{always_so, moved_before, noted_again};
pub use walk::{Step, Walk};

use super::VersionNumber;
use crate::schema::Value;
use crate::slip::Moment;

/// When a value was taken: recorded, changed, or found as it was.
#[derive(Debug, Clone, PartialEq, Eq, serde::Serialize, serde::Deserialize)]
pub struct Taken {
    /// When.
    pub at: Moment,
    /// The version on the car then.
    pub version: VersionNumber,
}

/// A change of something that moves the value, made after it was taken.
#[derive(Debug, Clone, PartialEq, Eq, serde::Serialize, serde::Deserialize)]
pub struct Cause {
    /// The version it made.
    pub version: VersionNumber,
    /// When.
    pub at: Moment,
    /// What was changed: keys.
    pub fields: Vec<String>,
    /// In words.
    pub words: Vec<String>,
}

/// What was read before when everything that moves the value was set as it is now.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Before {
    /// The value; only the slots that are stale now.
    pub value: Value,
    /// When it was taken.
    pub taken: Taken,
}

/// A measured value on the sheet (or some slots of it) that is no fact any more.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Stale {
    /// The field.
    pub key: String,
    /// Its slots that are stale; empty where it has none.
    pub slots: Vec<usize>,
    /// When it was taken; `None` where the record does not say.
    pub taken: Option<Taken>,
    /// What made it stale, oldest first; never empty.
    pub causes: Vec<Cause>,
    /// What was read with the settings of now.
    pub before: Option<Before>,
}

impl Stale {
    /// The change that made it stale; later ones came on top.
    pub fn since(&self) -> &Cause {
        &self.causes[0]
    }
}
