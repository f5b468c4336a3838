//! Taking a car in: what a stranger handed over is checked whole, aside, and becomes a car of the garage by one renaming,
//! or one record of its own book where the car was here before.

use super::book::{Book, History};
use super::owner::{NewOwner, record_owner};
use super::place::Garage;
use super::sound::{self, Harm, Sound};
use super::trial::trials;
use super::who::{Hand, stamp};
use super::{Error, Result};
use crate::slip::slug;
use crate::store::{Copied, CopyHow, Id, Limits, Options, Store, StoreError};
use std::collections::{HashSet, VecDeque};
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
    /// The new owner, where an entry was made.
    pub owner: Option<String>,
    /// What was checked.
    pub sound: Sound,
    /// Objects that belonged to no record and were left out.
    pub left_out: usize,
    /// What was put right in the old book on the way, in sentences.
    pub notes: Vec<String>,
}

/// Takes a car in. An error leaves the garage as it was.
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
    fs::create_dir_all(dir).map_err(|e| Error::io(dir, e))?;
    Ok(made)
}

fn take(garage: &Garage, options: &Options, hand: &Hand, wanted: &ReceiveWanted) -> Result<Received> {
    let incoming = Store::take_in(wanted.source, garage.dir(), wanted.limits, &sound::book_path, wanted.tell)?;
    let tip = incoming.tip;
    let sound = sound::look(incoming.store(), tip, &incoming.contents, &[], wanted.tell)?;
    refuse_wrong(wanted.source, wanted.as_it_is, &sound)?;
    let id = incoming.store().contents(tip, wanted.tell)?.id;
    let how = CopyHow { options, who: hand.person(), when: stamp(hand.now), tell: wanted.tell };
    let (made, copied) = incoming.make(&how)?;
    refuse_vast(wanted, &made, tip)?;
    let book = Book::open(made.dir())?;
    let history = book.history()?;
    let mut ids = HashSet::new();
    if let Some(twice) = history.runs.iter().find(|m| !ids.insert(m.run.id.as_str())) {
        let message = format!("{} is not taken in: its run {} is there twice", wanted.source.display(), twice.run.id);
        return Err(Error::data(message, "nothing was changed"));
    }
    trials(&book.store, Some(tip))?;
    let sold_by = book.car.owners.last().map(|o| o.name.clone());
    let sound = Sound { runs: history.runs.len(), ..sound };
    let own = own_book(garage, first_of(incoming.store(), tip)?)?;
    let left_out = incoming.left_out;
    let told = |folder, book, came, owner, notes| Received {
        folder,
        book,
        came,
        tip,
        id,
        sold_by: sold_by.clone(),
        owner,
        sound: sound.clone(),
        left_out,
        notes,
    };
    let Some((folder, old)) = own else {
        let (folder, called) = free_folder(garage, wanted, &book.car.name)?;
        let owner = owner_entry(&made, options, hand, (wanted.owner, called.as_deref()), &id.to_string())?;
        drop((made, book));
        incoming.place(&garage.car_dir(&folder), options.fsync).map_err(|e| occupied(e, &folder))?;
        let book = Book::open(&garage.car_dir(&folder))?;
        return Ok(told(folder, book, CameIn::New, owner, Vec::new()));
    };
    if wanted.called.is_some() {
        let message = format!("this is the book of {}, which is here already", old.car.name);
        return Err(Error::usage(message, "without --as it is brought up to what was received; nothing was changed"));
    }
    let head = old.store.head()?;
    if head.is_some_and(|head| !incoming.contents.has(head)) {
        if head.is_some_and(|head| has(&old.store, head, tip)) {
            return Ok(told(folder, old, CameIn::Had, None, Vec::new()));
        }
        let car = &old.car.name;
        return Err(Error::data(
            format!("the book of {car} here has records that were not received, and the other way round"),
            format!(
                "slipbook join {} --car {folder} brings both together; nothing was changed",
                wanted.source.display()
            ),
        ));
    }
    if head == Some(tip) {
        return Ok(told(folder, old, CameIn::Had, None, Vec::new()));
    }
    if !wanted.as_it_is {
        refuse_loss(&old, &history)?;
    }
    let before = head.map_or(0, |h| count(&old.store, h));
    let owner = owner_entry(&made, options, hand, (wanted.owner, None), &id.to_string())?;
    let brought: Copied = old.store.bring_up_to(&made, &how).map_err(|e| hand_edit(e, &folder))?;
    let came = CameIn::Back(copied.commits.saturating_sub(before));
    let notes = brought
        .notes
        .into_iter()
        .chain(brought.kept_by_hand.iter().map(|p| format!("{p} is kept as edited")))
        .collect();
    let book = Book::open(old.store.dir())?;
    Ok(told(folder, book, came, owner, notes))
}

/// Refuses a book with something wrong in it; what merely would not have been taken can be taken as it is.
pub(super) fn refuse_wrong(source: &Path, as_it_is: bool, sound: &Sound) -> Result<()> {
    let Some(first) = sound.wrong.first() else { return Ok(()) };
    if as_it_is && sound.wrong.iter().all(|w| w.harm == Harm::Content) {
        return Ok(());
    }
    let named = |w: &sound::Wrong| {
        let of = w.said.as_ref().map(|(at, s)| format!(" of {} ({s})", at.words(None))).unwrap_or_default();
        format!("{}{of}: {}", w.path, w.why)
    };
    let more = sound.wrong.len() - 1;
    let more = if more == 0 { String::new() } else { format!("; and {more} more") };
    let message = format!("{} is not taken in: {}{more}", source.display(), named(first));
    if sound.wrong.iter().any(|w| w.harm != Harm::Content) {
        return Err(Error::data(message, "nothing was changed"));
    }
    Err(Error::Unconfirmed {
        message,
        help: "nothing of it can run; --yes takes it in as it is, and slipbook verify names all of it".to_owned(),
    })
}

/// The most the files of a book hold together as they are now, in bytes: all of them are read at once.
const MOST_NOW: u64 = 64 << 20;

fn refuse_vast(wanted: &ReceiveWanted, store: &Store, tip: Id) -> Result<()> {
    let mut bytes = 0;
    for (_, blob) in store.files(tip)? {
        bytes += store.blob(blob)?.len() as u64;
        if bytes > MOST_NOW {
            let message = format!("{} is not taken in: its files hold over {MOST_NOW} bytes", wanted.source.display());
            return Err(Error::data(message, "nothing was changed"));
        }
    }
    Ok(())
}

/// What comes back in its own book may add and put right; what takes runs or versions out of the book here is asked about:
/// whoever had the file once could write that.
fn refuse_loss(old: &Book, received: &History) -> Result<()> {
    let here = old.history()?;
    let there: HashSet<&str> = received.runs.iter().map(|m| m.run.id.as_str()).collect();
    let runs = here.runs.iter().filter(|m| !there.contains(m.run.id.as_str())).count();
    let versions = here.timeline.versions.len().saturating_sub(received.timeline.versions.len());
    if runs == 0 && versions == 0 {
        return Ok(());
    }
    let counted = |n: usize, what: &str| format!("{n} {what}{}", if n == 1 { "" } else { "s" });
    let message = format!(
        "what was received takes {} and {} out of the book of {} that is here",
        counted(runs, "run"),
        counted(versions, "version"),
        old.car.name
    );
    Err(Error::Unconfirmed {
        message,
        help: "nothing was changed; ask who had it whether that was meant. --yes takes it in all the same: what was \
               taken out stays in the record"
            .to_owned(),
    })
}

/// The first record of a book, along the log as written.
pub(super) fn first_of(store: &Store, tip: Id) -> Result<Id> {
    let mut at = tip;
    while let Some(parent) = store.commit(at)?.parents.first() {
        at = *parent;
    }
    Ok(at)
}

/// The book of the garage that begins with the same record.
fn own_book(garage: &Garage, first: Id) -> Result<Option<(String, Book)>> {
    for folder in garage.folders()? {
        // A book that cannot be read is none that could be brought up to anything.
        let Ok(book) = Book::open(&garage.car_dir(&folder)) else { continue };
        let head = book.store.head().ok().flatten();
        if head.and_then(|h| first_of(&book.store, h).ok()) == Some(first) {
            return Ok(Some((folder, book)));
        }
    }
    Ok(None)
}

fn all_before(store: &Store, tip: Id, visit: &mut dyn FnMut(Id) -> bool) {
    let mut known = HashSet::from([tip]);
    let mut queue = VecDeque::from([tip]);
    while let Some(id) = queue.pop_front() {
        if !visit(id) {
            return;
        }
        let parents = store.commit(id).map(|c| c.parents).unwrap_or_default();
        queue.extend(parents.into_iter().filter(|p| known.insert(*p)));
    }
}

/// Whether a record is the tip or before it.
fn has(store: &Store, tip: Id, wanted: Id) -> bool {
    let mut found = false;
    all_before(store, tip, &mut |id| {
        found |= id == wanted;
        !found
    });
    found
}

/// Records up to a tip, those beside the log as written among them.
fn count(store: &Store, tip: Id) -> usize {
    let mut n = 0;
    all_before(store, tip, &mut |_| {
        n += 1;
        true
    });
    n
}

/// Names that are devices on some systems.
const DEVICES: [&str; 22] = [
    "con", "prn", "aux", "nul", "com1", "com2", "com3", "com4", "com5", "com6", "com7", "com8", "com9", "lpt1", "lpt2",
    "lpt3", "lpt4", "lpt5", "lpt6", "lpt7", "lpt8", "lpt9",
];

/// The folder a new car gets, and its new name where it gets one.
fn free_folder(garage: &Garage, wanted: &ReceiveWanted, car: &str) -> Result<(String, Option<String>)> {
    let mut called = wanted.called.map(str::to_owned);
    loop {
        let name = called.as_deref().unwrap_or(car).trim().to_owned();
        if name.is_empty() || name.chars().count() > 40 || name.chars().any(char::is_control) {
            let message = "a car's name is 1 to 40 characters on one line";
            return Err(Error::usage(message, "--as NAME; nothing was changed"));
        }
        let folder = slug(&name);
        let taken = garage.car_dir(&folder);
        let message = match fs::symlink_metadata(&taken) {
            _ if DEVICES.contains(&folder.as_str()) => format!("a folder cannot be called {folder} on every system"),
            Ok(_) => format!("{} is there already, and is another car than the one received", taken.display()),
            Err(_) => return Ok((folder, called.map(|_| name))),
        };
        called =
            Some((wanted.other_name)(&folder).filter(|n| !n.trim().is_empty()).ok_or_else(|| {
                Error::usage(message, "--as NAME takes it in under another name; nothing was changed")
            })?);
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
    let name = match (owner, called) {
        (Some(name), _) => name.trim().to_owned(),
        // Only the name of the car changes.
        (None, Some(_)) => last.clone().unwrap_or_else(|| hand.by.clone()),
        (None, None) => return Ok(None),
    };
    record_owner(made, options, hand, &NewOwner { name: &name, car: called, received: id })?;
    Ok((last.as_deref() != Some(name.as_str())).then_some(name))
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

fn hand_edit(error: StoreError, folder: &str) -> Error {
    match error {
        StoreError::HandEdit { path } => Error::data(
            format!("{path} of {folder} was changed by hand and is not saved yet; nothing was taken in"),
            format!("slipbook sheet --save --car {folder} saves it, git checkout -- {path} there drops it"),
        ),
        other => other.into(),
    }
}
