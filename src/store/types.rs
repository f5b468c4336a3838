//! The plain types that leave and enter the store: ids, commits, records, and what a record did.
use std::fmt;
use std::path::PathBuf;
use std::str::FromStr;

use super::{Store, StoreError};

/// What a caller's own code may fail with while it builds a record.
pub type BuildError = Box<dyn std::error::Error + Send + Sync>;

/// The id of an object in a book: 20 bytes, written as 40 hexadecimal digits.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Id(pub(super) [u8; 20]);

impl Id {
    /// The first eight digits, enough to tell ids apart on paper.
    pub fn short(&self) -> String {
        self.to_string()[..8].to_owned()
    }

    /// The 20 bytes, for caches.
    pub fn as_bytes(&self) -> &[u8; 20] {
        &self.0
    }

    /// An id from its 20 bytes.
    pub fn from_bytes(bytes: [u8; 20]) -> Id {
        Id(bytes)
    }

    pub(super) fn git(&self) -> gix::ObjectId {
        gix::ObjectId::Sha1(self.0)
    }

    pub(super) fn of(id: &gix::oid) -> Id {
        let mut bytes = [0; 20];
        let given = id.as_bytes();
        let n = given.len().min(20);
        bytes[..n].copy_from_slice(&given[..n]);
        Id(bytes)
    }
}

impl fmt::Display for Id {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let mut text = String::with_capacity(40);
        for byte in self.0 {
            for digit in [byte >> 4, byte & 15] {
                text.push(char::from(b"0123456789abcdef"[usize::from(digit)]));
            }
        }
        f.pad(&text)
    }
}

impl fmt::Debug for Id {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "Id({self})")
    }
}

/// A text that is not 40 hexadecimal digits.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("`{0}` is not an id: an id is 40 hexadecimal digits")]
pub struct NotAnId(pub String);

impl FromStr for Id {
    type Err = NotAnId;

    fn from_str(text: &str) -> Result<Id, NotAnId> {
        let wrong = || NotAnId(text.to_owned());
        let digits = text.as_bytes();
        if digits.len() != 40 {
            return Err(wrong());
        }
        let mut bytes = [0; 20];
        for (byte, pair) in bytes.iter_mut().zip(digits.chunks(2)) {
            for digit in pair {
                let value = char::from(*digit).to_digit(16).ok_or_else(wrong)?;
                *byte = (*byte << 4) | value as u8;
            }
        }
        Ok(Id(bytes))
    }
}

/// Who wrote something.
#[derive(Debug, Clone, PartialEq, Eq, Hash)]
pub struct Person {
    /// The name as it is shown.
    pub name: String,
    /// The address; any text without angle brackets.
    pub email: String,
}

/// A moment, with the clock offset of the place it was noted at.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Stamp {
    /// Seconds since 1970-01-01 UTC.
    pub seconds: i64,
    /// How far the local clock was ahead of UTC, in seconds; whole minutes.
    pub offset_seconds: i32,
}

/// One commit of a book.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Commit {
    /// Its id.
    pub id: Id,
    /// The commits it follows; the first is the log as written.
    pub parents: Vec<Id>,
    /// The id of its tree.
    pub tree: Id,
    /// Who it happened to.
    pub author: Person,
    /// When it happened.
    pub authored: Stamp,
    /// Who wrote it down.
    pub committer: Person,
    /// When it was written down.
    pub written: Stamp,
    /// The whole message.
    pub message: String,
}

/// A commit of the log with the ids of the two files every walk asks for.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Logged {
    /// The commit.
    pub commit: Commit,
    /// The blob id of `setup.toml` in it.
    pub sheet: Option<Id>,
    /// The blob id of `car.toml` in it.
    pub car: Option<Id>,
}

/// How a file in the folder differs from the last record.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Kind {
    /// Its content, or its being a plain file, was changed by hand.
    Changed,
    /// It is no longer there.
    Deleted,
    /// It was never recorded.
    New,
}

/// One file that was touched by hand since the last record.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct WorkEdit {
    /// The path inside the book, with `/`.
    pub path: String,
    /// What happened to it.
    pub kind: Kind,
}

/// The book as it is while the lock is held: what a record is built on.
pub struct Tip<'a> {
    /// The book.
    pub store: &'a Store,
    /// The newest commit; none in an empty book.
    pub head: Option<Id>,
}

/// One commit to be written.
#[derive(Debug, Clone)]
pub struct Record {
    /// The files it changes: path with `/`, new content; no content takes the file away.
    pub files: Vec<(String, Option<Vec<u8>>)>,
    /// Who it happened to.
    pub author: Person,
    /// When it happened.
    pub authored: Stamp,
    /// Who writes it down.
    pub committer: Person,
    /// When it is written down.
    pub written: Stamp,
    /// The message; its first line is the subject.
    pub message: String,
    /// The new content takes in (or deliberately replaces) what was edited by hand in these files.
    pub accept_hand_edit: bool,
}

/// What a call to record did.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Recorded {
    /// The new tip; none when there was nothing to do.
    pub id: Option<Id>,
    /// Sentences for the user about what an interrupted record had left and was put right.
    pub healed: Vec<String>,
    /// Files edited by hand that were met on the way and kept as they are.
    pub left_alone: Vec<String>,
}

/// Takes a sentence for the user.
pub type Say = Box<dyn Fn(&str)>;

/// How to record.
pub struct Options {
    /// Wait until the disk has it. Off only for tests and throw-away books.
    pub fsync: bool,
    /// Called once with a sentence when another program holds a lock for longer than a second.
    pub waiting: Option<Say>,
    /// How long to wait for each lock before giving up.
    pub patience: std::time::Duration,
}

impl Default for Options {
    fn default() -> Self {
        Options { fsync: true, waiting: None, patience: std::time::Duration::from_secs(30) }
    }
}

/// How to copy a book.
pub struct CopyHow<'a> {
    /// As for a record.
    pub options: &'a Options,
    /// Whose hand copies.
    pub who: Person,
    /// When.
    pub when: Stamp,
    /// Called with the number of objects written or read back so far.
    pub tell: &'a dyn Fn(usize),
}

/// What a copy holds, after it was read back.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Copied {
    /// The newest record in it.
    pub tip: Id,
    /// The newest record that was in it before; none where there was no copy.
    pub was: Option<Id>,
    /// Commits, those beside the log as written among them.
    pub commits: usize,
    /// Objects of any kind, each read back and hashed.
    pub objects: usize,
    /// Sentences about what was put right in the copy on the way.
    pub notes: Vec<String>,
    /// Files in the copy's folder that were saved by hand at that very moment, and are kept.
    pub kept_by_hand: Vec<String>,
    /// Paths that are in its record and cannot lie in its folder as plain files.
    pub not_laid_out: Vec<String>,
}

impl Copied {
    pub(super) fn of(tip: Id) -> Copied {
        let none = Vec::new;
        Copied { tip, was: None, commits: 0, objects: 0, notes: none(), kept_by_hand: none(), not_laid_out: none() }
    }
}

/// Attaches the path and what was being done to an I/O error.
pub(super) fn io(doing: &'static str, path: impl Into<PathBuf>) -> impl FnOnce(std::io::Error) -> StoreError {
    let path = path.into();
    move |source| StoreError::Io { doing, path, source }
}
