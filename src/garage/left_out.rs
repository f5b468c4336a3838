//! What a record lacks since it was handed over without it, kind by kind: its first record says so, and the page of a car
//! that is passed on tells it again. What it was is in the book no more.

use super::book::Book;
use super::message::Message;
use super::rewrite::LeaveOut;

/// The trailer of the first record that says it.
pub(super) const TRAILER: &str = "Left-out";

/// The kinds: as the record says them, and in words.
const KINDS: [(&str, &str); 5] = [
    ("notes", "notes and reasons"),
    ("names", "names of owners and of those who wrote"),
    ("phones", "phone numbers"),
    ("files", "files by hand"),
    ("fields", "fields of the sheet"),
];

/// Which of `KINDS` were left out.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct LeftOut([bool; KINDS.len()]);

impl LeftOut {
    /// What a handover leaves out.
    pub(super) fn of(out: &LeaveOut) -> LeftOut {
        LeftOut([out.notes, out.scrub.people, out.scrub.phones, out.files, !out.fields.is_empty()])
    }

    /// With what was left out before that.
    pub(super) fn after(self, earlier: Option<LeftOut>) -> LeftOut {
        let LeftOut(earlier) = earlier.unwrap_or_default();
        LeftOut(std::array::from_fn(|i| self.0[i] || earlier[i]))
    }

    /// Reads what [`LeftOut::to_line`] writes, and nothing else.
    pub(super) fn read(text: &str) -> Option<LeftOut> {
        let said: Vec<&str> = text.split(", ").collect();
        let read = LeftOut(KINDS.map(|(kind, _)| said.contains(&kind)));
        (read.to_line() == text).then_some(read)
    }

    /// As one line of a record; empty where nothing was left out.
    pub(super) fn to_line(self) -> String {
        self.kinds().map(|(kind, _)| kind).collect::<Vec<_>>().join(", ")
    }

    /// In words.
    pub fn words(self) -> Vec<String> {
        self.kinds().map(|(_, words)| words.to_owned()).collect()
    }

    fn kinds(self) -> impl Iterator<Item = (&'static str, &'static str)> {
        KINDS.into_iter().zip(self.0).filter(|(_, so)| *so).map(|(kind, _)| kind)
    }
}

impl Book {
    /// What was left out when this record was handed over, where it was.
    pub fn left_out(&self) -> Option<LeftOut> {
        let first = self.store.commit(self.store.first_of(self.store.head().ok()??).ok()?).ok()?;
        LeftOut::read(Message::read(&first.message).get(TRAILER)?)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_said_is_read_and_nothing_else_is() {
        let first = LeftOut::read("names, fields").unwrap();
        let whole = LeftOut::read("notes").unwrap().after(Some(first));
        assert_eq!(whole.to_line(), "notes, names, fields");
        assert_eq!(LeftOut::read(&whole.to_line()), Some(whole));
        assert_eq!(LeftOut::default().to_line(), "");
        for text in ["names, notes", "names, names", "Ro", "names, Ro", "names,fields", "names "] {
            assert_eq!(LeftOut::read(text), None, "{text}");
        }
    }
}
