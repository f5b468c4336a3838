//! The air that is taken where none was read.

use crate::air::isa;
use crate::schema::Num;
use crate::slip::Day;
use std::collections::HashMap;

/// What an assumed density rests on.
#[derive(Debug, Clone, Copy, PartialEq, Eq, serde::Serialize)]
#[serde(rename_all = "snake_case")]
pub enum AssumedBy {
    /// Readings of other days at its track.
    Track,
    /// The book's middle, moved to the elevation of a track where the air was never read.
    Elevation,
    /// The book's middle: of the track nothing is known.
    Book,
}

/// Usual air by track, and of the book.
#[derive(Debug, Clone, Default)]
pub(super) struct Usual {
    /// Mean logarithm of density by track.
    by_track: HashMap<String, f64>,
    /// Logarithm of the book's middle density.
    pub book: f64,
    /// Mean elevation of the runs with air, ft, where all of them have one.
    elevation_ft: Option<f64>,
}

impl Usual {
    /// From the days and densities, kg/m3, of the runs with air, and the middle of these.
    pub fn new(read: &[(&Day, f64)], book_kg_m3: f64) -> Usual {
        let mut tracks: HashMap<String, Vec<f64>> = HashMap::new();
        for (day, density) in read {
            tracks.entry(day.track.to_lowercase()).or_default().push(density.ln());
        }
        let mean = |v: &[f64]| v.iter().sum::<f64>() / v.len() as f64;
        let heights: Option<Vec<f64>> = read.iter().map(|(d, _)| d.elevation_ft.map(Num::to_f64)).collect();
        Usual {
            by_track: tracks.iter().map(|(t, v)| (t.clone(), mean(v))).collect(),
            book: book_kg_m3.ln(),
            elevation_ft: heights.filter(|h| !h.is_empty()).map(|h| mean(&h)),
        }
    }

    /// The density taken at a day's track, kg/m3, and what that rests on. The air thins with height as the standard
    /// atmosphere does.
    pub fn at(&self, day: &Day) -> (f64, AssumedBy) {
        if let Some(ln) = self.by_track.get(&day.track.to_lowercase()) {
            return (ln.exp(), AssumedBy::Track);
        }
        match (self.elevation_ft, day.elevation_ft.map(Num::to_f64)) {
            (Some(from), Some(to)) => {
                let thinner = isa(to).density_kg_m3 / isa(from).density_kg_m3;
                (self.book.exp() * thinner, AssumedBy::Elevation)
            }
            _ => (self.book.exp(), AssumedBy::Book),
        }
    }
}

/// How far air that was not read may lie from what is taken at a known track: standard deviation of the logarithm of density.
pub const UNREAD_LOG_SD: f64 = 0.025;

/// How far unread air lies from what is taken: standard deviation of the logarithm of its density. At a known track the
/// blame model's; at one never read, wider (common practice, no source).
pub(super) fn unread_log_sd(by: AssumedBy) -> f64 {
    match by {
        AssumedBy::Track => UNREAD_LOG_SD,
        AssumedBy::Elevation => 0.03,
        AssumedBy::Book => 0.05,
    }
}

/// How far one reading of the air may be off: standard deviation of the logarithm of density (1 F, 3 % of humidity and
/// 0.03 inHg together). Common practice, no source.
const READING_LOG_SD: f64 = 0.0025;
/// How far the air walks in an hour from a reading; the same, and at the most.
const WALK_LOG_SD: f64 = 0.003;
const MOST_LOG_SD: f64 = 0.02;

/// How far the air may be from a reading `minutes` away: standard deviation of the logarithm of density.
pub fn reading_log_sd(minutes: u32) -> f64 {
    READING_LOG_SD.hypot(WALK_LOG_SD * (f64::from(minutes) / 60.0).sqrt()).min(MOST_LOG_SD)
}
