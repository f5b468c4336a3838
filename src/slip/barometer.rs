//! Whether a barometer number is the station pressure (absolute) or an altimeter setting (carried to sea level): taken where
//! it can only be one of them, never guessed. And what a reading cannot be.

use super::air::AirTyped;
use super::{Reading, reading_faults};
use crate::air::{self, Moisture, PA_PER_INHG, Refused};
use crate::schema::{Num, RunWords};

/// What a barometer number can be.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Barometer {
    /// Only the station pressure; or both are the same.
    Station,
    /// Only an altimeter setting.
    Altimeter,
    /// One as well as the other.
    Either,
    /// Neither.
    Neither,
}

/// Altimeter settings that are met, inHg (common practice, no source). Weather outside is rare enough to be asked about.
const MET_INHG: [f64; 2] = [28.0, 31.2];

/// Altimeter settings that are possible at all, inHg: a little beyond the records of sea-level pressure (common practice,
/// no source).
const POSSIBLE_INHG: [f64; 2] = [27.0, 31.5];

fn within(x: f64, [low, high]: [f64; 2]) -> bool {
    x >= low && x <= high
}

/// The altimeter setting of a station pressure at an elevation, both inHg.
fn setting_inhg(station_inhg: f64, elevation_ft: f64) -> f64 {
    air::altimeter_from_station_pa(station_inhg * PA_PER_INHG, elevation_ft) / PA_PER_INHG
}

/// The station pressure of an altimeter setting at an elevation, both inHg.
fn station_inhg(setting_inhg: f64, elevation_ft: f64) -> f64 {
    air::station_from_altimeter_pa(setting_inhg * PA_PER_INHG, elevation_ft) / PA_PER_INHG
}

/// What a number, inHg, can be at an elevation: each meaning is right where it comes to a setting that is met.
pub fn barometer_meant(inhg: f64, elevation_ft: Option<f64>) -> Barometer {
    let Some(feet) = elevation_ft else { return Barometer::Either };
    let station = within(setting_inhg(inhg, feet), MET_INHG);
    let altimeter = within(inhg, MET_INHG);
    match (station, altimeter) {
        (true, true) if feet == 0.0 => Barometer::Station,
        (true, true) => Barometer::Either,
        (true, false) => Barometer::Station,
        (false, true) => Barometer::Altimeter,
        (false, false) => Barometer::Neither,
    }
}

/// Why a reading was not taken.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum AirRefused {
    /// The barometer number could be either: who typed it must say.
    Ambiguous(String),
    /// The wind could be either: who typed it must say.
    Wind(String),
    /// It cannot be.
    Impossible(String),
}

impl AirRefused {
    /// The sentence.
    pub fn why(&self) -> &str {
        match self {
            AirRefused::Ambiguous(why) | AirRefused::Wind(why) | AirRefused::Impossible(why) => why,
        }
    }

    /// The words one of which would tell.
    pub fn words(&self) -> &'static [&'static str] {
        match self {
            AirRefused::Ambiguous(_) => &["station", "altimeter"],
            AirRefused::Wind(_) => &["head", "tail"],
            AirRefused::Impossible(_) => &[],
        }
    }
}

/// A reading as it is meant.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct AirMeant {
    /// The reading.
    pub reading: Reading,
    /// Why the barometer number is what it was taken for, where its word was not said.
    pub taken_as: Option<String>,
}

impl AirTyped {
    /// With the word for the barometer number, `station` or `altimeter`, or for the wind, `head` or `tail`.
    pub fn with_word(mut self, word: &str) -> AirTyped {
        let (name, n) = match word {
            "head" | "tail" => {
                let wind = self.wind.take();
                ("head_wind".to_owned(), wind.map(|n| if word == "tail" { -n } else { n }))
            }
            _ => (format!("pressure_{word}"), self.barometer.take()),
        };
        self.reading.numbers.extend(n.map(|n| (name, n)));
        self
    }

    /// The reading as it can only be meant at an elevation.
    pub fn meant(self, words: &RunWords, elevation_ft: Option<Num>) -> Result<AirMeant, AirRefused> {
        let feet = elevation_ft.map(Num::to_f64);
        let mut taken_as = None;
        let mut typed = self;
        if let Some(wind) = typed.wind {
            let why = format!("is the wind of {} mph `head` or `tail`? Say which", wind.show(0, 1));
            return Err(AirRefused::Wind(why));
        }
        if let Some(n) = typed.barometer {
            let (word, why) = taken(n, &typed.barometer_said, elevation_ft)?;
            taken_as = Some(why);
            typed = typed.with_word(word);
        }
        match air_faults(words, &typed.reading, feet).into_iter().next() {
            Some(fault) => Err(AirRefused::Impossible(fault)),
            None => Ok(AirMeant { reading: typed.reading, taken_as }),
        }
    }
}

/// What a number is taken for, and why.
fn taken(n: Num, said: &str, elevation_ft: Option<Num>) -> Result<(&'static str, String), AirRefused> {
    let Some(at) = elevation_ft else {
        return Err(AirRefused::Ambiguous(format!(
            "is {said} `station` (the pressure at the track, absolute) or `altimeter` (carried to sea level)? The track's \
             elevation is not on record, so it cannot be told; say which"
        )));
    };
    let inhg = n.to_f64();
    let (setting, station) = (setting_inhg(inhg, at.to_f64()), station_inhg(inhg, at.to_f64()));
    match barometer_meant(inhg, Some(at.to_f64())) {
        Barometer::Station if at == Num::ZERO => {
            Ok(("station", format!("{said}: at 0 ft station pressure and altimeter setting are the same")))
        }
        Barometer::Station => Ok((
            "station",
            format!(
                "{said} can only be station pressure at {at} ft (as such an altimeter setting of {setting:.2} inHg)"
            ),
        )),
        Barometer::Altimeter => Ok((
            "altimeter",
            format!(
                "{said} can only be an altimeter setting at {at} ft (as station pressure it would be a setting of \
                 {setting:.2} inHg)"
            ),
        )),
        Barometer::Either => Err(AirRefused::Ambiguous(format!(
            "is {said} `station` (at {at} ft then an altimeter setting of {setting:.2} inHg) or `altimeter` (then a \
             station pressure of {station:.2} inHg)? Both can be; say which"
        ))),
        Barometer::Neither => Err(AirRefused::Impossible(format!(
            "{said} is neither at {at} ft: as station pressure it would be an altimeter setting of {setting:.2}, and \
             settings lie between {:.1} and {:.1} inHg",
            MET_INHG[0], MET_INHG[1]
        ))),
    }
}

/// All that is impossible about a reading that is to be recorded: each number, the numbers together, and the barometer at
/// the elevation. What is on record already is only held to the range of each number ([`reading_faults`]).
pub fn air_faults(words: &RunWords, reading: &Reading, elevation_ft: Option<f64>) -> Vec<String> {
    let mut faults = reading_faults(words, reading);
    if !faults.is_empty() {
        return faults;
    }
    faults.extend(elevation_ft.and_then(|feet| wrong_word(reading, feet).or_else(|| two_pressures(reading, feet))));
    let number = |name: &str| reading.numbers.get(name).copied();
    if let Some(t) = number("temperature") {
        for (name, label) in [("dew_point", "dew point"), ("wet_bulb", "wet bulb")] {
            if let Some(water) = number(name).filter(|w| *w > t) {
                faults.push(format!(
                    "{label} {water} F is above the air temperature {t} F: up to the air temperature is possible"
                ));
            }
        }
        // Without a pressure, held to the lowest there is: it lets the driest wet bulb pass.
        let pressure = reading.station_pa(elevation_ft).unwrap_or(18.0 * PA_PER_INHG);
        if let Some(wet) = number("wet_bulb") {
            let moisture = Moisture::WetBulb(air::celsius(wet.to_f64()));
            let refused = air::moist(air::celsius(t.to_f64()), pressure, moisture).err();
            if refused == Some(Refused::TooDry) {
                let driest = air::fahrenheit(air::wet_bulb_c(air::celsius(t.to_f64()), 0.0, pressure));
                faults.push(format!(
                    "wet bulb {wet} F at {t} F: {}: {driest:.1} to {t} F is possible",
                    Refused::TooDry.words()
                ));
            }
        }
    }
    if faults.is_empty() {
        faults.extend(two_waters(reading, elevation_ft));
    }
    faults
}

/// Station pressure and altimeter setting of one reading may be this far apart at the elevation, inHg: both are read to the
/// hundredth, and instruments differ (common practice, no source).
const APART_INHG: f64 = 0.03;
/// The water of one reading, read in two ways, may be this far apart, points of relative humidity (common practice, no
/// source).
const APART_HUMIDITY: f64 = 0.05;

/// A station pressure and an altimeter setting that are not of one air.
fn two_pressures(reading: &Reading, feet: f64) -> Option<String> {
    let station = reading.numbers.get("pressure_station")?;
    let given = reading.numbers.get("pressure_altimeter")?;
    let setting = setting_inhg(station.to_f64(), feet);
    ((setting - given.to_f64()).abs() > APART_INHG).then(|| {
        format!(
            "station {} inHg at {feet} ft is an altimeter setting of {setting:.2} inHg, and {} is given: one of the two is \
             wrong",
            station.show(2, 3),
            given.show(2, 3)
        )
    })
}

/// Two readings of the water that are not of one air.
fn two_waters(reading: &Reading, elevation_ft: Option<f64>) -> Option<String> {
    let t = reading.temperature_c()?;
    // A wet bulb wants a pressure; without one, that of the standard atmosphere at the elevation, or at sea level.
    let standard = || air::station_from_altimeter_pa(29.92 * PA_PER_INHG, elevation_ft.unwrap_or(0.0));
    let pressure = reading.station_pa(elevation_ft).unwrap_or_else(standard);
    let percent = |m: Moisture| Some(air::moist(t, pressure, m).ok()?.relative_humidity());
    let number = |name: &str| reading.numbers.get(name).map(|n| (n.show(1, 2), n.to_f64()));
    let read: Vec<(String, f64)> = [
        number("dew_point")
            .and_then(|(s, n)| Some((format!("dew point {s} F"), percent(Moisture::DewPoint(air::celsius(n)))?))),
        number("humidity").map(|(_, n)| (format!("humidity {n} %"), n / 100.0)),
        number("wet_bulb")
            .and_then(|(s, n)| Some((format!("wet bulb {s} F"), percent(Moisture::WetBulb(air::celsius(n)))?))),
    ]
    .into_iter()
    .flatten()
    .collect();
    let pairs = read.iter().enumerate().flat_map(|(i, a)| read[i + 1..].iter().map(move |b| (a, b)));
    let apart = pairs.into_iter().find(|(a, b)| (a.1 - b.1).abs() > APART_HUMIDITY)?;
    let ((a, x), (b, y)) = apart;
    let of = |said: &str, h: &f64| match said.starts_with("humidity") {
        true => said.to_owned(),
        false => format!("{said} (a humidity of {:.0} %)", h * 100.0),
    };
    Some(format!("{} and {} are not of one air: one of the two is wrong", of(a, x), of(b, y)))
}

/// The word that was said, where the number cannot be that at the elevation.
fn wrong_word(reading: &Reading, feet: f64) -> Option<String> {
    let [low, high] = POSSIBLE_INHG;
    if let Some(n) = reading.numbers.get("pressure_station") {
        let setting = setting_inhg(n.to_f64(), feet);
        if !within(setting, POSSIBLE_INHG) {
            let other = within(n.to_f64(), MET_INHG);
            let ask = if other { ": is it the altimeter setting?" } else { "" };
            return Some(format!(
                "{} inHg as station pressure at {feet} ft would be an altimeter setting of {setting:.2}; {low:.1} to \
                 {high:.1} is possible{ask}",
                n.show(2, 3)
            ));
        }
    }
    let n = reading.numbers.get("pressure_altimeter")?;
    let station = station_inhg(n.to_f64(), feet);
    (!within(station, [18.0, 31.5])).then(|| {
        format!(
            "{} inHg as altimeter setting at {feet} ft would be a station pressure of {station:.2}; 18.0 to 31.5 is possible",
            n.show(2, 3)
        )
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::schema::schema;
    use crate::slip::read_air;
    use jiff::civil::Time;

    fn meant(text: &str, feet: Option<i32>) -> Result<AirMeant, AirRefused> {
        read_air(text, Time::midnight()).unwrap().meant(&schema().run, feet.map(Num::int))
    }

    fn impossible(text: &str, feet: Option<i32>, says: &[&str]) {
        let said = meant(text, feet);
        let Err(AirRefused::Impossible(why)) = &said else { panic!("{text}: {said:?}") };
        assert!(says.iter().all(|s| why.contains(s)), "{text}: {why}");
    }

    #[test]
    fn what_a_number_can_be() {
        for (inhg, feet, wanted) in [
            (29.92, Some(5355.0), Barometer::Altimeter),
            (24.60, Some(5355.0), Barometer::Station),
            (29.42, Some(612.0), Barometer::Either),
            (29.92, Some(0.0), Barometer::Station),
            (29.92, None, Barometer::Either),
            (22.0, Some(612.0), Barometer::Neither),
            (27.5, Some(1000.0), Barometer::Station),
            (31.0, Some(1000.0), Barometer::Altimeter),
        ] {
            assert_eq!(barometer_meant(inhg, feet), wanted, "{inhg} at {feet:?}");
        }
    }

    #[test]
    fn taken_where_it_can_only_be_one() {
        let high = meant("80F 29.92", Some(5355)).unwrap();
        assert!(high.reading.numbers.contains_key("pressure_altimeter"));
        assert!(high.taken_as.unwrap().contains("can only be an altimeter setting at 5355 ft"));
        let low = meant("80F 24.60", Some(5355)).unwrap();
        assert!(low.reading.numbers.contains_key("pressure_station"));
        assert!(meant("80F 29.92", Some(0)).unwrap().taken_as.unwrap().contains("the same"));
        assert_eq!(meant("80F 29.92 altimeter", Some(0)).unwrap().taken_as, None);
    }

    #[test]
    fn asked_where_it_could_be_either() {
        for (feet, says) in [(Some(612), "30.0"), (None, "elevation")] {
            let Err(AirRefused::Ambiguous(why)) = meant("80F 29.42", feet) else { panic!() };
            assert!(why.contains("`station`") && why.contains("`altimeter`") && why.contains(says), "{why}");
        }
        impossible("80F 22.00", Some(612), &["neither", "28.0 and 31.2"]);
    }

    #[test]
    fn the_wrong_word_is_refused_with_the_numbers() {
        impossible("80F 29.92 station", Some(5355), &["36.18", "is it the altimeter setting?"]);
        impossible("80F 24.00 station", Some(612), &["24.5"]);
        impossible("80F 29.92 altimeter", Some(14_900), &["16.", "18.0 to 31.5"]);
        assert!(meant("80F 29.92 station", None).is_ok(), "nothing to hold it to");
    }

    #[test]
    fn what_was_typed_is_quoted() {
        let Err(AirRefused::Ambiguous(why)) = meant("80F 1009 hPa", Some(612)) else { panic!() };
        assert!(why.contains("is 1009 hPa `station`") && why.contains("inHg"), "{why}");
        impossible("80F 745 hPa", Some(612), &["745 hPa is neither"]);
    }

    #[test]
    fn a_wind_is_asked_its_way() {
        let refused = meant("80F wind 5", None).unwrap_err();
        assert_eq!(refused.words(), ["head", "tail"]);
        assert!(refused.why().contains("5 mph `head` or `tail`?"), "{}", refused.why());
        let typed = read_air("80F wind 5", Time::midnight()).unwrap().with_word("tail");
        let meant = typed.meant(&schema().run, None).unwrap();
        assert_eq!(meant.reading.numbers["head_wind"], Num::int(-5));
    }

    #[test]
    fn numbers_that_contradict_each_other() {
        // 29.42 at 612 ft is a setting of 30.08.
        impossible("80F 29.42 station 29.95 altimeter", Some(612), &["29.42", "30.08", "29.95"]);
        assert!(meant("80F 29.42 station 30.06 altimeter", Some(612)).is_ok());
        assert!(meant("80F 29.42 station 29.95 altimeter", None).is_ok(), "nothing to hold them to");
        impossible("80F 50% dew 66F 29.42 station", None, &["humidity 50 %", "dew point 66.0 F", "62 %"]);
        assert!(meant("80F 60% dew 66F 29.42 station", None).is_ok());
        impossible("80F 50% wet 75F", None, &["humidity 50 %", "wet bulb 75.0 F"]);
        impossible("80F dew 50F wet 75F 29.42 station", None, &["dew point 50.0 F", "wet bulb 75.0 F"]);
    }

    #[test]
    fn what_a_reading_cannot_be() {
        impossible("-41F", None, &["-40"]);
        impossible("-41C", None, &["-40"]);
        impossible("80F 101%", None, &["0 to 100"]);
        impossible("80F 31.6 station", None, &["31.5"]);
        impossible("80F dew 81F", None, &["above the air temperature 80 F"]);
        impossible("80F wet 81F", None, &["above the air temperature 80 F"]);
        impossible("90F wet 40F 29.42 station", None, &["dry"]);
        impossible("90F wet 30F", None, &["dry"]);
        for right in ["-40F", "-40C", "80F 100% 31.5 station", "80F dew 80F", "80F wet 80F 29 station"] {
            assert!(meant(right, None).is_ok(), "{right}");
        }
    }
}
