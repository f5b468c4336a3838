//! Whether one's own book is whole: the checks a received one has to pass, with everything that is wrong named.

use super::after::{After, after};
use super::book::Book;
use super::message::Message;
use super::not_ours::{NotOurs, not_ours};
use super::now::{read_day, text};
use super::own_book::all_before;
use super::sound::{self, Sound, Wrong};
use super::who::moment;
use super::{Error, Result};
use crate::schema::schema;
use crate::slip::{Moment, day_of_path};
use crate::store::{ContentId, Contents, Id, Inventory, Spoken, Store};
use std::collections::{HashMap, HashSet};
use std::path::Path;

/// The handover id a book is held against.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Against {
    /// In full.
    Full(ContentId),
    /// As it is said on the phone.
    Words(Spoken),
}

impl Against {
    /// Reads either form.
    pub fn read(text: &str) -> Result<Against> {
        // A full id may have been broken on its way: seven words are never 64 digits.
        if let Ok(id) = text.parse() {
            return Ok(Against::Full(id));
        }
        let digits = text.chars().filter(|c| !c.is_whitespace()).count();
        if text.chars().any(|c| c.is_ascii_digit()) && text.chars().all(|c| c.is_ascii_hexdigit() || c.is_whitespace())
        {
            let message = format!("an id is 64 digits or seven words; {digits} digits were given");
            return Err(Error::usage(message, "slipbook verify prints both: a part of an id proves nothing"));
        }
        let help = "the full id of 64 digits, or the seven words; slipbook verify prints both";
        text.parse().map(Against::Words).map_err(|e: crate::store::NotSpoken| Error::usage(e.to_string(), help))
    }

    fn is(&self, id: &ContentId) -> bool {
        match self {
            Against::Full(own) => own == id,
            Against::Words(words) => words.is_of(id),
        }
    }
}

/// How a book stands to a handover id.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Stands {
    /// It is that book.
    Same,
    /// It was, at that record; so many were added since.
    Since {
        /// The record.
        record: Id,
        /// When it was written.
        at: Moment,
        /// What came after.
        after: Box<After>,
    },
    /// It never was.
    Other,
}

/// The newest record that is there, where the one the book points to is not.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct BackTo {
    /// The record.
    pub record: Id,
    /// When it was written.
    pub at: Moment,
    /// Its first line.
    pub subject: String,
}

/// What was found.
#[derive(Debug, Clone)]
pub struct Verified {
    /// What is good, and what is wrong.
    pub sound: Sound,
    /// The newest record; none in a book without one.
    pub head: Option<Id>,
    /// The handover id of the book as it is; none where it is not whole.
    pub id: Option<ContentId>,
    /// How it stands to the id it was held against; none where there is none, or the book is not whole.
    pub stands: Option<Stands>,
    /// Why the program cannot read the book as a whole, where nothing in it is wrong by itself.
    pub unreadable: Option<String>,
    /// Where the newest record is lost: the newest one that is there.
    pub back: Option<BackTo>,
    /// Records this program did not write, and what they altered.
    pub not_ours: Vec<NotOurs>,
    /// The newest record's sheet and days that are as they should be, and all of them.
    pub now: (usize, usize),
}

impl Verified {
    /// Everything is as it should be, and it is the book it should be.
    pub fn is_good(&self) -> bool {
        self.sound.wrong.is_empty() && self.unreadable.is_none() && self.stands != Some(Stands::Other)
    }
}

impl Book {
    /// What is wrong in the book, as whoever receives it would find: flaws of its form first.
    pub fn sound(&self, tell: &dyn Fn(usize)) -> Result<Vec<Wrong>> {
        let Some(head) = self.store.head()? else { return Ok(Vec::new()) };
        Ok(looked(&self.store, head, tell)?.0.wrong)
    }
}

/// What is good in a store and what is wrong, what is inside, and the newest record that is there where the newest is lost.
fn looked(store: &Store, head: Id, tell: &dyn Fn(usize)) -> Result<(Sound, Inventory, Option<BackTo>)> {
    let mut flaws = Vec::new();
    let mut inside = store.look_through(&sound::book_path, &mut |flaw| flaws.push(flaw), tell)?;
    let back = if inside.has(head) { None } else { newest_there(store) };
    // What the lost record stood on is looked at from the newest one that is there.
    let from = back.as_ref().map_or(head, |b| b.record);
    if back.is_some() {
        inside = store.look_through_from(from, &sound::book_path, &mut |flaw| flaws.push(flaw), tell)?;
    }
    flaws.truncate(sound::MOST_WRONG);
    let mut wrong: Vec<Wrong> = flaws.into_iter().map(|f| sound::of_flaw(store, f)).collect();
    let lost: Vec<Id> = wrong.iter().filter(|w| w.path == sound::SHEET).map(|w| w.object).collect();
    let mut found = sound::look(store, from, &inside, &lost, tell)?;
    runs_on(store, from, &mut wrong);
    wrong.append(&mut found.wrong);
    found.wrong = wrong;
    Ok((found, inside, back))
}

/// Looks at the book in a folder; nothing is written.
pub fn verify(dir: &Path, against: Option<Against>, tell: &dyn Fn(usize)) -> Result<Verified> {
    let store = Store::open(dir)?;
    let Some(head) = store.head()? else {
        store.must_be_new()?;
        return Err(Error::data(format!("{} has no record yet", dir.display()), "slipbook new"));
    };
    let (mut found, inside, back) = looked(&store, head, tell)?;
    let from = back.as_ref().map_or(head, |b| b.record);
    let contents = store.contents(head, tell).ok();
    let book = Book::open(dir);
    let definitions = book.as_ref().map_or(schema(), |b| b.schema.as_ref());
    let not_ours = not_ours(&store, &inside.commits, definitions);
    let stands = match (against, &contents) {
        (Some(against), Some(contents)) => Some(stands(&store, &against, (contents, head), &inside, &not_ours)?),
        _ => None,
    };
    let (runs, unreadable) = match book.and_then(|b| b.history()) {
        Ok(history) => (history.runs.len(), None),
        Err(e) => (0, Some(e.to_string())),
    };
    found.runs = runs;
    let now = now(&store, from, &found.wrong);
    let id = contents.map(|c| c.id);
    Ok(Verified { sound: found, head: Some(head), id, stands, unreadable, back, not_ours, now })
}

/// The newest record that is there, of those git's own log of the branch names: only ids are taken from it.
fn newest_there(store: &Store) -> Option<BackTo> {
    let there = |id: &Id| store.commit(*id).ok().filter(|c| store.files(c.id).is_ok());
    let commit = store.pointed_to().iter().find_map(there)?;
    let subject = Message::read(&commit.message).subject;
    Some(BackTo { record: commit.id, at: moment(commit.written), subject })
}

/// Which record of a book has the id it is held against, and what came after it.
fn stands(
    store: &Store,
    against: &Against,
    (contents, head): (&Contents, Id),
    inside: &Inventory,
    not_ours: &[NotOurs],
) -> Result<Stands> {
    if against.is(&contents.id) {
        return Ok(Stands::Same);
    }
    let Some((record, _)) = contents.commits.iter().find(|(_, id)| against.is(id)) else { return Ok(Stands::Other) };
    if *record == head {
        return Ok(Stands::Same);
    }
    let mut older = HashSet::new();
    all_before(store, *record, &mut |id| {
        older.insert(id);
        true
    });
    let new: Vec<Id> = inside.commits.iter().filter(|c| !older.contains(c)).copied().collect();
    let after = Box::new(after(store, (*record, head), &new, not_ours)?);
    Ok(Stands::Since { record: *record, at: moment(store.commit(*record)?.written), after })
}

/// Says of each sheet that is lost how many runs were made on it.
fn runs_on(store: &Store, head: Id, wrong: &mut [Wrong]) {
    if wrong.iter().all(|w| w.path != sound::SHEET) {
        return;
    }
    let mut runs: HashMap<String, usize> = HashMap::new();
    for (path, id) in store.files(head).unwrap_or_default() {
        let read = || day_of_path(&path).and_then(|_| read_day(&path, &text(store.blob(id).ok()?, &path).ok()?).ok());
        read().into_iter().flat_map(|day| day.runs).for_each(|run| *runs.entry(run.setup).or_default() += 1);
    }
    for one in wrong.iter_mut().filter(|w| w.path == sound::SHEET) {
        if let Some(n) = runs.get(&one.object.to_string()) {
            let made = if *n == 1 { "1 run was".to_owned() } else { format!("{n} runs were") };
            one.why = format!("{}; {made} made on it", one.why);
        }
    }
}

/// Files of the newest record with nothing wrong in them, and all it has.
fn now(store: &Store, head: Id, wrong: &[Wrong]) -> (usize, usize) {
    let files = store.files(head).unwrap_or_default();
    let good = files.iter().filter(|(path, id)| !wrong.iter().any(|w| w.object == *id && w.path == *path)).count();
    (good, files.len())
}
