//! A race day: its facts, its runs with the changes between them, and a notebook's page as it was taken in.

mod page;

pub use page::{count_words, page_json, page_text, unread_words};

use super::air::stored_json;
use super::layout::{Head, Page, counted};
use super::run::{clean_words, run_json};
use crate::air::KG_M3_PER_LB_FT3;
use crate::garage::{Event, OnCar, Shown, Sum};
use crate::schema::{Num, RunWords};
use crate::slip::{Beam, Day, Reading, Run, numbers_words};
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
