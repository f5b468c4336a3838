//! A reading of the air or the track → its day, found or made by date. One of a minute that has one already is the same,
//! more of it, or the right one in its place.

use super::book::Book;
use super::day::{day_message, days_on};
use super::history::History;
use super::line;
use super::message::{Message, subject_of};
use super::now::read_day;
use super::record::{Draft, Written, record};
use super::run::{AtDay, DayFacts, find_day, open_text};
use super::who::Hand;
use super::{Error, Result};
use crate::schema::{Num, RunWords, Schema};
use crate::slip::{
    Day, Moment, Reading, air_faults, insert_reading, numbers_words, reading_words, remove_readings, replace_readings,
};
use crate::store::{Id, Options, Store};
use crate::timeline::Kind;

/// A reading to be recorded.
#[derive(Debug, Clone)]
pub struct AirWanted {
    /// The reading; its time is taken from `at`.
    pub reading: Reading,
    /// When it was taken.
    pub at: Moment,
    /// The day's facts, where said.
    pub facts: DayFacts,
    /// It is the right one of its minute: what is on record with other numbers goes.
    pub replace: bool,
}

/// A reading on record.
#[derive(Debug, Clone)]
pub struct AirDone {
    /// The reading, at the time of its day's clock.
    pub reading: Reading,
    /// When it was taken.
    pub at: Moment,
    /// Its day, with it.
    pub day: Day,
    /// The day was made for it.
    pub new_day: bool,
    /// The day was closed, and is open again.
    pub reopened: bool,
    /// It was on record already: the same numbers in the same minute.
    pub known: bool,
    /// What it was put in the place of.
    pub replaced: Vec<Reading>,
}

/// The places in a day of what was read in a minute.
fn of_minute(day: &Day, at: jiff::civil::Time) -> Vec<usize> {
    let same = |r: &Reading| (r.at.hour(), r.at.minute()) == (at.hour(), at.minute());
    (0..day.readings.len()).filter(|i| same(&day.readings[*i])).collect()
}

/// What a number tells of: the barometer and the water in the air can each be read in more than one way.
fn quantity(name: &str) -> &str {
    match name {
        "pressure_station" | "pressure_altimeter" => "pressure",
        "humidity" | "dew_point" | "wet_bulb" => "water",
        name => name,
    }
}

/// Whether two readings of one minute tell of the same thing otherwise.
fn disagree(a: &Reading, b: &Reading) -> bool {
    let of = |r: &Reading, q: &str| -> Vec<(String, Num)> {
        r.numbers.iter().filter(|(k, _)| quantity(k) == q).map(|(k, n)| (k.clone(), *n)).collect()
    };
    let shared = |q: &str| (of(a, q), of(b, q));
    let other = |name: &String| {
        let (a, b) = shared(quantity(name));
        !b.is_empty() && a != b
    };
    a.numbers.keys().any(other) || (a.sun.is_some() && b.sun.is_some() && a.sun != b.sun)
}

/// Whether all of a reading is on record of its minute.
pub(super) fn read_before(day: &Day, reading: &Reading) -> bool {
    let there: Vec<&Reading> = of_minute(day, reading.at).into_iter().map(|i| &day.readings[i]).collect();
    let has = |(name, n): (&String, &Num)| there.iter().any(|r| r.numbers.get(name) == Some(n));
    let sun = reading.sun.is_none() || there.iter().any(|r| r.sun == reading.sun);
    !there.is_empty() && sun && reading.numbers.iter().all(has) && !there.iter().any(|r| disagree(reading, r))
}

/// The places in a day of the readings of the same minute that say otherwise.
pub fn at_odds(day: &Day, reading: &Reading) -> Vec<usize> {
    of_minute(day, reading.at).into_iter().filter(|i| disagree(reading, &day.readings[*i])).collect()
}

/// "a reading of 10:00 is on record: air temperature 48.0 F, ...".
pub fn at_odds_words(words: &RunWords, day: &Day, places: &[usize]) -> String {
    let said: Vec<String> = places.iter().map(|i| reading_words(words, &day.readings[*i])).collect();
    let at = places.first().map(|i| day.readings[*i].at.strftime("%H:%M").to_string()).unwrap_or_default();
    format!("a reading of {at} is on record: {}", said.join("; "))
}

/// What a reading gives, each as short as it can be understood.
fn parts(words: &RunWords, reading: &Reading) -> Vec<String> {
    let (air, track) = numbers_words(words, reading);
    [air, track].concat()
}

/// "84.0 F, not 48.0 F": what a reading gives and those it is put in the place of do not, and the other way round.
fn differ_words(words: &RunWords, is: &Reading, was: &[Reading]) -> String {
    let is = parts(words, is);
    let was: Vec<String> = was.iter().flat_map(|r| parts(words, r)).collect();
    let only = |a: &[String], b: &[String]| a.iter().filter(|p| !b.contains(p)).cloned().collect::<Vec<_>>().join(", ");
    match (only(&is, &was), only(&was, &is)) {
        (new, old) if new.is_empty() => format!("without {old}"),
        (new, old) => format!("{new}, not {old}"),
    }
}

/// How a reading of a minute that says otherwise is told to be meant.
pub const REPLACE_HELP: &str = "--replace puts this in its place; --at TIME records it at another time";

/// The day without the readings at these places, or with another in the place of the first of them.
fn without(schema: &Schema, at: &AtDay, places: &[usize], right: Option<&Reading>) -> Result<AtDay> {
    let laid_out = || {
        let message = format!("{} is laid out so that its readings cannot be mended", at.path);
        Error::data(message, "each reading stands under a line [[reading]]")
    };
    let text = at.text.as_deref().unwrap_or_default();
    let text = match right {
        Some(right) => replace_readings(&schema.run, text, places, right),
        None => remove_readings(text, places),
    };
    let text = text.map_err(|_| laid_out())?;
    let mut wanted = at.day.clone();
    let mut i = 0;
    wanted.readings.retain(|_| {
        i += 1;
        !places.contains(&(i - 1))
    });
    if let (Some(right), Some(first)) = (right, places.first()) {
        wanted.readings.insert(*first, right.clone());
    }
    // What was written must be what is read: a file laid out by hand in another way is refused, not damaged.
    let day = read_day(&at.path, &text)?;
    if day != wanted {
        return Err(laid_out());
    }
    Ok(AtDay { path: at.path.clone(), text: Some(text), day })
}

/// The message of a mended reading: like every mend that leaves the sheets alone.
fn mend_message(store: &Store, head: Option<Id>, history: &History, said: &str) -> Result<Message> {
    let said: String = format!("mended: {said}").chars().map(|c| if c.is_control() { ' ' } else { c }).collect();
    let mut message = Message::new(Kind::Mend, subject_of(&said));
    if message.subject != said {
        message.body.push(said);
    }
    let given = line::given(history.timeline.versions.iter().map(|v| &v.number), store, head)?;
    message.push("Given", &given.to_line());
    Ok(message)
}

/// The day with a reading put into its text, and the message of its record.
pub(super) fn with_reading(schema: &Schema, at: &AtDay, reading: &Reading) -> Result<(AtDay, Message)> {
    let text = insert_reading(&schema.run, &open_text(at), &at.day, reading);
    let day = read_day(&at.path, &text)?;
    // What was put in must be what is read: a file laid out by hand in another way is refused, not damaged.
    if day.readings.len() != at.day.readings.len() + 1 {
        let message = format!("{} is laid out so that a reading cannot be added", at.path);
        return Err(Error::data(message, "each reading stands under a line [[reading]]"));
    }
    let track: String = day.track.chars().take(40).collect();
    let message = day_message(&format!("air and track read at {track}"));
    Ok((AtDay { path: at.path.clone(), text: Some(text), day }, message))
}

/// The reading as it stands in a day: at the time the day's clock showed.
pub fn by_the_day(reading: &Reading, at: Moment, day: &Day) -> (Reading, Moment) {
    let at = Moment { offset_seconds: day.offset_seconds, ..at };
    (Reading { at: at.civil().time(), ..reading.clone() }, at)
}

/// Records a reading.
pub fn air(book: &Book, options: &Options, hand: &Hand, wanted: &AirWanted) -> Result<(AirDone, Written)> {
    let schema = &book.schema;
    let mut result = None;
    let history = wanted.replace.then(|| book.history()).transpose()?;
    let written = record(&book.store, options, hand, &mut |tip| {
        let facts = &wanted.facts;
        let found = find_day(tip.store, tip.head, wanted.at.race_day(), wanted.at.offset_seconds, facts)?;
        let found = found.with_elevation(facts.elevation_ft);
        super::run::on_its_clock(wanted.at, &found.day)?;
        let (reading, at) = by_the_day(&wanted.reading, wanted.at, &found.day);
        let elevation = found.day.elevation_ft.map(|e| e.to_f64());
        if let Some(fault) = air_faults(&schema.run, &reading, elevation).into_iter().next() {
            return Err(Error::usage(fault, "nothing was recorded"));
        }
        let (new_day, reopened) = (found.text.is_none(), found.day.closed);
        if read_before(&found.day, &reading) {
            let (day, replaced) = (found.day, Vec::new());
            result = Some(AirDone { reading, at, day, new_day: false, reopened: false, known: true, replaced });
            return Ok(None);
        }
        if wanted.replace && of_minute(&found.day, reading.at).is_empty() {
            let message = format!("no reading of {} is on record to be replaced", at.words(None));
            return Err(Error::usage(message, "--at TIME says which; without --replace it is recorded as a new one"));
        }
        let odds = at_odds(&found.day, &reading);
        if let (Some(first), Some(history)) = (odds.first(), &history) {
            // It was taken when the other was taken, to the second.
            let reading = Reading { at: found.day.readings[*first].at, ..reading };
            let at = found.day.read_at(&reading).unwrap_or(at);
            let replaced: Vec<Reading> = odds.iter().map(|i| found.day.readings[*i].clone()).collect();
            let said = format!("air of {}: {}", at.words(None), differ_words(&schema.run, &reading, &replaced));
            let new = without(schema, &found, &odds, Some(&reading))?;
            let message = mend_message(tip.store, tip.head, history, &said)?;
            let files = vec![(new.path, new.text.map(String::into_bytes))];
            let day = new.day;
            result = Some(AirDone { reading, at, day, new_day: false, reopened: false, known: false, replaced });
            return Ok(Some(Draft { files, message, at: hand.now, takes_hand_edit: false }));
        }
        if !odds.is_empty() {
            return Err(Error::Unconfirmed {
                message: at_odds_words(&schema.run, &found.day, &odds),
                help: REPLACE_HELP.to_owned(),
            });
        }
        let (new, message) = with_reading(schema, &found, &reading)?;
        let files = vec![(new.path, new.text.map(String::into_bytes))];
        result = Some(AirDone { reading, at, day: new.day, new_day, reopened, known: false, replaced: Vec::new() });
        Ok(Some(Draft { files, message, at, takes_hand_edit: false }))
    })?;
    let done = result.ok_or_else(|| Error::data("the record was not built", "try again"))?;
    Ok((done, written))
}

/// Readings that never were.
#[derive(Debug, Clone)]
pub struct AirGone {
    /// What was taken away.
    pub readings: Vec<Reading>,
    /// When it was said to be read.
    pub at: Moment,
    /// Its day, without it.
    pub day: Day,
}

/// Takes away what was read in a minute; with `dry_run` it is only said.
pub fn air_never(
    book: &Book,
    options: &Options,
    hand: &Hand,
    at: Moment,
    track: Option<&str>,
    dry_run: bool,
) -> Result<(AirGone, Option<Written>)> {
    let schema = &book.schema;
    let history = book.history()?;
    let find = |store: &Store, head: Option<Id>| -> Result<(AtDay, Vec<usize>)> {
        let days = days_on(store, head, at.race_day())?;
        let here = |d: &AtDay| track.is_none_or(|t| t.trim().eq_ignore_ascii_case(&d.day.track));
        let mut found: Vec<(AtDay, Vec<usize>)> = days
            .into_iter()
            .filter(here)
            .map(|d| {
                let shown = Moment { offset_seconds: d.day.offset_seconds, ..at };
                let places = of_minute(&d.day, shown.civil().time());
                (d, places)
            })
            .filter(|(_, places)| !places.is_empty())
            .collect();
        if found.len() > 1 {
            let tracks: Vec<&str> = found.iter().map(|(d, _)| d.day.track.as_str()).collect();
            let message = format!("{} was read at more than one track", at.words(None));
            return Err(Error::usage(message, format!("--track {}", tracks.join(", "))));
        }
        found.pop().ok_or_else(|| {
            let message = format!("no reading of {} is on record; nothing was taken away", at.words(None));
            Error::usage(message, "slipbook day DATE shows the day's readings")
        })
    };
    let gone = |found: &AtDay, places: &[usize], day: Day| AirGone {
        readings: places.iter().map(|i| found.day.readings[*i].clone()).collect(),
        at: places.first().and_then(|i| found.day.read_at(&found.day.readings[*i])).unwrap_or(at),
        day,
    };
    if dry_run {
        let (found, places) = find(&book.store, book.store.head()?)?;
        let new = without(schema, &found, &places, None)?;
        return Ok((gone(&found, &places, new.day), None));
    }
    let mut result = None;
    let written = record(&book.store, options, hand, &mut |tip| {
        let (found, places) = find(tip.store, tip.head)?;
        let new = without(schema, &found, &places, None)?;
        let done = gone(&found, &places, new.day);
        let was: Vec<String> = done.readings.iter().map(|r| parts(&schema.run, r).join(", ")).collect();
        let said = format!("no such air at {}: {}", done.at.words(None), was.join("; "));
        let message = mend_message(tip.store, tip.head, &history, &said)?;
        let files = vec![(new.path, new.text.map(String::into_bytes))];
        result = Some(done);
        Ok(Some(Draft { files, message, at: hand.now, takes_hand_edit: false }))
    })?;
    let done = result.ok_or_else(|| Error::data("the record was not built", "try again"))?;
    Ok((done, Some(written)))
}
