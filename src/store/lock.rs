//! Locks: one of our own that dies with the process, and git's lock files, marked so that ours are known.
//!
//! A git lock file is a plain file that stays when its maker is killed, so whose it is has to be
//! readable from it. Ours are hard links to `slipbook.lock`, made whole in one step: while we hold
//! that file, a lock file that begins with our mark is left over and may go; any other is not ours.
use std::fs::{self, File, OpenOptions, TryLockError};
use std::io::{Read, Seek, SeekFrom, Write};
use std::path::{Path, PathBuf};
use std::time::{Duration, Instant};

use super::types::io;
use super::{Id, Options, Store, StoreError, open};

/// The first word of our mark.
const BUSY: &[u8] = b"busy ";
const PAUSE: Duration = Duration::from_millis(4);
const PATIENT_FOR: Duration = Duration::from_secs(1);

/// What an interrupted process left.
pub(super) struct Stale {
    /// The tip it was building on, if that could be read.
    pub(super) base: Option<Base>,
}

/// The tip a record is built on; an empty book has none.
pub(super) type Base = Option<Id>;

/// Our turn to write: the book's own lock, held until it is dropped.
pub(super) struct Turn {
    file: File,
    path: PathBuf,
    pub(super) stale: Option<Stale>,
}

/// Calls out once when something takes longer than a second.
struct Wait<'a> {
    since: Instant,
    said: bool,
    options: &'a Options,
}

impl Wait<'_> {
    fn new(options: &Options) -> Wait<'_> {
        Wait { since: Instant::now(), said: false, options }
    }

    /// `false` once patience is over.
    fn pause(&mut self, sentence: impl FnOnce() -> String) -> bool {
        let waited = self.since.elapsed();
        if waited >= self.options.patience {
            return false;
        }
        if !self.said && waited >= PATIENT_FOR {
            self.said = true;
            if let Some(say) = &self.options.waiting {
                say(&sentence());
            }
        }
        std::thread::sleep(PAUSE);
        true
    }
}

impl Turn {
    /// Waits for the book's own lock.
    pub(super) fn take(store: &Store, options: &Options) -> Result<Turn, StoreError> {
        let path = store.git.join("slipbook.lock");
        open::check_part(&path, false, false)?;
        let mut wait = Wait::new(options);
        let file = loop {
            let file = OpenOptions::new()
                .read(true)
                .write(true)
                .create(true)
                .truncate(false)
                .open(&path)
                .map_err(io("open", &path))?;
            match file.try_lock() {
                // Someone may have deleted the file meanwhile; a lock on a file nobody sees is none.
                Ok(()) if is_same_file(&file, &path) => break file,
                Ok(()) => {}
                Err(TryLockError::WouldBlock) => {
                    let holder = || holder(&path);
                    let sentence = || format!("waiting for {}, which is writing to this book", holder());
                    if !wait.pause(sentence) {
                        return Err(StoreError::Busy { holder: holder(), path });
                    }
                }
                Err(TryLockError::Error(e)) => return Err(io("lock", &path)(e)),
            }
        };
        let mut mark = Vec::new();
        (&file).take(256).read_to_end(&mut mark).map_err(io("read", &path))?;
        let mut turn = Turn { file, path, stale: None };
        turn.stale = parse_mark(&mark);
        if turn.stale.is_none() {
            let locks = ["index.lock", "refs/heads/main.lock"];
            let left = locks.iter().any(|name| turn.is_ours(&store.git.join(name)));
            turn.stale = left.then_some(Stale { base: None });
        }
        Ok(turn)
    }

    /// Says that a record on this tip has begun.
    pub(super) fn mark(&mut self, base: Base, fsync: bool) -> Result<(), StoreError> {
        let base = base.map_or("none".to_owned(), |id| id.to_string());
        let text = format!("busy {} {base}\n", std::process::id());
        self.rewrite(text.as_bytes())
            .and_then(|()| if fsync { self.file.sync_all() } else { Ok(()) })
            .map_err(io("write", &self.path))
    }

    /// Says that it is finished.
    pub(super) fn clear(&mut self) -> Result<(), StoreError> {
        self.file.set_len(0).map_err(io("write", &self.path))
    }

    fn rewrite(&mut self, text: &[u8]) -> std::io::Result<()> {
        self.file.seek(SeekFrom::Start(0))?;
        self.file.write_all(text)?;
        self.file.set_len(text.len() as u64)
    }

    /// Whether a lock file was made by slipbook. We hold the only turn, so it is left over.
    pub(super) fn is_ours(&self, path: &Path) -> bool {
        if open::check_part(path, false, true).is_err() {
            return false;
        }
        if is_same_file(&self.file, path) {
            return true;
        }
        let mut start = Vec::new();
        let read = File::open(path).and_then(|f| f.take(5).read_to_end(&mut start));
        read.is_ok() && start == BUSY
    }

    /// Seconds a lock file has been there, by the clock of the file system the book is on.
    fn age(&self, path: &Path) -> u64 {
        let time = |meta: std::io::Result<fs::Metadata>| meta.and_then(|m| m.modified()).ok();
        // Writing the first byte over itself sets our file's time to now.
        let mut byte = [0];
        let mut file = &self.file;
        let _ = file
            .seek(SeekFrom::Start(0))
            .and_then(|_| file.read_exact(&mut byte))
            .and_then(|()| file.seek(SeekFrom::Start(0)))
            .and_then(|_| file.write_all(&byte));
        match (time(self.file.metadata()), time(fs::symlink_metadata(path))) {
            (Some(now), Some(then)) => now.duration_since(then).unwrap_or_default().as_secs(),
            _ => 0,
        }
    }
}

/// A git lock file of ours; dropping it takes it away.
pub(super) struct GitLock {
    path: PathBuf,
}

impl GitLock {
    /// Locks `resource` the way git does, waiting for a git that holds it.
    pub(super) fn take(turn: &Turn, resource: &Path, options: &Options) -> Result<GitLock, StoreError> {
        let mut name = resource.as_os_str().to_owned();
        name.push(".lock");
        let path = PathBuf::from(name);
        let mut wait = Wait::new(options);
        loop {
            match make_lock(turn, &path) {
                Ok(()) => return Ok(GitLock { path }),
                Err(e) if e.kind() == std::io::ErrorKind::AlreadyExists => {}
                Err(e) => return Err(io("make", &path)(e)),
            }
            if turn.is_ours(&path) {
                remove(&path)?;
                continue;
            }
            let sentence = || format!("waiting for a git program to let go of {}", path.display());
            if !wait.pause(sentence) {
                let age_seconds = turn.age(&path);
                return Err(StoreError::LockFile { path, age_seconds });
            }
        }
    }
}

impl Drop for GitLock {
    fn drop(&mut self) {
        let _ = fs::remove_file(&self.path);
    }
}

fn make_lock(turn: &Turn, path: &Path) -> std::io::Result<()> {
    match fs::hard_link(&turn.path, path) {
        Ok(()) => Ok(()),
        Err(e) if e.kind() == std::io::ErrorKind::AlreadyExists => Err(e),
        // Some file systems have no links; then the mark is written into a file of its own.
        Err(_) => {
            let mut file = OpenOptions::new().write(true).create_new(true).open(path)?;
            writeln!(file, "busy {}", std::process::id())
        }
    }
}

/// Removes a file that may already be gone.
pub(super) fn remove(path: &Path) -> Result<(), StoreError> {
    match fs::remove_file(path) {
        Err(e) if e.kind() != std::io::ErrorKind::NotFound => Err(io("remove", path)(e)),
        _ => Ok(()),
    }
}

fn parse_mark(mark: &[u8]) -> Option<Stale> {
    let text = std::str::from_utf8(mark).unwrap_or("busy");
    let mut words = text.split_ascii_whitespace();
    words.next()?;
    let base = match words.nth(1) {
        Some("none") => Some(None),
        Some(hex) => hex.parse().ok().map(Some),
        None => None,
    };
    Some(Stale { base })
}

fn holder(path: &Path) -> String {
    let mut text = String::new();
    let read = File::open(path).and_then(|f| f.take(64).read_to_string(&mut text));
    let pid = text.split_ascii_whitespace().nth(1);
    match (read, pid) {
        (Ok(_), Some(pid)) => format!("another slipbook (process {pid})"),
        _ => "another slipbook".to_owned(),
    }
}

#[cfg(unix)]
pub(super) fn is_same_file(file: &File, path: &Path) -> bool {
    use std::os::unix::fs::MetadataExt;
    match (file.metadata(), fs::symlink_metadata(path)) {
        (Ok(a), Ok(b)) => (a.dev(), a.ino()) == (b.dev(), b.ino()),
        _ => false,
    }
}

/// Where files have no numbers a deleted lock cannot be told; such systems do not delete open files.
#[cfg(not(unix))]
pub(super) fn is_same_file(_file: &File, path: &Path) -> bool {
    path.file_name().is_some_and(|n| n == "slipbook.lock" || n == super::aside::LOCK)
}
