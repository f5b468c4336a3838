//! A copy of a book in another place: every object over all parents, read back from there before it is said to be done.
use std::fs;
use std::path::Path;

use super::aside::{Aside, sync_below};
use super::batch::{Batch, Last};
use super::reach::{self, Reached};
use super::types::io;
use super::{Copied, CopyHow, Id, Store, StoreError, bundle, record, refs};

/// The copy's name while it is made.
const NAME: &str = "copy";

/// That of the page beside it.
const PAGE: &str = "page";

/// A text in a file beside a bundle.
#[derive(Clone, Copy)]
pub struct Page<'a> {
    /// Where.
    pub path: &'a Path,
    /// What it says.
    pub text: &'a str,
    /// Whether what lies there may go for it. Asked right before it does.
    pub may_go: &'a dyn Fn(&[u8]) -> bool,
}

pub(super) fn to_folder(source: &Store, dest: &Path, how: &CopyHow) -> Result<Copied, StoreError> {
    let tip = tip(source)?;
    if fs::symlink_metadata(dest.join(".git")).is_ok() {
        return bring_up_to(&Store::open(dest)?, source, tip, how);
    }
    if fs::symlink_metadata(dest).is_ok() {
        return Err(StoreError::Occupied { path: dest.into(), what: "something that is no copy of a book" });
    }
    let aside = Aside::for_stick(dest)?;
    let copy = Store::create(&aside.path(NAME))?;
    let copied = bring_up_to(&copy, source, tip, how)?;
    if how.options.fsync {
        // Who pulls the stick out next must find all of it: names of folders and settings too.
        sync_below(&copy.dir)?;
    }
    drop(copy);
    aside.place(NAME, dest, how.options.fsync)?;
    Ok(copied)
}

pub(super) fn to_bundle(
    source: &Store,
    tip: Id,
    dest: &Path,
    page: Option<Page>,
    how: &CopyHow,
) -> Result<Copied, StoreError> {
    let was = match fs::symlink_metadata(dest) {
        Ok(_) => Some(bundle::tip_of(dest)?),
        Err(e) if e.kind() == std::io::ErrorKind::NotFound => None,
        Err(e) => return Err(io("look at", dest)(e)),
    };
    let aside = Aside::for_stick(dest)?;
    let file = aside.path(NAME);
    let reached = bundle::write(source, &file, tip, how.options.fsync, how.tell)?;
    refuse_lost(dest, was, &reached)?;
    let fsync = how.options.fsync;
    let mut taken = None;
    if let Some(page) = page {
        aside.write(PAGE, page.text.as_bytes(), fsync)?;
        let moved = aside.take_away(page.path, page.may_go, fsync).map_err(|e| kept(e, page.path, false))?;
        taken = moved.then_some(page.path);
    }
    if let Err(e) = aside.place(NAME, dest, fsync) {
        taken.into_iter().for_each(|path| aside.put_back(path, fsync));
        return Err(e);
    }
    if let Some(page) = page {
        aside.place_new(PAGE, page.path, fsync).map_err(|e| kept(e, page.path, true))?;
    }
    Ok(Copied { tip, was, commits: reached.commits.len(), objects: reached.objects, ..Copied::of(tip) })
}

/// What somebody wrote where the page goes stays.
fn kept(error: StoreError, page: &Path, placed: bool) -> StoreError {
    match error {
        StoreError::Occupied { .. } => StoreError::PageKept { path: page.into(), placed },
        other => other,
    }
}

pub(super) fn tip(source: &Store) -> Result<Id, StoreError> {
    source.head()?.ok_or_else(|| StoreError::NoRecords { path: source.dir.clone() })
}

/// A copy that holds what the book does not is never written over.
fn refuse_lost(dest: &Path, was: Option<Id>, reached: &Reached) -> Result<(), StoreError> {
    match was {
        Some(was) if !reached.commits.contains(&was) => {
            Err(StoreError::OnlyThere { path: dest.into(), tip: was, here: None })
        }
        _ => Ok(()),
    }
}

/// Brings a repository up to the book's tip: in the order of a record, so that it is the old copy or the new one.
pub(super) fn bring_up_to(copy: &Store, source: &Store, tip: Id, how: &CopyHow) -> Result<Copied, StoreError> {
    let mut copied = Copied::of(tip);
    let done = record::run(copy, how.options, &mut |batch| {
        copied.was = batch.base;
        // What lies in the folder is what its owner will open: it must be what is recorded, new or not.
        batch.refuse_hand_edits()?;
        let reached = send(copy, source, tip, batch, how)?;
        (copied.commits, copied.objects) = (reached.commits.len(), reached.objects);
        if batch.base != Some(tip) {
            let commit = source.commit(tip)?;
            let subject = commit.message.lines().next().unwrap_or_default().to_owned();
            let last = Last { action: "copy", who: how.who.clone(), when: how.when, subject };
            copied.not_laid_out = batch.adopt(tip, last)?;
        }
        Ok(())
    })?;
    copied.notes = done.healed;
    copied.kept_by_hand = done.left_alone;
    Ok(copied)
}

/// Sends what the copy lacks, waits for the disk, and reads everything back from there.
fn send(copy: &Store, source: &Store, tip: Id, batch: &mut Batch, how: &CopyHow) -> Result<Reached, StoreError> {
    let mut done = 0;
    let reached = reach::walk(source, tip, &mut |_, kind, path, data| {
        done += 1;
        (how.tell)(done);
        batch.sink.put_along(path, kind, data.to_vec()).map(|_| ())
    })?;
    refuse_lost(&copy.dir, batch.base, &reached).map_err(|e| told_of(copy, source, e))?;
    batch.sink.finish(&[], how.options.fsync)?;
    // Opened anew: what is read now comes from the files, not from what was just in memory.
    match read_back(copy, tip, &|n| (how.tell)(done + n)) {
        Ok(objects) if objects == reached.objects => Ok(reached),
        Ok(objects) => {
            let why = format!("{objects} objects came back, {} were sent", reached.objects);
            Err(StoreError::unlike(&copy.dir, StoreError::damaged("the copy", why)))
        }
        Err(e) => Err(StoreError::unlike(&copy.dir, e)),
    }
}

fn read_back(copy: &Store, tip: Id, tell: &dyn Fn(usize)) -> Result<usize, StoreError> {
    let mut n = 0;
    let seen = reach::walk(&copy.again()?, tip, &mut |_, _, _, _| {
        n += 1;
        tell(n);
        Ok(())
    })?;
    Ok(seen.objects)
}

/// Says whether the copy is of this book at all: its first record is, or is not, one of ours.
fn told_of(copy: &Store, source: &Store, error: StoreError) -> StoreError {
    let StoreError::OnlyThere { path, tip, .. } = error else { return error };
    let first = |store: &Store, from: Id| store.first_of(from).ok();
    let root = first(copy, tip);
    let own = refs::head(source).ok().flatten().and_then(|head| first(source, head));
    StoreError::OnlyThere { path, tip, here: Some(root.is_some() && root == own) }
}
