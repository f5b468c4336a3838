//! Leaf springs: rates of the two halves, free and clamped, and how an eye moves.

use super::LeafSeat;

/// Young's modulus of spring steel, psi: 30e6 (J. E. Shigley, Mechanical Engineering Design, table of material constants).
pub const E_STEEL_PSI: f64 = 30.0e6;

/// Radius of the eye's path over the half's length, all leaves graduated to uniform strength: 3/4. The leaf bends to a
/// circle, `x = a sin(k)/k`, `y = a (1 - cos(k))/k`; own algebra, and what SAE HS-788 takes for the link (from memory).
pub const TIP_PATH_GRADUATED: f64 = 3.0 / 4.0;

/// The same of a uniform section: 5/6, from `y = P a^3/(3 E I)` and a shortening of `(P/(E I))^2 a^5/15`; own algebra.
pub const TIP_PATH_UNIFORM: f64 = 5.0 / 6.0;

/// One semi-elliptic spring. Halves are measured flat, from the axle to the eye.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LeafSpring {
    /// Front half, in.
    pub front_in: f64,
    /// Rear half, in.
    pub rear_in: f64,
    /// Width of the leaves, in.
    pub width_in: f64,
    /// Thickness of each leaf, in.
    pub thickness_in: f64,
    /// Leaves that reach the eyes; a broken number for leaves that do so in part.
    pub full_leaves: f64,
    /// Leaves that are shorter step by step.
    pub graduated_leaves: f64,
    /// What the seat and clamps make stiff ahead of the axle, in; 0 when free.
    pub clamped_front_in: f64,
    /// The same behind the axle, in.
    pub clamped_rear_in: f64,
    /// Young's modulus, psi.
    pub modulus_psi: f64,
}

impl LeafSpring {
    /// Rate of a half of that free length, lb/in: `(3 n_f + 2 n_g) E w t^3/(12 a^3)`, so `3 E I/a^3` of a uniform section
    /// and `2 E I/a^3` graduated to uniform strength, `I = n w t^3/12`. None of no length.
    ///
    /// Beam theory (Roark; Shigley); full-length leaves by the machine-design handbooks' rule, carried to unequal halves.
    /// Real springs are 5 to 20 % off: tapered ends, camber, friction between the leaves.
    fn half_lb_in(&self, free_in: f64) -> Option<f64> {
        let bending = self.modulus_psi * self.width_in * self.thickness_in.powi(3) / 12.0;
        let leaves = 3.0 * self.full_leaves + 2.0 * self.graduated_leaves;
        (free_in > 0.0).then(|| leaves * bending / free_in.powi(3))
    }

    /// The spring as two halves with the lengths that are free: clamped parts count as no spring and no arm, as the handbooks
    /// take the center clamp. For the short clamp of a seat: the eyes stay where they are, and of long clamps of one half
    /// [`LeafSpring::seat_of_both`] says the rate. None when clamps leave nothing.
    pub fn free_halves(&self) -> Option<LeafSeat> {
        let (front_in, rear_in) = (self.front_in - self.clamped_front_in, self.rear_in - self.clamped_rear_in);
        let (front_lb_in, rear_lb_in) = (self.half_lb_in(front_in)?, self.half_lb_in(rear_in)?);
        Some(LeafSeat { front_in, rear_in, front_lb_in, rear_lb_in })
    }

    /// The seat of both springs of the car: halves as stiff as clamps make them, on arms from the axle to the eyes, for what
    /// is clamped turns with the axle. None when clamps leave nothing.
    pub fn seat_of_both(&self) -> Option<LeafSeat> {
        let one = self.free_halves()?;
        Some(LeafSeat {
            front_in: self.front_in,
            rear_in: self.rear_in,
            front_lb_in: 2.0 * one.front_lb_in,
            rear_lb_in: 2.0 * one.rear_lb_in,
        })
    }
}

/// Length of the link that moves the axle as a graduated half does, in; see [`TIP_PATH_GRADUATED`]. Flat leaf, small
/// deflection. A real main leaf lies between this and [`tip_path_uniform_in`].
pub fn tip_path_graduated_in(free_in: f64) -> f64 {
    TIP_PATH_GRADUATED * free_in
}

/// The same of a half with uniform section, in; see [`TIP_PATH_UNIFORM`].
pub fn tip_path_uniform_in(free_in: f64) -> f64 {
    TIP_PATH_UNIFORM * free_in
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_clamped_spring_keeps_its_arms() {
        // The uniform leaf of the check values, 2.5 in clamped each side of the axle; beam elements with a rigid middle
        // (tests/reference/leaves.py) give 208.9606 lb/in and 106944.08 in-lb/rad for one spring.
        let leaf = LeafSpring {
            front_in: 20.0,
            rear_in: 36.0,
            width_in: 2.5,
            thickness_in: 0.25,
            full_leaves: 5.0,
            graduated_leaves: 0.0,
            clamped_front_in: 2.5,
            clamped_rear_in: 2.5,
            modulus_psi: E_STEEL_PSI,
        };
        let both = leaf.seat_of_both().unwrap();
        assert!((both.rate_free_lb_in() / 2.0 / 208.960_6 - 1.0).abs() < 1e-5, "{}", both.rate_free_lb_in() / 2.0);
        assert!((both.windup_free_in_lb_per_rad() / 2.0 / 106_944.08 - 1.0).abs() < 1e-5);
    }

    #[test]
    fn clamps_that_leave_nothing_leave_no_rate() {
        let spring = LeafSpring {
            front_in: 20.0,
            rear_in: 36.0,
            width_in: 2.5,
            thickness_in: 0.25,
            full_leaves: 1.0,
            graduated_leaves: 4.0,
            clamped_front_in: 0.0,
            clamped_rear_in: 0.0,
            modulus_psi: E_STEEL_PSI,
        };
        let free = spring.free_halves().unwrap();
        let both = spring.seat_of_both().unwrap();
        assert!((both.rate_free_lb_in() / free.rate_free_lb_in() - 2.0).abs() < 1e-12);
        assert_eq!(LeafSpring { clamped_front_in: 20.0, ..spring }.free_halves(), None);
        // Front clamps alone: the front half is stiffer, the rear as it was, the arms to the eyes the same.
        let clamped = LeafSpring { clamped_front_in: 8.0, ..spring }.seat_of_both().unwrap();
        assert!(clamped.front_lb_in > 4.0 * both.front_lb_in && clamped.rear_lb_in == both.rear_lb_in);
        assert_eq!(clamped.front_in, 20.0);
    }
}
