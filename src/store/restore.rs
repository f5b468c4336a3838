//! A damaged book made whole again from one that has the same records: what is missing or damaged is written anew, and
//! nothing that is only here goes. A damaged file is kept, in `.git/damaged`.
use std::collections::HashSet;
use std::fs;
use std::path::{Path, PathBuf};

use gix::objs::Find;

use super::lock::Turn;
use super::loose::Object;
use super::pack::PackWriter;
use super::types::io;
use super::{CopyHow, Id, Store, StoreError, open, reach};

/// Where damaged files are kept.
const KEPT: &str = "damaged";

/// The most bytes of `.git/logs/HEAD` that are read, from its end.
const MOST_LOG: u64 = 1024 * 1024;

/// The most ids of it.
const MOST_IDS: usize = 2000;

/// Writes into `own` what it lacks of all that `tip` stands on in `from`; the number of objects. The new pack is there
/// before anything damaged is moved aside, and has what could still be read in a pack that is.
pub(super) fn put_back(own: &Store, from: &Store, tip: Id, how: &CopyHow) -> Result<usize, StoreError> {
    let _turn = Turn::take(own, how.options)?;
    let (lacks, damaged) = lacking(own, from, tip)?;
    if lacks.is_empty() {
        return Ok(0);
    }
    let packs = packs_with(own, &damaged)?;
    let mut added = HashSet::new();
    let mut pack = PackWriter::new(&own.git)?;
    for id in packs.iter().flat_map(|(_, ids)| ids).filter(|id| added.insert(**id)) {
        let mut data = Vec::new();
        let found = own.repo.objects.try_find(&id.git(), &mut data).ok().flatten().map(|found| found.kind);
        let genuine =
            |kind| gix::objs::compute_hash(gix::hash::Kind::Sha1, kind, &data).is_ok_and(|h| Id::of(&h) == *id);
        if let Some(kind) = found.filter(|kind| genuine(*kind)) {
            pack.add(&Object { id: *id, kind, data })?;
        }
    }
    let lacking: HashSet<Id> = lacks.iter().copied().collect();
    reach::walk(from, tip, &mut |id, kind, _, data| {
        if lacking.contains(&id) {
            pack.add(&Object { id, kind, data: data.to_vec() })?;
        }
        Ok(())
    })?;
    pack.finish(how.options.fsync)?;
    set_aside(own, &damaged, &packs)?;
    Ok(lacks.len())
}

/// The packs that hold one of these objects, by the path of their index, with the ids in it.
fn packs_with(own: &Store, damaged: &[Id]) -> Result<Vec<(PathBuf, Vec<Id>)>, StoreError> {
    /// Signature, version, and the counts by first byte.
    const HEAD: usize = 8 + 256 * 4;
    let dir = own.git.join("objects/pack");
    let mut out = Vec::new();
    if damaged.is_empty() || fs::symlink_metadata(&dir).is_err() {
        return Ok(out);
    }
    let damaged: HashSet<&Id> = damaged.iter().collect();
    for entry in fs::read_dir(&dir).map_err(io("read", &dir))? {
        let path = entry.map_err(io("read", &dir))?.path();
        if path.extension().is_none_or(|e| e != "idx") {
            continue;
        }
        open::check_part(&path, false, true)?;
        let bytes = fs::read(&path).map_err(io("read", &path))?;
        let count = bytes.get(HEAD - 4..HEAD).and_then(|n| n.try_into().ok()).map(u32::from_be_bytes).unwrap_or(0);
        let ids = bytes.get(HEAD..).unwrap_or_default().chunks_exact(20).take(count as usize);
        let ids: Vec<Id> = ids.filter_map(|id| id.try_into().ok().map(Id)).collect();
        if ids.iter().any(|id| damaged.contains(id)) {
            out.push((path, ids));
        }
    }
    Ok(out)
}

/// What is not there or cannot be read, and which of it cannot be read.
fn lacking(own: &Store, from: &Store, tip: Id) -> Result<(Vec<Id>, Vec<Id>), StoreError> {
    let (mut lacks, mut damaged, mut buffer) = (Vec::new(), Vec::new(), Vec::new());
    reach::walk(from, tip, &mut |id, kind, _, _| {
        match reach::genuine(own, id, kind, &mut buffer) {
            Ok(_) => {}
            Err(StoreError::Missing { .. }) => lacks.push(id),
            Err(_) => {
                lacks.push(id);
                damaged.push(id);
            }
        }
        Ok(())
    })?;
    Ok((lacks, damaged))
}

/// Moves damaged files out of git's sight: those of single objects, and packs with their indexes.
fn set_aside(own: &Store, damaged: &[Id], packs: &[(PathBuf, Vec<Id>)]) -> Result<(), StoreError> {
    let kept = own.git.join(KEPT);
    open::check_part(&kept, true, false)?;
    if !damaged.is_empty() {
        fs::create_dir_all(&kept).map_err(io("make", &kept))?;
    }
    for id in damaged {
        let hex = id.to_string();
        let path = own.git.join("objects").join(&hex[..2]).join(&hex[2..]);
        if fs::symlink_metadata(&path).is_ok() {
            keep(&path, &kept, &hex)?;
        }
    }
    for (index, _) in packs {
        // The index goes first: a pack without one is not seen.
        for ending in ["idx", "rev", "pack"] {
            let path = index.with_extension(ending);
            if fs::symlink_metadata(&path).is_ok() {
                keep(&path, &kept, &path.file_name().unwrap_or_default().to_string_lossy())?;
            }
        }
    }
    Ok(())
}

fn keep(path: &Path, kept: &Path, name: &str) -> Result<(), StoreError> {
    let mut to = kept.join(name);
    let mut n = 1;
    while fs::symlink_metadata(&to).is_ok() {
        n += 1;
        to = kept.join(format!("{name}.{n}"));
    }
    fs::rename(path, &to).map_err(io("move aside", path))
}

/// Ids the branch pointed to, newest first, as git's own log of it has them. Nothing else of it is believed.
pub(super) fn pointed_to(store: &Store) -> Vec<Id> {
    use std::io::{Read, Seek, SeekFrom};
    let path = store.git.join("logs/HEAD");
    if open::check_part(&path, false, true).is_err() {
        return Vec::new();
    }
    let read = || {
        let mut file = fs::File::open(&path).ok()?;
        let length = file.metadata().ok()?.len();
        file.seek(SeekFrom::Start(length.saturating_sub(MOST_LOG))).ok()?;
        let mut bytes = Vec::new();
        file.take(MOST_LOG).read_to_end(&mut bytes).ok()?;
        Some(String::from_utf8_lossy(&bytes).into_owned())
    };
    let text = read().unwrap_or_default();
    let mut out: Vec<Id> = Vec::new();
    let mut known = HashSet::new();
    for line in text.lines().rev().take(MOST_IDS) {
        let mut ids = line.split(' ').take(2).filter_map(|w| w.parse::<Id>().ok());
        let (old, new) = (ids.next(), ids.next());
        out.extend(new.into_iter().chain(old).filter(|id| *id != Id([0; 20]) && known.insert(*id)));
    }
    out
}
