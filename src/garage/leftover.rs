//! What was left out of a rewritten copy is looked for in it once more: every message and every file. If something of it
//! is there, the copy is not given out.

use super::book::{Book, History};
use super::message::Message;
use super::outgoing::{Outgoing, note_keys};
use super::private::{digits_of, has_digits, is_named, phones};
use super::rewrite::LeaveOut;
use super::{Error, Result};
use crate::schema::{Schema, Takes, Value, read_sheet};
use crate::slip::day_of_path;
use crate::store::{Commit, Met, StoreError};
use std::collections::BTreeSet;
use toml::{Table, Value as Toml};

/// A text that goes along, and where it stands.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Piece {
    /// The key it stands under, dotted; empty for a comment, or where the file is of no known form.
    pub key: String,
    /// The text.
    pub text: String,
}

/// The texts of a file: what stands under its keys, and its comments; numbers are none.
pub fn pieces(text: &str) -> Vec<Piece> {
    let Ok(table) = text.parse::<Table>() else { return vec![Piece { key: String::new(), text: text.to_owned() }] };
    let mut out = Vec::new();
    strings(&Toml::Table(table), "", &mut out);
    // Behind a value a `#` is no sure sign of a comment: such a tail is a text as well, and seen twice if it is none.
    let comments = text.lines().filter_map(|l| l.split_once('#')).map(|(_, c)| c.to_owned());
    out.extend(comments.map(|text| Piece { key: String::new(), text }));
    out
}

fn strings(value: &Toml, key: &str, out: &mut Vec<Piece>) {
    match value {
        Toml::String(text) => out.push(Piece { key: key.to_owned(), text: text.clone() }),
        Toml::Array(list) => list.iter().for_each(|v| strings(v, key, out)),
        Toml::Table(table) => {
            for (name, value) in table {
                let path = if key.is_empty() { name.clone() } else { format!("{key}.{name}") };
                strings(value, &path, out);
            }
        }
        _ => {}
    }
}

/// What a text is in the copy, to somebody who looks for what was left out.
enum Is<'a> {
    /// Words that are to be clean.
    Words,
    /// A name of a thing, which stays: what it is.
    Name(&'a str),
    /// One of the program's own words, an id, a time.
    Fixed,
}

/// Looks through the copy. What comes back is where names of things still say what was left out: these stay.
pub fn look_again(
    copy: &Book,
    book: &Book,
    history: &History,
    out: &LeaveOut,
    found: &Outgoing,
) -> Result<BTreeSet<String>> {
    let head = copy.history()?.head.ok_or_else(|| Error::data("the copy has no record", "slipbook handover --help"))?;
    let mut look = Look {
        schema: &book.schema,
        out,
        numbers: found.phones.iter().map(|p| digits_of(&p.number)).collect(),
        notes: found.note_texts.iter().filter(|n| n.chars().count() >= LONG_ENOUGH).cloned().collect(),
        note_keys: note_keys(&book.schema),
        values: own_values(book, history, out)?,
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
            "leave the notes out too (--without notes), or hand the book over without leaving that out",
        )),
    }
}

/// A shorter note may stand somewhere else by chance, in characters.
const LONG_ENOUGH: usize = 12;

/// A shorter text is a word too often, in characters.
const WORD_ENOUGH: usize = 4;

/// Texts that only fields left out ever had.
fn own_values(book: &Book, history: &History, out: &LeaveOut) -> Result<BTreeSet<String>> {
    let (mut own, mut others) = (BTreeSet::new(), BTreeSet::new());
    if out.fields.is_empty() {
        return Ok(own);
    }
    for sheet in book.sheets(&history.timeline)?.values() {
        for field in book.schema.fields.iter().filter(|f| f.takes() == Takes::Text) {
            let texts = sheet.get(&field.key).into_iter().flat_map(Value::scalars).map(ToString::to_string);
            let into = if out.fields.contains(&field.key) { &mut own } else { &mut others };
            into.extend(texts.map(|t| t.trim().to_lowercase()).filter(|t| t.chars().count() >= WORD_ENOUGH));
        }
    }
    own.retain(|t| !others.contains(t));
    Ok(own)
}

struct Look<'a> {
    schema: &'a Schema,
    out: &'a LeaveOut,
    numbers: Vec<String>,
    notes: Vec<String>,
    note_keys: BTreeSet<String>,
    values: BTreeSet<String>,
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
        self.text(&message.subject, &place, &Is::Words);
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
                "Typed" if field.is_some_and(|f| f.takes() == Takes::Text) => Is::Words,
                "Trial" => Is::Name("a trial's name"),
                "Why" | "Mended" => Is::Words,
                _ => Is::Fixed,
            };
            self.text(value, &place, &is);
        }
        if let Some(note) = self.notes.iter().find(|n| self.out.notes && commit.message.contains(n.as_str())) {
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
        for piece in pieces(text) {
            let last = piece.key.rsplit('.').next().unwrap_or_default();
            if self.out.notes && self.note_keys.contains(last) && !piece.key.starts_with("rule") {
                self.wrong(format!("{path} has a note"));
            }
            let is = self.is(path, &piece.key, last);
            self.text(&piece.text, path, &is);
        }
    }

    /// What stands under a key of a file.
    fn is(&self, path: &str, key: &str, last: &str) -> Is<'static> {
        if path == super::sound::SHEET {
            return match self.schema.field(key) {
                Some(f) if f.kind == "own_part" => Is::Name("a part's name"),
                Some(f) if f.takes() != Takes::Text => Is::Fixed,
                _ => Is::Words,
            };
        }
        if day_of_path(path).is_some() {
            return match last {
                "track" => Is::Name("a track's name"),
                "note" | "prep" | "unread" | "by" | "" => Is::Words,
                _ => Is::Fixed,
            };
        }
        if path == "car.toml" {
            return match (key, last) {
                ("name", _) => Is::Name("the car's name"),
                _ if key.starts_with("field.") => Is::Name("a field of the car's own"),
                _ if key.starts_with("part.values.") => match self.schema.field(&key["part.values.".len()..]) {
                    Some(f) if f.takes() == Takes::Text => Is::Words,
                    _ => Is::Fixed,
                },
                _ if key.starts_with("part.limits.") => Is::Fixed,
                (_, "name") if key.starts_with("part") => Is::Name("a part's name"),
                (_, "note" | "gone_how" | "why" | "reason" | "class" | "by" | "") => Is::Words,
                ("owner.name", _) => Is::Words,
                _ => Is::Fixed,
            };
        }
        match last {
            "name" => Is::Name("a trial's name"),
            "why" | "by" | "note" | "evidence" | "" => Is::Words,
            _ => Is::Fixed,
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
        let name = self.out.scrub.names.iter().any(|(n, _)| n.chars().count() > 1 && is_named(text, n));
        let value = self.values.iter().find(|v| is_named(text, v)).cloned();
        match is {
            Is::Name(what) if name || value.is_some() => drop(self.stay.insert((*what).to_owned())),
            Is::Name(_) => {}
            _ if name => self.wrong(format!("a name is still in {place}")),
            _ => value.iter().for_each(|v| self.wrong(format!("\"{v}\" is still in {place}"))),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn texts_of_a_file_are_found_and_its_numbers_are_none() {
        let text = "# tel 555 0144\na = 555.0143\n[b]\nc = [\"x\", 'y']\n[[d]]\nnote = \"\"\"\none\ntwo\"\"\" # who\n";
        let found = pieces(text);
        let of = |key: &str| found.iter().filter(|p| p.key == key).map(|p| p.text.as_str()).collect::<Vec<_>>();
        assert_eq!(of("b.c"), ["x", "y"]);
        assert_eq!(of("d.note"), ["one\ntwo"]);
        assert_eq!(of(""), [" tel 555 0144", " who"]);
        assert!(found.iter().all(|p| !p.text.contains("0143")));
        assert_eq!(pieces("no = toml = at all").len(), 1);
    }
}
