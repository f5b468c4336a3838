//! A reading in words.

use super::Reading;
use crate::schema::{Num, RunNumber, RunWords};

/// One number in its unit: `84.0 F`, `52 %`, `29.42 inHg`.
fn amount(def: &RunNumber, n: Num) -> String {
    format!("{} {}", n.show(def.decimals, 3), def.unit.trim_start_matches("deg"))
}

/// One number with its name, as one would say it; a tail wind is no negative head wind.
fn one(def: &RunNumber, n: Num, name: &str) -> String {
    match def.name.as_str() {
        "head_wind" if n < Num::ZERO => format!("tail wind {}", amount(def, -n)),
        "head_wind" => format!("head wind {}", amount(def, n)),
        _ if name.is_empty() => amount(def, n),
        _ => format!("{name} {}", amount(def, n)),
    }
}

fn each<'a>(words: &'a RunWords, reading: &'a Reading) -> impl Iterator<Item = (&'a RunNumber, Num)> {
    words.reading.iter().filter_map(|def| Some((def, *reading.numbers.get(&def.name)?)))
}

/// `air temperature 84.0 F, relative humidity 52 %, sun`.
pub fn reading_words(words: &RunWords, reading: &Reading) -> String {
    let label = |def: &RunNumber| def.label.split(',').next().unwrap_or_default().trim().to_owned();
    let numbers = each(words, reading).map(|(def, n)| one(def, n, &label(def)));
    numbers.chain(reading.sun.clone()).collect::<Vec<_>>().join(", ")
}

/// The same as short as it can be understood, the air and the track apart: `84.0 F`, `52 %`, `29.42 inHg station`; `track
/// 118 F`, `sun`.
pub fn numbers_words(words: &RunWords, reading: &Reading) -> (Vec<String>, Vec<String>) {
    let (mut air, mut track) = (Vec::new(), Vec::new());
    for (def, n) in each(words, reading) {
        match def.name.as_str() {
            "track_temp" => track.push(one(def, n, "track")),
            "head_wind" => track.push(one(def, n, "")),
            "dew_point" => air.push(one(def, n, "dew")),
            "wet_bulb" => air.push(one(def, n, "wet")),
            "pressure_station" => air.push(format!("{} station", amount(def, n))),
            "pressure_altimeter" => air.push(format!("{} altimeter", amount(def, n))),
            _ => air.push(one(def, n, "")),
        }
    }
    track.extend(reading.sun.clone());
    (air, track)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::schema::schema;
    use crate::slip::read_air;
    use jiff::civil::Time;

    #[test]
    fn as_one_would_say_it() {
        let words = |text: &str| {
            let reading = read_air(text, Time::midnight()).unwrap().reading;
            (reading_words(&schema().run, &reading), numbers_words(&schema().run, &reading))
        };
        let (long, (air, track)) = words("84F 52% 29.42 station track 118F sun tail 4 mph");
        assert_eq!(
            long,
            "air temperature 84.0 F, relative humidity 52 %, barometer at the track (station) 29.42 inHg, track surface \
             temperature 118 F, tail wind 4 mph, sun"
        );
        assert_eq!(air, ["84.0 F", "52 %", "29.42 inHg station"]);
        assert_eq!(track, ["track 118 F", "tail wind 4 mph", "sun"]);
        assert_eq!(words("dew 64F head 5 mph").1, (vec!["dew 64.0 F".to_owned()], vec!["head wind 5 mph".to_owned()]));
    }
}
