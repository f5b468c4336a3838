//! The derived cache: a book's versions and runs, so that a question about a long history does not read all of it again.
//!
//! It lies in the user's own cache folder, never in the book: a stranger's book cannot bring a forged one along. It is
//! keyed by the newest commit and the program, can be deleted at any time, and never changes an answer.

use super::Result;
use super::history::History;
use super::now::{read_day, text};
use crate::slip::{Day, day_of_path};
use crate::store::{Id, Store};
use crate::timeline::Timeline;
use serde::{Deserialize, Serialize};
use std::collections::HashMap;
use std::fs;
use std::hash::{DefaultHasher, Hasher};
use std::io::Write;
use std::path::{Path, PathBuf};

/// What is kept.
#[derive(Serialize, Deserialize)]
pub struct Outline {
    program: String,
    head: [u8; 20],
    car: [u8; 20],
    timeline: Timeline,
    days: Vec<KeptDay>,
}

#[derive(Serialize, Deserialize)]
struct KeptDay {
    path: String,
    blob: [u8; 20],
    day: Day,
}

/// The largest cache that is read, in bytes.
const LARGEST: u64 = 256 << 20;

/// Counted up whenever what is kept changes its form.
const FORM: u32 = 10;

/// What wrote it: the cache of another build of the program is not read.
pub fn program() -> String {
    format!("{} {} {FORM}", env!("CARGO_PKG_VERSION"), env!("SLIPBOOK_DATA_ID"))
}

/// The file for the book in a folder.
pub fn file(cache: &Path, book: &Path) -> PathBuf {
    let path = book.canonicalize().unwrap_or_else(|_| book.to_owned());
    cache.join(format!("{}.outline", Store::blob_id(path.as_os_str().as_encoded_bytes())))
}

/// Reads it; anything wrong with it is as if it were not there.
pub fn read(path: &Path) -> Option<Outline> {
    if fs::metadata(path).ok()?.len() > LARGEST {
        return None;
    }
    let outline: Outline = postcard::from_bytes(whole(&fs::read(path).ok()?)?).ok()?;
    (outline.program == program()).then_some(outline)
}

/// Writes it.
pub fn write(path: &Path, outline: &Outline) {
    if let Ok(bytes) = postcard::to_stdvec(outline) {
        put(path, &[&sum_of(&bytes), &bytes]);
    }
}

/// The bytes behind their sum; `None` where they are not what was written.
pub fn whole(bytes: &[u8]) -> Option<&[u8]> {
    let (sum, rest) = bytes.split_first_chunk::<8>()?;
    (*sum == sum_of(rest)).then_some(rest)
}

/// What is written before bytes: it tells damage, not intent; the folder is the user's own.
pub fn sum_of(bytes: &[u8]) -> [u8; 8] {
    let mut hash = DefaultHasher::new();
    hash.write(bytes);
    hash.finish().to_le_bytes()
}

/// Writes a file, in pieces, aside and renames it. A folder that cannot be written costs time later, nothing else.
pub fn put(path: &Path, pieces: &[&[u8]]) {
    let aside = path.with_extension(format!("{}.aside", std::process::id()));
    let parent = path.parent().unwrap_or(Path::new("."));
    let write = || {
        let mut file = fs::File::create(&aside)?;
        pieces.iter().try_for_each(|piece| file.write_all(piece))
    };
    let written = fs::create_dir_all(parent).and_then(|()| write()).and_then(|()| fs::rename(&aside, path));
    if written.is_err() {
        let _ = fs::remove_file(&aside);
    }
}

impl Outline {
    /// The commit it was made at.
    pub fn head(&self) -> Id {
        Id::from_bytes(self.head)
    }

    /// Whether it was made with this `car.toml` (its own fields decide how sheets are read).
    pub fn of_car(&self, car: Id) -> bool {
        self.car == *car.as_bytes()
    }

    /// From what was read; `days` are the day files of `head` with their ids.
    pub fn new(head: Id, car: Id, timeline: Timeline, days: Vec<(String, Id, Day)>) -> Outline {
        let days = days.into_iter().map(|(path, id, day)| KeptDay { path, blob: *id.as_bytes(), day }).collect();
        Outline { program: program(), head: *head.as_bytes(), car: *car.as_bytes(), timeline, days }
    }

    /// Its parts: the timeline, and the days by path and blob id.
    pub fn into_parts(self) -> (Timeline, HashMap<String, (Id, Day)>) {
        let days = self.days.into_iter().map(|d| (d.path, (Id::from_bytes(d.blob), d.day))).collect();
        (self.timeline, days)
    }

    /// The history, where nothing was recorded since.
    pub fn into_history(self, head: Id) -> History {
        let days = self.days.into_iter().map(|d| d.day).collect();
        super::history::linked(self.timeline, days, Some(head))
    }
}

/// The day files of a commit; those that are known by their id are not read again.
pub fn days(store: &Store, head: Id, mut known: HashMap<String, (Id, Day)>) -> Result<Vec<(String, Id, Day)>> {
    let mut out = Vec::new();
    for (path, id) in store.files(head)? {
        if day_of_path(&path).is_none() {
            continue;
        }
        let day = match known.remove(&path) {
            Some((had, day)) if had == id => day,
            _ => read_day(&path, &text(store.blob(id)?, &path)?)?,
        };
        out.push((path, id, day));
    }
    Ok(out)
}
