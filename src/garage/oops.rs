//! Taking back the last record, and putting it back.

use super::book::Book;
use super::change::{Wanted, change};
use super::history::History;
use super::line;
use super::message::Message;
use super::now::{read_day, sheet_in, text};
use super::record::{Written, finish};
use super::run::{DayFacts, RunWanted, run, run_recorded};
use super::who::{Hand, moment, stamp};
use super::{Error, Result};
use crate::diff::words;
use crate::schema::typed;
use crate::slip::{Moment, Run};
use crate::store::{Commit, Id, Options, Record, Store};
use crate::text::{cut, on_a_line};
use crate::timeline::Kind;

/// The last record, as it would be taken back.
#[derive(Debug, Clone)]
pub struct Last {
    /// Its commit.
    pub id: Id,
    /// What it is.
    pub kind: Option<Kind>,
    /// Its sentence.
    pub subject: String,
    /// When it happened.
    pub at: Moment,
    /// By whom.
    pub by: String,
    /// It took another back, so that taking it back puts that one back.
    pub puts_back: bool,
    /// The sentence of the record that is put back, where it does.
    pub of: Option<String>,
    /// It was taken back because it was moved to this car's book.
    pub moved_to: Option<String>,
}

/// The last record of a book. The first one cannot be taken back: there is no book without it.
pub fn last(book: &Book) -> Result<Last> {
    let head = book.store.head()?.ok_or_else(|| Error::data("the book has no sheet yet", "slipbook new"))?;
    let commit = book.store.commit(head)?;
    let message = Message::read(&commit.message);
    if commit.parents.is_empty() {
        return Err(Error::usage(
            "only the first sheet is on record: there is nothing to take back",
            "slipbook mend v1 FIELD VALUE puts it right",
        ));
    }
    if message.get("Joins").is_some() {
        return Err(Error::usage(
            "the newest record joined two laptops: it is on both, and is not taken back",
            "slipbook mend puts right what is wrong in it; nothing was changed",
        ));
    }
    let puts_back = message.get("Takes-back").is_some();
    let oops = message.kind() == Some(Kind::Oops);
    let taken = commit.parents.first().filter(|_| oops).map(|id| book.store.commit(*id)).transpose()?;
    let of = taken.as_ref().map(|t| Message::read(&t.message).subject);
    let moved_to = message.get("Moved-to").map(str::to_owned);
    let (at, by) = match &taken {
        Some(taken) => (moment(taken.authored), taken.author.name.clone()),
        None => (moment(commit.authored), commit.author.name.clone()),
    };
    Ok(Last { id: head, kind: message.kind(), subject: message.subject, at, by, puts_back, of, moved_to })
}

/// Takes it back: one commit with the book as it was before it. Its second parent is that book, so the live line passes
/// the record over; the log as written keeps both.
///
/// `moved_to` names the car whose book has it now.
pub fn take_back(book: &Book, options: &Options, hand: &Hand, last: &Last, moved_to: Option<&str>) -> Result<Written> {
    let mut failed = None;
    let history = book.history()?;
    let done = book.store.record_many(options, &mut |batch| {
        let build = || -> Result<(Record, Id)> {
            let head = batch.tip().head.filter(|h| *h == last.id);
            let head =
                head.ok_or_else(|| Error::data("the book changed meanwhile; nothing was taken back", "say it again"))?;
            let commit = book.store.commit(head)?;
            let before = commit.parents.first().copied();
            let before = before.ok_or_else(|| Error::usage("there is nothing to take back", "slipbook history"))?;
            Ok((record(&book.store, hand, last, &commit, before, moved_to, &history)?, before))
        };
        match build() {
            Ok((record, before)) => Ok(batch.merge(record, &[before]).map(|_| ())?),
            Err(e) => {
                failed = Some(e);
                Err("nothing was taken back".into())
            }
        }
    });
    finish(done, failed)
}

/// The sentence of the record at the bottom of it, however often it was taken back and put back.
pub fn sentence(last: &Last) -> &str {
    let what = last.of.as_deref().unwrap_or(&last.subject);
    what.strip_prefix("taken back: ").or(what.strip_prefix("put back: ")).unwrap_or(what)
}

fn record(
    store: &Store,
    hand: &Hand,
    last: &Last,
    commit: &Commit,
    before: Id,
    moved_to: Option<&str>,
    history: &History,
) -> Result<Record> {
    let word = if last.puts_back { "put back: " } else { "taken back: " };
    let subject = format!("{word}{}", on_a_line(sentence(last)));
    let mut message = Message::new(Kind::Oops, cut(&subject, words::LONGEST_SUBJECT).trim_end());
    // A number that was given once is never given again.
    let given = line::given(history.timeline.versions.iter().map(|v| &v.number), store, Some(commit.id))?;
    message.push("Given", &given.to_line());
    message.push(if last.puts_back { "Puts-back" } else { "Takes-back" }, &commit.id.to_string());
    moved_to.iter().for_each(|car| message.push("Moved-to", car));
    Ok(Record {
        files: files_back(store, commit.id, before)?,
        author: hand.person(),
        authored: stamp(hand.now),
        committer: hand.person(),
        written: stamp(hand.now),
        message: message.to_text(),
        accept_hand_edit: false,
    })
}

/// What turns the files of one commit into those of another.
fn files_back(store: &Store, from: Id, to: Id) -> Result<Vec<(String, Option<Vec<u8>>)>> {
    let (now, then) = (store.files(from)?, store.files(to)?);
    let mut out = Vec::new();
    for (path, _) in now.iter().filter(|(p, _)| !then.iter().any(|(q, _)| p == q)) {
        out.push((path.clone(), None));
    }
    let known: std::collections::HashMap<&str, Id> = now.iter().map(|(p, id)| (p.as_str(), *id)).collect();
    for (path, id) in then.iter().filter(|(p, id)| known.get(p.as_str()) != Some(id)) {
        out.push((path.clone(), Some(store.blob(*id)?)));
    }
    Ok(out)
}

/// What the last record would be in another car's book.
#[derive(Debug, Clone)]
pub enum Moves {
    /// A run, with its day's facts.
    Run(Box<RunWanted>),
    /// A change or a measurement.
    Change(Box<Wanted>),
}

/// The last record of a book in the form another book takes.
pub fn to_move(book: &Book, last: &Last) -> Result<Moves> {
    let commit = book.store.commit(last.id)?;
    let before = commit.parents.first().copied();
    let before = before.ok_or_else(|| Error::usage("there is nothing to move", "slipbook history"))?;
    let message = Message::read(&commit.message);
    match last.kind {
        Some(Kind::Run) => {
            let recorded = run_recorded(&book.store, &commit)?;
            let (path, day, run) = recorded.ok_or_else(|| {
                Error::data("the run is not in the record that says so", "slipbook oops takes it back")
            })?;
            // The air that was taken along with it.
            let was = book.store.file(before, &path)?.map(|(_, bytes)| text(bytes, &path)).transpose()?;
            let was = was.map(|t| read_day(&path, &t)).transpose()?.map(|d| d.readings).unwrap_or_default();
            let reading = day.readings.iter().find(|r| !was.contains(r)).cloned();
            let facts = DayFacts {
                track: Some(day.track.clone()),
                finish_ft: Some(day.finish_ft),
                elevation_ft: day.elevation_ft,
                prep: day.prep.clone(),
            };
            let run = Run { id: String::new(), on: String::new(), setup: String::new(), setup_was: None, ..run };
            Ok(Moves::Run(Box::new(RunWanted { run, facts, on: None, reading, confirmed: true })))
        }
        Some(Kind::Change | Kind::Measured) if commit.parents.len() == 1 => {
            let (_, _, old) = sheet_in(&book.store, &book.schema, before, false)?;
            let (_, _, new) = sheet_in(&book.store, &book.schema, last.id, false)?;
            let trailers: Vec<&str> = message.all("Typed").collect();
            Ok(Moves::Change(Box::new(Wanted {
                edits: typed(&book.schema, &trailers, &old, &new),
                measured: message.all("Measured").map(str::to_owned).collect(),
                why: message.get("Why").map(str::to_owned),
                at: Some(last.at),
                since: message.get("Since").and_then(|s| s.parse().ok()),
                time_unknown: message.get("Time") == Some("unknown"),
                ..Wanted::default()
            })))
        }
        _ => Err(Error::usage(
            format!("only a run, a change or a measurement goes to another car's book; this is \"{}\"", last.subject),
            "slipbook oops takes it back",
        )),
    }
}

/// Records it there. What became of it, in a sentence.
pub fn move_to(other: &Book, options: &Options, hand: &Hand, what: &Moves, by: &str) -> Result<String> {
    let hand = Hand { by: by.to_owned(), now: hand.now };
    match what {
        Moves::Run(wanted) => {
            let (ran, _) = run(other, options, &hand, wanted)?;
            Ok(format!("the run of {} is on {} now", ran.run.at.words(None), ran.run.on))
        }
        Moves::Change(wanted) => {
            let (changed, _) = change(other, options, &hand, wanted)?;
            let words: Vec<String> = changed.clauses.iter().map(|c| c.text.clone()).collect();
            Ok(format!("{}: {}", changed.number, words.join(", ")))
        }
    }
}
