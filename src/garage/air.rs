//! A reading of the air or the track → its day, found or made by date.

use super::book::Book;
use super::day::day_message;
use super::message::Message;
use super::now::read_day;
use super::record::{Draft, Written, record};
use super::run::{AtDay, DayFacts, find_day, open_text};
use super::who::Hand;
use super::{Error, Result};
use crate::schema::Schema;
use crate::slip::{Day, Moment, Reading, air_faults, insert_reading};
use crate::store::Options;

/// A reading to be recorded.
#[derive(Debug, Clone)]
pub struct AirWanted {
    /// The reading; its time is taken from `at`.
    pub reading: Reading,
    /// When it was taken.
    pub at: Moment,
    /// The day's facts, where said.
    pub facts: DayFacts,
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
}

/// Whether a day has the reading already: of the same minute, with the same words.
pub(super) fn read_before(day: &Day, reading: &Reading) -> bool {
    let minute = |r: &Reading| (r.at.hour(), r.at.minute());
    let same = |r: &&Reading| minute(r) == minute(reading) && r.numbers == reading.numbers && r.sun == reading.sun;
    day.readings.iter().any(|r| same(&r))
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
    let written = record(&book.store, options, hand, &mut |tip| {
        let facts = &wanted.facts;
        let found = find_day(tip.store, tip.head, wanted.at.race_day(), wanted.at.offset_seconds, facts)?;
        let found = found.with_elevation(facts.elevation_ft);
        let (reading, at) = by_the_day(&wanted.reading, wanted.at, &found.day);
        let elevation = found.day.elevation_ft.map(|e| e.to_f64());
        if let Some(fault) = air_faults(&schema.run, &reading, elevation).into_iter().next() {
            return Err(Error::usage(fault, "nothing was recorded"));
        }
        let (new_day, reopened) = (found.text.is_none(), found.day.closed);
        if read_before(&found.day, &reading) {
            result = Some(AirDone { reading, at, day: found.day, new_day: false, reopened: false, known: true });
            return Ok(None);
        }
        let (new, message) = with_reading(schema, &found, &reading)?;
        let files = vec![(new.path, new.text.map(String::into_bytes))];
        result = Some(AirDone { reading, at, day: new.day, new_day, reopened, known: false });
        Ok(Some(Draft { files, message, at, takes_hand_edit: false }))
    })?;
    let done = result.ok_or_else(|| Error::data("the record was not built", "try again"))?;
    Ok((done, written))
}
