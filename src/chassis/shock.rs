//! Shocks on a lever: damping at the wheel.
//!
//! Lever ratio and angle as in [`super::wheel_rate_lb_in`]. A real shock's force is no straight line of speed, and opens and
//! closes differently: its damping is meant at one speed, one way.

use super::G_IN_S2;

/// Force at the wheel for a force of the shock: `MR cos(angle)`. Same work at both, own algebra.
pub fn force_share(motion_ratio: f64, angle_deg: f64) -> f64 {
    motion_ratio * angle_deg.to_radians().cos()
}

/// Damping at the wheel, lb-s/in: `c MR^2 cos^2(angle)`.
pub fn wheel_damping_lb_s_in(damping_lb_s_in: f64, motion_ratio: f64, angle_deg: f64) -> f64 {
    damping_lb_s_in * force_share(motion_ratio, angle_deg).powi(2)
}

/// Damping at which a sprung weight just does not swing, lb-s/in: `2 sqrt(k W/g)`. The damping ratio is damping at the wheel
/// over this (T. D. Gillespie, Fundamentals of Vehicle Dynamics, ch. 5).
pub fn critical_damping_lb_s_in(wheel_rate_lb_in: f64, sprung_lb: f64) -> f64 {
    2.0 * (wheel_rate_lb_in * sprung_lb / G_IN_S2).sqrt()
}
