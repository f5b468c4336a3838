//! Load on the axles at rest and under acceleration.

use super::G_IN_S2;

/// The car on level ground, with its driver.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct AtRest {
    /// Weight, lb.
    pub weight_lb: f64,
    /// Load on the rear axle, lb.
    pub rear_lb: f64,
    /// Wheelbase, in.
    pub wheelbase_in: f64,
    /// Height of the center of gravity above the ground, in.
    pub cg_height_in: f64,
}

/// Wheels that the car's acceleration spins up.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Spinning {
    /// Moment of inertia about the axle of all wheels meant, in-lb-s2.
    pub inertia_in_lb_s2: f64,
    /// Rolling radius, in.
    pub radius_in: f64,
}

impl AtRest {
    /// Load on the front axle, lb.
    pub fn front_lb(&self) -> f64 {
        self.weight_lb - self.rear_lb
    }

    /// Load that leaves the front axle for the rear at a steady acceleration, lb: `dW = W a h/L`, a in g.
    ///
    /// T. D. Gillespie, Fundamentals of Vehicle Dynamics, ch. 1 (load equations). Wheels without inertia
    /// ([`spin_up_transfer_lb`] adds it), no lift of air, no grade. The springs have no part in it: they decide how fast the
    /// load comes and how the body moves.
    pub fn transfer_lb(&self, accel_g: f64) -> f64 {
        self.weight_lb * accel_g * self.cg_height_in / self.wheelbase_in
    }

    /// Loads on the front and the rear axle at that acceleration, lb. The front's stays at 0 once its wheels are up; what
    /// the car does then is no statics.
    pub fn axles_lb(&self, accel_g: f64) -> (f64, f64) {
        let front = (self.front_lb() - self.transfer_lb(accel_g)).max(0.0);
        (front, self.weight_lb - front)
    }

    /// Acceleration at which nothing is left on the front axle, g: `a_w = (Wf/W)(L/h)` (the load equations at Wf2 = 0).
    pub fn wheels_up_g(&self) -> f64 {
        self.front_lb() / self.weight_lb * self.wheelbase_in / self.cg_height_in
    }

    /// Thrust at the driven tires' contact, lb: `F = W a + sum(I a/r^2)`, the sum over wheels that the ground spins up (an
    /// undriven axle). Newton's law for a car with turning wheels.
    pub fn thrust_lb(&self, accel_g: f64, undriven: &[Spinning]) -> f64 {
        let per_g = |s: &Spinning| s.inertia_in_lb_s2 * G_IN_S2 / (s.radius_in * s.radius_in);
        accel_g * (self.weight_lb + undriven.iter().map(per_g).sum::<f64>())
    }
}

/// What wheels that are spun up add to the transfer, lb: `sum(I alpha)/L`, `alpha = a/r`; all wheels of the car, driven or
/// not, that turn without slip.
///
/// Moments about the rear contact, as with [`AtRest::transfer_lb`]. What turns about the car's length (crankshaft,
/// driveshaft) adds nothing here: it rolls the body, it does not pitch it.
pub fn spin_up_transfer_lb(spinning: &[Spinning], accel_g: f64, wheelbase_in: f64) -> f64 {
    let couple = |s: &Spinning| s.inertia_in_lb_s2 * accel_g * G_IN_S2 / s.radius_in;
    spinning.iter().map(couple).sum::<f64>() / wheelbase_in
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_front_is_up_where_nothing_is_left_on_it() {
        let car = AtRest { weight_lb: 3200.0, rear_lb: 1440.0, wheelbase_in: 108.0, cg_height_in: 20.0 };
        let up = car.wheels_up_g();
        assert!((car.transfer_lb(up) - car.front_lb()).abs() < 1e-9);
        assert_eq!(car.axles_lb(up * 1.5), (0.0, 3200.0));
        assert_eq!(car.axles_lb(0.0), (1760.0, 1440.0));
    }
}
