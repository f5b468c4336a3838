//! Commits that are being built, one after another, on a tip that cannot move meanwhile.
use std::collections::{BTreeMap, HashSet};

use gix::index::entry::Stat;
use gix::objs::Kind;

use super::index::Index;
use super::sink::Sink;
use super::tree::{self, Tree};
use super::{Id, Person, Record, Stamp, Store, StoreError, Tip, log, paths, reach, worktree};

/// One or many commits under construction.
///
/// Only what the tip's files are is held in memory, not each state in between, so thousands of
/// commits can pass through.
pub struct Batch<'a> {
    store: &'a Store,
    index: &'a Index,
    pub(super) base: Option<Id>,
    base_tree: Tree,
    tree: Tree,
    pub(super) tip: Option<Id>,
    pub(super) sink: Sink<'a>,
    pub(super) touched: BTreeMap<String, Touched>,
    pub(super) last: Option<Last>,
    side: Option<(Id, Tree)>,
    /// The commits of this batch, which cannot be read from the book yet.
    pub(super) made: HashSet<Id>,
    /// The tip came from another book, with any number of commits before it.
    pub(super) adopted: bool,
    /// A file is laid out as it is on record.
    pub(super) laid_out: bool,
}

/// What the reflog says about the last commit.
pub(super) struct Last {
    pub(super) action: &'static str,
    pub(super) who: Person,
    pub(super) when: Stamp,
    pub(super) subject: String,
}

/// A file this batch writes.
pub(super) struct Touched {
    /// What the folder held when the file was first touched.
    pub(super) seen: Option<Id>,
    pub(super) stat: Option<Stat>,
    /// Whether that was an edit by hand no record has taken in yet.
    by_hand: bool,
    /// What the tip of `main` had.
    pub(super) old: Option<Id>,
    pub(super) new: Option<Id>,
    pub(super) content: Option<Vec<u8>>,
    pub(super) executable: bool,
}

impl<'a> Batch<'a> {
    pub(super) fn new(store: &'a Store, index: &'a Index, base: Option<Id>) -> Result<Self, StoreError> {
        let tree = Tree::of_commit(store, base)?;
        Ok(Batch {
            store,
            index,
            base,
            base_tree: tree.clone(),
            tree,
            tip: base,
            sink: Sink::new(store),
            touched: BTreeMap::new(),
            last: None,
            side: None,
            made: HashSet::new(),
            adopted: false,
            laid_out: false,
        })
    }

    /// The book as it was before this batch. What the batch wrote cannot be read from it yet.
    pub fn tip(&self) -> Tip<'a> {
        Tip { store: self.store, head: self.base }
    }

    /// The commit the next one will follow.
    pub fn last(&self) -> Option<Id> {
        self.tip
    }

    /// Adds a commit to `main`.
    pub fn commit(&mut self, record: Record) -> Result<Id, StoreError> {
        self.merge(record, &[])
    }

    /// Adds a commit to `main` that also follows other commits.
    pub fn merge(&mut self, record: Record, also: &[Id]) -> Result<Id, StoreError> {
        let mut parents: Vec<Id> = self.tip.into_iter().collect();
        parents.extend_from_slice(also);
        self.put(record, &parents)
    }

    /// Adds a commit to `main` whose parents are these, in this order; the tip must be among them.
    ///
    /// Another book's tip is one once [`Batch::take_from`] brought it.
    pub fn join(&mut self, record: Record, parents: &[Id]) -> Result<Id, StoreError> {
        match self.tip {
            Some(tip) if parents.contains(&tip) => self.put(record, parents),
            _ => Err(StoreError::BadRecord("the newest record is none of those that are joined".to_owned())),
        }
    }

    /// Takes in what this book lacks of another one, up to a commit of it: each object hashed on the way.
    pub fn take_from(&mut self, other: &Store, tip: Id, tell: &dyn Fn(usize)) -> Result<(), StoreError> {
        let mut done = 0;
        let sink = &mut self.sink;
        reach::walk(other, tip, &mut |_, kind, path, data| {
            done += 1;
            tell(done);
            sink.put_along(path, kind, data.to_vec()).map(|_| ())
        })?;
        self.made.insert(tip);
        Ok(())
    }

    fn put(&mut self, record: Record, parents: &[Id]) -> Result<Id, StoreError> {
        check(&record)?;
        for (path, _) in &record.files {
            self.touch(path, record.accept_hand_edit)?;
        }
        for (path, content) in &record.files {
            let id = match content {
                Some(bytes) => Some(self.sink.put(Kind::Blob, bytes.clone())?),
                None => None,
            };
            self.tree.set(self.store, path, id)?;
            if let Some(touched) = self.touched.get_mut(path) {
                touched.new = id;
            }
        }
        let tree = self.tree.write(&mut self.sink)?;
        let id = self.sink.put(Kind::Commit, encode(&record, tree, parents))?;
        self.made.insert(id);
        self.tip = Some(id);
        self.last = Some(Last {
            action: "commit",
            subject: record.message.lines().next().unwrap_or_default().to_owned(),
            who: record.committer,
            when: record.written,
        });
        for (path, content) in record.files {
            if let Some(touched) = self.touched.get_mut(&path) {
                touched.content = content;
            }
        }
        Ok(id)
    }

    /// Writes a commit beside `main`, to be named as a parent by a later [`Batch::merge`].
    ///
    /// `parent` is a commit of the book, the tip of this batch, or what the call before gave; without one the
    /// commit begins a line of its own and holds only the record's files.
    pub fn commit_on(&mut self, parent: Option<Id>, record: Record) -> Result<Id, StoreError> {
        check(&record)?;
        let mut tree = match (self.side.take(), parent) {
            (Some((id, tree)), Some(parent)) if id == parent => tree,
            (_, Some(parent)) if Some(parent) == self.tip => self.tree.clone(),
            (_, Some(parent)) if self.made.contains(&parent) => {
                return Err(StoreError::BadRecord(format!(
                    "the commit {parent} of this batch can no longer be built on; only its last ones can"
                )));
            }
            _ => Tree::of_commit(self.store, parent)?,
        };
        for (path, content) in &record.files {
            let id = match content {
                Some(bytes) => Some(self.sink.put(Kind::Blob, bytes.clone())?),
                None => None,
            };
            tree.set(self.store, path, id)?;
        }
        let root = tree.write(&mut self.sink)?;
        let parents: Vec<Id> = parent.into_iter().collect();
        let id = self.sink.put(Kind::Commit, encode(&record, root, &parents))?;
        self.made.insert(id);
        self.side = Some((id, tree));
        Ok(id)
    }

    /// Moves `main` to a commit whose objects are on the disk already, and the folder with it.
    ///
    /// What cannot lie in the folder as a plain file (links, names that mean something else on another system) is
    /// in the record all the same; the paths of those come back.
    pub(super) fn adopt(&mut self, tip: Id, last: Last) -> Result<Vec<String>, StoreError> {
        let store = self.store;
        let now = plain_files(store, tip)?;
        let was = self.base.map_or_else(|| Ok(BTreeMap::new()), |base| plain_files(store, base))?;
        for path in was.keys().chain(now.keys().filter(|p| !was.contains_key(*p))) {
            let new = now.get(path);
            if was.get(path) == new {
                continue;
            }
            self.touch(path, false)?;
            if let Some(touched) = self.touched.get_mut(path) {
                touched.new = new.map(|(id, _)| *id);
                touched.executable = new.is_some_and(|(_, executable)| *executable);
            }
        }
        let held_back = tree::leaves(store, tip)?.into_iter().map(|l| l.path).filter(|p| !now.contains_key(p));
        self.tree = Tree::of_commit(self.store, Some(tip))?;
        self.tip = Some(tip);
        self.made.insert(tip);
        self.adopted = true;
        self.last = Some(last);
        Ok(held_back.collect())
    }

    /// Lays a file out in the folder as the book's tip has it, whatever a hand made of it. That is no record. Whether the
    /// tip has it.
    pub fn lay_out(&mut self, path: &str) -> Result<bool, StoreError> {
        paths::check(path)?;
        self.touch(path, true)?;
        if let Some(touched) = self.touched.get_mut(path)
            && let Some(id) = touched.old
        {
            touched.content = Some(self.store.blob(id)?);
            self.laid_out = true;
            return Ok(true);
        }
        Ok(false)
    }

    /// The same for a file that is not in the folder; one that is there stays as it is. Whether it was laid out.
    pub fn lay_out_if_gone(&mut self, path: &str) -> Result<bool, StoreError> {
        paths::check(path)?;
        match worktree::look(&self.store.dir, path) {
            Ok(None) => self.lay_out(path),
            Ok(Some(_)) | Err(StoreError::NotAFile { .. } | StoreError::WrongKind { .. }) => Ok(false),
            Err(e) => Err(e),
        }
    }

    /// Fails where any file of the book's tip lies in the folder otherwise than it was recorded.
    pub fn refuse_hand_edits(&mut self) -> Result<(), StoreError> {
        let Some(base) = self.base else { return Ok(()) };
        plain_files(self.store, base)?.keys().try_for_each(|path| self.touch(path, false))
    }

    /// Looks at a file before it is written for the first time: an edit by hand is not written over.
    fn touch(&mut self, path: &str, accept: bool) -> Result<(), StoreError> {
        if !self.touched.contains_key(path) {
            let old = self.base_tree.get(self.store, path)?;
            let meta = worktree::look(&self.store.dir, path)?;
            let seen = worktree::id(&self.store.dir, path)?;
            let old_id = old.map(|(id, _)| id);
            let touched = Touched {
                seen,
                stat: meta.and_then(|m| Stat::from_fs(&m).ok()),
                by_hand: seen != old_id || self.index.id(path) != old_id,
                old: old_id,
                new: old_id,
                content: None,
                executable: old.is_some_and(|(_, executable)| executable),
            };
            self.touched.insert(path.to_owned(), touched);
        }
        if let Some(touched) = self.touched.get_mut(path) {
            if touched.by_hand && !accept {
                return Err(StoreError::HandEdit { path: path.to_owned() });
            }
            touched.by_hand = false;
        }
        Ok(())
    }
}

/// The files of a commit that lie in the folder, each with its blob and whether it can be executed.
fn plain_files(store: &Store, commit: Id) -> Result<BTreeMap<String, (Id, bool)>, StoreError> {
    let leaves = tree::leaves(store, commit)?.into_iter();
    let plain = |leaf: &tree::Leaf| leaf.mode.is_blob() && lays_out(&leaf.path);
    Ok(leaves.filter(plain).map(|l| (l.path, (l.id, l.mode.is_executable()))).collect())
}

/// Whether a path means the same plain file everywhere. A name that was no UTF-8 has a mark where it was changed.
fn lays_out(path: &str) -> bool {
    paths::check(path).is_ok() && !path.contains(char::REPLACEMENT_CHARACTER)
}

fn check(record: &Record) -> Result<(), StoreError> {
    log::check_signature(&record.author, record.authored)?;
    log::check_signature(&record.committer, record.written)?;
    if record.message.contains('\0') {
        return Err(StoreError::BadRecord("the message has a zero byte".to_owned()));
    }
    if record.message.trim().is_empty() {
        return Err(StoreError::BadRecord("a record needs a message".to_owned()));
    }
    record.files.iter().try_for_each(|(path, _)| paths::check(path))
}

fn encode(record: &Record, tree: Id, parents: &[Id]) -> Vec<u8> {
    let mut text = format!("tree {tree}\n");
    for parent in parents {
        text.push_str(&format!("parent {parent}\n"));
    }
    let author = log::signature(&record.author, record.authored);
    let committer = log::signature(&record.committer, record.written);
    text.push_str(&format!("author {author}\ncommitter {committer}\n\n"));
    text.push_str(&record.message);
    if !record.message.ends_with('\n') {
        text.push('\n');
    }
    text.into_bytes()
}
