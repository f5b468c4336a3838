//! One race day at one track: readings and runs; one file.

use super::Run;
use crate::schema::Num;
use jiff::civil::{Date, Time};
use std::collections::BTreeMap;

/// The longest weather report that is kept, in characters.
pub const LONGEST_REPORT: usize = 1_000;

/// Air or track as measured at a time. Numbers by the names of `schema/run.toml`, `[[reading]]`.
#[derive(Debug, Clone, Default, PartialEq, Eq, serde::Serialize, serde::Deserialize)]
pub struct Reading {
    /// Local time; the day's 00:00–05:59 are the morning after.
    pub at: Time,
    /// Numbers by name.
    pub numbers: BTreeMap<String, Num>,
    /// sun, cloud, shade, night.
    pub sun: Option<String>,
    /// Who took it.
    pub by: Option<String>,
    /// The weather report it was read from, as it was given; at most [`LONGEST_REPORT`] characters.
    pub report: Option<String>,
}

/// A race day.
#[derive(Debug, Clone, PartialEq, Eq, serde::Serialize, serde::Deserialize)]
pub struct Day {
    /// The date it began on.
    pub date: Date,
    /// The track, the racer's own name for it.
    pub track: String,
    /// Finish distance, ft: 660, 1000 or 1320.
    pub finish_ft: u32,
    /// Elevation, ft.
    pub elevation_ft: Option<Num>,
    /// Local time minus UTC, s.
    pub offset_seconds: i32,
    /// How the track was prepared.
    pub prep: Option<String>,
    /// What is to be remembered of it, line by line.
    pub note: Option<String>,
    /// Nothing more is expected of it; what comes all the same opens it again.
    pub closed: bool,
    /// Lines of a page that could not be read, as they were written.
    pub unread: Vec<String>,
    /// Readings in time order.
    pub readings: Vec<Reading>,
    /// Runs in time order.
    pub runs: Vec<Run>,
}

impl Day {
    /// The path of its file in the book: `days/2026/05-16-osier-flats.toml`.
    pub fn path(&self) -> String {
        format!(
            "days/{:04}/{:02}-{:02}-{}.toml",
            self.date.year(),
            self.date.month(),
            self.date.day(),
            slug(&self.track)
        )
    }

    /// `-05:00`.
    pub fn offset_text(&self) -> String {
        let s = self.offset_seconds.abs();
        format!("{}{:02}:{:02}", if self.offset_seconds < 0 { '-' } else { '+' }, s / 3600, s % 3600 / 60)
    }
}

/// A track's name as part of a path: [`crate::text::slug`].
pub fn slug(track: &str) -> String {
    crate::text::slug(track, "track")
}

/// The date and slug in a day file's path; `None` when it is no day file.
pub fn day_of_path(path: &str) -> Option<(Date, &str)> {
    let rest = path.strip_prefix("days/")?.strip_suffix(".toml")?;
    let (year, rest) = rest.split_once('/')?;
    let (month_day, slug) = (rest.get(..5)?, rest.get(6..)?);
    let date = format!("{year}-{month_day}").parse().ok()?;
    (!slug.contains('/')).then_some((date, slug))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_days_path_says_its_date_and_its_track() {
        assert_eq!(day_of_path("days/2026/05-16-osier-flats.toml").unwrap().1, "osier-flats");
        assert!(day_of_path("days/2026/5-16-x.toml").is_none() && day_of_path("setup.toml").is_none());
    }
}
