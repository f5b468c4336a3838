//! The air things were carried to, in words.

use super::layout::{counted, signed};
use crate::air::KG_M3_PER_LB_FT3;
use crate::blame::{Allowed, Segment};
use crate::pace::{AssumedBy, Conditions, FAR_MINUTES, Footing, FootingOf, Reference, Standing};
use serde_json::{Value as Json, json};

/// `0.0712 lb/ft3`.
pub fn density(kg_m3: f64) -> String {
    format!("{:.4} lb/ft3", kg_m3 / KG_M3_PER_LB_FT3)
}

/// What the model allowed for beside the air: `day, lane, track, wear and drift`, as far as it is on record.
pub fn allowed(a: Allowed) -> String {
    let parts = [("day", true), ("lane", a.lanes), ("track", a.tracks), ("wear", true)];
    let said: Vec<&str> = parts.into_iter().filter(|(_, is)| *is).map(|(what, _)| what).collect();
    format!("{} and drift", said.join(", "))
}

/// What the reference is: `the middle of the book`.
pub fn reference_words(r: &Reference) -> String {
    match r.of {
        FootingOf::Book => "the middle of the book".to_owned(),
        FootingOf::SeaLevel => "the standard atmosphere at sea level".to_owned(),
        FootingOf::Day(date) => format!("the middle of {date}"),
        FootingOf::Density(_) => "as you said".to_owned(),
    }
}

/// The foot of a table: what air its numbers stand in, and which runs had none. `without`, `far`: of `runs` shown.
pub fn foot(footing: &Footing, what: &str, runs: usize, (without, far): (usize, usize)) -> String {
    let Some(reference) = &footing.reference else {
        return format!("{what} as run, not in one air: no run has air on record.");
    };
    let mut out = format!("{what} in one air: {}, {}.", density(reference.density_kg_m3), reference_words(reference));
    if without > 0 {
        let (have, whose) = if without == 1 { ("has", "its") } else { ("have", "their") };
        let of = counted(runs, "run");
        out.push_str(&format!(
            " {without} of {of} {have} no air on record: taken as run in {whose} track's usual air, or the book's.",
        ));
    }
    if far > 0 {
        let have = if far == 1 { "run is" } else { "runs are" };
        out.push_str(&format!(" {far} {have} more than an hour from a reading."));
    }
    out
}

/// The air that was taken: `the usual air of its track`.
pub fn usual(by: AssumedBy) -> &'static str {
    match by {
        AssumedBy::Track => "the usual air of its track",
        AssumedBy::Elevation => "the book's middle air, moved to its track's elevation",
        AssumedBy::Book => "the book's middle air: none was ever read at its track",
    }
}

/// What is to be said of the air of one run, where something is.
pub fn run_words(standing: Option<Standing>) -> Option<String> {
    match standing {
        None => Some("no air on record: compared as run, not in one air".to_owned()),
        Some(Standing::Assumed { by, .. }) => {
            Some(format!("no air on record for this run: taken as run in {}", usual(by)))
        }
        Some(Standing::Read { minutes, .. }) if minutes > FAR_MINUTES => {
            let (h, m) = (minutes / 60, minutes % 60);
            Some(format!("the nearest reading of the air is {h} h {m:02} min away"))
        }
        Some(Standing::Read { .. }) => None,
    }
}

/// `0-60 -0.019  60-330 -0.030 … to 1320 -0.003`: fits on a line.
pub fn segments(list: &[Segment]) -> String {
    let one = |s: &Segment| match s {
        Segment { from_ft: 1000, to_ft, .. } => format!("to {to_ft} {}", signed(s.apart_s, 3)),
        _ => format!("{}-{} {}", s.from_ft, s.to_ft, signed(s.apart_s, 3)),
    };
    list.iter().map(one).collect::<Vec<_>>().join("  ")
}

fn span(range: Option<(f64, f64)>, decimals: usize, unit: &str) -> Option<String> {
    let (a, b) = range?;
    let (low, high) = (format!("{a:.decimals$}"), format!("{b:.decimals$}"));
    Some(if low == high { format!("{low} {unit}") } else { format!("{low} to {high} {unit}") })
}

/// `air 0.0700 to 0.0726 lb/ft3, track 96 to 118 F, head wind 2 to 4 mph, elevation 612 ft`.
pub fn conditions(c: &Conditions) -> Option<String> {
    let lb = c.density_kg_m3.map(|(a, b)| (a / KG_M3_PER_LB_FT3, b / KG_M3_PER_LB_FT3));
    let wind = c.head_wind_mph.map(|(a, b)| if b < 0.0 { ("tail", Some((-b, -a))) } else { ("head", Some((a, b))) });
    let mut parts: Vec<String> = Vec::new();
    parts.extend(span(lb, 4, "lb/ft3").map(|s| format!("air {s}")));
    parts.extend(span(c.track_temp_f, 0, "F").map(|s| format!("track {s}")));
    parts.extend(wind.and_then(|(side, range)| Some(format!("{side} wind {}", span(range, 0, "mph")?))));
    parts.extend((!c.sun.is_empty()).then(|| c.sun.join("/")));
    parts.extend(span(c.elevation_ft, 0, "ft").map(|s| format!("elevation {s}")));
    let any = !parts.is_empty();
    parts.extend((!c.tracks.is_empty()).then(|| counted(c.tracks.len(), "track")));
    any.then(|| parts.join(", "))
}

/// The reference and the exponents, as JSON.
pub fn json(footing: &Footing) -> Json {
    let reference = footing.reference.map(|r| {
        let of = match r.of {
            FootingOf::Book => "book".to_owned(),
            FootingOf::SeaLevel => "sea-level".to_owned(),
            FootingOf::Day(date) => date.to_string(),
            FootingOf::Density(_) => "density".to_owned(),
        };
        json!({"density_kg_m3": r.density_kg_m3, "of": of})
    });
    let e = &footing.exponents;
    let exponents: serde_json::Map<String, Json> = e.all().map(|(r, x)| (r.key(), json!(x))).collect();
    let fitted = e.fitted_to.map(|(t60, mph, ft)| json!({"ft60_s": t60, "trap_mph": mph, "trap_ft": ft}));
    json!({
        "reference": reference, "exponents": exponents, "fitted_to": fitted, "power_on_density": {"value": e.power.0, "sd": e.power.1},
        "induction_known": e.induction_known,
    })
}

/// The air of a run, as JSON.
pub fn standing_json(standing: Option<Standing>) -> Json {
    match standing {
        None => Json::Null,
        Some(Standing::Assumed { density_kg_m3, by }) => {
            json!({"density_kg_m3": density_kg_m3, "read": false, "taken_by": by})
        }
        Some(Standing::Read { density_kg_m3, minutes, .. }) => {
            json!({"density_kg_m3": density_kg_m3, "read": true, "minutes_to_reading": minutes})
        }
    }
}
