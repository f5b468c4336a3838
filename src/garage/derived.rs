//! Answers that take long, kept in the user's own cache folder: keyed by the book's state, deleted at any time, never read
//! where anything about them is wrong.

use super::book::Book;
use super::history::History;
use super::outline::{program, put, sum_of, whole};
use crate::store::Store;
use std::fs;
use std::path::PathBuf;

/// The largest that is read, in bytes.
const LARGEST: u64 = 64 << 20;

impl Book {
    /// Where an answer is kept, and the key it must carry: the program, the book's newest record and what was asked.
    fn derived_at(&self, history: &History, name: &str, asked: &str) -> Option<(PathBuf, String)> {
        let file = self.cache.as_deref()?.with_extension(name);
        let text = format!("{} {} {}\n{asked}", program(), env!("SLIPBOOK_MODEL_ID"), history.head?);
        Some((file, Store::blob_id(text.as_bytes()).to_string()))
    }

    /// What was kept of an answer. `history` is the record as it holds, not as it was written.
    pub fn derived(&self, history: &History, name: &str, asked: &str) -> Option<Vec<u8>> {
        let (file, key) = self.derived_at(history, name, asked)?;
        if fs::metadata(&file).ok()?.len() > LARGEST {
            return None;
        }
        let bytes = fs::read(file).ok()?;
        whole(bytes.strip_prefix(key.as_bytes())?).map(<[u8]>::to_vec)
    }

    /// Keeps it for the next time.
    pub fn keep_derived(&self, history: &History, name: &str, asked: &str, bytes: &[u8]) {
        if let Some((file, key)) = self.derived_at(history, name, asked)
            && bytes.len() as u64 + 64 <= LARGEST
        {
            put(&file, &[key.as_bytes(), &sum_of(bytes), bytes]);
        }
    }
}
