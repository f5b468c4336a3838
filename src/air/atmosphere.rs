//! The standard atmosphere (ISO 2533:1975, ICAO Doc 7488): heights, pressures, and what a barometer number means.

/// Pascals in an inch of mercury: the conventional inch, 13 595.1 kg/m3 at 9.80665 m/s2 (NIST SP 811, B.8).
pub const PA_PER_INHG: f64 = 3_386.388_640_341;
/// Meters in a foot (exact).
const M_PER_FT: f64 = 0.304_8;
/// Sea level of the standard atmosphere: K, Pa, kg/m3.
const T0_K: f64 = 288.15;
pub(super) const P0_PA: f64 = 101_325.0;
/// Lapse rate, K/m.
const LAPSE: f64 = 0.006_5;
/// Standard gravity, m/s2, and the specific gas constant of dry air, J/(kg K), of the standard atmosphere.
const G0: f64 = 9.806_65;
pub(super) const R_DRY: f64 = 287.052_87;

/// g0/(R L) = 5.25588: pressure follows temperature to this power.
fn power() -> f64 {
    G0 / (R_DRY * LAPSE)
}

/// The standard atmosphere at a geopotential height.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Isa {
    /// K.
    pub temperature_k: f64,
    /// Pa.
    pub pressure_pa: f64,
    /// kg/m3.
    pub density_kg_m3: f64,
}

/// The standard atmosphere at `height_ft`, geopotential feet, in its lowest layer (to 36,089 ft).
pub fn isa(height_ft: f64) -> Isa {
    let t = T0_K - LAPSE * height_ft * M_PER_FT;
    let p = P0_PA * (t / T0_K).powf(power());
    Isa { temperature_k: t, pressure_pa: p, density_kg_m3: p / (R_DRY * t) }
}

/// Radius of the earth in the standard atmosphere, ft: 6356.766 km (ISO 2533:1975).
const EARTH_FT: f64 = 6_356_766.0 / M_PER_FT;

/// Geopotential height, ft, of a height by the tape: gravity weakens upward, so it is the smaller (5 ft at 10 000 ft).
/// Elevations of tracks are taken for geopotential: the difference is below 2 ft to 6000 ft.
pub fn geopotential_ft(height_ft: f64) -> f64 {
    EARTH_FT * height_ft / (EARTH_FT + height_ft)
}

/// The height at which the standard atmosphere has `p_pa`, geopotential ft: the inverse of [`isa`].
pub fn isa_height_ft(p_pa: f64) -> f64 {
    T0_K / LAPSE * (1.0 - (p_pa / P0_PA).powf(1.0 / power())) / M_PER_FT
}

/// Constants of pressure altitude as flyers print it (FAA-H-8083-25, and the weather service): 145 366.45 ft, 0.190284.
const PA_FT: f64 = 145_366.45;
const PA_POWER: f64 = 0.190_284;

/// Pressure altitude, ft, in its printed form. Its rounded constants put it 0.04 % under [`isa_height_ft`]: 2 ft at 5300,
/// 4 ft at 10 000.
pub fn pressure_altitude_ft(p_pa: f64) -> f64 {
    PA_FT * (1.0 - (p_pa / P0_PA).powf(PA_POWER))
}

/// Constants of the exact density altitude as the weather service prints it: 145 442.16 ft, 1.225 kg/m3, 0.234969.
const DA_FT: f64 = 145_442.16;
const DA_KG_M3: f64 = 1.225;
const DA_POWER: f64 = 0.234_969;

/// The height at which the standard atmosphere has a density, ft. It wants the *ideal-gas* density, as the standard
/// atmosphere is reckoned ([`super::ideal_density_kg_m3`]).
pub fn density_altitude_ft(ideal_kg_m3: f64) -> f64 {
    DA_FT * (1.0 - (ideal_kg_m3 / DA_KG_M3).powf(DA_POWER))
}

/// Station pressure, Pa, from an altimeter setting and the elevation: the standard-atmosphere form. The setting is the
/// pressure at sea level of the standard atmosphere that has the station's pressure at its elevation.
pub fn station_from_altimeter_pa(setting_pa: f64, elevation_ft: f64) -> f64 {
    let n = 1.0 / power();
    (setting_pa.powf(n) - P0_PA.powf(n) * LAPSE * elevation_ft * M_PER_FT / T0_K).max(0.0).powf(1.0 / n)
}

/// Altimeter setting, Pa, from station pressure and the elevation: the inverse of [`station_from_altimeter_pa`].
pub fn altimeter_from_station_pa(station_pa: f64, elevation_ft: f64) -> f64 {
    let n = 1.0 / power();
    (station_pa.powf(n) + P0_PA.powf(n) * LAPSE * elevation_ft * M_PER_FT / T0_K).powf(1.0 / n)
}
