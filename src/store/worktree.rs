//! The files of the folder: read and replaced without ever following a link.
use std::collections::{BTreeMap, HashMap};
use std::fs;
use std::path::{Path, PathBuf};

use gix::index::fs::Metadata;

use super::index::Index;
use super::types::io;
use super::{Id, Kind, MAX_FILE, Store, StoreError, WorkEdit, open, tree};

/// A folder with more unrecorded entries than this is no book's.
const MAX_ENTRIES: usize = 20_000;
const MAX_DEPTH: usize = 8;

/// The metadata of the file at `path`; none if nothing is there. Anything but a plain file under
/// real folders is refused.
pub(super) fn look(dir: &Path, path: &str) -> Result<Option<Metadata>, StoreError> {
    let mut at = dir.to_path_buf();
    let mut parts = path.split('/').peekable();
    while let Some(part) = parts.next() {
        at.push(part);
        let meta = match Metadata::from_path_no_follow(&at) {
            Ok(meta) => meta,
            Err(e) if e.kind() == std::io::ErrorKind::NotFound => return Ok(None),
            Err(e) => return Err(io("look at", at)(e)),
        };
        let found = describe(&meta);
        if parts.peek().is_none() {
            if !meta.is_file() {
                return Err(StoreError::NotAFile { path: at, found });
            }
            return Ok(Some(meta));
        }
        if !meta.is_dir() {
            return Err(StoreError::WrongKind { path: at, found, expected: "a folder" });
        }
    }
    Ok(None)
}

fn describe(meta: &Metadata) -> &'static str {
    if meta.is_symlink() {
        "a symbolic link"
    } else if meta.is_dir() {
        "a folder"
    } else if meta.is_file() {
        "a file"
    } else {
        "a device or pipe"
    }
}

pub(super) fn read(dir: &Path, path: &str) -> Result<Option<Vec<u8>>, StoreError> {
    match look(dir, path)? {
        None => Ok(None),
        Some(_) => open::read_bounded(&dir.join(path), MAX_FILE).map(Some),
    }
}

/// What the file's blob id would be.
pub(super) fn id(dir: &Path, path: &str) -> Result<Option<Id>, StoreError> {
    Ok(read(dir, path)?.map(|bytes| Store::blob_id(&bytes)))
}

/// Moves a finished file over the one in the folder, making its folders.
pub(super) fn place(aside: &Path, dir: &Path, path: &str) -> Result<(), StoreError> {
    let target = dir.join(path);
    if let Some(parent) = target.parent() {
        fs::create_dir_all(parent).map_err(io("make", parent))?;
    }
    look(dir, path)?;
    fs::rename(aside, &target).map_err(io("move into place", target))
}

/// Takes a file away, and the folders that become empty by that.
pub(super) fn remove(dir: &Path, path: &str) -> Result<(), StoreError> {
    if look(dir, path)?.is_some() {
        let target = dir.join(path);
        fs::remove_file(&target).map_err(io("remove", target))?;
    }
    let mut parent = Path::new(path).parent();
    while let Some(folder) = parent.filter(|p| !p.as_os_str().is_empty()) {
        // A folder that still holds something stays: that is the rule, not a failure.
        if fs::remove_dir(dir.join(folder)).is_err() {
            break;
        }
        parent = folder.parent();
    }
    Ok(())
}

pub(super) fn state(store: &Store) -> Result<Vec<WorkEdit>, StoreError> {
    let recorded: BTreeMap<String, Id> = match store.head()? {
        Some(head) => tree::files(store, head)?.into_iter().collect(),
        None => BTreeMap::new(),
    };
    let index = Index::read(store)?;
    let clean = index.as_ref().map(Index::stats).unwrap_or_default();
    let mut edits = Vec::new();
    for (path, id) in &recorded {
        if let Some(kind) = differs(store, &clean, path, *id)? {
            edits.push(WorkEdit { path: path.clone(), kind });
        }
    }
    let mut found = Vec::new();
    let mut left = MAX_ENTRIES;
    unrecorded(&store.dir, "", 0, &mut left, &mut found)?;
    for path in found {
        if !recorded.contains_key(&path) {
            edits.push(WorkEdit { path, kind: Kind::New });
        }
    }
    edits.sort_by(|a, b| a.path.cmp(&b.path));
    Ok(edits)
}

fn differs(
    store: &Store,
    clean: &HashMap<&str, super::index::Seen>,
    path: &str,
    recorded: Id,
) -> Result<Option<Kind>, StoreError> {
    let meta = match look(&store.dir, path) {
        Ok(Some(meta)) => meta,
        Ok(None) => return Ok(Some(Kind::Deleted)),
        Err(StoreError::NotAFile { .. } | StoreError::WrongKind { .. }) => {
            return Ok(Some(Kind::Changed));
        }
        Err(e) => return Err(e),
    };
    if clean.get(path).is_some_and(|seen| seen.proves(&meta, recorded)) {
        return Ok(None);
    }
    if meta.len() > MAX_FILE {
        return Ok(Some(Kind::Changed));
    }
    Ok(match id(&store.dir, path)? {
        Some(now) if now == recorded => None,
        Some(_) => Some(Kind::Changed),
        None => Some(Kind::Deleted),
    })
}

/// TOML files below a folder; hidden names and links are passed over.
fn unrecorded(
    dir: &Path,
    prefix: &str,
    depth: usize,
    left: &mut usize,
    found: &mut Vec<String>,
) -> Result<(), StoreError> {
    let at: PathBuf = dir.join(prefix);
    for entry in fs::read_dir(&at).map_err(io("read", &at))? {
        let entry = entry.map_err(io("read", &at))?;
        *left = left.saturating_sub(1);
        if *left == 0 {
            break;
        }
        let name = entry.file_name();
        let Some(name) = name.to_str().filter(|n| !n.starts_with('.')) else {
            continue;
        };
        let kind = entry.file_type().map_err(io("look at", entry.path()))?;
        if kind.is_file() && name.ends_with(".toml") {
            found.push(format!("{prefix}{name}"));
        } else if kind.is_dir() && depth < MAX_DEPTH && !entry.path().join(".git").exists() {
            unrecorded(dir, &format!("{prefix}{name}/"), depth + 1, left, found)?;
        }
    }
    Ok(())
}
