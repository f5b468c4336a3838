//! Edits made by hand in the files of a book: noticed, told in words, saved when the racer says so.

use super::book::Book;
use super::car::{Car, sheet_header};
use super::change::{Changed, Wanted, message, preview, refuse_late};
use super::message::{COMMENTS, Message};
use super::now::{now, read_day, right_sheet, sheet_in, text};
use super::record::{Draft, Written, finish, record};
use super::trial::read_named;
use super::who::Hand;
use super::{Error, Result};
use crate::diff::words::LONGEST_SUBJECT;
use crate::schema::{Sheet, readings, write_sheet};
use crate::store::{Kind as EditKind, Options};
use crate::timeline::Kind;
use crate::trial::slug_of_path;

/// What a hand changed in the folder since the last record.
#[derive(Debug, Clone, Default)]
pub struct HandEdits {
    /// Files, with what happened to each: "changed", "deleted", "new".
    pub files: Vec<(String, &'static str)>,
    /// The sheet as edited, where it is among them and can be read.
    pub sheet: Option<Sheet>,
}

/// What to do about a file that was deleted: what was written is never lost, so the record is not for a file to end.
const DELETED_HELP: &str = "slipbook sheet --put-back puts back what was deleted, as it is on record; a run that never was \
                            goes with: slipbook mend run ID --never";

/// What to do about an edit by hand that is in the way.
pub fn edit_help(path: &str) -> String {
    format!(
        "slipbook sheet shows the edit, slipbook sheet --save saves it, slipbook sheet --put-back {path} puts back what is on \
         record"
    )
}

/// What the record of files that a hand edited begins with.
pub(super) const EDITED: &str = "edited by hand: ";

/// Looks for edits made by hand.
pub fn hand_edits(book: &Book) -> Result<HandEdits> {
    let mut out = HandEdits::default();
    for edit in book.store.work_state()? {
        let what = match edit.kind {
            EditKind::Changed => "changed",
            EditKind::Deleted => "deleted",
            EditKind::New => "new",
        };
        if edit.path == "setup.toml" && edit.kind == EditKind::Changed {
            out.sheet = edited_sheet(book).ok().map(|(_, s)| s);
        }
        out.files.push((edit.path, what));
    }
    Ok(out)
}

/// The sheet in the folder, valid; all problems are told.
pub fn edited_sheet(book: &Book) -> Result<(String, Sheet)> {
    let bytes = book.store.read_work("setup.toml")?;
    let bytes = bytes.ok_or_else(|| Error::data("setup.toml is gone; nothing was saved", DELETED_HELP))?;
    let text = text(bytes, "setup.toml")?;
    let sheet = right_sheet(&book.schema, "setup.toml", &text)?;
    Ok((text, sheet))
}

/// What saving would record of the sheet.
pub fn preview_sheet(book: &Book, sheet: &Sheet, why: Option<String>, hand: &Hand) -> Result<(Changed, Wanted)> {
    let on = now(&book.store, &book.schema, book.store.head()?)?;
    let wanted = Wanted { edits: readings(&book.schema, &on.sheet, sheet), why, ..Wanted::default() };
    Ok((preview(&book.schema, &on, &wanted, hand)?, wanted))
}

/// Saves the sheet as edited (given as text), as a change.
pub fn save_sheet(
    book: &Book,
    options: &Options,
    hand: &Hand,
    edited: &str,
    why: Option<String>,
) -> Result<(Option<Changed>, Written)> {
    let mut result = None;
    let written = record(&book.store, options, hand, &mut |tip| {
        if book.store.read_work("setup.toml")?.as_deref() != Some(edited.as_bytes()) {
            let help = "nothing was recorded; slipbook sheet --save again";
            return Err(Error::data("setup.toml was edited again meanwhile", help));
        }
        let on = now(tip.store, &book.schema, tip.head)?;
        let sheet = right_sheet(&book.schema, "setup.toml", edited)?;
        let edits = readings(&book.schema, &on.sheet, &sheet);
        let wanted = Wanted { edits, why: why.clone(), ..Wanted::default() };
        let changed = preview(&book.schema, &on, &wanted, hand)?;
        if let Some(head) = tip.head {
            refuse_late(book, head, &on, changed.at)?;
        }
        let text = write_sheet(&book.schema, &changed.sheet, Some(edited), &sheet_header());
        if text == on.text {
            // Only the layout differed: a record that alters nothing brings the file back in step.
            return Ok(Some(layout(text, changed.at)));
        }
        let message = match changed.diff.is_empty() {
            true => Message::new(Kind::Measured, COMMENTS),
            false => message(&book.schema, &changed, &wanted),
        };
        let at = changed.at;
        result = (!changed.diff.is_empty()).then_some(changed);
        let files = vec![("setup.toml".to_owned(), Some(text.into_bytes()))];
        Ok(Some(Draft { files, message, at, takes_hand_edit: true }))
    })?;
    Ok((result, written))
}

/// Puts files back as they are on record: these, or where none is named all that were deleted. What a hand did to one that
/// is named goes with it. The files that were put back; the record stays as it is.
pub fn put_back(book: &Book, options: &Options, named: &[String]) -> Result<(Vec<String>, Written)> {
    let edited: Vec<(String, &str)> = hand_edits(book)?.files.into_iter().filter(|(_, what)| *what != "new").collect();
    if let Some(other) = named.iter().find(|path| !edited.iter().any(|(p, _)| p == *path)) {
        let help = match edited.as_slice() {
            [] => "nothing on record was deleted or edited by hand".to_owned(),
            some => some.iter().map(|(path, what)| format!("{path} ({what})")).collect::<Vec<_>>().join(", "),
        };
        return Err(Error::usage(format!("{other} is as it is on record, or is not on record"), help));
    }
    let is_meant = |(path, what): &(String, &str)| {
        if named.is_empty() { *what == "deleted" } else { named.contains(path) }
    };
    let paths: Vec<String> = edited.into_iter().filter(is_meant).map(|(path, _)| path).collect();
    let mut put = Vec::new();
    let done = book.store.record_many(options, &mut |batch| {
        put.clear();
        for path in &paths {
            // What was deleted may have been saved again since: only what is named is laid out over what is there.
            let laid_out = if named.is_empty() { batch.lay_out_if_gone(path)? } else { batch.lay_out(path)? };
            put.extend(laid_out.then(|| path.clone()));
        }
        Ok(())
    });
    let written = finish(done, None)?;
    Ok((put, written))
}

fn layout(text: String, at: crate::slip::Moment) -> Draft {
    let message = Message::new(Kind::Other, "sheet laid out again");
    Draft { files: vec![("setup.toml".to_owned(), Some(text.into_bytes()))], message, at, takes_hand_edit: true }
}

/// Saves edits made by hand in day files, trials and `car.toml`; each is read first, and a wrong one is told and nothing is saved.
pub fn save_files(book: &Book, options: &Options, hand: &Hand, paths: &[String]) -> Result<Written> {
    record(&book.store, options, hand, &mut |tip| {
        let mut files = Vec::new();
        for path in paths {
            let bytes = book.store.read_work(path)?;
            let bytes = bytes.ok_or_else(|| {
                Error::data(
                    format!("{path} was deleted by hand and is whole on record; nothing was saved"),
                    DELETED_HELP,
                )
            })?;
            let content = text(bytes, path)?;
            match path.as_str() {
                "car.toml" => {
                    let schema = Car::read(path, &content)?.schema().map_err(|why| Error::data(why, "car.toml"))?;
                    if let Some(head) = tip.head {
                        // A field that is still on the sheet cannot be given up: every later record would be refused.
                        sheet_in(tip.store, &schema, head, true)?;
                    }
                }
                trial if slug_of_path(trial).is_some() => drop(read_named(path, &content)?),
                _ => drop(read_day(path, &content)?),
            }
            files.push((path.clone(), Some(content.into_bytes())));
        }
        if files.is_empty() {
            return Ok(None);
        }
        let mut subject = format!("{EDITED}{}", paths.join(", "));
        if subject.chars().count() > LONGEST_SUBJECT {
            subject = format!("{EDITED}{} files", paths.len());
        }
        let mut message = Message::new(Kind::Other, subject);
        message.body = paths.to_vec();
        Ok(Some(Draft { files, message, at: hand.now, takes_hand_edit: true }))
    })
}
