//! What was left out of a rewritten copy is looked for in it once more: every message and every file. If something of it
//! is there, the copy is not given out.

use super::book::Book;
use super::car::{day_header, sheet_header};
use super::message::{Message, Said, said_in};
use super::named::is_named;
use super::outgoing::{Outgoing, place_of};
use super::phone::known;
use super::private::LEFT_OUT;
use super::rewrite::{LeaveOut, NOT_ALONG, called, is_called_so};
use super::texts::{Is, Piece, pieces, what, what_typed};
use super::{Error, Result};
use crate::schema::{Schema, read_sheet};
use crate::store::{Commit, Met, StoreError};
use crate::timeline::Kind;
use std::collections::BTreeSet;

/// Looks through the copy. What comes back is where names of things still say what was left out, which stay, and the names
/// that are plain words and stand in it written small.
pub fn look_again(
    copy: &Book,
    schema: &Schema,
    out: &LeaveOut,
    found: &Outgoing,
) -> Result<(BTreeSet<String>, BTreeSet<String>)> {
    let head = copy.history()?.head.ok_or_else(|| Error::data("the copy has no record", "slipbook handover --help"))?;
    let mut look = Look {
        schema,
        out,
        notes: found.note_texts.keys().filter(|n| n.chars().count() >= LONG_ENOUGH).cloned().collect(),
        stay: BTreeSet::new(),
        small: BTreeSet::new(),
        called_so: BTreeSet::new(),
        wrong: None,
    };
    copy.store.read_through(head, &mut |met| {
        match &met {
            Met::Commit { commit, more } => look.commit(commit, more),
            Met::File { path, bytes } => look.file(path, &String::from_utf8_lossy(bytes)),
        }
        Ok::<(), StoreError>(())
    })?;
    match look.wrong {
        None => Ok((look.stay, look.small)),
        Some((what, help)) => {
            Err(Error::data(format!("{what}, though it was to be left out; nothing was written"), help))
        }
    }
}

/// A shorter note may stand somewhere else by chance, in characters.
const LONG_ENOUGH: usize = 12;

struct Look<'a> {
    schema: &'a Schema,
    out: &'a LeaveOut,
    notes: Vec<String>,
    stay: BTreeSet<String>,
    small: BTreeSet<String>,
    /// Days and trials that are.
    called_so: BTreeSet<String>,
    /// What was found first, and what can be done.
    wrong: Option<(String, String)>,
}

impl Look<'_> {
    fn wrong(&mut self, what: String) {
        self.wrong.get_or_insert((what, "slipbook handover --list tells what is in the book and where".to_owned()));
    }

    /// A name of a thing stays, and so would what is in it.
    fn wrong_name(&mut self, what: String, kind: Option<&str>) {
        let without =
            kind.map(|k| format!("leave its kind out as well (--without phones,{k}), or ")).unwrap_or_default();
        let help = format!(
            "no command renames what is on record, it stays in the history: {without}hand over what came after it (--since)"
        );
        self.wrong.get_or_insert((what, help));
    }

    fn commit(&mut self, commit: &Commit, more: &[String]) {
        let message = Message::read(&commit.message);
        let place = place_of(commit, &message);
        more.iter().for_each(|l| self.text(l, &place, &Is::Words));
        for who in [&commit.author, &commit.committer] {
            self.text(&who.name, &place, &Is::Words);
            self.text(&who.email, &place, &Is::Words);
        }
        if message.subject != NOT_ALONG {
            self.text(&message.subject, &place, &Is::Words);
        }
        message.body.iter().for_each(|l| self.text(l, &place, &Is::Words));
        for (key, value) in &message.trailers {
            let path = value.split(' ').next().unwrap_or_default();
            let field = self.schema.locate(path).map(|(field, _)| field);
            let of_field = matches!(key.as_str(), "Typed" | "Measured");
            if of_field && !self.out.fields.is_empty() && field.is_none_or(|f| self.out.fields.contains(&f.key)) {
                self.wrong(format!("{place} tells of `{path}`"));
            }
            if self.out.notes && key == "Why" {
                self.wrong(format!("{place} has a reason"));
            }
            let is = match key.as_str() {
                "Typed" => what_typed(self.schema, value),
                "Trial" => Is::Name("a trial's name"),
                _ => Is::Words,
            };
            self.text(value, &place, &is);
        }
        // What is said anew from the sheets, or from a slip, may be what somebody put into a note as well.
        let anew =
            matches!(message.kind(), Some(Kind::Open | Kind::Change | Kind::Revert | Kind::Measured | Kind::Run));
        let lines = message.trailers.iter().filter(|(key, _)| !anew || key != "Typed").map(|(_, value)| value);
        let sentences = std::iter::once(&message.subject).chain(&message.body).filter(|_| !anew);
        let said: Vec<&String> = sentences.chain(lines).filter(|_| self.out.notes).collect();
        if let Some(note) = self.notes.iter().find(|n| said.iter().any(|l| l.contains(n.as_str()))) {
            let what = format!("{place} has a note in it (\"{note}\")");
            self.wrong(what);
        }
        let theirs = |(key, value): &&(String, String)| said_in(self.schema, key, value) == Said::Words;
        if let Some((key, _)) = message.trailers.iter().find(theirs) {
            let what = format!("{place} has a line \"{key}:\" that is not this program's");
            self.wrong(what);
        }
        let key = self.out.fields.iter().find(|k| k.contains('.') && is_named(&commit.message, k)).cloned();
        key.iter().for_each(|k| self.wrong(format!("{place} tells of `{k}`")));
        self.raw(&commit.message, &place);
    }

    fn file(&mut self, path: &str, text: &str) {
        // A day and a trial are called after what stands in them; that is looked at there.
        if let Some(called) = called(path).filter(|_| !self.called_so.contains(path)) {
            if is_called_so(path, text) {
                self.called_so.insert(path.to_owned());
            } else {
                self.text(&called, &format!("the name of {path}"), &Is::Words);
                self.raw(&called, path);
            }
        }
        if path == super::sound::SHEET && !self.out.fields.is_empty() {
            let sheet = read_sheet(self.schema, text).sheet;
            let held = self.out.fields.iter().find(|k| sheet.get(k).is_some());
            held.cloned().iter().for_each(|k| self.wrong(format!("{path} has `{k}`")));
        }
        let heads = [sheet_header(), day_header()].concat();
        for piece in pieces(self.schema, path, text) {
            let is = what(self.schema, path, &piece.key, &piece.text);
            if self.out.notes && is == Is::Note && piece.text != LEFT_OUT {
                self.wrong(format!("{path} has a note"));
            }
            // The lines this program puts at the head of a file name nobody.
            if !(piece.key.is_empty() && heads.iter().any(|h| h.ends_with(&piece.text))) {
                self.text(&piece.text, path, &is);
            }
            if let Is::Name(thing) = is
                && !self.out.scrub.numbers_in(&piece.text).is_empty()
            {
                let kind = kind_of(path, text, &piece);
                self.wrong_name(format!("a phone number is in {thing}, \"{}\" ({path})", piece.text), kind.as_deref());
            }
        }
        self.raw(text, path);
    }

    /// A known number's digits stand nowhere in the copy, not as ids and not as measures.
    fn raw(&mut self, text: &str, place: &str) {
        if self.out.scrub.phones
            && let Some(range) = known(text, &self.out.scrub.numbers).into_iter().next()
        {
            let line = text.lines().find(|l| l.contains(&text[range.clone()])).unwrap_or_default().trim();
            self.wrong(format!("the phone number {} is still in {place} ({line})", &text[range]));
        }
    }

    fn text(&mut self, text: &str, place: &str, is: &Is) {
        if matches!(is, Is::Fixed) {
            return;
        }
        let number = self.out.scrub.numbers_in(text).into_iter().next();
        if let Some(range) = number.filter(|_| !matches!(is, Is::Name(_))) {
            self.wrong(format!("the phone number {} is still in {place} (\"{text}\")", &text[range]));
        }
        let name = match is {
            Is::Name(_) => self.out.scrub.has_name_of_all(text),
            _ => self.out.scrub.has_name(text),
        };
        if self.out.scrub.people {
            self.small.extend(self.out.scrub.stays_small(text));
        }
        let value = self.out.scrub.texts.iter().find(|v| is_named(text, v)).cloned();
        match is {
            Is::Name(what) if name || value.is_some() => drop(self.stay.insert((*what).to_owned())),
            Is::Name(_) => {}
            _ if name => self.wrong(format!("a name is still in {place} (\"{text}\")")),
            _ => value.iter().for_each(|v| self.wrong(format!("\"{v}\" is still in {place}"))),
        }
    }
}

/// The field a part of this name is on the car by.
fn kind_of(path: &str, text: &str, piece: &Piece) -> Option<String> {
    if path == super::sound::SHEET {
        return Some(piece.key.clone());
    }
    let table = text.parse::<toml::Table>().ok().filter(|_| path == "car.toml" && piece.key == "part.name")?;
    let parts = table.get("part")?.as_array()?;
    let named = parts.iter().find(|p| p.get("name").and_then(toml::Value::as_str) == Some(&piece.text))?;
    named.get("kind")?.as_str().map(str::to_owned)
}
