//! Four-link: instant center and forces in the bars, seen from the side.

use super::anti_squat_of_slope_pct;

/// A point seen from the side.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Point {
    /// Ahead of the rear axle, in.
    pub ahead_in: f64,
    /// Above the ground, in.
    pub height_in: f64,
}

/// A bar from its hole on the axle to its hole on the chassis.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Link {
    /// On the axle.
    pub rear: Point,
    /// On the chassis.
    pub front: Point,
}

/// Lower and upper bars; of each pair both at one height, level with each other seen from above.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FourLink {
    /// The lower bars.
    pub lower: Link,
    /// The upper bars.
    pub upper: Link,
}

/// Where the bars' lines meet.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum InstantCenter {
    /// At a point.
    At(Point),
    /// Nowhere: the bars are parallel, with this slope, rise over run toward the front.
    Parallel {
        /// Rise over run.
        slope: f64,
    },
}

/// Forces along the bars and what they do, both sides of the car together, lb.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LinkForces {
    /// In the lower bars; + is tension.
    pub lower_lb: f64,
    /// In the upper bars; + is tension.
    pub upper_lb: f64,
    /// Up on the body. The same presses the tires down.
    pub lift_lb: f64,
}

impl Link {
    fn run_rise(&self) -> (f64, f64) {
        (self.front.ahead_in - self.rear.ahead_in, self.front.height_in - self.rear.height_in)
    }

    /// Along the bar toward the front, of length 1, and its moment about the contact patch.
    fn pull(&self) -> (f64, f64, f64) {
        let (run, rise) = self.run_rise();
        let length = run.hypot(rise);
        let (x, y) = (run / length, rise / length);
        (x, y, self.rear.ahead_in * y - self.rear.height_in * x)
    }
}

impl FourLink {
    /// Where the lines of the bars meet: plane geometry. None when a bar has no length or stands upright with the other.
    pub fn instant_center(&self) -> Option<InstantCenter> {
        let ((run_l, rise_l), (run_u, rise_u)) = (self.lower.run_rise(), self.upper.run_rise());
        let lengths = run_l.hypot(rise_l) * run_u.hypot(rise_u);
        if lengths.is_nan() || lengths <= 0.0 {
            return None;
        }
        // The sine of the angle between the bars, and how far along the lower one the meeting is.
        let cross = run_l * rise_u - rise_l * run_u;
        if cross.abs() <= 1e-12 * lengths {
            return (run_l != 0.0).then(|| InstantCenter::Parallel { slope: rise_l / run_l });
        }
        let (dx, dy) = (
            self.upper.rear.ahead_in - self.lower.rear.ahead_in,
            self.upper.rear.height_in - self.lower.rear.height_in,
        );
        let along = (dx * rise_u - dy * run_u) / cross;
        Some(InstantCenter::At(Point {
            ahead_in: self.lower.rear.ahead_in + along * run_l,
            height_in: self.lower.rear.height_in + along * rise_l,
        }))
    }

    /// Anti-squat, %: `100 (y/x)(L/h)` at the instant center, `100 tan(theta)(L/h)` with parallel bars
    /// ([`super::anti_squat_pct`]). None without an instant center, or with one over the axle.
    pub fn anti_squat_pct(&self, wheelbase_in: f64, cg_height_in: f64) -> Option<f64> {
        let slope = match self.instant_center()? {
            InstantCenter::At(ic) => ic.height_in / ic.ahead_in,
            InstantCenter::Parallel { slope } => slope,
        };
        slope.is_finite().then(|| anti_squat_of_slope_pct(slope, wheelbase_in, cg_height_in))
    }

    /// Forces in the bars while the tires push with `thrust_lb`: the axle, without mass, in balance under the thrust at the
    /// contact patch and a pull along each bar (statics). In the usual geometry the lower bars are pressed, the upper
    /// pulled. Anti-roll bar, shocks and the springs' own seats on the axle are left out.
    ///
    /// None when no pull along the bars can hold the axle: the instant center is over the axle.
    pub fn forces(&self, thrust_lb: f64) -> Option<LinkForces> {
        let ((lx, ly, lower_moment), (ux, uy, upper_moment)) = (self.lower.pull(), self.upper.pull());
        let det = lx * upper_moment - ux * lower_moment;
        // Moments are of the size of the bars' heights.
        if det.is_nan() || det.abs() <= 1e-9 * (lower_moment.abs() + upper_moment.abs()) {
            return None;
        }
        let lower_lb = -thrust_lb * upper_moment / det;
        let upper_lb = thrust_lb * lower_moment / det;
        Some(LinkForces { lower_lb, upper_lb, lift_lb: -(lower_lb * ly + upper_lb * uy) })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn bar(rear: (f64, f64), front: (f64, f64)) -> Link {
        let point = |(ahead_in, height_in)| Point { ahead_in, height_in };
        Link { rear: point(rear), front: point(front) }
    }

    #[test]
    fn parallel_bars_have_their_slope() {
        let level = FourLink { lower: bar((0.0, 7.0), (20.0, 7.0)), upper: bar((0.0, 18.0), (16.0, 18.0)) };
        assert_eq!(level.instant_center(), Some(InstantCenter::Parallel { slope: 0.0 }));
        assert_eq!(level.anti_squat_pct(108.0, 20.0), Some(0.0));
        let forces = level.forces(3000.0).unwrap();
        assert!(forces.lift_lb.abs() < 1e-9 && (forces.lower_lb + forces.upper_lb + 3000.0).abs() < 1e-9);
        let up = FourLink { lower: bar((0.0, 7.0), (20.0, 9.0)), upper: bar((0.0, 18.0), (10.0, 19.0)) };
        assert!((up.anti_squat_pct(108.0, 20.0).unwrap() - 54.0).abs() < 1e-9);
        assert!((up.forces(3000.0).unwrap().lift_lb - 300.0).abs() < 1e-9);
    }

    #[test]
    fn what_cannot_be_is_none() {
        let point = FourLink { lower: bar((0.0, 7.0), (0.0, 7.0)), upper: bar((0.0, 18.0), (16.0, 18.0)) };
        assert_eq!((point.instant_center(), point.forces(3000.0)), (None, None));
        // Both lines meet over the axle.
        let over = FourLink { lower: bar((-10.0, 7.0), (10.0, 9.0)), upper: bar((-10.0, 9.0), (10.0, 7.0)) };
        assert_eq!((over.anti_squat_pct(108.0, 20.0), over.forces(3000.0)), (None, None));
    }
}
