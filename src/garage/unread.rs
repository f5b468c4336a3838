//! Words in the messages of records that stand nowhere else: what a hand wrote there. The program's own sentences are made
//! anew from what they tell of, or are all of its own words beside texts that are listed anyway.

use super::Result;
use super::book::Book;
use super::change::{say, told};
use super::message::{Message, OF_NO_VALUE, Said, said_in};
use super::rewrite::{BEGINS_HERE, NOT_ALONG};
use super::texts::is_version;
use crate::diff::diff;
use crate::schema::{Field, RunWords, Schema, Sheet, read_sheet, schema};
use crate::store::{Commit, Id};
use crate::text::on_a_line;
use crate::timeline::{Kind, VersionNumber};
use crate::trial::Order;
use std::collections::{BTreeSet, HashMap, HashSet};

/// Messages of which it is not known yet whether all of it is read elsewhere.
#[derive(Default)]
pub(super) struct Unread {
    /// Of records of the sheet: the record, the one before it, and what it says.
    of_sheets: Vec<(Id, Option<Id>, Message)>,
    /// Sentences of others.
    sentences: BTreeSet<String>,
    /// Lines with texts that stand in a file as well.
    lines: BTreeSet<(String, Vec<String>)>,
    /// Not the program's own.
    words: BTreeSet<String>,
    /// Sheets by their id.
    sheets: HashMap<Id, Sheet>,
}

/// Of the sentences of mends, of what was taken back, of days, parts, trials and owners; months and weekdays.
const OWN_WORDS: &str = "mended mend told late more the a an and of to by on at in it is was were not no none had has have another so \
     already as record recorded reason why because run runs change changes records version made there that never \
     happened did happen car from here between always first taken back put right joined two laptops holds gave way \
     mends measurement measurements trials notes part trial started judged given up against order effect settled air \
     track read day opened open closed reopened with without reading readings such clock minutes minute min h d hours \
     hour fast slow ahead behind days lies ft elevation round lane note staged clean shifts shift finish prep who \
     called book edited hand files file sheet laid out again passes pass limit gone came new used comments setup toml \
     nothing turned after all almost certainly very likely gain loss worth chasing these cannot tell too early call \
     model blame et mph jan feb mar apr may jun jul aug sep oct nov dec mon tue wed thu fri sat sun \
     v";

impl Unread {
    /// Takes note of what a message says.
    pub fn note(&mut self, schema: &Schema, commit: &Commit, message: Message) {
        let kind = message.kind();
        for (key, value) in &message.trailers {
            let line = format!("{key}: {value}");
            match said_in(schema, key, value) {
                Said::Own | Said::Note => {}
                _ if kind.is_none() => drop(self.words.insert(line)),
                Said::Words => drop(self.words.insert(line)),
                Said::Sentence => drop(self.lines.insert((line, vec![value.clone()]))),
                Said::Texts(texts) => drop(self.lines.insert((line, texts))),
            }
        }
        let sentences = std::iter::once(&message.subject).chain(&message.body).filter(|l| !l.trim().is_empty());
        match kind {
            None => self.words.extend(sentences.cloned()),
            Some(Kind::Run) => {
                let theirs = sentences.filter(|l| !of_a_run(&crate::schema::schema().run, l));
                self.sentences.extend(theirs.cloned());
            }
            Some(Kind::Open | Kind::Change | Kind::Revert | Kind::Measured) => {
                self.of_sheets.push((commit.id, commit.parents.first().copied(), message));
            }
            Some(Kind::Mend | Kind::Oops | Kind::Other) => self.sentences.extend(sentences.cloned()),
        }
    }

    /// What is not the program's own: not in its form, and not `listed` either.
    pub fn words(
        mut self,
        book: &Book,
        cars: &BTreeSet<String>,
        listed: &BTreeSet<String>,
    ) -> Result<BTreeSet<String>> {
        // What is told late is said of its own record and of the mend.
        let mut said = listed.clone();
        for (id, before, message) in std::mem::take(&mut self.of_sheets) {
            let own = self.says_as_sheets(book, cars, id, before, &message)?;
            let into = if own { &mut said } else { &mut self.words };
            into.extend(std::iter::once(message.subject).chain(message.body));
        }
        let own = OwnWords::of(&said);
        self.words.extend(self.sentences.into_iter().filter(|s| !own.says(s)));
        let theirs = self.lines.into_iter().filter(|(_, texts)| !texts.iter().all(|t| own.says(t)));
        self.words.extend(theirs.map(|(line, _)| line));
        Ok(self.words)
    }

    /// Whether a record of the sheet says what its sheets say.
    fn says_as_sheets(
        &mut self,
        book: &Book,
        cars: &BTreeSet<String>,
        id: Id,
        before: Option<Id>,
        message: &Message,
    ) -> Result<bool> {
        let subject = message.subject.as_str();
        let opened = |name: &String| {
            let n = subject.strip_prefix(&on_a_line(name))?.strip_prefix(": book opened, ")?;
            let n = n.strip_suffix(" fields on record").or(n.strip_suffix(" field on record"))?;
            Some(n.bytes().all(|b| b.is_ascii_digit()))
        };
        let fixed = OF_NO_VALUE.contains(&subject) || [NOT_ALONG, BEGINS_HERE].contains(&subject);
        if message.body.is_empty() && (fixed || cars.iter().any(|c| opened(c) == Some(true))) {
            return Ok(true);
        }
        let old = before.map(|b| self.sheet(book, b)).transpose()?.unwrap_or_default();
        let new = self.sheet(book, id)?;
        let differ = diff(&book.schema, &old, &new);
        let path = |m: &str| m.split(' ').next().unwrap_or_default().to_owned();
        // What has always been so is not told as measured.
        let told_of: [Vec<String>; 2] =
            [message.all("Measured").map(path).collect(), message.all("Measured").map(str::to_owned).collect()];
        Ok(told_of.iter().any(|measured| {
            let mut anew = Message::default();
            say(&mut anew, message.get("Back-to"), &told(&book.schema, &old, &new, &differ, measured));
            anew.subject == message.subject && anew.body == message.body
        }))
    }

    fn sheet(&mut self, book: &Book, commit: Id) -> Result<Sheet> {
        let Some((id, bytes)) = book.store.file(commit, super::sound::SHEET)? else { return Ok(Sheet::default()) };
        let read = || read_sheet(&book.schema, &String::from_utf8_lossy(&bytes)).sheet;
        Ok(self.sheets.entry(id).or_insert_with(read).clone())
    }
}

/// Whether a sentence is that of a run, whatever its numbers: "v3 run: 60 ft 1.652, ET 11.480 at 117.20 mph, left lane".
fn of_a_run(words: &RunWords, sentence: &str) -> bool {
    let number = |t: &str| !t.is_empty() && t.bytes().all(|b| b.is_ascii_digit() || b == b'.');
    let et = |t: &str| match t.split_once(" at ") {
        Some((et, speed)) => number(et) && speed.strip_suffix(" mph").is_some_and(number),
        None => number(t),
    };
    let known = |part: &str| {
        part == "no ET"
            || part.strip_prefix("60 ft ").is_some_and(number)
            || part.strip_prefix("ET ").is_some_and(et)
            || part.strip_suffix(" lane").is_some_and(|lane| words.lanes.iter().any(|l| l == lane))
            || words.why_not.iter().any(|w| w.word == part)
    };
    sentence.split_once(" run: ").is_some_and(|(on, rest)| is_version(on) && rest.split(", ").all(known))
}

/// The program's words in sentences that cannot be made anew, and the texts that may stand between them.
struct OwnWords {
    words: HashSet<String>,
    /// Longest first.
    listed: Vec<String>,
}

impl OwnWords {
    fn of(listed: &BTreeSet<String>) -> OwnWords {
        let schema = schema();
        let of_field = |f: &'static Field| std::iter::once(&f.label).chain(&f.says).chain(&f.choices).chain(&f.unit);
        let run = &schema.run;
        let numbers = run.number.iter().chain(&run.reading).flat_map(|n| [&n.name, &n.label, &n.unit]);
        let said =
            [&run.lanes, &run.rounds, &run.clean_to, &run.staged, &run.psi_taken, &run.sun].into_iter().flatten();
        let did = run.why_not.iter().chain(&run.did).map(|w| &w.word);
        let texts = schema.fields.iter().flat_map(of_field).chain(numbers).chain(said).chain(did);
        let words = texts.map(String::as_str).chain([OWN_WORDS]).flat_map(words_of).map(str::to_lowercase).collect();
        let mut listed: Vec<String> = listed.iter().map(|t| flat(t)).filter(|t| !t.is_empty()).collect();
        listed.sort_by_key(|t| std::cmp::Reverse(t.len()));
        OwnWords { words, listed }
    }

    /// Whether all of a sentence is of the program's words, beside what is listed.
    fn says(&self, sentence: &str) -> bool {
        let known = |text: &str| {
            words_of(text).all(|w| {
                let digits = w.bytes().all(|b| b.is_ascii_digit());
                let fixed = w.parse::<VersionNumber>().is_ok() || w.parse::<Order>().is_ok();
                digits || fixed || self.words.contains(&w.to_lowercase())
            })
        };
        let mut text = flat(sentence);
        if known(&text) {
            return true;
        }
        for listed in &self.listed {
            text = without(&text, listed);
        }
        if known(&text) {
            return true;
        }
        // Cut, it may end within one.
        let text = flat(sentence);
        let begins = |at: &usize| self.listed.iter().any(|l| l.starts_with(text[*at..].trim_end_matches('.')));
        let starts = text.match_indices(' ').map(|(at, _)| at + 1);
        let end = starts.filter(|at| !text[*at..].trim_end_matches('.').is_empty()).find(begins);
        end.is_some_and(|at| known(&self.listed.iter().fold(text[..at].to_owned(), |t, l| without(&t, l))))
    }
}

fn flat(text: &str) -> String {
    on_a_line(text).split_whitespace().collect::<Vec<_>>().join(" ")
}

fn words_of(text: &str) -> impl Iterator<Item = &str> {
    text.split(|c: char| !c.is_alphanumeric()).filter(|w| !w.is_empty())
}

/// A text without another, where that stands in it as words of its own.
fn without(text: &str, listed: &str) -> String {
    let part = |c: Option<char>| c.is_some_and(char::is_alphanumeric);
    let (mut out, mut at) = (String::new(), 0);
    for (start, _) in text.match_indices(listed) {
        let end = start + listed.len();
        if !part(text[..start].chars().next_back()) && !part(text[end..].chars().next()) {
            out.push_str(&text[at..start]);
            out.push_str(" | ");
            at = end;
        }
    }
    out + &text[at..]
}
