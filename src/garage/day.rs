//! A race day: opened, shown, amended, closed; what it came to.

use super::book::Book;
use super::car::day_header;
use super::history::{History, Made};
use super::message::Message;
use super::now::{days_back, now, read_day};
use super::record::{Draft, Written, record};
use super::run::{AtDay, DayFacts, find_day};
use super::who::Hand;
use super::{Error, Result};
use crate::schema::Num;
use crate::slip::{Beam, Day, Run, with_facts, write_day};
use crate::store::{Id, Options, Store};
use crate::text::counted;
use crate::timeline::{Entry, Kind};
use jiff::civil::Date;

/// The days of a date: one for each track.
pub fn days_on(store: &Store, head: Option<Id>, date: Date) -> Result<Vec<AtDay>> {
    let mut out = Vec::new();
    if let Some(head) = head {
        days_back(store, head, &mut |day, path, text| {
            if day.date == date {
                out.push(AtDay { path: path.to_owned(), text: Some(text.to_owned()), day: day.clone() });
            }
            day.date >= date
        })?;
    }
    out.reverse();
    Ok(out)
}

/// The day of a date, where it is the only one or its track is named; made like the last day at that track else.
pub fn one_day(store: &Store, head: Option<Id>, date: Date, offset_seconds: i32, facts: &DayFacts) -> Result<AtDay> {
    let there = days_on(store, head, date)?;
    if let (true, None) = (there.len() > 1, &facts.track) {
        let tracks: Vec<&str> = there.iter().map(|d| d.day.track.as_str()).collect();
        return Err(Error::usage(format!("{date} has more than one track"), format!("name it: {}", tracks.join(", "))));
    }
    // The finish of a day on record is looked at by who amends it.
    let facts = DayFacts { finish_ft: facts.finish_ft.filter(|_| there.is_empty()), ..facts.clone() };
    match (there.into_iter().next(), &facts.track) {
        (Some(day), None) => Ok(day),
        _ => find_day(store, head, date, offset_seconds, &facts),
    }
}

/// What is said of a day.
#[derive(Debug, Clone, Default)]
pub struct Amend {
    /// Its track, finish, elevation, prep, where said.
    pub facts: DayFacts,
    /// Lines for its note.
    pub note: Vec<String>,
    /// Nothing more is expected of it.
    pub close: bool,
    /// Its unread lines were entered otherwise.
    pub forget_unread: bool,
    /// Lines that could not be read.
    pub unread: Vec<String>,
    /// Something more comes to it: it is open again.
    pub reopen: bool,
}

/// A day with what was said of it; the sentence that tells what differs, where something does.
pub fn amended(at: &AtDay, said: &Amend) -> Result<(AtDay, Option<String>)> {
    let mut day = at.day.clone();
    let mut words: Vec<String> = Vec::new();
    if let Some(finish) = said.facts.finish_ft.filter(|f| *f != day.finish_ft) {
        if !day.runs.is_empty() {
            let message = format!("this day's finish is {} ft on record, not {finish}", day.finish_ft);
            return Err(Error::usage(message, "a day has one finish, and its runs were read by it"));
        }
        day.finish_ft = finish;
        words.push(format!("finish {finish} ft"));
    }
    if let Some(feet) = said.facts.elevation_ft.filter(|e| Some(*e) != day.elevation_ft) {
        day.elevation_ft = Some(feet);
        words.push(format!("elevation {feet} ft"));
    }
    if let Some(prep) = said.facts.prep.as_ref().filter(|p| day.prep.as_ref() != Some(p)) {
        day.prep = Some(prep.clone());
        words.push(format!("prep {prep}"));
    }
    for line in &said.note {
        if !has_note(&day, line) {
            day.note = Some(day.note.map_or(line.clone(), |n| format!("{}\n{line}", n.trim_end())));
            words.push(format!("note {line}"));
        }
    }
    let new: Vec<String> = said.unread.iter().filter(|l| !day.unread.contains(l)).cloned().collect();
    if !new.is_empty() {
        words.push(format!("{} kept unread", counted(new.len(), "line")));
        day.unread.extend(new);
    }
    if said.forget_unread && !day.unread.is_empty() {
        words.push(format!("{} no longer unread", counted(day.unread.len(), "line")));
        day.unread.clear();
    }
    if said.reopen && day.closed {
        day.closed = false;
        words.push("open again".to_owned());
    }
    if said.close && !day.closed {
        day.closed = true;
        words.push("closed".to_owned());
    }
    let before = match &at.text {
        Some(text) => text.clone(),
        None => write_day(&crate::schema::schema().run, &day, &day_header()),
    };
    let text = with_facts(&before, &day);
    // A file laid out by hand in another way is refused, not damaged.
    let read = read_day(&at.path, &text)?;
    if read != day {
        return Err(Error::data(format!("{} cannot be amended as it is laid out", at.path), "amend it by hand"));
    }
    let told = match (&at.text, words.as_slice()) {
        (None, _) => Some(format!("day at {}, {} ft finish", day.track, day.finish_ft)),
        (Some(_), []) => None,
        (Some(_), words) => Some(format!("day at {}: {}", day.track, words.join(", "))),
    };
    Ok((AtDay { path: at.path.clone(), text: Some(text), day }, told))
}

/// Whether a note stands in a day already.
pub fn has_note(day: &Day, line: &str) -> bool {
    day.note.as_deref().unwrap_or_default().lines().any(|l| l.trim() == line.trim())
}

/// The message of a record about a day.
pub fn day_message(told: &str) -> Message {
    Message::new(Kind::Other, super::message::subject_of(told))
}

/// Opens a day, or amends it: one record, or none where it says so already. The day, whether it is new, what differs.
pub fn amend(
    book: &Book,
    options: &Options,
    hand: &Hand,
    date: Date,
    offset_seconds: i32,
    said: &Amend,
) -> Result<(AtDay, Option<String>, Written)> {
    let mut result = None;
    let written = record(&book.store, options, hand, &mut |tip| {
        now(tip.store, &book.schema, tip.head)?;
        let at = one_day(tip.store, tip.head, date, offset_seconds, &said.facts)?;
        if at.text.is_none() && (said.close || said.forget_unread) {
            return Err(Error::usage(format!("no day is on record on {date}"), "slipbook day --track NAME opens one"));
        }
        let (day, told) = amended(&at, said)?;
        let draft = told.as_ref().map(|told| Draft {
            files: vec![(day.path.clone(), day.text.clone().map(String::into_bytes))],
            message: day_message(told),
            at: hand.now,
            takes_hand_edit: false,
        });
        result = Some((day, told));
        Ok(draft)
    })?;
    let (day, told) = result.ok_or_else(|| Error::data("the record was not built", "try again"))?;
    Ok((day, told, written))
}

/// What happened on a day, in the order of time.
#[derive(Debug, Clone, Copy)]
pub enum Event<'a> {
    /// A run of it.
    Run(&'a Made),
    /// The car changed, or something was measured.
    Change(&'a Entry),
    /// Air or track was read: its place among the day's readings.
    Reading(usize),
}

/// The day, whole.
#[derive(Debug, Clone)]
pub struct Shown<'a> {
    /// The day; `None` where only the car changed.
    pub day: Option<&'a Day>,
    /// In the order of time.
    pub events: Vec<Event<'a>>,
    /// What it came to.
    pub sum: Sum,
}

/// A date's days, each with its runs and readings; the changes of the date stand in the first that has not ended by then.
pub fn shown(history: &History, date: Date) -> Vec<Shown<'_>> {
    let indices: Vec<usize> = (0..history.days.len()).filter(|i| history.days[*i].date == date).collect();
    let versions = history.timeline.versions.iter().map(|v| &v.entry);
    let entries: Vec<&Entry> = versions
        .chain(history.timeline.remarks.iter().map(|r| &r.entry))
        .filter(|e| e.kind != Kind::Open && e.at.race_day() == date)
        .collect();
    let last = |i: usize| history.days[i].runs.last().map_or(i64::MIN, |r| r.at.seconds);
    let home = |e: &Entry| indices.iter().copied().find(|i| last(*i) >= e.at.seconds).or(indices.last().copied());
    let mut out = Vec::new();
    for i in indices.iter().map(|i| Some(*i)).chain(indices.is_empty().then_some(None)) {
        let mut events: Vec<(i64, u8, Event)> = Vec::new();
        events.extend(entries.iter().filter(|e| home(e) == i).map(|e| (e.at.seconds, 1, Event::Change(e))));
        let day = i.map(|i| &history.days[i]);
        if let Some((i, day)) = i.zip(day) {
            let runs = history.runs.iter().filter(|m| m.day == i);
            events.extend(runs.map(|m| (m.run.at.seconds, 2, Event::Run(m))));
            for (n, reading) in day.readings.iter().enumerate() {
                let at = crate::slip::Moment::on_race_day(day.date, reading.at, day.offset_seconds);
                events.push((at.map_or(i64::MAX, |a| a.seconds), 0, Event::Reading(n)));
            }
        }
        events.sort_by_key(|(at, rank, _)| (*at, *rank));
        let (runs, finish_ft) = day.map_or((&[][..], 1320), |d| (&d.runs[..], d.finish_ft));
        let sum = Sum::of(runs, finish_ft);
        out.push(Shown { day, events: events.into_iter().map(|e| e.2).collect(), sum });
    }
    out.retain(|s| s.day.is_some() || !s.events.is_empty());
    out
}

/// What runs came to.
#[derive(Debug, Clone, Default, PartialEq, Eq, serde::Serialize)]
pub struct Sum {
    /// How many.
    pub runs: usize,
    /// The best clean 60 ft, s.
    pub best_ft60_s: Option<Num>,
    /// The best clean time to the finish, s.
    pub best_et_s: Option<Num>,
}

impl Sum {
    /// Of these runs; only splits that were clean count.
    pub fn of(runs: &[Run], finish_ft: u32) -> Sum {
        let best = |beam: Beam| runs.iter().filter(|r| r.clean_at(beam.feet())).filter_map(|r| r.time(beam)).min();
        Sum { runs: runs.len(), best_ft60_s: best(Beam::Ft60), best_et_s: Beam::at(finish_ft).and_then(best) }
    }
}

/// A sentence where a change is dated in a day that was closed.
pub fn closed_day(book: &Book, date: Date) -> Result<Option<String>> {
    let there = days_on(&book.store, book.store.head()?, date)?;
    let closed = there.iter().find(|d| d.day.closed);
    Ok(closed.map(|d| format!("{} at {} was closed; recorded all the same", date.strftime("%b %d"), d.day.track)))
}
