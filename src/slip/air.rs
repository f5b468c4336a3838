//! An air reading as it is typed: `84F 52% 29.42 station`. Kept as measured; what it means for the clock is not judged here.

use super::day::Reading;
use crate::schema::{Num, Unit, Units, schema};
use jiff::civil::Time;

/// How a reading is typed.
pub(super) const FORM: &str =
    "an air reading is like `84F 52% 29.42 station` (or `dew 60F`, `wet 66F`, `29.92 altimeter`)";

/// Words that name the number behind them.
pub(super) const NAMES: [&str; 13] = [
    "dew",
    "dewpoint",
    "point",
    "wet",
    "bulb",
    "track",
    "surface",
    "head",
    "tail",
    "wind",
    "temp",
    "baro",
    "barometer",
];

/// Words for the pressure at the track.
const STATION: [&str; 3] = ["station", "abs", "absolute"];
/// Words for the pressure carried to sea level; QNH is what it is called on the radio (ICAO Doc 8400).
const ALTIMETER: [&str; 3] = ["altimeter", "alt", "qnh"];

/// Whether a word says which pressure a barometer number is.
pub(super) fn names_pressure(word: &str) -> bool {
    let lower = word.to_lowercase();
    STATION.contains(&lower.as_str()) || ALTIMETER.contains(&lower.as_str())
}

/// A reading as it was typed. What a barometer number without its word is, only the elevation may tell.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct AirTyped {
    /// What can only be meant in one way.
    pub reading: Reading,
    /// A barometer number that was given without `station` or `altimeter`, inHg.
    pub barometer: Option<Num>,
    /// That number as it was typed, with its unit.
    pub barometer_said: String,
    /// A wind that was given without `head` or `tail`, mph.
    pub wind: Option<Num>,
}

/// Reads one line of air. The error says what is wrong and what would be right.
pub fn read_air(text: &str, at: Time) -> Result<AirTyped, String> {
    let units = &schema().units;
    let mut out = AirTyped {
        reading: Reading { at, ..Reading::default() },
        barometer: None,
        barometer_said: String::new(),
        wind: None,
    };
    // A degree sign says nothing that F and C do not say.
    let text = text.replace(['\u{b0}', '\u{ba}'], "");
    let mut words = text.split([' ', ',']).filter(|w| !w.is_empty()).peekable();
    // A name in front of its number, and a pressure and its word, in either order.
    let mut name: Option<(&str, &str)> = None;
    let mut meaning: Option<&str> = None;
    while let Some(word) = words.next() {
        let lower = word.to_lowercase();
        match lower.as_str() {
            "dew" | "dewpoint" => name = Some(("dew_point", "dew")),
            "wet" => name = Some(("wet_bulb", "wet")),
            "track" | "surface" => name = Some(("track_temp", "track")),
            "head" => name = Some(("head_wind", "head")),
            "tail" => name = Some(("head_wind", "tail")),
            "wind" if name.is_none_or(|n| n.0 != "head_wind") => name = Some(("head_wind", "wind")),
            "point" | "bulb" | "wind" | "rh" | "humidity" | "barometer" | "baro" | "temp" | "temperature" => {}
            "sun" | "sunny" => sky(&mut out.reading, "sun")?,
            "cloud" | "cloudy" | "overcast" => sky(&mut out.reading, "cloud")?,
            "shade" | "night" => sky(&mut out.reading, &lower)?,
            _ if names_pressure(&lower) => {
                let is = if STATION.contains(&lower.as_str()) { "station" } else { "altimeter" };
                match (out.barometer.take(), meaning) {
                    (Some(p), _) => put(&mut out.reading, &format!("pressure_{is}"), p)?,
                    (None, None) => meaning = Some(is),
                    (None, Some(_)) => return Err(format!("`{word}` stands without its pressure; {FORM}")),
                }
            }
            _ => {
                // As a report has it: A3002 is an altimeter setting of 30.02 inHg.
                if let Some(setting) = report_setting(&lower) {
                    put(&mut out.reading, "pressure_altimeter", setting)?;
                    continue;
                }
                let split = word.find(|c: char| !(c.is_ascii_digit() || "+-.".contains(c))).unwrap_or(word.len());
                let n = Num::parse(&word[..split]).ok_or_else(|| format!("`{word}` is not understood; {FORM}"))?;
                let mut unit = word[split..].to_owned();
                if unit.is_empty() {
                    let is_unit = |w: &&str| {
                        units
                            .typed(w)
                            .any(|u| matches!(u.quantity.as_str(), "temperature" | "barometer" | "share" | "speed"))
                    };
                    unit = words.next_if(is_unit).unwrap_or("").to_owned();
                }
                let no_unit = || format!("`{word}`: `{unit}` is no unit of that; {FORM}");
                let named = name.take();
                if let Some(("head_wind", way)) = named {
                    let from = units.meant(if unit.is_empty() { "mph" } else { &unit }, "mph").ok_or_else(no_unit)?;
                    let wind = stored(n, from).ok_or("a wind beyond reason")?;
                    match way {
                        "wind" if out.wind.is_some() => return Err(format!("the wind is given twice; {FORM}")),
                        "wind" => out.wind = Some(wind),
                        way => put(&mut out.reading, "head_wind", if way == "tail" { -wind } else { wind })?,
                    }
                } else if let Some(from) = units.meant(&unit, "degF").filter(|_| !unit.is_empty()) {
                    let value = stored(n, from).ok_or("a temperature beyond reason")?;
                    put(&mut out.reading, named.map_or("temperature", |n| n.0), value)?;
                } else if let Some((_, said)) = named {
                    return Err(format!("`{said} {word}`: give its unit, F or C; {FORM}"));
                } else if unit == "%" {
                    put(&mut out.reading, "humidity", n)?;
                } else {
                    let from = if unit.is_empty() { "inHg" } else { &unit };
                    let from = units
                        .meant(from, "inHg")
                        .ok_or_else(|| format!("`{word}`: `{unit}` is no unit of air; {FORM}"))?;
                    if unit.is_empty() && (n < Num::int(18) || n > Num::int(32)) {
                        return Err(format!("`{word}` could be a temperature or a pressure: give its unit; {FORM}"));
                    }
                    let value = stored(n, from).ok_or("a pressure beyond reason")?;
                    match meaning.take() {
                        Some(meaning) => put(&mut out.reading, &format!("pressure_{meaning}"), value)?,
                        None if out.barometer.is_some() => {
                            return Err(format!("two pressures without their words; {FORM}"));
                        }
                        None => {
                            out.barometer = Some(value);
                            out.barometer_said = format!("{} {}", &word[..split], from.symbol);
                        }
                    }
                }
            }
        }
    }
    if let Some(word) = meaning.or(name.map(|n| n.1)) {
        return Err(format!("`{word}` stands without its number; {FORM}"));
    }
    if out.reading.numbers.is_empty() && out.barometer.is_none() && out.wind.is_none() {
        return Err(format!("no number was given; {FORM}"));
    }
    if out.wind.is_some() && out.reading.numbers.contains_key("head_wind") {
        return Err(format!("the wind is given twice; {FORM}"));
    }
    Ok(out)
}

/// The setting of a report's group: `a3002` is 30.02 inHg.
fn report_setting(word: &str) -> Option<Num> {
    let digits = word.strip_prefix('a').filter(|d| d.len() == 4 && d.bytes().all(|b| b.is_ascii_digit()))?;
    Num::parse(&format!("{}.{}", &digits[..2], &digits[2..]))
}

/// What the sky is like; one word of it.
fn sky(reading: &mut Reading, word: &str) -> Result<(), String> {
    match reading.sun.replace(word.to_owned()).filter(|old| old != word) {
        Some(old) => Err(format!("`{old}` and `{word}`: one of them; {FORM}")),
        None => Ok(()),
    }
}

fn put(reading: &mut Reading, name: &str, n: Num) -> Result<(), String> {
    match reading.numbers.insert(name.to_owned(), n) {
        Some(_) => Err(format!("the {} is given twice; {FORM}", name.replace('_', " "))),
        None => Ok(()),
    }
}

/// In the stored unit, to the millionth: what was read in hPa comes back as it was read.
fn stored(n: Num, from: &Unit) -> Option<Num> {
    Num::from_f64(n.to_f64() * from.factor + from.offset)
}

/// The unit a table header names, if it is one for `stored`.
pub fn header_unit<'a>(units: &'a Units, unit: &str, stored: &str) -> Option<&'a Unit> {
    units.meant(unit, stored)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn read(text: &str) -> Result<AirTyped, String> {
        read_air(text, Time::midnight())
    }

    fn number(text: &str, name: &str) -> String {
        read(text).unwrap().reading.numbers[name].to_string()
    }

    #[test]
    fn air_as_people_type_it() {
        let r = read("84F 52% 29.42 station").unwrap().reading;
        assert_eq!(r.numbers["temperature"], Num::int(84));
        assert_eq!(r.numbers["humidity"], Num::int(52));
        assert_eq!(r.numbers["pressure_station"], Num::parse("29.42").unwrap());
        let text = "29 C dew 18C 1013 hPa altimeter track 48C sun tail 4 mph";
        assert_eq!(read(text).unwrap().reading.sun.as_deref(), Some("sun"));
        for (name, wanted) in
            [("temperature", "84.2"), ("dew_point", "64.4"), ("pressure_altimeter", "29.913873"), ("head_wind", "-4")]
        {
            assert_eq!(number(text, name), wanted, "{name}");
        }
        for bad in
            ["hot", "84", "", "station", "29.4 station station", "84F 85F", "dew", "dew 60", "29.4 30.1", "cloud"]
        {
            assert!(read(bad).is_err(), "{bad}");
        }
    }

    #[test]
    fn units_either_way() {
        for text in
            ["996.3 hPa station", "996.3mbar station", "99.63 kPa station", "station 996.3 mb", "747.29 mmHg station"]
        {
            let n = read(text).unwrap().reading.numbers["pressure_station"].to_f64();
            assert!((n - 29.4207).abs() < 2e-4, "{text}: {n}");
        }
        assert_eq!(number("84 F wet 20 C", "wet_bulb"), "68");
        assert_eq!(number("head 10 km/h 20C", "head_wind"), "6.213712");
        assert_eq!(number("-40C", "temperature"), "-40");
    }

    #[test]
    fn words_people_use() {
        for (text, name, wanted) in [
            ("84\u{b0}F", "temperature", "84"),
            ("29\u{b0}C", "temperature", "84.2"),
            ("84 \u{b0}F", "temperature", "84"),
            ("84\u{b0} F", "temperature", "84"),
            ("temp 84F", "temperature", "84"),
            ("track temp 118F", "track_temp", "118"),
            ("84F dewpoint 64F", "dew_point", "64"),
            ("29.42 abs", "pressure_station", "29.42"),
            ("29.42 absolute", "pressure_station", "29.42"),
            ("baro 29.42 station", "pressure_station", "29.42"),
            ("QNH 1013 hPa", "pressure_altimeter", "29.913873"),
            ("alt 30.02", "pressure_altimeter", "30.02"),
            ("84F A3002", "pressure_altimeter", "30.02"),
            ("tail 10 knots", "head_wind", "-11.507794"),
            ("head 10kt", "head_wind", "11.507794"),
            ("head wind 5 m/s", "head_wind", "11.184681"),
            ("tail wind 4", "head_wind", "-4"),
        ] {
            assert_eq!(number(text, name), wanted, "{text}");
        }
        for (text, sky) in
            [("84F sunny", "sun"), ("84F cloudy", "cloud"), ("84F overcast", "cloud"), ("84F night", "night")]
        {
            assert_eq!(read(text).unwrap().reading.sun.as_deref(), Some(sky), "{text}");
        }
        for (bad, says) in [
            ("84F night sun", "one of them"),
            ("84F sunny overcast", "one of them"),
            ("84F A302", "not understood"),
            ("84F A30O2", "not understood"),
            ("84F A3002 30.02 altimeter", "twice"),
            ("84F wind", "without its number"),
            ("84F wind 5 head 4", "twice"),
            ("84F wind 5 wind 4", "twice"),
            ("temp 84", "give its unit"),
        ] {
            let why = read(bad).unwrap_err();
            assert!(why.contains(says), "{bad}: {why}");
        }
        assert_eq!(read("84F sun sunny").unwrap().reading.sun.as_deref(), Some("sun"), "said twice is said");
    }

    #[test]
    fn a_wind_without_its_way_is_kept_for_the_question() {
        for text in ["wind 5", "84F wind 5 mph"] {
            let typed = read(text).unwrap();
            assert_eq!((typed.wind, typed.reading.numbers.contains_key("head_wind")), (Some(Num::int(5)), false));
        }
        assert_eq!(read("head wind 5").unwrap().wind, None);
    }

    #[test]
    fn a_barometer_number_without_its_word() {
        let typed = read("84F 29.42").unwrap();
        assert_eq!((typed.barometer, typed.reading.numbers.len()), (Num::parse("29.42"), 1));
        assert_eq!(typed.barometer_said, "29.42 inHg");
        assert_eq!(read("84F 1021 mbar").unwrap().barometer_said, "1021 hPa");
        let both = read("station 29.42 altimeter 30.08").unwrap();
        assert_eq!((both.barometer, both.reading.numbers.len()), (None, 2));
    }
}
