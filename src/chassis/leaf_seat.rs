//! The leaf's seat as two springs: rates, wind-up, anti-squat, and what a launch does to it.
//!
//! `[S; M] = [[k11, k12], [k12, k22]] [z; theta]`: S load up on the axle, M couple on the seat, z axle up toward the body,
//! theta nose-up. Unit-load statics, own algebra. Flat spring at the height of its eyes, vertical shackle, rigid seat, small
//! angles, no friction between leaves, dampers off.

/// Two halves that meet at the axle: one spring, or both of a car.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LeafSeat {
    /// From the axle to the front eye, in.
    pub front_in: f64,
    /// From the axle to the rear eye, in.
    pub rear_in: f64,
    /// Rate of the front half at its eye, lb/in.
    pub front_lb_in: f64,
    /// Rate of the rear half at its eye, lb/in.
    pub rear_lb_in: f64,
}

/// How the seat has moved, against rest.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SeatMove {
    /// The axle up toward the body, in; negative: the body has risen from it.
    pub up_in: f64,
    /// Wind-up, nose of the pinion up, radians.
    pub windup_rad: f64,
}

impl SeatMove {
    /// The body has risen from the axle, in.
    pub fn separation_in(&self) -> f64 {
        -self.up_in
    }

    /// Wind-up, degrees.
    pub fn windup_deg(&self) -> f64 {
        self.windup_rad.to_degrees()
    }
}

/// Changes of load at the eyes, up on the body, lb.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct EyeLoads {
    /// At the front eye, lb.
    pub front_lb: f64,
    /// At the rear eye, lb.
    pub rear_lb: f64,
}

/// The couple that the seat must carry, in-lb: `F y_eye`, for the thrust leaves at the front eye. It is `F r` only with the
/// eye as high as the axle.
pub fn seat_couple_in_lb(thrust_lb: f64, eye_height_in: f64) -> f64 {
    thrust_lb * eye_height_in
}

/// Changes of the eyes' loads on launch, whatever the springs: front `(b dN + y F)/(a + b)`, rear `(a dN - y F)/(a + b)`,
/// with the change of load on the tires and the couple on the seat. Axle and spring as one free body.
pub fn eye_loads(front_in: f64, rear_in: f64, tire_load_lb: f64, couple_in_lb: f64) -> EyeLoads {
    let length = front_in + rear_in;
    EyeLoads {
        front_lb: (rear_in * tire_load_lb + couple_in_lb) / length,
        rear_lb: (front_in * tire_load_lb - couple_in_lb) / length,
    }
}

impl LeafSeat {
    /// `k11 = ka + kb`, lb/in: the rate with the seat held against tilt.
    pub fn k11_lb_in(&self) -> f64 {
        self.front_lb_in + self.rear_lb_in
    }

    /// `k12 = a ka - b kb`, lb for each radian, and in-lb for each in: what wind-up does to height. 0 of equal halves.
    pub fn k12_lb(&self) -> f64 {
        self.front_in * self.front_lb_in - self.rear_in * self.rear_lb_in
    }

    /// `k22 = a^2 ka + b^2 kb`, in-lb/rad: wind-up stiffness with the height held, the first instant of a launch.
    pub fn k22_in_lb_per_rad(&self) -> f64 {
        self.front_in.powi(2) * self.front_lb_in + self.rear_in.powi(2) * self.rear_lb_in
    }

    /// `k11 k22 - k12^2`, as the product that it is: no digits are lost when one half is stiff.
    fn det(&self) -> f64 {
        (self.front_in + self.rear_in).powi(2) * self.front_lb_in * self.rear_lb_in
    }

    /// Rate with the seat free to tilt, lb/in: `(a + b)^2/(b^2/ka + a^2/kb)`; `3 E I (a + b)/(a^2 b^2)` of a uniform section.
    pub fn rate_free_lb_in(&self) -> f64 {
        self.det() / self.k22_in_lb_per_rad()
    }

    /// Wind-up stiffness with the axle free to rise, in-lb/rad: `(a + b)^2 ka kb/(ka + kb)`. Less than held, unless
    /// `a ka = b kb`.
    pub fn windup_free_in_lb_per_rad(&self) -> f64 {
        self.det() / self.k11_lb_in()
    }

    /// How the seat moves under a load up on the axle and a couple.
    pub fn moved(&self, load_lb: f64, couple_in_lb: f64) -> SeatMove {
        let (k11, k12, k22, det) = (self.k11_lb_in(), self.k12_lb(), self.k22_in_lb_per_rad(), self.det());
        SeatMove {
            up_in: (k22 * load_lb - k12 * couple_in_lb) / det,
            windup_rad: (k11 * couple_in_lb - k12 * load_lb) / det,
        }
    }

    /// Changes of the eyes' loads once the seat has moved: front `ka (z + a theta)`, rear `kb (z - b theta)`. The same as
    /// [`eye_loads`], by way of the springs.
    pub fn eye_loads_at(&self, moved: SeatMove) -> EyeLoads {
        EyeLoads {
            front_lb: self.front_lb_in * (moved.up_in + self.front_in * moved.windup_rad),
            rear_lb: self.rear_lb_in * (moved.up_in - self.rear_in * moved.windup_rad),
        }
    }

    /// Where a ladder bar would have to pivot to do the same, in ahead of the axle: `x_eq = k22/k12`, that is
    /// `(b^2/ka + a^2/kb)/(a/kb - b/ka)`; `a b/(b - a)` of a uniform section, `a` of a rigid front half. Negative: behind the
    /// axle. None of equal halves: infinitely far.
    pub fn pivot_ahead_in(&self) -> Option<f64> {
        let pivot = self.k22_in_lb_per_rad() / self.k12_lb();
        pivot.is_finite().then_some(pivot)
    }

    /// Anti-squat, %: `100 (y_eye/x_eq)(L/h)`, 0 of equal halves. A stiffer front half (clamps) makes it more.
    pub fn anti_squat_pct(&self, eye_height_in: f64, wheelbase_in: f64, cg_height_in: f64) -> f64 {
        let slope = eye_height_in * self.k12_lb() / self.k22_in_lb_per_rad();
        super::anti_squat_of_slope_pct(slope, wheelbase_in, cg_height_in)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn equal_halves_neither_rise_nor_squat_by_wind_up() {
        let seat = LeafSeat { front_in: 26.0, rear_in: 26.0, front_lb_in: 111.0, rear_lb_in: 111.0 };
        assert_eq!((seat.pivot_ahead_in(), seat.anti_squat_pct(12.0, 108.0, 20.0)), (None, 0.0));
        assert_eq!(seat.moved(0.0, 37_500.0).up_in, 0.0);
    }
}
