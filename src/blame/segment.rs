//! Where in the run a difference lies: the start, or the back half.

use crate::pace::Seen;
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

/// The stretches both sets have clean times for, from the start on. A beam that one of them never has is passed over: the
/// stretch then reaches to the next.
pub fn segments(a: &[Seen], b: &[Seen], by: By) -> Vec<Segment> {
    let mut out = Vec::new();
    let mut from: Option<Beam> = None;
    for to in Beam::ALL {
        let times = |runs: &[Seen]| Sample::new(runs.iter().filter_map(|s| s.segment(from, to)));
        let (ta, tb) = (times(a), times(b));
        let of = |s: &Sample| if by == By::Mean { s.mean() } else { s.middle() };
        if let (Some(ma), Some(mb)) = (of(&ta), of(&tb)) {
            let from_ft = from.map_or(0, Beam::feet);
            out.push(Segment { from_ft, to_ft: to.feet(), apart_s: mb - ma, n_a: ta.n(), n_b: tb.n() });
            from = Some(to);
        }
    }
    out
}
