//! The car changed (or something was measured): edits → a record.

use super::book::Book;
use super::car::sheet_header;
use super::message::Message;
use super::now::{OnCar, last_run, now, sets_differ};
use super::record::{Draft, Written, record};
use super::who::Hand;
use super::{Error, Result};
use crate::diff::words::{self, Clause};
use crate::diff::{SheetDiff, Turned, diff, turned};
use crate::schema::{Edit, Role, Schema, Sheet, apply, write_sheet};
use crate::slip::Moment;
use crate::store::{Id, Options, Store};
use crate::timeline::{Kind, VersionNumber};

/// What is to be recorded.
#[derive(Debug, Clone, Default)]
pub struct Wanted {
    /// What was typed.
    pub edits: Vec<Edit>,
    /// Keys of measured fields that were taken: anew, or found as they were on record.
    pub measured: Vec<String>,
    /// Why.
    pub why: Option<String>,
    /// When it happened; `None` = now.
    pub at: Option<Moment>,
    /// Where only a window of time is known: when it began. It ends at `at`.
    pub since: Option<Moment>,
    /// It was done some time before `at`; when is not known.
    pub time_unknown: bool,
    /// Set for a revert: the version gone back to.
    pub back_to: Option<String>,
    /// Set where the edits only hold for the sheet they were made against: its store id.
    pub seen: Option<Id>,
    /// A new text of `car.toml` in the same record, with the store id of the text it was made from.
    pub car: Option<(Id, String)>,
}

/// What came of it, or would.
#[derive(Debug, Clone)]
pub struct Changed {
    /// The version it makes; the one on the car where nothing was turned.
    pub number: VersionNumber,
    /// What it is.
    pub kind: Kind,
    /// When it happened.
    pub at: Moment,
    /// What differs.
    pub diff: SheetDiff,
    /// In words.
    pub clauses: Vec<Clause>,
    /// What a hand does for it.
    pub turned: Vec<Turned>,
    /// Keys of measured fields on record that it makes stale.
    pub stale: Vec<String>,
    /// Values outside the usual range, in words.
    pub unusual: Vec<String>,
    /// The sheet after it.
    pub sheet: Sheet,
    /// When it happened is not known: some time before `at`.
    pub time_unknown: bool,
}

/// Measured fields on record that a change moved and that were not taken anew in it.
pub fn stale_after(schema: &Schema, old: &Sheet, new: &Sheet, diff: &SheetDiff) -> Vec<String> {
    let moved = |key: &str| diff.get(key).is_some();
    let mut out: Vec<String> = Vec::new();
    for change in diff.changes.iter().filter(|c| c.is_other_value()) {
        let Some(field) = schema.field(&change.key).filter(|f| f.role == Role::Set) else { continue };
        for key in &field.moves {
            let measured = schema.field(key).is_some_and(|f| f.role == Role::Measured);
            if measured && new.get(key).is_some() && old.get(key).is_some() && !moved(key) && !out.contains(key) {
                out.push(key.clone());
            }
        }
    }
    out.sort_by_key(|k| schema.order(k));
    out
}

/// What the edits would do to the sheet on the car.
pub fn preview(schema: &Schema, on: &OnCar, wanted: &Wanted, hand: &Hand) -> Result<Changed> {
    let refused = |why: String| Error::data(why, "nothing was changed");
    let applied = apply(schema, &on.sheet, &wanted.edits).map_err(refused)?;
    let diff = diff(schema, &on.sheet, &applied.sheet);
    let clauses = told(schema, &on.sheet, &applied.sheet, &diff, &wanted.measured);
    let is_version = sets_differ(schema, &on.sheet, &applied.sheet) && !only_describes(schema, &diff);
    let kind = match (is_version, &wanted.back_to) {
        (true, Some(_)) => Kind::Revert,
        (true, None) => Kind::Change,
        (false, _) => Kind::Measured,
    };
    let number = if is_version { on.next.clone() } else { on.number.clone() };
    let turned = diff.changes.iter().filter_map(|c| turned(schema, &on.sheet, &applied.sheet, c)).collect();
    let stale = stale_after(schema, &on.sheet, &applied.sheet, &diff);
    Ok(Changed {
        time_unknown: wanted.time_unknown,
        number,
        kind,
        at: wanted.at.unwrap_or(hand.now),
        diff,
        clauses,
        turned,
        stale,
        unusual: applied.unusual,
        sheet: applied.sheet,
    })
}

/// What a record tells: what differs, and what was measured and found as it was.
pub(super) fn told(schema: &Schema, old: &Sheet, new: &Sheet, diff: &SheetDiff, measured: &[String]) -> Vec<Clause> {
    let mut clauses = words::clauses(schema, old, new, diff);
    let found = measured.iter().filter_map(|path| schema.locate(path));
    let as_it_was = found.filter(|(field, _)| diff.get(&field.key).is_none());
    clauses.extend(as_it_was.filter_map(|(field, slot)| words::confirmed(schema, new, field, slot)));
    clauses
}

/// Says it in a message.
pub(super) fn say(message: &mut Message, back_to: Option<&str>, clauses: &[Clause]) {
    message.subject = back_to.map_or_else(|| words::subject(clauses), |version| words::back_to(version, clauses));
    message.body = words::body(clauses).map(|b| b.lines().map(str::to_owned).collect()).unwrap_or_default();
}

/// What is on the car once a change is recorded; `text` is the sheet's.
pub(super) fn after(on: OnCar, changed: &Changed, text: String) -> OnCar {
    let turned = changed.kind != Kind::Measured;
    OnCar {
        began: if turned { changed.at } else { on.began },
        next: if turned { VersionNumber::plain(on.next.n + 1) } else { on.next },
        number: changed.number.clone(),
        latest: changed.at,
        blob: Store::blob_id(text.as_bytes()),
        text,
        sheet: changed.sheet.clone(),
    }
}

/// A described value that goes on record for the first time counts as having been so: no new version.
pub(super) fn only_describes(schema: &Schema, diff: &SheetDiff) -> bool {
    let role = |key: &str| schema.field(key).map(|f| f.role);
    diff.changes.iter().filter(|c| c.is_other_value()).all(|c| match role(&c.key) {
        Some(Role::Set) => false,
        Some(Role::Described) => c.old.is_none(),
        _ => true,
    })
}

/// Refuses what would have to be carried through later records: that is news that comes late.
pub fn refuse_late(book: &Book, head: Id, on: &OnCar, at: Moment) -> Result<()> {
    let help = "what comes late: slipbook change --when TIME, or slipbook day --from FILE";
    if at < on.latest {
        let message = format!("{} is before {}, which went on {}", at.words(None), on.number, on.began.words(None));
        return Err(Error::usage(message, help));
    }
    if let Some(last) = last_run(&book.store, head)?.filter(|last| at < *last) {
        let message = format!("{} is before the last run on record ({})", at.words(None), last.words(None));
        return Err(Error::usage(message, help));
    }
    Ok(())
}

/// The message of a change.
pub fn message(schema: &Schema, changed: &Changed, wanted: &Wanted) -> Message {
    let mut message = Message::new(changed.kind, "");
    say(&mut message, wanted.back_to.as_deref().filter(|_| changed.kind == Kind::Revert), &changed.clauses);
    if changed.kind != Kind::Measured {
        message.push("Version", &changed.number.to_string());
    }
    for edit in &wanted.edits {
        message.push("Typed", &edit.to_trailer(schema));
    }
    for key in &wanted.measured {
        message.push("Measured", key);
    }
    if let Some(version) = &wanted.back_to {
        message.push("Back-to", version);
    }
    if let Some(since) = wanted.since {
        message.push("Since", &since.iso());
    }
    if wanted.time_unknown {
        message.push("Time", "unknown");
    }
    if let Some(why) = wanted.why.as_deref().filter(|w| !w.trim().is_empty()) {
        message.push("Why", why);
    }
    message
}

/// Whether it happened before something that is on record: then it is news that comes late. `on` is what is on the car
/// at the tip.
pub fn is_late(book: &Book, on: &OnCar, at: Moment) -> Result<bool> {
    let last = book.store.head()?.map(|head| last_run(&book.store, head)).transpose()?.flatten();
    Ok(comes_late(on.latest, last, at))
}

/// The rule of it: before the latest record of the sheet, or before the last run.
pub(super) fn comes_late(latest: Moment, last_run: Option<Moment>, at: Moment) -> bool {
    at < latest || last_run.is_some_and(|last| at < last)
}

/// Records the change on whatever is the tip by then. Nothing to change is a usage error.
///
/// What happened before something on record is put in late.
pub fn change(book: &Book, options: &Options, hand: &Hand, wanted: &Wanted) -> Result<(Changed, Written)> {
    let mut late = false;
    let mut result = None;
    let written = record(&book.store, options, hand, &mut |tip| {
        let on = now(tip.store, &book.schema, tip.head)?;
        late = is_late(book, &on, wanted.at.unwrap_or(hand.now))?;
        if late {
            return Ok(None);
        }
        if wanted.seen.is_some_and(|seen| seen != on.blob) {
            return Err(Error::data("the sheet changed meanwhile; nothing was recorded", "say it again"));
        }
        let changed = preview(&book.schema, &on, wanted, hand)?;
        if changed.diff.is_empty() && wanted.measured.is_empty() && wanted.car.is_none() {
            return Err(Error::usage("nothing would change: the sheet says so already", "slipbook sheet shows it"));
        }
        let text = write_sheet(&book.schema, &changed.sheet, Some(&on.text), &sheet_header());
        let mut files = vec![("setup.toml".to_owned(), Some(text.into_bytes()))];
        if let Some((was, text)) = &wanted.car {
            let is = tip.head.map(|h| tip.store.file(h, "car.toml")).transpose()?.flatten();
            if is.is_none_or(|(id, _)| id != *was) {
                return Err(Error::data("car.toml changed meanwhile; nothing was recorded", "say it again"));
            }
            files.push(("car.toml".to_owned(), Some(text.clone().into_bytes())));
        }
        let draft =
            Draft { files, message: message(&book.schema, &changed, wanted), at: changed.at, takes_hand_edit: false };
        result = Some(changed);
        Ok(Some(draft))
    })?;
    if late {
        let (changed, mut done) = super::mend::change_late(book, options, hand, wanted)?;
        done.notes.splice(0..0, written.notes);
        return Ok((changed, done));
    }
    let changed = result.ok_or_else(|| Error::data("the record was not built", "try again"))?;
    Ok((changed, written))
}
