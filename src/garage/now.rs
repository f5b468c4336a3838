//! What is on the car at the tip, found without reading the whole history: recording costs the same at every size.

use super::line;
use super::message::Message;
use super::{Error, Result, who};
use crate::schema::{Role, Schema, Sheet, read_sheet};
use crate::slip::{Day, Moment, day_of_path, read_day_text};
use crate::store::{Commit, Id, Store};
use crate::timeline::{Given, Kind, VersionNumber};

/// A sheet with the version it belongs to.
#[derive(Debug, Clone)]
pub struct OnCar {
    /// The version.
    pub number: VersionNumber,
    /// When it went on the car.
    pub began: Moment,
    /// When the latest record of the sheet was made, with a new version or without.
    pub latest: Moment,
    /// The number the next version gets.
    pub next: VersionNumber,
    /// Store id of the sheet.
    pub blob: Id,
    /// The sheet's text.
    pub text: String,
    /// The sheet.
    pub sheet: Sheet,
}

/// A text of the store.
pub fn text(bytes: Vec<u8>, path: &str) -> Result<String> {
    String::from_utf8(bytes)
        .map_err(|_| Error::data(format!("{path} is not UTF-8 text"), format!("slipbook sheet --put-back {path}")))
}

/// The sheet in a commit, with its blob id and text. Problems are errors only where `strict`.
pub fn sheet_in(store: &Store, schema: &Schema, commit: Id, strict: bool) -> Result<(Id, String, Sheet)> {
    let (blob, bytes) = store.file(commit, "setup.toml")?.ok_or_else(|| {
        Error::data(format!("there is no setup.toml in {}", commit.short()), "every record of a book holds it")
    })?;
    let text = text(bytes, "setup.toml")?;
    let sheet = if strict { right_sheet(schema, "setup.toml", &text)? } else { read_sheet(schema, &text).sheet };
    Ok((blob, text, sheet))
}

/// The sheet in a text; all that is wrong in it (merely unusual values are not) is the error, under the file's `name`.
pub fn right_sheet(schema: &Schema, name: &str, text: &str) -> Result<Sheet> {
    let read = read_sheet(schema, text);
    if read.refused().next().is_none() {
        return Ok(read.sheet);
    }
    let problems = read.problems.into_iter().filter(|p| !p.unusual).collect();
    Err(Error::Text { name: name.to_owned(), text: text.to_owned(), problems })
}

/// Whether two sheets differ in what is set or described: then a commit made by hand is a version.
pub fn sets_differ(schema: &Schema, a: &Sheet, b: &Sheet) -> bool {
    let roles = [Role::Set, Role::Described];
    a.of_roles(schema, &roles) != b.of_roles(schema, &roles)
}

/// The sheet that was on the car at a moment, walking back from `head`. `None` when the book begins later.
///
/// Walks as far as the record that began the version, so its cost follows the records since then, not the book.
pub fn on_car_at(store: &Store, schema: &Schema, head: Id, at: Option<Moment>) -> Result<Option<OnCar>> {
    let mut found: Option<(Id, String, Sheet)> = None;
    // Versions made by hand since the last one with a number, and when the newest of them began.
    let mut by_hand: (u32, Option<Moment>) = (0, None);
    let mut latest: Option<Moment> = None;
    let mut given = Given::default();
    // Those of records that are older than the versions made by hand.
    let mut older = Given::default();
    let mut next = Some(head);
    while let Some(id) = next {
        let commit = store.commit(id)?;
        next = line::before(&commit);
        let message = Message::read(&commit.message);
        let when = who::moment(commit.authored);
        if let Some(line) = message.get("Given") {
            given.note_line(line);
            older.note_line(line);
        }
        if line::is_mend(&message) {
            // The newest sheet is the one on the folder's branch; the line itself goes on behind the mend.
            if at.is_none() && found.is_none() {
                found = Some(sheet_in(store, schema, id, true)?);
            }
            continue;
        }
        if !matches!(message.kind(), Some(Kind::Run | Kind::Other)) {
            latest = latest.max(Some(when));
        }
        let early = at.is_none_or(|at| when.seconds <= at.seconds);
        // A run, or what is said of a day, stands at its own time on whatever sheet was the newest when it was written.
        if found.is_none() && early && !matches!(message.kind(), Some(Kind::Run | Kind::Other)) {
            found = Some(sheet_in(store, schema, id, at.is_none())?);
        } else if found.is_none() && early && at.is_none() {
            found = Some(sheet_in(store, schema, id, true)?);
        }
        let began = match (message.version(), message.kind()) {
            (Some(number), _) => Some(number),
            (None, None | Some(Kind::Other)) if found.is_some() && is_version_by_hand(store, schema, &commit)? => {
                by_hand = (by_hand.0 + 1, by_hand.1.or(Some(when)));
                older = Given::default();
                None
            }
            _ => None,
        };
        let Some(number) = began else { continue };
        if let Some((blob, text, sheet)) = found.take() {
            // Commits made by hand that came after it took the numbers behind it.
            given.note(&number);
            older.note(&number);
            let number = match by_hand.0 {
                0 => number,
                n => VersionNumber::plain(older.highest + n),
            };
            given.note(&number);
            let (began, latest) = (by_hand.1.unwrap_or(when), latest.unwrap_or(when));
            return Ok(Some(OnCar { number, began, latest, next: given.next(), blob, text, sheet }));
        }
    }
    Ok(None)
}

fn is_version_by_hand(store: &Store, schema: &Schema, commit: &Commit) -> Result<bool> {
    let Some(parent) = commit.parents.first() else { return Ok(true) };
    let before = store.file(*parent, "setup.toml")?;
    let after = store.file(commit.id, "setup.toml")?;
    match (before, after) {
        (Some((a, _)), Some((b, _))) if a == b => Ok(false),
        (Some((_, a)), Some((_, b))) => {
            let read = |bytes: Vec<u8>| text(bytes, "setup.toml").map(|t| read_sheet(schema, &t).sheet);
            Ok(sets_differ(schema, &read(a)?, &read(b)?))
        }
        _ => Ok(false),
    }
}

/// The newest sheet and version; an error where the book has none.
pub fn now(store: &Store, schema: &Schema, head: Option<Id>) -> Result<OnCar> {
    let found = head.map(|h| on_car_at(store, schema, h, None)).transpose()?.flatten();
    if head.is_none() {
        store.must_be_new()?;
    }
    found.ok_or_else(|| Error::data("the book has no sheet yet", "slipbook new makes a book with its first sheet"))
}

/// The path and text of the day files of a commit, newest day first, until `wanted` says stop.
pub fn days_back(store: &Store, head: Id, wanted: &mut dyn FnMut(&Day, &str, &str) -> bool) -> Result<()> {
    let files = store.files(head)?;
    let mut days: Vec<_> = files.iter().filter_map(|(p, id)| Some((day_of_path(p)?, p, *id))).collect();
    days.sort();
    for (_, path, id) in days.into_iter().rev() {
        let text = text(store.blob(id)?, path)?;
        let day = read_day(path, &text)?;
        if !wanted(&day, path, &text) {
            break;
        }
    }
    Ok(())
}

/// Reads a day file; all problems are told with the file's name.
pub fn read_day(path: &str, text: &str) -> Result<Day> {
    read_day_text(&crate::schema::schema().run, text).map_err(|problems| Error::Text {
        name: path.to_owned(),
        text: text.to_owned(),
        problems,
    })
}

/// The time of the last run on record.
pub fn last_run(store: &Store, head: Id) -> Result<Option<Moment>> {
    let mut last: Option<Moment> = None;
    let mut day_seen = None;
    days_back(store, head, &mut |day, _, _| {
        // Two tracks on one date: look at both.
        if day_seen.is_some_and(|d| d != day.date) {
            return false;
        }
        last = last.max(day.runs.last().map(|r| r.at));
        if last.is_some() {
            day_seen = Some(day.date);
        }
        true
    })?;
    Ok(last)
}
