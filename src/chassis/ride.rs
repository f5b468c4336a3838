//! Ride: how fast a corner swings on its spring.

use std::f64::consts::PI;

/// Standard gravity, in/s2: 9.80665 m/s2 (exact, CGPM 1901) at 0.0254 m to the inch (exact): 386.0886.
pub const G_IN_S2: f64 = 9.806_65 / 0.025_4;

/// Undamped frequency of a sprung weight, Hz: `f = sqrt(k g/W)/(2 pi)`, `3.127/sqrt(static deflection, in)`.
///
/// T. D. Gillespie, Fundamentals of Vehicle Dynamics, ch. 5. The rate is the wheel's, or with the tire's in series
/// ([`series_rate_lb_in`]); the weight is what the spring carries. Each end by itself.
pub fn ride_frequency_hz(rate_lb_in: f64, sprung_lb: f64) -> f64 {
    (rate_lb_in * G_IN_S2 / sprung_lb).sqrt() / (2.0 * PI)
}

/// Rate of two springs one on the other, as a wheel's spring on its tire, lb/in: `kw kt/(kw + kt)` (same chapter).
pub fn series_rate_lb_in(one_lb_in: f64, other_lb_in: f64) -> f64 {
    one_lb_in * other_lb_in / (one_lb_in + other_lb_in)
}
