//! Where in the run it lies, and what would change the answer.

use super::super::layout::Page;
use super::{LABEL, labelled};
use crate::blame::{Explanation, MOST};
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
}

/// What would change the answer.
pub fn would_change(e: &Explanation) -> String {
    let Some(needed) = e.needed else { return "nothing likely: it is settled".to_owned() };
    let how = if e.change.bundles.is_empty() { "back-to-back runs" } else { "back-to-back runs, in halves," };
    match (needed.at_80, needed.at_95) {
        (Some(m), more) => {
            let more = more.map_or(String::new(), |n| format!(", {} of them 19 times out of 20", 2 * n));
            format!("{} {how} settle it 4 times out of 5{more}", 2 * m)
        }
        (None, _) => format!("not even {} {how} would settle it 4 times out of 5", 2 * MOST),
    }
}
