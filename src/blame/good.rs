//! Which setup ran well: the quickest by the model, and the latest that is not slower than it.

use super::estimates::Estimates;
use super::samples::ENOUGH_RUNS;
use super::verdict::{Side, Verdict};
use crate::timeline::Fitted;

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
        self.quickest().first().copied()
    }

    /// The setups with three clean runs or more, the quickest first as the model has it; the latest version of each.
    pub fn quickest(&self) -> Vec<usize> {
        let enough = |v: &usize| self.on_setup(*v).count() >= ENOUGH_RUNS;
        let candidates: Vec<usize> = (0..self.timeline.versions.len()).filter(enough).collect();
        let Some(&first) = candidates.first() else { return Vec::new() };
        // Less is quicker in draws, whatever the number.
        let Some(fit) = self.kept.fit.as_ref() else { return Vec::new() };
        let worth = |v: usize| fit.mean(&fit.step(self.setup(first), self.setup(v)));
        let mut setups: Vec<(usize, f64)> = Vec::new();
        for v in candidates.iter().rev() {
            if !setups.iter().any(|(known, _)| self.setup(*known) == self.setup(*v)) {
                setups.push((*v, worth(*v)));
            }
        }
        // Of two alike the one that came first.
        setups.reverse();
        setups.sort_by(|a, b| a.1.total_cmp(&b.1));
        setups.into_iter().map(|(v, _)| v).collect()
    }

    /// The quickest setup, of those on the car at the version `from` or later, whose parts go along, where `stays` says which
    /// do not; with the quicker ones passed over, each with the parts that stay.
    pub fn start_from(
        &self,
        from: usize,
        stays: &dyn Fn(&Fitted) -> bool,
    ) -> (Option<usize>, Vec<(usize, Vec<Fitted>)>) {
        let mut passed = Vec::new();
        for v in self.quickest().into_iter().filter(|v| *v >= from) {
            let parts: Vec<Fitted> = self.timeline.versions[v].fitted.iter().filter(|f| stays(f)).cloned().collect();
            if parts.is_empty() {
                return (Some(v), passed);
            }
            passed.push((v, parts));
        }
        (None, passed)
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
