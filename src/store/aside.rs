//! A place beside a destination where a copy is made whole before it gets its name.
use std::cell::Cell;
use std::ffi::OsString;
use std::fs::{self, File, OpenOptions, TryLockError};
use std::io::Write as _;
use std::path::{Path, PathBuf};

use super::lock::is_same_file;
use super::types::io;
use super::{StoreError, loose, open};

/// Tells our folders from others; what follows is the name of the destination.
pub(super) const PREFIX: &str = ".slipbook-copy-";

/// Marks a folder as ours, and is locked while a copy is made in it.
pub(super) const LOCK: &str = "lock";

/// The name of a file that was taken away.
const TAKEN: &str = "page-before";

/// The most entries of a folder that are looked at.
const MOST_LOOKED_AT: usize = 10_000;

/// As many names are tried for what goes back.
const MOST_NAMES: usize = 8;

/// So often a place is made again that somebody else cleared away.
const MOST_TRIES: usize = 8;

/// What is said of a file that was changed, or came to be, while a copy was made.
const MEANWHILE: &str = "there and is not what it was, or was written on meanwhile";

/// The place. Dropping it takes it away with all that is still in it; a file that was taken away stays until something has
/// been given its name.
pub(super) struct Aside {
    dir: PathBuf,
    parent: PathBuf,
    placed: Cell<bool>,
    _lock: File,
}

impl Aside {
    /// The same where somebody else may read what lies there, as on a stick: what killed copies of other cars left beside
    /// `dest` is cleared away too.
    pub(super) fn for_stick(dest: &Path) -> Result<Aside, StoreError> {
        Scratch::sweep(dest.parent().filter(|p| !p.as_os_str().is_empty()).unwrap_or(Path::new(".")));
        Aside::for_dest(dest)
    }

    /// Makes the place for `dest`. What a killed copy left there is cleared away; a copy under way is an error.
    pub(super) fn for_dest(dest: &Path) -> Result<Aside, StoreError> {
        let parent = dest.parent().unwrap_or(Path::new("")).to_path_buf();
        let mut name = OsString::from(PREFIX);
        name.push(dest.file_name().unwrap_or_default());
        let dir = parent.join(name);
        let lock = (0..MOST_TRIES).find_map(|_| held(&parent, &dir).transpose());
        let lock = lock.unwrap_or_else(|| Err(StoreError::Underway { path: dir.clone() }))?;
        for entry in fs::read_dir(&dir).map_err(io("read", &dir))? {
            let entry = entry.map_err(io("read", &dir))?;
            if entry.file_name() != LOCK && entry.file_name() != TAKEN {
                remove(&entry.path())?;
            }
        }
        Ok(Aside { dir, parent, placed: Cell::new(false), _lock: lock })
    }

    /// A path in the place.
    pub(super) fn path(&self, name: &str) -> PathBuf {
        self.dir.join(name)
    }

    /// Writes a file in the place; with `fsync`, waits until the disk has it.
    pub(super) fn write(&self, name: &str, bytes: &[u8], fsync: bool) -> Result<(), StoreError> {
        let path = self.path(name);
        let written = || {
            let mut file = OpenOptions::new().write(true).create_new(true).open(&path)?;
            file.write_all(bytes)?;
            if fsync { file.sync_all() } else { Ok(()) }
        };
        written().map_err(io("write", &path))
    }

    /// Gives what was made its name; with `fsync`, waits until the disk has the name.
    pub(super) fn place(&self, name: &str, dest: &Path, fsync: bool) -> Result<(), StoreError> {
        fs::rename(self.path(name), dest).map_err(io("move into place", dest))?;
        self.placed.set(true);
        self.sync(fsync)
    }

    /// The same where nothing may be written over: what lies there by then stays, and is the error.
    pub(super) fn place_new(&self, name: &str, dest: &Path, fsync: bool) -> Result<(), StoreError> {
        let from = self.path(name);
        match fs::hard_link(&from, dest) {
            // Where this name stays as well, it goes with the place.
            Ok(()) => drop(fs::remove_file(&from)),
            Err(e) if e.kind() == std::io::ErrorKind::AlreadyExists => {
                return Err(StoreError::Occupied { path: dest.into(), what: MEANWHILE });
            }
            // Some file systems have no links; there, a look right before has to do.
            Err(_) if fs::symlink_metadata(dest).is_ok() => {
                return Err(StoreError::Occupied { path: dest.into(), what: MEANWHILE });
            }
            Err(_) => fs::rename(&from, dest).map_err(io("move into place", dest))?,
        }
        self.sync(fsync)
    }

    /// Moves a file into the place, if it is there and is as it may be taken away; with `fsync`, waits until the disk has it
    /// so. Looked at before, and again once no one can open it by its name: what somebody wrote in between goes back. Whether
    /// a file was moved.
    pub(super) fn take_away(
        &self,
        path: &Path,
        may_go: &dyn Fn(&[u8]) -> bool,
        fsync: bool,
    ) -> Result<bool, StoreError> {
        let refused = || StoreError::Occupied { path: path.into(), what: MEANWHILE };
        match fs::symlink_metadata(path) {
            Err(e) if e.kind() == std::io::ErrorKind::NotFound => return Ok(false),
            Err(e) => return Err(io("look at", path)(e)),
            Ok(m) if !m.is_file() => return Err(refused()),
            Ok(_) => {}
        }
        let held = |path: &Path| fs::read(path).map_err(io("read", path));
        if !may_go(&held(path)?) {
            return Err(refused());
        }
        let aside = self.path(TAKEN);
        fs::rename(path, &aside).map_err(io("move aside", path))?;
        let taken = held(&aside).and_then(|held| if may_go(&held) { self.sync(fsync) } else { Err(refused()) });
        if taken.is_err() {
            self.put_back(path, fsync);
        }
        taken.map(|()| true)
    }

    /// Puts back what was taken away, unless what it gave way to has its name: to where it was, or beside what somebody put
    /// there since. Where no name can be given, it stays in the place.
    pub(super) fn put_back(&self, path: &Path, fsync: bool) {
        let mut beside = path.to_path_buf();
        for _ in 0..MOST_NAMES {
            if self.placed.get() || fs::symlink_metadata(self.path(TAKEN)).is_err() {
                return;
            }
            let _ = self.place_new(TAKEN, &beside, fsync);
            beside.as_mut_os_string().push(".yours");
        }
    }

    fn sync(&self, fsync: bool) -> Result<(), StoreError> {
        if !fsync {
            return Ok(());
        }
        let parent = if self.parent.as_os_str().is_empty() { Path::new(".") } else { &self.parent };
        loose::sync_dir(parent)
    }
}

impl Drop for Aside {
    /// The mark goes last, once nothing else is there: killed on the way, or with somebody still writing into it, the place
    /// is known as ours.
    fn drop(&mut self) {
        let mut gone = true;
        for entry in fs::read_dir(&self.dir).into_iter().flatten().flatten() {
            let stays = entry.file_name() == TAKEN && !self.placed.get();
            if entry.file_name() != LOCK {
                gone &= !stays && remove(&entry.path()).is_ok();
            }
        }
        if gone {
            let _ = fs::remove_file(self.dir.join(LOCK));
            let _ = fs::remove_dir(&self.dir);
        }
    }
}

/// A folder for what is made and not kept. Dropping it takes it away; what a kill left, the next one of its name clears,
/// and [`Scratch::sweep`].
pub struct Scratch(Aside);

impl Scratch {
    /// Makes it in a folder; as many slipbooks as `most` have one of the name each.
    ///
    /// # Errors
    /// Nothing can be written there, something else is there, or so many other slipbooks work there now.
    pub fn new(parent: &Path, name: &str, most: usize) -> Result<Scratch, StoreError> {
        let mut last = None;
        for name in names(name, most) {
            match Aside::for_dest(&parent.join(name)) {
                Err(e @ StoreError::Underway { .. }) => last = Some(e),
                other => return other.map(Scratch),
            }
        }
        Err(last.unwrap_or_else(|| StoreError::Underway { path: parent.into() }))
    }

    /// Clears away what killed slipbooks left in a folder, of whatever name. Where it cannot be known that nobody works in
    /// one, it stays.
    pub fn sweep(parent: &Path) {
        for entry in fs::read_dir(parent).into_iter().flatten().flatten().take(MOST_LOOKED_AT) {
            if entry.file_name().to_string_lossy().starts_with(PREFIX) {
                Scratch::sweep_one(parent, entry.path());
            }
        }
    }

    fn sweep_one(parent: &Path, dir: PathBuf) {
        let path = dir.join(LOCK);
        if open::check_part(&dir, true, true).and(open::check_part(&path, false, true)).is_err() {
            return;
        }
        if let Ok(lock) = OpenOptions::new().write(true).open(&path)
            && lock.try_lock().is_ok()
            && is_same_file(&lock, &path)
        {
            drop(Aside { dir, parent: parent.to_owned(), placed: Cell::new(false), _lock: lock });
        }
    }

    /// A path in it.
    pub fn path(&self, name: &str) -> PathBuf {
        self.0.path(name)
    }
}

/// `name`, `name-2`, `name-3`, as many as `most`.
fn names(name: &str, most: usize) -> impl Iterator<Item = String> {
    (1..=most).map(move |n| if n == 1 { name.to_owned() } else { format!("{name}-{n}") })
}

/// The folder, made where it is not there, and its lock; `None` where whoever had it took it away meanwhile.
fn held(parent: &Path, dir: &Path) -> Result<Option<File>, StoreError> {
    let is_gone = || fs::symlink_metadata(dir).is_err();
    match fs::create_dir(dir) {
        Err(e) if e.kind() == std::io::ErrorKind::AlreadyExists => match refuse_others(dir) {
            Err(_) if is_gone() => return Ok(None),
            refused => refused?,
        },
        other => other.map_err(|e| no_place(parent, dir, e))?,
    }
    let path = dir.join(LOCK);
    open::check_part(&path, false, false)?;
    let lock = match OpenOptions::new().write(true).create(true).truncate(false).open(&path) {
        Err(_) if is_gone() => return Ok(None),
        opened => opened.map_err(io("write", &path))?,
    };
    match lock.try_lock() {
        Err(TryLockError::WouldBlock) => Err(StoreError::Underway { path: dir.to_owned() }),
        // A lock on a file nobody sees is none.
        Ok(()) if !is_same_file(&lock, &path) => Ok(None),
        // Some file systems have no locks; then two copies at once are the user's to avoid.
        Ok(()) | Err(TryLockError::Error(_)) => Ok(Some(lock)),
    }
}

/// Why nothing can be made in a folder, in words where the reason is a usual one.
fn no_place(parent: &Path, dir: &Path, error: std::io::Error) -> StoreError {
    use std::io::ErrorKind::*;
    let why = match error.kind() {
        NotFound if parent.as_os_str().is_empty() || parent.is_dir() => "it is no place for files",
        NotFound => "there is no such folder",
        NotADirectory => "it is no folder",
        PermissionDenied => "this user may not write there",
        ReadOnlyFilesystem => "it can only be read from",
        StorageFull | QuotaExceeded => "it is full",
        Unsupported => "it is no place for files",
        _ => return io("make", dir)(error),
    };
    let path = if parent.as_os_str().is_empty() { Path::new(".") } else { parent };
    StoreError::NoPlace { path: path.into(), why }
}

/// A folder of that name which holds something and not our mark is somebody else's.
fn refuse_others(dir: &Path) -> Result<(), StoreError> {
    open::check_part(dir, true, true)?;
    let empty = fs::read_dir(dir).map_err(io("read", dir))?.next().is_none();
    if empty || dir.join(LOCK).symlink_metadata().is_ok() {
        return Ok(());
    }
    Err(StoreError::Occupied { path: dir.into(), what: "a folder slipbook did not make" })
}

fn remove(path: &Path) -> Result<(), StoreError> {
    let meta = fs::symlink_metadata(path).map_err(io("look at", path))?;
    let gone = if meta.is_dir() { fs::remove_dir_all(path) } else { fs::remove_file(path) };
    gone.map_err(io("remove", path))
}

/// Waits until the disk has everything below a folder, names and contents.
pub(super) fn sync_below(dir: &Path) -> Result<(), StoreError> {
    for entry in fs::read_dir(dir).map_err(io("read", dir))? {
        let entry = entry.map_err(io("read", dir))?;
        let (path, kind) = (entry.path(), entry.file_type().map_err(io("look at", entry.path()))?);
        if kind.is_dir() {
            sync_below(&path)?;
        } else if kind.is_file() {
            File::open(&path).and_then(|f| f.sync_all()).map_err(io("write", path))?;
        }
    }
    loose::sync_dir(dir)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_folder_that_is_no_place_to_write_is_said_in_one_sentence() {
        let dir = tempfile::tempdir().unwrap();
        let said = |dest: &Path| Aside::for_dest(dest).err().map(|e| e.to_string()).unwrap_or_default();
        let none = dir.path().join("none");
        let no_folder = format!("nothing can be written into {}: there is no such folder", none.display());
        assert_eq!(said(&none.join("y.bundle")), no_folder);
        let file = dir.path().join("file");
        fs::write(&file, "x").unwrap();
        assert_eq!(
            said(&file.join("y.bundle")),
            format!("nothing can be written into {}: it is no folder", file.display())
        );
        if Path::new("/proc/self").exists() {
            assert_eq!(
                said(Path::new("/proc/y.bundle")),
                "nothing can be written into /proc: it is no place for files"
            );
        }
    }

    #[test]
    fn two_at_once_have_a_scratch_each() {
        let dir = tempfile::tempdir().unwrap();
        let first = Scratch::new(dir.path(), "handover", 2).unwrap();
        let second = Scratch::new(dir.path(), "handover", 2).unwrap();
        fs::write(first.path("x"), "1").unwrap();
        fs::write(second.path("x"), "2").unwrap();
        let third = Scratch::new(dir.path(), "handover", 2).err().map(|e| e.to_string()).unwrap_or_default();
        assert!(
            third.starts_with("another slipbook is at work in ") && third.ends_with("; nothing was written"),
            "{third}"
        );
        Scratch::sweep(dir.path());
        assert_eq!([&first, &second].map(|s| fs::read_to_string(s.path("x")).unwrap()), ["1", "2"]);
        drop((first, second));
        assert_eq!(fs::read_dir(dir.path()).unwrap().count(), 0);
    }
}
