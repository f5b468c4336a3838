//! The words of a time slip.
#![no_main]

use libfuzzer_sys::fuzz_target;
use slipbook::schema::schema;
use slipbook::slip::{Moment, read_slip};

fuzz_target!(|text: &str| {
    let words: Vec<String> = text.split_whitespace().map(str::to_owned).collect();
    for finish in [660, 1000, 1320] {
        let _ = read_slip(&schema().run, &words, finish, Moment { seconds: 1_787_000_000, offset_seconds: -18_000 });
    }
});
