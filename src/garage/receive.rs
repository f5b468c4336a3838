//! Taking a car in: what a stranger handed over is checked whole, aside, and becomes a car of the garage by one renaming,
//! or one record of its own book where the car was here before.

use super::book::Book;
use super::hand_edit::edit_help;
use super::history::History;
use super::not_ours::{NotOurs, not_ours};
use super::now::sheet_in;
use super::own_book::{count, has, is_damaged, own_book};
use super::owner::{NewOwner, record_owner};
use super::place::Garage;
use super::refuse::{refuse_altered, refuse_form, refuse_loss, refuse_other_than_book, refuse_wrong};
use super::room::refuse_vast;
use super::sound::{self, Sound};
use super::trial::trials;
use super::who::{Hand, stamp};
use super::{Error, Result};
use crate::schema::same_name;
use crate::store::{Copied, CopyHow, Id, Limits, Options, Store, StoreError};
use crate::text::slug;
use std::collections::HashSet;
use std::fs;
use std::path::{Path, PathBuf};

/// What is to be taken in, and how.
pub struct ReceiveWanted<'a> {
    /// A bundle, or the folder of a clone.
    pub source: &'a Path,
    /// Another name for the car.
    pub called: Option<&'a str>,
    /// Asked for another name where the car's own is taken; given the folder that is.
    pub other_name: &'a dyn Fn(&str) -> Option<String>,
    /// Who has the car from now on; none is recorded where that is not known.
    pub owner: Option<&'a str>,
    /// That owner was named for this: it is recorded in a book that had all of it, too.
    pub owner_named: bool,
    /// What of its content this program would not have taken is taken in as it is.
    pub as_it_is: bool,
    /// Limits of what is read.
    pub limits: Limits,
    /// Called with a count that goes up.
    pub tell: &'a dyn Fn(usize),
}

/// How it came in.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum CameIn {
    /// A new car.
    New,
    /// The car was here before; so many records are new.
    Back(usize),
    /// The book here had all of it.
    Had,
}

/// A car that was taken in.
pub struct Received {
    /// Its folder.
    pub folder: String,
    /// Its book.
    pub book: Book,
    /// How it came in.
    pub came: CameIn,
    /// The newest record that was received.
    pub tip: Id,
    /// The handover id of what was received.
    pub id: crate::store::ContentId,
    /// Who had it last, by its own record.
    pub sold_by: Option<String>,
    /// By whom its newest record was written down.
    pub newest_by: String,
    /// The new owner, where an entry was made.
    pub owner: Option<String>,
    /// Objects the book here had lost or damaged, and got back.
    pub put_back: usize,
    /// What was checked.
    pub sound: Sound,
    /// Versions of what was received.
    pub versions: usize,
    /// Records the book here has beyond what was received, where it had all of that.
    pub more_here: usize,
    /// Records of what was received that this program did not write, and what they altered.
    pub not_ours: Vec<NotOurs>,
    /// Objects that belonged to no record and were left out.
    pub left_out: usize,
    /// What was put right in the old book on the way, in sentences.
    pub notes: Vec<String>,
}

impl Received {
    /// Whether the newest record is of the hand that had it last: who wrote it is all that is known of who handed it over.
    pub fn by_owner(&self) -> bool {
        self.sold_by.as_ref().is_some_and(|owner| same_name(owner, &self.newest_by))
    }
}

/// Takes a car in. An error leaves the garage as it was, but that what the car's own book here had lost or damaged and the
/// received one has is put back first: the error says so.
pub fn receive(garage: &Garage, options: &Options, hand: &Hand, wanted: &ReceiveWanted) -> Result<Received> {
    let dir = std::path::absolute(garage.dir()).map_err(|e| Error::io(garage.dir(), e))?;
    let made = made_folders(&dir)?;
    let done = take(garage, options, hand, wanted);
    if done.is_err() {
        // Only what is empty can go this way.
        made.iter().for_each(|d| drop(fs::remove_dir(d)));
    }
    done
}

/// Makes the folder of the garage; those that were not there, the deepest first.
fn made_folders(dir: &Path) -> Result<Vec<PathBuf>> {
    let made = dir.ancestors().take_while(|d| !d.exists()).map(Path::to_owned).collect();
    fs::create_dir_all(dir).map_err(|_| {
        let message =
            format!("the folder of the garage, {}, cannot be made there; nothing was taken in", dir.display());
        Error::data(message, "--garage DIR names a place that can be written to")
    })?;
    Ok(made)
}

fn take(garage: &Garage, options: &Options, hand: &Hand, wanted: &ReceiveWanted) -> Result<Received> {
    refuse_other_than_book(wanted.source)?;
    let incoming = Store::take_in(wanted.source, garage.dir(), wanted.limits, &sound::book_path, wanted.tell)?;
    let tip = incoming.tip;
    let sound = sound::look(incoming.store(), tip, &incoming.contents, &[], wanted.tell)?;
    refuse_form(wanted.source, &sound)?;
    let id = incoming.store().contents(tip, wanted.tell)?.id;
    let how = CopyHow { options, who: hand.person(), when: stamp(hand.now), tell: wanted.tell };
    let (made, copied) = incoming.make(&how)?;
    refuse_vast(wanted.source, &made, tip)?;
    let opened = opened(&made, tip);
    let clock = incoming.clock();
    clock.check()?;
    refuse_wrong(wanted.source, wanted.as_it_is, &sound, opened.as_ref().err())?;
    let (book, history) = opened?;
    let mut ids = HashSet::new();
    if let Some(twice) = history.runs.iter().find(|m| !ids.insert(m.run.id.as_str())) {
        let message = format!("{} is not taken in: its run {} is there twice", wanted.source.display(), twice.run.id);
        return Err(Error::data(message, "nothing was changed"));
    }
    let not_ours = not_ours(incoming.store(), &incoming.contents.commits, &book.schema);
    let versions = history.timeline.versions.len();
    let sold_by = book.car.owners.last().map(|o| o.name.clone());
    let newest_by = incoming.store().commit(tip)?.committer.name;
    let sound = Sound { runs: history.runs.len(), ..sound };
    // What is done with one's own book has no limit of time.
    let mut own = clock.paused(|| own_book(garage, incoming.store(), tip, &incoming.contents))?;
    if let Some((folder, _)) = own.as_ref().filter(|_| wanted.called.is_some()) {
        let message = format!("this is the book of {folder}, which is here already");
        return Err(Error::usage(message, "without --as it is brought up to what was received; nothing was changed"));
    }
    let mut put_back = 0;
    if let Some((_, store)) = &own
        && clock.paused(|| is_damaged(store, wanted.tell))?
    {
        clock.end();
        put_back = store.put_back(incoming.store(), tip, &how)?;
        let dir = store.dir().to_owned();
        own = own.map(|(folder, _)| Ok::<_, Error>((folder, Store::open(&dir)?))).transpose()?;
    }
    let own = own.map(|(folder, store)| Ok::<_, Error>((folder, Book::open(store.dir())?))).transpose()?;
    let left_out = incoming.left_out;
    let told = |folder, book, came, owner, notes| Received {
        folder,
        book,
        came,
        tip,
        id,
        sold_by: sold_by.clone(),
        newest_by: newest_by.clone(),
        owner,
        put_back,
        sound: sound.clone(),
        versions,
        more_here: 0,
        not_ours: not_ours.clone(),
        left_out,
        notes,
    };
    clock.check()?;
    // All is known of what was received.
    clock.end();
    let Some((folder, old)) = own else {
        let (folder, called) = free_folder(garage, wanted, &book.car.name, &history)?;
        let owner = owner_entry(&made, options, hand, (wanted.owner, called.as_deref()), &id.to_string())?;
        drop((made, book));
        incoming.place(&garage.car_dir(&folder), options.fsync).map_err(|e| occupied(e, &folder))?;
        let book = Book::open(&garage.car_dir(&folder))?;
        return Ok(told(folder, book, CameIn::New, owner, Vec::new()));
    };
    // What is mended stays mended, whatever becomes of the rest.
    let so_far = match put_back {
        0 => "nothing was changed",
        _ => "what was lost here is mended from it, nothing else was changed",
    };
    let had = |folder: String, old: Book| {
        let named = wanted.owner.filter(|_| wanted.owner_named);
        let owner = match named {
            Some(_) => owner_entry(&old.store, options, hand, (named, None), &id.to_string())?,
            None => None,
        };
        let book = if owner.is_some() { Book::open(old.store.dir())? } else { old };
        let more_here = count(&book.store, book.store.head()?.unwrap_or(tip)).saturating_sub(copied.commits);
        Ok(Received { more_here, ..told(folder, book, CameIn::Had, owner, Vec::new()) })
    };
    let head = old.store.head()?;
    if head.is_some_and(|head| !incoming.contents.has(head)) {
        if head.is_some_and(|head| has(&old.store, head, tip)) {
            return had(folder, old);
        }
        let car = &old.car.name;
        return Err(Error::data(
            format!("the book of {car} here has records that were not received, and the other way round"),
            format!("slipbook join {} --car {folder} brings both together; {so_far}", wanted.source.display(),),
        ));
    }
    if head == Some(tip) {
        return had(folder, old);
    }
    if !wanted.as_it_is {
        refuse_loss(&old, &history, so_far)?;
        refuse_altered(&old, &not_ours, so_far)?;
    }
    let before = head.map_or(0, |h| count(&old.store, h));
    let owner = owner_entry(&made, options, hand, (wanted.owner, None), &id.to_string())?;
    let brought: Copied = old.store.bring_up_to(&made, &how).map_err(|e| hand_edit(e, &folder, so_far))?;
    let came = CameIn::Back(copied.commits.saturating_sub(before));
    let notes = brought
        .notes
        .into_iter()
        .chain(brought.kept_by_hand.iter().map(|p| format!("{p} is kept as edited")))
        .collect();
    let book = Book::open(old.store.dir())?;
    Ok(told(folder, book, came, owner, notes))
}

/// Opens all that holds now: the car, its sheet, its days, its trials.
fn opened(made: &Store, tip: Id) -> Result<(Book, History)> {
    let book = Book::of(made.again()?)?;
    let history = book.history()?;
    openable(&book, tip)?;
    Ok((book, history))
}

/// Whether the sheet and the trials of a book, whose days are read with its history, can be opened; the error says why not.
pub fn openable(book: &Book, tip: Id) -> Result<()> {
    sheet_in(&book.store, &book.schema, tip, true)?;
    trials(&book.store, Some(tip))?;
    Ok(())
}

/// The folder a new car gets, and its new name where it gets one.
fn free_folder(
    garage: &Garage,
    wanted: &ReceiveWanted,
    car: &str,
    history: &History,
) -> Result<(String, Option<String>)> {
    let mut called = wanted.called.map(str::to_owned);
    loop {
        let name = called.as_deref().unwrap_or(car).trim().to_owned();
        if name.is_empty() || name.chars().count() > 40 || name.chars().any(char::is_control) {
            let message = "a car's name is 1 to 40 characters on one line";
            return Err(Error::usage(message, "--as NAME; nothing was changed"));
        }
        let folder = slug(&name, "car");
        let taken = garage.car_dir(&folder);
        let message = match fs::symlink_metadata(&taken) {
            Ok(_) => taken_words(&taken, history),
            Err(_) => return Ok((folder, called.map(|_| name))),
        };
        called =
            Some((wanted.other_name)(&folder).filter(|n| !n.trim().is_empty()).ok_or_else(|| {
                Error::usage(message, "--as NAME takes it in under another name; nothing was changed")
            })?);
    }
}

/// What the car is that is in the folder already: a copy without some of it has no record of the book it was made from,
/// and the same runs.
fn taken_words(taken: &Path, history: &History) -> String {
    let there = taken.display();
    let old = match Book::open(taken) {
        Err(why) if taken.join(".git").exists() => {
            return format!(
                "{there} is there already and cannot be opened, so whether it is this car's book is not known: {why}; \
                 slipbook verify says what to do about it"
            );
        }
        old => old.and_then(|b| b.history()),
    };
    let of: HashSet<&str> = history.runs.iter().map(|m| m.run.id.as_str()).collect();
    let same = old.map_or(0, |old| old.runs.iter().filter(|m| of.contains(m.run.id.as_str())).count());
    match same {
        0 => format!("{there} is there already, and is another car than the one received"),
        n => format!(
            "{there} is there already, has no record in common with the one received, and {n} of the same runs: it may be \
             a rewritten copy of that car (handed over without some of it), which cannot go back into its book"
        ),
    }
}

/// Records who has the car from now on, and its new name; the owner, where the book had another.
fn owner_entry(
    made: &Store,
    options: &Options,
    hand: &Hand,
    (owner, called): (Option<&str>, Option<&str>),
    id: &str,
) -> Result<Option<String>> {
    let last = Book::open(made.dir())?.car.owners.last().map(|o| o.name.clone());
    let name = owner.map(|name| name.trim().to_owned());
    if name.is_none() && called.is_none() {
        return Ok(None);
    }
    record_owner(made, options, hand, &NewOwner { name: name.as_deref(), car: called, received: id })?;
    Ok(name.filter(|name| last.as_deref() != Some(name)))
}

fn occupied(error: StoreError, folder: &str) -> Error {
    match error {
        StoreError::Occupied { path, .. } => Error::usage(
            format!("{} came to be there meanwhile", path.display()),
            format!("another name than {folder}: --as NAME; nothing was changed"),
        ),
        other => other.into(),
    }
}

fn hand_edit(error: StoreError, folder: &str, so_far: &str) -> Error {
    match error {
        StoreError::HandEdit { path } => Error::data(
            format!("{path} of {folder} was changed or deleted by hand and is not saved yet; {so_far}"),
            format!("with --car {folder}: {}", edit_help(&path)),
        ),
        other => other.into(),
    }
}
