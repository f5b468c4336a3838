//! Reading through a whole history: every commit and every file's content once; and what differs between two commits.
use std::collections::{BTreeMap, HashSet};

use gix::objs::{Kind, TreeRefIter};

use super::{Commit, Id, Store, StoreError, log, reach};

/// What is met on the way through a history.
#[derive(Debug)]
pub enum Met<'a> {
    /// A commit; newest first.
    Commit {
        /// The commit.
        commit: &'a Commit,
        /// What its header holds beside its tree, parents and persons, each on one line: "encoding ...", a signature.
        more: Vec<String>,
    },
    /// A file's content, once with each path it has in some commit.
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
    let mut commits: Vec<(Id, Option<Id>)> = Vec::new();
    let mut met: HashSet<(Id, String)> = HashSet::new();
    reach::walk(store, tip, &mut |id, kind, path, data| match kind {
        Kind::Commit => {
            let commit = log::commit(store, id)?;
            commits.push((id, commit.parents.first().copied()));
            visit(Met::Commit { commit: &commit, more: more_headers(data) })
        }
        Kind::Blob => {
            let path = String::from_utf8_lossy(path).trim_start_matches('/').to_owned();
            visit(Met::File { path: &path, bytes: data })?;
            met.insert((id, path));
            Ok(())
        }
        _ => Ok(()),
    })?;
    // A content is met once there; what a file was called else is in some commit that put it there.
    let mut buffer = Vec::new();
    for (commit, parent) in commits {
        for (path, id) in between(store, parent, commit)?.into_iter().filter_map(|(path, id)| Some((path, id?))) {
            let new = (id, path);
            if !met.contains(&new) {
                let bytes = log::find(store, id, Kind::Blob, &mut buffer)?;
                visit(Met::File { path: &new.1, bytes })?;
                met.insert(new);
            }
        }
    }
    Ok(())
}

/// The lines of a commit's header that are none of its own, each with what goes on behind a blank on the next ones.
fn more_headers(data: &[u8]) -> Vec<String> {
    let text = String::from_utf8_lossy(data);
    let head = text.split_once("\n\n").map_or(&*text, |(head, _)| head);
    let mut out: Vec<String> = Vec::new();
    let mut own = true;
    for line in head.split('\n') {
        match line.strip_prefix(' ') {
            Some(rest) if !own => out.iter_mut().next_back().into_iter().for_each(|l| *l = format!("{l} {rest}")),
            Some(_) => {}
            None => {
                let name = line.split(' ').next().unwrap_or_default();
                own = matches!(name, "tree" | "parent" | "author" | "committer");
                out.extend((!own).then(|| line.to_owned()));
            }
        }
    }
    out
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
