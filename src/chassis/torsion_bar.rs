//! Torsion bar: rate, rate at the wheel, twist, and how far the front rises when load leaves.

use std::f64::consts::{FRAC_PI_2, PI};

/// Shear modulus of spring steel, psi: 11.5e6 (J. E. Shigley, Mechanical Engineering Design, table of material constants).
pub const G_STEEL_PSI: f64 = 11.5e6;

/// A round bar, solid or hollow.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TorsionBar {
    /// Outside diameter of what twists, in.
    pub outer_in: f64,
    /// Inside diameter, in; 0 of a solid bar. Below the outside one.
    pub inner_in: f64,
    /// Length that twists, between the hexes or splines, in.
    pub length_in: f64,
    /// Shear modulus, psi.
    pub shear_modulus_psi: f64,
}

impl TorsionBar {
    /// Polar moment of area, in4: `J = pi (D^4 - d^4)/32`.
    pub fn polar_in4(&self) -> f64 {
        PI * (self.outer_in.powi(4) - self.inner_in.powi(4)) / 32.0
    }

    /// Torque for each radian of twist, in-lb/rad: `kT = G J/L` (Shigley, torsion, `theta = T L/(G J)`).
    pub fn rate_in_lb_per_rad(&self) -> f64 {
        self.shear_modulus_psi * self.polar_in4() / self.length_in
    }

    /// Shear stress at the surface under a torque, psi: `tau = T (D/2)/J`, `16 T D/(pi (D^4 - d^4))` (Shigley, torsion).
    /// Without the ends and nicks, where a bar breaks.
    pub fn stress_psi(&self, torque_in_lb: f64) -> f64 {
        torque_in_lb * self.outer_in / 2.0 / self.polar_in4()
    }
}

/// A bar with the arm that turns it, under its load.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TorsionArm {
    /// Torque of the bar for each radian, in-lb/rad ([`TorsionBar::rate_in_lb_per_rad`]).
    pub bar_in_lb_per_rad: f64,
    /// From the bar's axis to the line of the wheel's load, in.
    pub arm_in: f64,
    /// The arm against level, degrees; + with the wheel's end above the bar's axis. Between -90 and 90.
    pub angle_deg: f64,
    /// Sprung load at the wheel, lb.
    pub load_lb: f64,
}

impl TorsionArm {
    /// Torque in the bar, in-lb: `T = F R cos(alpha)`.
    pub fn torque_in_lb(&self) -> f64 {
        self.load_lb * self.arm_in * self.angle_deg.to_radians().cos()
    }

    /// Twist of the bar, degrees: `T/kT`. For the same load it goes with `(D2/D1)^4`.
    pub fn twist_deg(&self) -> f64 {
        (self.torque_in_lb() / self.bar_in_lb_per_rad).to_degrees()
    }

    /// Rate at the wheel where the arm is, lb/in: `(kT + T tan(alpha))/(R^2 cos^2(alpha))`; `kT/R^2` with a level arm. It
    /// rises into bump and falls into droop. Derivative of `F = T/(R cos(alpha))` by height, own algebra.
    pub fn wheel_rate_lb_in(&self) -> f64 {
        let alpha = self.angle_deg.to_radians();
        (self.bar_in_lb_per_rad + self.torque_in_lb() * alpha.tan()) / (self.arm_in * alpha.cos()).powi(2)
    }

    /// How far the body rises over the wheel when `leaving_lb` leave, by the rate where the arm is, in. No more leaves than
    /// is there. For short ways; [`TorsionArm::rise_exact_in`] follows the arm. From a level arm it is less than along the
    /// arc until some three quarters of the twist are gone (`psi u^2/2 > 2 u^3/3`), then more.
    pub fn rise_linear_in(&self, leaving_lb: f64) -> f64 {
        leaving_lb.min(self.load_lb) / self.wheel_rate_lb_in()
    }

    /// How far the body rises over the wheel when `leaving_lb` leave, along the arm's arc, in: the angle a where
    /// `F(a) = kT (psi + a - alpha)/(R cos(a))` is what is left, psi the twist now; then `R (sin(alpha) - sin(a))`.
    ///
    /// Own algebra, found by halving. No more leaves than is there: then the bar is loose, and a stop or the shock holds the
    /// wheel. None where the loose arm would hang straight down: a bar that soft has no one answer.
    pub fn rise_exact_in(&self, leaving_lb: f64) -> Option<f64> {
        let (alpha, twist) = (self.angle_deg.to_radians(), self.twist_deg().to_radians());
        let loose = alpha - twist;
        // As long as it hangs above straight down, the load falls all the way: (s - u) tan(u) < 1 for 0 < u < s <= pi/2.
        let sound = twist >= 0.0 && loose > -FRAC_PI_2 && alpha < FRAC_PI_2 && leaving_lb.is_finite();
        if !sound {
            return None;
        }
        let left_lb = (self.load_lb - leaving_lb).max(0.0);
        let load_at = |a: f64| self.bar_in_lb_per_rad * (a - loose) / (self.arm_in * a.cos());
        // Load can come instead of leave: then the arm is above where it was.
        let (mut low, mut high) = (loose, if leaving_lb < 0.0 { FRAC_PI_2 } else { alpha });
        // Down to what a double resolves.
        for _ in 0..100 {
            let middle = (low + high) / 2.0;
            if load_at(middle) < left_lb { low = middle } else { high = middle }
        }
        Some(self.arm_in * (alpha.sin() - ((low + high) / 2.0).sin()))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn all_that_is_there_leaves_and_no_more() {
        let arm = TorsionArm { bar_in_lb_per_rad: 19_727.0, arm_in: 11.5, angle_deg: 5.0, load_lb: 850.0 };
        let all = arm.rise_exact_in(850.0).unwrap();
        assert!((arm.rise_exact_in(2_000.0).unwrap() - all).abs() < 1e-9);
        let loose = 5.0 - arm.twist_deg();
        assert!((all - 11.5 * (5.0_f64.to_radians().sin() - loose.to_radians().sin())).abs() < 1e-9);
        assert!(arm.rise_exact_in(0.0).unwrap().abs() < 1e-9);
        assert!(arm.rise_exact_in(-100.0).unwrap() < 0.0);
        // Half an inch of bar: the arm would hang down.
        assert_eq!(TorsionArm { bar_in_lb_per_rad: 2_000.0, ..arm }.rise_exact_in(200.0), None);
    }
}
