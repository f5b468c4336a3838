//! A day file.
#![no_main]

use libfuzzer_sys::fuzz_target;
use slipbook::schema::schema;
use slipbook::slip::read_day_text;

fuzz_target!(|text: &str| {
    if let Err(problems) = read_day_text(&schema().run, text) {
        assert!(!problems.is_empty());
    }
});
