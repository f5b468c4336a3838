//! What a book would tell a stranger beside the car's own record: names, addresses, phone numbers, notes, private fields.

use super::book::{Book, History};
use super::leftover::pieces;
use super::message::Message;
use super::private::{digits_of, phones};
use super::rewrite::{is_free_note, is_own};
use super::{Error, Result};
use crate::schema::{Field, Schema, Sheet};
use crate::store::{Met, StoreError};
use std::collections::{BTreeMap, BTreeSet};

/// A phone number that was found.
#[derive(Debug, Clone, PartialEq, Eq, serde::Serialize)]
pub struct PhoneFound {
    /// As it stands there.
    pub number: String,
    /// The file, or the words of the record, it was first found in.
    pub in_: String,
}

/// What would go along, over the whole history: what was changed or taken back later is in it too.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Outgoing {
    /// People on record (hands that wrote, owners, who read the air), with how many records each wrote.
    pub names: BTreeMap<String, usize>,
    /// Mail addresses of those who wrote with git by hand.
    pub addresses: BTreeSet<String>,
    /// Phone numbers, each once.
    pub phones: Vec<PhoneFound>,
    /// Different notes and reasons.
    pub notes: usize,
    /// The notes and reasons themselves.
    pub note_texts: BTreeSet<String>,
    /// Labels of fields marked private that are on record on some sheet.
    pub private: Vec<String>,
    /// Files by hand that are no part of a book.
    pub other_files: BTreeSet<String>,
}

/// The address this program writes; it is nobody's.
const NOBODY: &str = "slipbook@localhost";

/// Reads the whole history for it. `tell` hears how many objects were read.
pub fn outgoing(book: &Book, history: &History, tell: &dyn Fn(usize)) -> Result<Outgoing> {
    let head = history.head.ok_or_else(|| Error::data("the book has no record yet", "slipbook new"))?;
    let mut out = Outgoing::default();
    let mut notes: BTreeSet<String> = BTreeSet::new();
    let mut numbers: BTreeSet<String> = BTreeSet::new();
    let keys = note_keys(&book.schema);
    let mut done = 0;
    book.store.read_through(head, &mut |met| {
        done += 1;
        tell(done);
        let (texts, place) = match &met {
            Met::Commit(commit) => {
                for who in [&commit.author, &commit.committer] {
                    if who.email != NOBODY && !who.email.is_empty() {
                        out.addresses.insert(who.email.clone());
                    }
                }
                *out.names.entry(commit.author.name.clone()).or_default() += 1;
                out.names.entry(commit.committer.name.clone()).or_default();
                let message = Message::read(&commit.message);
                notes.extend(message.get("Why").map(str::to_owned));
                (vec![commit.message.clone()], format!("the record \"{}\"", message.subject))
            }
            Met::File { path, bytes } => {
                if !is_own(path) {
                    out.other_files.insert((*path).to_owned());
                }
                let text = String::from_utf8_lossy(bytes).into_owned();
                notes.extend(texts_of(&text, &keys));
                for name in values_of(&text, "by") {
                    out.names.entry(name).or_default();
                }
                (pieces(&text).into_iter().map(|p| p.text).collect(), (*path).to_owned())
            }
        };
        for text in &texts {
            for range in phones(text) {
                let number = text[range].to_owned();
                if numbers.insert(digits_of(&number)) {
                    out.phones.push(PhoneFound { number, in_: place.clone() });
                }
            }
        }
        Ok::<(), StoreError>(())
    })?;
    for owner in &book.car.owners {
        out.names.entry(owner.name.clone()).or_default();
    }
    out.names.remove("unknown");
    out.notes = notes.len();
    out.note_texts = notes.iter().map(|n| n.trim_matches(['"', '\'']).to_owned()).collect();
    let private: Vec<&Field> = book.schema.fields.iter().filter(|f| is_private(book, f)).collect();
    if !private.is_empty() {
        let sheets = book.sheets(&history.timeline)?;
        let held = |f: &&&Field| sheets.values().any(|s: &Sheet| s.get(&f.key).is_some());
        out.private = private.iter().filter(held).map(|f| f.label.clone()).collect();
    }
    Ok(out)
}

/// Whether a field is nobody else's business: marked so where it is defined, or in the car's own list.
pub fn is_private(book: &Book, field: &Field) -> bool {
    let group = |named: &String| field.group == *named || field.area.to_lowercase() == named.to_lowercase();
    field.private || book.car.private.iter().any(|named| *named == field.key || group(named))
}

/// The last parts of keys under which free words stand: notes of a day, a run, a part, a trial, and of the sheet.
pub fn note_keys(schema: &Schema) -> BTreeSet<String> {
    let of_sheet = schema.fields.iter().filter(|f| is_free_note(f)).map(|f| f.table_and_name().1.to_owned());
    ["note", "why", "gone_how"].map(str::to_owned).into_iter().chain(of_sheet).collect()
}

/// The texts that stand under these keys, in the form this program writes them.
fn texts_of(text: &str, keys: &BTreeSet<String>) -> Vec<String> {
    let mut out = Vec::new();
    let mut lines = text.lines();
    while let Some(line) = lines.next() {
        let Some((key, value)) = line.split_once('=') else { continue };
        if !keys.contains(key.trim()) {
            continue;
        }
        let value = value.trim();
        let long = ["\"\"\"", "'''"].into_iter().find(|q| value.starts_with(q) && !value[3..].contains(q));
        out.push(match long {
            None => value.to_owned(),
            Some(quote) => lines.by_ref().take_while(|l| !l.contains(quote)).collect::<Vec<_>>().join("\n"),
        });
    }
    out
}

/// Plain texts under a key.
fn values_of<'t>(text: &'t str, key: &'t str) -> impl Iterator<Item = String> + 't {
    text.lines().filter_map(move |line| {
        let (k, value) = line.split_once('=')?;
        let value = value.trim().strip_prefix('"')?;
        (k.trim() == key).then(|| value.split('"').next().unwrap_or_default().to_owned()).filter(|v| !v.is_empty())
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn notes_are_found_in_the_forms_they_are_written_in() {
        let keys = BTreeSet::from(["note".to_owned(), "why".to_owned()]);
        let text = "note = \"one\"\nat = 09:00:00\nnote = \"\"\"\ntwo\nlines\"\"\"\nwhy = 'three'\n# note = 4\nx = 1\n";
        assert_eq!(texts_of(text, &keys), ["\"one\"", "two", "'three'"]);
        assert_eq!(values_of("by = \"Pell\"\nbyte = \"x\"\nby = 3\n", "by").collect::<Vec<_>>(), ["Pell"]);
    }
}
