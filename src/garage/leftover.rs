//! What was left out of a rewritten copy is looked for in it once more: every message and every file. If something of it
//! is there, the copy is not given out.

use super::book::Book;
use super::car::{day_header, sheet_header};
use super::message::Message;
use super::outgoing::Outgoing;
use super::phone::{digits_of, has_digits, phones};
use super::private::{LEFT_OUT, is_named};
use super::rewrite::{LeaveOut, NOT_ALONG};
use super::texts::{Is, has_text, pieces, what};
use super::{Error, Result};
use crate::schema::{Schema, read_sheet};
use crate::store::{Commit, Met, StoreError};
use crate::timeline::Kind;
use std::collections::BTreeSet;

/// Looks through the copy. What comes back is where names of things still say what was left out: these stay.
pub fn look_again(copy: &Book, schema: &Schema, out: &LeaveOut, found: &Outgoing) -> Result<BTreeSet<String>> {
    let head = copy.history()?.head.ok_or_else(|| Error::data("the copy has no record", "slipbook handover --help"))?;
    let mut look = Look {
        schema,
        out,
        numbers: found.phones.iter().map(|p| digits_of(&p.number)).collect(),
        notes: found.note_texts.iter().filter(|n| n.chars().count() >= LONG_ENOUGH).cloned().collect(),
        stay: BTreeSet::new(),
        wrong: None,
    };
    copy.store.read_through(head, &mut |met| {
        match &met {
            Met::Commit(commit) => look.commit(commit),
            Met::File { path, bytes } => look.file(path, &String::from_utf8_lossy(bytes)),
        }
        Ok::<(), StoreError>(())
    })?;
    match look.wrong {
        None => Ok(look.stay),
        Some(what) => Err(Error::data(
            format!("{what}, though it was to be left out; nothing was written"),
            "where the name of a part, a track or a trial has it, that stays: hand the book over without leaving it out",
        )),
    }
}

/// A shorter note may stand somewhere else by chance, in characters.
const LONG_ENOUGH: usize = 12;

struct Look<'a> {
    schema: &'a Schema,
    out: &'a LeaveOut,
    numbers: Vec<String>,
    notes: Vec<String>,
    stay: BTreeSet<String>,
    wrong: Option<String>,
}

impl Look<'_> {
    fn wrong(&mut self, what: String) {
        self.wrong.get_or_insert(what);
    }

    fn commit(&mut self, commit: &Commit) {
        let message = Message::read(&commit.message);
        let place = format!("the record \"{}\"", message.subject);
        for who in [&commit.author, &commit.committer] {
            self.text(&who.name, &place, &Is::Words);
            self.text(&who.email, &place, &Is::Words);
        }
        self.raw(&commit.message, &place);
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
                "Typed" if field.is_some_and(|f| f.kind == "own_part") => Is::Name("a part's name"),
                "Typed" if field.is_some_and(|f| !has_text(f)) => Is::Fixed,
                "Trial" => Is::Name("a trial's name"),
                _ => Is::Words,
            };
            self.text(value, &place, &is);
        }
        // What is said anew from the sheets, or from a slip, may be what somebody put into a note as well.
        let anew =
            matches!(message.kind(), Some(Kind::Open | Kind::Change | Kind::Revert | Kind::Measured | Kind::Run));
        let mut notes = self.notes.iter().filter(|_| self.out.notes && !anew);
        if let Some(note) = notes.find(|n| commit.message.contains(n.as_str())) {
            let what = format!("{place} has a note in it (\"{note}\")");
            self.wrong(what);
        }
        let key = self.out.fields.iter().find(|k| k.contains('.') && is_named(&commit.message, k)).cloned();
        key.iter().for_each(|k| self.wrong(format!("{place} tells of `{k}`")));
    }

    fn file(&mut self, path: &str, text: &str) {
        self.raw(text, path);
        if path == super::sound::SHEET && !self.out.fields.is_empty() {
            let sheet = read_sheet(self.schema, text).sheet;
            let held = self.out.fields.iter().find(|k| sheet.get(k).is_some());
            held.cloned().iter().for_each(|k| self.wrong(format!("{path} has `{k}`")));
        }
        let heads = [sheet_header(), day_header()].concat();
        for piece in pieces(text) {
            let is = what(self.schema, path, &piece.key);
            if self.out.notes && is == Is::Note && piece.text != LEFT_OUT {
                self.wrong(format!("{path} has a note"));
            }
            // The lines this program puts at the head of a file name nobody.
            if !(piece.key.is_empty() && heads.iter().any(|h| h.ends_with(&piece.text))) {
                self.text(&piece.text, path, &is);
            }
        }
    }

    /// A number's digits stand nowhere in the copy, not as ids and not as measures.
    fn raw(&mut self, text: &str, place: &str) {
        if self.out.scrub.phones && self.numbers.iter().any(|n| has_digits(text, n)) {
            self.wrong(format!("a phone number is still in {place}"));
        }
    }

    fn text(&mut self, text: &str, place: &str, is: &Is) {
        if matches!(is, Is::Fixed) {
            return;
        }
        if self.out.scrub.phones && !phones(text).is_empty() {
            self.wrong(format!("a phone number is still in {place}"));
        }
        let name = self.out.scrub.has_name(text);
        let value = self.out.scrub.texts.iter().find(|v| is_named(text, v)).cloned();
        match is {
            Is::Name(what) if name || value.is_some() => drop(self.stay.insert((*what).to_owned())),
            Is::Name(_) => {}
            _ if name => self.wrong(format!("a name is still in {place}")),
            _ => value.iter().for_each(|v| self.wrong(format!("\"{v}\" is still in {place}"))),
        }
    }
}
