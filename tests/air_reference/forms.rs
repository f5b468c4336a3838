//! Forms that slipbook does not use, from the entries' own `formula`: what ours is compared with.

use slipbook::air::{celsius, cipm_saturation_pa, enhancement};

/// Saturation over water of the weather service, Pa: 611 * 10^(7.5 t/(c + t)), c 237.3 or 237.7.
pub fn saturation_nws_pa(t_c: f64, c: f64) -> f64 {
    611.0 * 10_f64.powf(7.5 * t_c / (c + t_c))
}

/// Saturation over water, Buck 1981, Pa.
pub fn saturation_buck_pa(t_c: f64) -> f64 {
    611.21 * (17.502 * t_c / (240.97 + t_c)).exp()
}

/// Saturation over ice, WMO-No. 8, annex 4.B, Pa.
pub fn saturation_ice_pa(t_c: f64) -> f64 {
    611.2 * (22.46 * t_c / (272.62 + t_c)).exp()
}

/// Station pressure, mb, of an altimeter setting, mb: the weather service's handbook form with its 0.3 mb.
pub fn station_nws_mb(setting_mb: f64, elevation_ft: f64) -> f64 {
    let n = 0.190_284;
    let c = 1013.25_f64.powf(n) * 0.006_5 / 288.0 * elevation_ft * 0.304_8;
    (setting_mb.powf(n) - c).powf(1.0 / n) + 0.3
}

/// Station pressure, inHg, of an altimeter setting, inHg: the algorithm of the automated stations, inverted.
pub fn station_asos_inhg(setting_inhg: f64, elevation_ft: f64) -> f64 {
    (setting_inhg.powf(1.0 / 5.255) - 1.313e-5 * elevation_ft).powf(1.0 / 0.1903)
}

/// Density altitude of the weather service, ft.
pub fn density_altitude_nws_ft(t_c: f64, p_mb: f64, dew_c: f64, p_inhg: f64) -> f64 {
    let e = 6.11 * 10_f64.powf(7.5 * dew_c / (237.7 + dew_c));
    let tv = (t_c + 273.15) / (1.0 - 0.378 * e / p_mb);
    let rankine = 1.8 * (tv - 273.15) + 32.0 + 459.69;
    145_366.0 * (1.0 - (17.326 * p_inhg / rankine).powf(0.235))
}

/// The rule of thumb for density altitude, ft: so many feet a degree away from the standard.
pub fn density_altitude_rule_ft(pressure_altitude_ft: f64, t_c: f64, at_ft: f64, ft_per_c: f64, lapse: f64) -> f64 {
    pressure_altitude_ft + ft_per_c * (t_c - (15.0 - lapse * at_ft / 1000.0))
}

/// ISO 1585 / UN R85: dry pressure in kPa, t in C.
pub fn correction_iso1585(t_c: f64, dry_pa: f64) -> f64 {
    (99.0 / (dry_pa / 1000.0)).powf(1.2) * ((t_c + 273.15) / 298.15).powf(0.6)
}

/// Humidity ratio of saturated air at `t_c`, over ice below 0 C, on our saturation over water; `enhanced` with our
/// enhancement factor, which some libraries leave out.
fn saturated_ratio(t_c: f64, p_pa: f64, enhanced: bool) -> f64 {
    let over = if t_c < 0.0 { saturation_ice_pa(t_c) } else { cipm_saturation_pa(t_c) };
    let x = if enhanced { enhancement(p_pa, t_c) } else { 1.0 } * over / p_pa;
    0.621_945 * x / (1.0 - x)
}

/// Humidity ratio of air whose *thermodynamic* wet bulb is `wet_c` (ASHRAE Handbook Fundamentals 2017, chapter 1,
/// equations 33 and 35). A ventilated psychrometer, which is what a racer reads, shows up to 0.008 of humidity less.
pub fn ratio_of_wet_bulb(t_c: f64, wet_c: f64, p_pa: f64, enhanced: bool) -> f64 {
    let saturated = saturated_ratio(wet_c, p_pa, enhanced);
    match wet_c < 0.0 {
        true => ((2830.0 - 0.24 * wet_c) * saturated - 1.006 * (t_c - wet_c)) / (2830.0 + 1.86 * t_c - 2.1 * wet_c),
        false => ((2501.0 - 2.326 * wet_c) * saturated - 1.006 * (t_c - wet_c)) / (2501.0 + 1.86 * t_c - 4.186 * wet_c),
    }
}

/// The same in the handbook's I-P form, whose coefficients are rounded apart: `t_f` and `wet_f` in F, from 32 F.
pub fn ratio_of_wet_bulb_ip(t_f: f64, wet_f: f64, p_pa: f64, enhanced: bool) -> f64 {
    let saturated = saturated_ratio(celsius(wet_f), p_pa, enhanced);
    ((1093.0 - 0.556 * wet_f) * saturated - 0.24 * (t_f - wet_f)) / (1093.0 + 0.444 * t_f - wet_f)
}

/// The thermodynamic wet bulb, C, of air with humidity `rh` (over ice below 0 C), by halving.
pub fn thermodynamic_wet_bulb_c(t_c: f64, rh: f64, p_pa: f64) -> f64 {
    let saturated = saturated_ratio(t_c, p_pa, true) / 0.621_945;
    let x = rh * saturated / (1.0 + saturated);
    let ratio = 0.621_945 * x / (1.0 - x);
    let (mut low, mut high) = (t_c - 60.0, t_c);
    for _ in 0..60 {
        let middle = (low + high) / 2.0;
        if ratio_of_wet_bulb(t_c, middle, p_pa, true) < ratio { low = middle } else { high = middle }
    }
    high
}
