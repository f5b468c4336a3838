//! The density of moist air.

use super::ZERO_C_K;
use super::atmosphere::R_DRY;
use super::vapor::{cipm_saturation_pa, enhancement};

/// Mole fraction of water vapor when the air would be saturated at `dew_c`, at `p_pa` (CIPM-2007). Relative humidity `h`
/// at `t_c` gives `h` times that of `t_c`.
pub fn vapor_share(p_pa: f64, dew_c: f64) -> f64 {
    enhancement(p_pa, dew_c) * cipm_saturation_pa(dew_c) / p_pa
}

/// Density of moist air, kg/m3: CIPM-2007 (A. Picard, R. S. Davis, M. Gläser and K. Fujii, Revised formula for the density
/// of moist air, Metrologia 45 (2008) 149-155), carbon dioxide 400 ppm. Stated for 600-1100 hPa and 15-27 C; from 0 to
/// 40 C and 830-1030 hPa it stays within 5e-5 of a reference library (tests/reference).
pub fn cipm_density_kg_m3(t_c: f64, p_pa: f64, vapor_share: f64) -> f64 {
    /// Molar masses of dry air with 400 ppm of carbon dioxide and of water, kg/mol; gas constant, J/(mol K).
    const DRY_KG_MOL: f64 = 28.965_46e-3;
    const WATER_KG_MOL: f64 = 18.015_28e-3;
    const R: f64 = 8.314_472;
    let t = t_c + ZERO_C_K;
    p_pa * DRY_KG_MOL / (compressibility(t_c, p_pa, vapor_share) * R * t)
        * (1.0 - vapor_share * (1.0 - WATER_KG_MOL / DRY_KG_MOL))
}

/// Compressibility factor of moist air (CIPM-2007, equation A1.4).
pub fn compressibility(t_c: f64, p_pa: f64, x: f64) -> f64 {
    let (a0, a1, a2) = (1.581_23e-6, -2.933_1e-8, 1.104_3e-10);
    let (b0, b1) = (5.707e-6, -2.051e-8);
    let (c0, c1) = (1.989_8e-4, -2.376e-6);
    let (d, e) = (1.83e-11, -0.765e-8);
    let t = t_c + ZERO_C_K;
    1.0 - p_pa / t * (a0 + a1 * t_c + a2 * t_c * t_c + (b0 + b1 * t_c) * x + (c0 + c1 * t_c) * x * x)
        + p_pa * p_pa / (t * t) * (d + e * x * x)
}

/// Density of moist air as an ideal gas, kg/m3: `(p - 0.378 e) / (287.05287 T)`. 2 to 8e-4 below CIPM-2007; only density
/// altitude wants it.
pub fn ideal_density_kg_m3(t_c: f64, p_pa: f64, vapor_pa: f64) -> f64 {
    (p_pa - 0.378 * vapor_pa) / (R_DRY * (t_c + ZERO_C_K))
}
