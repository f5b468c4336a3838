//! Where new objects go: a few as loose files, many as one pack.
use std::collections::HashSet;
use std::path::PathBuf;

use gix::objs::{Exists, Kind};

use super::loose::{self, Object};
use super::pack::PackWriter;
use super::{Id, MAX_FILE, Store, StoreError};

/// From here on one pack is quicker to write, to wait for and to read than loose files.
const MAX_LOOSE: usize = 96;

/// New objects of one batch.
pub(super) struct Sink<'a> {
    store: &'a Store,
    probe: gix::OdbHandle,
    known: HashSet<Id>,
    pending: Vec<Object>,
    pack: Option<PackWriter>,
}

impl<'a> Sink<'a> {
    pub(super) fn new(store: &'a Store) -> Sink<'a> {
        let mut probe = store.repo.objects.clone();
        // Asking for what is usually absent must not look for new packs each time; an object
        // written twice does no harm.
        probe.refresh_never();
        Sink { store, probe, known: HashSet::new(), pending: Vec::new(), pack: None }
    }

    /// Takes an object in and gives its id.
    pub(super) fn put(&mut self, kind: Kind, data: Vec<u8>) -> Result<Id, StoreError> {
        self.put_along(b"", kind, data)
    }

    /// The same of a path: many objects of one path take little room in a pack.
    pub(super) fn put_along(&mut self, path: &[u8], kind: Kind, data: Vec<u8>) -> Result<Id, StoreError> {
        let id = gix::objs::compute_hash(gix::hash::Kind::Sha1, kind, &data)
            .map_err(|e| StoreError::damaged("the new content", e))?;
        let short = Id::of(&id);
        if data.len() as u64 > MAX_FILE {
            return Err(StoreError::TooLarge {
                what: format!("the new {kind}"),
                size: data.len() as u64,
                limit: MAX_FILE,
            });
        }
        if !self.known.insert(short) || self.probe.exists(&id) {
            return Ok(short);
        }
        let object = Object { id: short, kind, data };
        if let Some(pack) = &mut self.pack {
            pack.add_along(path, object)?;
            return Ok(short);
        }
        self.pending.push(object);
        if self.pending.len() > MAX_LOOSE {
            let mut pack = PackWriter::new(&self.store.git)?;
            for object in self.pending.drain(..) {
                pack.add(&object)?;
            }
            self.pack = Some(pack);
        }
        Ok(short)
    }

    /// Puts everything on the disk, and the files written beside with it.
    pub(super) fn finish(&mut self, beside: &[PathBuf], fsync: bool) -> Result<(), StoreError> {
        if let Some(pack) = self.pack.take() {
            pack.finish(fsync)?;
        }
        loose::write(self.store, &self.pending, beside, fsync)?;
        self.pending.clear();
        Ok(())
    }
}

impl Drop for Sink<'_> {
    fn drop(&mut self) {
        if let Some(pack) = self.pack.take() {
            pack.discard();
        }
    }
}
