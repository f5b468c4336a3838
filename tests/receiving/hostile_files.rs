//! Files that are no bundle of a book: headers, packs, bombs, differences that lie.

use crate::forge::*;
use crate::yard::Yard;
use gix::objs::Kind;
use slipbook::garage::{Limits, book_path};
use slipbook::store::{Store, StoreError};
use std::time::{Duration, Instant};

fn with_header(make: impl FnOnce(&str) -> String) -> Vec<u8> {
    let (forge, tip) = sound();
    [make(&hex(&tip)).into_bytes(), forge.pack().sealed()].concat()
}

#[test]
fn headers() {
    let other = "0123456789abcdef0123456789abcdef01234567";
    let line = |tip: &str, name: &str| format!("# v2 git bundle\n{tip} {name}\n\n");
    Yard::new().refuses_all(vec![
        ("an empty file", "no bundle", Vec::new()),
        ("a text", "no bundle", b"car,notes\n\n".to_vec()),
        ("a pack without a header", "no bundle", sound().0.pack().sealed()),
        (
            "version 3",
            "another version",
            with_header(|t| format!("# v3 git bundle\n@object-format=sha1\n{t} refs/heads/main\n\n")),
        ),
        ("version 9", "another version", with_header(|t| line(t, "refs/heads/main").replace("v2", "v9"))),
        ("ids of another hash", "no id of 40", with_header(|t| line(&t.repeat(2)[..64], "refs/heads/main"))),
        ("an id that is short", "no id of 40", with_header(|t| line(&t[1..], "refs/heads/main"))),
        (
            "only what came after",
            "only what came after",
            with_header(|t| format!("# v2 git bundle\n-{other} before\n{t} refs/heads/main\n\n")),
        ),
        ("another branch", "refs/heads/other", with_header(|t| line(t, "refs/heads/other"))),
        (
            "a branch beside main",
            "refs/heads/x",
            with_header(|t| format!("# v2 git bundle\n{t} refs/heads/main\n{t} refs/heads/x\n\n")),
        ),
        ("a tag", "refs/tags/v1", with_header(|t| line(t, "refs/tags/v1"))),
        (
            "a replacement",
            "refs/replace/",
            with_header(|t| format!("# v2 git bundle\n{t} refs/heads/main\n{t} refs/replace/{other}\n\n")),
        ),
        (
            "a branch that climbs out",
            "it holds `refs/heads/../../hooks/x`",
            with_header(|t| line(t, "refs/heads/../../hooks/x")),
        ),
        (
            "a branch with an escape",
            "it holds `refs/heads/\\u{1b}[2J`",
            with_header(|t| line(t, "refs/heads/\u{1b}[2J")),
        ),
        (
            "main twice",
            "twice",
            with_header(|t| format!("# v2 git bundle\n{t} refs/heads/main\n{t} refs/heads/main\n\n")),
        ),
        (
            "HEAD elsewhere",
            "another record",
            with_header(|t| format!("# v2 git bundle\n{t} refs/heads/main\n{other} HEAD\n\n")),
        ),
        ("no branch", "names no branch", with_header(|_| "# v2 git bundle\n\n".to_owned())),
        (
            "a header without end",
            "no end",
            with_header(|t| format!("# v2 git bundle\n{t} refs/heads/main\n").repeat(3000))[..120_000].to_vec(),
        ),
        (
            "a header of a megabyte",
            "no end",
            with_header(|t| format!("# v2 git bundle\n{}", format!("{t} refs/heads/main\n").repeat(20_000))),
        ),
        (
            "line ends of another system",
            "another version",
            with_header(|t| format!("# v2x git bundle\r\n{t} refs/heads/main\r\n\r\n")),
        ),
        (
            "a header that is no text",
            "no text",
            [b"# v2 git bundle\n\xff\xfe\n\n".to_vec(), sound().0.pack().sealed()].concat(),
        ),
        ("a tip that is not there", "it is not there", with_header(|_| line(other, "refs/heads/main"))),
    ]);
}

#[test]
fn packs() {
    let (forge, tip) = sound();
    let whole = forge.bundle(&tip);
    let start = header(&tip).len();
    let meddled = |at: usize, to: &[u8]| {
        let mut bytes = whole.clone();
        bytes[at..at + to.len()].copy_from_slice(to);
        bytes
    };
    let counted = |count: u32| [header(&tip).into_bytes(), forge.pack().sealed_as(count)].concat();
    let entry = |code: u8, size: u64, stream: Vec<u8>| with_pack(|p| p.raw(code, size, &[], &stream));
    Yard::new().refuses_all(vec![
        ("no pack behind the header", "cut off", whole[..start].to_vec()),
        ("no pack but text", "no pack of version 2", [&whole[..start], &b"x".repeat(200)].concat()),
        ("a pack of version 3", "no pack of version 2", meddled(start + 7, &[3])),
        ("an empty pack", "empty", counted(0)),
        ("a pack that says four milliards", "more than", counted(u32::MAX)),
        ("a pack that says more than fits", "cut off", counted(400_000)),
        ("a pack that says one more", "the head of an object in it cannot be read", counted(forge.pack().count + 1)),
        ("a pack that says one less", "belong to no object", counted(forge.pack().count - 1)),
        ("a wrong hash at the end", "not the hash", meddled(whole.len() - 1, &[whole[whole.len() - 1] ^ 1])),
        ("a turned bit", "does not unpack: it was damaged", meddled(start + 40, &[whole[start + 40] ^ 4])),
        ("bytes behind the end", "bytes in its pack that belong to no object", [&whole[..], b"more"].concat()),
        ("half of it", "it is cut off", whole[..whole.len() / 2].to_vec()),
        ("an object of 4 GiB by its word", "4294967296 bytes", entry(BLOB, 4 << 30, packed(b"x"))),
        ("an object that unpacks to more", "more than it says", entry(BLOB, 3, packed(b"four"))),
        ("an object that unpacks to less", "less than it says", entry(BLOB, 5, packed(b"four"))),
        ("a stream that is none", "does not unpack", entry(BLOB, 4, vec![0x99; 40])),
        ("a stream with a dictionary", "does not unpack", entry(BLOB, 4, vec![0x78, 0xbb, 1, 2, 3, 4, 5, 6, 7, 8])),
        ("a stream with a wrong sum", "does not unpack", {
            let mut stream = packed(b"four");
            *stream.last_mut().unwrap() ^= 1;
            entry(BLOB, 4, stream)
        }),
        ("a bomb of 1 GiB of zeros", "1073741824 bytes", entry(BLOB, 1 << 30, packed(&vec![0; 1 << 24]))),
        ("a bomb under a small size", "more than it says", entry(BLOB, 16, packed(&vec![0; 1 << 24]))),
        ("kind 0", "no kind", entry(0, 4, packed(b"four"))),
        ("kind 5", "no kind", entry(5, 4, packed(b"four"))),
        (
            "a size without end",
            "the head of an object in it cannot be read",
            with_pack(|p| {
                p.bytes.extend_from_slice(&[0xbf; 40]);
                p.count += 1;
            }),
        ),
    ]);
}

#[test]
fn differences() {
    let base = b"height = 0.75 # in\n".repeat(20);
    let n = base.len() as u64;
    let from_base = |difference: Vec<u8>| {
        with_pack(|p| {
            let at = p.whole(Kind::Blob, &base);
            let back = p.bytes.len() - at;
            p.back(back, &difference);
        })
    };
    let copy_all = [0x80 | 0x30, base.len() as u8, (base.len() >> 8) as u8];
    let named = |id: &[u8; 20]| with_pack(|p| p.raw(NAMED, 4, id, &packed(&difference(1, 1, &[1, b'x']))));
    Yard::new().refuses_all(vec![
        ("a result of 1 GiB", "1073741824 bytes", from_base(difference(n, 1 << 30, &copy_all))),
        ("a base of another size", "another size", from_base(difference(n + 1, n, &copy_all))),
        (
            "a copy beyond the base",
            "does not fit",
            from_base(difference(n, n, &[0x80 | 0x31, 9, copy_all[1], copy_all[2]])),
        ),
        ("a result longer than it says", "does not fit", from_base(difference(n, 4, &copy_all))),
        ("a result shorter than it says", "does not fit", from_base(difference(n, n + 9, &copy_all))),
        ("no sizes", "no sizes", from_base(Vec::new())),
        ("a size without end", "no sizes", from_base(vec![0xff; 30])),
        ("a reserved instruction", "does not fit", from_base(difference(n, n, &[0]))),
        ("an instruction cut off", "does not fit", from_base(difference(n, n, &[0xff, 1]))),
        ("from itself", "begins there", with_pack(|p| p.back(0, &difference(1, 1, &[1, b'x'])))),
        ("from before the pack", "begins there", with_pack(|p| p.back(1 << 20, &difference(1, 1, &[1, b'x'])))),
        ("from the middle of an object", "begins there", with_pack(|p| p.back(3, &difference(1, 1, &[1, b'x'])))),
        ("from an object that is not in it", "not in it", named(&[7; 20])),
        (
            "two hundred results of 16 MB",
            "would unpack to more",
            with_pack(|p| {
                let zeros = vec![0; 1 << 24];
                let base = p.whole(Kind::Blob, &zeros);
                for n in 0..200u8 {
                    let back = p.bytes.len() - base;
                    let all = [&[1, n][..], &[0xc0 | 0x30, 0xff, 0xff, 0xff]].concat();
                    p.back(back, &difference(1 << 24, 1 << 24, &all));
                }
            }),
        ),
    ]);
}

/// Each object has two that build on it: whichever is built first, all before it are wanted once more.
#[test]
fn differences_that_branch_do_not_fill_the_memory() {
    let size = 1u64 << 24;
    let bytes = with_pack(|p| {
        let mut begins = vec![p.whole(Kind::Blob, &vec![0; size as usize])];
        for n in 1..127usize {
            let back = p.bytes.len() - begins[(n - 1) / 2];
            let rest = size - 1;
            let copy = [0xf0, rest as u8, (rest >> 8) as u8, (rest >> 16) as u8];
            begins.push(p.back(back, &difference(size, size, &[&[1, n as u8][..], &copy].concat())));
        }
    });
    let yard = Yard::new();
    let path = yard.garage.file("branches.bundle", bytes);
    yard.refuses("branches", &path, "would fill the memory");
}

/// In the process of the test, with limits of its own.
fn taken(bytes: Vec<u8>, limits: Limits) -> (Result<usize, StoreError>, usize) {
    let temp = tempfile::tempdir().unwrap();
    let file = temp.path().join("x.bundle");
    std::fs::write(&file, bytes).unwrap();
    let garage = temp.path().join("garage");
    std::fs::create_dir(&garage).unwrap();
    let taken = Store::take_in(&file, &garage, limits, &book_path, &|_| {});
    let taken = taken.map(|incoming| incoming.left_out);
    (taken, std::fs::read_dir(&garage).unwrap().count())
}

#[test]
fn each_limit_holds() {
    let whole = season(40);
    let limits = Limits::default();
    assert_eq!(taken(whole.clone(), limits).0.unwrap(), 0);
    for (name, limits, said) in [
        ("file", Limits { file_bytes: whole.len() as u64 - 1, ..limits }, "larger than"),
        ("objects", Limits { objects: 20, ..limits }, "more than 20 objects"),
        ("total", Limits { total_bytes: 5000, ..limits }, "unpack to more than 5000"),
        ("files", Limits { files: 30, ..limits }, "more than 30 different files"),
        ("time", Limits { time: Duration::ZERO, ..limits }, "took longer"),
    ] {
        let (taken, left) = taken(whole.clone(), limits);
        let why = taken.unwrap_err().to_string();
        assert!(why.contains(said), "{name}: {why}");
        assert_eq!(left, 0, "{name}: something was left behind");
    }
}

#[test]
fn a_long_chain_is_built_without_recursion_and_what_no_record_names_is_left_out() {
    let links = 20_000;
    let began = Instant::now();
    let bytes = with_pack(|p| {
        let mut last = p.whole(Kind::Blob, b"0000000000");
        for n in 0..links {
            let made = format!("{n:010}");
            let back = p.bytes.len() - last;
            last = p.back(back, &difference(10, 10, &[&[10][..], made.as_bytes()].concat()));
        }
        p.whole(Kind::Tag, b"object 0\ntype commit\ntag x\n\n");
    });
    let (taken, left) = taken(bytes, Limits::default());
    // "0000000000" is made once more, and is one object; a tag is named by nothing in a book.
    assert_eq!(taken.unwrap(), links + 1);
    assert_eq!(left, 0, "dropped, it takes its place along");
    assert!(began.elapsed() < Duration::from_secs(100), "{:?}", began.elapsed());
}

/// A thousand packs with a byte or a few changed and the right hash behind: whatever they say, it is an answer.
#[test]
fn meddled_packs_with_a_right_hash_are_taken_or_refused() {
    let whole = season(6);
    let start = whole.windows(2).position(|w| w == b"\n\n").unwrap() + 2;
    let mut dice: u64 = 7;
    let mut roll = |below: usize| {
        dice = dice.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        (dice >> 33) as usize % below
    };
    let temp = tempfile::tempdir().unwrap();
    let file = temp.path().join("x.bundle");
    let mut refused = 0;
    for _ in 0..1000 {
        let mut pack = Pack { bytes: whole[start..whole.len() - 20].to_vec(), count: 0 };
        for _ in 0..=roll(3) {
            let at = 12 + roll(pack.bytes.len() - 12);
            match roll(4) {
                0 => pack.bytes[at] = roll(256) as u8,
                1 => pack.bytes[at] ^= 1 << roll(8),
                2 => drop(pack.bytes.remove(at)),
                _ => pack.bytes.insert(at, roll(256) as u8),
            }
        }
        let count = u32::from_be_bytes(pack.bytes[8..12].try_into().unwrap());
        std::fs::write(&file, [&whole[..start], &pack.sealed_as(count)].concat()).unwrap();
        let taken = Store::take_in(&file, temp.path(), Limits::default(), &book_path, &|_| {});
        refused += usize::from(taken.is_err());
        drop(taken);
        assert_eq!(std::fs::read_dir(temp.path()).unwrap().count(), 1, "something was left behind");
    }
    assert!(refused > 900, "{refused}");
}
