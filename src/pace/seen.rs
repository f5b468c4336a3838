//! A run with what a comparison needs of it.

use super::Footing;
use crate::slip::{Beam, Day, Response, Run};

/// Times at the beams, s; `None` = not on the slip, or not clean to there.
pub type Splits = [Option<f64>; Beam::ALL.len()];

/// A run with its day, its version and its air.
#[derive(Debug, Clone, Copy)]
pub struct Seen<'a> {
    /// The run.
    pub run: &'a Run,
    /// Its day.
    pub day: &'a Day,
    /// Index of its version.
    pub version: usize,
    /// It was made within a window in which something changed: it counts for neither side.
    pub unsure: bool,
    /// What all runs are carried to.
    pub footing: &'a Footing,
}

impl Seen<'_> {
    /// The run's number in the air all runs are carried to, if the run was clean to there; as run where the book has no air.
    pub fn number(&self, response: Response, finish_ft: u32) -> Option<f64> {
        let raw = self.raw(response, finish_ft)?;
        Some(self.footing.carried(self.run, self.day, response.at_beam(finish_ft), raw))
    }

    /// The run's number as run.
    pub fn raw(&self, response: Response, finish_ft: u32) -> Option<f64> {
        response.of(self.run, self.day, finish_ft)
    }

    /// The clean times at the beams, in the order of [`Beam::ALL`], in one air.
    pub fn splits(&self) -> Splits {
        Beam::ALL.map(|b| self.number(Response::Time(b), b.feet()))
    }
}
