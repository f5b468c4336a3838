//! Height of the center of gravity from a weighing with one axle raised.

/// A weighing with one axle raised, the other on the scales. Suspension locked or blocked at ride height, fuel and driver as
/// they race, no brake set, the wheels on the scales free to roll.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct RaisedAxle {
    /// Weight of the car, lb.
    pub weight_lb: f64,
    /// Load on the axle that stays down, the car level, lb.
    pub level_lb: f64,
    /// Load on the same axle, the other raised, lb.
    pub raised_lb: f64,
    /// Wheelbase on level ground, in.
    pub wheelbase_in: f64,
    /// How far the raised wheels' contact is above the scales, in.
    pub lift_in: f64,
    /// Loaded radius of the tires that stay down, in.
    pub radius_down_in: f64,
    /// Height of the raised axle's hub over that axle's own support, in: its tires' loaded radius when the tires are stood
    /// on blocks. Raised by the hubs, `lift_in` is how far the hubs rose and this the radius at rest.
    pub radius_up_in: f64,
}

/// What the weighing says.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CgHeight {
    /// Height of the center of gravity above the ground, in.
    pub height_in: f64,
    /// How far the car was tilted, degrees.
    pub tilt_deg: f64,
    /// How much a pound more on the scales, raised, moves the height, in for each lb: how sure the answer is.
    pub in_per_lb: f64,
}

impl RaisedAxle {
    /// Height of the center of gravity: `h = r_d + L (W2 - W1)/(W tan theta) + (r_u - r_d)(1 - W2/W)`, W1 and W2 on the axle
    /// that stays down, level and raised; the tilt is the change of the line between the hubs,
    /// `theta = asin((r_u + H - r_d)/D) - asin((r_u - r_d)/D)`, `D^2 = L^2 + (r_u - r_d)^2`.
    ///
    /// Moments about the hub that stays down, exact for a rigid car; with equal radii it is the textbook's
    /// `h = r + L (W2 - W1)/(W tan theta)`, `tan theta = H/sqrt(L^2 - H^2)`. Same for a lifted front and a lifted rear. None
    /// when the lift is no lift, or as long as the car.
    ///
    /// The axle that stays down always gains while the center of gravity is above the hubs: a height below them from
    /// plausible numbers means that front and rear were swapped. A pound is worth much: raise the axle high.
    pub fn height(&self) -> Option<CgHeight> {
        let rise = self.radius_up_in - self.radius_down_in;
        let hubs_in = self.wheelbase_in.hypot(rise);
        let tilt = ((rise + self.lift_in) / hubs_in).asin() - (rise / hubs_in).asin();
        // An arc sine of more than 1 is NaN.
        if tilt.is_nan() || tilt <= 0.0 {
            return None;
        }
        let in_per_lb = self.wheelbase_in / (self.weight_lb * tilt.tan());
        let height_in = self.radius_down_in
            + (self.raised_lb - self.level_lb) * in_per_lb
            + rise * (1.0 - self.raised_lb / self.weight_lb);
        Some(CgHeight { height_in, tilt_deg: tilt.to_degrees(), in_per_lb: in_per_lb - rise / self.weight_lb })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn no_lift_and_too_much_say_nothing() {
        let weighing = RaisedAxle {
            weight_lb: 3200.0,
            level_lb: 1760.0,
            raised_lb: 1799.0,
            wheelbase_in: 108.0,
            lift_in: 20.0,
            radius_down_in: 13.0,
            radius_up_in: 14.0,
        };
        let height = weighing.height().unwrap();
        let more = RaisedAxle { raised_lb: 1800.0, ..weighing }.height().unwrap();
        assert!((more.height_in - height.height_in - height.in_per_lb).abs() < 1e-9);
        for lift_in in [0.0, -2.0, 120.0, f64::NAN] {
            assert_eq!(RaisedAxle { lift_in, ..weighing }.height(), None, "{lift_in}");
        }
    }
}
