//! What can go wrong with a book, by what the racer can do about it.

use crate::schema::{EntryError, Problem};
use crate::slip::CellError;
use crate::store::StoreError;
use std::path::{Path, PathBuf};

/// An error of a command. The kind decides the exit code (`cli::exit`).
#[derive(Debug, thiserror::Error)]
pub enum Error {
    /// The command was not understood or cannot be meant: nothing is wrong with the book.
    #[error("{message}")]
    Usage {
        /// What is wrong.
        message: String,
        /// What would be right.
        help: String,
    },
    /// The answer is "no", and it was asked for as an exit code.
    #[error("{0}")]
    No(String),
    /// Something is unusual and must be confirmed.
    #[error("{message}")]
    Unconfirmed {
        /// What is unusual.
        message: String,
        /// How to say yes.
        help: String,
    },
    /// Words that name no field, or several.
    #[error(transparent)]
    Entry(#[from] EntryError),
    /// A text of the book (or one given to it) is wrong.
    #[error("{name} is not right")]
    Text {
        /// File, or what it is.
        name: String,
        /// Its text.
        text: String,
        /// All that is wrong in it.
        problems: Vec<Problem>,
    },
    /// Cells of a table are wrong.
    #[error("{} of {name}", if errors.len() == 1 { "one cell".to_owned() } else { format!("{} cells", errors.len()) })]
    Table {
        /// The file.
        name: String,
        /// Its text, to show the lines.
        text: String,
        /// All that is wrong in it.
        errors: Vec<CellError>,
    },
    /// The book or the data is bad.
    #[error("{message}")]
    Data {
        /// What is wrong.
        message: String,
        /// What would be right.
        help: String,
    },
    /// The repository cannot be used.
    #[error(transparent)]
    Store(#[from] StoreError),
    /// A file cannot be read or written.
    #[error("{}: {source}", path.display())]
    Io {
        /// The file.
        path: PathBuf,
        /// Why.
        source: std::io::Error,
    },
}

impl Error {
    /// A usage error.
    pub fn usage(message: impl Into<String>, help: impl Into<String>) -> Error {
        Error::Usage { message: message.into(), help: help.into() }
    }

    /// Bad data.
    pub fn data(message: impl Into<String>, help: impl Into<String>) -> Error {
        Error::Data { message: message.into(), help: help.into() }
    }

    /// A file error.
    pub fn io(path: &Path, source: std::io::Error) -> Error {
        Error::Io { path: path.to_owned(), source }
    }
}

/// What the functions of this layer return.
pub type Result<T> = std::result::Result<T, Error>;
