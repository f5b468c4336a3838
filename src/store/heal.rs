//! Putting right what a killed record left: its locks and unfinished files, and a folder that is behind.
use std::collections::{BTreeMap, BTreeSet};
use std::fs;
use std::path::Path;

use super::index::Index;
use super::lock::{self, Base, Stale, Turn};
use super::record::{ASIDE, write_aside};
use super::types::io;
use super::{Id, Options, Recorded, Store, StoreError, log, loose, pack, refs, tree, worktree};

/// Removes the locks and half-written files of a killed record. The turn is ours, so whatever
/// bears our names belongs to no running process.
pub(super) fn sweep(store: &Store, turn: &Turn) -> Result<(), StoreError> {
    for name in ["index.lock", "refs/heads/main.lock"] {
        let path = store.git.join(name);
        if turn.is_ours(&path) {
            lock::remove(&path)?;
        }
    }
    sweep_asides(store)?;
    let objects = store.git.join("objects");
    for entry in fs::read_dir(&objects).map_err(io("read", &objects))? {
        let entry = entry.map_err(io("read", &objects))?;
        // Not a link: what is behind one is not ours to remove.
        if entry.file_type().is_ok_and(|kind| kind.is_dir()) {
            sweep_names(&entry.path(), &[loose::TEMP, pack::TEMP])?;
        }
    }
    Ok(())
}

pub(super) fn sweep_asides(store: &Store) -> Result<(), StoreError> {
    sweep_names(&store.git, &[ASIDE])
}

fn sweep_names(dir: &Path, prefixes: &[&str]) -> Result<(), StoreError> {
    for entry in fs::read_dir(dir).map_err(io("read", dir))? {
        let entry = entry.map_err(io("read", dir))?;
        let name = entry.file_name();
        if let Some(name) = name.to_str()
            && prefixes.iter().any(|prefix| name.starts_with(prefix))
        {
            lock::remove(&entry.path())?;
        }
    }
    Ok(())
}

/// What a record whose mark was lost was most likely built on: a single record is one step.
pub(super) fn likely_base(store: &Store) -> Result<Base, StoreError> {
    match refs::head(store)? {
        Some(head) => Ok(log::commit(store, head)?.parents.first().copied()),
        None => Ok(None),
    }
}

type Files = BTreeMap<String, Id>;

fn files(store: &Store, commit: Option<Id>) -> Result<Files, StoreError> {
    match commit {
        Some(id) => Ok(tree::files(store, id)?.into_iter().collect()),
        None => Ok(Files::new()),
    }
}

/// Brings index and folder in step with a record that was cut off after the branch had moved.
pub(super) fn restore(
    store: &Store,
    options: &Options,
    stale: &Stale,
    index: &mut Index,
    done: &mut Recorded,
) -> Result<(), StoreError> {
    let Some(head) = refs::head(store)? else {
        return Ok(());
    };
    let base = stale.base.unwrap_or(Some(head));
    if base == Some(head) {
        return Ok(());
    }
    let before = match files(store, base) {
        Err(StoreError::Missing { .. }) => return Ok(()),
        other => other?,
    };
    let after = files(store, Some(head))?;
    let mut tip = tree::Tree::of_commit(store, Some(head))?;
    let paths: BTreeSet<&String> = before.keys().chain(after.keys()).collect();
    let (mut renewed, mut changed) = (Vec::new(), false);
    for path in paths {
        let (old, new) = (before.get(path).copied(), after.get(path).copied());
        let staged = index.id(path);
        // Only what that record changed, and nobody has staged otherwise since.
        if old == new || (staged != old && staged != new) {
            continue;
        }
        let work = match worktree::id(&store.dir, path) {
            Ok(id) => Some(id),
            // A link or a folder is in the way, by hand: it stays.
            Err(StoreError::NotAFile { .. } | StoreError::WrongKind { .. }) => None,
            Err(StoreError::TooLarge { .. }) => None,
            Err(e) => return Err(e),
        };
        let ours = work == Some(old) || work == Some(new);
        if staged == new && (work == Some(new) || !ours) {
            continue;
        }
        changed = true;
        let executable = tip.get(store, path)?.is_some_and(|(_, executable)| executable);
        if !ours {
            done.healed.push(format!(
                "The record {} had been cut off. {path} was edited by hand since; it is left as it is.",
                head.short()
            ));
            done.left_alone.push(path.clone());
        } else {
            renewed.push(path.as_str());
            if work != Some(new) {
                renew(store, options, path, new, executable)?;
            }
        }
        match new {
            Some(id) => {
                let at = ours.then_some(store.dir.as_path());
                index.set(path, id, executable, at)?;
            }
            None => index.remove(path),
        }
    }
    if changed {
        index.write(store, options.fsync)?;
        // What was just written is the state to compare later edits with.
        if let Some(fresh) = Index::read(store)? {
            *index = fresh;
        }
    }
    if !renewed.is_empty() {
        done.healed.push(format!(
            "The record {} had been cut off after it was safe; brought in step with it: {}.",
            head.short(),
            renewed.join(", ")
        ));
    }
    Ok(())
}

fn renew(store: &Store, options: &Options, path: &str, new: Option<Id>, executable: bool) -> Result<(), StoreError> {
    let Some(id) = new else {
        return worktree::remove(&store.dir, path);
    };
    let aside = store.git.join(format!("{ASIDE}heal"));
    lock::remove(&aside)?;
    let file = write_aside(&aside, &store.blob(id)?, executable)?;
    if options.fsync {
        file.sync_all().map_err(io("sync", &aside))?;
    }
    drop(file);
    worktree::place(&aside, &store.dir, path)
}
