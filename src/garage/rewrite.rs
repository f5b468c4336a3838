//! A rewritten copy of a book: a new history without what its owner keeps to themselves. The book is not touched.
//!
//! The copy holds the records as they hold now, one after another: a mend is a plain record in it, and the log as it was
//! written before is not there. Comments, and files that are no part of a book, do not go along.

use super::book::{Book, History};
use super::car::{Car, day_header, sheet_header};
use super::change::{say, told};
use super::leftover::look_again;
use super::line;
use super::message::Message;
use super::now::{read_day, text};
use super::outgoing::Outgoing;
use super::private::{Scrub, is_named};
use super::who::person;
use super::{Error, Result};
use crate::diff::diff;
use crate::schema::{Field, Role, Scalar, Schema, Sheet, Takes, Value, read_sheet, write_sheet};
use crate::slip::{Day, Moment, Run, day_of_path, write_day};
use crate::store::{Commit, Id, Options, Person, Record, Store};
use crate::timeline::Kind;
use crate::trial::{path_of, read_trial, slug_of_path};
use std::collections::{BTreeSet, HashMap};
use std::path::Path;
use toml::{Table, Value as Toml};

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
        let scrubs = self.scrub.phones || !self.scrub.names.is_empty();
        self.before.is_none() && !self.notes && !self.files && !scrubs && self.fields.is_empty()
    }
}

/// What stands for a change all of which stays here.
pub const NOT_ALONG: &str = "settings that do not go along were changed";

/// The names of settings in a message, which a field left out takes with it.
const OF_FIELDS: [&str; 2] = ["Typed", "Measured"];

/// A rewritten copy.
pub struct Rewritten {
    /// The copy.
    pub book: Book,
    /// Where names of things still say what was left out: "a part's name".
    pub stay: BTreeSet<String>,
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
    let mut live = line::log(&book.store, head)?;
    live.reverse();
    let cut = out.before.map(|v| &history.timeline.versions[v]);
    let start = match cut {
        None => 0,
        Some(version) => live.iter().position(|l| l.commit.id.to_string() == version.entry.id).ok_or_else(|| {
            Error::data(format!("{} is not on the line of the book", version.number), "an earlier one")
        })?,
    };
    let mut rewrite = Rewrite {
        book,
        history,
        out,
        schema: &book.schema,
        versions: history.timeline.versions.iter().enumerate().map(|(i, v)| (v.entry.id.as_str(), i)).collect(),
        runs: history.runs.iter().enumerate().map(|(i, m)| (m.run.id.as_str(), i)).collect(),
        sheets: HashMap::new(),
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
    let stay = look_again(&copy, book, history, out, found)?;
    Ok(Rewritten { book: copy, stay })
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
}

impl Rewrite<'_> {
    fn record(&mut self, commit: &Commit, before: Option<&Commit>, sheet: &mut Sheet) -> Result<Record> {
        let mut files = Vec::new();
        let old = std::mem::take(sheet);
        *sheet = old.clone();
        for (path, blob) in self.book.store.differing(before.map(|c| c.id), commit.id)? {
            let Some(blob) = blob else {
                if before.is_some() && is_own(&path) {
                    files.push((path, None));
                }
                continue;
            };
            let new = match path.as_str() {
                "setup.toml" => {
                    let (new, text) = self.sheet(blob)?;
                    *sheet = new;
                    Some(text)
                }
                "car.toml" => Some(self.car(&self.text_of(blob, &path)?)?),
                p if day_of_path(p).is_some() => self.day(p, &self.text_of(blob, &path)?)?,
                p if slug_of_path(p).is_some() => self.trial(&self.text_of(blob, &path)?)?,
                _ => continue,
            };
            files.push((path, new.map(String::into_bytes)));
        }
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

    fn text_of(&self, blob: Id, path: &str) -> Result<String> {
        text(self.book.store.blob(blob)?, path)
    }

    fn person(&self, who: &Person) -> Person {
        match self.out.scrub.names.is_empty() {
            true => who.clone(),
            false => person(&self.out.scrub.person(&who.name)),
        }
    }

    fn leaves(&self, field: &Field) -> bool {
        self.out.fields.contains(&field.key) || self.out.notes && is_free_note(field)
    }

    /// A sheet without what stays here, and its text.
    fn sheet(&self, blob: Id) -> Result<(Sheet, String)> {
        let mut sheet = read_sheet(self.schema, &self.text_of(blob, "setup.toml")?).sheet;
        for field in &self.schema.fields {
            if self.leaves(field) {
                sheet.remove(&field.key);
            } else if field.takes() == Takes::Text
                && let Some(Value::One(Scalar::Text(said))) = sheet.get(&field.key)
            {
                let clean = self.out.scrub.text(said);
                // The name of a part is what its runs and its record are found by.
                if clean != *said && field.kind != "own_part" {
                    sheet.set(&field.key, Value::One(Scalar::Text(clean)));
                }
            }
        }
        self.schema.settle(&mut sheet);
        let text = write_sheet(self.schema, &sheet, None, &sheet_header());
        Ok((sheet, text))
    }

    /// The id the sheet of a run or a trial has in the copy.
    fn link(&mut self, setup: &str) -> Result<String> {
        let id: Id = setup.parse().map_err(|e| Error::data(format!("{e}"), "slipbook runs"))?;
        if let Some(new) = self.sheets.get(&id) {
            return Ok(new.to_string());
        }
        let new = Store::blob_id(self.sheet(id)?.1.as_bytes());
        self.sheets.insert(id, new);
        Ok(new.to_string())
    }

    fn cut_at(&self) -> Option<Moment> {
        self.out.before.map(|v| self.history.timeline.versions[v].entry.at)
    }

    /// A day without what stays here; none where nothing of it goes along.
    fn day(&mut self, path: &str, text: &str) -> Result<Option<String>> {
        let mut day = read_day(path, text)?;
        let mut runs = Vec::new();
        for run in std::mem::take(&mut day.runs) {
            runs.extend(self.run(run)?);
        }
        day.runs = runs;
        if self.cut_at().is_some_and(|at| day.date < at.race_day()) && day.runs.is_empty() {
            return Ok(None);
        }
        let clean = |t: Option<String>| t.filter(|_| !self.out.notes).map(|t| self.out.scrub.text(&t));
        day.note = clean(day.note);
        day.prep = day.prep.map(|t| self.out.scrub.text(&t));
        let unread = std::mem::take(&mut day.unread);
        day.unread = unread.into_iter().filter_map(|l| clean(Some(l))).collect();
        for reading in &mut day.readings {
            reading.by = reading.by.take().map(|by| self.out.scrub.person(&by));
        }
        Ok(Some(write_day(&crate::schema::schema().run, &day, &day_header())))
    }

    /// A run with its link; none where it was made before the copy begins.
    fn run(&mut self, mut run: Run) -> Result<Option<Run>> {
        let known = self.runs.get(run.id.as_str()).map(|i| &self.history.runs[*i]);
        let before = match known {
            Some(made) => self.out.before.is_some_and(|v| made.version < v),
            None => self.cut_at().is_some_and(|at| run.at < at),
        };
        if before {
            return Ok(None);
        }
        if let Some(made) = known {
            // It stands where it stands now: the links from before a mend lead to sheets that are not in the copy.
            run.on = self.history.timeline.versions[made.version].number.to_string();
            let holds = self.history.timeline.versions[made.version].blobs.contains(&made.run.setup);
            let version = &self.history.timeline.versions[made.version];
            run.setup = if holds { made.run.setup.clone() } else { version.sheet_id().to_owned() };
        }
        run.setup = self.link(&run.setup)?;
        run.setup_was = None;
        run.note = run.note.filter(|_| !self.out.notes).map(|t| self.out.scrub.text(&t));
        Ok(Some(run))
    }

    /// A trial with its links; none where it is about versions from before the copy begins.
    fn trial(&mut self, text: &str) -> Result<Option<String>> {
        let Ok(trial) = read_trial(text) else { return Ok(None) };
        let index = |n| self.history.timeline.by_number(n);
        let of = [index(&trial.a.version), index(&trial.b.version)];
        if self.out.before.is_some_and(|v| of.iter().any(|i| i.is_none_or(|i| i < v))) {
            return Ok(None);
        }
        let Ok(mut table) = text.parse::<Table>() else { return Ok(None) };
        table.insert("a_setup".to_owned(), Toml::String(self.link(&trial.a.setup)?));
        table.insert("b_setup".to_owned(), Toml::String(self.link(&trial.b.setup)?));
        self.clean(&mut table, &["name", "a_setup", "b_setup", "response", "order"]);
        Ok(Some(toml::to_string(&table).map_err(|e| Error::data(e.to_string(), path_of(&trial.name)))?))
    }

    /// `car.toml` without what stays here.
    fn car(&self, text: &str) -> Result<String> {
        let mut table: Table = text.parse().map_err(|e: toml::de::Error| Error::data(e.message(), "car.toml"))?;
        if let Some(Toml::Array(fields)) = table.get_mut("field") {
            fields.retain(|f| !self.out.fields.contains(f.get("key").and_then(Toml::as_str).unwrap_or_default()));
            if fields.is_empty() {
                table.remove("field");
            }
        }
        let left = |key: &str| self.out.fields.contains(key);
        if let Some(Toml::Array(parts)) = table.get_mut("part") {
            parts.retain(|p| !left(p.get("kind").and_then(Toml::as_str).unwrap_or_default()));
        }
        if let Some(Toml::Array(named)) = table.get_mut("private") {
            named.retain(|n| n.as_str().is_some_and(|n| !self.all_left(n)));
        }
        // A rule about a setting tells of it.
        for kind in ["rule", "needs_below"] {
            if let Some(Toml::Array(rules)) = table.get_mut(kind) {
                rules.retain(|r| !self.out.fields.iter().any(|key| is_named(&r.to_string(), key)));
            }
        }
        table.retain(|_, v| !v.as_array().is_some_and(Vec::is_empty));
        for part in table.get_mut("part").and_then(Toml::as_array_mut).into_iter().flatten() {
            let Some(values) = part.get_mut("values").and_then(Toml::as_table_mut) else { continue };
            for field in self.schema.fields.iter().filter(|f| self.leaves(f)) {
                take(values, &field.key);
            }
        }
        for owner in table.get_mut("owner").and_then(Toml::as_array_mut).into_iter().flatten() {
            if let Some(Toml::String(name)) = owner.get_mut("name") {
                *name = self.out.scrub.person(name);
            }
        }
        self.clean(&mut table, &["name", "key", "kind", "template", "values", "field"]);
        let body = toml::to_string(&table).map_err(|e| Error::data(e.to_string(), "car.toml"))?;
        Car::read("car.toml", &body)?;
        Ok(body)
    }

    /// Whether a field, or every field of a heading, stays here.
    fn all_left(&self, named: &str) -> bool {
        let lower = named.to_lowercase();
        let is = |f: &&Field| f.key == named || f.group == lower || f.area.to_lowercase() == lower;
        let mut fields = self.schema.fields.iter().filter(is).peekable();
        fields.peek().is_some() && fields.all(|f| self.out.fields.contains(&f.key))
    }

    /// Free texts of a file: taken out with the notes, else cleaned. What stands under `keep` is left as it is.
    fn clean(&self, table: &mut Table, keep: &[&str]) {
        /// Words beside the record, wherever they stand.
        const WORDS: [&str; 4] = ["note", "gone_how", "why", "evidence"];
        if self.out.notes {
            WORDS.iter().for_each(|w| drop(table.remove(*w)));
        }
        for (key, value) in table.iter_mut().filter(|(k, _)| !keep.contains(&k.as_str())) {
            match value {
                Toml::String(name) if key == "by" => *name = self.out.scrub.person(name),
                value => self.clean_value(value, keep),
            }
        }
    }

    fn clean_value(&self, value: &mut Toml, keep: &[&str]) {
        match value {
            Toml::String(text) => *text = self.out.scrub.text(text),
            Toml::Array(list) => list.iter_mut().for_each(|v| self.clean_value(v, keep)),
            Toml::Table(table) => self.clean(table, keep),
            _ => {}
        }
    }

    /// The message of a record, said anew where something of it stays here.
    fn message(&self, commit: &Commit, first: bool, old: &Sheet, new: &Sheet) -> Message {
        let was = Message::read(&commit.message);
        let version = self.versions.get(commit.id.to_string().as_str()).map(|i| &self.history.timeline.versions[*i]);
        let kind = match version {
            Some(v) if !first => Some(v.entry.kind),
            Some(_) => Some(Kind::Open),
            None => was.kind(),
        };
        let scrub = &self.out.scrub;
        let anew = self.out.notes || !self.out.fields.is_empty();
        let mut message = match kind {
            Some(kind) => Message::new(kind, ""),
            None => Message::default(),
        };
        let measured: Vec<String> = was.all("Measured").filter(|m| self.goes(m)).map(str::to_owned).collect();
        message.subject = scrub.text(&was.subject);
        message.body = was.body.iter().map(|l| scrub.text(l)).collect();
        if first {
            message.subject = "the record handed over begins here".to_owned();
            if self.out.before.is_none() {
                message.subject = scrub.text(&was.subject);
            }
            message.body.clear();
        } else if anew {
            let paths: Vec<String> = measured.iter().map(|m| first_word(m).to_owned()).collect();
            match kind {
                Some(Kind::Open | Kind::Change | Kind::Revert | Kind::Measured) => {
                    let clauses = told(self.schema, old, new, &diff(self.schema, old, new), &paths);
                    match clauses.is_empty() {
                        true => (message.subject, message.body) = (NOT_ALONG.to_owned(), Vec::new()),
                        false => say(&mut message, was.get("Back-to"), &clauses),
                    }
                }
                Some(Kind::Run) => message.body.clear(),
                _ => {
                    let subject = match kind {
                        Some(Kind::Mend) => "the record was put right",
                        Some(Kind::Oops) => "a record was taken back",
                        _ => "recorded",
                    };
                    (message.subject, message.body) = (subject.to_owned(), Vec::new());
                }
            }
        }
        if let Some(version) = version {
            message.push("Version", &version.number.to_string());
        }
        for (key, value) in &was.trailers {
            let stays = match key.as_str() {
                "Kind" | "Version" | "Replaces" => false,
                k if OF_FIELDS.contains(&k) => self.goes(value),
                "Why" => !self.out.notes,
                "Mended" => !anew,
                "Back-to" | "Since" | "Time" | "Given" | "Run" | "On" | "Trial" => true,
                _ => false,
            };
            // Ids and numbers are no texts; the rest may name somebody.
            let said = match key.as_str() {
                "Why" | "Mended" => scrub.text(value),
                "Typed" => self.typed(value),
                _ => value.clone(),
            };
            if stays {
                message.push(key, &said);
            }
        }
        message
    }

    /// Whether what a trailer says of a field goes along: it begins with the path of one. Where it is none that is known,
    /// it could be one that was left out.
    fn goes(&self, trailer: &str) -> bool {
        let nothing = self.out.fields.is_empty() && !self.out.notes;
        self.schema.locate(first_word(trailer)).map_or(nothing, |(field, _)| !self.leaves(field))
    }

    /// What was typed, its text as it stands on the sheet now.
    fn typed(&self, trailer: &str) -> String {
        let field = self.schema.locate(first_word(trailer)).map(|(field, _)| field);
        // The name of a part is what its runs and its record are found by.
        let fixed = field.is_some_and(|f| f.takes() != Takes::Text || f.kind == "own_part");
        match trailer.find(['"', '\'']).filter(|_| !fixed) {
            Some(at) => format!("{}{}", &trailer[..at], self.out.scrub.text(&trailer[at..])),
            None if fixed => trailer.to_owned(),
            None => self.out.scrub.text(trailer),
        }
    }
}

fn first_word(text: &str) -> &str {
    text.split(' ').next().unwrap_or_default()
}

/// Files a book is made of.
pub fn is_own(path: &str) -> bool {
    matches!(path, "setup.toml" | "car.toml") || day_of_path(path).is_some() || slug_of_path(path).is_some()
}

/// Whether a field of the sheet is there for free words: notes. How something was taken is none.
pub fn is_free_note(field: &Field) -> bool {
    field.role == Role::Note && field.lines
}

/// Takes the value at a dotted key out.
fn take(table: &mut Table, key: &str) {
    match key.split_once('.') {
        None => drop(table.remove(key)),
        Some((first, rest)) => {
            if let Some(Toml::Table(inner)) = table.get_mut(first) {
                take(inner, rest);
            }
        }
    }
}

/// The copy must read as the book does, but for what was left out.
fn compare(rewrite: &Rewrite, copy: &Book) -> Result<()> {
    let wrong = |what: String| {
        Error::data(
            format!("the rewritten copy does not read as the book ({what}); nothing was written"),
            "hand the book over as it is, or leave less out",
        )
    };
    let (old, new) = (rewrite.history, copy.history()?);
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
    }
    let of = |h: &History, m: &super::book::Made| {
        let day: &Day = &h.days[m.day];
        let run = &m.run;
        (run.id.clone(), numbers(&h.timeline.versions[m.version]), run.at, run.numbers.clone(), day.track.clone())
    };
    let wanted: Vec<_> = old.runs.iter().filter(|m| m.version >= from).map(|m| of(old, m)).collect();
    let copied: Vec<_> = new.runs.iter().map(|m| of(&new, m)).collect();
    if wanted.iter().map(|w| (&w.0, &w.1, w.2, &w.3)).ne(copied.iter().map(|w| (&w.0, &w.1, w.2, &w.3))) {
        return Err(wrong("its runs".to_owned()));
    }
    for made in &new.runs {
        if !new.timeline.versions[made.version].blobs.contains(&made.run.setup) {
            return Err(wrong(format!("the sheet a run of {} was made on", made.run.at.words(None))));
        }
    }
    Ok(())
}
