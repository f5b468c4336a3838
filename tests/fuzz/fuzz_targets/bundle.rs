//! A bundle: any bytes, and any pack with its right hash behind a right header, so that the objects are reached too.
#![no_main]

use libfuzzer_sys::fuzz_target;
use slipbook::garage::{Limits, book_path};
use slipbook::store::Store;
use std::sync::OnceLock;

static PLACE: OnceLock<tempfile::TempDir> = OnceLock::new();

fuzz_target!(|bytes: &[u8]| {
    let place = PLACE.get_or_init(|| tempfile::tempdir().expect("a temporary folder")).path();
    let file = place.join("x.bundle");
    take(&file, bytes);
    // The first twenty bytes are the tip, the rest the pack.
    if let Some((tip, pack)) = bytes.split_first_chunk::<20>() {
        let mut hasher = gix::hash::hasher(gix::hash::Kind::Sha1);
        hasher.update(pack);
        let hash = hasher.try_finalize().expect("no collision");
        let tip: String = tip.iter().map(|b| format!("{b:02x}")).collect();
        let header = format!("# v2 git bundle\n{tip} refs/heads/main\n\n");
        take(&file, &[header.as_bytes(), pack, hash.as_slice()].concat());
    }
    let left = std::fs::read_dir(place).expect("the folder is there").count();
    assert_eq!(left, 1, "something was left behind");
});

fn take(file: &std::path::Path, bytes: &[u8]) {
    std::fs::write(file, bytes).expect("the file is written");
    let limits = Limits { total_bytes: 64 << 20, ..Limits::default() };
    drop(Store::take_in(file, file.parent().expect("a folder"), limits, &book_path, &|_| {}));
}
