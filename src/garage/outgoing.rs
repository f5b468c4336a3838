//! What a book would tell a stranger beside the car's own record: names, addresses, phone numbers, notes, private fields.

use super::book::Book;
use super::car::{CAR_HEADER, day_header, sheet_header};
use super::history::History;
use super::message::Message;
use super::named::{is_initial, is_without_blanks};
use super::phone::{digits_of, phones};
use super::private::{NOBODY_KNOWN, Scrub, addresses, in_order};
use super::rewrite::{called, is_called_so, is_own};
use super::texts::{CAR_NAME, Is, Piece, pieces, what};
use super::unread::Unread;
use super::{Error, Result};
use crate::schema::{Field, Schema, Sheet, unit_comment};
use crate::slip::{Moment, day_of_path};
use crate::store::{Commit, Met, Store, StoreError};
use crate::text::visible;
use crate::trial::{read_trial, slug_of_path, write_trial};
use std::collections::{BTreeMap, BTreeSet, HashMap};

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
    /// The notes and reasons themselves, each with the day of its first record, or the file where it has none.
    pub note_texts: BTreeMap<String, String>,
    /// Other free words, which stay whatever is left out: classes, tracks, texts of sheets and days, names of parts and
    /// trials, rules and fields of the car's own, comments, messages by hand.
    pub words: BTreeSet<String>,
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
    let (mut unread, mut car_names) = (Unread::default(), BTreeSet::new());
    let (days, units) = (days_of_sheets(history), units(&book.schema));
    // Paths of days and trials, and whether one was ever called so after what stands in it.
    let mut names_of_files: BTreeMap<String, bool> = BTreeMap::new();
    let mut done = 0;
    book.store.read_through(head, &mut |met| {
        done += 1;
        tell(done);
        let (texts, place) = match &met {
            Met::Commit { commit, more } => {
                out.words.extend(more.iter().cloned());
                for who in [&commit.author, &commit.committer] {
                    if who.email != NOBODY && !who.email.is_empty() {
                        out.addresses.insert(who.email.clone());
                    }
                }
                *out.names.entry(commit.author.name.clone()).or_default() += 1;
                out.names.entry(commit.committer.name.clone()).or_default();
                let message = Message::read(&commit.message);
                message.all("Why").for_each(|why| out.note(why, day_of(commit)));
                let place = place_of(commit, &message);
                unread.note(&book.schema, commit, message);
                (more.iter().chain([&commit.message]).cloned().collect(), place)
            }
            Met::File { path, bytes } => {
                if !is_own(path) {
                    out.other_files.insert((*path).to_owned());
                }
                let text = String::from_utf8_lossy(bytes);
                let (found, own) = (pieces(&book.schema, path, &text), own_comments(&book.schema, path, &text));
                let day = match day_of_path(path) {
                    Some((date, _)) => date.to_string(),
                    None => days.get(&Store::blob_id(bytes).to_string()).cloned().unwrap_or_else(|| (*path).to_owned()),
                };
                for piece in found.iter().filter(|p| !p.text.trim().is_empty()) {
                    match what(&book.schema, path, &piece.key, &piece.text) {
                        Is::Note => out.note(&piece.text, day.clone()),
                        Is::Person => {
                            out.names.entry(piece.text.clone()).or_default();
                            if *path == "car.toml" {
                                out.owner(&piece.text);
                            }
                        }
                        Is::Name(what) if what == CAR_NAME => drop(car_names.insert(piece.text.clone())),
                        is => out.words.extend(free_words(&units, &own, &is, piece, &found)),
                    }
                }
                let mut texts: Vec<String> = found.into_iter().map(|p| p.text).collect();
                match called(path) {
                    Some(_) if names_of_files.get(*path) == Some(&true) => {}
                    Some(name) => {
                        let own = is_called_so(path, &text);
                        names_of_files.insert((*path).to_owned(), own);
                        texts.extend(Some(name).filter(|_| !own));
                    }
                    None if !is_own(path) => texts.push((*path).replace('-', " ")),
                    None => {}
                }
                (texts, (*path).to_owned())
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
    // What the car was called before may name who had it.
    out.words.extend(car_names.iter().filter(|name| **name != book.car.name).cloned());
    out.words.extend(names_of_files.into_iter().filter(|(_, own)| !own).map(|(path, _)| path));
    for owner in out.owners.clone() {
        out.names.entry(owner).or_default();
    }
    out.names.retain(|name, _| name != NOBODY_KNOWN && !name.trim().is_empty());
    out.notes = out.note_texts.len();
    let listed = car_names.iter().chain(&out.words).chain(out.note_texts.keys()).chain(out.names.keys());
    let words = unread.words(book, &car_names, &listed.cloned().collect())?;
    out.words.extend(words);
    let private: Vec<&Field> = book.schema.fields.iter().filter(|f| is_private(book, f)).collect();
    if !private.is_empty() {
        let sheets = book.sheets(&history.timeline)?;
        let held = |f: &&&Field| sheets.values().any(|s: &Sheet| s.get(&f.key).is_some());
        out.private = private.iter().filter(held).map(|f| f.label.clone()).collect();
    }
    Ok(out)
}

/// The day a record is of.
fn day_of(commit: &Commit) -> String {
    let at = Moment { seconds: commit.authored.seconds, offset_seconds: commit.authored.offset_seconds };
    at.race_day().to_string()
}

/// A record, as it is pointed at: "the record of v3, 2026-08-02".
pub fn place_of(commit: &Commit, message: &Message) -> String {
    let version = message.get("Version").map(|v| format!("{v}, ")).unwrap_or_default();
    format!("the record of {version}{}", day_of(commit))
}

/// The first day of each sheet, by the id of its file.
fn days_of_sheets(history: &History) -> HashMap<String, String> {
    let mut out: HashMap<String, String> = HashMap::new();
    for (_, entry) in history.timeline.records() {
        out.entry(entry.blob.clone()).or_insert_with(|| entry.at.race_day().to_string());
    }
    out
}

/// The units this program writes behind the numbers of its files.
fn units(schema: &Schema) -> BTreeSet<String> {
    let mut out: BTreeSet<String> = schema.fields.iter().filter_map(unit_comment).collect();
    out.extend(schema.run.number.iter().chain(&schema.run.reading).map(|n| n.unit.clone()));
    // Of the finish and the ground; of rows.
    out.extend(["ft", "weight lb, behind in, right in, height in"].map(str::to_owned));
    out.remove("");
    out
}

/// Comments of a file that this program puts there: at its head, and behind the numbers of a trial.
fn own_comments(schema: &Schema, path: &str, text: &str) -> Vec<String> {
    let trial = slug_of_path(path).and_then(|_| read_trial(text).ok());
    let written = trial.map(|t| pieces(schema, path, &write_trial(&t))).unwrap_or_default();
    let heads = [sheet_header(), day_header(), vec![CAR_HEADER.to_owned()]].concat();
    let heads = heads.iter().map(|h| h.trim_start_matches('#').trim().to_owned());
    written.into_iter().filter(|p| p.key.is_empty()).map(|p| p.text.trim().to_owned()).chain(heads).collect()
}

/// The free words of a text that are to be read before they go: neither the program's own nor what the car is called.
fn free_words(units: &BTreeSet<String>, own: &[String], is: &Is, piece: &Piece, all: &[Piece]) -> Option<String> {
    let text = piece.text.trim();
    match is {
        Is::Words if piece.key.is_empty() => {
            // A `#` in a value is no comment: all of it stands there, to the end of a word.
            let value = format!("#{}", piece.text.trim_end_matches(['"', '\'', ']', '}', ',', ' ']));
            let ends_in = |held: &str| {
                held.match_indices(&value).any(|(at, _)| !held[at + value.len()..].starts_with(is_of_word))
            };
            let in_value = all.iter().any(|p| !p.key.is_empty() && ends_in(&p.text));
            // The unit of a number, and what the racer put behind it.
            let said = units.iter().find_map(|unit| {
                let rest = text.strip_prefix(unit.as_str())?;
                (rest.is_empty() || rest.starts_with(';')).then(|| rest.trim_start_matches([';', ' ']))
            });
            let own = in_value || own.iter().any(|o| o == text);
            Some(said.unwrap_or(text).to_owned()).filter(|t| !own && !t.is_empty())
        }
        Is::Words | Is::Run | Is::Unknown => Some(text.to_owned()),
        Is::Name(_) => Some(text.to_owned()),
        Is::Person | Is::Note | Is::Fixed => None,
    }
}

/// Whether a field is nobody else's business: marked so where it is defined, or in the car's own list.
pub fn is_private(book: &Book, field: &Field) -> bool {
    field.private || book.car.private.iter().any(|named| field.is_under(named))
}

impl Outgoing {
    /// A note with its day; the earliest, where it stands on several.
    fn note(&mut self, text: &str, day: String) {
        let held = self.note_texts.entry(text.to_owned()).or_insert_with(|| day.clone());
        if day < *held {
            *held = day;
        }
    }

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
            // In the sentence of a record what hides is visible, and in an older one what is not ASCII is a blank, or a
            // question mark.
            known.entry(visible(name)).or_insert_with(|| instead.clone());
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

    /// The words of names of several words with what stands for the name: of two letters and more, no title, none that is
    /// written small where another is not ("van der"), and none that is a name of its own.
    pub fn instead_of_parts(&self) -> Vec<(String, String)> {
        let whole = self.instead();
        let mut parts: BTreeMap<String, String> = BTreeMap::new();
        for (name, instead) in &whole {
            let words: Vec<&str> = name.split(|c: char| !is_of_word(c)).filter(|w| !w.is_empty()).collect();
            let any_large = words.iter().any(|w| w.starts_with(char::is_uppercase));
            let counts = |w: &&&str| {
                let small = any_large && w.starts_with(char::is_lowercase);
                !is_initial(w) && !small && !TITLES.contains(&w.to_lowercase().as_str())
            };
            for word in words.iter().filter(|_| words.len() > 1).filter(counts) {
                let known =
                    whole.iter().map(|(n, _)| n).chain(parts.keys()).any(|n| n.to_lowercase() == word.to_lowercase());
                if !known {
                    parts.entry((*word).to_owned()).or_insert_with(|| instead.clone());
                }
            }
        }
        parts.into_iter().collect()
    }

    /// Whether a name is a single letter, or has one of its own: these stay where they stand in a text.
    pub fn has_initials(&self) -> bool {
        let single = |w: &str| !w.is_empty() && is_initial(w);
        self.names.keys().any(|n| n.split(|c: char| !is_of_word(c)).any(single))
    }

    /// Whether a name is written without blanks: a part of it, a family's name alone, is on record nowhere and stays.
    pub fn has_unparted(&self) -> bool {
        self.names.keys().any(|n| is_without_blanks(n))
    }

    /// Names and their words, longest first, with what stands for each.
    pub fn instead_of_all(&self) -> Vec<(String, String)> {
        let mut all = self.instead();
        all.extend(self.instead_of_parts());
        all.sort_by_key(|(name, _)| std::cmp::Reverse(name.chars().count()));
        all
    }

    /// Without what stands for names and reasons that were left out: they are nobody's.
    pub fn without_stand_ins(mut self, scrub: &Scrub) -> Outgoing {
        let stand_in = |text: &String| text == super::private::LEFT_OUT;
        self.note_texts.retain(|text, _| !stand_in(text));
        self.words.retain(|text| !stand_in(text));
        self.notes = self.note_texts.len();
        let stands = |name: &String| scrub.names.iter().any(|(_, instead)| instead == name);
        self.names.retain(|name, _| !scrub.people || !stands(name) && name != super::private::SOMEONE);
        self
    }
}

/// Words beside a name that tell of nobody.
const TITLES: [&str; 9] = ["dr", "ii", "iii", "iv", "jr", "mr", "mrs", "ms", "sr"];

/// A letter, or a mark upon one.
fn is_of_word(c: char) -> bool {
    c.is_alphanumeric() || ('\u{300}'..='\u{36f}').contains(&c)
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
        assert_eq!(
            parts,
            [("Hart", "hand 2"), ("Marsh", "owner 1"), ("Ro", "owner 1"), ("Zo", "hand 2"), ("Zo\u{e9}", "hand 2")]
        );
        assert!(!out.has_initials());
        let names = [("Al de Witt Jr".to_owned(), 1), ("J. Hart".to_owned(), 1)].into();
        let out = Outgoing { names, ..Outgoing::default() };
        let parts: Vec<String> = out.instead_of_parts().into_iter().map(|(n, _)| n).collect();
        assert_eq!(parts, ["Al", "Hart", "Witt"]);
        assert!(out.has_initials());
        assert!(instead.windows(2).all(|p| p[0].0.chars().count() >= p[1].0.chars().count()), "{instead:?}");
    }
}
