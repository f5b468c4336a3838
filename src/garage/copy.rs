//! A checked copy of a book in another place, and the note of where the last one is.

use super::book::Book;
use super::car::Car;
use super::line::written_behind;
use super::place::{Garage, LastCopy};
use super::scratch::aside_of;
use super::who::{Hand, moment, stamp};
use super::{Error, Result};
use crate::schema::same_name;
use crate::slip::Moment;
use crate::store::{Copied, CopyHow, Id, Limits, Options, Repository, Store, StoreError, repository_in};
use std::ffi::OsStr;
use std::fs;
use std::path::{Component, Path, PathBuf};

/// What a copy is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Form {
    /// A repository with its files laid out: it opens as a book.
    Folder,
    /// One file.
    Bundle,
}

/// Where a copy goes.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Target {
    /// What it is.
    pub form: Form,
    /// Its own path, whole.
    pub path: PathBuf,
}

/// A copy that was made.
#[derive(Debug, Clone)]
pub struct CopyMade {
    /// Where.
    pub target: Target,
    /// What is in it.
    pub copied: Copied,
    /// Bytes of the file, where it is one.
    pub bytes: Option<u64>,
    /// The garage remembers it; not so for a book outside of it.
    pub remembered: bool,
}

/// Finds out where a copy goes, and refuses what it must not touch.
///
/// A name that ends in `.bundle` is a bundle. A folder that is there gets the copy inside, under the name of the
/// book's own folder; one that is not there becomes the copy.
pub fn copy_target(garage: &Garage, book: &Book, dest: &Path, form: Option<Form>) -> Result<Target> {
    let dest = whole(dest)?;
    let form = form.unwrap_or(if dest.extension() == Some(OsStr::new("bundle")) { Form::Bundle } else { Form::Folder });
    refuse_link(&dest)?;
    let folder = book.store.dir().file_name().unwrap_or(OsStr::new("book")).to_owned();
    let is_dir = fs::symlink_metadata(&dest).is_ok_and(|m| m.is_dir());
    let path = match form {
        Form::Folder if is_dir && !is_repository(&dest) => dest.join(folder),
        Form::Bundle if is_dir => {
            if dest.extension() == Some(OsStr::new("bundle")) {
                return Err(refused(&dest, "is a folder; a bundle is a file", "another name"));
            }
            dest.join(folder).with_extension("bundle")
        }
        _ => dest,
    };
    refuse_own(garage, book, &path)?;
    refuse_link(&path)?;
    if is_bare(&path) || path.parent().is_some_and(is_bare) {
        return Err(refused(&path, "is, or is in, a repository without files", "another folder"));
    }
    match (form, fs::symlink_metadata(&path)) {
        (Form::Folder, Ok(m)) if !m.is_dir() => {
            let help = "a folder, or a name that ends in .bundle for one file";
            return Err(refused(&path, "is a file", help));
        }
        (Form::Folder, Ok(_)) if !is_repository(&path) => {
            return Err(refused(&path, "is a folder, and no copy of a book", "another place, or move it away"));
        }
        (Form::Bundle, Ok(m)) if !m.is_file() => {
            return Err(refused(&path, "is no file; a bundle is one", "another name"));
        }
        _ => {}
    }
    Ok(Target { form, path })
}

/// Makes the copy, reads it back, and remembers it.
pub fn copy(
    garage: &Garage,
    book: &Book,
    options: &Options,
    hand: &Hand,
    target: Target,
    tell: &dyn Fn(usize),
) -> Result<CopyMade> {
    let how = CopyHow { options, who: hand.person(), when: stamp(hand.now), tell };
    let copied = match target.form {
        Form::Folder => book.store.copy_to_folder(&target.path, &how),
        Form::Bundle => book.store.copy_to_bundle(&target.path, &how),
    };
    let mut copied = copied.map_err(|e| told(garage, book, &target, e))?;
    let bytes = match target.form {
        Form::Bundle => Some(fs::metadata(&target.path).map_err(|e| Error::io(&target.path, e))?.len()),
        Form::Folder => None,
    };
    let folder = folder_in(garage, book.store.dir());
    if let Some(folder) = &folder {
        let to = target.path.display().to_string();
        let last = LastCopy { at: hand.now, to, tip: copied.tip };
        let remembered = garage.settings().and_then(|mut settings| {
            settings.copy.insert(folder.clone(), last);
            garage.remember(&settings)
        });
        // The copy is there, and a full or read-only drive is why many are made.
        if let Err(e) = remembered {
            copied.notes.push(format!("the copy is whole; only the garage could not note that it was made: {e}"));
        }
    }
    Ok(CopyMade { target, copied, bytes, remembered: folder.is_some() })
}

/// How a book stands to its last copy.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Since {
    /// So many records are not in it.
    Records(usize),
    /// More than so many are not in it.
    Over(usize),
    /// Its newest record is none of this book.
    NotThere,
}

/// How many records came after `tip`; all, where there is none. Looks at `most` records and no further.
pub fn records_since(store: &Store, tip: Option<Id>, most: usize) -> Result<Since> {
    // Where two laptops were joined, the copy may be of either: both ways are gone, the log as written first.
    let mut ways = vec![(store.head()?, 0)];
    let mut known = std::collections::HashSet::new();
    let mut over = false;
    while let Some((mut next, from)) = ways.pop() {
        let mut ended = false;
        for n in from..=most {
            if next == tip {
                return Ok(Since::Records(n));
            }
            let Some(id) = next.filter(|id| known.insert(*id)) else {
                ended = true;
                break;
            };
            let behind = written_behind(&store.commit(id)?);
            ways.extend(behind.iter().skip(1).map(|other| (Some(*other), n.saturating_add(1))));
            next = behind.first().copied();
        }
        over |= !ended;
    }
    if !over {
        return Ok(Since::NotThere);
    }
    Ok(Since::Over(most))
}

/// The name of a book's folder where it is one of the garage.
pub fn folder_in(garage: &Garage, dir: &Path) -> Option<String> {
    let (garage, dir) = (real(garage.dir())?, real(dir)?);
    if dir.parent() != Some(&garage) {
        return None;
    }
    dir.file_name().and_then(OsStr::to_str).map(str::to_owned)
}

/// The last copy of a book, where the garage remembers one.
pub fn last_copy(garage: &Garage, book: &Book) -> Result<Option<LastCopy>> {
    let Some(folder) = folder_in(garage, book.store.dir()) else { return Ok(None) };
    Ok(garage.settings()?.copy.remove(&folder))
}

fn real(path: &Path) -> Option<PathBuf> {
    fs::canonicalize(path).ok()
}

/// The path with its folder as it really is: links on the way there are the user's own.
pub(super) fn whole(dest: &Path) -> Result<PathBuf> {
    let dest = std::path::absolute(dest).map_err(|e| Error::io(dest, e))?;
    let Some(Component::Normal(name)) = dest.components().next_back() else {
        // `/`, or a way back up: it is there, or it is nothing.
        return fs::canonicalize(&dest).map_err(|e| Error::io(&dest, e));
    };
    let parent = dest.parent().unwrap_or(Path::new("/"));
    match fs::canonicalize(parent) {
        Ok(parent) => Ok(parent.join(name)),
        Err(e) if e.kind() == std::io::ErrorKind::NotFound => Err(Error::usage(
            format!("there is no folder {}; nothing was written", parent.display()),
            "is the drive plugged in? The folder a copy goes into has to be there",
        )),
        Err(e) => Err(Error::io(parent, e)),
    }
}

fn refused(path: &Path, what: &str, help: &str) -> Error {
    Error::usage(format!("{} {what}; nothing was written", path.display()), help)
}

fn refuse_link(path: &Path) -> Result<()> {
    let Ok(to) = fs::read_link(path) else { return Ok(()) };
    Err(refused(path, &format!("is a link to {}", to.display()), "name the real place"))
}

fn is_repository(dir: &Path) -> bool {
    repository_in(dir) == Some(Repository::WithFiles)
}

fn is_bare(dir: &Path) -> bool {
    repository_in(dir) == Some(Repository::Bare)
}

/// A copy beside what it is to save is none, and nothing may be written into a book behind its back.
pub(super) fn refuse_own(garage: &Garage, book: &Book, path: &Path) -> Result<()> {
    let elsewhere = "another drive: what is beside the book is lost with it";
    if real(garage.dir()).is_some_and(|garage| path.starts_with(garage)) {
        return Err(refused(path, "is in the garage", elsewhere));
    }
    if real(book.store.dir()).is_some_and(|own| path.starts_with(own)) {
        return Err(refused(path, "is in the book itself", elsewhere));
    }
    let is_book = |dir: &Path| is_repository(dir) && dir.join("car.toml").exists();
    if path.components().any(|c| c.as_os_str() == ".git") || path.ancestors().skip(1).any(is_book) {
        return Err(refused(path, "is in another book", "a folder of its own"));
    }
    Ok(())
}

/// What a racer can do about what the store refused.
pub(super) fn told(garage: &Garage, book: &Book, target: &Target, error: StoreError) -> Error {
    let path = target.path.display();
    match error {
        StoreError::OnlyThere { here: Some(false), .. } => {
            let whose = Book::open(&target.path).map(|b| format!(", of {}", b.car.name)).unwrap_or_default();
            Error::data(
                format!("{path} is another book{whose}; it is left as it is"),
                "another place for the copy of this one",
            )
        }
        StoreError::OnlyThere { tip, here, .. } => match other_book(garage, book, target).filter(|_| here.is_none()) {
            Some(whose) => Error::data(
                format!("{path} {whose}; it is left as it is, and nothing was written"),
                "another name, or move it away",
            ),
            None => Error::data(
                format!("the copy in {path} has records this book has not{}; it is left as it is", newest(target, tip)),
                format!("slipbook join {path} brings both together; or another place for this copy"),
            ),
        },
        StoreError::HandEdit { path: file } => Error::data(
            format!("{file} was changed by hand in the copy {path}; the copy is as it was"),
            format!("git -C {path} checkout -- {file} drops that edit, or name another place"),
        ),
        other => Error::Store(other),
    }
}

/// Whose a bundle is that begins with another record than the book does; read as a stranger's.
fn other_book(garage: &Garage, book: &Book, target: &Target) -> Option<String> {
    let path = &target.path;
    let found =
        Store::take_in(path, aside_of(garage, book), Limits::default(), &super::sound::book_path, &|_| {}).ok()?;
    let there = found.store();
    if there.first_of(found.tip).ok()? == book.store.first_of(book.store.head().ok()??).ok()? {
        return None;
    }
    let (_, bytes) = there.file(found.tip, "car.toml").ok()??;
    let car = Car::read("car.toml", std::str::from_utf8(&bytes).ok()?).ok()?;
    Some(match same_name(&car.name, &book.car.name) {
        true => "is this car's with another beginning (whole, or rewritten), or another car's of its name".to_owned(),
        false => format!("is another car's file, of {}", crate::diff::words::visible(&car.name)),
    })
}

/// ": the newest is of Aug 22 14:20, limiter lowered 0.25 in".
fn newest(target: &Target, tip: Id) -> String {
    let commit = Store::open(&target.path).and_then(|s| s.commit(tip));
    let Ok(commit) = commit else { return String::new() };
    let at: Moment = moment(commit.authored);
    format!(" (the newest of {}: {})", at.words(None), commit.message.lines().next().unwrap_or_default())
}
