//! How much room a book takes once it is opened, counted before it is: a small file can say one large thing many times over.

use super::entries::is_of_sheet;
use super::line;
use super::message::Message;
use super::{Error, Result};
use crate::store::{Id, Store};
use crate::timeline::Given;
use std::collections::HashMap;
use std::path::Path;

/// The most the files of a book hold together as they are now, in bytes: all of them are read at once.
const MOST_NOW: u64 = 64 << 20;

/// The most room a stranger's book is given, in bytes as counted here: 15,000 changes of a sheet of a hundred fields.
const MOST_ROOM: u64 = 512 << 20;

/// About what a value, or a line of a message, takes beside its text, in bytes.
const A_VALUE: u64 = 160;

/// No book has more versions: numbers behind it could not be told from one another some day.
const HIGHEST: u32 = 99_999;

/// Refuses a book that would take too much room: all its files as they are now, and the sheets and messages of its record.
pub(super) fn refuse_vast(source: &Path, store: &Store, tip: Id) -> Result<()> {
    let refuse =
        |what: String| Err(Error::data(format!("{} is not taken in: {what}", source.display()), "nothing was changed"));
    let (mut bytes, mut room) = (0, 0);
    for (_, blob) in store.files(tip)? {
        let text = store.blob(blob)?;
        bytes += text.len() as u64;
        room += room_of(&text);
        if bytes > MOST_NOW || room > MOST_ROOM {
            return refuse(format!("its files hold over {} bytes", bytes.min(MOST_NOW)));
        }
    }
    let mut sheets: HashMap<Id, u64> = HashMap::new();
    let (mut before, mut given) = (None, Given::default());
    for logged in line::log(store, tip)?.iter().rev() {
        let text = logged.commit.message.as_bytes();
        room += room_of(text) + A_VALUE * text.iter().filter(|b| **b == b'\n').count() as u64;
        let message = Message::read(&logged.commit.message);
        message.note_numbers(&mut given);
        // A record has a sheet of its own at hand once the book is read.
        if let Some(sheet) = logged.sheet.filter(|sheet| before != Some(*sheet) || is_of_sheet(&message)) {
            let known = sheets.get(&sheet).copied();
            let of = known.map_or_else(|| Ok::<_, Error>(room_of(&store.blob(sheet)?)), Ok)?;
            sheets.insert(sheet, of);
            room += of;
        }
        before = logged.sheet.or(before);
        if given.highest > HIGHEST {
            return refuse(format!("a book's versions go to v{HIGHEST}, and its record has v{}", given.highest));
        }
        if room > MOST_ROOM {
            return refuse(format!("the sheets of its records would take over {MOST_ROOM} bytes of memory"));
        }
    }
    Ok(())
}

/// About what a text of values takes once it is read, in bytes.
fn room_of(text: &[u8]) -> u64 {
    let values = text.iter().filter(|b| matches!(b, b'=' | b',')).count();
    2 * text.len() as u64 + A_VALUE * values as u64
}
