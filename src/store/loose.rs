//! Writing loose objects so that they survive a power cut: every file first, then every folder.
use std::collections::BTreeSet;
use std::fs::{self, File, OpenOptions};
use std::io::Write;
use std::path::{Path, PathBuf};

use gix::objs::Kind;
use gix::zlib::{Compression, stream::deflate};

use super::types::io;
use super::{Id, Store, StoreError, open};

/// Git's own clean-up knows this prefix; the rest of the name tells ours from a running git's.
pub(super) const TEMP: &str = "tmp_obj_slipbook_";

/// One object on its way to the disk.
pub(super) struct Object {
    pub(super) id: Id,
    pub(super) kind: Kind,
    pub(super) data: Vec<u8>,
}

/// Writes the objects; when it returns they are on the disk under their names.
pub(super) fn write(store: &Store, objects: &[Object], fsync: bool) -> Result<(), StoreError> {
    let root = store.git.join("objects");
    let mut dirs = BTreeSet::new();
    let mut written: Vec<(PathBuf, PathBuf)> = Vec::with_capacity(objects.len());
    let mut made_dir = false;
    for (n, object) in objects.iter().enumerate() {
        let hex = object.id.to_string();
        let dir = root.join(&hex[..2]);
        if !dirs.contains(&dir) {
            match fs::create_dir(&dir) {
                Ok(()) => made_dir = true,
                Err(e) if e.kind() == std::io::ErrorKind::AlreadyExists => {
                    open::check_part(&dir, true, true)?;
                }
                Err(e) => return Err(io("make", &dir)(e)),
            }
        }
        let temp = dir.join(format!("{TEMP}{}_{n}", std::process::id()));
        write_one(&temp, object, fsync).map_err(io("write", &temp))?;
        written.push((temp, dir.join(&hex[2..])));
        dirs.insert(dir);
    }
    for (temp, path) in &written {
        fs::rename(temp, path).map_err(io("move into place", path))?;
    }
    if fsync {
        for dir in &dirs {
            sync_dir(dir)?;
        }
        if made_dir {
            sync_dir(&root)?;
        }
    }
    Ok(())
}

fn write_one(path: &Path, object: &Object, fsync: bool) -> std::io::Result<()> {
    let mut bytes = Vec::with_capacity(object.data.len() / 2 + 64);
    let mut deflate = deflate::Write::new(&mut bytes, Compression::BEST_SPEED);
    let header = gix::objs::encode::loose_header(object.kind, object.data.len() as u64);
    deflate.write_all(&header)?;
    deflate.write_all(&object.data)?;
    deflate.flush()?;
    let mut file = new_read_only(path)?;
    file.write_all(&bytes)?;
    if fsync { file.sync_all() } else { Ok(()) }
}

/// Objects never change, so their files are made read-only, as git's are.
pub(super) fn new_read_only(path: &Path) -> std::io::Result<File> {
    let mut options = OpenOptions::new();
    options.read(true).write(true).create_new(true);
    #[cfg(unix)]
    {
        use std::os::unix::fs::OpenOptionsExt;
        options.mode(0o444);
    }
    match options.open(path) {
        // Left by an earlier process of the same number; the lock says it is no longer running.
        Err(e) if e.kind() == std::io::ErrorKind::AlreadyExists => {
            fs::remove_file(path)?;
            options.open(path)
        }
        other => other,
    }
}

/// Waits until a folder's names are on the disk.
pub(super) fn sync_dir(dir: &Path) -> Result<(), StoreError> {
    // Elsewhere a folder cannot be opened as a file, and renames are journaled anyway.
    if cfg!(unix) {
        File::open(dir).and_then(|d| d.sync_all()).map_err(io("sync", dir))?;
    }
    Ok(())
}
