//! A season table.
#![no_main]

use libfuzzer_sys::fuzz_target;
use jiff::tz::TimeZone;
use slipbook::schema::schema;
use slipbook::slip::read_table;
use std::collections::BTreeMap;

fuzz_target!(|bytes: &[u8]| {
    let _ = read_table(schema(), bytes, &BTreeMap::new(), &TimeZone::UTC, &mut |_| {});
});
