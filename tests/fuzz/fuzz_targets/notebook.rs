//! A page of the notebook, and each of its lines.
#![no_main]

use jiff::civil::date;
use libfuzzer_sys::fuzz_target;
use slipbook::schema::schema;
use slipbook::slip::{Moment, Watch, read_line, read_notebook};

fuzz_target!(|text: &str| {
    let now = Moment { seconds: 1_787_000_000, offset_seconds: -18_000 };
    let Ok(page) = read_notebook(&schema().run, text, now) else { return };
    let at = page.moments(page.date.unwrap_or(date(2026, 8, 22)), &Watch::Offset(-18_000));
    for (line, at) in page.lines.iter().zip(at) {
        if let (Ok((_, words)), Some(at)) = (&line.timed, at) {
            let _ = read_line(&schema().run, words, page.finish_ft.unwrap_or(1320), at);
        }
    }
});
