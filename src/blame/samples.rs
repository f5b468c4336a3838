//! The clean numbers of every setup, side by side: plain middles, no verdicts.

use crate::pace::Seen;
use crate::slip::Response;
use crate::stats::Sample;
use crate::timeline::Timeline;

/// Under this many clean runs a middle says little.
pub const ENOUGH_RUNS: usize = 3;

/// The clean numbers of every setup, in one air and as run.
pub struct Samples {
    /// What is asked.
    pub response: Response,
    /// By setup: index into `Timeline::setups` order.
    samples: Vec<Sample>,
    /// The same as run.
    raw: Vec<Sample>,
    /// Setup of each version.
    setup_of: Vec<usize>,
}

impl Samples {
    /// Sorts the runs by setup.
    pub fn new(timeline: &Timeline, runs: &[Seen], finish_ft: u32, response: Response) -> Samples {
        let setups = timeline.setups();
        let setup_of = timeline.setup_of(&setups);
        let mut values: Vec<Vec<f64>> = vec![Vec::new(); setups.len()];
        let mut raw = values.clone();
        for seen in runs.iter().filter(|s| !s.unsure) {
            if let Some(x) = seen.number(response, finish_ft) {
                values[setup_of[seen.version]].push(x);
                raw[setup_of[seen.version]].extend(seen.raw(response, finish_ft));
            }
        }
        let sorted = |v: Vec<Vec<f64>>| v.into_iter().map(Sample::new).collect();
        Samples { response, samples: sorted(values), raw: sorted(raw), setup_of }
    }

    /// The clean numbers of the setup a version is.
    pub fn of(&self, version: usize) -> &Sample {
        &self.samples[self.setup_of[version]]
    }

    /// The same as run, in whatever air there was.
    pub fn raw(&self, version: usize) -> &Sample {
        &self.raw[self.setup_of[version]]
    }

    /// Index of the setup a version is.
    pub fn setup(&self, version: usize) -> usize {
        self.setup_of[version]
    }
}
