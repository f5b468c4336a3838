//! A page of the notebook into the book: each line one record, in the order of time; all of it or nothing.

mod late;
mod lines;
mod times;
mod told;

use super::book::Book;
use super::car::Car;
use super::day::{Amend, Sum, amended, day_message, one_day};
use super::mend::Moved;
use super::message::Message;
use super::now::{OnCar, last_run, now, text};
use super::parts::last_said;
use super::record::{Draft, Written, finish};
use super::run::{AtDay, DayFacts};
use super::who::{CLOCKS_DIFFER_S, Hand};
use super::{Error, Result};
use crate::diff::words::Clause;
use crate::schema::{Num, Sheet};
use crate::slip::{Day, Moment, Notebook, Reading, Run, Said, Watch, read_line};
use crate::store::{Batch, Id, Options};
use crate::timeline::{Kind, Places, Steps, VersionNumber};
use jiff::civil::Date;
use jiff::tz::TimeZone;
use lines::Told;
use times::{out_of_order, same_zone, times};
use told::{Known, known, written};

/// A page and how it is taken in.
#[derive(Clone, Copy)]
pub struct PageWanted<'a> {
    /// The page.
    pub notebook: &'a Notebook,
    /// Its day.
    pub date: Date,
    /// The time zone of the machine.
    pub zone: &'a TimeZone,
    /// What can be read is recorded; the rest is kept as it is written.
    pub partial: bool,
    /// Unusual values are right.
    pub confirmed: bool,
    /// All is built and summed up, nothing is written.
    pub dry_run: bool,
    /// What becomes of steps on record that would start from another value, where changes of the page come late.
    pub steps: Steps,
}

/// What came of a line.
#[derive(Debug, Clone, PartialEq)]
pub enum Came {
    /// A run.
    Run(Box<Run>),
    /// The car changed, or something was measured.
    Changed {
        /// The version it made; the one on the car where nothing was turned.
        number: VersionNumber,
        /// What it is.
        kind: Kind,
        /// In words.
        clauses: Vec<Clause>,
        /// Why.
        why: Option<String>,
    },
    /// Air or track was read.
    Read(Box<AirRead>),
    /// Words were kept.
    Noted(String),
    /// It is on record already: what and where.
    OnRecord(String),
    /// It could not be taken.
    Unread {
        /// Why.
        why: String,
        /// What would be right.
        help: String,
    },
}

/// A reading of a page.
#[derive(Debug, Clone, PartialEq)]
pub struct AirRead {
    /// The reading.
    pub reading: Reading,
    /// Why its barometer number is what it was taken for, where the line does not say.
    pub taken_as: Option<String>,
    /// The track's elevation, ft.
    pub elevation_ft: Option<Num>,
}

/// A line with what came of it.
#[derive(Debug, Clone, PartialEq)]
pub struct LineDone {
    /// Its number on the page.
    pub number: usize,
    /// As it is written.
    pub text: String,
    /// When it happened.
    pub at: Option<Moment>,
    /// The time was written as another: `1:15` for 13:15.
    pub meant: Option<String>,
    /// What came of it.
    pub came: Came,
}

/// What taking in a page did, or would do.
#[derive(Debug, Clone)]
pub struct PageDone {
    /// Its day.
    pub date: Date,
    /// The day file, where the page has anything for one.
    pub day: Option<Day>,
    /// The day was opened for it.
    pub new_day: bool,
    /// The day was closed before.
    pub was_closed: bool,
    /// The lines in the order of the page.
    pub lines: Vec<LineDone>,
    /// Times that stand below later ones: the time, and the later one.
    pub out_of_order: Vec<(Moment, Moment)>,
    /// Values outside the usual range, in words.
    pub unusual: Vec<String>,
    /// What the page's runs came to.
    pub sum: Sum,
    /// Lines that told of the sheet before later records.
    pub late: usize,
    /// Runs on record that go to another version by them.
    pub moved: Vec<Moved>,
    /// Runs on record that carry another sheet by them, those included.
    pub relinked: usize,
    /// What is on the car after it.
    pub on: OnCar,
    /// It was written.
    pub saved: bool,
}

impl PageDone {
    /// The lines that could not be taken.
    pub fn unread(&self) -> impl Iterator<Item = &LineDone> {
        self.lines.iter().filter(|l| matches!(l.came, Came::Unread { .. }))
    }
}

/// Takes in a page. Where lines cannot be read and `partial` is not set, nothing is written and the answer says which.
pub fn take_page(book: &Book, options: &Options, hand: &Hand, wanted: &PageWanted) -> Result<(PageDone, Written)> {
    let last = |kind: &str, name: &str| last_said(book, kind, name);
    let mut result = None;
    let mut failed = None;
    let done = book.store.record_many(options, &mut |batch| match State::build(book, batch, hand, &last, wanted) {
        Ok(mut page) => {
            page.saved = !wanted.dry_run && (wanted.partial || page.unread().next().is_none());
            let saved = page.saved;
            result = Some(page);
            if saved { Ok(()) } else { Err("nothing is to be written".into()) }
        }
        Err(e) => {
            failed = Some(e);
            Err("the page was refused".into())
        }
    });
    match (result, failed) {
        (Some(page), None) if !page.saved => Ok((page, Written { id: None, notes: Vec::new() })),
        (Some(mut page), None) => {
            let written = finish(done, None)?;
            // All of it may be on record already.
            page.saved = written.id.is_some();
            Ok((page, written))
        }
        (_, failed) => {
            finish(done, failed)?;
            Err(Error::data("the page was not taken in", "try again"))
        }
    }
}

/// A line as it is read, or why it cannot be.
type Read = std::result::Result<Said, Came>;

/// What the lines so far have made of the book.
struct State<'a, 'b> {
    book: &'a Book,
    hand: &'a Hand,
    batch: &'a mut Batch<'b>,
    head: Id,
    /// The latest record of the sheet before the page.
    latest: Moment,
    /// The last run before it.
    last_run: Option<Moment>,
    on: OnCar,
    /// A change of the page behind all on record is on the car.
    changed: bool,
    /// `car.toml` as the page has it by now.
    car: Car,
    car_text: String,
    /// What the sheets on record last said of a part.
    last_said: &'a dyn Fn(&str, &str) -> Result<Option<Sheet>>,
    day: Option<AtDay>,
    known: Vec<Known>,
    /// Runs of the day as they were first written.
    written: Vec<Run>,
    /// The line of the book, where news of the page made it another.
    places: Option<Places>,
    moved: Vec<Moved>,
    relinked: usize,
    /// Steps on record that must be asked about.
    asked: Option<Error>,
    unusual: Vec<String>,
    runs: Vec<Run>,
}

impl<'a, 'b> State<'a, 'b> {
    fn build(
        book: &'a Book,
        batch: &'a mut Batch<'b>,
        hand: &'a Hand,
        last_said: &'a dyn Fn(&str, &str) -> Result<Option<Sheet>>,
        wanted: &PageWanted,
    ) -> Result<PageDone> {
        let head = batch.tip().head.ok_or_else(|| Error::data("the book has no sheet yet", "slipbook new"))?;
        let on = now(&book.store, &book.schema, Some(head))?;
        let page = wanted.notebook;
        let facts = DayFacts {
            track: page.track.clone(),
            finish_ft: page.finish_ft,
            elevation_ft: page.elevation_ft,
            prep: page.prep.clone(),
        };
        let noon = wanted.date.at(12, 0, 0, 0);
        let here = Moment::in_zone(noon, wanted.zone).map_or(0, |m| m.offset_seconds);
        let found = one_day(&book.store, Some(head), wanted.date, here, &facts);
        let offset = found.as_ref().map_or(here, |d| d.day.offset_seconds);
        let watch = if same_zone(wanted, offset) { Watch::Zone(wanted.zone) } else { Watch::Offset(offset) };
        let moments = page.moments(wanted.date, &watch);
        let finish_ft = page.finish_ft.or(found.as_ref().ok().map(|d| d.day.finish_ft)).unwrap_or(1320);
        let read: Vec<Read> = page
            .lines
            .iter()
            .zip(&moments)
            .map(|(line, at)| {
                let (_, tokens) = line.timed.as_ref().map_err(|e| unread(&e.why, &e.help))?;
                let at = at.ok_or_else(|| unread("its time is beyond the years 1 to 9999", "the date of the page"))?;
                if at.seconds > hand.now.seconds + CLOCKS_DIFFER_S {
                    let why = format!("{} is still to come: it is {} now", at.words(None), hand.now.words(None));
                    return Err(unread(&why, "the time it happened, and the date of the page"));
                }
                read_line(&book.schema.run, tokens, finish_ft, at).map_err(|e| unread(&e.why, &e.help))
            })
            .collect();
        // A page of nothing but changes needs no day; anything else does.
        let for_day = |r: &Read| match r {
            Ok(Said::Change(..) | Said::Measured(..)) => false,
            Ok(_) => true,
            Err(_) => wanted.partial,
        };
        let needs_day = read.iter().any(for_day) || page.track.is_some() || !page.notes.is_empty();
        let day = match found {
            Ok(day) if needs_day || day.text.is_some() => Some(day),
            Err(e) if needs_day => return Err(e),
            _ => None,
        };
        let car_file = book.store.file(head, "car.toml")?.map(|(_, bytes)| text(bytes, "car.toml")).transpose()?;
        let mut state = State {
            book,
            hand,
            head,
            latest: on.latest,
            last_run: last_run(&book.store, head)?,
            on,
            changed: false,
            car: book.car.clone(),
            car_text: car_file.unwrap_or_default(),
            last_said,
            known: known(book, head, moments.iter().flatten().min().copied())?,
            written: written(book, head, moments.iter().flatten().min().copied(), wanted.date)?,
            batch,
            day,
            places: None,
            moved: Vec::new(),
            relinked: 0,
            asked: None,
            unusual: Vec::new(),
            runs: Vec::new(),
        };
        let (new_day, was_closed) =
            state.day.as_ref().map_or((false, false), |d| (d.text.is_none() && needs_day, d.day.closed));
        // A mend stands right behind what it was worked out on, so what comes late goes first.
        let times = times(&read, &moments);
        let mut came = state.take_late(wanted, &read, &times)?;
        let late = came.values().filter(|c| matches!(c, Came::Changed { .. })).count();
        let first = moments.iter().flatten().min().copied().unwrap_or(hand.now);
        let opening = Amend { facts, note: page.notes.clone(), ..Amend::default() };
        state.say_of_day(&opening, first, needs_day)?;
        for (i, at) in &times {
            if let (Ok(said), false) = (&read[*i], came.contains_key(i)) {
                came.insert(*i, state.line(page.lines[*i].number, *at, said)?);
            }
        }
        let at_of = |i: usize| times.iter().find(|(t, _)| *t == i).map(|(_, at)| *at).or(moments[i]);
        let came: Vec<(Option<Moment>, Came)> = read
            .into_iter()
            .enumerate()
            .map(|(i, read)| {
                (at_of(i), came.remove(&i).or(read.err()).unwrap_or_else(|| unread("it was not reached", "")))
            })
            .collect();
        let lines = page
            .lines
            .iter()
            .zip(came)
            .map(|(line, (at, came))| {
                let written = line.timed.as_ref().ok().map(|t| t.0.time);
                let shown = at.map(|a| a.civil().time());
                let meant = written.zip(shown).filter(|(w, s)| (w.hour(), w.minute()) != (s.hour(), s.minute()));
                let meant = meant.map(|(w, s)| format!("{} = {}", w.strftime("%-H:%M"), s.strftime("%H:%M")));
                LineDone { number: line.number, text: line.text.clone(), at, meant, came }
            })
            .collect::<Vec<_>>();
        let unread: Vec<String> =
            lines.iter().filter(|l| matches!(l.came, Came::Unread { .. })).map(|l| l.text.clone()).collect();
        if wanted.partial && !unread.is_empty() {
            state.say_of_day(&Amend { unread, ..Amend::default() }, hand.now, true)?;
        }
        let whole = wanted.partial || !lines.iter().any(|l| matches!(l.came, Came::Unread { .. }));
        if let Some(asked) = state.asked.filter(|_| whole) {
            return Err(asked);
        }
        if whole && !state.unusual.is_empty() && !wanted.confirmed {
            return Err(Error::Unconfirmed {
                message: state.unusual.join("\n"),
                help: "--yes if these are right; nothing was recorded".to_owned(),
            });
        }
        Ok(PageDone {
            date: wanted.date,
            new_day,
            was_closed,
            lines,
            out_of_order: out_of_order(&moments),
            unusual: state.unusual,
            sum: Sum::of(&state.runs, finish_ft),
            late,
            moved: state.moved,
            relinked: state.relinked,
            day: state.day.map(|d| d.day),
            on: state.on,
            saved: false,
        })
    }

    /// Takes a line that is not told late.
    fn line(&mut self, number: usize, at: Moment, said: &Said) -> Result<Came> {
        if let Some(told) = Told::of(said) {
            return self.change(number, at, &told);
        }
        match said {
            Said::Run(run) => self.run(Run { at, ..*run.clone() }),
            Said::Air(typed) => self.reading(at, typed),
            Said::Note(text) => self.note(at, text),
            Said::Change(..) | Said::Measured(..) => Ok(unread("it was not read", "")),
        }
    }

    fn commit(&mut self, files: Vec<(String, Option<Vec<u8>>)>, message: Message, at: Moment) -> Result<()> {
        let draft = Draft { files, message, at, takes_hand_edit: false };
        self.batch.commit(draft.by(self.hand))?;
        Ok(())
    }

    /// Says something of the day in a record of its own, where it differs (or where the day is new and `open`).
    fn say_of_day(&mut self, said: &Amend, at: Moment, open: bool) -> Result<()> {
        let Some(day) = self.day.as_ref().filter(|d| d.text.is_some() || open) else { return Ok(()) };
        let (mut new, mut told) = amended(day, said)?;
        if told.is_some() && day.day.closed {
            (new, told) = amended(day, &Amend { reopen: true, ..said.clone() })?;
        }
        if let Some(told) = told {
            let files = vec![(new.path.clone(), new.text.clone().map(String::into_bytes))];
            self.commit(files, day_message(&told), at)?;
            self.day = Some(new);
        }
        Ok(())
    }
}

fn unread(why: &str, help: &str) -> Came {
    Came::Unread { why: why.to_owned(), help: help.to_owned() }
}
