//! What can be put right, and how each of it alters the list of dated changes and the days.

use super::super::book::Book;
use super::super::change::Wanted;
use super::super::line;
use super::super::message::Message;
use super::super::who::{Hand, person};
use super::super::{Error, Result};
use super::live::{Live, Lived};
use super::{days, value};
use crate::schema::{Edit, Num};
use crate::slip::{Moment, Run};
use crate::store::Store;
use crate::timeline::{Entry, Kind, VersionNumber};
use jiff::civil::Date;

/// For how long a value was wrong.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Span {
    /// From the record that set it until the field was next set.
    Stretch,
    /// In this version only; what was on record goes on behind it.
    Only,
    /// From the first sheet on, whatever was said of it in between.
    Always,
}

/// One thing to put right. Records of the sheet are named by their commit id.
#[derive(Debug, Clone)]
pub enum Fix {
    /// The car changed (or something was measured) before what is on record.
    Late(Wanted),
    /// Values were put down wrong.
    Value {
        /// The record that began the version it was seen on.
        record: String,
        /// What is right. A step is one from the sheet before that record.
        edits: Vec<Edit>,
        /// For how long.
        span: Span,
    },
    /// It has always been so: the first sheet says it, and every later one until it was measured or set otherwise.
    Always(Wanted),
    /// It happened at another time.
    Time {
        /// The record.
        record: String,
        /// When it happened, or the end of the window.
        at: Moment,
        /// The beginning of the window, where only one is known.
        since: Option<Moment>,
    },
    /// It had another reason.
    Why {
        /// The record.
        record: String,
        /// The reason.
        why: Option<String>,
    },
    /// It never happened on the car.
    Never {
        /// The record.
        record: String,
    },
    /// What was mended as never having happened did happen.
    Happened(VersionNumber),
    /// The clock was wrong that day: everything recorded on it was so much later (or earlier, below zero).
    Clock {
        /// The race day as recorded.
        day: Date,
        /// Seconds to add.
        seconds: i64,
    },
    /// A run's numbers or words: the run as it is right, under its own id.
    Run(Box<Run>),
    /// A run was made on that version, whatever was on the car by its time.
    RunOn {
        /// Its id.
        run: String,
        /// The version.
        version: VersionNumber,
    },
    /// A run that was never made.
    NoRun {
        /// Its id.
        run: String,
    },
    /// A track, on all its days.
    Track {
        /// As it is on record.
        name: String,
        /// Its right name.
        to: Option<String>,
        /// Its elevation, ft.
        elevation_ft: Option<Num>,
    },
}

/// Applies it; what it does is added to `said`, in words.
pub fn put_right(book: &Book, hand: &Hand, live: &mut Live, fix: &Fix, said: &mut Vec<String>) -> Result<()> {
    match fix {
        Fix::Late(wanted) => late(book, hand, live, wanted),
        Fix::Value { record, edits, span } => value::value(book, live, record, edits, *span, said),
        Fix::Always(wanted) => value::from_the_first(book, live, wanted, said),
        Fix::Time { record, at, since } => time(live, record, *at, *since, said),
        Fix::Why { record, why } => {
            let at = find(live, record)?;
            let e = &mut live.entries[at];
            if e.entry.why == *why {
                return Err(Error::usage("that is the reason on record already", "nothing to mend"));
            }
            let text = why.as_deref().map_or("it had no reason".to_owned(), |w| format!("why: {w}"));
            e.entry.why.clone_from(why);
            e.message = e.message.clone().without("Why");
            note(e, &format!("mended: {text}"), said);
            Ok(())
        }
        Fix::Never { record } => never(live, record, said),
        Fix::Happened(number) => happened(book, live, number, said),
        Fix::Clock { day, seconds } => clock(live, *day, *seconds, said),
        Fix::Run(run) => {
            let (d, r) = live.run(&run.id)?;
            let was = std::mem::replace(&mut live.days[d].day.runs[r], (**run).clone());
            said.push(format!(
                "mended: the run of {}{}",
                was.at.words(None),
                days::what_differs(&book.schema.run, &was, run)
            ));
            days::settle(live, d, r)
        }
        Fix::RunOn { run, version } => {
            let (d, r) = live.run(run)?;
            let recorded = live.days.iter().flat_map(|f| &f.old.runs).find(|o| o.id == *run);
            let was = recorded.map(|o| o.on.clone()).unwrap_or_default();
            let found = live.before.timeline.by_number(version);
            let found = found.ok_or_else(|| Error::usage(format!("there is no {version}"), "slipbook history"))?;
            let version = &live.before.timeline.versions[found];
            let run = &mut live.days[d].day.runs[r];
            said.push(format!("mended: the run of {} was made on {}, not {was}", run.at.words(None), version.number));
            days::link(run, &version.number, version.sheet_id());
            Ok(())
        }
        Fix::NoRun { run } => {
            let (d, r) = live.run(run)?;
            let run = live.days[d].day.runs.remove(r);
            said.push(format!("mended: there was no run at {}", run.at.words(None)));
            Ok(())
        }
        Fix::Track { name, to, elevation_ft } => days::track(live, name, to.as_deref(), *elevation_ft, said),
    }
}

/// Index of the record with this commit id.
pub(super) fn find(live: &Live, record: &str) -> Result<usize> {
    let found = live.entries.iter().position(|e| e.entry.id == record);
    found.ok_or_else(|| Error::data(format!("there is no record {record} on the car's line"), "slipbook history"))
}

pub(super) fn note(lived: &mut Lived, text: &str, said: &mut Vec<String>) {
    lived.fixed.push(text.to_owned());
    let named = text.starts_with("mended from ");
    let of = lived.entry.number.as_ref().filter(|_| !named).map(|n| format!("{n} ")).unwrap_or_default();
    said.push(format!("{of}{text}"));
}

fn late(book: &Book, hand: &Hand, live: &mut Live, wanted: &Wanted) -> Result<()> {
    if let Some((was, text)) = &wanted.car {
        // Of several, each was made from the text of the one before.
        let is = match &live.car {
            Some(text) => Some(Store::blob_id(text.as_bytes())),
            None => book.store.file(live.head, "car.toml")?.map(|(id, _)| id),
        };
        if is.is_none_or(|id| id != *was) {
            return Err(Error::data("car.toml changed meanwhile; nothing was recorded", "say it again"));
        }
        live.car = Some(text.clone());
    }
    let at = wanted.at.unwrap_or(hand.now);
    let first = live.entries.first().map(|e| e.entry.at).unwrap_or(at);
    if at < first {
        let message = format!("{} is before the book begins ({})", at.words(None), first.words(None));
        let help = "if the first sheet was on the car by then: slipbook mend v1 --when TIME, then this again";
        return Err(Error::usage(message, help));
    }
    if wanted.since.is_some_and(|since| since > at) {
        return Err(Error::usage("the window ends before it begins", "--between FROM TO"));
    }
    let person = person(&hand.by);
    let order = live.next_order();
    let entry = Entry {
        id: String::new(),
        kind: if wanted.back_to.is_some() { Kind::Revert } else { Kind::Change },
        number: None,
        at,
        written: hand.now,
        by: person.name.clone(),
        words: Vec::new(),
        why: wanted.why.clone().filter(|w| !w.trim().is_empty()),
        back_to: wanted.back_to.clone(),
        measured: wanted.measured.clone(),
        since: wanted.since,
        time_unknown: false,
        mended: Vec::new(),
        replaces: Vec::new(),
        was: Vec::new(),
        blob: String::new(),
    };
    live.put(Lived {
        entry,
        commit: None,
        message: Message::default(),
        people: (person.clone(), person),
        known: None,
        edits: Some(wanted.edits.clone()),
        fixed: Vec::new(),
        moved: false,
        order,
    });
    Ok(())
}

fn time(live: &mut Live, record: &str, at: Moment, since: Option<Moment>, said: &mut Vec<String>) -> Result<()> {
    let i = find(live, record)?;
    let others = || live.entries.iter().enumerate().filter(|(k, _)| *k != i).map(|(_, e)| e.entry.at);
    if i == 0 && others().any(|o| o < at) {
        let next = others().min().unwrap_or(at);
        return Err(Error::usage(
            format!("the book begins with it, and the next record is of {}", next.words(None)),
            "an earlier time",
        ));
    }
    if i > 0 && at < live.entries[0].entry.at {
        let first = live.entries[0].entry.at;
        return Err(Error::usage(
            format!("{} is before the book begins ({})", at.words(None), first.words(None)),
            "mend v1 --when first",
        ));
    }
    if since.is_some_and(|s| s > at) {
        return Err(Error::usage("the window ends before it begins", "--between FROM TO"));
    }
    let e = &mut live.entries[i];
    let was = std::mem::replace(&mut e.entry.at, at);
    if was == at && e.entry.since == since {
        return Err(Error::usage(format!("it is on record at {} already", at.words(None)), "nothing to mend"));
    }
    e.entry.since = since;
    e.message = e.message.clone().without("Since").without("Time");
    note(e, &other_time(was, at, since), said);
    live.sort();
    Ok(())
}

fn other_time(was: Moment, at: Moment, since: Option<Moment>) -> String {
    // One year is said once.
    let year = Some(was.civil().year());
    let window = since.map(|s| format!("between {} and ", s.words(year))).unwrap_or_default();
    format!("mended: it was {window}{}, not {}", at.words(year), was.words(year))
}

fn never(live: &mut Live, record: &str, said: &mut Vec<String>) -> Result<()> {
    let i = find(live, record)?;
    if i == 0 {
        return Err(Error::usage(
            "the book begins with its first sheet",
            "mend v1 FIELD VALUE puts a value of it right",
        ));
    }
    let gone = live.entries.remove(i);
    let what = gone.entry.number.as_ref().map_or("it".to_owned(), ToString::to_string);
    said.push(format!("mended: {what} never happened on the car ({})", gone.entry.words.join(", ")));
    Ok(())
}

/// Finds the record in the line as it was before the mend that struck it out, and puts it in again.
fn happened(book: &Book, live: &mut Live, number: &VersionNumber, said: &mut Vec<String>) -> Result<()> {
    if live.before.timeline.by_number(number).is_some() {
        return Err(Error::usage(format!("{number} is on record"), "slipbook history shows it"));
    }
    let mut found = None;
    let written = line::written(&book.store, live.head)?.0;
    let turns = written.iter().rev().filter(|l| line::turns(&l.commit));
    for before in turns.flat_map(|l| line::written_behind(&l.commit)) {
        let mut log = line::log(&book.store, before)?;
        log.reverse();
        let mut kept = book.kept(&log)?;
        if let Some(i) = kept.iter().position(|k| k.entry.number.as_ref() == Some(number)) {
            let was = i.checked_sub(1).map(|b| kept[b].sheet.clone()).unwrap_or_default();
            let k = kept.swap_remove(i);
            let commit = &log[k.log].commit;
            let mut lived = Lived::on_record(k, commit, was, live.next_order());
            lived.edits = Some(lived.edits(book));
            found = Some(lived);
            break;
        }
    }
    let mut lived = found.ok_or_else(|| {
        Error::usage(format!("no record {number} was ever mended away"), "slipbook history --as-recorded")
    })?;
    note(&mut lived, "mended: it did happen", said);
    live.put(lived);
    Ok(())
}

fn clock(live: &mut Live, day: Date, seconds: i64, said: &mut Vec<String>) -> Result<()> {
    let first = live.entries.first().map(|e| e.entry.at);
    let mut any = 0;
    for e in live.entries.iter_mut().filter(|e| e.entry.at.race_day() == day) {
        e.entry.at.seconds += seconds;
        if seconds % 86_400 != 0 && e.entry.at.race_day() != day {
            let message = format!(
                "the record then at {} would fall on another race day (a day lasts until 06:00)",
                e.entry.at.words(None)
            );
            return Err(Error::usage(message, "whole days: --slow 1d; or one record: mend VERSION --when TIME"));
        }
        e.entry.since = e.entry.since.map(|s| Moment { seconds: s.seconds + seconds, ..s });
        e.message = e.message.clone().without("Since").without("Time");
        // One line says it for the whole day.
        e.moved = true;
        if any == 0 {
            e.fixed.push(format!("mended: {}", clock_words(day, seconds)));
        }
        any += 1;
    }
    let opening = live.entries.first().map(|e| e.entry.id.clone());
    live.sort();
    if first.is_some() && live.entries.first().map(|e| e.entry.id.clone()) != opening {
        return Err(Error::usage(
            "another record would come before the first sheet of the book",
            "mend v1 --when first",
        ));
    }
    any += days::shift(live, day, seconds)?;
    if any == 0 {
        return Err(Error::usage(format!("nothing is on record for {day}"), "slipbook runs lists the days"));
    }
    said.push(format!("mended: {}", clock_words(day, seconds)));
    Ok(())
}

fn clock_words(day: Date, seconds: i64) -> String {
    let span = match seconds.abs() {
        s if s % 86_400 == 0 => format!("{} d", s / 86_400),
        s if s % 3600 == 0 => format!("{} h", s / 3600),
        s => format!("{} min", s / 60),
    };
    let way = if seconds > 0 { "behind" } else { "ahead" };
    format!("the clock of {} was {span} {way}", Moment::day_words(day, None))
}
