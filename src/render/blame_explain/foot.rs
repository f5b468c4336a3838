//! Where in the run it lies, and what would change the answer.

use super::super::layout::Page;
use super::{LABEL, labelled};
use crate::blame::{Explanation, MOST, Verdict};
use crate::render::footing::segments;

/// Where in the run it lies, whole stretches to a line.
pub fn places(page: &mut Page, e: &Explanation) {
    let mut line = String::new();
    let mut label = "Where";
    for part in e.change.segments.iter().map(|s| segments(&[*s])) {
        if !line.is_empty() && LABEL + line.len() + 2 + part.len() > page.width() {
            labelled(page, std::mem::take(&mut label), &line);
            line.clear();
        }
        line.push_str(if line.is_empty() { "" } else { "  " });
        line.push_str(&part);
    }
    if !line.is_empty() {
        labelled(page, label, &line);
    }
    if e.change.segments.len() > 1 {
        let same = "each by the runs with clean times for it: they need not add up to the ET";
        labelled(page, "", same);
    }
}

/// What would change the answer.
pub fn would_change(e: &Explanation) -> String {
    let Some(needed) = e.needed else { return settled(e) };
    let how = if e.change.bundles.is_empty() { "back-to-back runs" } else { "back-to-back runs, in halves," };
    match (needed.at_80, needed.at_95) {
        (Some(m), more) => {
            let more = more.map_or(String::new(), |n| format!(", {} of them 19 times out of 20", 2 * n));
            format!("{} {how} settle it 4 times out of 5{more}", 2 * m)
        }
        (None, _) => format!("not even {} {how} would settle it 4 times out of 5", 2 * MOST),
    }
}

/// What would change a verdict that is settled. With two runs on a side it was lowered by a rung, which more runs may lift.
fn settled(e: &Explanation) -> String {
    let sides = &e.change.judged.sides;
    let said = e.change.judged.verdict.words();
    match (sides.without.len().min(sides.with.len()), e.change.judged.verdict) {
        (2, _) => format!("one more run on the side that has 2: with 2 it is said one rung lower, {said}"),
        (_, Verdict::VeryLikely(_)) => format!("little: it is {said}"),
        _ => "nothing likely: it is settled".to_owned(),
    }
}
