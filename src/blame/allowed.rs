//! What the model had to allow for: nothing is allowed for that is not on record.

use super::Estimates;
use crate::pace::Seen;

/// Of day, wear and drift there is always something on record; of these not.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Allowed {
    /// Some run has air.
    pub air: bool,
    /// Some run that counts has a lane.
    pub lanes: bool,
    /// The runs that count were made at two tracks or more.
    pub tracks: bool,
}

impl Allowed {
    /// Of some runs.
    pub fn of<'a>(runs: impl Iterator<Item = &'a Seen<'a>>) -> Allowed {
        let mut out = Allowed { air: false, lanes: false, tracks: false };
        let mut track: Option<String> = None;
        for s in runs {
            out.air |= s.footing.reference.is_some();
            out.lanes |= s.run.lane.is_some();
            let here = s.day.track.to_lowercase();
            out.tracks |= track.get_or_insert_with(|| here.clone()) != &here;
        }
        out
    }
}

impl Estimates<'_> {
    /// Of the runs that count.
    pub fn allowed(&self) -> Allowed {
        Allowed::of(self.used().iter().map(|r| &self.runs[*r]))
    }
}
