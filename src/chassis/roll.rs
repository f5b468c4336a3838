//! Side to side: driveshaft torque on a solid axle, preload, anti-roll bars.
//!
//! T. D. Gillespie, Fundamentals of Vehicle Dynamics, ch. 2 (solid rear axle), carried to all four wheels; own algebra.
//! The engine turns clockwise seen from the front. Tires rigid, springs linear; the body is stiff against twist. A frame
//! that twists leaves less of it at the front.

use super::{Corners, IN_PER_FT};

/// A car in roll. The rear's stiffness is above 0, the front's may be 0.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Roll {
    /// Roll stiffness of the front suspension with its bar, in-lb/rad.
    pub front_in_lb_per_rad: f64,
    /// Roll stiffness of the rear suspension with its bar, in-lb/rad; of a leaf car the leaves' own, not rate by track.
    pub rear_in_lb_per_rad: f64,
    /// Front track, in.
    pub front_tread_in: f64,
    /// Rear track, in.
    pub rear_tread_in: f64,
}

/// What driveshaft torque does.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TorqueReaction {
    /// The body rolls to the right, degrees.
    pub roll_right_deg: f64,
    /// Changes of load; their sum is 0.
    pub change: Corners,
}

/// Torque in the driveshaft for a thrust at the tires, lb-ft: `F r/N`. Without losses and spin-up.
pub fn driveshaft_torque_lb_ft(thrust_lb: f64, tire_radius_in: f64, final_drive: f64) -> f64 {
    thrust_lb * tire_radius_in / final_drive / IN_PER_FT
}

/// Load that goes from the right rear wheel to the left, lb: `dWy = (Td/t) Kf/(Kf + Kr)`, with the front's share of the roll
/// stiffness, 0 to 1. Without a front that holds against roll nothing goes: the body turns until the springs take it all.
pub fn side_transfer_lb(driveshaft_lb_ft: f64, rear_tread_in: f64, front_roll_share: f64) -> f64 {
    driveshaft_lb_ft * IN_PER_FT / rear_tread_in * front_roll_share
}

impl Roll {
    /// The front's share of the roll stiffness, 0 to 1.
    pub fn front_share(&self) -> f64 {
        self.front_in_lb_per_rad / (self.front_in_lb_per_rad + self.rear_in_lb_per_rad)
    }

    /// Driveshaft torque on the rear axle: the body rolls to the right by `Td/(Kf + Kr)`; left rear `+Td Kf/(Kf + Kr)/t_r`,
    /// right rear the negative; right front `+Kf phi/t_f`, left front the negative.
    pub fn torque_reaction(&self, driveshaft_lb_ft: f64) -> TorqueReaction {
        let couple_in_lb = driveshaft_lb_ft * IN_PER_FT;
        let roll = couple_in_lb / (self.front_in_lb_per_rad + self.rear_in_lb_per_rad);
        TorqueReaction { roll_right_deg: roll.to_degrees(), change: self.rear_couple(-couple_in_lb) }
    }

    /// What a couple between the body and the rear axle does to the corners: a bar's or a shim's preload that would lift
    /// the body's right side. Right rear and left front gain, the other two lose: `M = C Kf/(Kf + Kr)` over each track.
    pub fn rear_couple(&self, couple_in_lb: f64) -> Corners {
        let warp_in_lb = self.warp_in_lb(couple_in_lb);
        let (front, rear) = (warp_in_lb / self.front_tread_in, warp_in_lb / self.rear_tread_in);
        Corners { lf_lb: front, rf_lb: -front, lr_lb: -rear, rr_lb: rear }
    }

    /// The part of a rear couple that front and rear hold against each other, in-lb: `M = C Kf/(Kf + Kr)`.
    pub fn warp_in_lb(&self, couple_in_lb: f64) -> f64 {
        couple_in_lb * self.front_share()
    }

    /// What a shim under the right rear spring does to the corners, springs at the track: a couple of `Kr dz/t_r`. What one
    /// takes out of the left rear does the same.
    pub fn right_rear_shim(&self, shim_in: f64) -> Corners {
        self.rear_couple(self.rear_in_lb_per_rad * shim_in / self.rear_tread_in)
    }

    /// The right rear shim that cancels the rear's difference under driveshaft torque, in: `t_r Td/Kr`, whatever the front's
    /// stiffness.
    pub fn canceling_shim_in(&self, driveshaft_lb_ft: f64) -> f64 {
        self.rear_tread_in * driveshaft_lb_ft * IN_PER_FT / self.rear_in_lb_per_rad
    }
}

/// Roll stiffness that an anti-roll bar adds, in-lb/rad: `kT (s/R)^2`.
///
/// kT is the bar's torque for each radian ([`super::TorsionBar::rate_in_lb_per_rad`]), R its arms, s the span between its
/// links (on the axle of a solid axle; of an independent front the track times travel of the link for an inch of the wheel).
/// Own algebra; arms and links stiff, so a real one is softer.
pub fn anti_roll_bar_in_lb_per_rad(bar_in_lb_per_rad: f64, arm_in: f64, span_in: f64) -> f64 {
    bar_in_lb_per_rad * (span_in / arm_in).powi(2)
}

/// The couple of a bar whose one link was made longer by `link_in` with the body held, in-lb: `kT s l/R^2`. For
/// [`Roll::rear_couple`]; a longer right link at the rear axle lifts the body's right side.
pub fn anti_roll_bar_preload_in_lb(bar_in_lb_per_rad: f64, arm_in: f64, span_in: f64, link_in: f64) -> f64 {
    bar_in_lb_per_rad * span_in * link_in / (arm_in * arm_in)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_bar_preloads_as_the_shim_that_rolls_as_far() {
        let (bar, arm, span) = (9_000.0, 10.0, 40.0);
        let stiffness = anti_roll_bar_in_lb_per_rad(bar, arm, span);
        // The link's length over the span is the angle that it turns the body.
        assert!((anti_roll_bar_preload_in_lb(bar, arm, span, 0.5) - stiffness * 0.5 / span).abs() < 1e-9);
        let car = Roll {
            front_in_lb_per_rad: 180_000.0,
            rear_in_lb_per_rad: 420_000.0,
            front_tread_in: 60.0,
            rear_tread_in: 57.0,
        };
        let shim = car.right_rear_shim(0.5);
        let couple = car.rear_couple(420_000.0 * 0.5 / 57.0);
        assert_eq!(shim, couple);
        assert!(shim.rr_lb > 0.0 && shim.lf_lb > 0.0 && shim.total_lb().abs() < 1e-9);
    }
}
