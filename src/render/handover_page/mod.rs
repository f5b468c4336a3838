//! The page that goes with a handover: one sheet of paper, for whoever has the car next.

mod told;

use super::layout::{Head, Page, counted, ends, signed};
use crate::garage::ContentId;
use crate::text::shell_word;
pub use told::{BeatenBy, Before, Best, HandoverPage, Passed, Start, Told};

/// What the page ends with.
pub const CLOSING: &str = "This is history, not advice: what ran well on this car, in its air, on its tracks. \
    Tech inspection and class rules decide what may run. Measure the car before you rely on a number.";

/// Lines of a page, without the mark below it.
const LINES: usize = 65;

/// Changes told on each list, as many as leave it one page.
const MOST: usize = 6;

/// Fewer are never told.
const FEWEST: usize = 2;

/// Quicker setups told that need what stays.
const MOST_PASSED: usize = 3;

/// Names told of one kind.
const MOST_NAMED: usize = 12;

/// As many as a page has room for.
fn some(all: &[String]) -> String {
    let more = all.len().saturating_sub(MOST_NAMED);
    let told = all[..all.len() - more].join(", ");
    if more > 0 { format!("{told} and {more} more") } else { told }
}

/// The page; 78 columns, whatever the screen has.
pub fn text(head: &Head, told: &HandoverPage) -> String {
    let page = |most| text_with(head, told, most);
    let fits = |text: &String| text.lines().count() <= LINES;
    (FEWEST + 1..=MOST).rev().map(page).find(fits).unwrap_or_else(|| page(FEWEST))
}

/// The page with at most so many changes on each list.
fn text_with(head: &Head, told: &HandoverPage, most: usize) -> String {
    let head = Head { width: 78, year: 0, ..head.clone() };
    let mut page = head.page(&format!("handed over {}", head.when(told.at)));
    let of = "  ";
    told.class.iter().for_each(|c| page.wrap("  class         ", c));
    for (i, (name, since)) in told.owners.iter().enumerate() {
        let label = if i == 0 { "  owners        " } else { "                " };
        page.wrap(label, &since.as_ref().map_or_else(|| name.clone(), |s| format!("{name}, since {s}")));
    }
    let span = told.span.map(|(a, b)| format!(", {} to {}", head.day(a), head.day(b))).unwrap_or_default();
    let (versions, runs) = (counted(told.versions, "version"), counted(told.runs, "run"));
    page.wrap("  record        ", &format!("{versions}, {runs}, {}{span}", told.finish));
    told.before.iter().for_each(|b| page.wrap("  before it     ", &before_words(b, told.runs)));
    for (i, best) in told.bests.iter().enumerate() {
        let label = if i == 0 { "  best, as run  " } else { "                " };
        let wind = best.wind.as_ref().map(|w| format!(", {w}")).unwrap_or_default();
        let (at, track) = (head.when(best.at), &best.track);
        page.wrap(label, &format!("{}, {at} at {track}, on {}{wind}", best.what, best.version));
    }
    page.gap();
    start(&head, &mut page, told);
    list(
        &mut page,
        most,
        "PROVEN BY ITS RUNS (60 ft, minus is quicker)",
        &told.proven,
        "no gain and no loss yet",
        proven_words,
    );
    let none_open = match told.not_judged {
        0 => "nothing is open",
        _ => "of what was run enough to be judged, nothing is open",
    };
    list(&mut page, most, "NOT PROVEN", &told.not_proven, none_open, |t| t.said.clone());
    if !told.no_effect.is_empty() {
        let more = told.no_effect.len().saturating_sub(most);
        let first = told.no_effect.iter().take(most);
        let mut words: Vec<String> = first.map(|t| format!("{} ({})", t.version, t.words)).collect();
        words.extend((more > 0).then(|| format!("{more} more")));
        page.wrap(of, &format!("No effect worth chasing: {}", words.join("; ")));
    }
    if !told.moved_with.is_empty() {
        page.wrap(
            of,
            &format!(
                "Judged from the whole book. The file's own blame sees less than the book's: what was left out moved \
                 with these versions: {}",
                some(&told.moved_with)
            ),
        );
    }
    if told.not_judged > 0 {
        let what = if told.not_proven.is_empty() { "change" } else { "more change" };
        page.wrap(of, &format!("{} nobody can judge: no run that counts", counted(told.not_judged, what)));
    }
    page.gap();
    page.line("PARTS");
    let none = |l: &[String]| if l.is_empty() { "none is named".to_owned() } else { some(l) };
    page.wrap("  go along      ", &none(&told.along));
    if !told.stays.is_empty() {
        page.wrap("  stay          ", &some(&told.stays));
    }
    if !told.unsaid.is_empty() {
        page.wrap("  not said      ", &format!("{}: ask", some(&told.unsaid)));
    }
    for (i, (label, value)) in told.weighed.iter().enumerate() {
        page.wrap(if i == 0 { "  weighed       " } else { "                " }, &format!("{label}: {value}"));
    }
    if !told.left_out_before.is_empty() {
        page.gap();
        let what = told.left_out_before.join(", ");
        page.wrap("", &format!("Not in the book, left out when the car was handed over before: {what}."));
    }
    if !told.left_out.is_empty() {
        page.gap();
        let what = told.left_out.join(", ");
        page.wrap("", &format!("Not in the file: {what}. It is a rewritten copy: its ids differ from the book's own."));
        told.kept.iter().for_each(|k| page.wrap("", &format!("Still in it: {k}.")));
    }
    page.gap();
    id(&mut page, &told.id);
    // A command is one line, to be typed as it stands.
    let file = shell_word(&told.file);
    page.line(format!("Take it in:           slipbook receive {file}"));
    page.line(format!("Or, with git alone:   git clone {file}"));
    page.gap();
    let cautions = told.cautions.len().min(told.grave.max(most));
    for (i, caution) in told.cautions[..cautions].iter().enumerate() {
        page.wrap(if i == 0 { "as it stands  " } else { "              " }, caution);
    }
    if told.cautions.len() > cautions {
        page.wrap("              ", &format!("{} more:  slipbook check", told.cautions.len() - cautions));
    }
    page.wrap("", CLOSING);
    page.text()
}

/// The id, in words and in full.
pub fn id(page: &mut Page, id: &ContentId) {
    super::layout::id_lines(page, ["  handover id   ", "  check word    ", "  in full       "], id);
}

/// What of the car's record is not in the file, and how much of it the page rests on.
fn before_words(before: &Before, in_file: usize) -> String {
    let (versions, runs) = (counted(before.versions, "version"), counted(before.runs, "run"));
    let whole = before.runs.saturating_add(in_file);
    let rests = match before.judged_by == whole {
        true => format!("judged by all {whole} runs"),
        false => format!("judged by {} of its {whole} runs: the book it is from has no more", before.judged_by),
    };
    format!("{versions}, {runs} of the car, not in the file; this page is {rests}")
}

/// The setup to start from, in words.
pub fn start_words(head: &Head, start: &Start) -> String {
    let air = if start.one_air { ", in one air" } else { "" };
    let unsaid = match start.unsaid.is_empty() {
        true => String::new(),
        false => format!("; ask about {}", start.unsaid.join(", ")),
    };
    let (mut runs, mut at) = (counted(start.runs, "clean run"), head.when(start.at));
    if !start.with.is_empty() {
        at = format!("{at}, one setup with {}", start.with.join(", "));
    }
    if let Some(along) = start.runs_in_file.filter(|n| *n < start.runs) {
        runs = format!("{runs}, {along} of them in this file");
    }
    // The day it went on the car last need be none of the days it ran.
    runs += &match start.ran {
        Some((first, last)) if first == last => format!(", made {}", head.day(first)),
        Some((first, last)) => format!(", made {} to {}", head.day(first), head.day(last)),
        None => String::new(),
    };
    format!(
        "{}, {at}: {runs}, 60 ft {:.3} in the middle (best {:.3}){air}{unsaid}",
        start.version, start.middle_s, start.best_s
    )
}

/// What there is to start from, in sentences, judged by the whole book.
pub fn start_lines(head: &Head, told: &HandoverPage) -> Vec<String> {
    let start = told.start.as_ref().map(|s| start_words(head, s));
    let none = || NO_START.to_owned();
    let Some(best) = &told.beaten_by else { return vec![start.unwrap_or_else(none)] };
    let missing = format!("the best setup of the whole book, {}, is not in this file", best.version);
    let Some(start) = start else { return vec![none(), missing] };
    let said: Vec<String> = [
        best.against.as_ref().map(|a| format!("against {}: {a}", best.version)),
        best.own_change.as_ref().map(|c| format!("its own change: {c}")),
    ]
    .into_iter()
    .flatten()
    .collect();
    let said = if said.is_empty() { String::new() } else { format!("; {}", said.join("; ")) };
    match best.no_start {
        true => vec![
            format!("no setup in this file is one to start from: {missing}"),
            format!("the quickest in it is {start}{said}"),
        ],
        false => vec![start, format!("{missing}{}", said.replacen("; against", "; this one against", 1))],
    }
}

fn start(head: &Head, page: &mut Page, told: &HandoverPage) {
    page.line("START FROM");
    start_lines(head, told).iter().for_each(|l| page.wrap("  ", l));
    for passed in told.passed_over.iter().take(MOST_PASSED) {
        page.wrap("  ", &passed_words(passed));
    }
    if let Some(more @ 1..) = told.passed_over.len().checked_sub(MOST_PASSED) {
        page.wrap("  ", &format!("so do {}", counted(more, "more setup")));
    }
    if let (Some(on), Some(start)) = (&told.on_car, &told.start)
        && *on != start.version
        && !told.beaten_by.as_ref().is_some_and(|b| b.no_start)
    {
        page.wrap("  ", &format!("on the car is {on}; to go back:  slipbook wrench {}", start.version));
    }
}

/// What is said where no setup can be named.
pub const NO_START: &str = "no setup whose parts go along has three clean 60-ft runs yet";

/// A setup that was passed over, in words. Ahead in the model is not quicker: that is said only where the runs say it.
pub fn passed_words(passed: &Passed) -> String {
    let (version, parts) = (&passed.version, passed.parts.join(", "));
    match &passed.against {
        None => format!("{version} has three, but rides on what stays: {parts}"),
        Some(against) if against.contains("quicker") || against.contains("slower") => {
            format!("{version} is {against}, but rides on what stays: {parts}")
        }
        Some(against) => format!("{version} rides on what stays: {parts}; against this one: {against}"),
    }
}

/// What is proven, with what it is worth, the runs behind it, and what to doubt it for.
fn proven_words(told: &Told) -> String {
    let (lo, hi) = ends(told.between_s.0, told.between_s.1, 3);
    let (without, with) = told.runs;
    let doubts: String = told.doubts.iter().map(|d| format!("; {d}")).collect();
    let worth = signed(told.worth_s, 3);
    format!("{}, {worth} s ({lo} to {hi}), {without} runs without, {with} with{doubts}", told.said)
}

fn list(page: &mut Page, most: usize, title: &str, all: &[Told], none: &str, words: fn(&Told) -> String) {
    page.gap();
    page.line(title);
    for told in all.iter().take(most) {
        page.wrap(&format!("  {:<6}", told.version), &format!("{}: {}", told.words, words(told)));
    }
    match all.len() {
        0 => page.wrap("  ", none),
        n if n > most => page.wrap("  ", &format!("and {} more:  slipbook blame", n - most)),
        _ => {}
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::slip::Moment;

    #[test]
    fn a_long_book_is_one_page_still() {
        let at = Moment { seconds: 1_780_000_000, offset_seconds: 0 };
        let many = |n: usize| (0..n).map(|i| format!("v{i}")).collect::<Vec<_>>();
        let told = |v: &String| Told {
            version: v.clone(),
            words: "limiter lowered 0.25 in (1.00 -> 0.75)".into(),
            said: "almost certainly a gain".into(),
            mixed: false,
            worth_s: -0.021,
            between_s: (-0.03, -0.012),
            runs: (5, 7),
            doubts: vec!["never both on one day".into(), "an engine or launch setting changed too".into()],
        };
        let passed = |v: String| Passed {
            version: v,
            parts: vec!["pair A".into()],
            against: Some("likely quicker, not settled".into()),
        };
        let page = HandoverPage {
            class: None,
            at,
            owners: Vec::new(),
            versions: 1000,
            runs: 5000,
            before: None,
            span: None,
            finish: "quarter mile".into(),
            bests: Vec::new(),
            start: None,
            beaten_by: None,
            passed_over: many(900).into_iter().map(passed).collect(),
            on_car: Some("v999".into()),
            proven: many(300).iter().map(told).collect(),
            no_effect: many(300).iter().map(told).collect(),
            not_proven: many(300).iter().map(told).collect(),
            not_judged: 100,
            weighed: Vec::new(),
            along: many(40),
            stays: many(40),
            unsaid: many(40),
            cautions: many(40),
            grave: 4,
            moved_with: many(300),
            left_out: vec!["engine".into()],
            left_out_before: vec!["notes and reasons".into()],
            kept: vec!["notes".into()],
            id: ContentId::from_bytes([7; 32]),
            file: "grey two.bundle".into(),
        };
        let head = Head { car: "Grey".into(), width: 80, year: 2026 };
        // What nobody can judge is not settled: no list says that nothing is open.
        let none_open = HandoverPage { not_proven: Vec::new(), not_judged: 1, ..page.clone() };
        let said = super::text(&head, &none_open);
        assert!(said.contains("  of what was run enough to be judged, nothing is open\n"), "{said}");
        assert!(said.contains("  1 change nobody can judge: no run that counts\n"), "{said}");
        let text = text(&head, &page);
        assert!(text.lines().count() <= LINES, "{text}");
        assert!(text.lines().any(|l| l.ends_with("slipbook receive 'grey two.bundle'")), "{text}");
        for said in ["so do 897 more setups", " more:  slipbook blame", " more\n", "and 28 more"] {
            assert!(text.contains(said), "{said}\n{text}");
        }
    }
}
