//! Did a change make the car steadier.

use super::layout::{Head, Page, counted};
use crate::blame::Asked;
use crate::blame::steady::{LEAST_RUNS, MoreRuns, Repeats, Side, Steadier, Steadies, Steady};
use crate::pace::Footing;
use crate::timeline::Timeline;
use serde_json::{Value as Json, json};

/// What is told.
pub struct Answer<'a> {
    /// What was asked.
    pub asked: Asked,
    /// The versions.
    pub timeline: &'a Timeline,
    /// The changes and the setup on the car.
    pub told: &'a Steadies,
    /// Runs that count.
    pub counted: usize,
    /// The air.
    pub footing: &'a Footing,
}

/// As text.
pub fn text(head: &Head, answer: &Answer) -> String {
    let response = answer.asked.response;
    let mut page = head.page(&format!(
        "scatter from run to run in the {}: {}",
        response.label(),
        counted(answer.counted, "clean run")
    ));
    if let Some(now) = &answer.told.now {
        on_the_car(&mut page, answer, now);
    }
    let (enough, few): (Vec<&Steady>, Vec<&Steady>) =
        answer.told.changes.iter().partition(|s| !matches!(s.said, Steadier::TooFew { .. }));
    let settled = enough.iter().filter(|s| s.said.settled().is_some()).count();
    match (enough.len(), settled) {
        (0, _) => page.wrap("", "No change has enough runs on both sides to tell."),
        (_, 0) => page.wrap("", "No change is known to have made it steadier or wilder."),
        _ => {}
    }
    if !enough.is_empty() {
        page.gap();
        let unit = if response.is_speed() { "mph" } else { "s" };
        if page.width() >= COLUMNS_NEED {
            heads(&mut page, unit);
        } else {
            page.wrap("", &format!("scatter, {unit}, without and with; the ratio, 95 in 100 it lies in; runs"));
        }
        enough.iter().for_each(|s| one(&mut page, answer, s));
    }
    if !few.is_empty() {
        page.gap();
        page.line("Too few runs in pairs on one day:");
        for s in few {
            let Steadier::TooFew { without, with } = s.said else { continue };
            let version = number(answer, s.index.0);
            let want = match (without, with) {
                (0, n) => format!("{n} more with it"),
                (n, 0) => format!("{n} more without it"),
                (a, b) if a == b => format!("{a} more a side"),
                (a, b) => format!("{a} more without it, {b} with it"),
            };
            page.wrap(&format!("  {version:<5}"), &format!("{}: {want}{}", s.words.join(", "), left_out(s)));
        }
    }
    page.gap();
    page.wrap("", &foot(answer));
    page.text()
}

/// Narrower than this there are no columns.
const COLUMNS_NEED: usize = 68;

fn heads(page: &mut Page, unit: &str) {
    page.line(format!("{:>13}  {:>5}  {:<14}{:>11}", format!("scatter, {unit}"), "", "95 in 100", "runs"));
    page.line(format!(
        "{:>13}  {:>5}  {:<14}{:>11}   what was changed",
        "without|with", "ratio", "it lies in", "w/o|with"
    ));
}

fn foot(answer: &Answer) -> String {
    let air = match answer.footing.reference {
        Some(_) => "in one air",
        None => "as run (no air on record)",
    };
    format!(
        "About the mean of each setup and day, {air}; marked runs and those the model takes for no ordinary ones left out. A side needs {LEAST_RUNS} runs. Of twenty changes that did nothing one looks steadier or wilder."
    )
}

fn on_the_car(page: &mut Page, answer: &Answer, now: &Repeats) {
    let d = answer.asked.response.decimals();
    let unit = if answer.asked.response.is_speed() { "mph" } else { "s" };
    let clean = now.side.runs + now.side.lone + now.side.improbable;
    let mut said = format!("{} on {}", counted(clean, "clean run"), counted(now.days, "day"));
    if let Some(sd) = now.side.sd {
        said.push_str(&format!("; from run to run {sd:.d$} {unit}"));
    }
    if let Some(half) = now.half_within {
        said.push_str(&format!("; half lie within {half:.d$} of their middle"));
    }
    if let Some(most) = now.nine_in_ten_within {
        said.push_str(&format!(", nine in ten within {most:.d$}"));
    }
    said.push_str(&odd(&now.side));
    page.wrap(&format!("On the car, {}: ", number(answer, now.version)), &format!("{said}."));
}

/// `, 1 marked, 2 improbable`
fn odd(side: &Side) -> String {
    let mut out = String::new();
    for (n, what) in [(side.marked, "marked"), (side.improbable, "improbable")] {
        if n > 0 {
            out.push_str(&format!(", {n} {what}"));
        }
    }
    out
}

fn one(page: &mut Page, answer: &Answer, s: &Steady) {
    let d = answer.asked.response.decimals();
    let sd = |side: &Side| side.sd.map_or_else(|| "-".to_owned(), |sd| format!("{sd:.d$}"));
    let both = format!("{}|{}", sd(&s.sides[0]), sd(&s.sides[1]));
    let runs = format!("{}|{}", s.sides[0].runs, s.sides[1].runs);
    let (ratio, range) = match &s.said {
        Steadier::Ratio(r, _) => (format!("{:.2}", r.ratio), format!("{:.2} to {:.2}", r.lo, r.hi)),
        _ => ("-".to_owned(), String::new()),
    };
    if page.width() < COLUMNS_NEED {
        page.wrap(&format!("{:<5}", number(answer, s.index.0)), &s.words.join(", "));
        let range = if range.is_empty() { range } else { format!(" ({range})") };
        page.wrap("     ", &format!("scatter {both}, ratio {ratio}{range}, runs {runs}"));
        page.wrap("     ", &format!("{}{}", verdict(s), left_out(s)));
        return;
    }
    let label = format!("{both:>13}  {ratio:>5}  {range:<14}{runs:>11}   {:<5}", number(answer, s.index.0));
    page.wrap(&label, &s.words.join(", "));
    let indent = " ".repeat(15);
    page.wrap(&indent, &format!("{}{}", verdict(s), left_out(s)));
}

fn verdict(s: &Steady) -> String {
    let Steadier::Ratio(_, more) = &s.said else { return "cannot tell: there is nothing to compare".to_owned() };
    match s.said.settled() {
        Some(true) => "steadier: the range leaves out 1".to_owned(),
        Some(false) => "wilder: the range leaves out 1".to_owned(),
        None => format!("cannot tell; {}", wanted(*more)),
    }
}

/// How many more would settle it.
fn wanted(more: MoreRuns) -> String {
    let runs = |n: Option<usize>| match n {
        None => "no number of runs".to_owned(),
        Some(0) => "these runs".to_owned(),
        Some(n) => format!("{n} more a side"),
    };
    match (more.halving, more.seen) {
        (h, Some(s)) if s <= MOST_SAID => {
            format!("4 times out of 5 {} would show half the scatter, {} a ratio as seen", runs(h), runs(Some(s)))
        }
        (h, _) => {
            format!("4 times out of 5 {} would show half the scatter; one as seen is too near 1 to settle", runs(h))
        }
    }
}

/// More runs than this nobody makes on one setup.
const MOST_SAID: usize = 200;

fn left_out(s: &Steady) -> String {
    let total = |f: fn(&Side) -> usize| s.sides.iter().map(f).sum::<usize>();
    let parts = [
        (total(|s| s.marked), "marked"),
        (total(|s| s.improbable), "improbable"),
        (total(|s| s.lone), "alone on their day"),
    ];
    let said: Vec<String> = parts.iter().filter(|(n, _)| *n > 0).map(|(n, w)| format!("{n} {w}")).collect();
    if said.is_empty() { String::new() } else { format!(" (left out: {})", said.join(", ")) }
}

fn number(answer: &Answer, version: usize) -> String {
    answer.timeline.versions[version].number.to_string()
}

/// As JSON.
pub fn json(head: &Head, answer: &Answer) -> Json {
    let unit = if answer.asked.response.is_speed() { "mph" } else { "s" };
    let side = |s: &Side| {
        let mut out = json!({ "n": s.runs, "lone": s.lone, "marked": s.marked, "improbable": s.improbable });
        if let Some(map) = out.as_object_mut() {
            map.insert(format!("sd_{unit}"), json!(s.sd));
        }
        out
    };
    let number = |v: usize| &answer.timeline.versions[v].number;
    let change = |s: &Steady| {
        let (too_few, ratio, more) = match &s.said {
            Steadier::TooFew { without, with } => (Some(json!({ "without": without, "with": with })), None, None),
            Steadier::NoRatio => (None, None, None),
            Steadier::Ratio(r, m) => (None, Some(r), Some(m)),
        };
        json!({
            "version": number(s.index.0), "before": number(s.index.1), "words": s.words, "fields_judged": s.keys,
            "without": side(&s.sides[0]), "with": side(&s.sides[1]), "evidence": s.said.key(), "more_needed": too_few,
            "ratio": ratio.map(|r| r.ratio), "lo95": ratio.map(|r| r.lo), "hi95": ratio.map(|r| r.hi), "kurtosis": ratio.map(|r| r.kurtosis),
            "p_alike": ratio.map(|r| r.chance), "more_a_side_80": more,
        })
    };
    let now = answer.told.now.as_ref().map(|n| {
        let mut out = json!({ "version": number(n.version), "runs": side(&n.side), "days": n.days });
        if let Some(map) = out.as_object_mut() {
            map.insert(format!("half_within_{unit}"), json!(n.half_within));
            map.insert(format!("nine_in_ten_within_{unit}"), json!(n.nine_in_ten_within));
        }
        out
    });
    json!({
        "car": head.car, "response": answer.asked.response.key(), "unit": unit, "counted": answer.counted, "on_car": now,
        "changes": answer.told.changes.iter().map(change).collect::<Vec<_>>(), "one_air": super::footing::json(answer.footing),
    })
}
