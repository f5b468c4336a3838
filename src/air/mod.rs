//! Physics of air: what the readings mean, and what air does to a run. Every constant is named with its source.
//!
//! Temperatures in degrees Celsius, pressures in pascals, densities in kg/m3, heights in feet: each name says so. What a
//! racer reads and writes is in the trade's units; who calls converts.

mod atmosphere;
mod density;
mod engine;
pub mod metar;
mod moist;
mod power;
mod two_phase;
mod vapor;

pub use atmosphere::{
    Isa, PA_PER_INHG, altimeter_from_station_pa, density_altitude_ft, geopotential_ft, isa, isa_height_ft,
    pressure_altitude_ft, station_from_altimeter_pa,
};
pub use density::{cipm_density_kg_m3, compressibility, ideal_density_kg_m3, vapor_share};
pub use engine::{correction_dry, correction_j1349};
pub use moist::{Moist, Moisture, Refused, moist};
pub use power::{
    FT_S_PER_MPH, G_FT_S2, HP_FT_LBF_S, KM, KM_LOW, TRAP_FT, average_g, carried, least_power_hp, mean_mph,
    slip_power_hp, trap_power_hp, trap_power_with_km_hp,
};
pub use two_phase::{ROLLOUT_FT, TwoPhase};
pub use vapor::{cipm_saturation_pa, dew_point_c, enhancement, magnus_saturation_pa, wet_bulb_c, wet_bulb_vapor_pa};

/// 0 C, K (exact).
pub const ZERO_C_K: f64 = 273.15;

/// A lb/ft3 in kg/m3 (exact: 0.45359237 kg, 0.3048 m; NIST SP 811, B.8).
pub const KG_M3_PER_LB_FT3: f64 = 0.453_592_37 / (0.304_8 * 0.304_8 * 0.304_8);

/// Degrees Celsius of degrees Fahrenheit (exact; NIST SP 811, B.8).
pub fn celsius(degrees_f: f64) -> f64 {
    (degrees_f - 32.0) / 1.8
}

/// Degrees Fahrenheit of degrees Celsius.
pub fn fahrenheit(degrees_c: f64) -> f64 {
    degrees_c * 1.8 + 32.0
}
