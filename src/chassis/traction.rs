//! What the tires hold, and when the front lifts first.
//!
//! T. D. Gillespie, Fundamentals of Vehicle Dynamics, ch. 2 (traction-limited acceleration). `mu` is thrust for load, as if
//! it were the same at any load; a slick's falls as load rises.

use super::AtRest;

/// A solid rear axle with an open differential: driveshaft torque takes load off the right rear, and that tire sets what
/// both can do.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct OpenAxle {
    /// Rolling radius of the rear tires, in.
    pub tire_radius_in: f64,
    /// Final drive ratio.
    pub final_drive: f64,
    /// Rear track, in.
    pub tread_in: f64,
    /// The front's share of the roll stiffness, 0 to 1.
    pub front_roll_share: f64,
}

/// How hard a rear-drive car with a locked axle can leave.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LaunchLimit {
    /// What the tires would hold, g; none when load comes to them faster than they need it (`mu h/L >= 1`).
    pub traction_g: Option<f64>,
    /// Where the front wheels leave the ground, g.
    pub wheels_up_g: f64,
    /// The lower of the two, g.
    pub most_g: f64,
    /// The front lifts before the tires give up: `mu` is above `wheels_up_g`. At `mu` equal to it both are `mu`.
    pub front_lifts_first: bool,
}

impl AtRest {
    /// Thrust that the rear tires hold, lb: `F = mu Wr/(1 - mu h/L + (2 mu r/(N t)) Kf/(Kf + Kr))`; the last term with an
    /// open differential only, a locked axle (spool, or a limited-slip that holds) has none.
    ///
    /// None when that load comes to the tires faster than they need it: nothing but the front's lift is the limit.
    pub fn rear_drive_limit_lb(&self, mu: f64, open: Option<&OpenAxle>) -> Option<f64> {
        let lost =
            open.map_or(0.0, |o| 2.0 * mu * o.tire_radius_in / (o.final_drive * o.tread_in) * o.front_roll_share);
        let left = 1.0 - mu * self.cg_height_in / self.wheelbase_in + lost;
        (left > 0.0).then(|| mu * self.rear_lb / left)
    }

    /// Thrust that the front tires of a front-drive car hold, lb: `F = mu Wf/(1 + mu h/L)`.
    pub fn front_drive_limit_lb(&self, mu: f64) -> f64 {
        mu * self.front_lb() / (1.0 + mu * self.cg_height_in / self.wheelbase_in)
    }

    /// Thrust of four driven wheels, each with what its load allows, lb: `F = mu W`.
    pub fn all_wheel_limit_lb(&self, mu: f64) -> f64 {
        mu * self.weight_lb
    }

    /// How hard a rear-drive car with a locked axle can leave: `a = mu (Wr/W)/(1 - mu h/L)`, or the front's lift at
    /// `(Wf/W)(L/h)` (ch. 1, no load left on the front), whichever comes first.
    pub fn launch_limit(&self, mu: f64) -> LaunchLimit {
        let wheels_up_g = self.wheels_up_g();
        let traction_g = self.rear_drive_limit_lb(mu, None).map(|force| force / self.weight_lb);
        LaunchLimit {
            traction_g,
            wheels_up_g,
            most_g: traction_g.map_or(wheels_up_g, |g| g.min(wheels_up_g)),
            front_lifts_first: mu > wheels_up_g,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn tires_that_hold_anything_leave_the_lift() {
        let car = AtRest { weight_lb: 2800.0, rear_lb: 1400.0, wheelbase_in: 100.0, cg_height_in: 25.0 };
        let limit = car.launch_limit(4.0);
        assert_eq!((limit.traction_g, limit.most_g, limit.front_lifts_first), (None, 2.0, true));
        let at = car.launch_limit(2.0);
        assert!((at.traction_g.unwrap() - 2.0).abs() < 1e-12 && !at.front_lifts_first);
    }
}
