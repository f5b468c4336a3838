//! The files of a commit as a tree in memory: loaded where it is touched, written where it changed.
use std::collections::BTreeMap;

use gix::bstr::BString;
use gix::objs::tree::{EntryKind, EntryMode, name_order};
use gix::objs::{Kind, TreeRefIter};

use super::sink::Sink;
use super::{Id, Store, StoreError, log};

/// Deeper than this no book goes; a tree that does was made to exhaust the stack.
pub(super) const MAX_DEPTH: usize = 16;

/// The most files and folders one commit may hold: a few nested trees that name each other often
/// can stand for millions.
const MAX_FILES: usize = 20_000;

#[derive(Clone)]
enum Node {
    Leaf(EntryMode, Id),
    Dir(Dir),
}

#[derive(Clone, Default)]
struct Dir {
    /// The id of the tree as it was stored; none once something in it changed.
    stored: Option<Id>,
    entries: BTreeMap<BString, Node>,
}

/// The whole tree of one commit.
#[derive(Clone, Default)]
pub(super) struct Tree {
    root: Dir,
}

impl Tree {
    /// The tree of a commit, or an empty one.
    pub(super) fn of_commit(store: &Store, commit: Option<Id>) -> Result<Tree, StoreError> {
        match commit {
            None => Ok(Tree::default()),
            Some(id) => Ok(Tree { root: Dir::load(store, log::commit(store, id)?.tree)? }),
        }
    }

    /// The file at a path: its id and whether it is marked executable.
    pub(super) fn get(&mut self, store: &Store, path: &str) -> Result<Option<(Id, bool)>, StoreError> {
        let mut dir = &mut self.root;
        let (parents, name) = split(path);
        for part in parents {
            match dir.open(store, part)? {
                Some(next) => dir = next,
                None => return Ok(None),
            }
        }
        match dir.entries.get(name.as_bytes()) {
            None => Ok(None),
            Some(Node::Leaf(mode, id)) if mode.is_blob() => Ok(Some((*id, mode.is_executable()))),
            Some(_) => Err(StoreError::BadPath {
                path: path.to_owned(),
                reason: "the book has a folder or a link of that name".to_owned(),
            }),
        }
    }

    /// Puts a file at a path, or takes it away.
    pub(super) fn set(&mut self, store: &Store, path: &str, id: Option<Id>) -> Result<(), StoreError> {
        if self.get(store, path)?.map(|(id, _)| id) == id {
            return Ok(());
        }
        let (parents, name) = split(path);
        let parts: Vec<&str> = parents.collect();
        self.root.set(store, path, &parts, name, id).map(|_| ())
    }

    /// Writes the trees that changed and gives the id of the root.
    pub(super) fn write(&mut self, sink: &mut Sink) -> Result<Id, StoreError> {
        self.root.write(sink)
    }
}

fn split(path: &str) -> (impl Iterator<Item = &str>, &str) {
    let (parents, name) = path.rsplit_once('/').unwrap_or(("", path));
    (parents.split('/').filter(|p| !p.is_empty()), name)
}

impl Dir {
    fn load(store: &Store, id: Id) -> Result<Dir, StoreError> {
        let mut buffer = Vec::new();
        let data = log::find(store, id, Kind::Tree, &mut buffer)?;
        let mut entries = BTreeMap::new();
        for entry in TreeRefIter::from_bytes(data, gix::hash::Kind::Sha1) {
            let entry = entry.map_err(|e| StoreError::damaged(format!("the tree {id}"), e))?;
            let leaf = Node::Leaf(entry.mode, Id::of(entry.oid));
            if entries.insert(entry.filename.to_owned(), leaf).is_some() {
                let what = format!("the tree {id}");
                let twice = format!("it has {} twice", entry.filename);
                return Err(StoreError::damaged(what, twice));
            }
        }
        Ok(Dir { stored: Some(id), entries })
    }

    fn open(&mut self, store: &Store, name: &str) -> Result<Option<&mut Dir>, StoreError> {
        let Some(node) = self.entries.get_mut(name.as_bytes()) else {
            return Ok(None);
        };
        if let Node::Leaf(mode, id) = node {
            if !mode.is_tree() {
                return Ok(None);
            }
            *node = Node::Dir(Dir::load(store, *id)?);
        }
        match node {
            Node::Dir(dir) => Ok(Some(dir)),
            Node::Leaf(..) => Ok(None),
        }
    }

    fn set(
        &mut self,
        store: &Store,
        path: &str,
        parents: &[&str],
        name: &str,
        id: Option<Id>,
    ) -> Result<(), StoreError> {
        self.stored = None;
        let Some((first, rest)) = parents.split_first() else {
            match id {
                None => {
                    self.entries.remove(name.as_bytes());
                }
                Some(id) => {
                    let mode = match self.entries.get(name.as_bytes()) {
                        Some(Node::Leaf(mode, _)) => *mode,
                        _ => EntryKind::Blob.into(),
                    };
                    self.entries.insert(name.into(), Node::Leaf(mode, id));
                }
            }
            return Ok(());
        };
        if !self.entries.contains_key(first.as_bytes()) {
            self.entries.insert((*first).into(), Node::Dir(Dir::default()));
        }
        let Some(dir) = self.open(store, first)? else {
            return Err(StoreError::BadPath {
                path: path.to_owned(),
                reason: format!("the book has a file named {first}"),
            });
        };
        dir.set(store, path, rest, name, id)?;
        if dir.entries.is_empty() {
            self.entries.remove(first.as_bytes());
        }
        Ok(())
    }

    fn write(&mut self, sink: &mut Sink) -> Result<Id, StoreError> {
        if let Some(id) = self.stored {
            return Ok(id);
        }
        let mut list: Vec<(&BString, EntryMode, Id)> = Vec::with_capacity(self.entries.len());
        for (name, node) in &mut self.entries {
            match node {
                Node::Leaf(mode, id) => list.push((name, *mode, *id)),
                Node::Dir(dir) => {
                    let id = dir.write(sink)?;
                    list.push((name, EntryKind::Tree.into(), id));
                }
            }
        }
        list.sort_by(|a, b| name_order(a.0, a.1.is_tree(), b.0, b.1.is_tree()));
        let mut data = Vec::with_capacity(list.len() * 40);
        for (name, mode, id) in list {
            let mut backing = [0; 6];
            data.extend_from_slice(mode.as_bytes(&mut backing));
            data.push(b' ');
            data.extend_from_slice(name);
            data.push(0);
            data.extend_from_slice(&id.0);
        }
        let id = sink.put(Kind::Tree, data)?;
        self.stored = Some(id);
        Ok(id)
    }
}

/// All files of a commit, sorted by path; links and submodules made by hand are no files.
pub(super) fn files(store: &Store, commit: Id) -> Result<Vec<(String, Id)>, StoreError> {
    let leaves = leaves(store, commit)?.into_iter().filter(|leaf| leaf.mode.is_blob());
    Ok(leaves.map(|leaf| (leaf.path, leaf.id)).collect())
}

/// Whatever is no folder in a commit.
pub(super) struct Leaf {
    pub(super) path: String,
    pub(super) mode: EntryMode,
    pub(super) id: Id,
}

/// Everything but folders in a commit, sorted by path.
pub(super) fn leaves(store: &Store, commit: Id) -> Result<Vec<Leaf>, StoreError> {
    let mut list = Vec::new();
    let root = log::commit(store, commit)?.tree;
    let mut left = MAX_FILES;
    collect(store, root, "", 0, &mut left, &mut list)?;
    list.sort_unstable_by(|a: &Leaf, b: &Leaf| a.path.cmp(&b.path));
    Ok(list)
}

fn collect(
    store: &Store,
    tree: Id,
    prefix: &str,
    depth: usize,
    left: &mut usize,
    list: &mut Vec<Leaf>,
) -> Result<(), StoreError> {
    if depth > MAX_DEPTH {
        let why = format!("folders are nested more than {MAX_DEPTH} deep");
        return Err(StoreError::damaged(format!("the tree {tree}"), why));
    }
    let mut buffer = Vec::new();
    let data = log::find(store, tree, Kind::Tree, &mut buffer)?;
    for entry in TreeRefIter::from_bytes(data, gix::hash::Kind::Sha1) {
        let entry = entry.map_err(|e| StoreError::damaged(format!("the tree {tree}"), e))?;
        *left = left.saturating_sub(1);
        if *left == 0 {
            let why = format!("the commit has more than {MAX_FILES} files and folders");
            return Err(StoreError::damaged(format!("the tree {tree}"), why));
        }
        let name = String::from_utf8_lossy(entry.filename);
        let path = format!("{prefix}{name}");
        if entry.mode.is_tree() {
            collect(store, Id::of(entry.oid), &format!("{path}/"), depth + 1, left, list)?;
        } else {
            list.push(Leaf { path, mode: entry.mode, id: Id::of(entry.oid) });
        }
    }
    Ok(())
}

/// The blob id of one file of a commit.
pub(super) fn file_id(store: &Store, commit: Id, path: &str) -> Result<Option<Id>, StoreError> {
    let mut id = log::commit(store, commit)?.tree;
    let mut buffer = Vec::new();
    let mut parts = path.split('/').peekable();
    while let Some(part) = parts.next() {
        let data = log::find(store, id, Kind::Tree, &mut buffer)?;
        let mut found = None;
        for entry in TreeRefIter::from_bytes(data, gix::hash::Kind::Sha1) {
            let entry = entry.map_err(|e| StoreError::damaged(format!("the tree {id}"), e))?;
            if entry.filename == part {
                found = Some((entry.mode, Id::of(entry.oid)));
                break;
            }
        }
        match (found, parts.peek()) {
            (Some((mode, next)), Some(_)) if mode.is_tree() => id = next,
            (Some((mode, blob)), None) if mode.is_blob() => return Ok(Some(blob)),
            _ => return Ok(None),
        }
    }
    Ok(None)
}
