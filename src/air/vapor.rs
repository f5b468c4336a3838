//! Water vapor: saturation, dew point, wet bulb.

use super::ZERO_C_K;

/// Saturation vapor pressure over liquid water, Pa, at `t_c`: the form of CIPM-2007 (Picard et al., Metrologia 45 (2008)
/// 149, equation A1.1). What density is reckoned with.
pub fn cipm_saturation_pa(t_c: f64) -> f64 {
    let t = t_c + ZERO_C_K;
    (1.237_884_7e-5 * t * t - 1.912_131_6e-2 * t + 33.937_110_47 - 6_343.164_5 / t).exp()
}

/// Enhancement factor of water vapor in air at `p_pa` and `t_c` (CIPM-2007, equation A1.2): saturated air holds this much
/// more than saturation over water alone.
pub fn enhancement(p_pa: f64, t_c: f64) -> f64 {
    1.000_62 + 3.14e-8 * p_pa + 5.6e-7 * t_c * t_c
}

/// Magnus coefficients over liquid water at any temperature: WMO-No. 8, Guide to Instruments and Methods of Observation,
/// annex 4.B. Weather reports' dew points are over water, also below freezing.
const MAGNUS_PA: f64 = 611.2;
const MAGNUS_A: f64 = 17.62;
const MAGNUS_B_C: f64 = 243.12;

/// Saturation vapor pressure over liquid water, Pa, at `t_c` (WMO-No. 8, annex 4.B). What is shown, and what weather
/// stations reckon with.
pub fn magnus_saturation_pa(t_c: f64) -> f64 {
    MAGNUS_PA * (MAGNUS_A * t_c / (MAGNUS_B_C + t_c)).exp()
}

/// The temperature at which `vapor_pa` would saturate, C: the inverse of [`magnus_saturation_pa`]. Perfectly dry air has
/// none.
pub fn dew_point_c(vapor_pa: f64) -> Option<f64> {
    let g = (vapor_pa / MAGNUS_PA).ln();
    g.is_finite().then(|| MAGNUS_B_C * g / (MAGNUS_A - g))
}

/// Coefficients of a ventilated psychrometer over water (WMO-No. 8, annex 4.B).
const PSYCHROMETER: f64 = 6.53e-4;
const PSYCHROMETER_PER_C: f64 = 0.000_944;

/// Vapor pressure from a ventilated psychrometer, Pa: dry bulb `t_c`, wet bulb `wet_c`, at `p_pa`. Negative where the wet
/// bulb is lower than dry air could take it.
pub fn wet_bulb_vapor_pa(t_c: f64, wet_c: f64, p_pa: f64) -> f64 {
    magnus_saturation_pa(wet_c) - PSYCHROMETER * (1.0 + PSYCHROMETER_PER_C * wet_c) * p_pa * (t_c - wet_c)
}

/// The wet bulb of air with `vapor_pa`, C: the inverse of [`wet_bulb_vapor_pa`], which rises with the wet bulb.
pub fn wet_bulb_c(t_c: f64, vapor_pa: f64, p_pa: f64) -> f64 {
    let (mut low, mut high) = (t_c - 100.0, t_c);
    // 60 halvings of 100 C are below what a double resolves.
    for _ in 0..60 {
        let middle = (low + high) / 2.0;
        if wet_bulb_vapor_pa(t_c, middle, p_pa) < vapor_pa { low = middle } else { high = middle }
    }
    (low + high) / 2.0
}
