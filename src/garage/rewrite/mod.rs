//! A rewritten copy of a book: a new history without what its owner keeps to themselves. The book is not touched.
//!
//! The copy holds the records as they hold now, one after another: a mend is a plain record in it, and the log as it was
//! written before is not there. Comments, and files that are no part of a book, do not go along.

mod before;
mod files;
mod message;
mod places;

use super::book::Book;
use super::history::History;
use super::leftover::look_again;
use super::line;
use super::measure::moved_as_if;
use super::named::is_named;
use super::outgoing::Outgoing;
use super::part_life::{PartLife, part_lives};
use super::phone::phones;
use super::private::Scrub;
use super::run_ids::RunIds;
use super::texts::has_text;
use super::who::person;
use super::{Error, Result};
use crate::schema::{Condition, Field, Role, Scalar, Schema, Sheet, Value};
use crate::slip::{Day, day_of_path};
use crate::store::{Commit, Id, Options, Person, Record, Store};
use crate::trial::slug_of_path;
use before::Before;
use places::Places;
pub use places::{called, is_called_so};
use std::cell::RefCell;
use std::collections::{BTreeMap, BTreeSet, HashMap, HashSet};
use std::path::Path;

/// What does not go along.
#[derive(Debug, Clone, Default)]
pub struct LeaveOut {
    /// All before this version (its index in the timeline).
    pub before: Option<usize>,
    /// Notes, reasons, and what else is free text beside the numbers.
    pub notes: bool,
    /// Names and phone numbers in what stays.
    pub scrub: Scrub,
    /// Files by hand that are no part of a book; a rewritten copy never has them.
    pub files: bool,
    /// Keys of fields.
    pub fields: BTreeSet<String>,
}

impl LeaveOut {
    /// Everything goes along: no copy need be rewritten.
    pub fn is_nothing(&self) -> bool {
        self.before.is_none() && !self.notes && !self.files && self.scrub.is_nothing() && self.fields.is_empty()
    }
}

/// What stands for a change all of which stays here.
pub const NOT_ALONG: &str = "settings that do not go along were changed";

/// What the first record of a copy that begins later than the car's record says.
pub const BEGINS_HERE: &str = "the record handed over begins here";

/// A rewritten copy.
pub struct Rewritten {
    /// The copy.
    pub book: Book,
    /// Where names of things still say what was left out: "a part's name".
    pub stay: BTreeSet<String>,
    /// Names that are plain words and stand in it written small, as these are.
    pub small: BTreeSet<String>,
    /// What went with fields that were left out, and trials whose setups are not on record, in words.
    pub along: Vec<String>,
}

/// Writes the copy into `folder`, which must not be there. It is read back and compared, and what was left out (`found` is
/// all there was) is looked for in it once more, before it is given out.
pub fn rewritten(
    book: &Book,
    history: &History,
    out: &LeaveOut,
    found: &Outgoing,
    folder: &Path,
    tell: &dyn Fn(usize),
) -> Result<Rewritten> {
    let head = history.head.ok_or_else(|| Error::data("the book has no record yet", "slipbook new"))?;
    let mut out = out.clone();
    out.scrub.texts = own_texts(book, history, &out.fields)?;
    out.scrub.keys = keys(&book.schema);
    let out = &out;
    let mut live = line::log(&book.store, head)?;
    live.reverse();
    let cut = out.before.map(|v| &history.timeline.versions[v]);
    let start = match cut {
        None => 0,
        Some(version) => live.iter().position(|l| l.commit.id.to_string() == version.entry.id).ok_or_else(|| {
            Error::data(format!("{} is not on the line of the book", version.number), "an earlier one")
        })?,
    };
    let versions = &history.timeline.versions;
    let mut rewrite = Rewrite {
        book,
        history,
        out,
        schema: &book.schema,
        versions: versions.iter().enumerate().map(|(i, v)| (v.entry.id.as_str(), i)).collect(),
        runs: history.runs.iter().enumerate().map(|(i, m)| (m.run.id.as_str(), i)).collect(),
        sheets: HashMap::new(),
        held: versions[out.before.unwrap_or(0)..].iter().flat_map(|v| &v.blobs).map(String::as_str).collect(),
        trials_lost: BTreeSet::new(),
        run_ids: RunIds::new(head, history),
        along: along(&book.schema, &out.fields),
        gone_along: RefCell::default(),
        places: Places::default(),
        before: Before::of(book, history, out.before)?,
    };
    let store = Store::create(folder)?;
    let options = Options { fsync: false, ..Options::default() };
    let mut failed = None;
    let done = store.record_many(&options, &mut |batch| {
        let mut before: Option<&Commit> = None;
        let mut sheet = Sheet::default();
        for (n, logged) in live[start..].iter().enumerate() {
            match rewrite.record(&logged.commit, before, &mut sheet) {
                Ok(record) => drop(batch.commit(record)?),
                Err(e) => {
                    failed = Some(e);
                    return Err("the copy was not built".into());
                }
            }
            before = Some(&logged.commit);
            tell(n + 1);
        }
        Ok(())
    });
    super::record::finish(done, failed)?;
    let copy = Book::open(folder)?;
    compare(&rewrite, &copy)?;
    let (stay, small) = look_again(&copy, &book.schema, out, found)?;
    let (fields, rules) = rewrite.gone_along.into_inner();
    let said = |n: usize, what: &str| match n {
        0 => None,
        1 => Some(format!("what a {what} of the car's own says of it")),
        n => Some(format!("what {n} {what}s of the car's own say of it")),
    };
    let trials = rewrite.trials_lost.iter().map(|name| format!("the trial {name}, whose setups are not on record"));
    let along = [said(fields.len(), "field"), said(rules.len(), "rule")].into_iter().flatten().chain(trials).collect();
    Ok(Rewritten { book: copy, stay, small, along })
}

struct Rewrite<'a> {
    book: &'a Book,
    history: &'a History,
    out: &'a LeaveOut,
    schema: &'a Schema,
    /// Versions by the commit that began them.
    versions: HashMap<&'a str, usize>,
    /// Runs by their id.
    runs: HashMap<&'a str, usize>,
    /// The new id of each sheet.
    sheets: HashMap<Id, Id>,
    /// The sheets of the line, as far as it goes along.
    held: HashSet<&'a str>,
    /// Trials that stay here, for their sheets are not on record.
    trials_lost: BTreeSet<String>,
    /// The ids of runs in the copy.
    run_ids: RunIds,
    /// The schema, its own fields without conditions on what stays here.
    along: Schema,
    /// Fields and rules of the car's own that said something of what stays here.
    gone_along: RefCell<(BTreeSet<String>, BTreeSet<String>)>,
    /// What the files are called.
    places: Places,
    /// What is carried over its beginning.
    before: Before,
}

impl Rewrite<'_> {
    fn record(&mut self, commit: &Commit, before: Option<&Commit>, sheet: &mut Sheet) -> Result<Record> {
        let old = std::mem::take(sheet);
        *sheet = old.clone();
        let differing = self.book.store.differing(before.map(|c| c.id), commit.id)?;
        // What is gone makes room first.
        for (path, _) in differing.iter().filter(|(_, blob)| blob.is_none()) {
            self.places.take_out(path);
        }
        for (path, blob) in differing.into_iter().filter_map(|(path, blob)| Some((path, blob?))) {
            match path.as_str() {
                "setup.toml" => {
                    let (new, text) = self.sheet(blob)?;
                    *sheet = new;
                    self.places.put(&path, &path, text);
                }
                p if !is_own(p) => {}
                p => match self.file(p, blob)? {
                    Some(Some((own, text))) => self.places.put(p, &own, text),
                    Some(None) => self.places.take_out(p),
                    // What cannot be read says nothing: the copy goes on with what was there.
                    None => {}
                },
            }
        }
        let files = self.places.changed();
        let first = before.is_none();
        let message = self.message(commit, first, &old, sheet);
        let who = |p: &Person| self.person(p);
        Ok(Record {
            files,
            author: who(&commit.author),
            authored: commit.authored,
            committer: who(&commit.committer),
            written: commit.written,
            message: message.to_text(),
            accept_hand_edit: false,
        })
    }

    fn person(&self, who: &Person) -> Person {
        let name = self.out.scrub.person(&who.name);
        let told = self.out.scrub.phones && !phones(&who.email).is_empty();
        match !self.out.scrub.people && !told && name == who.name {
            true => who.clone(),
            false => person(&name),
        }
    }

    fn leaves(&self, field: &Field) -> bool {
        self.out.fields.contains(&field.key) || self.out.notes && is_free_note(field)
    }
}

/// The schema without the conditions of own fields on what stays here: in the copy these have none.
fn along(schema: &Schema, left: &BTreeSet<String>) -> Schema {
    let mut along = schema.clone();
    for field in along.fields.iter_mut().filter(|f| f.key.starts_with("own.")) {
        if field.applies.keys().any(|k| left.contains(k)) {
            field.applies = Condition::default();
        }
    }
    along
}

/// The keys of fields and of their slots that have a dot: one without is a word.
fn keys(schema: &Schema) -> Vec<String> {
    let slots = |f: &Field| (0..f.slot_list().len()).map(|i| schema.path(f, Some(i))).collect::<Vec<_>>();
    schema.fields.iter().flat_map(|f| [vec![f.key.clone()], slots(f)].concat()).filter(|k| k.contains('.')).collect()
}

/// Files a book is made of.
pub fn is_own(path: &str) -> bool {
    matches!(path, "setup.toml" | "car.toml") || day_of_path(path).is_some() || slug_of_path(path).is_some()
}

/// Whether a field of the sheet is there for free words: notes. How something was taken is none.
pub fn is_free_note(field: &Field) -> bool {
    field.role == Role::Note && field.lines
}

/// A shorter text is a word too often, in characters.
const WORD_ENOUGH: usize = 4;

/// Texts that only fields left out ever had, longest first. What another setting says as well gives nothing away.
fn own_texts(book: &Book, history: &History, left: &BTreeSet<String>) -> Result<Vec<String>> {
    let (mut own, mut others) = (BTreeSet::new(), BTreeSet::new());
    if left.is_empty() {
        return Ok(Vec::new());
    }
    for sheet in book.sheets(&history.timeline)?.values() {
        for field in book.schema.fields.iter().filter(|f| has_text(f)) {
            let texts = sheet.get(&field.key).into_iter().flat_map(Value::scalars).filter_map(Scalar::text);
            let into = if left.contains(&field.key) { &mut own } else { &mut others };
            into.extend(texts.map(|t| t.trim().to_lowercase()).filter(|t| t.chars().count() >= WORD_ENOUGH));
        }
    }
    let mut own: Vec<String> = own.into_iter().filter(|t| !others.iter().any(|o| is_named(o, t))).collect();
    // A key of the car's own is a word of somebody's too.
    own.extend(left.iter().filter(|k| k.starts_with("own.")).cloned());
    own.sort_by_key(|t| std::cmp::Reverse(t.chars().count()));
    Ok(own)
}

/// The copy must read as the book does, but for what was left out.
fn compare(rewrite: &Rewrite, copy: &Book) -> Result<()> {
    let wrong = |what: String| {
        Error::data(
            format!("the rewritten copy does not read as the book ({what}); nothing was written"),
            "hand the book over as it is, or leave less out",
        )
    };
    let (book, old, new) = (rewrite.book, rewrite.history, copy.history()?);
    let from = rewrite.out.before.unwrap_or(0);
    let numbers = |v: &crate::timeline::Version| v.number.to_string();
    let wanted: Vec<String> = old.timeline.versions[from..].iter().map(numbers).collect();
    if new.timeline.versions.iter().map(numbers).collect::<Vec<_>>() != wanted {
        return Err(wrong("its versions".to_owned()));
    }
    for (version, copied) in old.timeline.versions[from..].iter().zip(&new.timeline.versions) {
        let id: Id = version.sheet_id().parse().map_err(|e| Error::data(format!("{e}"), "slipbook history"))?;
        if rewrite.sheet(id)?.0 != copy.sheet(copied)? {
            return Err(wrong(format!("the sheet of {}", version.number)));
        }
        if version.entry.was != copied.entry.was {
            return Err(wrong(format!("the numbers {} had before", version.number)));
        }
    }
    let of = |h: &History, m: &super::history::Made| {
        let day: &Day = &h.days[m.day];
        let run = &m.run;
        (
            rewrite.run_ids.of(&run.id),
            numbers(&h.timeline.versions[m.version]),
            run.at,
            run.numbers.clone(),
            day.track.clone(),
        )
    };
    let wanted: Vec<_> = old.runs.iter().filter(|m| m.version >= from).map(|m| of(old, m)).collect();
    let copied: Vec<_> = new.runs.iter().map(|m| of(&new, m)).collect();
    if wanted.iter().map(|w| (&w.0, &w.1, w.2, &w.3)).ne(copied.iter().map(|w| (&w.0, &w.1, w.2, &w.3))) {
        return Err(wrong("its runs".to_owned()));
    }
    let part = |p: PartLife| (p.kind.clone(), p.name.clone(), p.passes());
    let lived: Vec<_> = part_lives(book, old)?.into_iter().map(part).collect();
    let kept = part_lives(copy, &new)?.into_iter().map(part);
    let other = |(kind, name, n): (String, String, Option<usize>)| {
        n.is_some() && lived.iter().any(|(k, l, was)| *k == kind && *l == name && was.is_some() && *was != n)
    };
    if kept.into_iter().any(other) {
        return Err(wrong("the passes on its parts".to_owned()));
    }
    // A setting left out takes what it moved with it.
    if rewrite.out.fields.is_empty() {
        let told = stale_now(copy, &new)?;
        let is_told = |(key, slots): (&String, &BTreeSet<usize>)| told.get(key).is_some_and(|t| slots.is_subset(t));
        if !stale_now(book, old)?.iter().all(is_told) {
            return Err(wrong("what is to be measured again".to_owned()));
        }
    }
    for made in &new.runs {
        if !new.timeline.versions[made.version].blobs.contains(&made.run.setup) {
            return Err(wrong(format!("the sheet a run of {} was made on", made.run.at.words(None))));
        }
    }
    Ok(())
}

/// What is stale on the sheet on the car.
fn stale_now(book: &Book, history: &History) -> Result<BTreeMap<String, BTreeSet<usize>>> {
    let Some(last) = history.timeline.versions.len().checked_sub(1) else { return Ok(BTreeMap::new()) };
    let roles = [Role::Measured, Role::Set];
    let stale = moved_as_if(book, history, last, &roles, &book.sheets(&history.timeline)?, None)?;
    // Slots with causes of their own are told apart in one and together in the other.
    let mut slots: BTreeMap<String, BTreeSet<usize>> = BTreeMap::new();
    stale.into_iter().for_each(|s| slots.entry(s.key).or_default().extend(s.slots));
    Ok(slots)
}
