//! Handing a book over: where it goes, the file itself, and the page beside it.
//!
//! A handover is not recorded in the book: a record would be the newest commit, and the id just told to the new owner
//! would no longer be that of the book the old owner keeps. Who has the car is recorded by the one who takes it in.

use super::book::Book;
use super::copy::{Form, Target, copy_target, told};
use super::place::Garage;
use super::who::{Hand, stamp};
use super::{Error, Result};
use crate::store::{Contents, Copied, CopyHow, Options, Page, StoreError};
use sha2::{Digest, Sha256};
use std::ffi::OsStr;
use std::fs;
use std::path::{Path, PathBuf};

/// What the last line of a page of ours begins with.
const PAGE_MARK: &str = "slipbook handover page ";

/// The page of a file with its mark: the last line is a hash of all before it and of the file's name. So a page somebody
/// wrote on is theirs, and one of another file is known.
fn marked(page: &str, file: &Path) -> String {
    let page = page.trim_end();
    format!("{page}\n{PAGE_MARK}{}\n", hash_of(page, file))
}

/// Whether a text is our page of a file as it was written.
fn is_page(text: &str, file: &Path) -> bool {
    let Some((page, last)) = text.trim_end().rsplit_once('\n') else { return false };
    last.strip_prefix(PAGE_MARK).is_some_and(|hash| hash == hash_of(page, file))
}

/// 64 bits of SHA-256, as hex digits. Names that a stick may hold for one have one hash.
fn hash_of(page: &str, file: &Path) -> String {
    let name = file.file_name().unwrap_or_default().to_string_lossy().to_lowercase();
    let of = format!("{page}\n{name}");
    Sha256::digest(of.as_bytes()).iter().take(8).map(|b| format!("{b:02x}")).collect()
}

/// Where a handover goes.
#[derive(Debug, Clone)]
pub struct HandoverTo {
    /// The garage it is handed over from.
    pub garage: Garage,
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
    // Two files beside each other (full.2025, full.2026) have a page each.
    let is_bundle = target.path.extension() == Some(OsStr::new("bundle"));
    let bare = if is_bundle { target.path.with_extension("") } else { target.path.clone() };
    let with = |end: &str| {
        let mut name = bare.clone().into_os_string();
        name.push(end);
        PathBuf::from(name)
    };
    let page = with(".txt");
    let refused = |what: &str| {
        let message = format!("{} {what}; nothing was written", page.display());
        Err(Error::usage(message, "another name, or move it away: the page of the handover goes there"))
    };
    match fs::symlink_metadata(&page) {
        Err(_) => {}
        Ok(m) if !m.is_file() => return refused("is no file"),
        Ok(_) => {
            let held = super::place::read_small(&page)?.unwrap_or_default();
            // `full` and `full.bundle` would have one page.
            let other = if is_bundle { bare.clone() } else { with(".bundle") };
            if is_page(&held, &other) {
                return refused(&format!("is the page of {}", other.display()));
            }
            if !is_page(&held, &target.path) {
                return refused("is there and is no page of a handover of that name, or was written on");
            }
        }
    }
    Ok(HandoverTo { garage: garage.clone(), target, page })
}

/// Writes the file, reads it back, and writes the page beside it; `page` tells of what has these contents, and the pair
/// is never of two kinds. `book` is what goes along: the book itself, or a rewritten copy of it. `tell` hears how many
/// objects were passed.
pub fn hand_over(
    book: &Book,
    options: &Options,
    hand: &Hand,
    to: &HandoverTo,
    contents: Contents,
    page: &str,
    tell: &dyn Fn(usize),
) -> Result<Handed> {
    let how = CopyHow { options, who: hand.person(), when: stamp(hand.now), tell };
    let may_go = |held: &[u8]| std::str::from_utf8(held).is_ok_and(|held| is_page(held, &to.target.path));
    let page = Page { path: &to.page, text: &marked(page, &to.target.path), may_go: &may_go };
    let copied = book.store.hand_over(contents.tip, &to.target.path, page, &how).map_err(|e| match e {
        StoreError::PageKept { .. } => {
            Error::data(e.to_string(), "another name, or move it away: the page of the handover goes there")
        }
        e => told(&to.garage, book, &to.target, e),
    })?;
    let bytes = fs::metadata(&to.target.path).map_err(|e| Error::io(&to.target.path, e))?.len();
    Ok(Handed { copied, bytes, contents })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_page_is_known_by_its_hash_and_by_nothing_less() {
        let file = Path::new("stick/full.bundle");
        let page = marked("Grey\n  handover id   six words\n\nThe end.\n", file);
        assert!(is_page(&page, file) && is_page(&page, Path::new("FULL.bundle")) && page.ends_with('\n'));
        assert!(!is_page(&page, Path::new("stick/full")));
        let written_on = page.replace("The end.", "The end. Call Ro.");
        for other in ["", "a letter about my handover id\n", &written_on, &format!("{page}and more\n"), PAGE_MARK] {
            assert!(!is_page(other, file), "{other}");
        }
    }
}
