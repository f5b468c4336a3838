//! Answers that take long, kept in the user's own cache folder: keyed by the book's state, deleted at any time, never read
//! where anything about them is wrong.

use super::book::{Book, History};
use super::outline::{program, put};
use crate::store::Store;
use std::fs;
use std::hash::{DefaultHasher, Hasher};
use std::path::PathBuf;

/// The largest that is read, in bytes.
const LARGEST: u64 = 64 << 20;

/// Tells damage, not intent: the folder is the user's own.
fn sum_of(bytes: &[u8]) -> u64 {
    let mut hash = DefaultHasher::new();
    hash.write(bytes);
    hash.finish()
}

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
        let (sum, rest) = bytes.strip_prefix(key.as_bytes())?.split_first_chunk::<8>()?;
        (u64::from_le_bytes(*sum) == sum_of(rest)).then(|| rest.to_vec())
    }

    /// Keeps it for the next time.
    pub fn keep_derived(&self, history: &History, name: &str, asked: &str, bytes: &[u8]) {
        if let Some((file, key)) = self.derived_at(history, name, asked) {
            if bytes.len() as u64 + 64 <= LARGEST {
                put(&file, &[key.as_bytes(), &sum_of(bytes).to_le_bytes(), bytes].concat());
            }
        }
    }
}
