//! A run → its day file, found or made by date, linked to the sheet that was on the car at its time.

use super::air::{by_the_day, read_before};
use super::book::Book;
use super::car::day_header;
use super::message::Message;
use super::name::version_named;
use super::now::{OnCar, days_back, last_run, now, on_car_at, read_day, text};
use super::record::{Draft, Written, record};
use super::who::Hand;
use super::{Error, Result};
use crate::diff::words::LONGEST_SUBJECT;
use crate::schema::{Num, RunNumber, Schema, far_from, read_sheet, schema};
use crate::slip::{
    Beam, Day, Moment, Reading, Run, all_faults, day_of_path, insert_reading, insert_run, reading_faults, with_facts,
    write_day,
};
use crate::store::{Commit, Id, Options, Store};
use crate::text::cut;
use crate::timeline::Kind;
use jiff::civil::Date;

/// What a day is known by, where the racer says it.
#[derive(Debug, Clone, Default)]
pub struct DayFacts {
    /// Track.
    pub track: Option<String>,
    /// Finish, ft.
    pub finish_ft: Option<u32>,
    /// Elevation, ft.
    pub elevation_ft: Option<Num>,
    /// How it was prepared.
    pub prep: Option<String>,
}

/// The day a run falls in, as it is on record or as it would be made.
#[derive(Debug, Clone)]
pub struct AtDay {
    /// Its path.
    pub path: String,
    /// Its text; `None` = not on record yet.
    pub text: Option<String>,
    /// The day.
    pub day: Day,
}

impl AtDay {
    /// With the track's elevation, where it is said and not on record.
    pub fn with_elevation(mut self, said: Option<Num>) -> AtDay {
        if let (None, Some(feet)) = (self.day.elevation_ft, said) {
            self.day.elevation_ft = Some(feet);
            self.text = self.text.map(|text| with_facts(&text, &self.day));
        }
        self
    }
}

/// Finds the day of a date (of that track, where one is named), or makes one from the last day at that track.
pub fn find_day(store: &Store, head: Option<Id>, date: Date, offset_seconds: i32, facts: &DayFacts) -> Result<AtDay> {
    let same = |d: &Day| facts.track.as_ref().is_none_or(|t| t.eq_ignore_ascii_case(&d.track));
    let mut here: Option<AtDay> = None;
    let mut like: Option<Day> = None;
    if let Some(head) = head {
        days_back(store, head, &mut |day, path, text| {
            if day.date == date && same(day) && here.is_none() {
                here = Some(AtDay { path: path.to_owned(), text: Some(text.to_owned()), day: day.clone() });
                return false;
            }
            if day.date <= date && same(day) && like.is_none() {
                like = Some(day.clone());
            }
            // The day itself stands before any older one; a track's last day may lie further back.
            day.date > date || (like.is_none() && facts.track.is_some())
        })?;
    }
    if let Some(here) = here {
        if let Some(finish) = facts.finish_ft.filter(|f| *f != here.day.finish_ft) {
            return Err(Error::usage(
                format!("this day's finish is {} ft on record, not {finish}", here.day.finish_ft),
                "a day has one finish",
            ));
        }
        if let Some(said) = facts.elevation_ft.filter(|e| here.day.elevation_ft.is_some_and(|is| is != *e)) {
            let is = here.day.elevation_ft.map(|e| e.to_string()).unwrap_or_default();
            return Err(Error::usage(
                format!("this day's elevation is {is} ft on record, not {said}"),
                format!("slipbook mend track \"{}\" --elevation {said} puts it right", here.day.track),
            ));
        }
        return Ok(here);
    }
    // Spelled as it is on record.
    let track = like.as_ref().map(|d| d.track.clone()).or(facts.track.as_ref().map(|t| t.trim().to_owned()));
    let Some(track) = track.filter(|t| !t.is_empty()) else {
        return Err(Error::usage("which track? It is the first day of the book", "--track NAME"));
    };
    let day = Day {
        date,
        track,
        finish_ft: facts.finish_ft.or(like.as_ref().map(|d| d.finish_ft)).unwrap_or(1320),
        elevation_ft: facts.elevation_ft.or(like.and_then(|d| d.elevation_ft)),
        offset_seconds,
        prep: facts.prep.clone(),
        note: None,
        closed: false,
        unread: Vec::new(),
        readings: Vec::new(),
        runs: Vec::new(),
    };
    if let Some(head) = head {
        // Two spellings can share a file name: the day that is there must never be written over.
        if store.file(head, &day.path())?.is_some() {
            let message = format!("{} is on record under another spelling of the track", day.path());
            return Err(Error::usage(message, "--track as slipbook runs spells it"));
        }
    }
    Ok(AtDay { path: day.path(), text: None, day })
}

/// The subject of a run's record: "v20 run: 60 ft 1.597, ET 11.428 at 117.00 mph, right lane".
pub fn run_subject(run: &Run, finish_ft: u32) -> String {
    let mut parts = Vec::new();
    if let Some(n) = run.time(Beam::Ft60) {
        parts.push(format!("60 ft {}", n.fixed(3)));
    }
    let finish = Beam::at(finish_ft).and_then(|b| run.time(b));
    let speed = Beam::at(finish_ft).and_then(Beam::speed_key).and_then(|k| run.num(k));
    match (finish, speed) {
        (Some(t), Some(v)) => parts.push(format!("ET {} at {} mph", t.fixed(3), v.fixed(2))),
        (Some(t), None) => parts.push(format!("ET {}", t.fixed(3))),
        _ => parts.push("no ET".to_owned()),
    }
    parts.extend(run.lane.as_ref().map(|l| format!("{l} lane")));
    parts.extend(run.why_not.clone());
    cut(&format!("{} run: {}", run.on, parts.join(", ")), LONGEST_SUBJECT).to_owned()
}

/// An id of its own: from what the run says, who wrote it and on what; two laptops never make the same one for two runs.
pub fn run_id(run: &Run, hand: &Hand, head: Option<Id>) -> String {
    let seed = format!("{run:?} {} {} {}", hand.by, hand.now.seconds, head.map(|h| h.to_string()).unwrap_or_default());
    Store::blob_id(seed.as_bytes()).short()
}

/// The run a record wrote, with its day and that day's path; `None` where it is no record of a run.
pub(super) fn run_recorded(store: &Store, commit: &Commit) -> Result<Option<(String, Day, Run)>> {
    let message = Message::read(&commit.message);
    let Some(id) = message.get("Run").filter(|_| message.kind() == Some(Kind::Run)) else { return Ok(None) };
    let known = commit.parents.first().map(|p| store.files(*p)).transpose()?.unwrap_or_default();
    let written = store.files(commit.id)?.into_iter().filter(|f| day_of_path(&f.0).is_some() && !known.contains(f));
    for (path, blob) in written {
        let day = read_day(&path, &text(store.blob(blob)?, &path)?)?;
        if let Some(run) = day.runs.iter().find(|r| r.id == id).cloned() {
            return Ok(Some((path, day, run)));
        }
    }
    Ok(None)
}

/// Whether two runs are one slip, given twice: the same numbers in the same minute.
fn same_slip(a: &Run, b: &Run) -> bool {
    let minute = |r: &Run| r.at.seconds.div_euclid(60);
    !a.numbers.is_empty() && a.numbers == b.numbers && minute(a) == minute(b)
}

/// A number of the slip that is not what the sheet's own field usually is, or far from what it says, in words.
fn far_from_sheet(book: &Book, store: &Store, sheet: Id, run: &Run) -> Result<Option<String>> {
    let schema = &*book.schema;
    let of = |d: &RunNumber| Some((*run.numbers.get(&d.name)?, schema.locate(d.of.as_deref()?)?));
    let said: Vec<_> = schema.run.number.iter().filter_map(|d| Some((d, of(d)?))).collect();
    if said.is_empty() {
        return Ok(None);
    }
    let sheet = read_sheet(schema, &text(store.blob(sheet)?, "setup.toml")?).sheet;
    Ok(said.into_iter().find_map(|(d, (n, (field, slot)))| {
        let set = sheet.get(&field.key).and_then(|v| v.slot(slot.unwrap_or(0))?.num());
        let unusual = field.usual.filter(|u| n < u[0] || n > u[1]);
        let range =
            || unusual.map(|u| format!("{} = {n} is outside the usual {} to {} {}", d.label, u[0], u[1], d.unit));
        let far = set.filter(|set| far_from(schema, field, *set, n).is_some());
        far.map(|set| format!("{} = {n} {}, and the sheet says {set}", d.label, d.unit)).or_else(range)
    }))
}

/// What is to be recorded.
#[derive(Debug, Clone)]
pub struct RunWanted {
    /// The run (without id and links).
    pub run: Run,
    /// The day's facts, where said.
    pub facts: DayFacts,
    /// The version it was made on, where not the sheet of its time.
    pub on: Option<String>,
    /// Air taken with it.
    pub reading: Option<Reading>,
    /// Said to be right although a run with a later time is on record.
    pub confirmed: bool,
}

/// A run on record.
#[derive(Debug, Clone)]
pub struct Ran {
    /// The run with its id and links.
    pub run: Run,
    /// Its day, with it.
    pub day: Day,
    /// The day was made for it.
    pub new_day: bool,
    /// The day was closed, and is open again.
    pub reopened: bool,
}

/// The sheet a run was made on: of its time, or of the version named.
pub fn made_on(book: &Book, head: Id, at: Moment, on: Option<&str>) -> Result<(String, Id)> {
    let Some(name) = on else {
        let found: Option<OnCar> = on_car_at(&book.store, &book.schema, head, Some(at))?;
        let found = found.ok_or_else(|| {
            Error::usage(
                format!("{} is before the book begins", at.words(None)),
                "--on VERSION, or the right --at TIME",
            )
        })?;
        return Ok((found.number.to_string(), found.blob));
    };
    let history = book.history()?;
    let i = version_named(&history, name, at, &|| None, &|| None)?;
    let version = &history.timeline.versions[i];
    let blob = version.blobs.last().and_then(|b| b.parse().ok());
    let blob = blob.ok_or_else(|| Error::data(format!("{name} has no sheet"), "slipbook history"))?;
    Ok((version.number.to_string(), blob))
}

/// The text of a day that something is added to: what was closed is open again.
pub(super) fn open_text(at: &AtDay) -> String {
    let open = Day { closed: false, ..at.day.clone() };
    match &at.text {
        Some(text) if at.day.closed => with_facts(text, &open),
        Some(text) => text.clone(),
        None => write_day(&schema().run, &open, &day_header()),
    }
}

/// A moment as a day's clock showed it. In the night the clocks change, or from a laptop in another zone, that clock may
/// have gone on to the next day's morning: such a time cannot be written down in this day, and would be read as another.
pub(super) fn on_its_clock(at: Moment, day: &Day) -> Result<Moment> {
    let there = Moment { offset_seconds: day.offset_seconds, ..at };
    if there.race_day() == day.date {
        return Ok(there);
    }
    let clock = there.civil().strftime("%H:%M").to_string();
    Err(Error::usage(
        format!("{} is {clock} by the clock of {} at {}: the next day there", at.words(None), day.date, day.track),
        format!(
            "a time before 06:00 by that clock (UTC{}), or the next day's; nothing was recorded",
            day.offset_text()
        ),
    ))
}

/// Puts a run (and its reading) into a day's text.
pub fn put_in(schema: &Schema, at_day: &AtDay, run: &Run, reading: Option<&Reading>) -> Result<(String, Day)> {
    let words = &schema.run;
    let text = open_text(at_day);
    let mut day = at_day.day.clone();
    let mut text = text;
    // The same in the same minute is on record already.
    if let Some(reading) = reading.filter(|r| !read_before(&at_day.day, r)) {
        text = insert_reading(words, &text, &day, reading);
        day.readings.push(reading.clone());
        day.readings.sort_by_key(|r| (r.at.hour() < 6, r.at));
    }
    text = insert_run(words, &text, &day, run);
    // What was put in must be what is read: a file laid out by hand in another way is refused, not damaged.
    let read = read_day(&at_day.path, &text)?;
    if read.runs.len() != at_day.day.runs.len() + 1 {
        return Err(Error::data(
            format!("{} is laid out so that a run cannot be added", at_day.path),
            "each run stands under a line [[run]]",
        ));
    }
    Ok((text, read))
}

/// Records a run.
pub fn run(book: &Book, options: &Options, hand: &Hand, wanted: &RunWanted) -> Result<(Ran, Written)> {
    let words = &schema().run;
    let of_reading = wanted.reading.iter().flat_map(|r| reading_faults(words, r));
    if let Some(fault) = all_faults(words, &wanted.run).into_iter().chain(of_reading).next() {
        return Err(Error::usage(fault, "nothing was recorded; slip order: slipbook run --help"));
    }
    let mut result = None;
    let written = record(&book.store, options, hand, &mut |tip| {
        let head = tip.head.ok_or_else(|| Error::data("the book has no sheet yet", "slipbook new"))?;
        now(tip.store, &book.schema, tip.head)?;
        let at = wanted.run.at;
        // One answer takes all of them as right, so all of them are asked about at once.
        let mut doubts: Vec<(String, &str)> = Vec::new();
        if let Some(last) = last_run(tip.store, head)?.filter(|last| at < *last) {
            let said = format!("{} is before the last run on record ({})", at.words(None), last.words(None));
            doubts.push((said, "--yes if the time is right; --at TIME to give another"));
        }
        let at_day = find_day(tip.store, tip.head, at.race_day(), at.offset_seconds, &wanted.facts)?;
        let at_day = at_day.with_elevation(wanted.facts.elevation_ft);
        let reading = wanted.reading.as_ref().map(|r| by_the_day(r, at, &at_day.day).0);
        if let Some(again) = at_day.day.runs.iter().find(|r| same_slip(r, &wanted.run)) {
            let said = format!("the same slip is on record at {}", again.at.civil().strftime("%H:%M"));
            doubts.push((said, "--yes if it was run twice"));
        }
        let mut run = wanted.run.clone();
        let (number, blob) = made_on(book, head, at, wanted.on.as_deref())?;
        if let Some(said) = far_from_sheet(book, tip.store, blob, &run)? {
            doubts.push((said, "--yes if it is right; nothing was recorded"));
        }
        if let (false, Some((_, help))) = (wanted.confirmed, doubts.first()) {
            let help = if doubts.len() == 1 { help } else { "--yes if all of it is right; nothing was recorded" };
            let message = doubts.iter().map(|(said, _)| said.as_str()).collect::<Vec<_>>().join("; ");
            return Err(Error::Unconfirmed { message, help: help.to_owned() });
        }
        (run.on, run.setup) = (number, blob.to_string());
        run.at = on_its_clock(at, &at_day.day)?;
        run.id = run_id(&run, hand, tip.head);
        let (text, day) = put_in(&book.schema, &at_day, &run, reading.as_ref())?;
        let mut message = Message::new(Kind::Run, run_subject(&run, day.finish_ft));
        message.push("Run", &run.id);
        message.push("On", &run.on);
        result = Some(Ran { run, day, new_day: at_day.text.is_none(), reopened: at_day.day.closed });
        Ok(Some(Draft { files: vec![(at_day.path, Some(text.into_bytes()))], message, at, takes_hand_edit: false }))
    })?;
    let ran = result.ok_or_else(|| Error::data("the record was not built", "try again"))?;
    Ok((ran, written))
}
