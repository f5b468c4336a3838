//! Reading through a whole history: every commit and every file's content once; and what differs between two commits.
use std::collections::BTreeMap;

use gix::objs::{Kind, TreeRefIter};

use super::{Commit, Id, Store, StoreError, log, reach};

/// What is met on the way through a history.
#[derive(Debug)]
pub enum Met<'a> {
    /// A commit; newest first.
    Commit(Commit),
    /// A file's content, with a path it has in some commit.
    File {
        /// The path, with `/`; bytes that are no UTF-8 are replaced.
        path: &'a str,
        /// The content.
        bytes: &'a [u8],
    },
}

/// Files by path, one of two commits having another content there, or none.
pub(super) type Differing = BTreeMap<String, Option<Id>>;

pub(super) fn walk(
    store: &Store,
    tip: Id,
    visit: &mut dyn FnMut(Met<'_>) -> Result<(), StoreError>,
) -> Result<(), StoreError> {
    reach::walk(store, tip, &mut |id, kind, path, data| match kind {
        Kind::Commit => visit(Met::Commit(log::commit(store, id)?)),
        Kind::Blob => {
            let path = String::from_utf8_lossy(path);
            visit(Met::File { path: path.trim_start_matches('/'), bytes: data })
        }
        _ => Ok(()),
    })
    .map(drop)
}

/// The files that `to` has otherwise than `from`, with the blob it has there; equal folders are not read.
pub(super) fn between(store: &Store, from: Option<Id>, to: Id) -> Result<Differing, StoreError> {
    let from = from.map(|id| log::commit(store, id)).transpose()?.map(|c| c.tree);
    let mut out = Differing::new();
    let mut open = vec![(String::new(), from, Some(log::commit(store, to)?.tree), 0)];
    while let Some((prefix, old, new, depth)) = open.pop() {
        if old == new {
            continue;
        }
        if depth > super::tree::MAX_DEPTH {
            let why = format!("folders are nested more than {} deep", super::tree::MAX_DEPTH);
            return Err(StoreError::damaged(format!("the folder {prefix}"), why));
        }
        let (old, new) = (entries(store, old)?, entries(store, new)?);
        for name in old.keys().chain(new.keys().filter(|n| !old.contains_key(*n))) {
            let (was, is) = (old.get(name), new.get(name));
            if was == is {
                continue;
            }
            let path = format!("{prefix}{name}");
            let folder = |e: Option<&(Entry, Id)>| e.filter(|(e, _)| *e == Entry::Folder).map(|(_, id)| *id);
            let file = |e: Option<&(Entry, Id)>| e.filter(|(e, _)| *e == Entry::File).map(|(_, id)| *id);
            if folder(was).is_some() || folder(is).is_some() {
                open.push((format!("{path}/"), folder(was), folder(is), depth + 1));
            }
            if file(was) != file(is) {
                out.insert(path, file(is));
            }
        }
    }
    Ok(out)
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Entry {
    File,
    Folder,
    Other,
}

fn entries(store: &Store, tree: Option<Id>) -> Result<BTreeMap<String, (Entry, Id)>, StoreError> {
    let Some(tree) = tree else { return Ok(BTreeMap::new()) };
    let mut buffer = Vec::new();
    let data = log::find(store, tree, Kind::Tree, &mut buffer)?;
    let mut out = BTreeMap::new();
    for entry in TreeRefIter::from_bytes(data, gix::hash::Kind::Sha1) {
        let entry = entry.map_err(|e| StoreError::damaged(format!("the tree {tree}"), e))?;
        let kind = match entry.mode {
            m if m.is_tree() => Entry::Folder,
            m if m.is_blob() => Entry::File,
            _ => Entry::Other,
        };
        out.insert(String::from_utf8_lossy(entry.filename).into_owned(), (kind, Id::of(entry.oid)));
    }
    Ok(out)
}
