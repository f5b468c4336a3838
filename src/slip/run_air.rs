//! The air and the track at a run: what a day's readings say of a moment between them.

use super::{Day, Moment, Reading};
use crate::air::{self, Moist, Moisture, PA_PER_INHG};

/// The air a run was made in.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct RunAir {
    /// The air, in a straight line between the readings around the run.
    pub air: Moist,
    /// Minutes, begun ones counted whole, to the nearest reading it rests on: the worst of temperature, pressure and
    /// water. 0 = read at the run.
    pub minutes: u32,
}

/// The track at a run.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct TrackThen {
    /// Surface temperature, F.
    pub track_temp_f: Option<f64>,
    /// Head wind, mph; a tail wind is negative.
    pub head_wind_mph: Option<f64>,
    /// sun, cloud, shade or night, by the nearest reading that says so.
    pub sun: Option<String>,
}

/// One quantity of a day: what was read of it, in the order of time.
struct Track(Vec<(i64, f64)>);

impl Track {
    /// Readings of one second are taken as their mean: which of them was written first says nothing.
    fn new(mut points: Vec<(i64, f64)>) -> Track {
        points.sort_by(|a, b| a.0.cmp(&b.0).then(a.1.total_cmp(&b.1)));
        let same = points.chunk_by(|a, b| a.0 == b.0);
        Track(same.map(|s| (s[0].0, s.iter().map(|p| p.1).sum::<f64>() / s.len() as f64)).collect())
    }

    /// In a straight line between the readings around a second; before the first and behind the last the nearest holds.
    fn at(&self, second: i64) -> Option<f64> {
        let behind = self.0.partition_point(|p| p.0 < second);
        let (first, last) = (self.0.first()?, self.0.last()?);
        let (Some(before), Some(next)) = (behind.checked_sub(1).map(|i| self.0[i]), self.0.get(behind)) else {
            return Some(if behind == 0 { first.1 } else { last.1 });
        };
        if next.0 == second {
            return Some(next.1);
        }
        let share = (second - before.0) as f64 / (next.0 - before.0) as f64;
        Some(before.1 + (next.1 - before.1) * share)
    }

    /// Seconds to the nearest reading.
    fn away(&self, second: i64) -> Option<u64> {
        self.0.iter().map(|p| p.0.abs_diff(second)).min()
    }
}

impl Reading {
    /// A number by its name, as a float.
    fn get(&self, name: &str) -> Option<f64> {
        self.numbers.get(name).map(|n| n.to_f64())
    }

    /// Air temperature, C.
    pub fn temperature_c(&self) -> Option<f64> {
        self.get("temperature").map(air::celsius)
    }

    /// Station pressure, Pa: as read, or from the altimeter setting and the elevation.
    pub fn station_pa(&self, elevation_ft: Option<f64>) -> Option<f64> {
        let setting =
            || Some(air::station_from_altimeter_pa(self.get("pressure_altimeter")? * PA_PER_INHG, elevation_ft?));
        self.get("pressure_station").map(|p| p * PA_PER_INHG).or_else(setting)
    }

    /// The water in the air: of several readings of it the dew point, then the humidity, then the wet bulb.
    pub fn moisture(&self) -> Option<Moisture> {
        let dew = self.get("dew_point").map(|t| Moisture::DewPoint(air::celsius(t)));
        let humidity = || self.get("humidity").map(|h| Moisture::Relative(h / 100.0));
        let wet = || self.get("wet_bulb").map(|t| Moisture::WetBulb(air::celsius(t)));
        dew.or_else(humidity).or_else(wet)
    }
}

/// The air of a day by its readings, quantity by quantity.
pub struct DayAir {
    temperature: Track,
    pressure: Track,
    vapor: Track,
    share: Track,
}

impl DayAir {
    /// The air at a moment; `None` where the readings do not give temperature, pressure and water, or give what cannot be.
    pub fn at(&self, at: Moment) -> Option<RunAir> {
        let s = at.seconds;
        let away = self.temperature.away(s)?.max(self.pressure.away(s)?).max(self.vapor.away(s)?);
        // What it is at most: saturated air of that moment. Water read in warmer air cannot all be in colder air.
        let full = air::moist(self.temperature.at(s)?, self.pressure.at(s)?, Moisture::Relative(1.0)).ok()?;
        let (vapor_pa, vapor_share) = (self.vapor.at(s)?, self.share.at(s)?);
        if vapor_pa.is_nan() {
            return None;
        }
        let air =
            Moist { vapor_pa: vapor_pa.min(full.vapor_pa), vapor_share: vapor_share.min(full.vapor_share), ..full };
        Some(RunAir { air, minutes: u32::try_from(away.div_ceil(60)).unwrap_or(u32::MAX) })
    }
}

impl Day {
    /// The air at a moment, by the day's readings; `None` where they do not give temperature, pressure and water, or give
    /// what cannot be.
    pub fn air_at(&self, at: Moment) -> Option<RunAir> {
        self.air().at(at)
    }

    /// The air of the day.
    pub fn air(&self) -> DayAir {
        let elevation = self.elevation_ft.map(|e| e.to_f64());
        let temperature = self.track_of(|r| r.temperature_c());
        let pressure = self.track_of(|r| r.station_pa(elevation));
        let (mut vapor, mut share) = (Vec::new(), Vec::new());
        for (second, reading) in self.timed() {
            let (Some(moisture), Some(pa)) = (reading.moisture(), pressure.at(second)) else { continue };
            let of_then = match moisture {
                // A dew point says all of it, a wet bulb nothing without its own dry bulb.
                Moisture::DewPoint(dew) => reading.temperature_c().or(Some(dew)),
                Moisture::WetBulb(_) => reading.temperature_c(),
                Moisture::Relative(_) => reading.temperature_c().or_else(|| temperature.at(second)),
            };
            let Some(t) = of_then else { continue };
            let air = air::moist(t, pa, moisture).ok();
            vapor.push((second, air.map_or(f64::NAN, |a| a.vapor_pa)));
            share.push((second, air.map_or(f64::NAN, |a| a.vapor_share)));
        }
        DayAir { temperature, pressure, vapor: Track::new(vapor), share: Track::new(share) }
    }

    /// The track at a moment, by the day's readings.
    pub fn track_at(&self, at: Moment) -> TrackThen {
        let said = self.timed().filter_map(|(s, r)| Some((s.abs_diff(at.seconds), s, r.sun.as_ref()?)));
        TrackThen {
            track_temp_f: self.track_of(|r| r.get("track_temp")).at(at.seconds),
            head_wind_mph: self.track_of(|r| r.get("head_wind")).at(at.seconds),
            sun: said.min().map(|(_, _, sun)| sun.clone()),
        }
    }

    /// When a reading was taken; those of 00:00 to 05:59 on the morning after.
    pub fn read_at(&self, reading: &Reading) -> Option<Moment> {
        Moment::on_race_day(self.date, reading.at, self.offset_seconds)
    }

    fn timed(&self) -> impl Iterator<Item = (i64, &Reading)> {
        self.readings.iter().filter_map(|r| Some((self.read_at(r)?.seconds, r)))
    }

    fn track_of(&self, what: impl Fn(&Reading) -> Option<f64>) -> Track {
        Track::new(self.timed().filter_map(|(s, r)| Some((s, what(r)?))).collect())
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::schema::{Num, schema};
    use crate::slip::{read_air, read_day_text};
    use jiff::civil::{Time, date};
    use proptest::prelude::*;

    fn day(elevation: Option<i32>, readings: &[(&str, &str)]) -> Day {
        let head = "format = 1\ndate = 2026-08-22\ntrack = \"Osier Flats\"\nfinish = 1320\nutc_offset = \"-05:00\"\n";
        let mut day = read_day_text(&schema().run, head).unwrap();
        day.elevation_ft = elevation.map(Num::int);
        let read = |(at, text): &(&str, &str)| read_air(text, at.parse().unwrap()).unwrap().reading;
        day.readings = readings.iter().map(read).collect();
        day
    }

    fn at(hour: i8, minute: i8) -> Moment {
        Moment::on_race_day(date(2026, 8, 22), Time::constant(hour, minute, 0, 0), -18_000).unwrap()
    }

    fn close(a: f64, b: f64) {
        assert!((a - b).abs() <= 1e-9 * b.abs().max(1.0), "{a} is not {b}");
    }

    #[test]
    fn in_a_straight_line_between_two_readings() {
        let day = day(None, &[("10:00", "70F dew 50F 29.40 station"), ("12:00", "90F dew 54F 29.30 station")]);
        let (a, b) = (day.air_at(at(10, 0)).unwrap(), day.air_at(at(12, 0)).unwrap());
        assert_eq!((a.minutes, b.minutes), (0, 0));
        let run = day.air_at(at(10, 30)).unwrap();
        let quarter = |x: f64, y: f64| x + (y - x) * 0.25;
        assert_eq!(run.minutes, 30);
        assert!((run.air.temperature_c - quarter(a.air.temperature_c, b.air.temperature_c)).abs() < 1e-12);
        assert!((run.air.pressure_pa - quarter(a.air.pressure_pa, b.air.pressure_pa)).abs() < 1e-6);
        assert!((run.air.vapor_pa - quarter(a.air.vapor_pa, b.air.vapor_pa)).abs() < 1e-6);
        close(run.air.temperature_c, air::celsius(75.0));
        close(run.air.pressure_pa, 29.375 * PA_PER_INHG);
        // Before the first and behind the last.
        assert_eq!((day.air_at(at(8, 0)).unwrap().air, day.air_at(at(8, 0)).unwrap().minutes), (a.air, 120));
        assert_eq!((day.air_at(at(1, 0)).unwrap().air, day.air_at(at(1, 0)).unwrap().minutes), (b.air, 13 * 60));
    }

    #[test]
    fn each_quantity_from_the_readings_that_have_it() {
        let day = day(
            Some(640),
            &[("09:00", "29.92 altimeter"), ("10:00", "70F 60%"), ("11:00", "track 118F sun"), ("12:00", "80F 40%")],
        );
        let run = day.air_at(at(11, 0)).unwrap();
        assert_eq!(run.minutes, 120, "the barometer is two hours old");
        close(run.air.pressure_pa, air::station_from_altimeter_pa(29.92 * PA_PER_INHG, 640.0));
        close(run.air.temperature_c, air::celsius(75.0));
        let vapor = |f, h| h * air::magnus_saturation_pa(air::celsius(f));
        close(run.air.vapor_pa, (vapor(70.0, 0.6) + vapor(80.0, 0.4)) / 2.0);
        let lost = Day { elevation_ft: None, ..day };
        assert_eq!(lost.air_at(at(11, 0)), None, "a setting is no pressure without the elevation");
    }

    #[test]
    fn after_midnight_is_the_morning_after() {
        let day = day(None, &[("00:30", "60F 80% 29.30 station"), ("22:30", "70F 60% 29.40 station")]);
        let run = day.air_at(at(23, 30)).unwrap();
        assert_eq!(run.minutes, 60);
        close(run.air.temperature_c, air::celsius(65.0));
    }

    #[test]
    fn which_water_counts() {
        let of = |text: &str| day(None, &[("10:00", text)]).air_at(at(10, 0)).map(|r| r.air.vapor_pa);
        let dew = of("80F dew 60F 29 station");
        assert_eq!(of("80F dew 60F 10% wet 61F 29 station"), dew);
        assert_eq!(of("80F 30% wet 61F 29 station"), of("80F 30% 29 station"));
        close(
            of("80F wet 66F 29 station").unwrap(),
            air::wet_bulb_vapor_pa(air::celsius(80.0), air::celsius(66.0), 29.0 * PA_PER_INHG),
        );
        // A wet bulb without its dry bulb says nothing; a dew point alone all of it.
        let apart = |wet| day(None, &[("10:00", "80F 29 station"), ("10:20", wet)]).air_at(at(10, 0));
        assert_eq!(apart("wet 66F"), None);
        assert_eq!(apart("dew 60F").map(|r| (Some(r.air.vapor_pa), r.minutes)), Some((dew, 20)));
    }

    #[test]
    fn what_cannot_be_is_no_air() {
        for text in ["60F dew 70F 29 station", "90F wet 20F 29 station", "80F 29 station", "80F 50%", "50% 29 station"]
        {
            assert_eq!(day(None, &[("10:00", text)]).air_at(at(10, 0)), None, "{text}");
        }
        assert_eq!(day(None, &[]).air_at(at(10, 0)), None);
        // Fog at both ends: no more water than the air between them holds.
        let fog = day(None, &[("10:00", "50F 100% 29 station"), ("12:00", "90F 100% 29 station")]);
        close(fog.air_at(at(11, 0)).unwrap().air.relative_humidity(), 1.0);
    }

    #[test]
    fn the_track_then() {
        let day = day(
            None,
            &[("10:00", "track 100F head 4 mph sun"), ("12:00", "track 120F tail 2 mph"), ("13:00", "cloud 80F")],
        );
        let wanted = TrackThen { track_temp_f: Some(115.0), head_wind_mph: Some(-0.5), sun: Some("sun".to_owned()) };
        assert_eq!(day.track_at(at(11, 30)), TrackThen { sun: Some("sun".to_owned()), ..wanted.clone() });
        assert_eq!(day.track_at(at(11, 31)).sun.as_deref(), Some("cloud"));
        assert_eq!(super::super::Day { readings: Vec::new(), ..day }.track_at(at(11, 0)), TrackThen::default());
    }

    /// What an instrument may show: tenths of F, whole percent, hundredths of inHg.
    fn shown() -> impl Strategy<Value = (u32, Reading)> {
        (0u32..20 * 60, 320i64..1100, 5i32..100, 2450i64..3050).prop_map(|(minute, t, h, p)| {
            let at = Time::constant(((minute / 60 + 6) % 24) as i8, (minute % 60) as i8, 0, 0);
            let mut reading = Reading { at, ..Reading::default() };
            reading.numbers.insert("temperature".to_owned(), Num::from_micros(t * 100_000));
            reading.numbers.insert("humidity".to_owned(), Num::int(h));
            reading.numbers.insert("pressure_station".to_owned(), Num::from_micros(p * 10_000));
            (minute, reading)
        })
    }

    proptest! {
        #[test]
        fn density_lies_between_its_neighbours(a in shown(), b in shown(), share in 0.0f64..1.0) {
            let mut day = day(None, &[]);
            day.readings = vec![a.1, b.1];
            let moment = |m: f64| at(6, 0).plus((m * 60.0) as i64);
            let [ra, rb] = [a.0, b.0].map(|m| day.air_at(moment(m.into())).unwrap());
            let run = day.air_at(moment(f64::from(a.0) + (f64::from(b.0) - f64::from(a.0)) * share)).unwrap();
            let (low, high) = (ra.air.density_kg_m3(), rb.air.density_kg_m3());
            let (low, high) = (low.min(high), low.max(high));
            // Pressure over temperature bends between two airs of one density, by a quarter of one's change times the
            // other's at the middle; the cap of fog adds to it.
            let apart = |of: fn(&air::Moist) -> f64| (of(&ra.air) / of(&rb.air)).ln().abs();
            let bend = apart(|m| m.pressure_pa) * apart(|m| m.temperature_c + 273.15) / 4.0;
            let hair = 2e-3 + bend;
            let rho = run.air.density_kg_m3();
            prop_assert!(rho >= low * (1.0 - hair) && rho <= high * (1.0 + hair), "{low} {rho} {high}");
            prop_assert!(run.air.relative_humidity() <= 1.0 + 1e-12);
        }

        #[test]
        fn the_order_of_readings_does_not_matter(
            readings in prop::collection::vec(shown(), 1..6), turn in 0usize..6, minute in 0i64..1200,
        ) {
            let mut day = day(Some(640), &[]);
            day.readings = readings.into_iter().map(|r| r.1).collect();
            let mut other = day.clone();
            let n = other.readings.len();
            other.readings.rotate_left(turn % n);
            other.readings.reverse();
            let at = at(6, 0).plus(minute * 60);
            prop_assert_eq!(day.air_at(at), other.air_at(at));
            prop_assert_eq!(day.track_at(at), other.track_at(at));
        }
    }
}
