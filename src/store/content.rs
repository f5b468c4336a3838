//! The handover id: SHA-256 over all a book holds, so that what was handed over can be told from what was altered.
//!
//! The id of an object is SHA-256 over git's header of it (`blob 12` and a zero byte), its bytes, and then the ids of
//! the objects it names, 32 bytes each, in the order it names them: a commit its tree and its parents, a tree its
//! entries (a commit of another repository that a tree names adds nothing). SHA-256 is that of FIPS 180-4. The id of a
//! book is that of its newest commit, so every commit before it has its own in the same walk. Git's own ids, SHA-1,
//! only serve to find the objects: nothing rests on them.
use std::collections::{HashMap, HashSet};
use std::fmt;
use std::str::FromStr;

use gix::objs::{CommitRef, Kind, TreeRefIter};
use sha2::{Digest, Sha256};

use super::{Id, Store, StoreError, log, spoken};

const SHA1: gix::hash::Kind = gix::hash::Kind::Sha1;

/// What identifies the content of a book up to one commit: 32 bytes, written as 64 hexadecimal digits.
///
/// Two books with the same id hold the same records, byte for byte.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct ContentId([u8; 32]);

impl ContentId {
    /// Its six words and the check word, to be said on the phone; [`super::Spoken`] reads them back.
    ///
    /// The six words are its first 66 bits: see [`super::Spoken`] for what they are worth.
    pub fn words(&self) -> [&'static str; 7] {
        spoken::words(&self.0)
    }

    /// The 32 bytes.
    pub fn as_bytes(&self) -> &[u8; 32] {
        &self.0
    }

    /// An id from its 32 bytes.
    pub fn from_bytes(bytes: [u8; 32]) -> ContentId {
        ContentId(bytes)
    }
}

impl fmt::Display for ContentId {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let digit = |n: u8| char::from(b"0123456789abcdef"[usize::from(n)]);
        let text: String = self.0.iter().flat_map(|b| [digit(b >> 4), digit(b & 15)]).collect();
        f.pad(&text)
    }
}

impl fmt::Debug for ContentId {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "ContentId({self})")
    }
}

/// A text that is not 64 hexadecimal digits.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("a handover id in full is 64 hexadecimal digits; this has {found}")]
pub struct NotAContentId {
    /// What is there instead.
    pub found: String,
}

impl FromStr for ContentId {
    type Err = NotAContentId;

    /// Reads 64 hexadecimal digits, large or small, with or without spaces and line ends between them.
    fn from_str(text: &str) -> Result<ContentId, NotAContentId> {
        let digits: Vec<char> = text.chars().filter(|c| !c.is_ascii_whitespace()).take(65).collect();
        if let Some(other) = digits.iter().find(|c| !c.is_ascii_hexdigit()) {
            return Err(NotAContentId { found: format!("the sign {other:?}") });
        }
        if digits.len() != 64 {
            let found = if digits.len() > 64 { "more".to_owned() } else { digits.len().to_string() };
            return Err(NotAContentId { found });
        }
        let mut bytes = [0; 32];
        for (n, digit) in digits.iter().enumerate() {
            bytes[n / 2] = bytes[n / 2] << 4 | digit.to_digit(16).unwrap_or(0) as u8;
        }
        Ok(ContentId(bytes))
    }
}

/// The content ids of a book: its own, and that of each commit it stands on.
#[derive(Debug, Clone)]
pub struct Contents {
    /// The newest record of it.
    pub tip: Id,
    /// The id of the whole.
    pub id: ContentId,
    /// The id of each commit that can be reached, over all parents: the book as it was when that was its newest.
    pub commits: HashMap<Id, ContentId>,
    /// Objects hashed, commits among them.
    pub objects: usize,
}

/// An object that is being looked at: hashed up to the ids of what it names.
struct Open {
    id: Id,
    kind: Kind,
    /// None until it was read.
    read: Option<(Sha256, Vec<(Id, Kind)>)>,
}

/// Hashes everything that can be reached from `tip`, each object read once.
///
/// Held in memory: 52 bytes an object, and a hash begun for each commit. The walk has a stack of its own, so neither a
/// long history nor trees nested without end reach the program's.
pub(super) fn walk(store: &Store, tip: Id, tell: &dyn Fn(usize)) -> Result<Contents, StoreError> {
    let mut known: HashMap<Id, [u8; 32]> = HashMap::new();
    let mut commits = HashMap::new();
    let mut begun: HashSet<Id> = HashSet::new();
    let mut stack = vec![Open { id: tip, kind: Kind::Commit, read: None }];
    let mut buffer = Vec::new();
    while let Some(mut open) = stack.pop() {
        if known.contains_key(&open.id) {
            continue;
        }
        let (mut hash, names) = match open.read.take() {
            Some(read) => read,
            None => {
                // Ids that are no hashes of what they stand for could name one another in a ring.
                if !begun.insert(open.id) {
                    let what = format!("the {} {}", open.kind, open.id);
                    return Err(StoreError::damaged(what, "it is part of itself"));
                }
                let data = log::find(store, open.id, open.kind, &mut buffer)?;
                let mut hash = Sha256::new();
                hash.update(format!("{} {}\0", open.kind, data.len()));
                hash.update(data);
                let names = names(open.id, open.kind, data)?;
                let wanted: Vec<Open> = (names.iter().rev().filter(|(id, _)| !known.contains_key(id)))
                    .map(|(id, kind)| Open { id: *id, kind: *kind, read: None })
                    .collect();
                if !wanted.is_empty() {
                    open.read = Some((hash, names));
                    stack.push(open);
                    stack.extend(wanted);
                    continue;
                }
                (hash, names)
            }
        };
        for (id, _) in &names {
            let missing =
                || StoreError::damaged(format!("the {} {}", open.kind, open.id), "what it names was not read");
            hash.update(known.get(id).ok_or_else(missing)?);
        }
        let id: [u8; 32] = hash.finalize().into();
        known.insert(open.id, id);
        if open.kind == Kind::Commit {
            commits.insert(open.id, ContentId(id));
        }
        tell(known.len());
    }
    let id = *commits.get(&tip).ok_or(StoreError::Missing { id: tip })?;
    Ok(Contents { tip, id, commits, objects: known.len() })
}

/// What an object names, in its own order.
fn names(id: Id, kind: Kind, data: &[u8]) -> Result<Vec<(Id, Kind)>, StoreError> {
    let bad = |e: gix::Error| StoreError::damaged(format!("the {kind} {id}"), e);
    match kind {
        Kind::Commit => {
            let raw = CommitRef::from_bytes(data, SHA1).map_err(bad)?;
            let parents = raw.parents().map(|p| (Id::of(&p), Kind::Commit));
            Ok(std::iter::once((Id::of(&raw.tree()), Kind::Tree)).chain(parents).collect())
        }
        Kind::Tree => {
            let mut names = Vec::new();
            for entry in TreeRefIter::from_bytes(data, SHA1) {
                let entry = entry.map_err(bad)?;
                if !entry.mode.is_commit() {
                    let kind = if entry.mode.is_tree() { Kind::Tree } else { Kind::Blob };
                    names.push((Id::of(entry.oid), kind));
                }
            }
            Ok(names)
        }
        _ => Ok(Vec::new()),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_id_is_read_back_as_it_is_written() {
        let id = ContentId(std::array::from_fn(|n| (n * 37 + 5) as u8));
        let text = id.to_string();
        assert_eq!(text.len(), 64);
        assert_eq!(text.parse(), Ok(id));
        let spread = format!(" {} {}\n{} ", &text[..16], text[16..40].to_uppercase(), &text[40..]);
        assert_eq!(spread.parse(), Ok(id));
    }

    #[test]
    fn what_is_no_id_says_what_it_has() {
        let found = |text: &str| text.parse::<ContentId>().unwrap_err().found;
        assert_eq!(found(""), "0");
        assert_eq!(found("12ab"), "4");
        assert_eq!(found(&"0".repeat(65)), "more");
        assert_eq!(found("copper"), "the sign 'o'");
    }
}
