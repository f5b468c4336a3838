//! Which change bought the time: the ranking, and the sheet with the origin of each value.

mod json;
mod origins;

pub use json::{effect_json, json};
pub use origins::{fields_json, fields_text};

use super::layout::{Head, Page, counted, ends, signed};
use crate::blame::{Allowed, Asked, Confound, LeftOut, Needed, NotJudged, OPEN, Ranked, Ranking, Side, Verdict};
use crate::pace::Footing;
use crate::slip::Response;
use crate::timeline::VersionNumber;

/// What is told.
pub struct Answer<'a> {
    /// What was asked.
    pub asked: Asked,
    /// The changes.
    pub ranking: &'a Ranking,
    /// What is worth testing.
    pub test: Option<Test<'a>>,
    /// The version on the car, where it is slower than the best.
    pub on_car: Option<OnCar>,
    /// First and last day of the runs that count.
    pub span: Option<(jiff::civil::Date, jiff::civil::Date)>,
    /// The air.
    pub footing: &'a Footing,
    /// What was allowed for.
    pub allowed: Allowed,
    /// Runs without air, and far from a reading, of `runs`.
    pub without_air: (usize, usize),
    /// Runs with a clean number.
    pub runs: usize,
    /// What a field is called.
    pub label: &'a dyn Fn(&str) -> String,
}

/// The version on the car against the best.
pub struct OnCar {
    /// On the car.
    pub version: crate::timeline::VersionNumber,
    /// The best.
    pub best: crate::timeline::VersionNumber,
    /// What is said of it.
    pub verdict: Verdict,
}

/// A change that is not settled, and may be something.
pub struct Test<'a> {
    /// Which.
    pub change: &'a Ranked,
    /// Runs a side that would settle it.
    pub needed: Needed,
}

/// So much left open of what was believed: little chance to tell.
const LITTLE_CHANCE: f64 = 0.6;

/// Narrower than this, the range stands in a line of its own.
const RANGE_NEEDS: usize = 72;

/// As text.
pub fn text(head: &Head, answer: &Answer, top: usize) -> String {
    let Answer { ranking, asked, .. } = answer;
    let span = answer.span.map_or(String::new(), |(a, b)| format!(", {} - {}", head.day(a), head.day(b)));
    let outside = |w: &LeftOut| *w == LeftOut::Outside;
    let left: usize = ranking.left_out.iter().filter(|(w, _)| !outside(w)).map(|(_, n)| n).sum();
    let other: usize = ranking.left_out.iter().filter(|(w, _)| outside(w)).map(|(_, n)| n).sum();
    let other = if other > 0 { format!(", {other} outside these days") } else { String::new() };
    let mut page = head.page(&format!(
        "{}{span}: {} on {}, {left} left out{other}",
        asked.response.label(),
        counted(ranking.counted, "clean run"),
        counted(ranking.days, "day"),
    ));
    let advice = advice(answer);
    advice.iter().for_each(|(label, words)| {
        page.wrap(&if label.is_empty() { String::new() } else { format!("{label:<10}") }, words)
    });
    if !ranking.changes.is_empty() {
        table(&mut page, answer, top);
    }
    page.gap();
    let more = ranking.each_once().count().saturating_sub(top);
    if !ranking.changes.is_empty() {
        let unit = if asked.response.is_speed() { "mph" } else { "s" };
        page.wrap(
            "",
            &format!(
                "{} Allowed for: {}{}. Under {} {unit} is not chased. Minus is {}.",
                super::footing::foot(answer.footing, &asked.response.label(), answer.runs, answer.without_air),
                super::footing::allowed(answer.allowed),
                if answer.footing.reference.is_some() { "" } else { ", not air" },
                asked.matters,
                if asked.response.is_speed() { "slower" } else { "quicker" },
            ),
        );
    }
    if asked.response == Response::Et && !ranking.changes.is_empty() {
        let without = ranking.left_out.iter().any(|(w, _)| *w == LeftOut::No60);
        let more = if without { " Runs without one are left out." } else { "" };
        page.wrap("", &format!("A chassis change shows best in the 60 ft: slipbook blame 60.{more}"));
    }
    let never: Vec<String> =
        ranking.not_judged.iter().filter(|u| u.why == NotJudged::NeverRun).map(|u| u.version.to_string()).collect();
    if !never.is_empty() {
        page.wrap("Never run clean: ", &never.join(", "));
    }
    if more > 0 {
        page.line(format!("{more} more: blame --all"));
    }
    if let Some(first) = ranking.telling(top).first() {
        page.wrap("", &format!("the sums: slipbook blame {} --explain {}", typed(asked.response), first.version));
    }
    page.text()
}

/// The number as it is typed.
pub fn typed(response: Response) -> String {
    match response {
        Response::Time(b) => b.feet().to_string(),
        Response::Speed(_) | Response::Mph => "mph".to_owned(),
        Response::Et => "et".to_owned(),
    }
}

/// What to do: one line each.
fn advice(answer: &Answer) -> Vec<(&'static str, String)> {
    let ranking = answer.ranking;
    let mut out = Vec::new();
    if ranking.counted == 0 {
        out.push(("", none_counts(answer)));
        return out;
    }
    if ranking.changes.is_empty() {
        out.push(("", "Nothing was changed between runs that count: nothing to judge.".to_owned()));
        return out;
    }
    let names = |side: Side, stands: bool| -> Vec<String> {
        ranking.settled(side).filter(|r| r.stands == Some(stands)).map(|r| r.version.to_string()).collect()
    };
    for (label, side, stands) in
        [("Keep", Side::Gain, true), ("Take back", Side::Loss, true), ("Put on", Side::Gain, false)]
    {
        let list = names(side, stands);
        if !list.is_empty() {
            let more = match label {
                "Put on" => ": a gain that is off the car",
                _ => "",
            };
            out.push((label, format!("{}{more}.", list.join(", "))));
        }
    }
    if let Some(on) = &answer.on_car {
        let words = on.verdict.apart(answer.asked.response.is_speed());
        out.push((
            "On now",
            format!("{}: {words} than {}. To go back: slipbook wrench {}", on.version, on.best, on.best),
        ));
    }
    if out.is_empty() {
        let settled = ranking.changes.iter().all(|r| r.judged.verdict == Verdict::Nothing);
        let guess = answer.test.as_ref().map(|t| format!(" Best guess {}.", t.change.version));
        let said = match ranking.settled(Side::Loss).next() {
            _ if settled => "No change did anything worth chasing.".to_owned(),
            Some(_) => "What was very likely a loss is off the car.".to_owned(),
            None => format!("Nothing is settled yet.{}", guess.unwrap_or_default()),
        };
        out.push(("", said));
    }
    if let Some(test) = &answer.test {
        let how = if test.change.bundles.is_empty() { "back to back" } else { "in halves" };
        let runs = match (test.needed.at_80, test.needed.at_95) {
            (Some(m), Some(n)) => {
                format!("{} runs settle it 4 times out of 5, and {} runs 19 times out of 20.", 2 * m, 2 * n)
            }
            (Some(m), None) => format!("{} runs settle it 4 times out of 5.", 2 * m),
            (None, _) => format!("not even {} runs would settle it.", 2 * crate::blame::MOST),
        };
        out.push(("Open", format!("{}, {how}: {runs} Worth it? slipbook trial next", test.change.version)));
    }
    out
}

/// Why no run counts.
fn none_counts(answer: &Answer) -> String {
    let left_out = &answer.ranking.left_out;
    let all = |why: LeftOut| !left_out.is_empty() && left_out.iter().all(|(w, _)| *w == why);
    match () {
        () if all(LeftOut::Marked) => "No run counts: every run is marked bad up to there.".to_owned(),
        () if all(LeftOut::NoNumber) => {
            let other = if answer.asked.response == Response::Et { "60" } else { "et" };
            format!("No run counts: no slip has a {}. Try slipbook blame {other}", answer.asked.response.label())
        }
        () => "No run counts yet.".to_owned(),
    }
}

fn table(page: &mut Page, answer: &Answer, top: usize) {
    let response = answer.asked.response;
    let unit = if response.is_speed() { "mph" } else { "s" };
    let wide = page.width() >= RANGE_NEEDS;
    let row = |worth: &str, range: &str, version: &str| {
        let range = if wide { format!("{range:<20}") } else { String::new() };
        format!("{worth:>6}   {range}{version:<5}")
    };
    page.gap();
    let runs_at = page.width();
    let put = |page: &mut Page, left: String, right: &str| {
        let pad = runs_at.saturating_sub(left.chars().count() + right.len());
        page.line(format!("{left}{}{right}", " ".repeat(pad)));
    };
    put(page, row("worth", "95 times in 100", ""), "runs");
    let heading = format!("{}what was changed", row(unit, "it lies between", ""));
    let sides = if heading.len() + 2 + "without|with".len() <= page.width() { "without|with" } else { "w/o|with" };
    put(page, heading, sides);
    let d = response.decimals();
    for r in answer.ranking.telling(top) {
        let e = &r.judged.effect;
        let (lo, hi) = ends(e.lo95, e.hi95, d);
        let range = format!("{lo} and {hi}");
        let label = row(&signed(e.value, d), &range, &r.version.to_string());
        let indent = " ".repeat(label.chars().count());
        let sides = &r.judged.sides;
        let runs = format!("{}|{}", sides.without.len(), sides.with.len());
        let together = !r.bundles.is_empty();
        let room = page.width().saturating_sub(indent.len() + 9).max(16);
        let mut lines: Vec<String> = Vec::new();
        for words in &r.words {
            lines.extend(textwrap::wrap(&crate::diff::words::visible(words), room).into_iter().map(|l| l.into_owned()));
        }
        let longest = lines.iter().map(|l| l.chars().count()).max().unwrap_or(0);
        let last = lines.len().saturating_sub(1);
        for (i, line) in lines.iter().enumerate() {
            let brace = match i {
                _ if !together || last == 0 => "",
                0 => "\\",
                i if i == last => "/",
                i if i == last / 2 || last == 2 => " >",
                _ => "|",
            };
            let line = if brace.is_empty() { line.clone() } else { format!("{line:<longest$} {brace}") };
            let lead = if i == 0 { &label } else { &indent };
            let right = if i == last / 2 { runs.as_str() } else { "" };
            put(page, format!("{lead}{line}"), right);
        }
        if !wide {
            page.wrap(&indent, &format!("between {range}, 95 times in 100"));
        }
        page.wrap(&indent, &said(r));
        for note in notes(answer, r) {
            page.wrap(&indent, &note);
        }
    }
}

/// The rung in words, with what it rests on where that is little.
pub fn said(r: &Ranked) -> String {
    let fewest = r.judged.sides.without.len().min(r.judged.sides.with.len());
    match r.judged.verdict {
        Verdict::TooEarly => format!("too early to call: {}", counted(fewest, "run")),
        v if fewest == 2 => format!("{}: 2 runs on a side", v.words()),
        v => v.words(),
    }
}

/// What is to be said beside it.
fn notes(answer: &Answer, r: &Ranked) -> Vec<String> {
    doubts(answer.ranking, r, answer.label)
}

/// What speaks against taking a verdict at its word; `label` is what a field is called.
pub fn doubts(ranking: &Ranking, r: &Ranked, label: &dyn Fn(&str) -> String) -> Vec<String> {
    let mut out = Vec::new();
    for bundle in &r.bundles {
        let names: Vec<String> = bundle.iter().map(|k| label(k)).collect();
        let all = r.fields.len() == bundle.len();
        let which = if all { String::new() } else { format!(": {}", names.join(", ")) };
        out.push(format!("changed together: cannot be told apart{which}"));
    }
    let others = toggles(ranking, r);
    if !others.is_empty() {
        out.push(format!("toggled: {} too", others.join(", ")));
    }
    if !r.one_of_two.is_empty() && r.judged.verdict != Verdict::Nothing {
        out.push(one_of_two(&r.one_of_two));
    }
    if (LITTLE_CHANCE..=OPEN).contains(&r.judged.open) && !r.judged.verdict.settled() {
        out.push("these runs had little chance to tell".to_owned());
    }
    out.extend(r.confounds.iter().map(confound));
    out
}

/// "this or v9: one of them, these runs hardly part them"
pub fn one_of_two(others: &[VersionNumber]) -> String {
    let others: Vec<String> = others.iter().map(ToString::to_string).collect();
    format!("this or {}: one of them, these runs hardly part them", others.join(", "))
}

fn toggles(ranking: &Ranking, r: &Ranked) -> Vec<String> {
    let of = |v: &usize| ranking.changes.iter().find(|o| o.index.1 == *v).map(|o| o.version.to_string());
    r.judged.sides.toggles.iter().filter(|v| **v != r.index.1).filter_map(of).collect()
}

/// What could fool it, in words.
pub fn confound(c: &Confound) -> String {
    match c {
        Confound::NeverOneDay => "never both on one day".to_owned(),
        Confound::Air(percent) => {
            format!("air {:.0} % {} with it", percent.abs(), if *percent > 0.0 { "thicker" } else { "thinner" })
        }
        Confound::Wear(passes) => {
            format!("tires {:.0} passes {} with it", passes.abs(), if *passes > 0.0 { "older" } else { "younger" })
        }
        Confound::Engine => "an engine or launch setting changed too".to_owned(),
        Confound::Tracks => "at another track".to_owned(),
        Confound::Lane => "each side in a lane of its own".to_owned(),
        Confound::Order(later) => {
            format!("with it always ran {} that day", if *later { "later" } else { "earlier" })
        }
    }
}
