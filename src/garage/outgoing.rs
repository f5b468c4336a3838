//! What a book would tell a stranger beside the car's own record: names, addresses, phone numbers, notes, private fields.

use super::book::{Book, History};
use super::message::Message;
use super::phone::{digits_of, phones};
use super::private::{Scrub, addresses, in_order};
use super::rewrite::is_own;
use super::texts::{Is, pieces, what};
use super::{Error, Result};
use crate::schema::{Field, Sheet};
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
    /// Owners, each once: today's in their order, then those only an older record has.
    pub owners: Vec<String>,
    /// Mail addresses: of those who wrote with git by hand, and in texts.
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
    let mut numbers: BTreeSet<String> = BTreeSet::new();
    book.car.owners.iter().for_each(|o| out.owner(&o.name));
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
                out.note_texts.extend(message.get("Why").map(str::to_owned));
                (vec![commit.message.clone()], format!("the record \"{}\"", message.subject))
            }
            Met::File { path, bytes } => {
                if !is_own(path) {
                    out.other_files.insert((*path).to_owned());
                }
                let found = pieces(&String::from_utf8_lossy(bytes));
                for piece in &found {
                    match what(&book.schema, path, &piece.key) {
                        Is::Note => drop(out.note_texts.insert(piece.text.clone())),
                        Is::Person => {
                            out.names.entry(piece.text.clone()).or_default();
                            if *path == "car.toml" {
                                out.owner(&piece.text);
                            }
                        }
                        _ => {}
                    }
                }
                (found.into_iter().map(|p| p.text).collect(), (*path).to_owned())
            }
        };
        for text in &texts {
            out.addresses.extend(addresses(text).into_iter().map(|range| text[range].to_owned()));
            for range in phones(text) {
                let number = text[range].to_owned();
                if numbers.insert(digits_of(&number)) {
                    out.phones.push(PhoneFound { number, in_: place.clone() });
                }
            }
        }
        Ok::<(), StoreError>(())
    })?;
    for owner in out.owners.clone() {
        out.names.entry(owner).or_default();
    }
    out.names.retain(|name, _| name != "unknown" && !name.trim().is_empty());
    out.notes = out.note_texts.len();
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

impl Outgoing {
    fn owner(&mut self, name: &str) {
        if !self.owners.iter().any(|o| o.to_lowercase() == name.to_lowercase()) {
            self.owners.push(name.to_owned());
        }
    }

    /// What stands for each name: owners by their order, other hands by theirs.
    pub fn instead(&self) -> Vec<(String, String)> {
        let owners: Vec<String> = self.owners.iter().map(|o| o.to_lowercase()).collect();
        let mut hands: Vec<String> = Vec::new();
        let mut name_of = |name: &str| {
            let name = name.to_lowercase();
            if let Some(i) = owners.iter().position(|o| *o == name) {
                return format!("owner {}", i + 1);
            }
            let known = hands.iter().position(|h| *h == name).unwrap_or(hands.len());
            if known == hands.len() {
                hands.push(name);
            }
            format!("hand {}", known + 1)
        };
        let mut known: BTreeMap<String, String> = BTreeMap::new();
        for name in self.names.keys() {
            let instead = name_of(name);
            // The sentence of a record is ASCII: what is not is a blank there, or a question mark.
            for as_if in ["", " ", "?"] {
                let said: String =
                    name.chars().map(|c| if c.is_ascii() { c.to_string() } else { as_if.into() }).collect();
                let said = said.split_whitespace().collect::<Vec<_>>().join(" ");
                if said.chars().filter(char::is_ascii_alphanumeric).count() > 1 {
                    known.entry(said).or_insert_with(|| instead.clone());
                }
            }
            known.insert(name.clone(), instead);
        }
        // Numbered in the order of the alphabet, put in longest first.
        let order = in_order(&known.keys().cloned().collect());
        order.into_iter().filter_map(|n| known.remove_entry(&n)).collect()
    }

    /// The words of names of several words, with what stands for the name: those that begin with a large letter and are no
    /// name of their own.
    pub fn instead_of_parts(&self) -> Vec<(String, String)> {
        let whole = self.instead();
        let mut parts: BTreeMap<String, String> = BTreeMap::new();
        for (name, instead) in &whole {
            let words: Vec<&str> = name.split(|c: char| !c.is_alphanumeric()).filter(|w| !w.is_empty()).collect();
            let large = |w: &&&str| w.chars().count() > 2 && w.starts_with(char::is_uppercase);
            for word in words.iter().filter(|_| words.len() > 1).filter(large) {
                if !whole.iter().any(|(n, _)| n.to_lowercase() == word.to_lowercase()) {
                    parts.entry((*word).to_owned()).or_insert_with(|| instead.clone());
                }
            }
        }
        parts.into_iter().collect()
    }

    /// Without what stands for names and reasons that were left out: they are nobody's.
    pub fn without_stand_ins(mut self, scrub: &Scrub) -> Outgoing {
        self.note_texts.remove(super::private::LEFT_OUT);
        self.notes = self.note_texts.len();
        let stands = |name: &String| scrub.names.iter().any(|(_, instead)| instead == name);
        self.names.retain(|name, _| scrub.names.is_empty() || !stands(name) && name != super::private::SOMEONE);
        self
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn each_person_has_one_stand_in_however_the_name_is_written() {
        let names = ["Pell", "Ro Marsh", "ro marsh", "Zo\u{e9} Hart", "unknown"];
        let out = Outgoing {
            names: names.iter().map(|n| ((*n).to_owned(), 1)).collect(),
            owners: vec!["Ro Marsh".to_owned()],
            ..Outgoing::default()
        };
        let instead = out.instead();
        let of = |name: &str| instead.iter().find(|(n, _)| n == name).map(|(_, i)| i.as_str());
        assert_eq!((of("Ro Marsh"), of("ro marsh"), of("Pell")), (Some("owner 1"), Some("owner 1"), Some("hand 1")));
        for said in ["Zo\u{e9} Hart", "Zo Hart", "Zo? Hart"] {
            assert_eq!(of(said), Some("hand 2"), "{said}");
        }
        let parts = out.instead_of_parts();
        let parts: Vec<(&str, &str)> = parts.iter().map(|(n, i)| (n.as_str(), i.as_str())).collect();
        assert_eq!(parts, [("Hart", "hand 2"), ("Marsh", "owner 1"), ("Zo\u{e9}", "hand 2")]);
        assert!(instead.windows(2).all(|p| p[0].0.chars().count() >= p[1].0.chars().count()), "{instead:?}");
    }
}
