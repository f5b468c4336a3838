//! A sheet (`setup.toml`): read, written, and read the same again.
#![no_main]

use libfuzzer_sys::fuzz_target;
use slipbook::schema::{read_sheet, schema, write_sheet};

fuzz_target!(|text: &str| {
    let read = read_sheet(schema(), text);
    if read.refused().next().is_none() {
        let again = read_sheet(schema(), &write_sheet(schema(), &read.sheet, Some(text), &[]));
        assert_eq!(again.sheet, read.sheet);
    }
});
