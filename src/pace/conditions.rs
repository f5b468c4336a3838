//! What some runs were made in.

use super::{Seen, Standing};

/// Least and greatest of something.
pub type Range = Option<(f64, f64)>;

/// Air, track and wind of some runs; `None` where nothing is on record.
#[derive(Debug, Clone, Default, PartialEq, serde::Serialize)]
pub struct Conditions {
    /// Density of the air as read, kg/m3.
    pub density_kg_m3: Range,
    /// Track surface, F.
    pub track_temp_f: Range,
    /// Wind, mph; a tail wind is below 0.
    pub head_wind_mph: Range,
    /// Elevations, ft.
    pub elevation_ft: Range,
    /// sun, cloud, shade, night: each once.
    pub sun: Vec<String>,
    /// Tracks by name, each once.
    pub tracks: Vec<String>,
}

/// The conditions of some runs.
pub fn conditions(runs: &[Seen]) -> Conditions {
    let mut out = Conditions::default();
    let widen = |range: &mut Range, x: Option<f64>| {
        if let Some(x) = x {
            *range = Some(range.map_or((x, x), |(a, b)| (a.min(x), b.max(x))));
        }
    };
    for s in runs {
        if let Some(Standing::Read { density_kg_m3, .. }) = s.footing.standing(s.run, s.day) {
            widen(&mut out.density_kg_m3, Some(density_kg_m3));
        }
        let track = s.day.track_at(s.run.at);
        widen(&mut out.track_temp_f, track.track_temp_f);
        widen(&mut out.head_wind_mph, track.head_wind_mph);
        widen(&mut out.elevation_ft, s.day.elevation_ft.map(crate::schema::Num::to_f64));
        out.sun.extend(track.sun.filter(|s| !out.sun.contains(s)));
        if !out.tracks.contains(&s.day.track) {
            out.tracks.push(s.day.track.clone());
        }
    }
    out
}
