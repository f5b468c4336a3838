//! Git's index: kept such that stock git sees the folder as it is, edits by hand included.
use std::collections::HashMap;
use std::fs::{self, OpenOptions};
use std::io::{BufWriter, Write};
use std::path::{Path, PathBuf};

use gix::bstr::ByteSlice;
use gix::index::entry::{Flags, Mode, Stage, Stat, stat};
use gix::index::fs::Metadata;

use super::types::io;
use super::{Id, Store, StoreError, log, worktree};

/// A book of 20,000 commits has an index of 0.2 MB.
const MAX_INDEX: u64 = 64 * 1024 * 1024;

/// The index of the book, in memory.
pub(super) struct Index {
    file: gix::index::File,
    path: PathBuf,
    /// New files, entered in order only when the index is written: lookups need it sorted.
    new: Vec<(String, Id, Mode, Stat)>,
}

/// What the index knows about one file.
pub(super) struct Seen {
    id: Id,
    stat: Stat,
    racy: bool,
}

impl Seen {
    /// Whether the file needs no reading to know that it has this id.
    pub(super) fn proves(&self, meta: &Metadata, id: Id) -> bool {
        !self.racy && self.id == id && Stat::from_fs(meta).is_ok_and(|now| self.stat.matches(&now, exact()))
    }
}

/// Compare to the nanosecond: what does not match is only read once more.
fn exact() -> stat::Options {
    stat::Options { use_nsec: true, ..stat::Options::default() }
}

impl Index {
    /// The index as it is on the disk; none if there is none, or one that cannot be read: all it says is known from the
    /// files and the record, and the next one written is whole.
    pub(super) fn read(store: &Store) -> Result<Option<Index>, StoreError> {
        let path = store.git.join("index");
        match fs::symlink_metadata(&path) {
            Err(e) if e.kind() == std::io::ErrorKind::NotFound => return Ok(None),
            Err(e) => return Err(io("look at", path)(e)),
            Ok(meta) if meta.is_symlink() => return Err(StoreError::Symlink { path }),
            Ok(meta) if meta.len() > MAX_INDEX => {
                return Err(StoreError::TooLarge {
                    what: path.display().to_string(),
                    size: meta.len(),
                    limit: MAX_INDEX,
                });
            }
            Ok(_) => {}
        }
        let options = gix::index::decode::Options {
            thread_limit: Some(1),
            alloc_limit_bytes: Some(MAX_INDEX as usize),
            ..Default::default()
        };
        let read = gix::index::File::at(&path, gix::hash::Kind::Sha1, false, options);
        Ok(read.ok().map(|file| Index { file, path, new: Vec::new() }))
    }

    /// The index to write to: refuses what it could not write back without loss, and makes a new one
    /// if there is none.
    pub(super) fn for_writing(store: &Store, head: Option<Id>) -> Result<Index, StoreError> {
        let Some(index) = Index::read(store)? else {
            return Index::rebuilt(store, head);
        };
        let refuse = |reason: &str| Err(StoreError::Index { path: index.path.clone(), reason: reason.to_owned() });
        if index.file.is_sparse() {
            return refuse("it is a sparse index; `git sparse-checkout disable` makes it whole");
        }
        if index.file.entries().iter().any(|e| e.stage() != Stage::Unconflicted) {
            return refuse("it holds conflicts of a merge by hand; finish or abort that merge first");
        }
        Ok(index)
    }

    fn rebuilt(store: &Store, head: Option<Id>) -> Result<Index, StoreError> {
        let state = match head {
            None => gix::index::State::new(gix::hash::Kind::Sha1),
            Some(head) => {
                let tree = log::commit(store, head)?.tree.git();
                let validate = gix::validate::path::component::Options::default();
                gix::index::State::from_tree(&tree, &store.repo.objects, validate)
                    .map_err(|e| StoreError::damaged("the newest record's files", e))?
            }
        };
        let path = store.git.join("index");
        let mut index = Index { file: gix::index::File::from_state(state, path.clone()), path, new: Vec::new() };
        for (entry, path) in index.file.entries_mut_with_paths() {
            let Ok(path) = path.to_str() else { continue };
            // What cannot be read, or differs, keeps an empty stat, which git takes as "look again".
            if worktree::id(&store.dir, path).ok().flatten() == Some(Id::of(&entry.id))
                && let Ok(Some(meta)) = worktree::look(&store.dir, path)
                && let Ok(stat) = Stat::from_fs(&meta)
            {
                entry.stat = stat;
            }
        }
        Ok(index)
    }

    /// All files with what is known about them.
    pub(super) fn stats(&self) -> HashMap<&str, Seen> {
        let backing = self.file.path_backing();
        let time = self.file.timestamp();
        let entries = self.file.entries().iter();
        entries
            .filter(|e| e.stage() == Stage::Unconflicted)
            .filter_map(|e| {
                let seen = Seen { id: Id::of(&e.id), stat: e.stat, racy: e.stat.is_racy(time, exact()) };
                Some((e.path_in(backing).to_str().ok()?, seen))
            })
            .collect()
    }

    /// The id a file is staged with.
    pub(super) fn id(&self, path: &str) -> Option<Id> {
        self.file.entry_by_path(path.into()).map(|e| Id::of(&e.id))
    }

    /// Enters a file. With `at` the file in that folder is what the entry stands for; without, git
    /// will find that the folder differs.
    pub(super) fn set(&mut self, path: &str, id: Id, executable: bool, at: Option<&Path>) -> Result<(), StoreError> {
        let mut stat = Stat::default();
        if let Some(dir) = at
            && let Some(meta) = worktree::look(dir, path)?
        {
            // Only now, after the rename: that changed the file's ctime.
            stat = Stat::from_fs(&meta).unwrap_or_default();
        }
        let mode = if executable { Mode::FILE_EXECUTABLE } else { Mode::FILE };
        if let Some(n) = self.file.entry_index_by_path_and_stage(path.into(), Stage::Unconflicted) {
            let entry = &mut self.file.entries_mut()[n];
            entry.stat = stat;
            entry.id = id.git();
            entry.flags = Flags::empty();
            entry.mode = mode;
        } else {
            self.new.push((path.to_owned(), id, mode, stat));
        }
        Ok(())
    }

    /// Takes a file out.
    pub(super) fn remove(&mut self, path: &str) {
        if let Some(n) = self.file.entry_index_by_path_and_stage(path.into(), Stage::Unconflicted) {
            self.file.remove_entry_at_index(n);
        }
    }

    /// Writes the index; the caller holds `index.lock`.
    pub(super) fn write(&mut self, store: &Store, fsync: bool) -> Result<(), StoreError> {
        self.smudge(store);
        for (path, id, mode, stat) in self.new.drain(..) {
            let path = path.as_str().into();
            self.file.dangerously_push_entry(stat, id.git(), Flags::empty(), mode, path);
        }
        self.file.sort_entries();
        // The cached trees are of the old entries; git's next commit would be made from them.
        self.file.remove_tree();
        let aside = store.git.join(format!("{}index", super::record::ASIDE));
        let file = OpenOptions::new().write(true).create_new(true).open(&aside).map_err(io("write", &aside))?;
        let mut out = BufWriter::with_capacity(1 << 16, file);
        let options = gix::index::write::Options { extensions: gix::index::write::Extensions::None, skip_hash: false };
        self.file
            .write_to(&mut out, options)
            .map_err(|e| StoreError::damaged(format!("the index {}", self.path.display()), e))?;
        out.flush()
            .and_then(|()| if fsync { out.get_ref().sync_all() } else { Ok(()) })
            .map_err(io("write", &aside))?;
        fs::rename(&aside, &self.path).map_err(io("move into place", &self.path))
    }

    /// An edit by hand in the second the index was written has the stat git remembers. As soon as
    /// the index is newer than that second, git would trust the stat: so such files are read now,
    /// and those that differ get a size no file has.
    fn smudge(&mut self, store: &Store) {
        let time = self.file.timestamp();
        for (entry, path) in self.file.entries_mut_with_paths() {
            if entry.mode != Mode::FILE && entry.mode != Mode::FILE_EXECUTABLE {
                continue;
            }
            if !entry.stat.is_racy(time, stat::Options::default()) {
                continue;
            }
            let now = path.to_str().ok().map(|p| worktree::id(&store.dir, p));
            if !matches!(now, Some(Ok(Some(id))) if id == Id::of(&entry.id)) {
                entry.stat.size = 0;
            }
        }
    }
}
