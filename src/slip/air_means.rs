//! What one reading says of the air: all of it where it is whole, and as much as can be where something is missing.

use super::{Day, Reading};
use crate::air::{self, Moist, Moisture, PA_PER_INHG, Refused};

/// What is known of air.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct AirMeans {
    /// The air, where temperature, pressure and water are known.
    pub air: Option<Moist>,
    /// Air temperature, C.
    pub temperature_c: Option<f64>,
    /// Station pressure, Pa.
    pub station_pa: Option<f64>,
    /// Altimeter setting, Pa: as read, or from the station pressure and the elevation.
    pub setting_pa: Option<f64>,
    /// Vapor pressure, Pa.
    pub vapor_pa: Option<f64>,
    /// Dew point over water, C.
    pub dew_point_c: Option<f64>,
    /// Wet bulb, C.
    pub wet_bulb_c: Option<f64>,
    /// Relative humidity over water, 0 to 1.
    pub relative_humidity: Option<f64>,
    /// Where the standard atmosphere has this pressure, ft.
    pub pressure_altitude_ft: Option<f64>,
    /// The names of the numbers it rests on, `elevation` among them where a setting was carried by it.
    pub inputs: Vec<&'static str>,
    /// What would have to be read for the rest: `temperature`, `pressure` (or `elevation`, where a setting is there
    /// without it), `water`.
    pub missing: Vec<&'static str>,
}

impl Reading {
    fn has(&self, name: &str) -> bool {
        self.numbers.contains_key(name)
    }

    /// Whether anything of the air was read, not of the track alone.
    pub fn is_of_air(&self) -> bool {
        let pressure = self.has("pressure_station") || self.has("pressure_altimeter");
        self.has("temperature") || pressure || self.moisture().is_some()
    }

    /// The names of the numbers it gives of air, as they are used: one pressure, one reading of the water.
    pub fn inputs(&self) -> Vec<&'static str> {
        let pressure: &[&'static str] = match (self.has("pressure_station"), self.has("pressure_altimeter")) {
            (true, _) => &["pressure_station"],
            (false, true) => &["pressure_altimeter", "elevation"],
            _ => &[],
        };
        let water = self.moisture().map(|m| match m {
            Moisture::DewPoint(_) => "dew_point",
            Moisture::Relative(_) => "humidity",
            Moisture::WetBulb(_) => "wet_bulb",
        });
        self.has("temperature")
            .then_some("temperature")
            .into_iter()
            .chain(pressure.iter().copied())
            .chain(water)
            .collect()
    }

    /// Of what was read in two ways, which is used and which is not: the dew point before the humidity before the wet bulb,
    /// the station pressure before the altimeter setting.
    pub fn unused(&self) -> Vec<(&'static str, &'static str)> {
        let pick = |names: &[&'static str]| -> Vec<(&'static str, &'static str)> {
            let there: Vec<&'static str> = names.iter().copied().filter(|n| self.has(n)).collect();
            there.split_first().map(|(used, rest)| rest.iter().map(|r| (*used, *r)).collect()).unwrap_or_default()
        };
        [pick(&["pressure_station", "pressure_altimeter"]), pick(&["dew_point", "humidity", "wet_bulb"])].concat()
    }

    /// What it says of the air at an elevation; refused where it cannot be.
    pub fn means(&self, elevation_ft: Option<f64>) -> Result<AirMeans, Refused> {
        let (temperature_c, station_pa, moisture) =
            (self.temperature_c(), self.station_pa(elevation_ft), self.moisture());
        let mut inputs = self.inputs();
        inputs.retain(|name| *name != "elevation" || elevation_ft.is_some());
        if let (Some(t), Some(p), Some(moisture)) = (temperature_c, station_pa, moisture) {
            return Ok(AirMeans { inputs, ..AirMeans::of(air::moist(t, p, moisture)?, elevation_ft) });
        }
        let relative_humidity = match moisture {
            Some(Moisture::Relative(h)) => Some(h),
            Some(Moisture::DewPoint(dew)) => {
                temperature_c.map(|t| air::magnus_saturation_pa(dew) / air::magnus_saturation_pa(t))
            }
            _ => None,
        };
        let vapor_pa = match moisture {
            Some(Moisture::DewPoint(dew)) => Some(air::magnus_saturation_pa(dew)),
            Some(Moisture::Relative(h)) => temperature_c.map(|t| h * air::magnus_saturation_pa(t)),
            _ => None,
        };
        let setting = self.numbers.get("pressure_altimeter").map(|n| n.to_f64() * PA_PER_INHG);
        let mut missing = Vec::new();
        missing.extend(temperature_c.is_none().then_some("temperature"));
        missing.extend(station_pa.is_none().then_some(if setting.is_some() { "elevation" } else { "pressure" }));
        missing.extend(moisture.is_none().then_some("water"));
        Ok(AirMeans {
            air: None,
            temperature_c,
            station_pa,
            setting_pa: setting.or_else(|| Some(air::altimeter_from_station_pa(station_pa?, elevation_ft?))),
            vapor_pa,
            dew_point_c: vapor_pa.and_then(air::dew_point_c),
            wet_bulb_c: self.numbers.get("wet_bulb").map(|n| air::celsius(n.to_f64())),
            relative_humidity,
            pressure_altitude_ft: station_pa.map(air::pressure_altitude_ft),
            inputs,
            missing,
        })
    }
}

impl AirMeans {
    /// All of known air, at an elevation.
    pub fn of(air: Moist, elevation_ft: Option<f64>) -> AirMeans {
        AirMeans {
            air: Some(air),
            temperature_c: Some(air.temperature_c),
            station_pa: Some(air.pressure_pa),
            setting_pa: elevation_ft.map(|feet| air::altimeter_from_station_pa(air.pressure_pa, feet)),
            vapor_pa: Some(air.vapor_pa),
            dew_point_c: air.dew_point_c(),
            wet_bulb_c: Some(air.wet_bulb_c()),
            relative_humidity: Some(air.relative_humidity()),
            pressure_altitude_ft: Some(air.pressure_altitude_ft()),
            inputs: Vec::new(),
            missing: Vec::new(),
        }
    }

    /// All of the air between a day's readings.
    pub fn of_day(air: Moist, day: &Day) -> AirMeans {
        let order =
            ["temperature", "pressure_station", "pressure_altimeter", "elevation", "dew_point", "humidity", "wet_bulb"];
        let used: Vec<&str> = day.readings.iter().flat_map(Reading::inputs).collect();
        let inputs = order.into_iter().filter(|name| used.contains(name)).collect();
        AirMeans { inputs, ..AirMeans::of(air, day.elevation_ft.map(|e| e.to_f64())) }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::slip::read_air;
    use jiff::civil::Time;

    fn means(text: &str, feet: Option<f64>) -> AirMeans {
        read_air(text, Time::midnight()).unwrap().reading.means(feet).unwrap()
    }

    #[test]
    fn a_whole_reading() {
        let means = means("84F 52% 29.42 station", Some(612.0));
        let air = air::moist(air::celsius(84.0), 29.42 * PA_PER_INHG, Moisture::Relative(0.52)).unwrap();
        assert_eq!((means.air, means.missing.as_slice()), (Some(air), &[][..]));
        assert_eq!(means.inputs, ["temperature", "pressure_station", "humidity"]);
        assert_eq!(means.dew_point_c, air.dew_point_c());
        let setting = air::altimeter_from_station_pa(air.pressure_pa, 612.0);
        assert_eq!(means.setting_pa, Some(setting));
    }

    #[test]
    fn as_much_as_a_part_says() {
        let hot = means("84F", Some(612.0));
        assert_eq!((hot.air, hot.missing.as_slice()), (None, &["pressure", "water"][..]));
        assert!((hot.temperature_c.unwrap() - air::celsius(84.0)).abs() < 1e-12);
        let setting = means("84F 52% 30.05 altimeter", None);
        assert_eq!((setting.station_pa, setting.missing.as_slice()), (None, &["elevation"][..]));
        assert_eq!(setting.inputs, ["temperature", "pressure_altimeter", "humidity"]);
        let known = means("84F 52% 30.05 altimeter", Some(612.0));
        assert_eq!(known.inputs, ["temperature", "pressure_altimeter", "elevation", "humidity"]);
        assert!(known.air.is_some());
        // Water without the pressure.
        let (dew, humid) = (means("84F dew 64F", None), means("84F 52%", None));
        assert!((dew.relative_humidity.unwrap() - 0.51).abs() < 0.01 && humid.dew_point_c.is_some());
        let wet = means("84F wet 70F", None);
        assert_eq!((wet.vapor_pa, wet.wet_bulb_c.is_some(), wet.missing.as_slice()), (None, true, &["pressure"][..]));
        let track = read_air("track 118F", Time::midnight()).unwrap().reading;
        assert!(!track.is_of_air() && dew.inputs == ["temperature", "dew_point"]);
    }

    #[test]
    fn what_is_used_of_two() {
        let reading = read_air("84F 52% dew 65F 29.42 station 30.08 altimeter", Time::midnight()).unwrap().reading;
        let wanted = [("pressure_station", "pressure_altimeter"), ("dew_point", "humidity")];
        assert_eq!(reading.unused(), wanted);
        assert!(read_air("84F 52% 29.42 station", Time::midnight()).unwrap().reading.unused().is_empty());
    }

    #[test]
    fn what_cannot_be_is_refused() {
        let reading = read_air("60F dew 70F 29 station", Time::midnight()).unwrap().reading;
        assert_eq!(reading.means(None), Err(Refused::AboveTemperature));
    }
}
