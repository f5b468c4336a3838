//! One change explained: the answer, the means by hand, the runs in parts, what was left out, what could fool it.

mod columns;
mod foot;
mod json;

pub use json::json;

use super::blame::{said, typed};
use super::layout::{Head, Page, counted, ends, signed};
use crate::blame::{ByHand, Estimates, Explanation, How, LeftOut, NotJudged, Ranking, RunTold, Side};
use crate::diff::words::visible;
use crate::pace::Footing;
use crate::slip::Run;
use columns::{Column, columns};
use foot::{fooled, places, would_change};

/// What is told.
pub struct Told<'a> {
    /// The model.
    pub estimates: &'a Estimates<'a>,
    /// All changes.
    pub ranking: &'a Ranking,
    /// The version asked about.
    pub version: usize,
    /// Why it is judged as it is; `None` = it is not judged.
    pub explanation: Option<&'a Explanation>,
    /// The air.
    pub footing: &'a Footing,
    /// What a field is called.
    pub label: &'a dyn Fn(&str) -> String,
}

impl Told<'_> {
    fn unit(&self) -> &'static str {
        if self.estimates.response().is_speed() { "mph" } else { "s" }
    }

    /// The runs have an air they are carried to.
    fn carried(&self) -> bool {
        self.footing.reference.is_some()
    }

    fn number(&self, version: usize) -> String {
        self.estimates.timeline.versions[version].number.to_string()
    }

    fn decimals(&self) -> usize {
        self.estimates.response().decimals()
    }

    /// Why it is not judged; the first sheet has nothing before it.
    fn why_not(&self) -> NotJudged {
        let number = &self.estimates.timeline.versions[self.version].number;
        let why = self.ranking.not_judged.iter().find(|u| u.version == *number).map(|u| u.why);
        why.unwrap_or(NotJudged::First)
    }
}

/// Width of the labels on the left.
const LABEL: usize = 10;

fn labelled(page: &mut Page, label: &str, text: &str) {
    page.wrap(&format!("{label:<LABEL$}"), text);
}

/// As text.
pub fn text(head: &Head, told: &Told, all_runs: bool) -> String {
    let version = &told.estimates.timeline.versions[told.version];
    let words = match told.explanation {
        Some(e) => e.change.words.join(", "),
        None => version.entry.words.join(", "),
    };
    let what = told.estimates.response().label();
    let mut page = head.page(&format!("{}, {}, {what}: {words}", version.number, head.when(version.entry.at)));
    match told.explanation {
        None => not_judged(&mut page, told),
        Some(e) => {
            answer(&mut page, told, e);
            by_hand(&mut page, head, told, e);
            runs(&mut page, head, told, e, all_runs);
            left_out(&mut page, head, told, e, all_runs);
            fooled(&mut page, head, told, e);
            page.gap();
            places(&mut page, e);
            page.wrap("Would change it   ", &would_change(e));
            let seen = e.runs.iter().map(|r| &told.estimates.runs[r.run]);
            let without = told.footing.without_air(seen.map(|s| (s.run, s.day)));
            page.wrap("", &super::footing::foot(told.footing, &what, e.runs.len(), without));
        }
    }
    page.text()
}

fn not_judged(page: &mut Page, told: &Told) {
    let before = told.estimates.ran_before(told.version).map(|v| told.number(v));
    let why = match (told.why_not(), before) {
        (NotJudged::First, _) if told.version == 0 => {
            "it is the first sheet of the book, nothing came before it".into()
        }
        (NotJudged::First, _) => {
            "it is the first version that runs count on, there is nothing to compare it with".into()
        }
        (NotJudged::SameSetup, Some(b)) => {
            format!("the runs before it, on {b}, were on an equal setup; its own count for that setup too")
        }
        (NotJudged::SameSetup, None) => "the runs before it were on an equal setup".to_owned(),
        (NotJudged::Outside, _) => "its runs are outside the days asked about".to_owned(),
        (NotJudged::NeverRun, _) => "no run that counts was made on it".to_owned(),
    };
    labelled(page, "Answer", &format!("not judged: {why}"));
    if let Some(m) = told.estimates.judged_along_with(told.version) {
        let (with, what) = (told.number(m.version), typed(told.estimates.response()));
        labelled(page, "", &format!("it is judged along with {with}: slipbook blame {what} --explain {with}"));
    }
}

/// A chance, as well as draws know it: to the nearest 0.05, and near the ends what it is beyond.
fn chance(p: f64) -> String {
    match p {
        p if p >= 0.98 => "above 0.98".to_owned(),
        p if p > 0.95 => "above 0.95".to_owned(),
        p if p <= 0.02 => "below 0.02".to_owned(),
        p if p < 0.05 => "below 0.05".to_owned(),
        p => format!("about {:.2}", (p * 20.0).round() / 20.0),
    }
}

fn answer(page: &mut Page, told: &Told, e: &Explanation) {
    let (d, unit) = (told.decimals(), told.unit());
    let (judged, effect) = (&e.change.judged, &e.change.judged.effect);
    let (lo, hi) = ends(effect.lo95, effect.hi95, d);
    let range = format!("between {lo} and {hi}");
    labelled(page, "Answer", &format!("{} {unit}, 95 times in 100 {range}", signed(effect.value, d)));
    let matters = told.estimates.asked.matters;
    let (gain, loss) = (chance(effect.p_gain), chance(effect.p_loss));
    labelled(
        page,
        "",
        &format!("chance of a {} over {matters} {unit}: {gain}, of a {} {loss}", Side::Gain.word(), Side::Loss.word()),
    );
    labelled(page, "", &said(&e.change));
    if !e.change.bundles.is_empty() {
        labelled(page, "", "changed together: cannot be told apart");
    }
    if !e.change.along.is_empty() {
        let along: Vec<String> = e.change.along.iter().map(ToString::to_string).collect();
        labelled(page, "", &format!("changed along with it before any run counted: {}", along.join(", ")));
    }
    let toggled: Vec<String> =
        judged.sides.toggles.iter().filter(|v| **v != told.version).map(|v| told.number(*v)).collect();
    if !toggled.is_empty() {
        labelled(page, "", &format!("toggled: {} too", toggled.join(", ")));
    }
}

fn list(told: &Told, versions: &[usize]) -> String {
    versions.iter().map(|v| told.number(*v)).collect::<Vec<_>>().join(", ")
}

fn by_hand(page: &mut Page, head: &Head, told: &Told, e: &Explanation) {
    let d = told.decimals();
    page.gap();
    let rows: Vec<&ByHand> = e.by_hand.iter().chain(&e.nearest).collect();
    if e.nearest.is_some() {
        page.wrap("By hand   ", "no day has runs with it and without it. The two days that are nearest, means (runs):");
    } else {
        let air = if told.carried() { "in one air" } else { "as run" };
        page.wrap("By hand   ", &format!("same day only, means {air} (runs):"));
    }
    let how = |r: &&ByHand| match r.how {
        How::Made => "made",
        How::TakenBack => "taken back",
        How::MadeAgain => "made again",
        How::BothRan => "both ran",
        // The days say it.
        How::TwoDays => "",
    };
    let day = |r: &&ByHand| match r.days {
        (a, b) if a == b => head.day(a),
        (a, b) => format!("{}, {}", head.day(a), head.day(b)),
    };
    let arrow = |r: &&ByHand| {
        let between = if r.how == How::BothRan { "with" } else { "->" };
        format!("{} {between} {}{}", list(told, &r.from), list(told, &r.to), if r.same_step { "" } else { " *" })
    };
    let mean = |m: f64, n: usize| format!("{m:.d$} ({n})");
    columns(
        page,
        " ",
        &[
            Column::words("", rows.iter().map(day).collect()),
            Column::words("", rows.iter().map(|r| how(r).to_owned()).collect()),
            Column::words("", rows.iter().map(arrow).collect()).may_go(2),
            Column::numbers("without", rows.iter().map(|r| mean(r.means.0, r.without.len())).collect()),
            Column::numbers("with", rows.iter().map(|r| mean(r.means.1, r.with.len())).collect()),
            Column::numbers("worth", rows.iter().map(|r| signed(r.worth(), d)).collect()).may_go(1),
        ],
    );
    if rows.iter().any(|r| !r.same_step) {
        page.wrap("  * ", "the same change on another sheet: the model takes it for the field, not for that sheet");
    }
    if !e.not_one_day.is_empty() && e.nearest.is_none() {
        let versions: Vec<String> = e.not_one_day.iter().map(ToString::to_string).collect();
        page.wrap("  ", &format!("no day has both: {}", versions.join(", ")));
    }
    let all = told.ranking.counted;
    let allowed = told.estimates.allowed();
    let weighs = match (allowed.lanes, allowed.air) {
        (true, true) => "days, lanes and air",
        (true, false) => "days and lanes",
        (false, true) => "days and air",
        (false, false) => "days",
    };
    let words = format!(
        "The model uses all {} that count, weighs {weighs}, and leans toward \"most changes do nothing\".",
        counted(all, "run")
    );
    page.wrap("  ", &words);
}

fn lane(run: &Run) -> String {
    run.lane.as_deref().map_or("", |l| if l == "left" { "L" } else { "R" }).to_owned()
}

fn runs(page: &mut Page, head: &Head, told: &Told, e: &Explanation, all_runs: bool) {
    let d = told.decimals();
    let shown: Vec<&RunTold> = e.runs.iter().filter(|r| all_runs || r.by_hand).collect();
    let run = |r: &RunTold| told.estimates.runs[r.run].run;
    let of = |f: &dyn Fn(&RunTold) -> String| shown.iter().map(|r| f(r)).collect::<Vec<_>>();
    let carried = told.carried();
    let lanes = told.estimates.allowed().lanes;
    let (day, holds) = if lanes { ("day+lane", "Day+lane") } else { ("day", "Day") };
    let air = if carried { "one air" } else { "as run" };
    page.gap();
    let mut table = vec![
        Column::words("run", of(&|r| head.when(run(r).at))),
        Column::words("on", of(&|r| told.number(told.estimates.runs[r.run].version))).may_go(1),
    ];
    if lanes {
        table.push(Column::words("lane", of(&|r| lane(run(r)))).may_go(4));
    }
    if carried {
        table.push(Column::numbers("slip", of(&|r| format!("{:.d$}", r.slip))).may_go(3));
    }
    table.extend([
        Column::numbers(air, of(&|r| format!("{:.d$}", r.one_air))),
        Column::numbers(day, of(&|r| signed(r.day_lane, d))),
        Column::numbers("left over", of(&|r| signed(r.left, d))),
        Column::numbers("counts", of(&|r| format!("{:.2}", r.counts()))).may_go(2),
    ]);
    columns(page, " ", &table);
    let side = |with: bool| {
        let of: Vec<String> = e
            .sheets
            .iter()
            .filter(|s| s.with == with)
            .map(|s| {
                let versions: Vec<String> = s.versions.iter().map(ToString::to_string).collect();
                format!("{} {:.d$}", versions.join(" and "), s.value)
            })
            .collect();
        of.join(", ")
    };
    page.wrap(" sheet without  ", &side(false));
    page.wrap("       with     ", &side(true));
    let rest = if carried { ", and what is left of the air" } else { "" };
    page.wrap(
        " ",
        &format!(
            "{air} = sheet + {day} + left over. Sheet: as the model has it. {holds} holds hour, drift, track and wear \
             too{rest}. Counts: the chance that it was an ordinary run."
        ),
    );
    let others = e.runs.len() - shown.len();
    if others > 0 {
        page.wrap(" ", &format!("Other days, {}: --all-runs", counted(others, "run")));
    }
}

/// Why a run does not count, in words.
fn why(run: &Run, why: LeftOut, what: &str) -> String {
    match why {
        LeftOut::Marked => format!("{} (you marked it)", run.why_not.as_deref().unwrap_or("not clean")),
        LeftOut::NoNumber => format!("no {what} on the slip"),
        LeftOut::No60 => "no 60 ft on the slip: the finish time is told apart by it".to_owned(),
        LeftOut::InWindow => "made in a window in which something changed".to_owned(),
        LeftOut::MaybeAfter => "directly before a change whose time is not known: maybe made after it".to_owned(),
        LeftOut::Outside => "outside the time asked about".to_owned(),
        LeftOut::TooManySetups => "more different setups were run than can be weighed at once".to_owned(),
    }
}

fn left_out(page: &mut Page, head: &Head, told: &Told, e: &Explanation, all_runs: bool) {
    let what = told.estimates.response().label();
    let mut lines: Vec<String> = Vec::new();
    for l in e.left_out.iter().filter(|l| all_runs || l.by_hand) {
        let seen = &told.estimates.runs[l.run];
        let on = told.number(seen.version);
        lines.push(format!("{}  {on}  {}", head.when(seen.run.at), visible(&why(seen.run, l.why, &what))));
    }
    let hidden = e.left_out.len() - lines.len();
    if hidden > 0 {
        lines.push(format!("on other days {}: --all-runs", counted(hidden, "run")));
    }
    if e.outside > 0 {
        lines.push(format!("{} outside the time asked about", counted(e.outside, "run")));
    }
    section(page, "Left out", lines);
    let mut mended: Vec<String> = e.mended.iter().map(|(v, words)| format!("{v}: {}", words.join(", "))).collect();
    let mut linked: Vec<(usize, usize)> = Vec::new();
    for r in &e.relinked {
        let version = told.estimates.runs[*r].version;
        match linked.iter_mut().find(|(v, _)| *v == version) {
            Some((_, n)) => *n += 1,
            None => linked.push((version, 1)),
        }
    }
    let on =
        |(v, n): (usize, usize)| format!("{}: {} on another sheet before a mend", told.number(v), counted(n, "run"));
    mended.extend(linked.into_iter().map(on));
    section(page, "Mended", mended);
    let n = |(n, of): (usize, usize)| format!("{n} of {of}");
    let did = e.did.iter().map(|d| format!("{}: {} without it, {} with it", d.words, n(d.without), n(d.with)));
    section(page, "The car", did.collect());
}

/// Lines under a label; nothing without lines.
fn section(page: &mut Page, label: &str, lines: Vec<String>) {
    for (i, line) in lines.into_iter().enumerate() {
        if i == 0 {
            page.gap();
        }
        labelled(page, if i == 0 { label } else { "" }, &line);
    }
}

#[cfg(test)]
mod tests {
    use super::chance;

    #[test]
    fn a_chance_is_said_no_finer_than_it_is_known() {
        for (p, words) in [
            (1.0, "above 0.98"),
            (0.98, "above 0.98"),
            (0.979, "above 0.95"),
            (0.95, "about 0.95"),
            (0.89, "about 0.90"),
            (0.91, "about 0.90"),
            (0.05, "about 0.05"),
            (0.04, "below 0.05"),
            (0.0, "below 0.02"),
        ] {
            assert_eq!(chance(p), words);
        }
    }
}
