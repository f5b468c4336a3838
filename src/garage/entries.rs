//! Records of the log → what each says of the sheet, as the timeline wants it.

use super::book::Book;
use super::line;
use super::message::Message;
use super::now::{sets_differ, text};
use super::{Result, who};
use crate::schema::{Sheet, read_in_parts};
use crate::slip::Moment;
use crate::store::{Id, Logged};
use crate::timeline::{Entry, Given, Kind};
use std::collections::HashMap;

/// A record that says something of the sheet.
pub(super) struct Kept {
    /// As the timeline wants it.
    pub entry: Entry,
    /// The sheet after it.
    pub sheet: Sheet,
    /// Its message.
    pub message: Message,
    /// Its place in the log that was read.
    pub log: usize,
}

impl Book {
    /// The records that say something of the sheet, in the order of the log.
    pub(super) fn entries(&self, log: &[Logged]) -> Result<Vec<(Entry, Sheet)>> {
        Ok(self.kept(log)?.into_iter().map(|k| (k.entry, k.sheet)).collect())
    }

    /// The records that say something of the sheet, each with its sheet and its message, in the order of the log.
    pub(super) fn kept(&self, log: &[Logged]) -> Result<Vec<Kept>> {
        let mut sheets: HashMap<Id, Sheet> = HashMap::new();
        let mut known = self.known.borrow_mut();
        let mut entries: Vec<Kept> = Vec::new();
        let mut before: Option<(Id, Sheet)> = None;
        let mut given = Given::default();
        for (at, logged) in log.iter().enumerate() {
            let Some(blob) = logged.sheet else { continue };
            let message = Message::read(&logged.commit.message);
            message.note_numbers(&mut given);
            if line::is_mend(&message) {
                continue;
            }
            let same = before.as_ref().is_some_and(|(id, _)| *id == blob);
            let kind = message.kind();
            if same && !is_of_sheet(&message) {
                continue;
            }
            let sheet = match sheets.get(&blob) {
                Some(sheet) => sheet.clone(),
                None => {
                    let text = text(self.store.blob(blob)?, "setup.toml")?;
                    let sheet = read_in_parts(&self.schema, &text, &mut known);
                    sheets.insert(blob, sheet.clone());
                    sheet
                }
            };
            // A commit by hand, or one that changed the sheet without saying so, is what it did.
            let said = kind.filter(|k| !matches!(k, Kind::Run | Kind::Other));
            let kind = said.unwrap_or_else(|| match &before {
                None => Kind::Open,
                Some((_, old)) if sets_differ(&self.schema, old, &sheet) => Kind::Change,
                Some(_) => Kind::Measured,
            });
            before = Some((blob, sheet.clone()));
            // A version made by hand takes the next number, never one that was given before.
            let by_hand = || matches!(kind, Kind::Open | Kind::Change | Kind::Revert).then(|| given.next());
            let number = message.version().or_else(by_hand);
            number.iter().for_each(|n| given.note(n));
            let words = if message.body.is_empty() { vec![message.subject.clone()] } else { message.body.clone() };
            let entry = Entry {
                id: logged.commit.id.to_string(),
                kind,
                number,
                at: not_before(who::moment(logged.commit.authored), entries.first().map(|k| k.entry.at)),
                written: who::moment(logged.commit.written),
                by: logged.commit.author.name.clone(),
                words,
                why: message.get("Why").map(str::to_owned),
                back_to: message.get("Back-to").map(str::to_owned),
                measured: message.all("Measured").map(str::to_owned).collect(),
                since: message.get("Since").and_then(|t| t.parse().ok()),
                time_unknown: message.get("Time") == Some("unknown"),
                mended: message.all("Mended").map(str::to_owned).collect(),
                replaces: message.all("Replaces").map(str::to_owned).collect(),
                was: message.all("Was").filter_map(|n| n.parse().ok()).collect(),
                blob: blob.to_string(),
            };
            entries.push(Kept { entry, sheet, message, log: at });
        }
        Ok(entries)
    }
}

/// Whether a record says something of the sheet, also where that is what it was before.
pub(super) fn is_of_sheet(message: &Message) -> bool {
    matches!(message.kind(), Some(Kind::Change | Kind::Revert | Kind::Open | Kind::Measured))
        || message.get("Measured").is_some()
}

/// Nothing is on record before the first sheet: a commit that a hand dated earlier counts from there on.
fn not_before(at: Moment, first: Option<Moment>) -> Moment {
    first.filter(|f| at.seconds < f.seconds).unwrap_or(at)
}
