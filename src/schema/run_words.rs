//! The fixed words of a run and a day.

use super::Num;
use serde::Deserialize;

/// A word of the fixed list with the ways to type it, and what it says about the run.
#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct RunWord {
    /// The word kept.
    pub word: String,
    /// Other ways to type it.
    #[serde(default)]
    pub says: Vec<String>,
    /// How far the run still counts when it is said without a place.
    pub clean_to: Option<String>,
    /// The reason it stands for.
    pub why_not: Option<String>,
}

/// A number of a run, or a reading of a day (`schema/run.toml`).
#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct RunNumber {
    /// Key in the day file: `ft60`.
    pub name: String,
    /// What it is called.
    pub label: String,
    /// Stored unit.
    pub unit: String,
    /// Decimals written.
    pub decimals: u32,
    /// Outside: refused.
    pub possible: [Num; 2],
    /// The field of the sheet (and its slot) that says what it is set to: a number far from that is asked about.
    pub of: Option<String>,
    /// Words that name it when it is typed.
    #[serde(default)]
    pub says: Vec<String>,
}

/// The fixed words of a run and a day (`schema/run.toml`).
#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
#[allow(missing_docs, reason = "named as in schema/run.toml")]
pub struct RunWords {
    pub format: u32,
    pub beams_ft: Vec<u32>,
    pub finishes_ft: Vec<u32>,
    pub lanes: Vec<String>,
    pub rounds: Vec<String>,
    pub clean_to: Vec<String>,
    pub staged: Vec<String>,
    pub psi_taken: Vec<String>,
    pub sun: Vec<String>,
    pub why_not: Vec<RunWord>,
    pub did: Vec<RunWord>,
    pub number: Vec<RunNumber>,
    pub reading: Vec<RunNumber>,
}

impl RunWords {
    /// The number called `name`.
    pub fn number(&self, name: &str) -> Option<&RunNumber> {
        self.number.iter().find(|n| n.name == name)
    }
}
