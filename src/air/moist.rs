//! Air from a usable set of readings.

use super::{
    cipm_density_kg_m3, correction_dry, correction_j1349, density_altitude_ft, dew_point_c, ideal_density_kg_m3,
    magnus_saturation_pa, pressure_altitude_ft, vapor_share, wet_bulb_vapor_pa,
};

/// How the water in the air was read.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Moisture {
    /// Relative humidity over water, 0 to 1.
    Relative(f64),
    /// Dew point over water, C.
    DewPoint(f64),
    /// Wet bulb of a ventilated psychrometer, C.
    WetBulb(f64),
}

/// What air cannot be.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Refused {
    /// Outside -40 to 60 C.
    Temperature,
    /// Outside 610 to 1067 hPa (18.0 to 31.5 inHg).
    Pressure,
    /// Relative humidity outside 0 to 1.
    Humidity,
    /// A dew point or wet bulb above the temperature, or out of range.
    AboveTemperature,
    /// A wet bulb lower than even dry air takes it.
    TooDry,
}

impl Refused {
    /// What would be right, in the trade's units.
    pub fn words(self) -> &'static str {
        match self {
            Refused::Temperature => "air temperature: -40 to 140 F (-40 to 60 C) is possible",
            Refused::Pressure => "station pressure: 18.0 to 31.5 inHg (610 to 1067 hPa) is possible",
            Refused::Humidity => "relative humidity: 0 to 100 % is possible",
            Refused::AboveTemperature => "dew point and wet bulb: -76 F (-60 C) up to the air temperature is possible",
            Refused::TooDry => "the wet bulb is lower than perfectly dry air would take it",
        }
    }
}

/// Moist air.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Moist {
    /// Air temperature, C.
    pub temperature_c: f64,
    /// Station pressure, Pa.
    pub pressure_pa: f64,
    /// Vapor pressure as weather stations reckon it (WMO-No. 8), Pa.
    pub vapor_pa: f64,
    /// Mole fraction of water vapor (CIPM-2007).
    pub vapor_share: f64,
}

/// Air from temperature, station pressure and one reading of its water.
pub fn moist(temperature_c: f64, pressure_pa: f64, moisture: Moisture) -> Result<Moist, Refused> {
    let within = |x: f64, low: f64, high: f64| x >= low && x <= high;
    if !within(temperature_c, -40.0, 60.0) {
        return Err(Refused::Temperature);
    }
    if !within(pressure_pa, 60_954.0, 106_672.0) {
        return Err(Refused::Pressure);
    }
    let (vapor_pa, vapor_share) = match moisture {
        Moisture::Relative(h) if !within(h, 0.0, 1.0) => return Err(Refused::Humidity),
        Moisture::Relative(h) => (h * magnus_saturation_pa(temperature_c), h * vapor_share(pressure_pa, temperature_c)),
        Moisture::DewPoint(t) | Moisture::WetBulb(t) if !within(t, -60.0, temperature_c) => {
            return Err(Refused::AboveTemperature);
        }
        Moisture::DewPoint(t) => (magnus_saturation_pa(t), vapor_share(pressure_pa, t)),
        Moisture::WetBulb(t) => {
            let vapor = wet_bulb_vapor_pa(temperature_c, t, pressure_pa);
            if vapor < 0.0 {
                return Err(Refused::TooDry);
            }
            (vapor, dew_point_c(vapor).map_or(0.0, |dew| vapor_share(pressure_pa, dew)))
        }
    };
    Ok(Moist { temperature_c, pressure_pa, vapor_pa, vapor_share })
}

impl Moist {
    /// Density, kg/m3 (CIPM-2007).
    pub fn density_kg_m3(&self) -> f64 {
        cipm_density_kg_m3(self.temperature_c, self.pressure_pa, self.vapor_share)
    }

    /// Dew point over water, C; perfectly dry air has none.
    pub fn dew_point_c(&self) -> Option<f64> {
        dew_point_c(self.vapor_pa)
    }

    /// Wet bulb of a ventilated psychrometer, C.
    pub fn wet_bulb_c(&self) -> f64 {
        super::wet_bulb_c(self.temperature_c, self.vapor_pa, self.pressure_pa)
    }

    /// Relative humidity over water, 0 to 1.
    pub fn relative_humidity(&self) -> f64 {
        self.vapor_pa / magnus_saturation_pa(self.temperature_c)
    }

    /// Pressure of the dry part, Pa.
    pub fn dry_pa(&self) -> f64 {
        self.pressure_pa - self.vapor_pa
    }

    /// Density altitude, ft: where the standard atmosphere is as thin (exact form, ideal-gas density).
    pub fn density_altitude_ft(&self) -> f64 {
        density_altitude_ft(ideal_density_kg_m3(self.temperature_c, self.pressure_pa, self.vapor_pa))
    }

    /// Pressure altitude, ft: where the standard atmosphere has this pressure, by the form flyers print.
    pub fn pressure_altitude_ft(&self) -> f64 {
        pressure_altitude_ft(self.pressure_pa)
    }

    /// Water, grains to a pound of dry air: 7000 W, `W = 0.621945 x/(1-x)` (ASHRAE Handbook Fundamentals 2017, chapter 1).
    pub fn water_grains_per_lb(&self) -> f64 {
        7_000.0 * 0.621_945 * self.vapor_share / (1.0 - self.vapor_share)
    }

    /// Power correction in the form of SAE J1349.
    pub fn correction_j1349(&self) -> f64 {
        correction_j1349(self.temperature_c, self.dry_pa())
    }

    /// Power correction in the older dry form, SAE J607.
    pub fn correction_dry(&self) -> f64 {
        correction_dry(self.temperature_c, self.dry_pa())
    }
}
