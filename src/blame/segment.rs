//! Where in the run a difference lies: the start, or the back half.

use crate::pace::{Seen, Splits};
use crate::slip::Beam;
use crate::stats::Sample;

/// A stretch between two beams, on two sets of runs.
#[derive(Debug, Clone, Copy, PartialEq, serde::Serialize)]
pub struct Segment {
    /// Where it begins, ft.
    pub from_ft: u32,
    /// Where it ends, ft.
    pub to_ft: u32,
    /// Of the second's times for it minus the first's, s, in one air.
    pub apart_s: f64,
    /// Clean times for it in the first.
    pub n_a: usize,
    /// In the second.
    pub n_b: usize,
}

/// What of the times is compared: as the table beside it does.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum By {
    /// Their median.
    Middle,
    /// Their mean.
    Mean,
}

/// The splits of some runs.
pub fn splits(runs: &[Seen]) -> Vec<Splits> {
    runs.iter().map(Seen::splits).collect()
}

/// The stretches both sets have clean times for, from the start on. A beam that one of them never has is passed over: the
/// stretch then reaches to the next.
pub fn segments(a: &[Splits], b: &[Splits], by: By) -> Vec<Segment> {
    let mut out = Vec::new();
    let mut from: Option<usize> = None;
    for (i, to) in Beam::ALL.into_iter().enumerate() {
        let one = |s: &Splits| Some(s[i]? - from.map_or(Some(0.0), |f| s[f])?);
        let times = |runs: &[Splits]| Sample::new(runs.iter().filter_map(one));
        let (ta, tb) = (times(a), times(b));
        let of = |s: &Sample| if by == By::Mean { s.mean() } else { s.middle() };
        if let (Some(ma), Some(mb)) = (of(&ta), of(&tb)) {
            let from_ft = from.map_or(0, |f| Beam::ALL[f].feet());
            out.push(Segment { from_ft, to_ft: to.feet(), apart_s: mb - ma, n_a: ta.n(), n_b: tb.n() });
            from = Some(i);
        }
    }
    out
}
