//! Reading a pack a stranger made. Sizes are counted before anything is unpacked, each object is unpacked once for its
//! size and once more only to build others on it, and what is held at one time does not grow with the chains.
use std::collections::HashMap;
use std::fs::File;
use std::io::{Read, Seek, SeekFrom};

use gix::objs::Kind;
use gix::zlib::{Decompress, FlushDecompress, Status};

use super::budget::Budget;
use super::{Id, MAX_FILE, StoreError, delta, pack};

/// The pack ends with the hash of all that is before it.
const TRAILER: u64 = 20;

/// Signature, version, count.
const HEAD: usize = 12;

/// The longest head of an object: its size, then how far back its base begins or that one's id.
const LONGEST_HEAD: usize = 32;

/// The least an object takes: a head of one byte and an empty compressed stream.
const LEAST_OBJECT: u64 = 9;

/// Contents held at one time to build others on, in bytes. The heaviest branch of a chain is built last, with what it
/// stands on let go, so a pack of honest differences needs a few of them only.
const MOST_HELD: usize = 96 * 1024 * 1024;

/// Takes an object of the pack.
pub(super) type Take<'t> = &'t mut dyn FnMut(Kind, Vec<u8>, &mut Budget) -> Result<Id, StoreError>;

/// What an object of the pack is told from.
#[derive(Clone, Copy)]
enum Link {
    /// It is whole.
    Whole(Kind, Id),
    /// From an object before it in the pack.
    Back(u32),
    /// From the object of this id.
    Named(Id),
}

/// An object of the pack, not held.
struct Slot {
    at: u64,
    size: u32,
    result: u32,
    link: Link,
}

/// The file, read once from front to back with its hash taken, and then here and there.
struct Source<'f> {
    file: &'f mut File,
    buffer: Vec<u8>,
    read: usize,
    filled: usize,
    /// Bytes before the trailer that are not in the buffer yet.
    left: u64,
    at: u64,
    hasher: Option<gix::hash::Hasher>,
    inflate: Decompress,
}

/// Reads the pack that begins at `start` and ends with the file, and hands every object of it on.
pub(super) fn read(file: &mut File, start: u64, budget: &mut Budget, take: Take) -> Result<(), StoreError> {
    let cut = |budget: &Budget| budget.refuse("it is cut off: its pack is shorter than it says");
    let length = file.metadata().map_err(|e| broken(budget, &e))?.len();
    let left = length.checked_sub(start + TRAILER).ok_or_else(|| cut(budget))?;
    let mut source = Source {
        file,
        buffer: vec![0; 1 << 16],
        read: 0,
        filled: 0,
        left,
        at: start,
        hasher: Some(gix::hash::hasher(gix::hash::Kind::Sha1)),
        inflate: Decompress::new(),
    };
    source.seek(start, left, budget)?;
    let head = source.peek(HEAD, budget)?;
    if head.len() < HEAD {
        return Err(cut(budget));
    }
    if head[..8] != *b"PACK\0\0\0\x02" {
        return Err(budget.refuse("what follows its header is no pack of version 2"));
    }
    let count = head[8..HEAD].iter().fold(0u64, |n, byte| n << 8 | u64::from(*byte));
    source.consume(HEAD);
    if count == 0 {
        return Err(budget.refuse("its pack is empty"));
    }
    budget.objects(count)?;
    if count.saturating_mul(LEAST_OBJECT) > left {
        return Err(cut(budget));
    }
    let mut slots: Vec<Slot> = Vec::with_capacity(count as usize);
    let mut data = Vec::new();
    for _ in 0..count {
        let slot = source.slot(&slots, &mut data, budget, take)?;
        slots.push(slot);
    }
    if source.left > 0 || source.filled > source.read {
        return Err(budget.refuse("there are bytes in its pack that belong to no object"));
    }
    let found = source.hasher.take().map(gix::hash::Hasher::try_finalize);
    let mut told = [0; TRAILER as usize];
    source.file.seek(SeekFrom::Start(length - TRAILER)).map_err(|e| broken(budget, &e))?;
    source.file.read_exact(&mut told).map_err(|_| cut(budget))?;
    match found {
        Some(Ok(hash)) if hash.as_slice() == told => {}
        _ => return Err(budget.refuse("its last bytes are not the hash of the rest: it was damaged or altered")),
    }
    build(&mut source, &slots, length - TRAILER, budget, take)
}

fn broken(budget: &Budget, e: &std::io::Error) -> StoreError {
    budget.refuse(format!("it could not be read to its end: {e}"))
}

impl Source<'_> {
    /// Goes to a place with so many bytes to read from there.
    fn seek(&mut self, at: u64, left: u64, budget: &Budget) -> Result<(), StoreError> {
        self.file.seek(SeekFrom::Start(at)).map_err(|e| broken(budget, &e))?;
        (self.read, self.filled, self.left, self.at) = (0, 0, left, at);
        Ok(())
    }

    /// The next bytes, `n` of them where there are as many.
    fn peek(&mut self, n: usize, budget: &Budget) -> Result<&[u8], StoreError> {
        while self.filled - self.read < n && self.left > 0 {
            if self.read > 0 {
                self.buffer.copy_within(self.read..self.filled, 0);
                (self.filled, self.read) = (self.filled - self.read, 0);
            }
            let room = (self.buffer.len() - self.filled).min(usize::try_from(self.left).unwrap_or(usize::MAX));
            let got =
                self.file.read(&mut self.buffer[self.filled..self.filled + room]).map_err(|e| broken(budget, &e))?;
            if got == 0 {
                return Err(budget.refuse("it became shorter while it was read"));
            }
            self.filled += got;
            self.left -= got as u64;
        }
        Ok(&self.buffer[self.read..self.filled])
    }

    fn consume(&mut self, n: usize) {
        if let Some(hasher) = &mut self.hasher {
            hasher.update(&self.buffer[self.read..self.read + n]);
        }
        self.read += n;
        self.at += n as u64;
    }

    /// Unpacks a stream of exactly `size` bytes.
    fn inflate(&mut self, size: usize, out: &mut Vec<u8>, budget: &Budget) -> Result<(), StoreError> {
        // One byte more than it should hold: nothing may be left over.
        out.clear();
        out.resize(size + 1, 0);
        self.inflate.reset();
        let mut written = 0;
        loop {
            self.peek(1, budget)?;
            let input = &self.buffer[self.read..self.filled];
            let before = (self.inflate.total_in(), self.inflate.total_out());
            let status = self.inflate.decompress(input, &mut out[written..], FlushDecompress::None);
            let used = (self.inflate.total_in() - before.0) as usize;
            let made = (self.inflate.total_out() - before.1) as usize;
            let Ok(status) = status else {
                return Err(budget.refuse("an object in it does not unpack: it was damaged or made wrong"));
            };
            self.consume(used);
            written += made;
            if written > size {
                return Err(budget.refuse("an object in it unpacks to more than it says"));
            }
            match status {
                Status::StreamEnd if written == size => break,
                Status::StreamEnd => return Err(budget.refuse("an object in it unpacks to less than it says")),
                _ if used == 0 && made == 0 => {
                    return Err(budget.refuse("it is cut off: an object in it ends before it is whole"));
                }
                _ => {}
            }
        }
        out.pop();
        Ok(())
    }

    /// Reads the next object: a whole one is handed on, of a difference the sizes are looked at.
    fn slot(
        &mut self,
        before: &[Slot],
        data: &mut Vec<u8>,
        budget: &mut Budget,
        take: Take,
    ) -> Result<Slot, StoreError> {
        let at = self.at;
        let head = self.peek(LONGEST_HEAD, budget)?;
        let (code, size, back, rest) =
            pack::read_header(head).ok_or_else(|| budget.refuse("the head of an object in it cannot be read"))?;
        let mut used = head.len() - rest.len();
        let named = (code == pack::NAMED).then(|| rest.first_chunk::<20>().map(|id| Id(*id)));
        if let Some(named) = named {
            named.ok_or_else(|| budget.refuse("it is cut off: the head of an object is not whole"))?;
            used += 20;
        }
        budget.object(size)?;
        self.consume(used);
        self.inflate(size as usize, data, budget)?;
        let kind = match code {
            1 => Kind::Commit,
            2 => Kind::Tree,
            3 => Kind::Blob,
            // Nothing in a book names one: it will be left out.
            4 => Kind::Tag,
            pack::DIFFERENCE | pack::NAMED => {
                let link = match (back, named.flatten()) {
                    (Some(back), _) => {
                        let base = at.checked_sub(back).filter(|_| back > 0);
                        let base = base.and_then(|base| before.binary_search_by_key(&base, |s| s.at).ok());
                        Link::Back(
                            base.ok_or_else(|| budget.refuse("an object in it builds on none that begins there"))?
                                as u32,
                        )
                    }
                    (_, Some(id)) => Link::Named(id),
                    _ => return Err(budget.refuse("the head of an object in it cannot be read")),
                };
                let wrong = "a difference in it has no sizes that can be read";
                let (from, to) = delta::sizes(data).ok_or_else(|| budget.refuse(wrong))?;
                budget.object(to as u64)?;
                if let Link::Back(base) = link
                    && before[base as usize].result as usize != from
                {
                    return Err(budget.refuse("a difference in it is from an object of another size"));
                }
                return Ok(Slot { at, size: size as u32, result: to as u32, link });
            }
            _ => return Err(budget.refuse("an object in it is of no kind git knows")),
        };
        let id = take(kind, std::mem::take(data), budget)?;
        Ok(Slot { at, size: size as u32, result: size as u32, link: Link::Whole(kind, id) })
    }

    /// The stream of an object that was read before.
    fn again(&mut self, slot: &Slot, end: u64, out: &mut Vec<u8>, budget: &Budget) -> Result<(), StoreError> {
        self.seek(slot.at, end.saturating_sub(slot.at), budget)?;
        let changed = || budget.refuse("it was changed while it was read");
        let head = self.peek(LONGEST_HEAD, budget)?;
        let (code, size, _, rest) = pack::read_header(head).ok_or_else(changed)?;
        let used = head.len() - rest.len() + if code == pack::NAMED { 20 } else { 0 };
        if size != u64::from(slot.size) || used > head.len() {
            return Err(changed());
        }
        self.consume(used);
        self.inflate(slot.size as usize, out, budget)
    }
}

/// What objects of the pack stand on each object.
struct Above {
    first: Vec<u32>,
    next: Vec<u32>,
    named: HashMap<Id, Vec<u32>>,
    /// Objects that stand on it, however far up.
    weight: Vec<u32>,
}

/// None.
const NO: u32 = u32::MAX;

impl Above {
    fn of(slots: &[Slot]) -> Above {
        let n = slots.len();
        let mut above = Above { first: vec![NO; n], next: vec![NO; n], named: HashMap::new(), weight: vec![1; n] };
        // What an object stands on comes before it.
        for (i, slot) in slots.iter().enumerate().rev() {
            match slot.link {
                Link::Back(base) => {
                    let base = base as usize;
                    above.weight[base] += above.weight[i];
                    above.next[i] = above.first[base];
                    above.first[base] = i as u32;
                }
                Link::Named(id) => above.named.entry(id).or_default().push(i as u32),
                Link::Whole(..) => {}
            }
        }
        above
    }

    /// Those directly on an object, the heaviest first: they are taken from the end.
    fn take(&mut self, slot: usize, id: Id) -> Vec<u32> {
        let mut out = self.named.remove(&id).unwrap_or_default();
        let mut at = std::mem::replace(&mut self.first[slot], NO);
        while at != NO {
            out.push(at);
            at = self.next[at as usize];
        }
        out.sort_by_key(|i| std::cmp::Reverse(self.weight[*i as usize]));
        out
    }
}

/// Builds what is told as differences, each once, and hands it on.
fn build(source: &mut Source, slots: &[Slot], end: u64, budget: &mut Budget, take: Take) -> Result<(), StoreError> {
    let mut above = Above::of(slots);
    let mut built = 0;
    let mut told = Vec::new();
    for (i, slot) in slots.iter().enumerate() {
        let Link::Whole(kind, id) = slot.link else { continue };
        built += 1;
        let on = above.take(i, id);
        if on.is_empty() {
            continue;
        }
        let mut data = Vec::new();
        source.again(slot, end, &mut data, budget)?;
        let mut held = data.len();
        let mut open = vec![(data, on)];
        while let Some((base, on)) = open.last_mut() {
            let Some(next) = on.pop() else {
                held -= base.len();
                open.pop();
                continue;
            };
            source.again(&slots[next as usize], end, &mut told, budget)?;
            let wrong = || budget.refuse("a difference in it does not fit what it is from");
            let data = delta::applied(base, &told, MAX_FILE as usize).ok_or_else(wrong)?;
            if data.len() != slots[next as usize].result as usize {
                return Err(budget.refuse("it was changed while it was read"));
            }
            budget.step()?;
            built += 1;
            if on.is_empty() {
                held -= base.len();
                open.pop();
            }
            let id = take(kind, data.clone(), budget)?;
            let on = above.take(next as usize, id);
            if on.is_empty() {
                continue;
            }
            held += data.len();
            if held > MOST_HELD {
                return Err(budget.refuse("its objects build on each other in a way that would fill the memory"));
            }
            open.push((data, on));
        }
    }
    if built < slots.len() {
        return Err(budget.refuse("objects in it build on objects that are not in it; a book is complete in itself"));
    }
    Ok(())
}
