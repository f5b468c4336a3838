//! Which versions of the history were made for a trial.

use super::{End, Trial};
use crate::timeline::Timeline;

/// A trial beside a version.
#[derive(Debug, Clone, PartialEq, Eq, serde::Serialize)]
pub struct TrialMark {
    /// The trial's name.
    pub name: String,
    /// How it ended, on the last of its versions: "judged", "dropped".
    pub ended: Option<&'static str>,
}

impl TrialMark {
    /// `trial "clamps", judged`.
    pub fn words(&self) -> String {
        let ended = self.ended.map(|e| format!(", {e}")).unwrap_or_default();
        format!("trial \"{}\"{ended}", self.name)
    }
}

/// For each version the trials it was made for: those of one of the two setups that began on the days of the trial, and the
/// one that was tried, whenever it began.
pub fn trial_marks(trials: &[Trial], timeline: &Timeline) -> Vec<Vec<TrialMark>> {
    let mut out: Vec<Vec<TrialMark>> = vec![Vec::new(); timeline.versions.len()];
    for trial in trials {
        let of = |arm: &super::Arm| timeline.by_number(&arm.version);
        let (Some(a), Some(b)) = (of(&trial.a), of(&trial.b)) else { continue };
        let marks = [timeline.versions[a].mark, timeline.versions[b].mark];
        let ends = trial.ended().map(|e| e.seconds);
        let began = trial.started.race_day();
        let made_for = |i: &usize| {
            let v = &timeline.versions[*i];
            let meanwhile = v.entry.at.race_day() >= began && ends.is_none_or(|end| v.entry.at.seconds <= end);
            *i == b || (meanwhile && marks.contains(&v.mark))
        };
        let made: Vec<usize> = (0..timeline.versions.len()).filter(made_for).collect();
        for i in &made {
            let ended = match &trial.end {
                Some(End::Judged(_)) if Some(i) == made.last() => Some("judged"),
                Some(End::Dropped(_)) if Some(i) == made.last() => Some("dropped"),
                _ => None,
            };
            out[*i].push(TrialMark { name: trial.name.clone(), ended });
        }
    }
    out
}
