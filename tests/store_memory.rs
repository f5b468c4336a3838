//! Sizes are refused before they fill memory. Alone in its file: the peak is that of the whole process.
use std::fs;

use slipbook::store::{Store, StoreError};

mod store_support;
use store_support::*;

#[test]
fn an_object_over_the_limit_is_refused_unread() {
    let book = Book::new();
    let big = book.dir().join("big.toml");
    fs::File::create(&big).unwrap().set_len(64 * 1024 * 1024).unwrap();
    book.git(&["add", "big.toml"]);
    book.git(&["commit", "-qm", "big"]);
    for pack in [false, true] {
        if pack {
            book.git(&["repack", "-adq"]);
        }
        let store = Store::open(book.dir()).unwrap();
        let head = store.head().unwrap().unwrap();
        let files = store.files(head).unwrap();
        let id = files.iter().find(|f| f.0 == "big.toml").unwrap().1;
        match store.blob(id) {
            Err(StoreError::TooLarge { size, .. }) => assert_eq!(size, 64 * 1024 * 1024),
            other => panic!("packed {pack}: {:?}", other.map(|b| b.len())),
        }
        // The rest of the book is still of use.
        assert_eq!(store.log(None).unwrap().len(), 2);
    }
    assert!(peak_memory_kib().is_none_or(|kib| kib < 60 * 1024), "{:?}", peak_memory_kib());
}

/// The most memory this process ever used, where the system tells.
fn peak_memory_kib() -> Option<u64> {
    let status = fs::read_to_string("/proc/self/status").ok()?;
    let line = status.lines().find(|l| l.starts_with("VmHWM:"))?;
    line.split_ascii_whitespace().nth(1)?.parse().ok()
}
