//! Rotating parts as if they were weight.

use super::G_IN_S2;

/// Moments of inertia of what turns, in-lb-s2, and the gearing between.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct RotatingParts {
    /// Engine with flywheel or flexplate, in-lb-s2.
    pub engine_in_lb_s2: f64,
    /// What turns in the transmission, at engine speed, in-lb-s2.
    pub transmission_in_lb_s2: f64,
    /// Driveshaft, in-lb-s2.
    pub driveshaft_in_lb_s2: f64,
    /// All four wheels with tires, brakes, and axles, in-lb-s2.
    pub wheels_in_lb_s2: f64,
    /// Ratio of the gear.
    pub gear: f64,
    /// Final drive ratio.
    pub final_drive: f64,
    /// Rolling radius of the driven tires, in.
    pub tire_radius_in: f64,
}

impl RotatingParts {
    /// What they count for, lb: `m_r = ((I_e + I_t)(N_t N_f)^2 + I_d N_f^2 + I_w)/r^2`.
    ///
    /// T. D. Gillespie, Fundamentals of Vehicle Dynamics, ch. 2 (form from memory). With a converter or a clutch that slips
    /// the engine's part does not count. It moves the 60 ft, hardly the speed in the trap.
    pub fn as_weight_lb(&self) -> f64 {
        let through = (self.gear * self.final_drive).powi(2);
        let inertia = (self.engine_in_lb_s2 + self.transmission_in_lb_s2) * through
            + self.driveshaft_in_lb_s2 * self.final_drive.powi(2)
            + self.wheels_in_lb_s2;
        inertia / self.tire_radius_in.powi(2) * G_IN_S2
    }

    /// Effective mass over mass: `1 + m_r/m`.
    pub fn factor(&self, weight_lb: f64) -> f64 {
        1.0 + self.as_weight_lb() / weight_lb
    }
}

/// The rule of thumb of the same chapter (from memory): `1 + 0.04 + 0.0025 (N_t N_f)^2`. A guide; it does not know the car.
pub fn mass_factor_guide(gear: f64, final_drive: f64) -> f64 {
    1.04 + 0.0025 * (gear * final_drive).powi(2)
}
