//! Air as it is typed, as it is meant at an elevation, and a weather report as a reading.
#![no_main]

use jiff::civil::Time;
use libfuzzer_sys::fuzz_target;
use slipbook::schema::{Num, schema};
use slipbook::slip::{read_air, read_report};

fuzz_target!(|text: &str| {
    if let Ok(typed) = read_air(text, Time::midnight()) {
        for feet in [None, Some(0), Some(612), Some(5355)] {
            if let Ok(meant) = typed.clone().meant(&schema().run, feet.map(Num::int)) {
                meant.reading.means(feet.map(f64::from)).expect("what was taken is possible");
            }
        }
    }
    let _ = read_report(text);
});
