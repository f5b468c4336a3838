//! Pinion limiter (snubber): when it is met, and with what force.
//!
//! It stands at a distance ahead of the axle and stops the pinion's rise. Two answers are both true: the *hit*, before the
//! body has moved, and the *settled* state, when the body has risen and opened it again. Dampers decide how fast one becomes
//! the other. The limiter brings load early; in the end the tires have what the transfer gives, and no more. Statics, own
//! algebra, on the seat of [`LeafSeat`] with its limits; the limiter itself rigid.

use super::{LeafSeat, SeatMove};

/// Where the limiter is.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Limiter {
    /// From the axle's centerline ahead to the contact, level, in.
    pub ahead_in: f64,
    /// Gap at rest, in.
    pub gap_in: f64,
}

/// The first instant: the body has not moved.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Hit {
    /// Wind-up as it would be without the limiter, height held, radians.
    pub free_windup_rad: f64,
    /// Whether the limiter is met.
    pub contact: bool,
    /// Force at the limiter, lb; 0 without contact.
    pub force_lb: f64,
    /// Load that springs and limiter bring to the tires, lb.
    pub tire_load_lb: f64,
    /// The same without the limiter, lb.
    pub tire_load_without_lb: f64,
}

/// The steady state: the body is free to rise.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Settled {
    /// Force at the limiter, lb; 0 when it is not met.
    pub force_lb: f64,
    /// Where the seat then is.
    pub moved: SeatMove,
}

/// Angle by which the pinion has risen when the limiter is met, height held, degrees: `atan(gap/d)`.
pub fn contact_angle_deg(gap_in: f64, ahead_in: f64) -> f64 {
    (gap_in / ahead_in).atan().to_degrees()
}

/// The gap that lets the pinion rise by an angle, in: `d tan(theta)`.
pub fn gap_for_angle_in(angle_deg: f64, ahead_in: f64) -> f64 {
    ahead_in * angle_deg.to_radians().tan()
}

/// Torque at the axle, lb-ft, as far as the tires hold it: engine by converter, gear, and final drive. The traction limit
/// caps it at thrust by radius.
pub fn axle_torque_lb_ft(engine_lb_ft: f64, converter: f64, gear: f64, final_drive: f64) -> f64 {
    engine_lb_ft * converter * gear * final_drive
}

/// Force at the limiter if it took the whole couple, lb: `M/d`, of springs without wind-up stiffness. An upper bound for the
/// first instant, as long as it is more than the tires' load; never a steady state. Instant center then at the contact, as
/// high as the eye.
pub fn bound_force_lb(couple_in_lb: f64, ahead_in: f64) -> f64 {
    couple_in_lb / ahead_in
}

/// Force at the limiter, height held, from a wind-up stiffness alone, lb: `(M - K atan(gap/d))/d`; 0 when the couple does not
/// wind the axle that far. For axles of which the halves are not known; [`Limiter::hit`] has them.
pub fn wound_force_lb(couple_in_lb: f64, windup_in_lb_per_rad: f64, gap_in: f64, ahead_in: f64) -> f64 {
    let at_contact = windup_in_lb_per_rad * contact_angle_deg(gap_in, ahead_in).to_radians();
    ((couple_in_lb - at_contact) / ahead_in).max(0.0)
}

impl Limiter {
    /// Whether it is met: `d tan(theta) - separation >= gap`. A body that rises opens it.
    pub fn is_met(&self, windup_deg: f64, separation_in: f64) -> bool {
        self.ahead_in * windup_deg.to_radians().tan() - separation_in >= self.gap_in
    }

    /// The first instant of a launch, the body where it was: `F = (M - k22 gap/d)/d`, tires `k12 gap/d + F`; without contact
    /// `k12 M/k22`.
    pub fn hit(&self, seat: &LeafSeat, couple_in_lb: f64) -> Hit {
        let (k12, k22) = (seat.k12_lb(), seat.k22_in_lb_per_rad());
        let (free_windup_rad, at_contact_rad) = (couple_in_lb / k22, self.gap_in / self.ahead_in);
        let contact = free_windup_rad >= at_contact_rad;
        let force_lb = if contact { (couple_in_lb - k22 * at_contact_rad) / self.ahead_in } else { 0.0 };
        Hit {
            free_windup_rad,
            contact,
            force_lb,
            tire_load_lb: k12 * free_windup_rad.min(at_contact_rad) + force_lb,
            tire_load_without_lb: k12 * free_windup_rad,
        }
    }

    /// The steady state with `tire_load_lb` more on the tires and the body free: `F = (z0 + d theta0 - gap)/c`,
    /// `c = [1 d] K^-1 [1 d]'`, where z0 and theta0 are without limiter; 0 when the body's rise has opened it.
    pub fn settled(&self, seat: &LeafSeat, tire_load_lb: f64, couple_in_lb: f64) -> Settled {
        let closed_in = |m: SeatMove| m.up_in + self.ahead_in * m.windup_rad;
        // A pound at the limiter opens it by so much.
        let per_lb_in = closed_in(seat.moved(1.0, self.ahead_in));
        let force_lb = ((closed_in(seat.moved(tire_load_lb, couple_in_lb)) - self.gap_in) / per_lb_in).max(0.0);
        let moved = seat.moved(tire_load_lb - force_lb, couple_in_lb - self.ahead_in * force_lb);
        Settled { force_lb, moved }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_body_that_rises_opens_it() {
        let limiter = Limiter { ahead_in: 9.0, gap_in: 0.5 };
        let angle = contact_angle_deg(0.5, 9.0);
        assert!(limiter.is_met(angle + 1e-9, 0.0) && !limiter.is_met(angle + 1e-9, 0.1));
        assert!((gap_for_angle_in(angle, 9.0) - 0.5).abs() < 1e-12);
    }
}
