//! A raw weather report.
#![no_main]

use libfuzzer_sys::fuzz_target;
use slipbook::air::metar::read_metar;

fuzz_target!(|text: &str| {
    match read_metar(text) {
        Ok(m) => assert!(m.temperature_c.zip(m.dew_point_c).is_none_or(|(t, dew)| dew <= t)),
        Err(e) => assert!(!e.why.is_empty() && !e.help.is_empty()),
    }
});
