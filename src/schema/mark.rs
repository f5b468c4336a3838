//! The setup mark: which versions are one setup, so that their runs pool.

use super::{Role, Schema, Sheet, Value};
use std::collections::BTreeMap;
use std::fmt;
use std::hash::{Hash, Hasher};

/// A fingerprint of the canonical set and described values. Equal marks: one setup.
#[derive(Clone, Copy, Default, PartialEq, Eq, PartialOrd, Ord, Hash, serde::Serialize, serde::Deserialize)]
pub struct Mark(u128);

impl fmt::Display for Mark {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{:032x}", self.0)
    }
}

impl fmt::Debug for Mark {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        fmt::Display::fmt(self, f)
    }
}

/// The mark of a sheet whose described values are already filled back (see [`filled_back`]).
///
/// FNV-1a, 128 bit (Fowler, Noll, Vo; constants from memory): the same on every platform, and never a
/// proof of anything.
pub fn mark_of(schema: &Schema, sheet: &Sheet) -> Mark {
    let mut hash = Fnv::default();
    for (key, value) in sheet.iter() {
        if schema.field(key).is_some_and(|f| matches!(f.role, Role::Set | Role::Described)) {
            key.hash(&mut hash);
            value.hash(&mut hash);
        }
    }
    Mark(hash.0)
}

/// Takes everything as little-endian bytes of a fixed width, so that no machine has marks of its own.
struct Fnv(u128);

impl Default for Fnv {
    fn default() -> Fnv {
        Fnv(0x6c62_272e_07bb_0142_62b8_2175_6295_c58d)
    }
}

impl Hasher for Fnv {
    fn write(&mut self, bytes: &[u8]) {
        for byte in bytes {
            self.0 = (self.0 ^ u128::from(*byte)).wrapping_mul(0x0000_0000_0100_0000_0000_0000_0000_013b);
        }
    }

    fn write_i64(&mut self, n: i64) {
        self.write(&n.to_le_bytes());
    }

    fn write_usize(&mut self, n: usize) {
        self.write(&(n as u64).to_le_bytes());
    }

    fn write_isize(&mut self, n: isize) {
        self.write(&(n as i64).to_le_bytes());
    }

    fn finish(&self) -> u64 {
        self.0 as u64
    }
}

/// The sheets, in time order, with described values that first go on record later counted as having been so for as
/// long as their part was fitted and their field applied.
pub fn filled_back(schema: &Schema, sheets: &[Sheet]) -> Vec<Sheet> {
    let mut out = sheets.to_vec();
    // What a later sheet says of each described field, with the part that was fitted then.
    let mut known: BTreeMap<&str, (Value, Option<Value>)> = BTreeMap::new();
    let described = || schema.fields.iter().filter(|f| f.role == Role::Described);
    for sheet in out.iter_mut().rev() {
        for field in described() {
            let part = field.part.as_deref().and_then(|p| sheet.get(p)).cloned();
            match sheet.get(&field.key) {
                Some(value) => {
                    known.insert(&field.key, (value.clone(), part));
                }
                None => {
                    let fits = known.get(field.key.as_str()).filter(|(_, p)| *p == part).map(|(v, _)| v.clone());
                    let fits = fits.filter(|_| field.applies.holds(sheet));
                    match fits {
                        Some(value) => sheet.set(&field.key, value),
                        None => drop(known.remove(field.key.as_str())),
                    }
                }
            }
        }
    }
    out
}
