//! A record's commit message: what happened, in words, and trailers that say what the commit is.

use crate::diff::words::LONGEST_SUBJECT;
use crate::text::{cut, on_a_line};
use crate::timeline::{Kind, VersionNumber};

/// The parts of a message.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Message {
    /// One sentence on one line, at most 72 characters: names in it as they were typed.
    pub subject: String,
    /// All clauses, where the subject does not hold them.
    pub body: Vec<String>,
    /// `Kind: change`, `Version: v21`, `Typed: ...`, `Why: ...`, in order.
    pub trailers: Vec<(String, String)>,
}

impl Message {
    /// A message of this kind.
    pub fn new(kind: Kind, subject: impl Into<String>) -> Message {
        let mut message = Message { subject: subject.into(), ..Message::default() };
        message.push("Kind", kind_word(kind));
        message
    }

    /// Adds a trailer; line breaks and control characters become spaces, so that it stays one line.
    pub fn push(&mut self, key: &str, value: &str) {
        let one_line: String = value.chars().map(|c| if c.is_control() { ' ' } else { c }).collect();
        if !one_line.trim().is_empty() {
            self.trailers.push((key.to_owned(), one_line.trim().to_owned()));
        }
    }

    /// The first trailer of this name.
    pub fn get(&self, key: &str) -> Option<&str> {
        self.trailers.iter().find(|(k, _)| k == key).map(|(_, v)| v.as_str())
    }

    /// All trailers of this name, in order.
    pub fn all<'a>(&'a self, key: &'a str) -> impl Iterator<Item = &'a str> + 'a {
        self.trailers.iter().filter(move |(k, _)| k == key).map(|(_, v)| v.as_str())
    }

    /// Without the trailers of this name.
    pub fn without(mut self, key: &str) -> Message {
        self.trailers.retain(|(k, _)| k != key);
        self
    }

    /// The number a version carries.
    pub fn version(&self) -> Option<VersionNumber> {
        self.get("Version")?.parse().ok()
    }

    /// What the record is; `None` for a commit made by hand.
    pub fn kind(&self) -> Option<Kind> {
        Some(match self.get("Kind")? {
            "open" => Kind::Open,
            "change" => Kind::Change,
            "revert" => Kind::Revert,
            "measured" => Kind::Measured,
            "run" => Kind::Run,
            "mend" => Kind::Mend,
            "oops" => Kind::Oops,
            _ => Kind::Other,
        })
    }

    /// The text of the commit.
    pub fn to_text(&self) -> String {
        let mut out = self.subject.clone();
        out.push_str("\n\n");
        if !self.body.is_empty() {
            out.push_str(&self.body.join("\n"));
            out.push_str("\n\n");
        }
        for (key, value) in &self.trailers {
            out.push_str(&format!("{key}: {value}\n"));
        }
        out
    }

    /// Reads a message. Trailers are the lines of the last paragraph if each is one.
    pub fn read(text: &str) -> Message {
        let text = text.trim_end();
        let (subject, rest) = text.split_once('\n').unwrap_or((text, ""));
        let mut paragraphs: Vec<&str> = rest.trim().split("\n\n").filter(|p| !p.trim().is_empty()).collect();
        let trailers = paragraphs.last().and_then(|last| read_trailers(last));
        if trailers.is_some() {
            paragraphs.pop();
        }
        let body = paragraphs.iter().flat_map(|p| p.lines()).map(str::to_owned).collect();
        Message { subject: subject.to_owned(), body, trailers: trailers.unwrap_or_default() }
    }
}

/// A sentence as the subject of a record: on one line, at most 72 characters, cut between words where there are several.
pub fn subject_of(sentence: &str) -> String {
    let line = on_a_line(sentence);
    let (mut out, mut long) = (String::new(), 0);
    for word in line.split_whitespace() {
        let letters = word.chars().count();
        if long > 0 && long + 1 + letters > LONGEST_SUBJECT {
            break;
        }
        if long > 0 {
            out.push(' ');
        }
        out.push_str(cut(word, LONGEST_SUBJECT));
        long = out.chars().count();
    }
    out.trim_end_matches([',', ':']).to_owned()
}

fn read_trailers(paragraph: &str) -> Option<Vec<(String, String)>> {
    paragraph
        .lines()
        .map(|line| {
            let (key, value) = line.split_once(": ")?;
            let word = key.chars().all(|c| c.is_ascii_alphanumeric() || c == '-');
            (word && !key.is_empty()).then(|| (key.to_owned(), value.to_owned()))
        })
        .collect()
}

fn kind_word(kind: Kind) -> &'static str {
    match kind {
        Kind::Open => "open",
        Kind::Change => "change",
        Kind::Revert => "revert",
        Kind::Measured => "measured",
        Kind::Run => "run",
        Kind::Mend => "mend",
        Kind::Oops => "oops",
        Kind::Other => "other",
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn written_and_read() {
        let mut m = Message::new(Kind::Change, "limiter lowered 0.25 in (1.00 -> 0.75)");
        m.body = vec!["one".to_owned(), "two".to_owned()];
        m.push("Version", "v7");
        m.push("Why", "two\nlines");
        assert_eq!(Message::read(&m.to_text()), m);
        assert_eq!(m.version(), Some(VersionNumber::plain(7)));
        assert_eq!(m.get("Why"), Some("two lines"));
    }

    #[test]
    fn a_subject_is_as_it_was_typed_and_one_line() {
        let typed = "trial \u{3bb}\u{3ac}\u{3c3}\u{3c4}\u{3b9}\u{3c7}\u{3bf}\nstarted";
        assert_eq!(subject_of(typed), "trial \u{3bb}\u{3ac}\u{3c3}\u{3c4}\u{3b9}\u{3c7}\u{3bf} started");
        assert_eq!(subject_of("a\u{202e}b\u{1b}[2J"), "a\\u{202e}b\\u{1b}[2J");
        assert_eq!(subject_of(&"\u{6c34}".repeat(100)), "\u{6c34}".repeat(72));
        let many = subject_of(&"\u{6c34}\u{6c34} ".repeat(40));
        assert_eq!((many.chars().count(), many.ends_with('\u{6c34}')), (71, true));
    }

    #[test]
    fn a_message_by_hand_has_no_kind() {
        let m = Message::read("fixed the sheet\n\nit was: wrong, in my view\n");
        assert_eq!((m.kind(), m.version()), (None, None));
        assert_eq!(m.body, ["it was: wrong, in my view"]);
    }
}
