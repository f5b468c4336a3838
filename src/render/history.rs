//! The history of a car: newest first, what changed in words, why, and how it ran.

use super::layout::{Head, Page, counted, signed};
use crate::blame::{Held, Spot, Told, Verdict};
use crate::diff::words::show_doubting;
use crate::garage::History;
use crate::pace::Footing;
use crate::schema::{Field, Schema};
use crate::timeline::{Kind, Remark};
use crate::trial::TrialMark;
use serde_json::{Value as Json, json};

/// The versions to show, newest first, and how many were left out.
pub struct Shown<'a> {
    /// The whole record.
    pub history: &'a History,
    /// Newest first.
    pub told: Vec<&'a Told>,
    /// Remarks to show under their version.
    pub remarks: Vec<&'a Remark>,
    /// Versions older than those shown.
    pub older: usize,
    /// The filter, in words.
    pub filter: Option<String>,
    /// It is the log as written, not the record as it holds.
    pub as_recorded: bool,
    /// What the numbers were carried to.
    pub footing: &'a Footing,
    /// Runs without air, and far from a reading.
    pub without: (usize, usize),
    /// The same in words.
    pub foot: String,
    /// Of each version of the timeline: the trials it was made for.
    pub trials: Vec<Vec<TrialMark>>,
}

fn spot(label: &str, s: Option<Spot>) -> Option<String> {
    s.map(|s| format!("{label} {:.3} best {:.3} middle", s.best, s.middle))
}

/// As text.
pub fn text(head: &Head, shown: &Shown) -> String {
    let h = shown.history;
    let span =
        match (h.timeline.versions.first(), h.runs.last().map(|m| m.run.at).or(h.timeline.now().map(|v| v.entry.at))) {
            (Some(a), Some(b)) => format!(", {} - {}", head.day(a.entry.at.race_day()), head.day(b.race_day())),
            _ => String::new(),
        };
    let counts = format!("{}, {}{span}", counted(h.timeline.versions.len(), "version"), counted(h.runs.len(), "run"));
    let mut page = head.page(&counts);
    if shown.as_recorded {
        page.line("as recorded: before anything was mended or taken back");
    }
    if let Some(filter) = &shown.filter {
        page.line(format!("with: {filter}"));
    }
    page.gap();
    for told in &shown.told {
        version(head, &mut page, shown, told);
        for remark in shown.remarks.iter().filter(|r| r.during == told.index).rev() {
            let label = format!("     {}  ", head.day(remark.entry.at.race_day()));
            let note = if remark.entry.kind == Kind::Mend { "" } else { " (nothing turned)" };
            page.wrap(&label, &format!("{}{note}", remark.entry.words.join(", ")));
            mends(&mut page, &remark.entry.mended);
        }
    }
    if shown.told.is_empty() {
        page.line("nothing on record fits");
    }
    page.gap();
    let stretches = shown.told.iter().any(|t| t.apart.is_some() && t.segments.len() > 1);
    page.wrap(
        "",
        &format!(
            "{} The difference is between the middles of the 60 ft and is no verdict; early: under 3 clean runs on a side. What it is worth is blame's word, {} allowed for.{}",
            shown.foot,
            if h.runs.iter().any(|m| m.run.lane.is_some()) { "day and lane" } else { "the day" },
            if stretches { " Stretches need not add up to the ET." } else { "" },
        ),
    );
    if shown.older > 0 {
        let more = "older: history --all   one day: history jul 11   with words: history clamps";
        page.wrap("", &format!("{} {more}", shown.older));
    }
    page.text()
}

fn version(head: &Head, page: &mut Page, shown: &Shown, told: &Told) {
    let (h, in_one_air) = (shown.history, shown.footing.reference.is_some());
    let v = &h.timeline.versions[told.index];
    let label = format!("{:<5}", v.number.to_string());
    let on_car = if told.index + 1 == h.timeline.versions.len() { "  (on the car)" } else { "" };
    page.wrap(&label, &format!("{}{on_car}", v.entry.words.join(", ")));
    let why = v.entry.why.as_ref().map(|w| format!("  why: {w}")).unwrap_or_default();
    let since = v.entry.since.map(|s| format!("between {} and ", head.when(s))).unwrap_or_default();
    let unknown = if v.entry.time_unknown { " or before, when is not known" } else { "" };
    let trials: String = shown.trials[told.index].iter().map(|t| format!("  {}", t.words())).collect();
    page.wrap("     ", &format!("{since}{}{unknown}{trials}{why}", head.when(v.entry.at)));
    if !v.entry.was.is_empty() {
        let was: Vec<String> = v.entry.was.iter().map(ToString::to_string).collect();
        page.wrap("     ", &format!("{} on the tape of {}'s laptop", was.join(", "), v.entry.by));
    }
    mends(page, &v.entry.mended);
    let unsure = h.runs_on(told.index).filter(|m| m.unsure).count();
    let mut parts = vec![match (told.runs, unsure) {
        (0, 0) => "never run".to_owned(),
        (n, 0) => counted(n, "run"),
        (0, u) => format!("{} in the window, for neither side", counted(u, "run")),
        (n, u) => format!("{}, {u} in the window", counted(n, "run")),
    }];
    parts.extend(spot("60 ft", told.ft60));
    parts.extend(told.et.map(|s| format!("ET {:.3} {:.3}", s.best, s.middle)));
    if let Some(d) = told.apart {
        let before = h.timeline.versions[told.index - 1].number.to_string();
        parts.push(format!("{} on {before}{}", signed(d, 3), if told.early { " early" } else { "" }));
    }
    page.wrap("     ", &parts.join("   "));
    let as_run: Vec<String> = [("60 ft", told.as_run[0]), ("ET", told.as_run[1])]
        .iter()
        .filter_map(|(label, s)| s.map(|s| format!("{label} {:.3} {:.3}", s.best, s.middle)))
        .collect();
    if in_one_air && !as_run.is_empty() {
        page.wrap("     ", &format!("as run {}", as_run.join("   ")));
    }
    if told.apart.is_some() && told.segments.len() > 1 {
        page.wrap("     ", &super::footing::segments(&told.segments));
    }
    if let Some(judged) = &told.judged {
        let worth = match judged.verdict {
            Verdict::TooEarly => String::new(),
            _ => format!("worth {} s in the 60 ft: ", signed(judged.effect.value, 3)),
        };
        page.wrap("     ", &format!("{worth}{}", judged.verdict.words()));
    }
    if !told.same_as.is_empty() {
        let others: Vec<String> = told.same_as.iter().map(ToString::to_string).collect();
        page.wrap("     ", &format!("one setup with {}", others.join(", ")));
    }
}

/// How a record was put right, below it.
fn mends(page: &mut Page, mended: &[String]) {
    mended.iter().for_each(|m| page.wrap("     * ", m));
}

/// As JSON.
pub fn json(head: &Head, shown: &Shown) -> Json {
    let h = shown.history;
    let one = |t: &&Told| {
        let v = &h.timeline.versions[t.index];
        json!({
            "version": v.number, "id": v.entry.id, "setup": v.mark.to_string(), "kind": v.entry.kind, "at": v.entry.at,
            "written": v.entry.written, "by": v.entry.by, "words": v.entry.words, "why": v.entry.why, "back_to": v.entry.back_to,
            "since": v.entry.since, "trials": shown.trials[t.index], "mended": v.entry.mended, "was": v.entry.was, "runs": t.runs, "runs_in_window": h.runs_on(t.index).filter(|m| m.unsure).count(), "ft60_s": t.ft60, "et_s": t.et, "ft60_as_run_s": t.as_run[0], "et_as_run_s": t.as_run[1], "apart_ft60_s": t.apart, "early": t.early, "effect": t.judged.as_ref().map(|j| j.effect), "evidence": t.judged.as_ref().map(|j| j.verdict.key()), "segments": t.segments, "same_setup": t.same_as,
        })
    };
    let remark = |r: &&Remark| json!({"id": r.entry.id, "kind": r.entry.kind, "at": r.entry.at, "mended": r.entry.mended, "by": r.entry.by, "during": h.timeline.versions[r.during].number, "words": r.entry.words});
    json!({
        "car": head.car, "versions": shown.told.iter().map(one).collect::<Vec<_>>(),
        "remarks": shown.remarks.iter().map(remark).collect::<Vec<_>>(), "older": shown.older, "one_air": super::footing::json(shown.footing),
        "without_air": shown.without.0, "far_from_a_reading": shown.without.1,
    })
}

/// Narrower than this there are no columns.
const COLUMNS_NEED: usize = 68;

/// What a field held, for a narrow screen.
fn held_in_words(head: &Head, page: &mut Page, schema: &Schema, field: &Field, h: &History, x: &Held) {
    let value = x.value.as_ref().map_or("not on record".to_owned(), |v| show_doubting(schema, field, v, &x.doubt));
    let number = |v: usize| &h.timeline.versions[v].number;
    let since = head.day(x.since.race_day());
    page.wrap("", &format!("{value}   {} {since} to {}, {}", number(x.from), number(x.to), counted(x.runs, "run")));
    let said = |spots: [Option<Spot>; 2]| {
        let of = [spot("60 ft", spots[0]), spot("ET", spots[1])];
        of.into_iter().flatten().collect::<Vec<_>>().join("   ")
    };
    let (in_one_air, as_run) = (said([x.ft60, x.et]), said(x.as_run));
    if !in_one_air.is_empty() {
        page.wrap("     ", &in_one_air);
    }
    if as_run != in_one_air && !as_run.is_empty() {
        page.wrap("     ", &format!("as run {as_run}"));
    }
}

/// One field over time, as text: newest first.
pub fn field_text(head: &Head, schema: &Schema, field: &Field, h: &History, held: &[Held], foot: &str) -> String {
    let mut page = head.page(&format!("{} over time", field.label));
    page.gap();
    if page.width() < COLUMNS_NEED {
        held.iter().rev().for_each(|x| held_in_words(head, &mut page, schema, field, h, x));
        page.gap();
        page.wrap("", &format!("{foot} Other fields changed in between: history"));
        return page.text();
    }
    let header = ["value", "from", "to", "runs", "60 ft best", "middle", "ET best", "middle"];
    let mut rows = vec![header.map(str::to_owned).to_vec()];
    for x in held.iter().rev() {
        let value = x.value.as_ref().map_or("not on record".to_owned(), |v| show_doubting(schema, field, v, &x.doubt));
        let spots = |s: Option<Spot>| {
            s.map_or([String::new(), String::new()], |s| [format!("{:.3}", s.best), format!("{:.3}", s.middle)])
        };
        let mut row = vec![
            value,
            format!("{} {}", h.timeline.versions[x.from].number, head.day(x.since.race_day())),
            h.timeline.versions[x.to].number.to_string(),
            x.runs.to_string(),
        ];
        row.extend(spots(x.ft60));
        row.extend(spots(x.et));
        rows.push(row);
        if x.as_run != [x.ft60, x.et] {
            let mut row = vec![String::new(), String::new(), "as run".to_owned(), String::new()];
            x.as_run.iter().for_each(|s| row.extend(spots(*s)));
            rows.push(row);
        }
    }
    page.table(&rows, &[3, 4, 5, 6, 7]);
    page.gap();
    page.wrap("", &format!("{foot} Other fields changed in between: history"));
    page.text()
}

/// One field over time, as JSON: oldest first.
pub fn field_json(head: &Head, field: &Field, h: &History, held: &[Held], footing: &Footing) -> Json {
    let one = |x: &Held| {
        json!({
            "value": x.value.as_ref().map(|v| crate::schema::value_json(field, v)), "from": h.timeline.versions[x.from].number,
            "to": h.timeline.versions[x.to].number, "since": x.since, "runs": x.runs, "ft60_s": x.ft60, "et_s": x.et, "ft60_as_run_s": x.as_run[0], "et_as_run_s": x.as_run[1],
        })
    };
    json!({ "car": head.car, "field": field.key, "unit": field.unit, "values": held.iter().map(one).collect::<Vec<_>>(), "one_air": super::footing::json(footing) })
}
