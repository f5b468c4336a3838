//! Handing a book over: where it goes, the file itself, and the page beside it.
//!
//! A handover is not recorded in the book: a record would be the newest commit, and the id just told to the new owner
//! would no longer be that of the book the old owner keeps. Who has the car is recorded by the one who takes it in.

use super::book::Book;
use super::copy::{Form, Target, copy_target, told};
use super::place::Garage;
use super::who::{Hand, stamp};
use super::{Error, Result};
use crate::store::{Contents, Copied, CopyHow, Options};
use std::ffi::OsStr;
use std::fs;
use std::path::{Path, PathBuf};

/// What a page of ours has in it; another text is not written over.
pub const PAGE_MARK: &str = "handover id";

/// Where a handover goes.
#[derive(Debug, Clone)]
pub struct HandoverTo {
    /// The file.
    pub target: Target,
    /// The page beside it.
    pub page: PathBuf,
}

/// A handover that was made.
#[derive(Debug, Clone)]
pub struct Handed {
    /// What is in the file, read back.
    pub copied: Copied,
    /// Bytes of the file.
    pub bytes: u64,
    /// The handover id, and that of every record before.
    pub contents: Contents,
}

/// Finds out where the file and its page go, and refuses what must not be written over.
pub fn handover_to(garage: &Garage, book: &Book, to: &Path) -> Result<HandoverTo> {
    if to.extension() == Some(OsStr::new("txt")) {
        let message = format!("{} is the name of a page; nothing was written", to.display());
        return Err(Error::usage(message, "a name like plover.bundle: the page gets the same name with .txt"));
    }
    let target = copy_target(garage, book, to, Some(Form::Bundle))?;
    let page = target.path.with_extension("txt");
    let refused = |what: &str| {
        let message = format!("{} {what}; nothing was written", page.display());
        Err(Error::usage(message, "another name, or move it away: the page of the handover goes there"))
    };
    match fs::symlink_metadata(&page) {
        Err(_) => {}
        Ok(m) if !m.is_file() => return refused("is no file"),
        Ok(_) => {
            let held = super::place::read_small(&page)?.unwrap_or_default();
            if !held.to_lowercase().contains(PAGE_MARK) {
                return refused("is there and is no page of a handover");
            }
        }
    }
    Ok(HandoverTo { target, page })
}

/// Writes the file and reads it back; the id is of what was written. `book` is what goes along: the book itself, or a
/// rewritten copy of it. `tell` hears how many objects were passed.
pub fn hand_over(book: &Book, options: &Options, hand: &Hand, to: &HandoverTo, tell: &dyn Fn(usize)) -> Result<Handed> {
    let how = CopyHow { options, who: hand.person(), when: stamp(hand.now), tell };
    let copied = book.store.copy_to_bundle(&to.target.path, &how).map_err(|e| told(&to.target, e))?;
    let bytes = fs::metadata(&to.target.path).map_err(|e| Error::io(&to.target.path, e))?.len();
    let passed = 2 * copied.objects;
    let contents = book.store.contents(copied.tip, &|n| tell(passed + n))?;
    Ok(Handed { copied, bytes, contents })
}

/// Writes the page, aside first; a page that is there is one of ours.
pub fn write_page(to: &HandoverTo, text: &str) -> Result<()> {
    let mut aside = to.page.clone().into_os_string();
    aside.push(".aside");
    let aside = PathBuf::from(aside);
    let written = fs::write(&aside, text).and_then(|()| fs::rename(&aside, &to.page));
    written.map_err(|e| {
        let _ = fs::remove_file(&aside);
        Error::io(&to.page, e)
    })
}
