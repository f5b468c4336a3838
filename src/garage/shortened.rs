//! A record that begins later than the car's: what of it came before, counted. It is not in the book, and no more than the
//! count is known of it.

use super::book::Book;
use super::message::Message;
use crate::store::{Id, Store};

/// The trailer of the first record that says it.
const TRAILER: &str = "Before";

/// What came before the book begins.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, serde::Serialize)]
pub struct Shortened {
    /// Versions.
    pub versions: usize,
    /// Runs.
    pub runs: usize,
}

impl Shortened {
    /// What the first record of a book says of it; none where the book begins with the car's record.
    pub(super) fn of(store: &Store, tip: Id) -> Option<Shortened> {
        let first = store.commit(store.first_of(tip).ok()?).ok()?;
        Shortened::read(Message::read(&first.message).get(TRAILER)?)
    }

    pub(super) fn read(text: &str) -> Option<Shortened> {
        let (versions, runs) = text.strip_suffix(" runs")?.split_once(" versions, ")?;
        Some(Shortened { versions: versions.parse().ok()?, runs: runs.parse().ok()? })
    }

    /// As one line of a record.
    pub(super) fn to_line(self) -> String {
        format!("{} versions, {} runs", self.versions, self.runs)
    }

    /// Says it in the first record.
    pub(super) fn say(self, message: &mut Message) {
        message.push(TRAILER, &self.to_line());
    }

    /// With what came before that.
    pub(super) fn after(self, earlier: Option<Shortened>) -> Shortened {
        let Shortened { versions, runs } = earlier.unwrap_or_default();
        Shortened { versions: self.versions.saturating_add(versions), runs: self.runs.saturating_add(runs) }
    }
}

impl Book {
    /// What of the car's record came before this book begins, where it was shortened.
    pub fn shortened(&self) -> Option<Shortened> {
        Shortened::of(&self.store, self.store.head().ok()??)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_said_is_read_and_nothing_else_is() {
        let whole = Shortened { versions: 2, runs: 7 }.after(Some(Shortened { versions: 1, runs: 5 }));
        let mut message = Message::default();
        whole.say(&mut message);
        assert_eq!(message.get(TRAILER).and_then(Shortened::read), Some(Shortened { versions: 3, runs: 12 }));
        for text in ["", "3 runs", "x versions, 12 runs", "3 versions, -1 runs", "3 versions, 12 runs more"] {
            assert_eq!(Shortened::read(text), None, "{text}");
        }
    }
}
