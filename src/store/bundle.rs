//! A book as one file: git's bundle format, version 2, which stock git verifies, clones and fetches from.
use std::collections::{HashMap, HashSet};
use std::fs::{File, OpenOptions};
use std::io::{Read, Seek, SeekFrom};
use std::path::Path;

use gix::objs::Kind;
use gix::zlib::{Inflate, Status};

use super::loose::Object;
use super::pack::{self, Entry, PackWriter};
use super::reach::{self, Reached};
use super::refs::BRANCH;
use super::types::io;
use super::{Id, MAX_FILE, Store, StoreError, delta, open};

/// What such a file begins with.
const SIGNATURE: &str = "# v2 git bundle\n";

/// A header lists refs; ours has two. One that is longer than this is none of ours.
const MAX_HEAD: u64 = 64 * 1024;

/// The pack ends with the hash of all that is before it.
const TRAILER: u64 = 20;

/// Whether a file begins as such a file does, whatever its name.
pub fn is_bundle(file: &Path) -> bool {
    let mut start = [0; SIGNATURE.len()];
    File::open(file).and_then(|mut f| f.read_exact(&mut start)).is_ok() && start == *SIGNATURE.as_bytes()
}

/// HEAD is listed too, so that a clone knows what to check out.
pub(super) fn head(tip: Id) -> String {
    format!("{SIGNATURE}{tip} {BRANCH}\n{tip} HEAD\n\n")
}

/// Writes the whole book into a new file and reads it back.
pub(super) fn write(
    store: &Store,
    file: &Path,
    tip: Id,
    fsync: bool,
    tell: &dyn Fn(usize),
) -> Result<Reached, StoreError> {
    let made = OpenOptions::new().read(true).write(true).create_new(true).open(file).map_err(io("write", file))?;
    let mut pack = PackWriter::after(head(tip).as_bytes(), file.to_path_buf(), made)?;
    let mut done = 0;
    let reached = reach::walk(store, tip, &mut |id, kind, path, data| {
        done += 1;
        tell(done);
        pack.add_along(path, Object { id, kind, data: data.to_vec() })
    })?;
    let entries = pack.finish_here(fsync)?;
    check(file, tip, &entries, &|n| tell(done + n)).map_err(|e| StoreError::unlike(file, e))?;
    Ok(reached)
}

/// Reads a bundle from the disk and compares it: header, every object, the hash of the whole.
fn check(file: &Path, tip: Id, entries: &[Entry], tell: &dyn Fn(usize)) -> Result<(), StoreError> {
    let wrong = |what: &str| StoreError::damaged(format!("the file {}", file.display()), what.to_owned());
    let mut from = File::open(file).map_err(io("open", file))?;
    let length = from.metadata().map_err(io("look at", file))?.len();
    let head = head(tip);
    let mut start = vec![0; head.len()];
    from.read_exact(&mut start).map_err(io("read", file))?;
    if start != head.as_bytes() {
        return Err(wrong("its header is not the one that was written"));
    }
    let start = head.len() as u64;
    let end = length.checked_sub(start + TRAILER).ok_or_else(|| wrong("it is too short"))?;

    let mut hasher = gix::hash::hasher(gix::hash::Kind::Sha1);
    let mut bytes = vec![0; 12];
    from.read_exact(&mut bytes).map_err(io("read", file))?;
    hasher.update(&bytes);
    if bytes[..8] != *b"PACK\0\0\0\x02" || bytes[8..] != (entries.len() as u32).to_be_bytes() {
        return Err(wrong("its pack begins otherwise than it was written"));
    }
    let mut inflate = Inflate::default();
    // A base serves one difference: that of the object written next of its path.
    let bases: HashSet<u64> = entries.iter().filter_map(|e| e.base).collect();
    let mut kept: HashMap<u64, (Kind, Vec<u8>)> = HashMap::new();
    for (n, entry) in entries.iter().enumerate() {
        let next = entries.get(n + 1).map_or(end, |e| e.offset);
        let size = next.checked_sub(entry.offset).ok_or_else(|| wrong("it is too short"))?;
        bytes.resize(usize::try_from(size).map_err(|_| wrong("an object is too large"))?, 0);
        from.read_exact(&mut bytes).map_err(io("read", file))?;
        hasher.update(&bytes);
        let base = entry.base.and_then(|at| Some((entry.offset - at, kept.remove(&at)?)));
        let (kind, data) = object(&mut inflate, &bytes, base).ok_or_else(|| wrong("an object does not unpack"))?;
        let found = gix::objs::compute_hash(gix::hash::Kind::Sha1, kind, &data);
        if !found.is_ok_and(|found| Id::of(&found) == entry.id) {
            return Err(wrong(&format!("the object {} is not what was written", entry.id)));
        }
        if bases.contains(&entry.offset) {
            kept.insert(entry.offset, (kind, data));
        }
        tell(n + 1);
    }
    let hash = hasher.try_finalize().map_err(|e| StoreError::damaged("the new bundle", e))?;
    bytes.resize(TRAILER as usize, 0);
    from.seek(SeekFrom::Start(start + end)).and_then(|_| from.read_exact(&mut bytes)).map_err(io("read", file))?;
    if bytes != hash.as_slice() {
        return Err(wrong("its last bytes are not the hash of the rest"));
    }
    Ok(())
}

/// An object as it stands in a pack; `base` is what it may be a difference from, and how far back that begins.
fn object(inflate: &mut Inflate, bytes: &[u8], base: Option<(u64, (Kind, Vec<u8>))>) -> Option<(Kind, Vec<u8>)> {
    let (code, size, back, rest) = pack::read_header(bytes)?;
    if size > MAX_FILE || back != base.as_ref().map(|(back, _)| *back) {
        return None;
    }
    // One byte more than it should hold: nothing may be left over.
    let mut data = vec![0; usize::try_from(size).ok()? + 1];
    inflate.reset();
    let (status, used, written) = inflate.once(rest, &mut data).ok()?;
    if status != Status::StreamEnd || used != rest.len() || written as u64 != size {
        return None;
    }
    data.pop();
    let kind = match (code, base) {
        (1, _) => Kind::Commit,
        (2, _) => Kind::Tree,
        (3, _) => Kind::Blob,
        (_, Some((_, (kind, base)))) => return Some((kind, delta::applied(&base, &data, MAX_FILE as usize)?)),
        _ => return None,
    };
    Some((kind, data))
}

/// What a bundle begins with, read.
pub(super) struct Head {
    /// The newest record.
    pub(super) tip: Id,
    /// Bytes before the pack.
    pub(super) length: u64,
}

/// The tip of a bundle that holds a book: `main`, and perhaps HEAD, and nothing else.
pub(super) fn tip_of(file: &Path) -> Result<Id, StoreError> {
    open::check_part(file, false, true)?;
    let mut from = File::open(file).map_err(io("open", file))?;
    let head = head_of(&mut from);
    head.map(|h| h.tip)
        .map_err(|_| StoreError::Occupied { path: file.into(), what: "a file that is no bundle of a book" })
}

/// Reads the beginning of a bundle; the error says why it is none of a book.
pub(super) fn head_of(from: &mut File) -> Result<Head, String> {
    let mut bytes = Vec::new();
    from.take(MAX_HEAD).read_to_end(&mut bytes).map_err(|e| format!("it cannot be read: {e}"))?;
    if !bytes.starts_with(SIGNATURE.as_bytes()) {
        let other = bytes.starts_with(b"# v") && bytes.windows(10).take(8).any(|w| w == b"git bundle");
        return Err(if other {
            "it is a bundle of another version (`git bundle create --version=2 FILE main` makes one of this)".to_owned()
        } else {
            "it is no bundle: it does not begin as one".to_owned()
        });
    }
    let end = bytes.windows(2).position(|w| w == b"\n\n").ok_or("its header has no end")?;
    let text = std::str::from_utf8(&bytes[SIGNATURE.len().min(end + 1)..=end]).map_err(|_| "its header is no text")?;
    let mut tip = None;
    let mut names = HashSet::new();
    for line in text.lines() {
        if line.starts_with('-') {
            return Err("it holds only what came after a record it does not have; \
                a book is complete in itself (`git bundle create FILE main`)"
                .to_owned());
        }
        let (id, name) = line.split_once(' ').ok_or("its header has a line that names nothing")?;
        let small = !id.bytes().any(|b| b.is_ascii_uppercase());
        let id: Id = id.parse().ok().filter(|_| small).ok_or("its header names something by no id of 40 digits")?;
        let shown: String = name.escape_debug().take(120).collect();
        if !(name == BRANCH || name == "HEAD") {
            return Err(format!(
                "it holds `{shown}`; a book has the branch main and no other (`git bundle create FILE main`)"
            ));
        }
        if !names.insert(name) {
            return Err(format!("its header names `{shown}` twice"));
        }
        if tip.is_some_and(|known| known != id) {
            return Err("its HEAD is another record than the newest of its branch main".to_owned());
        }
        tip = Some(id);
    }
    let tip = tip.ok_or("its header names no branch")?;
    Ok(Head { tip, length: end as u64 + 2 })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn tip_in(text: &str) -> Option<String> {
        let temp = tempfile::tempdir().unwrap();
        let file = temp.path().join("x.bundle");
        std::fs::write(&file, text).unwrap();
        tip_of(&file).ok().map(|id| id.to_string())
    }

    #[test]
    fn the_header_is_read_back() {
        let id = "0123456789abcdef0123456789abcdef01234567";
        assert_eq!(tip_in(&head(id.parse().unwrap())).as_deref(), Some(id));
        assert_eq!(tip_in(&format!("{SIGNATURE}{id} HEAD\n\nPACK")).as_deref(), Some(id));
    }

    #[test]
    fn other_files_are_not_taken_for_a_bundle() {
        let id = "0123456789abcdef0123456789abcdef01234567";
        let other = "1123456789abcdef0123456789abcdef01234567";
        for text in [
            String::new(),
            "car,notes\n\n".to_owned(),
            SIGNATURE.to_owned(),
            format!("{SIGNATURE}\n"),
            format!("{SIGNATURE}{id} refs/heads/main\n"),
            format!("{SIGNATURE}{id} refs/heads/other\n\n"),
            format!("{SIGNATURE}{id} refs/heads/main\n{other} HEAD\n\n"),
            format!("{SIGNATURE}-{id} before\n{id} refs/heads/main\n\n"),
            format!("# v3 git bundle\n@object-format=sha1\n{id} refs/heads/main\n\n"),
        ] {
            assert_eq!(tip_in(&text), None, "{text}");
        }
    }

    #[test]
    fn an_object_that_was_changed_is_seen() {
        let temp = tempfile::tempdir().unwrap();
        let file = temp.path().join("x.bundle");
        let made = OpenOptions::new().read(true).write(true).create_new(true).open(&file).unwrap();
        let tip: Id = "0123456789abcdef0123456789abcdef01234567".parse().unwrap();
        let mut pack = PackWriter::after(head(tip).as_bytes(), file.clone(), made).unwrap();
        let long = "height = 0.75 # in\n".repeat(90);
        for text in ["", "height = 0.75 # in\n", &long, &long.replacen("75", "50", 1), &long.replacen("75", "25", 3)] {
            let id = Store::blob_id(text.as_bytes());
            pack.add_along(b"/setup.toml", Object { id, kind: Kind::Blob, data: text.as_bytes().to_vec() }).unwrap();
        }
        let entries = pack.finish_here(false).unwrap();
        assert_eq!(entries.iter().filter(|e| e.base.is_some()).count(), 2);
        check(&file, tip, &entries, &|_| {}).unwrap();
        let whole = std::fs::read(&file).unwrap();
        for at in 0..whole.len() {
            let mut bad = whole.clone();
            bad[at] ^= 0x10;
            std::fs::write(&file, &bad).unwrap();
            assert!(check(&file, tip, &entries, &|_| {}).is_err(), "byte {at}");
        }
        for short in [0, 10, head(tip).len() + 5, whole.len() - 1] {
            std::fs::write(&file, &whole[..short]).unwrap();
            assert!(check(&file, tip, &entries, &|_| {}).is_err(), "{short} bytes");
        }
        std::fs::write(&file, [&whole[..], b"x"].concat()).unwrap();
        assert!(check(&file, tip, &entries, &|_| {}).is_err(), "a byte too many");
    }
}
