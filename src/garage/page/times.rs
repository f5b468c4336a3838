//! The times of a page: they go on from line to line.

use super::{PageWanted, Read};
use crate::slip::{Moment, Said};

/// The lines that can be read, in the order of time, each with its time: times of a page go on.
pub(super) fn times(read: &[Read], moments: &[Option<Moment>]) -> Vec<(usize, Moment)> {
    let mut order: Vec<usize> = (0..read.len()).collect();
    order.sort_by_key(|i| moments[*i].map(|m| m.seconds));
    let mut out = Vec::with_capacity(order.len());
    let mut latest: Option<Moment> = None;
    let mut run_at: Option<Moment> = None;
    for i in order {
        let (Ok(said), Some(at)) = (&read[i], moments[i]) else { continue };
        let mut at = latest.map_or(at, |l| at.max(l));
        match said {
            Said::Run(_) => run_at = Some(at),
            // A change written below a run of the same minute came after it: by a second, so that the run is not on it.
            Said::Change(..) if run_at == Some(at) => at = at.plus(1),
            _ => {}
        }
        latest = Some(at);
        out.push((i, at));
    }
    out
}

/// Whether the machine's zone is that of the day: its offset is one the zone has on that day.
pub(super) fn same_zone(wanted: &PageWanted, offset: i32) -> bool {
    let hours = [6, 12, 23];
    hours.iter().any(|h| {
        let at = Moment::in_zone(wanted.date.at(*h, 0, 0, 0), wanted.zone);
        at.is_some_and(|m| m.offset_seconds == offset)
    })
}

/// Each time that stands below a later one, with that one.
pub(super) fn out_of_order(moments: &[Option<Moment>]) -> Vec<(Moment, Moment)> {
    let mut latest: Option<Moment> = None;
    let mut out = Vec::new();
    for at in moments.iter().flatten() {
        match latest {
            Some(latest) if *at < latest => out.push((*at, latest)),
            _ => latest = Some(*at),
        }
    }
    out
}
