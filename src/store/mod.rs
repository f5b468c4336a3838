//! The git repository of one book: opened safely, read quickly, and written so that nothing recorded is ever lost.
//!
//! Only this module names gix. It gives plain types out, prints nothing, reads neither clock nor
//! environment, and starts no program. A book it did not make is treated as hostile: see [`Store::open`].
use std::path::{Path, PathBuf};

mod aside;
mod batch;
mod budget;
mod bundle;
mod clock;
mod content;
mod copy;
mod delta;
mod error;
mod folder;
mod foreign;
mod heal;
mod incoming;
mod index;
mod lock;
mod log;
mod loose;
#[cfg(feature = "network")]
mod network;
mod open;
mod pack;
mod paths;
mod reach;
mod record;
mod refs;
mod restore;
mod shape;
mod sink;
mod sound;
mod spoken;
mod through;
mod tree;
mod types;
mod unpack;
mod worktree;

pub use aside::Scratch;
pub use batch::Batch;
pub use budget::Limits;
pub use bundle::is_bundle;
pub use clock::Clock;
pub use content::{ContentId, Contents, NotAContentId};
pub use copy::Page;
pub use error::StoreError;
pub use folder::write_folder;
pub use foreign::Foreign;
pub use incoming::Incoming;
#[cfg(feature = "network")]
pub use network::bring;
pub use open::{Repository, repository_in};
pub use sound::{Allowed, Flaw, Held, Inventory};
pub use spoken::{NotSpoken, Spoken};
pub use through::Met;
pub use types::{
    BuildError, Commit, Copied, CopyHow, Id, Kind, Logged, NotAnId, Options, Person, Record, Recorded, Say, Stamp, Tip,
    WorkEdit,
};

/// The most one file or object may hold. More is refused unread.
pub const MAX_FILE: u64 = 16 * 1024 * 1024;

/// One book's repository.
pub struct Store {
    dir: PathBuf,
    git: PathBuf,
    repo: gix::Repository,
    /// Of a stranger's book: each object that is read looks at it.
    clock: Option<Clock>,
}

impl Store {
    /// Makes a new, empty book on the branch `main` in `dir`, which must be absent or empty.
    pub fn create(dir: &Path) -> Result<Store, StoreError> {
        open::create(dir)
    }

    /// Opens a book.
    ///
    /// Refused, each with its own error: a `.git` that is no real folder, symbolic links inside it, a
    /// repository that borrows from another, unknown repository extensions, a HEAD other than the
    /// branch `main`, a repository of another user. Settings of the repository, the user and the
    /// system are not obeyed, replacement refs neither.
    ///
    /// A root user may open root's own books, and after `sudo` those of the user who called it.
    pub fn open(dir: &Path) -> Result<Store, StoreError> {
        open::open(dir)
    }

    /// Each object that is read looks at a clock from here on.
    pub fn with_clock(self, clock: &Clock) -> Store {
        Store { clock: Some(clock.clone()), ..self }
    }

    /// Opens the same book anew, from its files; a clock stays.
    pub fn again(&self) -> Result<Store, StoreError> {
        Ok(Store { clock: self.clock.clone(), ..Store::open(&self.dir)? })
    }

    /// The folder of the book.
    pub fn dir(&self) -> &Path {
        &self.dir
    }

    /// The newest commit on `main`; none in an empty book.
    pub fn head(&self) -> Result<Option<Id>, StoreError> {
        refs::head(self)
    }

    /// Of a book without a record: an error where it holds what only one with records does, so that its branch is lost.
    pub fn must_be_new(&self) -> Result<(), StoreError> {
        refs::must_be_new(&self.git)
    }

    /// The log as written: from the tip along first parents, newest first, up to but not with `until`.
    pub fn log(&self, until: Option<Id>) -> Result<Vec<Logged>, StoreError> {
        match self.head()? {
            Some(head) => self.log_from(head, until),
            None => Ok(Vec::new()),
        }
    }

    /// The same walk from any commit.
    pub fn log_from(&self, start: Id, until: Option<Id>) -> Result<Vec<Logged>, StoreError> {
        log::walk(self, start, until, &|c| c.parents.first().copied())
    }

    /// A walk that goes from each commit to the one `before` names; it ends at the first commit without one.
    pub fn log_along(&self, start: Id, before: &dyn Fn(&Commit) -> Option<Id>) -> Result<Vec<Logged>, StoreError> {
        log::walk(self, start, None, before)
    }

    /// One commit.
    pub fn commit(&self, id: Id) -> Result<Commit, StoreError> {
        log::commit(self, id)
    }

    /// The content of a blob.
    pub fn blob(&self, id: Id) -> Result<Vec<u8>, StoreError> {
        let mut buffer = Vec::new();
        Ok(log::find(self, id, gix::objs::Kind::Blob, &mut buffer)?.to_vec())
    }

    /// All files of a commit with their blob ids, sorted by path.
    pub fn files(&self, commit: Id) -> Result<Vec<(String, Id)>, StoreError> {
        tree::files(self, commit)
    }

    /// One file of a commit.
    pub fn file(&self, commit: Id, path: &str) -> Result<Option<(Id, Vec<u8>)>, StoreError> {
        match tree::file_id(self, commit, path)? {
            Some(id) => Ok(Some((id, self.blob(id)?))),
            None => Ok(None),
        }
    }

    /// Which files of the folder differ from the last record because someone edited them by hand.
    ///
    /// Files that were never recorded are listed when their name ends in `.toml`: nothing else is
    /// part of a book.
    pub fn work_state(&self) -> Result<Vec<WorkEdit>, StoreError> {
        worktree::state(self)
    }

    /// A file of the folder as it is now; refuses links and files over [`MAX_FILE`].
    pub fn read_work(&self, path: &str) -> Result<Option<Vec<u8>>, StoreError> {
        paths::check(path)?;
        worktree::read(&self.dir, path)
    }

    /// Writes one commit.
    ///
    /// `build` is called with the tip under the lock, so what it reads cannot change before the record
    /// is there; it is called again if another program moved the branch meanwhile. `Ok(None)` from it
    /// means there is nothing to do. When this returns an id, the record is on the disk.
    pub fn record(
        &self,
        options: &Options,
        build: &mut dyn FnMut(&Tip) -> Result<Option<Record>, BuildError>,
    ) -> Result<Recorded, StoreError> {
        record::run(self, options, &mut |batch| {
            if let Some(record) = build(&batch.tip())? {
                batch.commit(record)?;
            }
            Ok(())
        })
    }

    /// Writes many commits at once, for imports: one lock, one wait for the disk, one move of the
    /// branch. Whatever happens, all of them are in the book afterwards or none.
    ///
    /// `build` is called again from the start if another program moved the branch meanwhile.
    pub fn record_many(
        &self,
        options: &Options,
        build: &mut dyn FnMut(&mut Batch) -> Result<(), BuildError>,
    ) -> Result<Recorded, StoreError> {
        record::run(self, options, build)
    }

    /// Copies the book into a folder, as a repository with its files laid out, and reads it back from there.
    ///
    /// A folder that is not there is made, aside and renamed: killed at any moment, there is no folder or a whole
    /// copy. One that holds an earlier copy is brought up to the book the way a record is written; one that holds
    /// records the book has not is refused.
    pub fn copy_to_folder(&self, dest: &Path, how: &CopyHow) -> Result<Copied, StoreError> {
        copy::to_folder(self, dest, how)
    }

    /// Copies the book into one file, git's bundle of version 2 with the branch `main`, and reads it back.
    ///
    /// An earlier bundle is replaced, by renaming, if all it holds is in the book.
    pub fn copy_to_bundle(&self, dest: &Path, how: &CopyHow) -> Result<Copied, StoreError> {
        copy::to_bundle(self, copy::tip(self)?, dest, None, how)
    }

    /// The same of the book as it was at `tip`, with a text in a file beside it: its page.
    ///
    /// Both are written aside, and waited for, before either gets its name. A page of an earlier one goes first: killed
    /// at any moment there is the earlier bundle, or the new one, and never a page beside it that tells of another. What
    /// may not go, and what came to be where the page goes, stays and is the error.
    pub fn hand_over(&self, tip: Id, dest: &Path, page: Page, how: &CopyHow) -> Result<Copied, StoreError> {
        copy::to_bundle(self, tip, dest, Some(page), how)
    }

    /// Reads what a stranger made, a bundle or the folder of a clone or of a bare repository, into a place aside in
    /// `garage`.
    ///
    /// Refused, with nothing left behind: what is larger than the limits, unpacks to more, takes longer, is damaged,
    /// incomplete, or holds anything but the plain files `allowed` names and commits of the form git writes. Nothing
    /// of it is obeyed or started; its hooks, settings and indexes are not read.
    pub fn take_in(
        source: &Path,
        garage: &Path,
        limits: Limits,
        allowed: Allowed,
        tell: &dyn Fn(usize),
    ) -> Result<Incoming, StoreError> {
        incoming::take_in(source, garage, limits, allowed, tell)
    }

    /// Looks at everything the newest record stands on, as [`Store::take_in`] does, and hands on every flaw.
    pub fn look_through(
        &self,
        allowed: Allowed,
        found: &mut dyn FnMut(Flaw),
        tell: &dyn Fn(usize),
    ) -> Result<Inventory, StoreError> {
        match self.head()? {
            Some(tip) => self.look_through_from(tip, allowed, found, tell),
            None => Ok(Inventory::default()),
        }
    }

    /// The same from any commit.
    pub fn look_through_from(
        &self,
        tip: Id,
        allowed: Allowed,
        found: &mut dyn FnMut(Flaw),
        tell: &dyn Fn(usize),
    ) -> Result<Inventory, StoreError> {
        let whole = Limits { time: std::time::Duration::MAX, total_bytes: u64::MAX, ..Limits::default() };
        let mut budget = budget::Budget::new(&self.dir, whole, tell);
        sound::walk(self, tip, allowed, &mut budget, &mut |flaw, _| {
            found(flaw);
            Ok(())
        })
    }

    /// Writes what this book lacks, or has damaged, of all that `tip` stands on in another one, which must be whole there;
    /// the number of objects. What is damaged is kept in `.git/damaged`, and nothing that is only here goes.
    pub fn put_back(&self, from: &Store, tip: Id, how: &CopyHow) -> Result<usize, StoreError> {
        restore::put_back(self, from, tip, how)
    }

    /// The commits the branch pointed to, newest first, from git's own log of it; empty where there is none. Whether
    /// they are there is not looked at.
    pub fn pointed_to(&self) -> Vec<Id> {
        restore::pointed_to(self)
    }

    /// Brings this book up to one that has all of its records and more, in the order of a record: killed at any moment
    /// it is as before or as after.
    pub fn bring_up_to(&self, other: &Store, how: &CopyHow) -> Result<Copied, StoreError> {
        incoming::bring_up(self, other, how)
    }

    /// The handover id of the book as it was at `tip`, and of each commit before it: SHA-256 over the content.
    ///
    /// Every object that can be reached is read and hashed once; `tell` is called with how many were. An object that
    /// is missing, unreadable or larger than [`MAX_FILE`] is an error. Whether an object is what its SHA-1 id says is
    /// not looked at: if it is not, the id is another.
    pub fn contents(&self, tip: Id, tell: &dyn Fn(usize)) -> Result<Contents, StoreError> {
        content::walk(self, tip, tell)
    }

    /// The first record of the book as it was at `tip`, along the log as written.
    pub fn first_of(&self, tip: Id) -> Result<Id, StoreError> {
        let mut at = tip;
        while let Some(parent) = self.commit(at)?.parents.first() {
            at = *parent;
        }
        Ok(at)
    }

    /// Shows every commit `tip` stands on, over all parents, once, and every file's content once with each path it has. An
    /// object that is missing, or is not what its id says, is an error.
    pub fn read_through(
        &self,
        tip: Id,
        visit: &mut dyn FnMut(Met<'_>) -> Result<(), StoreError>,
    ) -> Result<(), StoreError> {
        through::walk(self, tip, visit)
    }

    /// The files that `to` has otherwise than `from` (all, where there is none), sorted by path, with the blob that is
    /// there now; none where the file is gone.
    pub fn differing(&self, from: Option<Id>, to: Id) -> Result<Vec<(String, Option<Id>)>, StoreError> {
        Ok(through::between(self, from, to)?.into_iter().collect())
    }

    /// The id a blob of these bytes has.
    pub fn blob_id(bytes: &[u8]) -> Id {
        // Hashing fails only for bytes made to collide; those get an id no object has.
        gix::objs::compute_hash(gix::hash::Kind::Sha1, gix::objs::Kind::Blob, bytes)
            .map(|id| Id::of(&id))
            .unwrap_or(Id([0; 20]))
    }
}
