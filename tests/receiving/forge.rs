//! Bundles made byte by byte: sound ones, and all the others.

use gix::objs::Kind;
use gix::zlib::Compression;
use gix::zlib::stream::deflate;
use std::io::Write;

/// The id of an object.
pub type Id = [u8; 20];

pub const CAR: &str =
    "format = 1\nname = \"Grey\"\ntemplate = \"leaf-torsion\"\n\n[[owner]]\nname = \"Ro\"\nsince = 2026-05-01\n";
pub const SHEET: &str = "format = 1\n[rear.limiter]\nkind = \"screw\"\nheight = 2.0 # in\nthreads = 16\n";

/// A day with one run on a setup.
pub fn day(setup: &str) -> String {
    format!(
        "format = 1\ndate = 2026-05-16\ntrack = \"Osier Flats\"\nfinish = 1320 # ft\nutc_offset = \"-05:00\"\n\n[[run]]\n\
         id = \"1f0c2b3a\"\nat = 14:20\non = \"v1\"\nsetup = \"{setup}\"\nft60 = 1.597 # s\nft1320 = 11.428 # s\n"
    )
}

/// Ids as they are written.
pub fn hex(id: &Id) -> String {
    id.iter().map(|b| format!("{b:02x}")).collect()
}

/// What git calls these bytes.
pub fn id_of(kind: Kind, data: &[u8]) -> Id {
    let id = gix::objs::compute_hash(gix::hash::Kind::Sha1, kind, data).unwrap();
    id.as_slice().try_into().unwrap()
}

/// Bytes packed.
pub fn packed(data: &[u8]) -> Vec<u8> {
    let mut out = Vec::new();
    let mut deflate = deflate::Write::new(&mut out, Compression::DEFAULT);
    deflate.write_all(data).and_then(|()| deflate.flush()).unwrap();
    drop(deflate);
    out
}

/// Seven bits a byte, the lowest first.
pub fn number(mut n: u64) -> Vec<u8> {
    let mut out = Vec::new();
    while n > 0x7f {
        out.push(n as u8 & 0x7f | 0x80);
        n >>= 7;
    }
    out.push(n as u8);
    out
}

/// A difference: the sizes it says, then its instructions.
pub fn difference(from: u64, to: u64, instructions: &[u8]) -> Vec<u8> {
    [&number(from)[..], &number(to), instructions].concat()
}

/// A pack that is being written.
pub struct Pack {
    pub bytes: Vec<u8>,
    pub count: u32,
}

pub const COMMIT: u8 = 1;
pub const BLOB: u8 = 3;
pub const BACK: u8 = 6;
pub const NAMED: u8 = 7;

impl Pack {
    pub fn new() -> Pack {
        Pack { bytes: b"PACK\0\0\0\x02\0\0\0\0".to_vec(), count: 0 }
    }

    /// Puts an entry in: its kind, the size it says, what stands between head and stream, its stream. Where it begins.
    pub fn raw(&mut self, code: u8, size: u64, between: &[u8], stream: &[u8]) -> usize {
        let at = self.bytes.len();
        let mut byte = code << 4 | (size & 15) as u8;
        let mut rest = size >> 4;
        while rest > 0 {
            self.bytes.push(byte | 0x80);
            byte = (rest & 0x7f) as u8;
            rest >>= 7;
        }
        self.bytes.push(byte);
        self.bytes.extend_from_slice(between);
        self.bytes.extend_from_slice(stream);
        self.count += 1;
        at
    }

    pub fn whole(&mut self, kind: Kind, data: &[u8]) -> usize {
        let code = match kind {
            Kind::Commit => COMMIT,
            Kind::Tree => 2,
            Kind::Blob => BLOB,
            Kind::Tag => 4,
        };
        self.raw(code, data.len() as u64, &[], &packed(data))
    }

    /// A difference from what begins `back` bytes before it.
    pub fn back(&mut self, back: usize, difference: &[u8]) -> usize {
        let mut bytes = vec![(back & 0x7f) as u8];
        let mut rest = back >> 7;
        while rest > 0 {
            rest -= 1;
            bytes.push((rest & 0x7f) as u8 | 0x80);
            rest >>= 7;
        }
        bytes.reverse();
        self.raw(BACK, difference.len() as u64, &bytes, &packed(difference))
    }

    /// The whole, with the count it has and the hash of it.
    pub fn sealed(self) -> Vec<u8> {
        let count = self.count;
        self.sealed_as(count)
    }

    pub fn sealed_as(mut self, count: u32) -> Vec<u8> {
        self.bytes[8..12].copy_from_slice(&count.to_be_bytes());
        let mut hasher = gix::hash::hasher(gix::hash::Kind::Sha1);
        hasher.update(&self.bytes);
        let hash = hasher.try_finalize().unwrap();
        self.bytes.extend_from_slice(hash.as_slice());
        self.bytes
    }
}

/// A header for a tip.
pub fn header(tip: &Id) -> String {
    format!("# v2 git bundle\n{0} refs/heads/main\n{0} HEAD\n\n", hex(tip))
}

/// One entry of a folder: mode, name, id.
pub type Entry = (&'static str, Vec<u8>, Id);

pub fn entry(mode: &'static str, name: impl AsRef<[u8]>, id: Id) -> Entry {
    (mode, name.as_ref().to_vec(), id)
}

pub const FILE: &str = "100644";
pub const DIR: &str = "40000";

pub fn tree_bytes(entries: &[Entry]) -> Vec<u8> {
    let one = |(mode, name, id): &Entry| [mode.as_bytes(), b" ", name, b"\0", id].concat();
    entries.iter().flat_map(one).collect()
}

/// Who and when, as commits have it.
pub const BY: &str = "Ro <slipbook@localhost> 1777730400 -0500";

pub fn commit_bytes(tree: &Id, parents: &[Id], message: &str) -> Vec<u8> {
    let parents: String = parents.iter().map(|p| format!("parent {}\n", hex(p))).collect();
    format!("tree {}\n{parents}author {BY}\ncommitter {BY}\n\n{message}", hex(tree)).into_bytes()
}

pub const OPENED: &str = "Grey: book opened\n\nKind: open\nVersion: v1\n";

/// Objects of a book that is being made up.
#[derive(Default)]
pub struct Forge {
    pub objects: Vec<(Kind, Vec<u8>)>,
}

impl Forge {
    pub fn put(&mut self, kind: Kind, data: impl AsRef<[u8]>) -> Id {
        let data = data.as_ref().to_vec();
        let id = id_of(kind, &data);
        if !self.objects.iter().any(|(k, d)| *k == kind && *d == data) {
            self.objects.push((kind, data));
        }
        id
    }

    pub fn blob(&mut self, text: impl AsRef<[u8]>) -> Id {
        self.put(Kind::Blob, text)
    }

    pub fn tree(&mut self, entries: &[Entry]) -> Id {
        self.put(Kind::Tree, tree_bytes(entries))
    }

    pub fn commit(&mut self, tree: &Id, parents: &[Id], message: &str) -> Id {
        self.put(Kind::Commit, commit_bytes(tree, parents, message))
    }

    /// The entries of a sound book's folder: car, a day with a run, sheet.
    pub fn root(&mut self, car: &str, sheet: &str) -> Vec<Entry> {
        let (car, sheet) = (self.blob(car), self.blob(sheet));
        let day = self.blob(day(&hex(&sheet)));
        let days = self.days("05-16-osier-flats.toml", day);
        vec![entry(FILE, "car.toml", car), entry(DIR, "days", days), entry(FILE, "setup.toml", sheet)]
    }

    pub fn days(&mut self, name: impl AsRef<[u8]>, day: Id) -> Id {
        let year = self.tree(&[entry(FILE, name, day)]);
        self.tree(&[entry(DIR, "2026", year)])
    }

    pub fn pack(&self) -> Pack {
        let mut pack = Pack::new();
        for (kind, data) in &self.objects {
            pack.whole(*kind, data);
        }
        pack
    }

    pub fn bundle(&self, tip: &Id) -> Vec<u8> {
        [header(tip).into_bytes(), self.pack().sealed()].concat()
    }
}

/// A sound book of one record.
pub fn sound() -> (Forge, Id) {
    let mut forge = Forge::default();
    let root = forge.root(CAR, SHEET);
    let tree = forge.tree(&root);
    let tip = forge.commit(&tree, &[], OPENED);
    (forge, tip)
}

/// A book whose root folder was meddled with.
pub fn with_root(meddle: impl FnOnce(&mut Forge, &mut Vec<Entry>)) -> Vec<u8> {
    let mut forge = Forge::default();
    let mut root = forge.root(CAR, SHEET);
    meddle(&mut forge, &mut root);
    let tree = forge.tree(&root);
    let tip = forge.commit(&tree, &[], OPENED);
    forge.bundle(&tip)
}

/// A book with a second commit of these bytes.
pub fn with_commit(make: impl FnOnce(&str, &str) -> Vec<u8>) -> Vec<u8> {
    let (mut forge, first) = sound();
    let root = forge.root(CAR, SHEET);
    let tree = forge.tree(&root);
    let tip = forge.put(Kind::Commit, make(&hex(&tree), &hex(&first)));
    forge.bundle(&tip)
}

/// A book whose pack was meddled with: the pack with all of it in, and the tip.
pub fn with_pack<T>(meddle: impl FnOnce(&mut Pack) -> T) -> Vec<u8> {
    let (forge, tip) = sound();
    let mut pack = forge.pack();
    meddle(&mut pack);
    [header(&tip).into_bytes(), pack.sealed()].concat()
}

/// A book of several versions and runs, a commit each.
pub fn season(versions: usize) -> Vec<u8> {
    let mut forge = Forge::default();
    let mut tip: Vec<Id> = Vec::new();
    for n in 1..=versions {
        let sheet = SHEET.replace("2.0", &format!("2.{n:03}"));
        let root = forge.root(CAR, &sheet);
        let tree = forge.tree(&root);
        let message = if n == 1 { OPENED.to_owned() } else { format!("limiter set\n\nKind: change\nVersion: v{n}\n") };
        tip = vec![forge.commit(&tree, &tip, &message)];
    }
    forge.bundle(&tip[0])
}
