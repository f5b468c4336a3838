//! A record's commit message: what happened, in words, and trailers that say what the commit is.

use super::left_out::{self, LeftOut};
use super::shortened::Shortened;
use super::texts::{Is, is_hex, is_run_id, is_version, what_typed};
use crate::diff::words::{LONGEST_SUBJECT, NOTHING_CHANGED};
use crate::schema::{Num, Schema};
use crate::slip::Moment;
use crate::text::{cut, on_a_line};
use crate::timeline::{Given, Kind, VersionNumber, noted_again};
use toml::Value as Toml;

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

/// The trailers this program writes, each with the form of its value. (The name of another car, which a record that went
/// there has, is none of them: it is somebody's word.)
const TRAILERS: [(&str, Form); 22] = [
    ("Back-to", Form::Version),
    ("Before", Form::Counts),
    ("Given", Form::Versions),
    ("Joins", Form::Record),
    ("Kind", Form::Kind),
    (left_out::TRAILER, Form::LeftOut),
    ("Measured", Form::Measured),
    ("Mended", Form::Sentence),
    ("On", Form::Version),
    ("Owner", Form::Name),
    ("Puts-back", Form::Record),
    ("Received", Form::HandoverId),
    ("Replaces", Form::Record),
    ("Run", Form::Run),
    ("Since", Form::Moment),
    ("Takes-back", Form::Record),
    ("Time", Form::Unknown),
    ("Trial", Form::Name),
    ("Typed", Form::Typed),
    ("Version", Form::Version),
    ("Was", Form::Version),
    ("Why", Form::Note),
];

#[derive(Clone, Copy)]
enum Form {
    Counts,
    HandoverId,
    Kind,
    LeftOut,
    Measured,
    Moment,
    Name,
    Note,
    Record,
    Run,
    Sentence,
    Typed,
    Unknown,
    Version,
    Versions,
}

/// What a record of the sheet says that changes no value of it.
pub(super) const COMMENTS: &str = "comments on the sheet";
/// The same of one that a mend left nothing of.
pub(super) const NOTHING_TURNED: &str = "nothing was turned after all";
/// All that is said where no value is another.
pub(super) const OF_NO_VALUE: [&str; 3] = [COMMENTS, NOTHING_TURNED, NOTHING_CHANGED];

/// What stands in a trailer.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) enum Said {
    /// Nothing but the program's own: numbers, moments, fields that are known.
    Own,
    /// The program's own form, with these texts in it: they stand in a file as well.
    Texts(Vec<String>),
    /// A sentence of this program.
    Sentence,
    /// A reason.
    Note,
    /// A name it does not write, or a form it does not: by hand it may be anything.
    Words,
}

/// What stands in a trailer of this name.
pub(super) fn said_in(schema: &Schema, key: &str, value: &str) -> Said {
    let Some((_, form)) = TRAILERS.iter().find(|(k, _)| *k == key) else { return Said::Words };
    let own = match form {
        Form::Counts => Shortened::read(value).is_some_and(|s| s.to_line() == value),
        Form::HandoverId => is_hex(value, 64),
        Form::Kind => KINDS.iter().any(|k| kind_word(*k) == value),
        Form::LeftOut => LeftOut::read(value).is_some(),
        Form::Measured => noted_again(schema, value, &|_| true).as_deref() == Some(value),
        Form::Moment => value.parse::<Moment>().is_ok_and(|at| at.iso() == value),
        Form::Record => is_hex(value, 40),
        Form::Run => is_run_id(value),
        Form::Unknown => value == "unknown",
        Form::Version => is_version(value),
        Form::Versions => value.split(' ').all(is_version),
        Form::Name => return Said::Texts(vec![value.to_owned()]),
        Form::Note => return Said::Note,
        Form::Sentence => return Said::Sentence,
        Form::Typed => return typed(schema, value).unwrap_or(Said::Words),
    };
    if own { Said::Own } else { Said::Words }
}

fn typed(schema: &Schema, value: &str) -> Option<Said> {
    let (path, what) = value.split_once(' ')?;
    let (field, _) = schema.locate(path)?;
    let step =
        || what.strip_prefix("step ").is_some_and(|n| Num::parse(n).is_some_and(|n| what == format!("step {n}")));
    if what == "off" || step() {
        return Some(Said::Own);
    }
    let reading = what.strip_prefix("reading ")?;
    if what_typed(schema, value) == Is::Fixed {
        return Some(Said::Own);
    }
    let read = format!("x = {reading}").parse::<toml::Table>().ok().filter(|t| t.len() == 1)?;
    let mut texts = Vec::new();
    texts_in(read.get("x")?, &|name| field.slot_index(name).is_some(), &mut texts);
    Some(Said::Texts(texts))
}

/// The texts in a value, and names of columns nobody knows.
fn texts_in(value: &Toml, known: &dyn Fn(&str) -> bool, out: &mut Vec<String>) {
    match value {
        Toml::String(text) => out.push(text.clone()),
        Toml::Array(list) => list.iter().for_each(|v| texts_in(v, known, out)),
        Toml::Table(table) => {
            out.extend(table.keys().filter(|name| !known(name)).cloned());
            table.values().for_each(|v| texts_in(v, known, out));
        }
        _ => {}
    }
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

    /// Takes note of the numbers of versions it says were given.
    pub fn note_numbers(&self, given: &mut Given) {
        self.get("Given").into_iter().for_each(|l| given.note_line(l));
        self.version().iter().for_each(|n| given.note(n));
    }

    /// What the record is; `None` for a commit made by hand.
    pub fn kind(&self) -> Option<Kind> {
        let word = self.get("Kind")?;
        Some(KINDS.into_iter().find(|k| kind_word(*k) == word).unwrap_or(Kind::Other))
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
    in_room(sentence, LONGEST_SUBJECT)
}

/// A sentence on one line of so many characters, cut between words where there are several.
pub(super) fn in_room(sentence: &str, room: usize) -> String {
    let line = on_a_line(sentence);
    let (mut out, mut long) = (String::new(), 0);
    for word in line.split_whitespace() {
        let letters = word.chars().count();
        if long > 0 && long + 1 + letters > room {
            break;
        }
        if long > 0 {
            out.push(' ');
        }
        out.push_str(cut(word, room));
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

const KINDS: [Kind; 8] =
    [Kind::Open, Kind::Change, Kind::Revert, Kind::Measured, Kind::Run, Kind::Mend, Kind::Oops, Kind::Other];

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
    fn a_trailer_is_the_programs_own_in_its_form_alone() {
        let at = "2026-08-22T14:20:00-05:00";
        let own = [
            ("Back-to", "v3b".to_owned()),
            ("Before", "3 versions, 12 runs".to_owned()),
            ("Left-out", "names, fields".to_owned()),
            ("Given", "v3 v1a v2b".to_owned()),
            ("Joins", "0123456789abcdef".repeat(3)[..40].to_owned()),
            ("Kind", "measured".to_owned()),
            ("Measured", "rear.height.left".to_owned()),
            ("Measured", format!("rear.height always {at}")),
            ("Measured", format!("rear.height moved v3 {at} rear.limiter.height,rear.link.preload")),
            ("Measured", format!("rear.height moved v3 {at}")),
            ("Received", "0123456789abcdef".repeat(4)),
            ("Run", "0a1b2c3d".to_owned()),
            ("Since", at.to_owned()),
            ("Time", "unknown".to_owned()),
            ("Typed", "rear.limiter.height step -0.25".to_owned()),
            ("Typed", "rear.tire.pressure.left reading 12.25".to_owned()),
            ("Typed", "rear.tire.pressure off".to_owned()),
            ("Was", "v3".to_owned()),
        ];
        let said = |key: &str, value: &str| said_in(crate::schema::schema(), key, value);
        for (key, value) in &own {
            assert_eq!(said(key, value), Said::Own, "{key}: {value}");
            for more in [
                format!("{value} words"),
                format!("words {value}"),
                format!("{value},words"),
                value.replacen(' ', "  ", 1) + ".",
            ] {
                assert_eq!(said(key, &more), Said::Words, "{key}: {more}");
            }
            assert_eq!(said("Note", value), Said::Words);
        }
        let texts = |texts: &[&str]| Said::Texts(texts.iter().map(|t| (*t).to_owned()).collect());
        assert_eq!(said("Typed", "weight.as_weighed reading \"in it\""), texts(&["in it"]));
        assert_eq!(
            said("Typed", "weight.ballast reading [{ weight = 25, where = \"a\", b = \"c\" }]"),
            texts(&["b", "c", "a"])
        );
        assert_eq!(said("Typed", "weight.as_weighed reading \"in it\" and more"), Said::Words);
        assert_eq!(said("Trial", "pairs"), texts(&["pairs"]));
    }

    #[test]
    fn a_message_by_hand_has_no_kind() {
        let m = Message::read("fixed the sheet\n\nit was: wrong, in my view\n");
        assert_eq!((m.kind(), m.version()), (None, None));
        assert_eq!(m.body, ["it was: wrong, in my view"]);
    }
}
