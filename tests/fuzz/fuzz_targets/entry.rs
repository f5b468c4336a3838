//! The words of a change, and what they do to a sheet.
#![no_main]

use libfuzzer_sys::fuzz_target;
use slipbook::schema::{EntryContext, Sheet, apply, read_entry, read_sheet, schema};
use std::sync::OnceLock;

static SHEET: OnceLock<Sheet> = OnceLock::new();

fuzz_target!(|text: &str| {
    let sheet = SHEET.get_or_init(|| read_sheet(schema(), include_str!("../../../sample-garage/plover/setup.toml")).sheet);
    let words: Vec<String> = text.split(' ').map(str::to_owned).collect();
    for template in &schema().templates {
        let ctx = EntryContext { schema: schema(), chassis: &template.chassis, sheet };
        if let Ok(edits) = read_entry(ctx, &words, &mut |_, _| None) {
            let _ = apply(schema(), sheet, &edits);
        }
    }
});
