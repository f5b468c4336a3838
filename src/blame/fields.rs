//! Where each value on the sheet comes from: since which version, when, by whom, why, and what followed.

use super::{Effect, Estimates, Verdict};
use crate::schema::{Places, Schema, Sheet, Value};
use crate::slip::Moment;
use crate::timeline::{Timeline, VersionNumber};
use std::collections::HashMap;

/// The origin of a value.
#[derive(Debug, Clone)]
pub struct FieldOrigin {
    /// The field.
    pub key: String,
    /// Its value now.
    pub value: Value,
    /// Which of its numbers are in doubt.
    pub doubt: Places,
    /// The version it has had this value since.
    pub since: VersionNumber,
    /// Index of that version.
    pub index: usize,
    /// When it was set or measured.
    pub at: Moment,
    /// By whom.
    pub by: String,
    /// Why.
    pub why: Option<String>,
    /// What followed, where the version can be compared with the one before.
    pub followed: Option<(Effect, Verdict)>,
}

/// Sheets by store id.
pub type Sheets = HashMap<String, Sheet>;

/// The origin of every value on the sheet now, in sheet order. `sheets` holds every sheet of the timeline.
pub fn origins(schema: &Schema, timeline: &Timeline, sheets: &Sheets, estimates: &Estimates) -> Vec<FieldOrigin> {
    let Some(now) = timeline.now().and_then(|v| sheets.get(v.sheet_id())) else { return Vec::new() };
    let at_end = |i: usize, key: &str| sheets.get(timeline.versions[i].sheet_id())?.get(key);
    now.in_order(schema)
        .filter_map(|(field, value)| {
            // The first version of the unbroken row that ends now in which the field had this value at its end.
            let same = |i: &usize| at_end(*i, &field.key) == Some(value);
            let index = (0..timeline.versions.len()).rev().take_while(same).last()?;
            let version = &timeline.versions[index];
            let had = |id: &str| sheets.get(id).and_then(|s| s.get(&field.key)) == Some(value);
            // A value that came on record while the version was on the car is of its own date and hand.
            let late = timeline
                .remarks
                .iter()
                .filter(|r| r.during == index && !had(&version.entry.blob))
                .find(|r| had(&r.entry.blob));
            let entry = late.map_or(&version.entry, |r| &r.entry);
            let followed = if late.is_none() {
                estimates.of_version(index).and_then(|m| estimates.judge(m)).map(|j| (j.effect, j.verdict))
            } else {
                None
            };
            Some(FieldOrigin {
                key: field.key.clone(),
                value: value.clone(),
                doubt: now.doubt(&field.key).clone(),
                since: version.number.clone(),
                index,
                at: entry.at,
                by: entry.by.clone(),
                why: entry.why.clone(),
                followed,
            })
        })
        .collect()
}
