//! Writing many objects as one pack, with its index or inside a bundle: one file to wait for instead of thousands.
use std::collections::HashMap;
use std::fs::{self, File};
use std::io::{self as stdio, BufWriter, Read, Seek, SeekFrom, Write};
use std::path::{Path, PathBuf};

use gix::objs::Kind;
use gix::zlib::{Compression, stream::deflate};

use super::loose::{Object, new_read_only, sync_dir};
use super::types::io;
use super::{Id, StoreError, delta};

/// Git's clean-up removes this prefix; the rest of the name tells ours from a running git's.
pub(super) const TEMP: &str = "tmp_pack_slipbook_";

/// An object smaller than this is not told as a difference: the small trees every walk reads stay quick to read.
const LEAST: usize = 256;

/// An object larger than this neither.
const MOST: usize = 1024 * 1024;

/// Differences that build on one another at most.
const DEEPEST: usize = 50;

/// Contents held to tell differences from, in bytes.
const MOST_HELD: usize = 64 * 1024 * 1024;

/// How a pack marks a difference from an object so many bytes before it.
pub(super) const DIFFERENCE: u8 = 6;

/// How it marks a difference from the object of an id that follows.
pub(super) const NAMED: u8 = 7;

/// Offsets from here on need the index's table of long offsets.
const LONG: u64 = 1 << 31;

/// An object of the pack.
pub(super) struct Entry {
    pub(super) id: Id,
    crc: u32,
    /// Where it begins, counted from where the pack begins.
    pub(super) offset: u64,
    /// It is told as the difference from the object that begins there.
    pub(super) base: Option<u64>,
}

/// The object last written of a path.
struct Held {
    offset: u64,
    data: Vec<u8>,
    depth: usize,
}

/// A pack that is being written under a temporary name.
pub(super) struct PackWriter {
    temp: PathBuf,
    out: BufWriter<File>,
    /// Bytes of the file before the pack.
    start: u64,
    offset: u64,
    entries: Vec<Entry>,
    buffer: Vec<u8>,
    held: HashMap<(Kind, Vec<u8>), Held>,
    held_bytes: usize,
}

impl PackWriter {
    pub(super) fn new(git: &Path) -> Result<PackWriter, StoreError> {
        let dir = git.join("objects/pack");
        fs::create_dir_all(&dir).map_err(io("make", &dir))?;
        let temp = dir.join(format!("{TEMP}{}", std::process::id()));
        let file = new_read_only(&temp).map_err(io("write", &temp))?;
        PackWriter::after(b"", temp, file)
    }

    /// A pack that follows `head` in a new file.
    pub(super) fn after(head: &[u8], temp: PathBuf, file: File) -> Result<PackWriter, StoreError> {
        let mut out = BufWriter::with_capacity(1 << 18, file);
        out.write_all(head).map_err(io("write", &temp))?;
        let start = head.len() as u64;
        let mut writer = PackWriter {
            temp,
            out,
            start,
            offset: 0,
            entries: Vec::new(),
            buffer: Vec::new(),
            held: HashMap::new(),
            held_bytes: 0,
        };
        // The count is filled in at the end.
        writer.raw(b"PACK\0\0\0\x02\0\0\0\0")?;
        Ok(writer)
    }

    fn raw(&mut self, bytes: &[u8]) -> Result<(), StoreError> {
        self.offset += bytes.len() as u64;
        let temp = &self.temp;
        self.out.write_all(bytes).map_err(|e| io("write", temp)(e))
    }

    pub(super) fn add(&mut self, object: &Object) -> Result<(), StoreError> {
        self.entry(object.id, code(object.kind), None, &object.data)
    }

    /// Adds an object of a path, as the difference from the one added before of that path where that is shorter.
    pub(super) fn add_along(&mut self, path: &[u8], object: Object) -> Result<(), StoreError> {
        let (kind, offset, length) = (object.kind, self.offset, object.data.len());
        if path.is_empty() || !(LEAST..=MOST).contains(&length) {
            return self.add(&object);
        }
        let key = (kind, path.to_vec());
        let last = self.held.remove(&key);
        self.held_bytes -= last.as_ref().map_or(0, |held| held.data.len());
        let base = last.filter(|held| held.depth < DEEPEST);
        let shorter = base.and_then(|held| Some((delta::between(&held.data, &object.data)?, held.offset, held.depth)));
        let depth = match shorter {
            Some((delta, base, depth)) => {
                self.entry(object.id, DIFFERENCE, Some(base), &delta)?;
                depth + 1
            }
            None => {
                self.add(&object)?;
                0
            }
        };
        if self.held_bytes + length > MOST_HELD {
            self.held.clear();
            self.held_bytes = 0;
        }
        self.held_bytes += length;
        self.held.insert(key, Held { offset, data: object.data, depth });
        Ok(())
    }

    fn entry(&mut self, id: Id, code: u8, base: Option<u64>, data: &[u8]) -> Result<(), StoreError> {
        let mut bytes = std::mem::take(&mut self.buffer);
        bytes.clear();
        entry_header(code, data.len() as u64, &mut bytes);
        if let Some(base) = base {
            distance(self.offset - base, &mut bytes);
        }
        let mut deflate = deflate::Write::new(&mut bytes, Compression::BEST_SPEED);
        deflate.write_all(data).and_then(|()| deflate.flush()).map_err(|e| io("write", &self.temp)(e))?;
        self.entries.push(Entry { id, crc: crc32(&bytes), offset: self.offset, base });
        self.raw(&bytes)?;
        self.buffer = bytes;
        Ok(())
    }

    /// Completes the pack where it is, without an index; what it holds, in the order of the file.
    pub(super) fn finish_here(self, fsync: bool) -> Result<Vec<Entry>, StoreError> {
        let temp = self.temp.clone();
        Ok(self.seal(fsync).map_err(io("write", &temp))??.1)
    }

    /// Completes the pack and puts it and its index under their names, the index last: a pack
    /// without an index is not seen by anyone.
    pub(super) fn finish(self, fsync: bool) -> Result<(), StoreError> {
        let temp = self.temp.clone();
        let dir = temp.parent().unwrap_or(Path::new("")).to_path_buf();
        let (pack_id, mut entries) = self.seal(fsync).map_err(io("write", &temp))??;
        entries.sort_unstable_by_key(|e| e.id);
        let index = index_bytes(&entries, &pack_id)?;
        let idx_temp = dir.join(format!("{TEMP}{}_idx", std::process::id()));
        let mut file = new_read_only(&idx_temp).map_err(io("write", &idx_temp))?;
        file.write_all(&index)
            .and_then(|()| if fsync { file.sync_all() } else { Ok(()) })
            .map_err(io("write", &idx_temp))?;
        for (from, ending) in [(&temp, "pack"), (&idx_temp, "idx")] {
            let to = dir.join(format!("pack-{pack_id}.{ending}"));
            fs::rename(from, &to).map_err(io("move into place", &to))?;
        }
        if fsync {
            sync_dir(&dir)?;
        }
        Ok(())
    }

    fn seal(mut self, fsync: bool) -> stdio::Result<Result<(Id, Vec<Entry>), StoreError>> {
        self.out.flush()?;
        let file = self.out.get_mut();
        file.seek(SeekFrom::Start(self.start + 8))?;
        file.write_all(&(self.entries.len() as u32).to_be_bytes())?;
        file.seek(SeekFrom::Start(self.start))?;
        let mut hasher = gix::hash::hasher(gix::hash::Kind::Sha1);
        let mut chunk = vec![0; 1 << 18];
        loop {
            let n = file.read(&mut chunk)?;
            if n == 0 {
                break;
            }
            hasher.update(&chunk[..n]);
        }
        let id = match hasher.try_finalize() {
            Ok(id) => Id::of(&id),
            Err(e) => return Ok(Err(StoreError::damaged("the new pack", e))),
        };
        file.write_all(&id.0)?;
        if fsync {
            file.sync_all()?;
        }
        Ok(Ok((id, self.entries)))
    }

    /// Gives the pack up.
    pub(super) fn discard(self) {
        let _ = fs::remove_file(&self.temp);
    }
}

fn code(kind: Kind) -> u8 {
    match kind {
        Kind::Commit => 1,
        Kind::Tree => 2,
        Kind::Blob => 3,
        Kind::Tag => 4,
    }
}

/// How far back the base of a difference begins: seven bits a byte, the highest first, each byte that follows counts
/// one on.
fn distance(mut back: u64, out: &mut Vec<u8>) {
    let mut bytes = vec![(back & 0x7f) as u8];
    back >>= 7;
    while back > 0 {
        back -= 1;
        bytes.push((back & 0x7f) as u8 | 0x80);
        back >>= 7;
    }
    out.extend(bytes.iter().rev());
}

/// What a pack's object begins with, read: code, size, how far back its base is, and what follows.
pub(super) fn read_header(bytes: &[u8]) -> Option<(u8, u64, Option<u64>, &[u8])> {
    let mut read = bytes.iter();
    let first = *read.next()?;
    let code = first >> 4 & 7;
    let (mut size, mut shift, mut more) = (u64::from(first & 15), 4, first & 0x80 != 0);
    while more {
        let byte = *read.next()?;
        size |= u64::from(byte & 0x7f).checked_shl(shift)?;
        shift += 7;
        more = byte & 0x80 != 0;
    }
    let mut base = None;
    if code == DIFFERENCE {
        let mut byte = *read.next()?;
        let mut back = u64::from(byte & 0x7f);
        while byte & 0x80 != 0 {
            byte = *read.next()?;
            back = (back + 1).checked_mul(128)? | u64::from(byte & 0x7f);
        }
        base = Some(back);
    }
    Some((code, size, base, read.as_slice()))
}

fn entry_header(code: u8, size: u64, out: &mut Vec<u8>) {
    let mut byte = (code << 4) | (size & 15) as u8;
    let mut rest = size >> 4;
    while rest > 0 {
        out.push(byte | 0x80);
        byte = (rest & 0x7f) as u8;
        rest >>= 7;
    }
    out.push(byte);
}

/// The index, version 2; `entries` sorted by id.
fn index_bytes(entries: &[Entry], pack: &Id) -> Result<Vec<u8>, StoreError> {
    let mut out = Vec::with_capacity(1072 + entries.len() * 28);
    out.extend_from_slice(b"\xfftOc\0\0\0\x02");
    let mut below = 0;
    for first in 0..=255u8 {
        below += entries[below..].iter().take_while(|e| e.id.0[0] == first).count();
        out.extend_from_slice(&(below as u32).to_be_bytes());
    }
    for entry in entries {
        out.extend_from_slice(&entry.id.0);
    }
    for entry in entries {
        out.extend_from_slice(&entry.crc.to_be_bytes());
    }
    let mut long = Vec::new();
    for entry in entries {
        let word = if entry.offset < LONG {
            entry.offset as u32
        } else {
            long.push(entry.offset);
            (LONG as u32) | (long.len() as u32 - 1)
        };
        out.extend_from_slice(&word.to_be_bytes());
    }
    for offset in long {
        out.extend_from_slice(&offset.to_be_bytes());
    }
    out.extend_from_slice(&pack.0);
    let mut hasher = gix::hash::hasher(gix::hash::Kind::Sha1);
    hasher.update(&out);
    let id = hasher.try_finalize().map_err(|e| StoreError::damaged("the new pack's index", e))?;
    out.extend_from_slice(id.as_slice());
    Ok(out)
}

const CRC_TABLE: [u32; 256] = {
    let mut table = [0; 256];
    let mut n = 0;
    while n < 256 {
        let mut c = n as u32;
        let mut bit = 0;
        while bit < 8 {
            c = if c & 1 == 1 { 0xedb8_8320 ^ (c >> 1) } else { c >> 1 };
            bit += 1;
        }
        table[n] = c;
        n += 1;
    }
    table
};

fn crc32(bytes: &[u8]) -> u32 {
    !bytes.iter().fold(!0, |crc: u32, byte| CRC_TABLE[((crc ^ u32::from(*byte)) & 0xff) as usize] ^ (crc >> 8))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_checksum_of_the_standard_test_word() {
        assert_eq!(crc32(b"123456789"), 0xcbf4_3926);
    }

    #[test]
    fn entry_headers_hold_sizes_of_any_length() {
        let mut out = Vec::new();
        entry_header(code(Kind::Blob), 15, &mut out);
        entry_header(code(Kind::Tree), 16, &mut out);
        assert_eq!(out, [0x3f, 0xa0, 0x01]);
    }

    #[test]
    fn headers_are_read_back() {
        for size in [0, 15, 16, 127, 128, 2047, 2048, u64::from(u32::MAX)] {
            for back in [1, 127, 128, 16511, 16512, 2_113_663, 2_113_664, u64::from(u32::MAX)] {
                let mut out = Vec::new();
                entry_header(DIFFERENCE, size, &mut out);
                distance(back, &mut out);
                out.push(9);
                assert_eq!(read_header(&out), Some((DIFFERENCE, size, Some(back), &[9][..])));
            }
        }
    }
}
