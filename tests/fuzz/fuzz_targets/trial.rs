//! A trial's file.
#![no_main]

use libfuzzer_sys::fuzz_target;
use slipbook::trial::{read_trial, write_trial};

fuzz_target!(|text: &str| {
    match read_trial(text) {
        Err(problems) => assert!(!problems.is_empty()),
        Ok(trial) => assert!(read_trial(&write_trial(&trial)).is_ok()),
    }
});
