//! Whether a book is sound: which files it may hold, and each of them, in every record, read as this program reads it.

use super::Result;
use super::car::Car;
use super::now::{read_day, text};
use super::trial::read_named;
use super::who::moment;
use super::{Error, message::Message};
use crate::schema::{LARGEST_SHEET, Schema, read_sheet, schema};
use crate::slip::{LARGEST_DAY, Moment, day_of_path};
use crate::store::{Flaw, Held, Id, Inventory, Store};
use crate::trial::{LARGEST_TRIAL, slug_of_path};
use std::borrow::Cow;
use std::collections::HashSet;

/// The largest `car.toml` that is read, in bytes.
const LARGEST_CAR: usize = super::place::LARGEST_FILE as usize;

/// The sheet's path.
pub const SHEET: &str = "setup.toml";

/// How bad it is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, serde::Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Harm {
    /// It is not there or cannot be read: what it held is lost.
    Lost,
    /// It is of a form no book has.
    Form,
    /// It can be read, and says something this program would not have taken.
    Content,
}

/// Something that is wrong in a book.
#[derive(Debug, Clone, PartialEq)]
pub struct Wrong {
    /// How bad it is.
    pub harm: Harm,
    /// The file's path; empty for a record.
    pub path: String,
    /// The oldest record it stands in; of a record that is lost, the one that follows it.
    pub record: Option<Id>,
    /// When that happened, and its sentence.
    pub said: Option<(Moment, String)>,
    /// The object.
    pub object: Id,
    /// What is wrong.
    pub why: String,
}

/// What was found in a book.
#[derive(Debug, Clone, Default)]
pub struct Sound {
    /// Records read.
    pub records: usize,
    /// Different sheets that are as they should be.
    pub sheets: usize,
    /// Different day files that are.
    pub days: usize,
    /// Runs of the newest record's days.
    pub runs: usize,
    /// All that is wrong.
    pub wrong: Vec<Wrong>,
}

/// The most that is told of what is wrong.
pub const MOST_WRONG: usize = 1000;

/// Which paths a book has; the error says why one is none.
pub fn book_path(path: &str, is_dir: bool) -> std::result::Result<(), String> {
    let ok = match (path, is_dir) {
        ("car.toml" | "setup.toml", false) | ("days" | "trials", true) => true,
        (path, true) => {
            path.strip_prefix("days/").is_some_and(|y| y.len() == 4 && y.bytes().all(|b| b.is_ascii_digit()))
        }
        (path, false) => {
            let plain = |slug: &str| {
                !slug.is_empty() && slug.bytes().all(|b| b.is_ascii_lowercase() || b.is_ascii_digit() || b == b'-')
            };
            day_of_path(path).is_some_and(|(_, slug)| plain(slug)) || slug_of_path(path).is_some_and(plain)
        }
    };
    if ok {
        return Ok(());
    }
    Err("it is none of a book's files: car.toml, setup.toml, days/YEAR/MM-DD-TRACK.toml, trials/NAME.toml".to_owned())
}

/// A flaw the store found, as something wrong in a book.
pub fn of_flaw(store: &Store, flaw: Flaw) -> Wrong {
    let harm = if flaw.lost { Harm::Lost } else { Harm::Form };
    let Flaw { object, what, path, record, why, .. } = flaw;
    let path = if what == "folder" && path.is_empty() { ".".to_owned() } else { path };
    let said = record.filter(|r| *r != object).and_then(|r| said(store, r));
    Wrong { harm, path, record, said, object, why }
}

/// When a record happened, and its sentence.
fn said(store: &Store, record: Id) -> Option<(Moment, String)> {
    let commit = store.commit(record).ok()?;
    Some((moment(commit.authored), Message::read(&commit.message).subject))
}

/// Reads every file of every record. A run on a sheet of `lost` stands on a sheet that was there.
pub fn look(store: &Store, tip: Id, inside: &Inventory, lost: &[Id], tell: &dyn Fn(usize)) -> Result<Sound> {
    let mut out = Sound { records: inside.commits.len(), ..Sound::default() };
    let there = inside.files.iter().filter(|f| f.path == SHEET).map(|f| f.blob);
    let sheets: HashSet<String> = there.chain(lost.iter().copied()).map(|id| id.to_string()).collect();
    let mut look = Look { store, sheets, car: None, wrong: Vec::new() };
    for (n, file) in inside.files.iter().enumerate() {
        tell(n + 1);
        let faults = look.faults(file)?;
        if faults.is_empty() {
            out.sheets += usize::from(file.path == SHEET);
            out.days += usize::from(day_of_path(&file.path).is_some());
            continue;
        }
        let said = said(store, file.record);
        for why in faults {
            let Held { path, record, blob, .. } = file.clone();
            let wrong =
                Wrong { harm: Harm::Content, path, record: Some(record), said: said.clone(), object: blob, why };
            look.wrong.push(wrong);
        }
        if look.wrong.len() >= MOST_WRONG {
            break;
        }
    }
    for needed in ["car.toml", "setup.toml"] {
        if inside.has(tip) && matches!(store.file(tip, needed), Ok(None)) {
            let why = "it is not in the newest record: without it this is no book".to_owned();
            let path = needed.to_owned();
            look.wrong.push(Wrong { harm: Harm::Form, path, record: Some(tip), said: None, object: tip, why });
        }
    }
    out.wrong = look.wrong;
    Ok(out)
}

struct Look<'a> {
    store: &'a Store,
    /// Ids of all sheets of the book.
    sheets: HashSet<String>,
    /// Of the newest `car.toml` met: files come in the order of records, and a definition is large.
    car: Option<(Id, Cow<'static, Schema>)>,
    wrong: Vec<Wrong>,
}

impl Look<'_> {
    /// What is wrong with one file, in sentences.
    fn faults(&mut self, file: &Held) -> Result<Vec<String>> {
        let bytes = self.store.blob(file.blob)?;
        let path = file.path.as_str();
        let most = match path {
            "car.toml" => LARGEST_CAR,
            "setup.toml" => LARGEST_SHEET,
            _ if day_of_path(path).is_some() => LARGEST_DAY,
            _ => LARGEST_TRIAL,
        };
        if bytes.len() > most {
            return Ok(vec![format!("it has {} bytes; {most} at most", bytes.len())]);
        }
        let Ok(text) = text(bytes, path) else { return Ok(vec!["it is not UTF-8 text".to_owned()]) };
        Ok(match path {
            "car.toml" => Car::read(path, &text).err().map(|e| in_words(&e)).unwrap_or_default(),
            "setup.toml" => {
                let schema = self.schema_of(file.car);
                read_sheet(schema, &text).refused().map(|p| p.message.clone()).collect()
            }
            _ => match day_of_path(path) {
                Some((date, _)) => match read_day(path, &text) {
                    Err(e) => in_words(&e),
                    Ok(day) if day.date != date => vec![format!("it says it is of {}, its name says {date}", day.date)],
                    Ok(day) if day.path() != path => {
                        vec![format!("it says it is of {}, which would be {}", day.track, day.path())]
                    }
                    Ok(day) => {
                        let lost = day.runs.iter().filter(|r| !self.sheets.contains(&r.setup));
                        lost.map(|r| format!("its run {} was made on a setup no record holds: {}", r.id, r.setup))
                            .collect()
                    }
                },
                None => match read_named(path, &text) {
                    Err(e) => in_words(&e),
                    Ok(trial) => {
                        let arms = [("a", &trial.a.setup), ("b", &trial.b.setup)];
                        let lost = arms.into_iter().filter(|(_, setup)| !self.sheets.contains(*setup));
                        lost.map(|(arm, setup)| format!("its {arm}_setup is a setup no record holds: {setup}"))
                            .collect()
                    }
                },
            },
        })
    }

    /// The definitions with a car's own fields; those of the program where its file cannot be read.
    fn schema_of(&mut self, car: Option<Id>) -> &Schema {
        let Some(id) = car else { return schema() };
        if self.car.as_ref().is_none_or(|(known, _)| *known != id) {
            let read = || {
                let text = String::from_utf8(self.store.blob(id).ok().filter(|b| b.len() <= LARGEST_CAR)?).ok()?;
                Car::read("car.toml", &text).ok()?.schema().ok()
            };
            self.car = Some((id, read().unwrap_or(Cow::Borrowed(schema()))));
        }
        self.car.as_ref().map_or(schema(), |(_, own)| own)
    }
}

/// All that an error says, a sentence each.
fn in_words(error: &Error) -> Vec<String> {
    match error {
        Error::Text { problems, .. } => problems.iter().map(|p| p.message.clone()).collect(),
        other => vec![other.to_string()],
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_book_has_these_paths_and_no_others() {
        for path in ["car.toml", "setup.toml", "days/2026/05-16-osier-flats.toml", "trials/clamps.toml"] {
            assert!(book_path(path, false).is_ok(), "{path}");
            assert!(book_path(path, true).is_err(), "{path}");
        }
        for path in ["days", "trials", "days/2026"] {
            assert!(book_path(path, true).is_ok() && book_path(path, false).is_err(), "{path}");
        }
        for path in [
            "notes.txt",
            "days/x.toml",
            "days/2026/x.toml",
            "days/2026/05-16-A.toml",
            "trials/a/b.toml",
            "days/2026/05-16-x.toml.toml",
            "days/2026/02-31-x.toml",
            "trials/.toml",
            "Car.toml",
            "days/2026/05-16-.toml",
        ] {
            assert!(book_path(path, false).is_err(), "{path}");
        }
        assert!(book_path("days/26", true).is_err() && book_path("days/2026/x", true).is_err());
    }
}
