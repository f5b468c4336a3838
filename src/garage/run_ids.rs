//! Ids of runs that a hand made up, and those that stand for them where a book goes elsewhere.

use super::history::History;
use super::texts::is_run_id;
use crate::store::{Id, Store};
use std::cell::RefCell;
use std::collections::{HashMap, HashSet};

/// An id of a run a hand made up is a word of theirs, and a name as likely as not: what is made of the book has another
/// for it, of this program's form, the same wherever it stands, that tells nothing of it.
pub(super) struct RunIds {
    head: Id,
    taken: RefCell<HashSet<String>>,
    given: RefCell<HashMap<String, String>>,
}

impl RunIds {
    /// For what is made of the book as it is at a record.
    pub(super) fn new(head: Id, history: &History) -> RunIds {
        let taken: HashSet<String> = history.runs.iter().map(|m| m.run.id.clone()).collect();
        RunIds { head, taken: taken.into(), given: RefCell::default() }
    }

    /// The id a run has there: its own where that is of this program's form.
    pub(super) fn of(&self, id: &str) -> String {
        if is_run_id(id) {
            return id.to_owned();
        }
        let mut given = self.given.borrow_mut();
        let next = given.len();
        let made = (next..).map(|n| Store::blob_id(format!("run {n} of {}", self.head).as_bytes()).short());
        let new = || made.into_iter().find(|new| self.taken.borrow_mut().insert(new.clone())).unwrap_or_default();
        given.entry(id.to_owned()).or_insert_with(new).clone()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_id_by_hand_has_one_other_and_no_two_have_the_same() {
        let head = Store::blob_id(b"a book");
        let with = |taken: &[&String]| RunIds {
            head,
            taken: RefCell::new(taken.iter().map(|t| (*t).clone()).collect()),
            given: RefCell::default(),
        };
        let ids = with(&[]);
        let first = ids.of("a");
        assert_eq!(ids.of("0a1b2c3d"), "0a1b2c3d");
        // What the first would get is taken.
        let other = with(&[&first]);
        let (a, b) = (other.of("a"), other.of("b"));
        assert!(a != first && b != first && a != b, "{first} {a} {b}");
        for id in [&first, &a, &b] {
            assert!(is_run_id(id), "{id}");
        }
        assert_eq!((ids.of("a"), other.of("a"), other.of("b")), (first, a, b));
    }
}
