//! Which sheet a run belongs to once the line of versions is another.

use super::{Entry, Timeline, VersionNumber};
use crate::slip::{Moment, Run};

/// A record of the line that says something of the sheet.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Place {
    /// When.
    pub at: Moment,
    /// The version on the car from there on.
    pub number: VersionNumber,
    /// Store id of the sheet after it.
    pub blob: String,
}

/// The line of a book, oldest first.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Places(pub Vec<Place>);

impl Places {
    /// What was on the car at a moment; a change at the very second is already on it.
    pub fn at(&self, moment: Moment) -> Option<&Place> {
        self.0.partition_point(|p| p.at.seconds <= moment.seconds).checked_sub(1).map(|i| &self.0[i])
    }

    /// The end of a version.
    pub fn end_of(&self, number: &VersionNumber) -> Option<&Place> {
        self.0.iter().rfind(|p| p.number == *number)
    }

    /// Where a run belongs now: one that was on the sheet of its time stays with its time; one that was put on a version
    /// by name stays with that version as long as there is one.
    pub fn of_run(&self, before: &Timeline, run: &Run) -> Option<&Place> {
        let was = before.of_run(run);
        let by_name = was.filter(|v| before.at(run.at) != Some(*v)).map(|v| &before.versions[v].number);
        by_name.and_then(|n| self.end_of(n)).or_else(|| self.at(run.at)).or(self.0.first())
    }
}

impl Timeline {
    /// Its line.
    pub fn places(&self) -> Places {
        let place = |(i, entry): (usize, &Entry)| Place {
            at: entry.at,
            number: self.versions[i].number.clone(),
            blob: entry.blob.clone(),
        };
        Places(self.records().map(place).collect())
    }
}
