//! Making a book and opening one: everything that could lead outside the folder is refused first.
use std::fs;
use std::io::Read;
use std::path::{Path, PathBuf};

use super::types::io;
use super::{Store, StoreError, refs};

/// The settings file may hold comments; more than this is no settings file.
const MAX_CONFIG: u64 = 1024 * 1024;

/// The packed branches and tags, or the ends of a shallow clone: some fifteen thousand lines. git's reader takes all of
/// them into memory when a repository is opened.
pub(super) const MAX_REFS: u64 = 1024 * 1024;

/// Repository extensions that change nothing this store relies on, with the values that are safe.
const HARMLESS: &[(&str, &[&str])] = &[
    ("objectformat", &["sha1"]),
    ("refstorage", &["files"]),
    ("preciousobjects", &["true", "false"]),
    ("relativeworktrees", &["true", "false"]),
    ("noop", &[]),
    ("noop-v1", &[]),
];

/// Settings of a new book. Line endings stay as written whatever the user's own git is told to do.
const CONFIG: &str = "[core]\n\trepositoryformatversion = 0\n\tfilemode = true\n\tbare = false\n\tlogallrefupdates = true\n\tautocrlf = false\n";
const CONFIG_NO_MODES: &str = "[core]\n\trepositoryformatversion = 0\n\tfilemode = false\n\tbare = false\n\tlogallrefupdates = true\n\tautocrlf = false\n";

pub(super) fn create(dir: &Path) -> Result<Store, StoreError> {
    fs::create_dir_all(dir).map_err(io("make", dir))?;
    let mut entries = fs::read_dir(dir).map_err(io("read", dir))?;
    if entries.next().is_some() {
        return Err(StoreError::NotEmpty { path: dir.into() });
    }
    let git = dir.join(".git");
    for part in ["objects/info", "objects/pack", "refs/heads", "refs/tags"] {
        let path = git.join(part);
        fs::create_dir_all(&path).map_err(io("make", path))?;
    }
    let config = if cfg!(windows) { CONFIG_NO_MODES } else { CONFIG };
    let path = git.join("config");
    fs::write(&path, config).map_err(io("write", &path))?;
    if without_modes(&path) {
        fs::write(&path, CONFIG_NO_MODES).map_err(io("write", &path))?;
    }
    // HEAD last: without it the folder is no repository to anyone.
    let path = git.join("HEAD");
    fs::write(&path, "ref: refs/heads/main\n").map_err(io("write", path))?;
    open(dir)
}

/// A drive whose file system knows no modes shows every file as a program; git would call all of them changed.
#[cfg(unix)]
fn without_modes(file: &Path) -> bool {
    use std::os::unix::fs::PermissionsExt;
    fs::metadata(file).is_ok_and(|m| m.permissions().mode() & 0o111 != 0)
}

#[cfg(not(unix))]
fn without_modes(_file: &Path) -> bool {
    false
}

pub(super) fn open(dir: &Path) -> Result<Store, StoreError> {
    let dir = std::path::absolute(dir).map_err(io("find", dir))?;
    let git = checked(&dir)?;
    repository(dir, git)
}

/// The repository of a book's folder, once nothing in it leads elsewhere. Nothing of it was handed to gix so far.
fn checked(dir: &Path) -> Result<PathBuf, StoreError> {
    let git = dir.join(".git");
    check_layout(dir, &git)?;
    check_owner(dir)?;
    check_owner(&git)?;
    check_extensions(&git.join("config"))?;
    refs::check_head(&git)?;
    Ok(git)
}

/// The repository of a stranger's folder, which may be one without files laid out: refused like a book, but that the HEAD
/// of a bare one may name any branch. It is not opened: its objects and its branch are read by this program alone.
pub(super) fn checked_foreign(dir: &Path) -> Result<PathBuf, StoreError> {
    let dir = std::path::absolute(dir).map_err(io("find", dir))?;
    if repository_in(&dir) != Some(Repository::Bare) {
        return checked(&dir);
    }
    check_layout(&dir, &dir)?;
    check_owner(&dir)?;
    check_extensions(&dir.join("config"))?;
    Ok(dir)
}

/// What kind of repository a folder is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Repository {
    /// With files laid out, as a book or a clone.
    WithFiles,
    /// Without, as one that is pushed to.
    Bare,
}

/// Whether a folder looks like a repository, and of which kind; none where it is something else, or not there. Whether it
/// can be opened is not looked at: a link where a part belongs counts, and is refused by whoever opens it.
pub fn repository_in(dir: &Path) -> Option<Repository> {
    let kind = |part: &str| fs::symlink_metadata(dir.join(part)).ok().map(|m| m.file_type());
    if kind(".git").is_some() {
        return Some(Repository::WithFiles);
    }
    // A file called HEAD alone can be anybody's.
    let bare = kind("HEAD").is_some_and(|k| !k.is_dir()) && kind("objects").is_some_and(|k| !k.is_file());
    bare.then_some(Repository::Bare)
}

fn repository(dir: PathBuf, git: PathBuf) -> Result<Store, StoreError> {
    let options = gix::open::Options::isolated()
        .strict_config(true)
        .with(gix::sec::Trust::Reduced)
        .config_overrides(["core.useReplaceRefs=false"])
        // The number is fixed while a book is open; with gix's own 32 a book that was open while
        // others brought in packs could read nothing any more.
        .object_store_slots(gix::odb::store::init::Slots::AsNeededByDiskState { multiplier: 2.0, minimum: 1024 })
        .open_path_as_is(true);
    let repo = gix::open_opts(&git, options)
        .map_err(|e| StoreError::damaged(format!("the repository {}", git.display()), e))?;
    Ok(Store { dir, git, repo, clock: None })
}

/// What a path is, without following it.
fn kind(path: &Path) -> Result<Option<fs::FileType>, StoreError> {
    match fs::symlink_metadata(path) {
        Ok(meta) => Ok(Some(meta.file_type())),
        Err(e) if e.kind() == std::io::ErrorKind::NotFound => Ok(None),
        Err(e) => Err(io("look at", path)(e)),
    }
}

fn check_layout(dir: &Path, git: &Path) -> Result<(), StoreError> {
    match kind(git)? {
        None => return Err(StoreError::NotABook { path: dir.into() }),
        Some(k) if k.is_file() => return Err(StoreError::GitFile { path: git.into() }),
        Some(k) if k.is_symlink() => return Err(StoreError::Symlink { path: git.into() }),
        Some(_) => {}
    }
    for (part, needed) in [
        ("objects", true),
        ("refs", true),
        ("objects/info", false),
        ("objects/pack", false),
        ("refs/heads", false),
        ("info", false),
        ("logs", false),
        ("logs/refs", false),
        ("logs/refs/heads", false),
        ("slipbook", false),
    ] {
        check_part(&git.join(part), true, needed)?;
    }
    // What gix reads whole is bounded here, before it does.
    for (part, needed, most) in [
        ("HEAD", true, refs::MAX_REF),
        ("config", true, MAX_CONFIG),
        ("config.worktree", false, MAX_CONFIG),
        ("index", false, u64::MAX),
        ("packed-refs", false, MAX_REFS),
        (refs::BRANCH, false, refs::MAX_REF),
        ("logs/HEAD", false, u64::MAX),
        ("logs/refs/heads/main", false, u64::MAX),
        ("slipbook.lock", false, u64::MAX),
        ("shallow", false, MAX_REFS),
    ] {
        let path = git.join(part);
        check_part(&path, false, needed)?;
        let size = fs::symlink_metadata(&path).map_or(0, |m| m.len());
        if size > most {
            return Err(StoreError::TooLarge { what: path.display().to_string(), size, limit: most });
        }
    }
    for part in ["commondir", "objects/info/alternates"] {
        let path = git.join(part);
        if kind(&path)?.is_some() {
            return Err(StoreError::Borrowed { path });
        }
    }
    Ok(())
}

/// Refuses a link, and a file where a folder belongs or the other way round.
pub(super) fn check_part(path: &Path, is_dir: bool, needed: bool) -> Result<(), StoreError> {
    let expected = if is_dir { "a folder" } else { "a file" };
    let found = match kind(path)? {
        None if !needed => return Ok(()),
        None => "not there",
        Some(k) if k.is_symlink() => return Err(StoreError::Symlink { path: path.into() }),
        Some(k) if is_dir == k.is_dir() && is_dir != k.is_file() => return Ok(()),
        Some(k) if k.is_dir() => "a folder",
        Some(k) if k.is_file() => "a file",
        Some(_) => "a device or pipe",
    };
    Err(StoreError::WrongKind { path: path.into(), found, expected })
}

fn check_owner(path: &Path) -> Result<(), StoreError> {
    // gix's own refusal cannot be combined with reduced trust (it would refuse every book), so the
    // owner is asked here.
    let own = gix::sec::identity::is_path_owned_by_current_user(path).map_err(io("look at", path))?;
    if own { Ok(()) } else { Err(StoreError::ForeignOwner { path: path.into() }) }
}

/// Reads at most `limit` bytes; more is an error.
pub(super) fn read_bounded(path: &Path, limit: u64) -> Result<Vec<u8>, StoreError> {
    let file = fs::File::open(path).map_err(io("open", path))?;
    let mut bytes = Vec::new();
    file.take(limit + 1).read_to_end(&mut bytes).map_err(io("read", path))?;
    if bytes.len() as u64 > limit {
        let size = fs::metadata(path).map_or(bytes.len() as u64, |m| m.len());
        return Err(StoreError::TooLarge { what: path.display().to_string(), size, limit });
    }
    Ok(bytes)
}

fn check_extensions(path: &Path) -> Result<(), StoreError> {
    let bytes = read_bounded(path, MAX_CONFIG)?;
    let bad = |e: gix::Error| StoreError::Config {
        path: path.into(),
        reason: format!("not a settings file git can read: {e}"),
    };
    let meta = gix::config::file::Metadata::from(gix::config::Source::Local);
    let file = gix::config::File::from_bytes_no_includes(&bytes, meta, Default::default()).map_err(bad)?;
    for section in file.sections() {
        if !section.header().name().eq_ignore_ascii_case(b"extensions") {
            continue;
        }
        for name in section.value_names() {
            let lower = name.to_ascii_lowercase();
            // A value that is only named counts as true.
            let value = match section.value_implicit(&name) {
                Some(Some(value)) => value.to_string(),
                _ => "true".to_owned(),
            };
            let safe = HARMLESS.iter().any(|(known, values)| {
                *known == lower && (values.is_empty() || values.iter().any(|v| v.eq_ignore_ascii_case(&value)))
            });
            if !safe {
                return Err(StoreError::Extension { path: path.into(), name, value });
            }
        }
    }
    Ok(())
}
