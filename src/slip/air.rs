//! An air reading as it is typed: `84F 52% 29.42 station`. Kept as measured; what it means for the clock is not judged here.

use super::day::Reading;
use crate::schema::{Num, Units, schema};
use jiff::civil::Time;

/// Reads one line of air. The error says what is wrong and what would be right.
pub fn read_air(text: &str, at: Time) -> Result<Reading, String> {
    const FORM: &str = "an air reading is like `84F 52% 29.42 station` (or `dew 60F`, `wet 66F`, `29.92 altimeter`)";
    let units = &schema().units;
    let mut out = Reading { at, ..Reading::default() };
    let mut words = text.split([' ', ',']).filter(|w| !w.is_empty()).peekable();
    let mut name: Option<&str> = None;
    let mut pressure: Option<Num> = None;
    while let Some(word) = words.next() {
        let lower = word.to_lowercase();
        match lower.as_str() {
            "dew" => name = Some("dew_point"),
            "wet" => name = Some("wet_bulb"),
            "track" | "surface" => name = Some("track_temp"),
            "head" => name = Some("head_wind"),
            "tail" => name = Some("tail"),
            "point" | "bulb" | "wind" | "mph" => {}
            "sun" | "cloud" | "shade" | "night" => out.sun = Some(lower),
            "station" | "altimeter" => {
                let p = pressure.take().ok_or_else(|| format!("`{word}` stands without its pressure; {FORM}"))?;
                out.numbers.insert(format!("pressure_{lower}"), p);
            }
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
                let name_here = name.take();
                if let Some(t) = units.meant(&unit, "degF").filter(|_| !unit.is_empty()) {
                    let value = units.to_stored(n, t).ok_or("a temperature beyond reason")?;
                    out.numbers.insert(name_here.unwrap_or("temperature").to_owned(), value);
                } else if let Some(wind) = name_here.filter(|w| matches!(*w, "head_wind" | "tail")) {
                    out.numbers.insert("head_wind".to_owned(), if wind == "tail" { -n } else { n });
                } else if unit == "%" {
                    out.numbers.insert("humidity".to_owned(), n);
                } else {
                    let from = if unit.is_empty() { "inHg" } else { &unit };
                    let from = units
                        .meant(from, "inHg")
                        .ok_or_else(|| format!("`{word}`: `{unit}` is no unit of air; {FORM}"))?;
                    if from.symbol == "inHg" && (n < Num::int(18) || n > Num::int(32)) {
                        return Err(format!("`{word}` could be a temperature or a pressure: give its unit; {FORM}"));
                    }
                    pressure = units.to_stored(n, from);
                }
            }
        }
    }
    if pressure.is_some() {
        return Err(format!(
            "is the barometer number `station` (absolute) or `altimeter` (sea level)? Say which; {FORM}"
        ));
    }
    if out.numbers.is_empty() { Err(format!("no number was given; {FORM}")) } else { Ok(out) }
}

/// The unit a table header names, if it is one for `stored`.
pub fn header_unit<'a>(units: &'a Units, unit: &str, stored: &str) -> Option<&'a crate::schema::Unit> {
    units.meant(unit, stored)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn air_as_people_type_it() {
        let r = read_air("84F 52% 29.42 station", Time::midnight()).unwrap();
        assert_eq!(r.numbers["temperature"], Num::int(84));
        assert_eq!(r.numbers["humidity"], Num::int(52));
        assert_eq!(r.numbers["pressure_station"], Num::parse("29.42").unwrap());
        let r = read_air("29 C dew 18C 1013 hPa altimeter track 48C sun tail 4 mph", Time::midnight()).unwrap();
        assert_eq!(r.numbers["temperature"], Num::parse("84.2").unwrap());
        assert_eq!(r.numbers["pressure_altimeter"], Num::parse("29.9139").unwrap());
        assert_eq!(r.numbers["head_wind"], Num::int(-4));
        assert_eq!(r.sun.as_deref(), Some("sun"));
        for bad in ["84F 29.42", "hot", "84", "", "station"] {
            assert!(read_air(bad, Time::midnight()).is_err(), "{bad}");
        }
    }
}
