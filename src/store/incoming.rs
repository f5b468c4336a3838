//! Taking in what a stranger made: a bundle, or the folder of a clone. It is read object by object into a place aside,
//! looked at there, and made a book of its own; it gets its name at the very end.
use std::collections::HashSet;
use std::fs::{self, File};
use std::path::Path;

use gix::objs::Kind;

use super::aside::{Aside, sync_below};
use super::budget::{Budget, Limits};
use super::foreign::{self, Foreign};
use super::loose::Object;
use super::pack::PackWriter;
use super::sound::{self, Allowed, Inventory};
use super::types::io;
use super::{Clock, Copied, CopyHow, Id, Store, StoreError, bundle, copy, refs, unpack};

/// The name of the place aside: one for all cars, so that the next one clears away what a killed one left.
const RECEIVED: &str = "received";

/// Where the objects are read into, and where the book is made.
const READ: &str = "read";
const MADE: &str = "made";

/// What was read and found sound. Dropping it takes all of it away.
pub struct Incoming {
    aside: Aside,
    read: Store,
    clock: Clock,
    /// The newest record.
    pub tip: Id,
    /// All that it stands on.
    pub contents: Inventory,
    /// Objects that were there and belong to no record: they are left out.
    pub left_out: usize,
}

impl Incoming {
    /// The objects as they were read: nothing of it is laid out as files.
    pub fn store(&self) -> &Store {
        &self.read
    }

    /// The clock it is read by. It runs until it is ended.
    pub fn clock(&self) -> &Clock {
        &self.clock
    }

    /// Makes it a book, still aside: only what its records stand on, checked once more, with its files laid out.
    pub fn make(&self, how: &CopyHow) -> Result<(Store, Copied), StoreError> {
        let made = Store::create(&self.aside.path(MADE))?.with_clock(&self.clock);
        let copied = copy::bring_up_to(&made, &self.read, self.tip, how)?;
        Ok((made, copied))
    }

    /// Gives the book that was made its name: one renaming, after everything in it is on the disk.
    pub fn place(self, dest: &Path, fsync: bool) -> Result<(), StoreError> {
        if fs::symlink_metadata(dest).is_ok() {
            return Err(StoreError::Occupied { path: dest.into(), what: "there already" });
        }
        if fsync {
            sync_below(&self.aside.path(MADE))?;
        }
        self.aside.place(MADE, dest, fsync)
    }
}

/// Brings a book up to a tip of another one that has all of its records, in the order of a record.
pub(super) fn bring_up(own: &Store, from: &Store, how: &CopyHow) -> Result<Copied, StoreError> {
    let tip = refs::head(from)?.ok_or_else(|| StoreError::NoRecords { path: from.dir.clone() })?;
    copy::bring_up_to(own, from, tip, how)
}

pub(super) fn take_in(
    source: &Path,
    garage: &Path,
    limits: Limits,
    allowed: Allowed,
    tell: &dyn Fn(usize),
) -> Result<Incoming, StoreError> {
    let mut budget = Budget::new(source, limits, tell);
    let meta = fs::metadata(source).map_err(io("open", source))?;
    if meta.is_dir() {
        let foreign = Foreign::look(source)?;
        return collect(garage, foreign.tip(), allowed, &mut budget, &mut |into, budget| {
            foreign.objects(budget, &mut |kind, data, _| into.take(kind, data))
        });
    }
    if !meta.is_file() {
        return Err(budget.refuse("it is neither a file nor a folder"));
    }
    let mut file = File::open(source).map_err(io("open", source))?;
    budget.file(file.metadata().map_err(io("look at", source))?.len())?;
    let head = bundle::head_of(&mut file).map_err(|why| budget.refuse(why))?;
    collect(garage, head.tip, allowed, &mut budget, &mut |into, budget| {
        unpack::read(&mut file, head.length, budget, &mut |kind, data, _| into.take(kind, data))
    })
}

/// Reads objects into a new place aside and looks at what the tip stands on.
fn collect(
    garage: &Path,
    tip: Id,
    allowed: Allowed,
    budget: &mut Budget,
    fill: &mut dyn FnMut(&mut Collected, &mut Budget) -> Result<(), StoreError>,
) -> Result<Incoming, StoreError> {
    let aside = Aside::for_dest(&garage.join(RECEIVED))?;
    let dir = aside.path(READ);
    let empty = Store::create(&dir)?;
    let mut into = Collected { pack: PackWriter::new(&empty.git)?, known: HashSet::new() };
    fill(&mut into, budget)?;
    let objects = into.known.len();
    into.pack.finish(false)?;
    drop(empty);
    let clock = budget.clock().clone();
    let read = Store::open(&dir)?.with_clock(&clock);
    let contents = sound::walk(&read, tip, allowed, budget, &mut |flaw, budget| Err(budget.refuse(told(&flaw))))?;
    Ok(Incoming { aside, read, clock, tip, left_out: objects.saturating_sub(contents.objects), contents })
}

/// A flaw in words.
fn told(flaw: &sound::Flaw) -> String {
    let named = if flaw.path.is_empty() { flaw.object.short() } else { format!("`{}`", flaw.path) };
    let of = flaw.record.filter(|r| *r != flaw.object).map(|r| format!(" of the record {}", r.short()));
    format!("the {} {named}{}: {}", flaw.what, of.unwrap_or_default(), flaw.why)
}

/// Where objects are collected, each once.
struct Collected {
    pack: PackWriter,
    known: HashSet<Id>,
}

impl Collected {
    fn take(&mut self, kind: Kind, data: Vec<u8>) -> Result<Id, StoreError> {
        let id = foreign::id_of(kind, &data)?;
        if self.known.insert(id) {
            self.pack.add(&Object { id, kind, data })?;
        }
        Ok(id)
    }
}
