//! Everything a commit stands on: each object once, over all parents, read and hashed on the way.
use std::collections::{HashSet, VecDeque};

use gix::objs::{CommitRef, Kind, TreeRefIter};

use super::{Id, Store, StoreError, log};

const SHA1: gix::hash::Kind = gix::hash::Kind::Sha1;

/// What was found.
pub(super) struct Reached {
    pub(super) commits: HashSet<Id>,
    /// Objects, commits among them.
    pub(super) objects: usize,
}

/// Takes an object: its id, its kind, a path it has in some commit (commits and whole trees have none), its content.
pub(super) type Visit<'v> = &'v mut dyn FnMut(Id, Kind, &[u8], &[u8]) -> Result<(), StoreError>;

/// Visits every object that can be reached from `tip`: the commits, newest first, then what they hold.
///
/// An object that is missing, or is not what its id says, is an error. A commit of another repository that a tree
/// names (a submodule made by hand) is none of this one.
pub(super) fn walk(store: &Store, tip: Id, visit: Visit) -> Result<Reached, StoreError> {
    let mut buffer = Vec::new();
    let mut commits = HashSet::from([tip]);
    let mut queue = VecDeque::from([tip]);
    let mut roots = Vec::new();
    while let Some(id) = queue.pop_front() {
        let data = genuine(store, id, Kind::Commit, &mut buffer)?;
        let raw = CommitRef::from_bytes(data, SHA1).map_err(|e| StoreError::damaged(format!("the commit {id}"), e))?;
        roots.push(Id::of(&raw.tree()));
        let parents: Vec<Id> = raw.parents().map(|p| Id::of(&p)).collect();
        visit(id, Kind::Commit, b"", data)?;
        queue.extend(parents.into_iter().filter(|p| commits.insert(*p)));
    }
    let mut seen: HashSet<Id> = HashSet::new();
    let mut blob = Vec::new();
    for root in roots {
        if !seen.insert(root) {
            continue;
        }
        // A stack of its own: trees nested without end must not end the program's.
        let mut open = vec![(root, Vec::new())];
        while let Some((id, path)) = open.pop() {
            let data = genuine(store, id, Kind::Tree, &mut buffer)?;
            visit(id, Kind::Tree, &path, data)?;
            for entry in TreeRefIter::from_bytes(data, SHA1) {
                let entry = entry.map_err(|e| StoreError::damaged(format!("the tree {id}"), e))?;
                let held = Id::of(entry.oid);
                if entry.mode.is_commit() || !seen.insert(held) {
                    continue;
                }
                let inside = [&path[..], b"/", entry.filename].concat();
                if entry.mode.is_tree() {
                    open.push((held, inside));
                } else {
                    let data = genuine(store, held, Kind::Blob, &mut blob)?;
                    visit(held, Kind::Blob, &inside, data)?;
                }
            }
        }
    }
    Ok(Reached { objects: commits.len() + seen.len(), commits })
}

/// An object whose content has the id it goes by: reading alone does not look.
pub(super) fn genuine<'b>(store: &Store, id: Id, kind: Kind, buffer: &'b mut Vec<u8>) -> Result<&'b [u8], StoreError> {
    let data = log::find(store, id, kind, buffer)?;
    match gix::objs::compute_hash(SHA1, kind, data) {
        Ok(found) if Id::of(&found) == id => Ok(data),
        Ok(found) => Err(StoreError::damaged(format!("the object {id}"), format!("its content is that of {found}"))),
        Err(e) => Err(StoreError::damaged(format!("the object {id}"), e)),
    }
}
