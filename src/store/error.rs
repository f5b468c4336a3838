//! Everything the store can refuse or fail at, each saying what was found, where, and what would be right.
use std::path::PathBuf;

use super::{BuildError, Id};

/// Why the store did not do what was asked. Unless a variant says otherwise nothing was changed.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum StoreError {
    /// A file could not be read or written.
    #[error("could not {doing} {}", path.display())]
    Io {
        /// What was tried.
        doing: &'static str,
        /// On which file.
        path: PathBuf,
        /// What the system said.
        source: std::io::Error,
    },
    /// A folder is no place to write.
    #[error("nothing can be written into {}: {why}", path.display())]
    NoPlace {
        /// The folder.
        path: PathBuf,
        /// Why not.
        why: &'static str,
    },
    /// There is no repository in this folder.
    #[error("{} is no book: it has no .git folder", path.display())]
    NotABook {
        /// The folder.
        path: PathBuf,
    },
    /// A new book was asked for in a folder that holds something.
    #[error("{} is not empty; a new book needs an empty or a new folder", path.display())]
    NotEmpty {
        /// The folder.
        path: PathBuf,
    },
    /// `.git` is a file that points elsewhere.
    #[error("{} is a file that points to a repository elsewhere; a book has its own .git folder", path.display())]
    GitFile {
        /// The file.
        path: PathBuf,
    },
    /// Part of `.git` is a symbolic link.
    #[error("{} is a symbolic link; inside a book it has to be a real file or folder", path.display())]
    Symlink {
        /// The link.
        path: PathBuf,
    },
    /// Part of `.git` is of the wrong kind, or absent.
    #[error("{} is {found}; it should be {expected}", path.display())]
    WrongKind {
        /// Where.
        path: PathBuf,
        /// What is there.
        found: &'static str,
        /// What should be there.
        expected: &'static str,
    },
    /// The repository borrows refs, settings or objects of another one.
    #[error("{} makes this book use another repository's data; a book is complete in itself (make one with `git clone --no-local --dissociate`)", path.display())]
    Borrowed {
        /// The file that says so (`commondir` or `alternates`).
        path: PathBuf,
    },
    /// A repository extension the store does not know.
    #[error("{}: the repository extension `{name} = {value}` is not supported; a book uses sha1 ids and refs in files", path.display())]
    Extension {
        /// The settings file.
        path: PathBuf,
        /// The extension.
        name: String,
        /// Its value.
        value: String,
    },
    /// The settings file cannot be read.
    #[error("{}: {reason}", path.display())]
    Config {
        /// The settings file.
        path: PathBuf,
        /// What is wrong with it.
        reason: String,
    },
    /// HEAD is a commit, not a branch.
    #[error("{} is detached at {at}; a book is on its branch: `ref: refs/heads/main` is all it says", path.display())]
    Detached {
        /// The HEAD file.
        path: PathBuf,
        /// The commit it names.
        at: String,
    },
    /// HEAD is another branch, or cannot be read.
    #[error("{} says `{found}`; a book is on its branch: `ref: refs/heads/main` is all it says", path.display())]
    HeadElsewhere {
        /// The HEAD file.
        path: PathBuf,
        /// What it says.
        found: String,
    },
    /// The branch is not there, or cannot be read, though records were made on it.
    #[error("the branch {} is lost: it names no record, and without it the book has none", path.display())]
    BranchLost {
        /// The file of the branch.
        path: PathBuf,
        /// The record it named last by the book's own log.
        was: Option<Id>,
    },
    /// The folder belongs to another user.
    #[error("{} belongs to another user; copy the book, or take ownership of it, before using it", path.display())]
    ForeignOwner {
        /// The folder.
        path: PathBuf,
    },
    /// A merge or pick by hand is under way.
    #[error("{} is there: something begun by hand with git is unfinished; finish it or call it off first", path.display())]
    Unfinished {
        /// The file that shows it.
        path: PathBuf,
    },
    /// The index has a form this store does not write.
    #[error("{}: {reason}", path.display())]
    Index {
        /// The index file.
        path: PathBuf,
        /// What is wrong with it.
        reason: String,
    },
    /// Another slipbook kept the book locked.
    #[error("{} is held by {holder}; nothing was recorded", path.display())]
    Busy {
        /// The lock.
        path: PathBuf,
        /// Who holds it.
        holder: String,
    },
    /// Another slipbook makes something in a place aside.
    #[error("another slipbook is at work in {}; nothing was written", path.display())]
    Underway {
        /// The place.
        path: PathBuf,
    },
    /// A lock file that is not ours stayed there.
    #[error("{} is there for {age_seconds} s and is not slipbook's; if no git program is running on this book, delete that file", path.display())]
    LockFile {
        /// The lock file.
        path: PathBuf,
        /// Its age.
        age_seconds: u64,
    },
    /// A file to be written was edited by hand and the record did not take that in.
    #[error("{path} was edited by hand since the last record; nothing was recorded")]
    HandEdit {
        /// The path inside the book.
        path: String,
    },
    /// A path a book cannot hold.
    #[error("`{path}` cannot be a file of a book: {reason}")]
    BadPath {
        /// The path.
        path: String,
        /// Why not.
        reason: String,
    },
    /// In the folder there is something else where a plain file should be.
    #[error("{} is {found}; a plain file belongs there", path.display())]
    NotAFile {
        /// Where.
        path: PathBuf,
        /// What is there.
        found: &'static str,
    },
    /// Something is larger than the store reads.
    #[error("{what} has {size} bytes; {limit} is the most that is read")]
    TooLarge {
        /// What.
        what: String,
        /// Its size.
        size: u64,
        /// The limit.
        limit: u64,
    },
    /// A name, time or message that a commit cannot hold.
    #[error("{0}")]
    BadRecord(String),
    /// An object the history names is not there.
    #[error("the object {id} is missing from this book")]
    Missing {
        /// The object.
        id: Id,
    },
    /// Something in the repository cannot be read.
    #[error("{what} is damaged and cannot be read")]
    Damaged {
        /// What.
        what: String,
        /// What was found.
        source: BuildError,
    },
    /// Another program moved the branch each time.
    #[error(
        "another program changed the book {tries} times while this was being recorded; nothing was recorded, try again"
    )]
    Contended {
        /// How often it was tried.
        tries: u32,
    },
    /// The record is in the book, but the files of the folder could not all be brought in step.
    #[error("recorded as {}, but the folder is behind; the next record brings it in step", id.short())]
    Unsettled {
        /// The new tip.
        id: Id,
        /// What stood in the way.
        source: Box<StoreError>,
    },
    /// There is nothing to copy.
    #[error("{} has no record yet: there is nothing to copy", path.display())]
    NoRecords {
        /// The book.
        path: PathBuf,
    },
    /// A copy would go where something else is.
    #[error("{} is {what}; a copy is not written over it", path.display())]
    Occupied {
        /// Where.
        path: PathBuf,
        /// What is there.
        what: &'static str,
    },
    /// Where the page beside a bundle goes, somebody wrote meanwhile.
    #[error("{} was written on, or put there, meanwhile and is left as it is; {}", path.display(), if *placed { "the file is there, without its page" } else { "nothing was written" })]
    PageKept {
        /// Where.
        path: PathBuf,
        /// The bundle has its name already.
        placed: bool,
    },
    /// The copy that is there has records the book has not.
    #[error("{} has records this book has not, up to {}; it is left as it is", path.display(), tip.short())]
    OnlyThere {
        /// The copy.
        path: PathBuf,
        /// Its newest record.
        tip: Id,
        /// Whether it is a copy of this book; none where that is not known.
        here: Option<bool>,
    },
    /// A copy did not read back as it was written.
    #[error("the copy in {} does not read back as the book: it is no copy to rely on", path.display())]
    Unlike {
        /// The copy.
        path: PathBuf,
        /// What was found.
        source: Box<StoreError>,
    },
    /// A book could not be brought over a network.
    #[error("{why}")]
    Unreachable {
        /// Why not.
        why: String,
    },
    /// What a stranger made is not taken in.
    #[error("{} is not taken in: {why}", path.display())]
    Refused {
        /// The file or folder.
        path: PathBuf,
        /// What is wrong with it.
        why: String,
    },
    /// The caller's own code failed while it built the record.
    #[error(transparent)]
    Build(BuildError),
}

impl StoreError {
    pub(super) fn damaged(what: impl Into<String>, source: impl Into<BuildError>) -> StoreError {
        StoreError::Damaged { what: what.into(), source: source.into() }
    }

    pub(super) fn unlike(path: &std::path::Path, source: StoreError) -> StoreError {
        StoreError::Unlike { path: path.into(), source: Box::new(source) }
    }

    /// A caller's closure may hand a store error through its own error type: it comes out as itself.
    pub(super) fn from_build(error: BuildError) -> StoreError {
        match error.downcast::<StoreError>() {
            Ok(own) => *own,
            Err(other) => StoreError::Build(other),
        }
    }
}
