//! The branch: reading it wherever git keeps it, and moving it by compare-and-swap.
use std::fs::{self, OpenOptions};
use std::io::{Read, Seek, SeekFrom, Write};
use std::path::{Path, PathBuf};

use super::lock::{GitLock, Turn};
use super::types::io;
use super::{Id, Options, Person, Stamp, Store, StoreError, log, open, record};

/// The branch of a book.
pub(super) const BRANCH: &str = "refs/heads/main";

/// A ref file holds one line.
pub(super) const MAX_REF: u64 = 4096;

/// HEAD has to be the branch itself: elsewhere a record would go to another line than the one read.
pub(super) fn check_head(git: &Path) -> Result<(), StoreError> {
    let path = git.join("HEAD");
    open::check_part(&path, false, true)?;
    let text = String::from_utf8_lossy(&open::read_bounded(&path, MAX_REF)?).into_owned();
    let text = text.trim_end();
    if text.strip_prefix("ref:").map(str::trim) == Some(BRANCH) {
        return Ok(());
    }
    if text.parse::<Id>().is_ok() {
        return Err(StoreError::Detached { path, at: text.to_owned() });
    }
    Err(StoreError::HeadElsewhere { path, found: text.escape_debug().take(120).collect() })
}

/// The tip of the branch.
pub(super) fn head(store: &Store) -> Result<Option<Id>, StoreError> {
    check_head(&store.git)?;
    branch(&store.git)
}

/// The tip of the branch main, whatever HEAD says.
pub(super) fn branch(git: &Path) -> Result<Option<Id>, StoreError> {
    // Packing refs writes the packed file before it removes the loose one, so: loose, packed, and
    // loose once more for a ref that was unpacked in between.
    if let Some(id) = loose(git)? {
        return Ok(Some(id));
    }
    if let Some(id) = packed(git)? {
        return Ok(Some(id));
    }
    match loose(git)? {
        Some(id) => Ok(Some(id)),
        None => logged(git).map_or(Ok(None), |was| Err(lost(git, Some(was)))),
    }
}

/// Of a book without a branch: an error where it holds more objects than a first record that was cut off leaves, for then
/// there was one.
pub(super) fn must_be_new(git: &Path) -> Result<(), StoreError> {
    /// Folders of single objects, by the first byte of their ids.
    const FEW: usize = 12;
    let entries = |dir: &str| fs::read_dir(git.join(dir)).into_iter().flatten().flatten();
    let packed = entries("objects/pack").any(|e| e.path().extension().is_some_and(|x| x == "pack"));
    let many = entries("objects").filter(|e| e.file_name().len() == 2).nth(FEW).is_some();
    if packed || many { Err(lost(git, None)) } else { Ok(()) }
}

/// Where the branch was last by its own log, where that is there: all there is to go by when the branch is lost.
fn logged(git: &Path) -> Option<Id> {
    let path = git.join("logs").join(BRANCH);
    let length = fs::symlink_metadata(&path).ok().filter(|m| m.is_file())?.len();
    let mut file = fs::File::open(&path).ok()?;
    file.seek(SeekFrom::Start(length.saturating_sub(LOG_TAIL))).ok()?;
    let mut tail = Vec::new();
    file.take(LOG_TAIL).read_to_end(&mut tail).ok()?;
    let last = tail.split(|b| *b == b'\n').rfind(|line| !line.is_empty())?;
    // From, to, who, when; a branch that was taken away goes to no record.
    let to = std::str::from_utf8(last.get(41..81)?).ok()?.parse::<Id>().ok()?;
    (to.as_bytes() != &[0; 20]).then_some(to)
}

/// The longest line of a branch's log that is looked for, in bytes.
const LOG_TAIL: u64 = 4096;

fn lost(git: &Path, was: Option<Id>) -> StoreError {
    StoreError::BranchLost { path: git.join(BRANCH), was }
}

fn loose(git: &Path) -> Result<Option<Id>, StoreError> {
    let path = git.join(BRANCH);
    match fs::symlink_metadata(&path) {
        Err(e) if e.kind() == std::io::ErrorKind::NotFound => return Ok(None),
        _ => open::check_part(&path, false, true)?,
    }
    let Some(bytes) = read(&path, MAX_REF)? else { return Ok(None) };
    let text = String::from_utf8_lossy(&bytes);
    match text.trim_end().parse::<Id>() {
        Ok(id) => Ok(Some(id)),
        Err(_) => Err(lost(git, logged(git))),
    }
}

/// The branch in the file of packed ones, a line each: its id, a space, its name. Lines with `#` and `^` say more of them.
fn packed(git: &Path) -> Result<Option<Id>, StoreError> {
    let path = git.join("packed-refs");
    open::check_part(&path, false, false)?;
    let Some(bytes) = read(&path, open::MAX_REFS)? else { return Ok(None) };
    for line in bytes.split(|b| *b == b'\n') {
        let line = line.strip_suffix(b"\r").unwrap_or(line);
        if line.is_empty() || line.starts_with(b"#") || line.starts_with(b"^") {
            continue;
        }
        let bad = |e: String| StoreError::damaged(format!("the file {}", path.display()), e);
        let (id, name) = std::str::from_utf8(line.get(..40).unwrap_or_default())
            .ok()
            .and_then(|id| Some((id.parse::<Id>().ok()?, line[40..].strip_prefix(b" ")?)))
            .ok_or_else(|| {
                bad(format!("it has a line that names no branch: {:.60?}", String::from_utf8_lossy(line)))
            })?;
        if name == BRANCH.as_bytes() {
            return Ok(Some(id));
        }
    }
    Ok(None)
}

/// A file that may be gone meanwhile.
fn read(path: &Path, most: u64) -> Result<Option<Vec<u8>>, StoreError> {
    match open::read_bounded(path, most) {
        Ok(bytes) => Ok(Some(bytes)),
        Err(StoreError::Io { source, .. }) if source.kind() == std::io::ErrorKind::NotFound => Ok(None),
        Err(e) => Err(e),
    }
}

/// What a move of the branch is written down as.
pub(super) struct Move<'a> {
    pub(super) from: Option<Id>,
    pub(super) to: Id,
    pub(super) action: &'static str,
    pub(super) who: &'a Person,
    pub(super) when: Stamp,
    pub(super) subject: &'a str,
}

fn aside(store: &Store) -> PathBuf {
    store.git.join(format!("{}branch", record::ASIDE))
}

/// Writes what the branch will say, aside, so that it can reach the disk together with the objects.
pub(super) fn prepare(store: &Store, to: Id) -> Result<PathBuf, StoreError> {
    let path = aside(store);
    record::write_aside(&path, format!("{to}\n").as_bytes(), false)?;
    Ok(path)
}

/// Moves the branch to what was prepared if it is still where it was read; `false` if another program moved it.
pub(super) fn advance(store: &Store, turn: &Turn, options: &Options, step: &Move) -> Result<bool, StoreError> {
    let path = store.git.join(BRANCH);
    let dir = store.git.join("refs/heads");
    fs::create_dir_all(&dir).map_err(io("make", &dir))?;
    let lock = GitLock::take(turn, &path, options)?;
    if head(store)? != step.from {
        return Ok(false);
    }
    append_logs(store, step)?;
    fs::rename(aside(store), &path).map_err(io("move into place", &path))?;
    if options.fsync {
        // It has moved for everyone to see; only whether the disk has it is in doubt.
        super::loose::sync_dir(&dir)
            .map_err(|source| StoreError::Unsettled { id: step.to, source: Box::new(source) })?;
    }
    drop(lock);
    Ok(true)
}

/// The reflogs are how a user of git gets back to an earlier tip; they come before the move, as git does it.
fn append_logs(store: &Store, step: &Move) -> Result<(), StoreError> {
    let old = step.from.unwrap_or(Id([0; 20]));
    let new = step.to;
    let who = log::signature(step.who, step.when);
    let line = format!("{old} {new} {who}\t{}: {}\n", step.action, step.subject);
    for name in ["logs/HEAD", "logs/refs/heads/main"] {
        let path = store.git.join(name);
        if let Some(dir) = path.parent() {
            fs::create_dir_all(dir).map_err(io("make", dir))?;
        }
        open::check_part(&path, false, false)?;
        let mut file = OpenOptions::new().append(true).create(true).open(&path).map_err(io("open", &path))?;
        file.write_all(line.as_bytes()).map_err(io("write", &path))?;
    }
    Ok(())
}
