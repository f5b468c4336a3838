//! A race day: its facts, its runs with the changes between them, and a notebook's page as it was taken in.

use super::air::stored_json;
use super::layout::{Head, Page, counted};
use super::run::{clean_words, run_json};
use crate::air::KG_M3_PER_LB_FT3;
use crate::garage::{Came, Event, LineDone, OnCar, PageDone, Shown, Sum};
use crate::schema::{Num, RunWords};
use crate::slip::{Beam, Day, Moment, Reading, Run, numbers_words};
use crate::timeline::{Entry, Kind};
use serde_json::{Value as Json, json};

/// A date's days as text. `told` is what was just recorded of them.
pub fn text(head: &Head, words: &RunWords, days: &[Shown], on: &OnCar, told: Option<&str>) -> String {
    let mut page: Option<Page> = None;
    for shown in days {
        let Some(day) = shown.day else {
            let mut p = head.page("no day at a track, but the car changed");
            events(words, &mut p, shown, 1320);
            page = Some(p);
            continue;
        };
        let state = if day.closed { "closed" } else { "open" };
        let line = format!("{} at {}, {state}", head.day(day.date), day.track);
        let p = match &mut page {
            None => page.insert(head.page(&line)),
            Some(p) => {
                p.gap();
                p.wrap("", &line);
                p
            }
        };
        facts(p, day);
        if !shown.events.is_empty() {
            p.gap();
            events(words, p, shown, day.finish_ft);
        }
        for line in &day.unread {
            p.wrap("  not read: ", line);
        }
        p.gap();
        p.wrap("", &sum_words(&shown.sum));
    }
    let mut page = page.unwrap_or_else(|| head.page("nothing is on record for this day"));
    if let Some(told) = told {
        page.wrap("saved: ", told);
    }
    page.wrap("", &on_words(head, on));
    let of = |f: &dyn Fn(&Day) -> bool| days.iter().filter_map(|s| s.day).find(|d| f(d)).map(|d| d.date);
    page.line(match (of(&|d| !d.unread.is_empty()), of(&|d| !d.closed)) {
        (Some(date), _) => format!("next: enter what is not read, then slipbook day {date} --forget-unread"),
        (_, Some(date)) => format!("next: slipbook day {date} --from FILE, or --close"),
        _ => "next: slipbook history   slipbook blame 60".to_owned(),
    });
    page.text()
}

fn facts(page: &mut Page, day: &Day) {
    let mut facts = vec![format!("finish {} ft", day.finish_ft)];
    facts.extend(day.elevation_ft.map(|e| format!("elevation {e} ft")));
    facts.extend(day.prep.as_ref().map(|p| format!("prep {p}")));
    facts.push(format!("clock UTC{}", day.offset_text()));
    page.wrap("  ", &facts.join(", "));
    for line in day.note.as_deref().unwrap_or_default().lines() {
        page.wrap("  note: ", line);
    }
}

/// Where the words behind a run's numbers begin.
const WORDS_AT: usize = 58;

fn events(words: &RunWords, page: &mut Page, shown: &Shown, finish_ft: u32) {
    if shown.sum.runs > 0 {
        page.line(row(["time", "on", "", "60 ft", "330", "660", "ET", "mph"]));
    }
    for event in &shown.events {
        match event {
            Event::Run(made) => run_row(page, &made.run, finish_ft),
            Event::Change(entry) => change_row(page, entry),
            Event::Reading(n) => {
                let Some(day) = shown.day else { continue };
                if let Some(reading) = day.readings.get(*n) {
                    air_row(page, words, reading, day.elevation_ft);
                }
            }
        }
    }
}

fn row(cells: [&str; 8]) -> String {
    let [time, on, lane, t60, t330, t660, et, mph] = cells;
    format!("{time:<5}  {on:<5} {lane:<1}  {t60:>6}  {t330:>6}  {t660:>6}  {et:>6}  {mph:>6}")
}

fn run_row(page: &mut Page, run: &Run, finish_ft: u32) {
    let time = |b: Beam| run.time(b).map(|t| t.fixed(3)).unwrap_or_default();
    let finish = Beam::at(finish_ft);
    let mph = finish.and_then(Beam::speed_key).and_then(|k| run.num(k)).map(|v| v.fixed(2)).unwrap_or_default();
    // At 660 ft the ET is the 660 ft time.
    let t660 = if finish_ft == 660 { String::new() } else { time(Beam::Ft660) };
    let at = run.at.civil().strftime("%H:%M").to_string();
    let lane = run.lane.as_deref().map_or("", |l| if l == "left" { "L" } else { "R" });
    let et = finish.map(time).unwrap_or_default();
    let line = row([&at, &run.on, lane, &time(Beam::Ft60), &time(Beam::Ft330), &t660, &et, &mph]);
    let mut words: Vec<String> = run.clean_to.map(|f| clean_words(run, f)).into_iter().collect();
    words.extend(run.num("reaction").filter(|r| *r < Num::ZERO).map(|_| "red light".to_owned()));
    words.extend(run.did.iter().cloned());
    words.extend(run.note.clone());
    let words = words.join(", ");
    if run.numbers.is_empty() {
        page.wrap(&format!("{at}  {:<5} {lane:<1}  ", run.on), &words);
    } else if words.is_empty() {
        page.line(line);
    } else if WORDS_AT + words.chars().count() <= page.width() {
        page.line(format!("{line:<WORDS_AT$}{words}"));
    } else {
        page.line(line);
        page.wrap("             ", &words);
    }
}

fn change_row(page: &mut Page, entry: &Entry) {
    let name = match (&entry.number, entry.kind) {
        (Some(number), Kind::Change | Kind::Revert | Kind::Open) => number.to_string(),
        _ => String::new(),
    };
    page.wrap(&format!("{}  {name:<5} ", entry.at.civil().strftime("%H:%M")), &entry.words.join(", "));
    if let Some(why) = &entry.why {
        page.wrap("             why: ", why);
    }
}

/// A reading behind its time, what its air comes to where it is whole, the track, and the report it was read from, cut
/// short: one line where it fits.
fn air_row(page: &mut Page, words: &RunWords, reading: &Reading, elevation_ft: Option<Num>) {
    /// Characters of a report that are shown.
    const OF_REPORT: usize = 48;
    /// Spaces between what is read and what it comes to.
    const GAP: usize = 3;
    let (air, track) = numbers_words(words, reading);
    let mut parts = vec![air.join("  ")];
    parts.extend(whole(reading, elevation_ft).map(|air| {
        format!("{:.4} lb/ft3, DA {:.0} ft", air.density_kg_m3() / KG_M3_PER_LB_FT3, air.density_altitude_ft())
    }));
    parts.push(track.join(", "));
    parts.extend(reading.report.as_ref().map(|report| {
        let short: String = report.chars().take(OF_REPORT).collect();
        let more = if short.len() < report.len() { " ..." } else { "" };
        format!("report {}{more}", short.trim_end())
    }));
    let mut label = format!("{}  air   ", reading.at.strftime("%H:%M"));
    let room = page.width().saturating_sub(label.len());
    let mut line = String::new();
    for part in parts.iter().filter(|p| !p.is_empty()) {
        if !line.is_empty() && line.chars().count() + GAP + part.chars().count() > room {
            page.wrap(&label, &line);
            label = " ".repeat(label.len());
            line.clear();
        }
        if !line.is_empty() {
            line.push_str(&" ".repeat(GAP));
        }
        line.push_str(part);
    }
    page.wrap(&label, &line);
}

/// The air of a reading that gives all of it.
fn whole(reading: &Reading, elevation_ft: Option<Num>) -> Option<crate::air::Moist> {
    reading.means(elevation_ft.map(|e| e.to_f64())).ok()?.air
}

fn sum_words(sum: &Sum) -> String {
    let mut out = counted(sum.runs, "run");
    let best = [("60 ft", sum.best_ft60_s), ("ET", sum.best_et_s)];
    let best: Vec<String> = best.iter().filter_map(|(l, n)| Some(format!("best {l} {}", (*n)?.fixed(3)))).collect();
    if !best.is_empty() {
        out.push_str(&format!(": {}", best.join(", ")));
    }
    out
}

fn on_words(head: &Head, on: &OnCar) -> String {
    format!("on the car: {} since {}", on.number, head.when(on.began))
}

/// A date's days as JSON.
pub fn json(head: &Head, days: &[Shown], on: &OnCar, saved: bool) -> Json {
    let one = |shown: &Shown| {
        let mut out = shown.day.map_or_else(|| json!({}), day_json);
        let runs: Vec<Json> = shown
            .events
            .iter()
            .filter_map(|e| match e {
                Event::Run(made) => Some(run_json(&made.run)),
                _ => None,
            })
            .collect();
        let changes: Vec<Json> = shown
            .events
            .iter()
            .filter_map(|e| match e {
                Event::Change(e) => Some(json!({
                    "version": e.number, "kind": e.kind, "at": e.at, "words": e.words, "why": e.why,
                })),
                _ => None,
            })
            .collect();
        if let Some(map) = out.as_object_mut() {
            map.insert("runs".to_owned(), json!(runs));
            map.insert("changes".to_owned(), json!(changes));
            map.insert("sum".to_owned(), json!(shown.sum));
        }
        out
    };
    let days: Vec<Json> = days.iter().map(one).collect();
    json!({ "car": head.car, "saved": saved, "days": days, "on_car": on_json(on) })
}

fn on_json(on: &OnCar) -> Json {
    json!({"version": on.number, "since": on.began})
}

fn day_json(day: &Day) -> Json {
    json!({
        "date": day.date.to_string(), "track": day.track, "finish_ft": day.finish_ft, "elevation_ft": day.elevation_ft,
        "prep": day.prep, "note": day.note, "closed": day.closed, "unread": day.unread, "utc_offset": day.offset_text(),
        "readings": day.readings.iter().map(|r| reading_json(r, day.elevation_ft)).collect::<Vec<_>>(),
    })
}

/// A reading with what its air comes to, where it is whole.
fn reading_json(reading: &Reading, elevation_ft: Option<Num>) -> Json {
    let mut out = stored_json(reading);
    if let (Some(map), Some(air)) = (out.as_object_mut(), whole(reading, elevation_ft)) {
        map.insert("density_kg_m3".to_owned(), json!(air.density_kg_m3()));
        map.insert("density_altitude_ft".to_owned(), json!(air.density_altitude_ft()));
    }
    out
}

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
