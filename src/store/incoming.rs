//! Taking in what a stranger made: a bundle, or the folder of a clone. It is read object by object into a place aside,
//! looked at there, and made a book of its own; it gets its name at the very end.
use std::collections::HashSet;
use std::fs::{self, File};
use std::io::Read;
use std::path::{Path, PathBuf};

use gix::objs::Kind;
use gix::zlib::{Decompress, FlushDecompress, Status};

use super::aside::{Aside, sync_below};
use super::budget::{Budget, Limits};
use super::loose::Object;
use super::pack::PackWriter;
use super::sound::{self, Allowed, Inventory};
use super::types::io;
use super::{Clock, Copied, CopyHow, Id, MAX_FILE, Store, StoreError, bundle, copy, open, refs, unpack};

/// The name of the place aside: one for all cars, so that the next one clears away what a killed one left.
const PLACE: &str = "received";

/// Where the objects are read into, and where the book is made.
const READ: &str = "read";
const MADE: &str = "made";

/// The head of a loose object: its kind, its size, a zero.
const LONGEST_LOOSE_HEAD: usize = 32;

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
        let git = open::checked_foreign(source)?;
        if fs::symlink_metadata(git.join("shallow")).is_ok() {
            return Err(budget.refuse(
                "it is a clone of the latest records only; a book is complete in itself (`git fetch --unshallow` there)",
            ));
        }
        let tip = refs::branch(&git)?.ok_or_else(|| StoreError::NoRecords { path: source.into() })?;
        return collect(garage, tip, allowed, &mut budget, &mut |into, budget| folder(&git, into, budget));
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
    let aside = Aside::for_dest(&garage.join(PLACE))?;
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
        let hash = gix::objs::compute_hash(gix::hash::Kind::Sha1, kind, &data);
        let id = Id::of(&hash.map_err(|e| StoreError::damaged("an object that was made to be taken for another", e))?);
        if self.known.insert(id) {
            self.pack.add(&Object { id, kind, data })?;
        }
        Ok(id)
    }
}

/// Reads the objects of a clone from its files: neither its indexes nor anything else in it is relied on.
fn folder(git: &Path, into: &mut Collected, budget: &mut Budget) -> Result<(), StoreError> {
    let objects = git.join("objects");
    for (path, name) in entries(&objects, budget)? {
        let hex = name.len() == 2 && name.bytes().all(|b| b.is_ascii_hexdigit());
        if !hex {
            continue;
        }
        open::check_part(&path, true, true)?;
        for (path, name) in entries(&path, budget)? {
            let id = format!("{}{name}", path.parent().and_then(Path::file_name).unwrap_or_default().to_string_lossy());
            if id.parse::<Id>().is_ok() {
                open::check_part(&path, false, true)?;
                loose(&path, &id, into, budget)?;
            }
        }
    }
    let packs = objects.join("pack");
    if fs::symlink_metadata(&packs).is_err() {
        return Ok(());
    }
    for (path, name) in entries(&packs, budget)? {
        if name.ends_with(".pack") {
            open::check_part(&path, false, true)?;
            let mut file = File::open(&path).map_err(io("open", &path))?;
            budget.file(file.metadata().map_err(io("look at", &path))?.len())?;
            unpack::read(&mut file, 0, budget, &mut |kind, data, _| into.take(kind, data))?;
        }
    }
    Ok(())
}

/// What is in a folder, sorted by name.
fn entries(dir: &Path, budget: &mut Budget) -> Result<Vec<(PathBuf, String)>, StoreError> {
    let mut out = Vec::new();
    for entry in fs::read_dir(dir).map_err(io("read", dir))? {
        budget.step()?;
        budget.objects(1)?;
        let entry = entry.map_err(io("read", dir))?;
        out.push((entry.path(), entry.file_name().to_string_lossy().into_owned()));
    }
    out.sort();
    Ok(out)
}

/// Reads one object that has a file of its own.
fn loose(path: &Path, id: &str, into: &mut Collected, budget: &mut Budget) -> Result<(), StoreError> {
    let wrong = |budget: &Budget, why: &str| budget.refuse(format!("the object {id}: {why}"));
    let mut file = File::open(path).map_err(io("open", path))?;
    let length = file.metadata().map_err(io("look at", path))?.len();
    budget.file(length)?;
    let mut packed = Vec::new();
    // Nothing that packs well is larger than what it unpacks to by more than this.
    file.by_ref().take(MAX_FILE + MAX_FILE / 16).read_to_end(&mut packed).map_err(io("read", path))?;
    let mut inflate = Decompress::new();
    let mut head = [0; LONGEST_LOOSE_HEAD];
    let _ = inflate.decompress(&packed, &mut head, FlushDecompress::None);
    let begun = &head[..(inflate.total_out() as usize).min(LONGEST_LOOSE_HEAD)];
    let parsed = begun.iter().position(|b| *b == 0).and_then(|zero| {
        let (kind, size) = std::str::from_utf8(&begun[..zero]).ok()?.split_once(' ')?;
        let size: u64 = size.parse().ok().filter(|_| size.bytes().all(|b| b.is_ascii_digit()))?;
        Some((kind.to_owned(), size, zero + 1))
    });
    let (kind, size, start) = parsed.ok_or_else(|| wrong(budget, "it does not begin as one"))?;
    let kind = match kind.as_str() {
        "commit" => Kind::Commit,
        "tree" => Kind::Tree,
        "blob" => Kind::Blob,
        "tag" => Kind::Tag,
        _ => return Err(wrong(budget, "it is of no kind git knows")),
    };
    budget.object(size)?;
    let whole = start + size as usize;
    let mut data = vec![0; whole + 1];
    inflate.reset();
    match inflate.decompress(&packed, &mut data, FlushDecompress::Finish) {
        Ok(Status::StreamEnd) if inflate.total_out() as usize == whole => {}
        _ => return Err(wrong(budget, "it does not unpack to what it says")),
    }
    data.truncate(whole);
    data.drain(..start);
    match into.take(kind, data)? {
        found if found.to_string() == id => Ok(()),
        found => Err(wrong(budget, &format!("its content is that of {found}"))),
    }
}
