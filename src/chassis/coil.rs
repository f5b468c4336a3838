//! Coil springs: rate of the wire, rate at the wheel.

/// A helical compression spring of round wire.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Coil {
    /// Wire diameter, in.
    pub wire_in: f64,
    /// Mean diameter, in: outside less one wire. The outside one taken for it costs a third of the rate and more.
    pub mean_in: f64,
    /// Coils that work; squared and ground ends have two that do not.
    pub active_coils: f64,
    /// Shear modulus, psi ([`super::G_STEEL_PSI`]).
    pub shear_modulus_psi: f64,
}

impl Coil {
    /// Rate, lb/in: `k = G d^4/(8 D^3 Na)` (J. E. Shigley, Mechanical Engineering Design, ch. Mechanical Springs).
    pub fn rate_lb_in(&self) -> f64 {
        self.shear_modulus_psi * self.wire_in.powi(4) / (8.0 * self.mean_in.powi(3) * self.active_coils)
    }

    /// Height with all coils shut, squared and ground ends, in: `(Na + 2) d` (same chapter).
    pub fn solid_in(&self) -> f64 {
        (self.active_coils + 2.0) * self.wire_in
    }
}

/// Rate at the wheel of a spring on a lever, lb/in: `k MR^2 cos^2(angle)`.
///
/// `motion_ratio` is the travel of the spring's mount *along the wheel's travel* for an inch of the wheel; `angle_deg` is
/// the spring's axis against that travel. Travel of the spring itself for an inch of the wheel is `MR cos(angle)`: a ratio
/// measured along the spring has the angle in it already, and is given with an angle of 0. Work at spring and wheel set
/// equal, own algebra; the change of leverage as the suspension moves is left out.
pub fn wheel_rate_lb_in(rate_lb_in: f64, motion_ratio: f64, angle_deg: f64) -> f64 {
    rate_lb_in * (motion_ratio * angle_deg.to_radians().cos()).powi(2)
}

/// How far a load has pressed the spring, at the wheel, in: `F/k`. Linear.
pub fn static_deflection_in(load_lb: f64, wheel_rate_lb_in: f64) -> f64 {
    load_lb / wheel_rate_lb_in
}

/// How far the body rises over the wheel when `leaving_lb` leave, in: `min(x, F)/k`. No more leaves than is there; linear.
pub fn rise_in(load_lb: f64, wheel_rate_lb_in: f64, leaving_lb: f64) -> f64 {
    leaving_lb.min(load_lb) / wheel_rate_lb_in
}
