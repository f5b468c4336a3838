//! The air: a reading and what it comes to, in the trade's units and SI, each number with what it rests on.

use super::layout::{Head, Page};
use crate::air::{KG_M3_PER_LB_FT3, PA_PER_INHG, fahrenheit};
use crate::garage::AirGone;
use crate::schema::{Num, RunWords};
use crate::slip::{AirMeans, Moment, Reading, reading_words};
use serde_json::{Value as Json, json};

/// Meters in a foot (exact).
const M_PER_FT: f64 = 0.304_8;

/// Who said what the barometer number is.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum BarometerBy {
    /// The word was said.
    Said,
    /// A weather report gives an altimeter setting.
    Report,
    /// It can only be that: why.
    Only(String),
    /// It is on record so.
    Record,
}

/// Whose air it is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum AirOf {
    /// The reading's own.
    Reading,
    /// Between the day's readings, at a time; minutes to the nearest it rests on.
    Day(u32),
}

/// What is told.
#[derive(Debug, Clone)]
pub struct AirTold<'a> {
    /// The reading that was given, or the last one on record.
    pub reading: &'a Reading,
    /// What the air is.
    pub means: &'a AirMeans,
    /// Whose air.
    pub of: AirOf,
    /// When the reading was taken.
    pub at: Option<Moment>,
    /// When the air is meant for, where that is another time.
    pub now: Option<Moment>,
    /// The day's track.
    pub track: Option<&'a str>,
    /// Its elevation, ft.
    pub elevation_ft: Option<Num>,
    /// Whose word the barometer's meaning is.
    pub barometer: BarometerBy,
    /// What was recorded.
    pub saved: bool,
    /// Why nothing was, where something could have been.
    pub not_saved: Option<&'a str>,
    /// Sentences beside it.
    pub notes: &'a [String],
}

/// Where no air is on record.
pub fn none_text(head: &Head, date: jiff::civil::Date) -> String {
    let mut page = head.page(&format!("no air is on record for {}", head.day(date)));
    page.line("next: slipbook air 84F 52% 29.42 station");
    page.text()
}

/// Where no air is on record, as JSON.
pub fn none_json(head: &Head, date: jiff::civil::Date) -> Json {
    json!({"car": head.car, "saved": false, "date": date.to_string(), "reading": null})
}

/// As text. `head` is `None` where no car is at hand.
pub fn text(head: Option<&Head>, plain: &Head, words: &RunWords, told: &AirTold) -> String {
    let mut title = match (told.at, told.track) {
        (Some(at), Some(track)) => format!("air, {} at {track}", plain.when(at)),
        (Some(at), None) => format!("air, {}", plain.when(at)),
        (None, _) => "air".to_owned(),
    };
    if told.saved {
        title.push_str("   saved");
    }
    let mut page = match head {
        Some(head) => head.page(&title),
        None => {
            let mut page = Page::below(plain);
            page.wrap("", &title);
            page
        }
    };
    page.wrap("  read: ", &reading_words(words, told.reading));
    if let Some(report) = &told.reading.report {
        page.wrap("  report: ", report);
    }
    if let BarometerBy::Only(why) = &told.barometer {
        page.wrap("  barometer: ", why);
    }
    if let Some(now) = told.now {
        page.wrap("  ", &age_words(plain, told, now));
    }
    let rows = rows(told);
    if !rows.is_empty() {
        page.gap();
        page.table(&fitting(rows, page.width()), &[]);
    }
    if told.means.air.is_some() {
        page.wrap("  ", "correction factors are for comparison only: no run is corrected by them");
    }
    if !told.means.missing.is_empty() && told.reading.is_of_air() {
        page.gap();
        page.wrap("", &format!("for the density still missing: {}", missing_words(&told.means.missing)));
    }
    for note in told.notes {
        page.wrap("", note);
    }
    if let Some(why) = told.not_saved {
        page.wrap("nothing was recorded: ", why);
    }
    page.text()
}

/// "read 1 h 20 min before Aug 22 15:40; the air then, by the day's readings:"
fn age_words(plain: &Head, told: &AirTold, now: Moment) -> String {
    let mut out = String::new();
    if let Some(minutes) = told.at.map(|at| now.since(at).as_secs() / 60) {
        let side = if minutes < 0 { "after" } else { "before" };
        out = format!("the last reading is {} {side} {}", span(minutes.unsigned_abs()), plain.when(now));
    }
    match told.of {
        AirOf::Day(0) => out.push_str("; the air then, as read"),
        AirOf::Day(minutes) if minutes > 60 => {
            out.push_str(&format!("; the air then rests on a reading {} away", span(minutes.into())));
        }
        AirOf::Day(_) => out.push_str("; the air then, by the day's readings"),
        AirOf::Reading => out.push_str("; the day's readings do not give all of the air"),
    }
    out
}

fn span(minutes: u64) -> String {
    match (minutes / 60, minutes % 60) {
        (0, m) => format!("{m} min"),
        (h, 0) => format!("{h} h"),
        (h, m) => format!("{h} h {m} min"),
    }
}

/// The rows as the screen has room for them: what a number rests on goes first.
fn fitting(mut rows: Vec<Vec<String>>, width: usize) -> Vec<Vec<String>> {
    let column = |i: usize| rows.iter().filter_map(|r| r.get(i)).map(|c| c.chars().count()).max().unwrap_or(0);
    let wide = (0..4).map(column).sum::<usize>() + 3 * 2;
    if wide > width {
        rows.iter_mut().for_each(|r| r.truncate(3));
    }
    rows
}

/// A quantity: its name, in the trade's units, in SI, what it rests on. What a racer looks for stands first.
fn rows(told: &AirTold) -> Vec<Vec<String>> {
    let means = told.means;
    let used = |name: &str| means.inputs.contains(&name);
    let read = |name: &str| told.of == AirOf::Reading && used(name);
    let by = match told.of {
        AirOf::Reading => "read",
        AirOf::Day(_) => "by the day's readings",
    };
    let feet = told.elevation_ft.map(|e| format!("{e} ft")).unwrap_or_default();
    let word = match &told.barometer {
        BarometerBy::Said => ", as you said",
        BarometerBy::Report => ", by the report",
        BarometerBy::Only(_) => ", as it can only be",
        BarometerBy::Record => ", as on record",
    };
    let barometer = match told.of {
        AirOf::Reading => format!("{by}{word}"),
        AirOf::Day(_) => by.to_owned(),
    };
    let mut out: Vec<Vec<String>> = Vec::new();
    let mut row = |name: &str, trade: String, si: String, rests: String| {
        out.push(vec![format!("  {name}"), trade, si, rests]);
    };
    if let Some(air) = means.air {
        let density = air.density_kg_m3();
        row(
            "density",
            format!("{:.5} lb/ft3", density / KG_M3_PER_LB_FT3),
            format!("{density:.4} kg/m3"),
            "moist air, CIPM-2007".to_owned(),
        );
        let height = air.density_altitude_ft();
        row("density altitude", feet_of(height), meters_of(height), "standard atmosphere".to_owned());
    }
    if let Some(height) = means.pressure_altitude_ft {
        row("pressure altitude", feet_of(height), meters_of(height), "standard atmosphere".to_owned());
    }
    if let Some(pa) = means.station_pa {
        let rests = if used("pressure_station") { barometer.clone() } else { format!("from the setting, {feet}") };
        row("station pressure", inhg(pa, 2), hpa(pa), rests);
    }
    if let Some(pa) = means.setting_pa {
        let rests = if used("pressure_altimeter") { barometer } else { format!("from station, {feet}") };
        row("altimeter setting", inhg(pa, 2), hpa(pa), rests);
    }
    if let Some(c) = means.temperature_c {
        row("temperature", degrees_f(c), degrees_c(c), by.to_owned());
    }
    let from_water = |name: &str, other: &str| if read(name) { "read".to_owned() } else { other.to_owned() };
    if let Some(h) = means.relative_humidity {
        row("humidity", format!("{:.0} %", h * 100.0), String::new(), from_water("humidity", "over water (WMO-No. 8)"));
    }
    if let Some(c) = means.dew_point_c {
        row("dew point", degrees_f(c), degrees_c(c), from_water("dew_point", "over water (WMO-No. 8)"));
    }
    if let Some(c) = means.wet_bulb_c {
        row("wet bulb", degrees_f(c), degrees_c(c), from_water("wet_bulb", "ventilated (WMO-No. 8)"));
    }
    if let Some(pa) = means.vapor_pa {
        row("vapor pressure", inhg(pa, 3), hpa(pa), "over water (WMO-No. 8)".to_owned());
    }
    if let Some(air) = means.air {
        let grains = air.water_grains_per_lb();
        row("water", format!("{grains:.1} grains/lb"), format!("{:.2} g/kg", grains / 7.0), "in dry air".to_owned());
        let dry = air.dry_pa();
        row("dry pressure", inhg(dry, 2), hpa(dry), "station less vapor pressure".to_owned());
        let both = "correction, dry pressure";
        row("SAE J1349 form", format!("{:.4}", air.correction_j1349()), String::new(), both.to_owned());
        row("SAE J607 (older)", format!("{:.4}", air.correction_dry()), String::new(), both.to_owned());
    }
    out
}

fn degrees_f(c: f64) -> String {
    format!("{:.1} F", fahrenheit(c))
}

fn degrees_c(c: f64) -> String {
    format!("{c:.1} C")
}

fn inhg(pa: f64, decimals: usize) -> String {
    format!("{:.decimals$} inHg", pa / PA_PER_INHG)
}

fn hpa(pa: f64) -> String {
    format!("{:.1} hPa", pa / 100.0)
}

fn feet_of(feet: f64) -> String {
    format!("{feet:.0} ft")
}

fn meters_of(feet: f64) -> String {
    format!("{:.0} m", feet * M_PER_FT)
}

/// What would have to be read for the density.
pub fn missing_words(missing: &[&str]) -> String {
    let one = |name: &&str| match *name {
        "temperature" => "the temperature",
        "pressure" => "the barometer (station, or altimeter and the elevation)",
        "elevation" => "the track's elevation (--elevation FT)",
        _ => "the water in the air (humidity, dew point or wet bulb)",
    };
    let parts: Vec<&str> = missing.iter().map(one).collect();
    parts.join(" and ")
}

/// Readings that were taken away, as text.
pub fn never_text(head: &Head, words: &RunWords, gone: &AirGone, saved: bool, notes: &[String]) -> String {
    let state = if saved { "   saved" } else { "" };
    let mut page = head.page(&format!("no such air, {} at {}{state}", head.when(gone.at), gone.day.track));
    for reading in &gone.readings {
        page.wrap(if saved { "  taken away: " } else { "  would be taken away: " }, &reading_words(words, reading));
    }
    for note in notes {
        page.wrap("", note);
    }
    if !saved {
        page.wrap("nothing was recorded: ", "a dry run");
    }
    page.text()
}

/// Readings that were taken away, as JSON.
pub fn never_json(head: &Head, gone: &AirGone, saved: bool, notes: &[String]) -> Json {
    json!({
        "car": head.car, "saved": saved, "at": gone.at, "track": gone.day.track,
        "taken_away": gone.readings.iter().map(stored_json).collect::<Vec<_>>(), "notes": notes,
    })
}

/// A reading as it is stored, under the names of `schema/run.toml`.
pub fn stored_json(reading: &Reading) -> Json {
    let mut out = json!({
        "at": reading.at.strftime("%H:%M:%S").to_string(), "sun": reading.sun, "by": reading.by, "report": reading.report,
    });
    if let Some(map) = out.as_object_mut() {
        map.extend(reading.numbers.iter().map(|(k, v)| (k.clone(), json!(v))));
    }
    out
}

/// As JSON.
pub fn json(head: Option<&Head>, told: &AirTold) -> Json {
    let means = told.means;
    let air = means.air;
    let hpa = |pa: Option<f64>| pa.map(|pa| pa / 100.0);
    let numbers = &told.reading.numbers;
    let barometer = ["station", "altimeter"].into_iter().find(|w| numbers.contains_key(&format!("pressure_{w}")));
    let (by, why) = match &told.barometer {
        BarometerBy::Said => ("said", None),
        BarometerBy::Report => ("report", None),
        BarometerBy::Only(why) => ("only_possible", Some(why)),
        BarometerBy::Record => ("record", None),
    };
    let minutes = match told.of {
        AirOf::Reading => None,
        AirOf::Day(minutes) => Some(minutes),
    };
    json!({
        "car": head.map(|h| &h.car), "saved": told.saved, "at": told.at, "track": told.track,
        "elevation_ft": told.elevation_ft, "reading": stored_json(told.reading),
        "for": told.now, "minutes_away": minutes,
        "barometer": barometer, "barometer_by": barometer.map(|_| by), "barometer_why": why,
        "inputs": means.inputs, "missing": means.missing,
        "temperature_c": means.temperature_c,
        "station_pressure_hpa": hpa(means.station_pa), "altimeter_setting_hpa": hpa(means.setting_pa),
        "vapor_pressure_hpa": hpa(means.vapor_pa), "dew_point_c": means.dew_point_c, "wet_bulb_c": means.wet_bulb_c,
        "relative_humidity": means.relative_humidity, "pressure_altitude_ft": means.pressure_altitude_ft,
        "density_kg_m3": air.map(|a| a.density_kg_m3()), "density_altitude_ft": air.map(|a| a.density_altitude_ft()),
        "water_grains_per_lb": air.map(|a| a.water_grains_per_lb()), "dry_pressure_hpa": hpa(air.map(|a| a.dry_pa())),
        "correction_j1349": air.map(|a| a.correction_j1349()), "correction_dry": air.map(|a| a.correction_dry()),
        "notes": told.notes,
    })
}
