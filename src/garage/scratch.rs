//! Folders in the garage for what is made and not kept: each is locked while it is worked in, and goes away with what is
//! in it. Each has one name for all cars, so that any command clears away what a killed one left.

use super::Result;
use super::book::Book;
use super::place::Garage;
use crate::store::Scratch;
use std::path::Path;

/// What such a folder is for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Making {
    /// A rewritten copy: in the garage, which holds the same already, and not on a stick that is given away.
    Handover,
    /// A book that git brings over a network.
    Fetched,
}

impl Making {
    fn name(self) -> &'static str {
        match self {
            Making::Handover => "handover",
            Making::Fetched => "fetched",
        }
    }

    /// As many of them may be under way in one garage.
    fn most(self) -> usize {
        match self {
            Making::Handover => 8,
            Making::Fetched => 1,
        }
    }
}

/// Makes the folder for it, in the folder of a garage.
///
/// # Errors
/// Nothing can be written there, or other slipbooks make the same there now, as many as may.
pub fn scratch(garage: &Path, making: Making) -> Result<Scratch> {
    Ok(Scratch::new(garage, making.name(), making.most())?)
}

/// Clears away what killed commands left of such folders; what is worked in now stays.
pub fn sweep(garage: &Path) {
    Scratch::sweep(garage);
}

/// Where such folders are while a book is worked on: a book may stand outside the garage, and that need not be there.
pub fn aside_of<'a>(garage: &'a Garage, book: &'a Book) -> &'a Path {
    book.store.dir().parent().filter(|_| !garage.dir().is_dir()).unwrap_or(garage.dir())
}
