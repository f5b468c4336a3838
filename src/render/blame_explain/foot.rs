//! Where in the run it lies, what could fool the answer, and what would change it.

use super::super::blame::confound;
use super::super::layout::{Head, Page};
use super::{LABEL, Told, labelled};
use crate::blame::{Confound, Explanation, MOST, Order, Verdict};
use crate::diff::words::visible;
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

/// So much hotter or cooler in the mean is said of the track, F (common practice, no source).
const TRACK_APART_F: f64 = 3.0;

fn order(head: &Head, o: &Order) -> String {
    let track = o.track_hotter_f.filter(|t| t.abs() >= TRACK_APART_F).map_or(String::new(), |t| {
        format!(", the track {:.0} F {} then", t.abs(), if t > 0.0 { "hotter" } else { "cooler" })
    });
    let when = if o.with_later { "later" } else { "first" };
    format!("order: {}, with it always ran {when}{track}", head.day(o.day))
}

/// What could fool the answer.
pub fn fooled(page: &mut Page, head: &Head, told: &Told, e: &Explanation) {
    let mut lines: Vec<String> = Vec::new();
    for c in &e.change.confounds {
        lines.push(match c {
            Confound::NeverOneDay if e.nearest.is_none() => "on this very sheet never both on one day".to_owned(),
            c => confound(c),
        });
    }
    lines.extend(e.order.iter().map(|o| order(head, o)));
    if let Some(track) = &e.one_track {
        lines.push(format!("one track: by hand {} only", visible(track)));
    }
    for bundle in &e.change.bundles {
        let names: Vec<String> = bundle.iter().map(|k| (told.label)(k)).collect();
        lines.push(format!("cannot be told apart: {}", names.join("; ")));
    }
    for r in e.runs.iter().filter(|r| r.counts() < 0.5) {
        let run = told.estimates.runs[r.run].run;
        lines.push(format!(
            "{} counts {:.2}: hardly an ordinary run, and nobody marked it",
            head.when(run.at),
            r.counts()
        ));
    }
    if lines.is_empty() {
        lines.push("nothing that is on record".to_owned());
    }
    page.gap();
    page.line("What could fool this");
    lines.iter().for_each(|l| page.wrap("  ", l));
}
