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

/// How many files are waited for at a time.
const TOGETHER: usize = 16;

/// Writes the objects; when it returns they are on the disk under their names, and the files that
/// wait beside them under theirs.
pub(super) fn write(store: &Store, objects: &[Object], beside: &[PathBuf], fsync: bool) -> Result<(), StoreError> {
    let root = store.git.join("objects");
    let mut dirs = BTreeSet::new();
    let mut written: Vec<(PathBuf, PathBuf, File)> = Vec::with_capacity(objects.len());
    for (n, object) in objects.iter().enumerate() {
        let hex = object.id.to_string();
        let dir = root.join(&hex[..2]);
        if !dirs.contains(&dir) {
            match fs::create_dir(&dir) {
                Ok(()) => {
                    dirs.insert(root.clone());
                }
                Err(e) if e.kind() == std::io::ErrorKind::AlreadyExists => {
                    open::check_part(&dir, true, true)?;
                }
                Err(e) => return Err(io("make", &dir)(e)),
            }
        }
        let temp = dir.join(format!("{TEMP}{}_{n}", std::process::id()));
        let file = write_one(&temp, object).map_err(io("write", &temp))?;
        written.push((temp, dir.join(&hex[2..]), file));
        dirs.insert(dir);
    }
    if fsync {
        let mut waits: Vec<Wait> = Vec::with_capacity(written.len() + beside.len());
        waits.extend(written.iter().map(|(temp, _, file)| (temp.as_path(), Some(file))));
        waits.extend(beside.iter().map(|path| (path.as_path(), None)));
        sync_together(&waits)?;
    }
    for (temp, path, file) in written {
        drop(file);
        fs::rename(temp, &path).map_err(io("move into place", path))?;
    }
    if fsync {
        let dirs: Vec<&Path> = dirs.iter().map(PathBuf::as_path).collect();
        sync_dirs(&dirs)?;
    }
    Ok(())
}

fn write_one(path: &Path, object: &Object) -> std::io::Result<File> {
    let mut bytes = Vec::with_capacity(object.data.len() / 2 + 64);
    let mut deflate = deflate::Write::new(&mut bytes, Compression::BEST_SPEED);
    let header = gix::objs::encode::loose_header(object.kind, object.data.len() as u64);
    deflate.write_all(&header)?;
    deflate.write_all(&object.data)?;
    deflate.flush()?;
    let mut file = new_read_only(path)?;
    file.write_all(&bytes)?;
    Ok(file)
}

/// A file to wait for; opened when its turn comes if it is not open.
type Wait<'a> = (&'a Path, Option<&'a File>);

/// Waits for several files at once: the system then serves them with fewer flushes than one by one.
fn sync_together(waits: &[Wait]) -> Result<(), StoreError> {
    let sync = |(path, file): Wait| match file {
        Some(file) => file.sync_all(),
        None => OpenOptions::new().write(true).open(path)?.sync_all(),
    };
    for some in waits.chunks(TOGETHER) {
        std::thread::scope(|scope| {
            let running: Vec<_> = some.iter().map(|wait| (wait.0, scope.spawn(move || sync(*wait)))).collect();
            for (path, thread) in running {
                let failed = || Err(std::io::Error::other("waiting for the disk failed"));
                let result = thread.join().unwrap_or_else(|_| failed());
                result.map_err(io("sync", path))?;
            }
            Ok(())
        })?;
    }
    Ok(())
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
    sync_dirs(&[dir])
}

fn sync_dirs(dirs: &[&Path]) -> Result<(), StoreError> {
    // Elsewhere a folder cannot be opened as a file, and renames are journaled anyway.
    if !cfg!(unix) {
        return Ok(());
    }
    let mut open = Vec::with_capacity(dirs.len());
    for dir in dirs {
        open.push((*dir, File::open(dir).map_err(io("open", *dir))?));
    }
    let waits: Vec<Wait> = open.iter().map(|(dir, file)| (*dir, Some(file))).collect();
    sync_together(&waits)
}
