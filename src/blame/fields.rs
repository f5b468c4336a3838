//! Where each value on the sheet comes from: since which version, when, by whom, why, and what followed.

use super::{Judge, Verdict};
use crate::schema::{Schema, Value};
use crate::slip::Moment;
use crate::stats::Difference;
use crate::timeline::{Timeline, VersionNumber};

/// The origin of a value.
#[derive(Debug, Clone)]
pub struct FieldOrigin {
    /// The field.
    pub key: String,
    /// Its value now.
    pub value: Value,
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
    pub followed: Option<(Option<Difference>, Verdict)>,
}

/// The origin of every value on the sheet now, in sheet order.
pub fn origins(schema: &Schema, timeline: &Timeline, judge: &Judge) -> Vec<FieldOrigin> {
    let Some(now) = timeline.now() else { return Vec::new() };
    now.sheet
        .in_order(schema)
        .filter_map(|(field, value)| {
            // The first version of the unbroken row that ends now in which the field had this value at its end.
            let same = |i: &usize| timeline.versions[*i].sheet.get(&field.key) == Some(value);
            let index = (0..timeline.versions.len()).rev().take_while(same).last()?;
            let version = &timeline.versions[index];
            // A value that came on record while the version was on the car is of its own date and hand.
            let late = timeline
                .remarks
                .iter()
                .filter(|r| r.during == index && version.entry.sheet.get(&field.key) != Some(value))
                .find(|r| r.entry.sheet.get(&field.key) == Some(value));
            let entry = late.map_or(&version.entry, |r| &r.entry);
            let followed = if index > 0 && late.is_none() { judge.compare(index - 1, index) } else { None };
            Some(FieldOrigin {
                key: field.key.clone(),
                value: value.clone(),
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
