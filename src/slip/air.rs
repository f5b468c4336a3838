//! An air reading as it is typed: `84F 52% 29.42 station`. Kept as measured; what it means for the clock is not judged here.

use super::day::Reading;
use crate::schema::{Num, Unit, Units, schema};
use jiff::civil::Time;

/// How a reading is typed.
pub(super) const FORM: &str =
    "an air reading is like `84F 52% 29.42 station` (or `dew 60F`, `wet 66F`, `29.92 altimeter`)";

/// Words that name the number behind them.
pub(super) const NAMES: [&str; 9] = ["dew", "point", "wet", "bulb", "track", "surface", "head", "tail", "wind"];

/// A reading as it was typed. What a barometer number without its word is, only the elevation may tell.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct AirTyped {
    /// What can only be meant in one way.
    pub reading: Reading,
    /// A barometer number that was given without `station` or `altimeter`, inHg.
    pub barometer: Option<Num>,
}

/// Reads one line of air. The error says what is wrong and what would be right.
pub fn read_air(text: &str, at: Time) -> Result<AirTyped, String> {
    let units = &schema().units;
    let mut out = Reading { at, ..Reading::default() };
    let mut words = text.split([' ', ',']).filter(|w| !w.is_empty()).peekable();
    // A name in front of its number, and a pressure and its word, in either order.
    let mut name: Option<(&str, &str)> = None;
    let mut pressure: Option<Num> = None;
    let mut meaning: Option<String> = None;
    while let Some(word) = words.next() {
        let lower = word.to_lowercase();
        match lower.as_str() {
            "dew" => name = Some(("dew_point", "dew")),
            "wet" => name = Some(("wet_bulb", "wet")),
            "track" | "surface" => name = Some(("track_temp", "track")),
            "head" => name = Some(("head_wind", "head")),
            "tail" => name = Some(("head_wind", "tail")),
            "point" | "bulb" | "wind" | "rh" | "humidity" | "barometer" => {}
            "sun" | "cloud" | "shade" | "night" => out.sun = Some(lower),
            "station" | "altimeter" => match (pressure.take(), &meaning) {
                (Some(p), _) => put(&mut out, &format!("pressure_{lower}"), p)?,
                (None, None) => meaning = Some(lower),
                (None, Some(_)) => return Err(format!("`{word}` stands without its pressure; {FORM}")),
            },
            _ => {
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
                    put(&mut out, "head_wind", if way == "tail" { -wind } else { wind })?;
                } else if let Some(from) = units.meant(&unit, "degF").filter(|_| !unit.is_empty()) {
                    let value = stored(n, from).ok_or("a temperature beyond reason")?;
                    put(&mut out, named.map_or("temperature", |n| n.0), value)?;
                } else if let Some((_, said)) = named {
                    return Err(format!("`{said} {word}`: give its unit, F or C; {FORM}"));
                } else if unit == "%" {
                    put(&mut out, "humidity", n)?;
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
                        Some(meaning) => put(&mut out, &format!("pressure_{meaning}"), value)?,
                        None if pressure.is_some() => return Err(format!("two pressures without their words; {FORM}")),
                        None => pressure = Some(value),
                    }
                }
            }
        }
    }
    if let Some(word) = meaning.as_deref().or(name.map(|n| n.1)) {
        return Err(format!("`{word}` stands without its number; {FORM}"));
    }
    if out.numbers.is_empty() && pressure.is_none() {
        Err(format!("no number was given; {FORM}"))
    } else {
        Ok(AirTyped { reading: out, barometer: pressure })
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
    fn a_barometer_number_without_its_word() {
        let typed = read("84F 29.42").unwrap();
        assert_eq!((typed.barometer, typed.reading.numbers.len()), (Num::parse("29.42"), 1));
        let both = read("station 29.42 altimeter 30.08").unwrap();
        assert_eq!((both.barometer, both.reading.numbers.len()), (None, 2));
    }
}
