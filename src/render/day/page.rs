//! What reading a page by hand did.

use super::super::layout::{Head, counted};
use super::super::run::run_json;
use super::{air_row, day_json, on_json, on_words, reading_json, run_row, sum_words};
use crate::garage::{Came, LineDone, PageDone};
use crate::schema::RunWords;
use crate::slip::Moment;
use crate::timeline::Kind;
use serde_json::{Value as Json, json};

/// How many of each a page holds: runs, changes, measurements, readings, notes, on record already.
fn counts(done: &PageDone) -> [usize; 6] {
    let count = |f: &dyn Fn(&Came) -> bool| done.lines.iter().filter(|l| f(&l.came)).count();
    [
        count(&|c| matches!(c, Came::Run(_))),
        count(&|c| matches!(c, Came::Changed { kind, .. } if *kind != Kind::Measured)),
        count(&|c| matches!(c, Came::Changed { kind: Kind::Measured, .. })),
        count(&|c| matches!(c, Came::Read(_))),
        count(&|c| matches!(c, Came::Noted(_))),
        count(&|c| matches!(c, Came::OnRecord(_))),
    ]
}

/// "11 runs, 2 changes, 1 reading".
pub fn count_words(done: &PageDone) -> String {
    let [runs, changes, measured, readings, notes, known] = counts(done);
    let rest = [(measured, "measurement"), (readings, "reading"), (notes, "note")];
    let mut out = vec![counted(runs, "run"), counted(changes, "change")];
    out.extend(rest.iter().filter(|(n, _)| *n > 0).map(|(n, what)| counted(*n, what)));
    out.extend((known > 0).then(|| format!("{known} on record already")));
    out.join(", ")
}

/// "1 time out of order: 12:50 after 13:10?"
fn order_words(done: &PageDone) -> Option<String> {
    let clock = |m: Moment| m.civil().strftime("%H:%M").to_string();
    let said: Vec<String> =
        done.out_of_order.iter().map(|(a, b)| format!("{} after {}?", clock(*a), clock(*b))).collect();
    (!said.is_empty()).then(|| format!("{} out of order: {}", counted(said.len(), "time"), said.join(", ")))
}

/// "2 changes told late: 1 run on record moves to another version, 3 carry another sheet"
fn late_words(done: &PageDone) -> Option<String> {
    let (moved, relinked) = (done.moved.len(), done.relinked);
    let verb = |n: usize, one: &'static str, many: &'static str| if n == 1 { one } else { many };
    let runs = match (moved, relinked) {
        (0, 0) => "no run on record moves".to_owned(),
        (0, n) => format!("{} on record {} another sheet", counted(n, "run"), verb(n, "carries", "carry")),
        (m, n) => {
            let more =
                if n > m { format!(", {n} {} another sheet", verb(n, "carries", "carry")) } else { String::new() };
            format!("{} on record {} to another version{more}", counted(m, "run"), verb(m, "moves", "move"))
        }
    };
    (done.late > 0).then(|| format!("{} told late: {runs}", counted(done.late, "line")))
}

/// Each line that could not be taken, with its number, why, and what would be right.
pub fn unread_words(done: &PageDone) -> Vec<String> {
    let one = |line: &LineDone| {
        let Came::Unread { why, help } = &line.came else { return None };
        Some(format!("line {}: {why}\n  {} | {}\n  {help}", line.number, line.number, line.text))
    };
    done.lines.iter().filter_map(one).collect()
}

/// A page taken in, as text.
pub fn page_text(head: &Head, words: &RunWords, done: &PageDone, notes: &[String]) -> String {
    let place = done.day.as_ref().map(|d| format!(" at {}", d.track)).unwrap_or_default();
    let mut page = head.page(&format!("{}{place}: {}", head.day(done.date), count_words(done)));
    if let Some(day) = done.day.as_ref().filter(|_| done.new_day) {
        page.line(format!("  new day, {} ft finish", day.finish_ft));
    }
    if done.was_closed {
        page.line("  the day was closed; what is added opens it again");
    }
    if let Some(said) = order_words(done) {
        page.wrap("  ", &said);
    }
    let meant: Vec<&str> = done.lines.iter().filter_map(|l| l.meant.as_deref()).collect();
    if !meant.is_empty() {
        page.wrap("  ", &format!("{} read by their order: {}", counted(meant.len(), "time"), meant.join(", ")));
    }
    if let Some(said) = late_words(done) {
        page.wrap("  ", &said);
    }
    page.gap();
    let mut lines: Vec<&LineDone> = done.lines.iter().collect();
    lines.sort_by_key(|l| l.at.map(|a| a.seconds));
    for line in lines {
        let time = line.at.map(|a| a.civil().strftime("%H:%M").to_string()).unwrap_or_default();
        match &line.came {
            Came::Run(run) => run_row(&mut page, run, done.day.as_ref().map_or(1320, |d| d.finish_ft)),
            Came::Changed { number, kind, clauses, why } => {
                let name = if *kind == Kind::Measured { String::new() } else { number.to_string() };
                let said: Vec<&str> = clauses.iter().map(|c| c.text.as_str()).collect();
                let said = if said.is_empty() { "found as it was on record".to_owned() } else { said.join(", ") };
                page.wrap(&format!("{time}  {name:<5} "), &said);
                if let Some(why) = why {
                    page.wrap("             why: ", why);
                }
            }
            Came::Read(air) => {
                air_row(&mut page, words, &air.reading, air.elevation_ft);
                if let Some(why) = &air.taken_as {
                    page.wrap("             ", why);
                }
            }
            Came::Noted(text) => page.wrap(&format!("{time}  note  "), text.get(6..).unwrap_or(text)),
            Came::OnRecord(what) => page.wrap(&format!("{time}  on record already: "), what),
            Came::Unread { .. } => {}
        }
    }
    let unread = unread_words(done);
    if !unread.is_empty() {
        page.gap();
        page.line(format!("{} not read, kept in the day as written:", counted(unread.len(), "line")));
        for said in unread.iter().flat_map(|u| u.lines()) {
            let indent = said.len() - said.trim_start().len() + 2;
            page.wrap(&" ".repeat(indent), said.trim_start());
        }
    }
    page.gap();
    page.wrap("", &sum_words(&done.sum));
    page.wrap("", &on_words(head, &done.on));
    for note in notes {
        page.wrap("", note);
    }
    page.line(match (done.saved, done.lines.iter().all(|l| matches!(l.came, Came::OnRecord(_)))) {
        (true, _) => "saved",
        (false, true) => "all of it is on record already",
        (false, false) => "nothing written",
    });
    if done.saved {
        page.line(format!("next: slipbook day {}   slipbook blame 60", done.date));
    }
    page.text()
}

/// A page taken in, as JSON.
pub fn page_json(head: &Head, done: &PageDone) -> Json {
    let one = |line: &LineDone| {
        let mut out = json!({"line": line.number, "text": line.text, "at": line.at, "meant": line.meant});
        let more = match &line.came {
            Came::Run(run) => json!({"came": "run", "run": run_json(run)}),
            Came::Changed { number, kind, clauses, why } => json!({
                "came": if *kind == Kind::Measured { "measured" } else { "change" }, "version": number,
                "words": clauses.iter().map(|c| &c.text).collect::<Vec<_>>(), "why": why,
            }),
            Came::Read(air) => json!({
                "came": "reading", "reading": reading_json(&air.reading, air.elevation_ft), "taken_as": air.taken_as,
            }),
            Came::Noted(text) => json!({"came": "note", "note": text}),
            Came::OnRecord(what) => json!({"came": "on_record", "on_record": what}),
            Came::Unread { why, help } => json!({"came": "unread", "why": why, "help": help}),
        };
        if let (Some(out), Json::Object(more)) = (out.as_object_mut(), more) {
            out.extend(more);
        }
        out
    };
    let [runs, changes, measurements, readings, notes, on_record] = counts(done);
    json!({
        "car": head.car, "saved": done.saved, "date": done.date.to_string(), "new_day": done.new_day,
        "reopened": done.was_closed, "day": done.day.as_ref().map(day_json),
        "lines": done.lines.iter().map(one).collect::<Vec<_>>(),
        "runs": runs, "changes": changes, "measurements": measurements, "readings": readings, "notes": notes,
        "on_record": on_record, "unread": done.unread().count(), "unusual": done.unusual,
        "out_of_order": done.out_of_order.iter().map(|(at, after)| json!({"at": at, "after": after})).collect::<Vec<_>>(),
        "sum": done.sum, "on_car": on_json(&done.on),
        "told_late": done.late, "moved_runs": done.moved.len(), "moved": done.moved, "relinked_runs": done.relinked,
    })
}
