//! Which setup ran well: the quickest by the model, and the latest that is not slower than it.

use super::estimates::Estimates;
use super::samples::ENOUGH_RUNS;
use super::verdict::{Side, Verdict};

/// Why a version was passed over.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum PassedOver {
    /// Fewer than three clean runs: so many.
    Few(usize),
    /// Against the best.
    Slower(Verdict),
}

impl Estimates<'_> {
    /// The latest version of the quickest setup with three clean runs or more, as the model has it.
    pub fn best(&self) -> Option<usize> {
        self.quickest_first().into_iter().next()
    }

    /// The latest version of every setup with three clean runs or more, the quickest first, as the model has it.
    pub fn quickest_first(&self) -> Vec<usize> {
        let enough = |v: &usize| self.on_setup(*v).count() >= ENOUGH_RUNS;
        let candidates: Vec<usize> = (0..self.timeline.versions.len()).filter(enough).collect();
        let Some(first) = candidates.first().copied() else { return Vec::new() };
        // Less is quicker in draws, whatever the number.
        let Some(fit) = self.kept.fit.as_ref() else { return Vec::new() };
        let worth = |v: usize| fit.mean(&fit.step(self.setup(first), self.setup(v)));
        let mut worths: Vec<(usize, f64)> = candidates.iter().map(|v| (*v, worth(*v))).collect();
        worths.sort_by(|a, b| a.1.total_cmp(&b.1));
        let mut out: Vec<usize> = Vec::new();
        for (v, _) in worths {
            let setup = self.setup(v);
            if !out.iter().any(|known| self.setup(*known) == setup) {
                out.extend(candidates.iter().rev().find(|c| self.setup(**c) == setup));
            }
        }
        out
    }

    /// The latest version that ran well: three clean runs or more, and not likely slower than the best. With the versions
    /// after it that were passed over, each with the reason.
    pub fn last_good(&self) -> Option<(usize, Vec<(usize, PassedOver)>)> {
        let best = self.best()?;
        let mut passed = Vec::new();
        for v in (0..self.timeline.versions.len()).rev() {
            let n = self.on_setup(v).count();
            if n < ENOUGH_RUNS {
                passed.push((v, PassedOver::Few(n)));
                continue;
            }
            match self.compare(best, v).map(|j| j.verdict) {
                Some(verdict) if verdict.side() == Some(Side::Loss) => passed.push((v, PassedOver::Slower(verdict))),
                _ => return Some((v, passed)),
            }
        }
        None
    }
}
