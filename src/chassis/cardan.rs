//! The cardan joint (U-joint): how unevenly it turns, and what two of them leave over.
//!
//! Sources: SAE AE-7, Universal Joint and Driveshaft Design Manual, section 3 (forms from memory) and the theory-of-machines
//! texts; the exact forms are own algebra from the joint's motion, `tan(out) = tan(in)/cos b`. Kinematics only: stiff
//! parts, no play, the driving side turns steadily.

use super::rad_s;
use super::shaft::Line;

/// One joint at its working angle b, which is 0 to under 90 degrees: at 90 nothing turns.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Joint {
    angle_rad: f64,
}

impl Joint {
    /// A joint at a working angle, degrees to either side; none at 90 and beyond.
    pub fn new(angle_deg: f64) -> Option<Joint> {
        Joint::of(angle_deg.abs().to_radians())
    }

    /// The joint between two lines: the angle of their directions in space, from slope and top view together (the trade's
    /// compound angle). `cos b = v1.v2/(|v1| |v2|)` with `v = (1, tan top, tan side)`, taken by cross and dot product
    /// because an arc cosine loses small angles (vector algebra). The workshop's `sqrt(top^2 + side^2)` reads 0.1 % high
    /// at 5 degrees.
    pub fn between(a: Line, b: Line) -> Option<Joint> {
        let (a, b) = (a.direction(), b.direction());
        Joint::of(length(cross(a, b)).atan2(dot(a, b)))
    }

    /// The joint whose driven side swings by `swing_rpm` between slowest and fastest when it is driven at `rpm`:
    /// `1/cos b - cos b = q`, so `cos b = 2/(q + sqrt(q^2 + 4))`, q the swing over the speed (theory of machines).
    pub fn of_swing(rpm: f64, swing_rpm: f64) -> Option<Joint> {
        let q = swing_rpm / rpm;
        // NaN is outside, too; at the upper end the joint is within a millionth of a degree of 90.
        if !(0.0..1e8).contains(&q) {
            return None;
        }
        let cosine = 2.0 / (q + q.hypot(2.0));
        Joint::of_cosine(cosine, q * cosine / (1.0 + cosine))
    }

    /// The joint that turns as unevenly as two at the ends of a shaft: what they leave over of each other. `twist_deg` is
    /// how far the plane of the rear joint, or its yoke, is turned about the shaft against the front one's: 0 for one plane
    /// and yokes in phase, 90 for one plane and a yoke put on a quarter turn wrong.
    ///
    /// Exact for every angle and twist: each joint is a stretch of the turning circle, by cos b across its plane, and two
    /// stretches with a turn between them are one stretch. With `e = ((c1 - c2)^2 cos^2 t + (1 - c1 c2)^2 sin^2 t)/(c1 c2)`
    /// the stretch c left over has `(1 - c)^2/c = e` (own algebra). Limits: at 0 `c = cos(greater)/cos(less)`, at 90
    /// `c = c1 c2`, which are the textbook forms. None where next to nothing turns.
    pub fn left_over(front: Joint, rear: Joint, twist_deg: f64) -> Option<Joint> {
        let (c1, c2) = (front.cosine(), rear.cosine());
        // c1 - c2 and 1 - c1 c2 without taking near numbers from each other.
        let half = |angle: f64| (angle / 2.0).sin();
        let apart = 2.0 * half(front.angle_rad + rear.angle_rad) * half(rear.angle_rad - front.angle_rad);
        let both = front.versine() + c1 * rear.versine();
        let (sin, cos) = twist_deg.to_radians().sin_cos();
        let root = (apart * cos).hypot(both * sin) / (c1 * c2).sqrt();
        // From (1 - c)/sqrt c = root.
        let root_cosine = 2.0 / (root + root.hypot(2.0));
        Joint::of_cosine(root_cosine * root_cosine, root * root_cosine)
    }

    fn of(angle_rad: f64) -> Option<Joint> {
        (angle_rad < std::f64::consts::FRAC_PI_2).then_some(Joint { angle_rad })
    }

    /// By `tan^2(b/2) = (1 - cos b)/(1 + cos b)`, which keeps small angles.
    fn of_cosine(cosine: f64, one_less_cosine: f64) -> Option<Joint> {
        Joint::of(2.0 * (one_less_cosine / (1.0 + cosine)).sqrt().atan())
    }

    fn cosine(self) -> f64 {
        self.angle_rad.cos()
    }

    /// `1 - cos b`.
    fn versine(self) -> f64 {
        2.0 * (self.angle_rad / 2.0).sin().powi(2)
    }

    /// The working angle, degrees.
    pub fn angle_deg(self) -> f64 {
        self.angle_rad.to_degrees()
    }

    /// Speed of the driven side for 1 of the driving side, at a turn of the driving yoke from the plane of the two lines:
    /// `cos b/(1 - sin^2 b cos^2 th)` (SAE AE-7, section 3). Twice a turn it is `1/cos b` and `cos b`.
    pub fn ratio(self, turn_deg: f64) -> f64 {
        let (sin, cos) = turn_deg.to_radians().sin_cos();
        // 1 - sin^2 b cos^2 th, as a sum of squares.
        let across = sin * sin + (self.cosine() * cos).powi(2);
        self.cosine() / across
    }

    /// The slowest the driven side turns for 1 of the driving side: `cos b`.
    pub fn least_ratio(self) -> f64 {
        self.cosine()
    }

    /// The fastest: `1/cos b`.
    pub fn greatest_ratio(self) -> f64 {
        1.0 / self.cosine()
    }

    /// Fastest less slowest, for 1 of the driving side: `1/cos b - cos b = sin b tan b`.
    pub fn ratio_spread(self) -> f64 {
        self.angle_rad.sin() * self.angle_rad.tan()
    }

    /// How far the driven side has turned, degrees, when the driving yoke has turned so far from the plane of the lines:
    /// `tan(out) = tan(in)/cos b`.
    pub fn turned_deg(self, turn_deg: f64) -> f64 {
        turn_deg + self.lead_deg(turn_deg)
    }

    /// How far the driven side is ahead there, degrees: `tan(lead) = (1 - c) sin th cos th/(c cos^2 th + sin^2 th)` with
    /// c = cos b, the difference of the two angles of [`Joint::turned_deg`].
    fn lead_deg(self, turn_deg: f64) -> f64 {
        let (sin, cos) = turn_deg.to_radians().sin_cos();
        (self.versine() * sin * cos).atan2(self.cosine() * cos * cos + sin * sin).to_degrees()
    }

    /// The most the driven side gets ahead and behind, degrees: `tan = (1 - c)/(2 sqrt c)` with c = cos b (theory of
    /// machines).
    pub fn greatest_lead_deg(self) -> f64 {
        (self.versine() / (2.0 * self.cosine().sqrt())).atan().to_degrees()
    }

    /// The turn from the plane of the lines, degrees, where both sides turn equally fast: `tan th = sqrt(cos b)` (theory of
    /// machines). So do they at 180 less this, and half a turn on.
    pub fn equal_speed_deg(self) -> f64 {
        self.cosine().sqrt().atan().to_degrees()
    }

    /// Angular acceleration of the driven side, rad/s2, with the driving side at a steady `rpm`:
    /// `-w^2 cos b sin^2 b sin(2 th)/(1 - sin^2 b cos^2 th)^2`, the change of [`Joint::ratio`].
    pub fn acceleration_rad_s2(self, rpm: f64, turn_deg: f64) -> f64 {
        let turn = turn_deg.to_radians();
        let across = turn.sin().powi(2) + (self.cosine() * turn.cos()).powi(2);
        -rad_s(rpm).powi(2) * self.cosine() * self.angle_rad.sin().powi(2) * (2.0 * turn).sin() / (across * across)
    }

    /// The greatest of it over a turn, rad/s2: at `cos(2 th) = 4k/(1 + sqrt(1 + 8k^2))`, `k = sin^2 b/(2 - sin^2 b)`, where
    /// its derivative is 0 (own algebra).
    pub fn greatest_acceleration_rad_s2(self, rpm: f64) -> f64 {
        let square = self.angle_rad.sin().powi(2);
        let k = square / (2.0 - square);
        let cos_twice = 4.0 * k / (1.0 + (1.0 + 8.0 * k * k).sqrt());
        self.acceleration_rad_s2(rpm, cos_twice.clamp(-1.0, 1.0).acos().to_degrees() / 2.0).abs()
    }

    /// The short form of it that the guides are written in, rad/s2: `w^2 b^2`, b in radians (SAE AE-7, section 3.1.1). It
    /// reads 0.05 % low at 3 degrees, 0.2 % at 6 and 0.5 % at 10.
    pub fn short_acceleration_rad_s2(self, rpm: f64) -> f64 {
        (rad_s(rpm) * self.angle_rad).powi(2)
    }
}

/// [`Joint::left_over`] in the short form of the guides, degrees: `sqrt(|b1^2 - b2^2|)` in one plane and phase,
/// `sqrt(b1^2 + b2^2)` at 90 degrees, and between them `((b1^2 - b2^2)^2 cos^2 t + (b1^2 + b2^2)^2 sin^2 t)^(1/4)` (SAE AE-7,
/// section 3.1.1; between them own algebra). Small angles: 0.02 % low at 3 and 2 degrees, 0.2 % at 6.5 and 6.
pub fn left_over_short_deg(front_deg: f64, rear_deg: f64, twist_deg: f64) -> f64 {
    let apart = (front_deg - rear_deg) * (front_deg + rear_deg);
    let (sin, cos) = twist_deg.to_radians().sin_cos();
    (apart * cos).hypot((front_deg * front_deg + rear_deg * rear_deg) * sin).sqrt()
}

/// A vector: rearward, to the side, down.
pub(super) type Vector = [f64; 3];

pub(super) fn dot(a: Vector, b: Vector) -> f64 {
    a[0] * b[0] + a[1] * b[1] + a[2] * b[2]
}

pub(super) fn cross(a: Vector, b: Vector) -> Vector {
    [a[1] * b[2] - a[2] * b[1], a[2] * b[0] - a[0] * b[2], a[0] * b[1] - a[1] * b[0]]
}

pub(super) fn length(a: Vector) -> f64 {
    dot(a, a).sqrt()
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn joint(angle_deg: f64) -> Joint {
        Joint::new(angle_deg).unwrap()
    }

    fn close(a: f64, b: f64, within: f64) -> Result<(), TestCaseError> {
        prop_assert!((a - b).abs() <= within, "{a} and {b} are {:.3e} apart", (a - b).abs());
        Ok(())
    }

    /// Two joints in a row, each by its own motion: where the far side is, degrees, when the near side has turned so far.
    /// The yoke at the rear end of the shaft stands across the one that the front joint drives.
    fn through(front: Joint, rear: Joint, twist_deg: f64, turn_deg: f64) -> f64 {
        rear.turned_deg(front.turned_deg(turn_deg) + 90.0 + twist_deg) - 90.0 - twist_deg
    }

    #[test]
    fn what_is_no_joint() {
        for angle in [90.0, -90.0, 135.0, f64::INFINITY, f64::NAN] {
            assert_eq!(Joint::new(angle), None);
        }
        assert_eq!(Joint::new(-3.0), Joint::new(3.0));
        for (rpm, swing) in [(0.0, 0.0), (0.0, 1.0), (1_000.0, -1.0), (-1_000.0, 1.0), (f64::NAN, 1.0), (1.0, f64::MAX)]
        {
            assert_eq!(Joint::of_swing(rpm, swing), None, "{rpm} {swing}");
        }
    }

    #[test]
    fn a_straight_joint_is_no_joint() {
        let straight = joint(0.0);
        for turn in 0..720 {
            let turn = f64::from(turn);
            assert!((straight.ratio(turn) - 1.0).abs() < 1e-15);
            assert_eq!(straight.turned_deg(turn), turn);
            assert_eq!(straight.acceleration_rad_s2(8_000.0, turn).abs(), 0.0);
        }
        assert_eq!((straight.ratio_spread(), straight.greatest_lead_deg()), (0.0, 0.0));
        assert_eq!(straight.greatest_acceleration_rad_s2(8_000.0), 0.0);
        assert_eq!(Joint::of_swing(6_000.0, 0.0), Some(straight));
    }

    /// The doc comments' figures for what the short forms lose.
    #[test]
    fn how_near_the_short_forms_are() {
        let low = |short: f64, exact: f64| 100.0 * (1.0 - short / exact);
        for (angle, percent) in [(3.0, 0.05), (6.0, 0.2), (10.0, 0.5), (20.0, 2.5)] {
            let b = joint(angle);
            let off = low(b.short_acceleration_rad_s2(6_000.0), b.greatest_acceleration_rad_s2(6_000.0));
            assert!((off - percent).abs() < 0.1 * percent + 0.02, "{angle}: {off}");
        }
        for (front, rear, percent) in [(3.0, 2.0, 0.02), (6.5, 6.0, 0.18)] {
            let exact = Joint::left_over(joint(front), joint(rear), 0.0).unwrap().angle_deg();
            let off = low(left_over_short_deg(front, rear, 0.0), exact);
            assert!((off - percent).abs() < 0.01, "{front} {rear}: {off}");
        }
    }

    proptest! {
        #![proptest_config(ProptestConfig { cases: 500, failure_persistence: None, ..ProptestConfig::default() })]

        #[test]
        fn fastest_times_slowest_is_one(angle in 0.0..60.0_f64, turn in -360.0..360.0_f64) {
            let b = joint(angle);
            close(b.least_ratio() * b.greatest_ratio(), 1.0, 1e-15)?;
            close(b.greatest_ratio() - b.least_ratio(), b.ratio_spread(), 1e-14)?;
            close(b.ratio(0.0), b.greatest_ratio(), 1e-14)?;
            close(b.ratio(90.0), b.least_ratio(), 1e-14)?;
            let here = b.ratio(turn);
            prop_assert!(b.least_ratio() - 1e-14 <= here && here <= b.greatest_ratio() + 1e-14);
            // Half a turn on it is as it was, and the other way round as well.
            close(b.ratio(turn + 180.0), here, 1e-12)?;
            close(b.ratio(-turn), here, 1e-14)?;
            let back = Joint::of_swing(6_000.0, 6_000.0 * b.ratio_spread()).unwrap();
            close(back.angle_deg(), angle, 1e-12)?;
        }

        #[test]
        fn it_crosses_twice_in_half_a_turn(angle in 0.01..60.0_f64) {
            let b = joint(angle);
            let cross = b.equal_speed_deg();
            close(cross.to_radians().tan(), b.least_ratio().sqrt(), 1e-14)?;
            close(b.ratio(cross), 1.0, 1e-13)?;
            close(b.ratio(180.0 - cross), 1.0, 1e-13)?;
            let steps = 1_800;
            let faster = |i: i32| b.ratio(180.0 * (f64::from(i) + 0.5) / f64::from(steps)) > 1.0;
            prop_assert_eq!((0..steps).filter(|i| faster(*i) != faster(i + 1)).count(), 2);
            // Where both are equally fast the driven side is furthest ahead or behind.
            close(b.turned_deg(cross) - cross, b.greatest_lead_deg(), 1e-12)?;
            close(b.turned_deg(-cross) + cross, -b.greatest_lead_deg(), 1e-12)?;
        }

        #[test]
        fn ratio_and_acceleration_are_changes(angle in 0.0..45.0_f64, turn in -180.0..180.0_f64) {
            let (b, h) = (joint(angle), 1e-3);
            let change = |of: &dyn Fn(f64) -> f64| (of(turn + h) - of(turn - h)) / (2.0 * h);
            close(change(&|t| b.turned_deg(t)), b.ratio(turn), 1e-7)?;
            let per_turn = change(&|t| b.ratio(t)).to_degrees();
            let w = 6_000.0 * std::f64::consts::PI / 30.0;
            close(b.acceleration_rad_s2(6_000.0, turn) / (w * w), per_turn, 1e-6)?;
            prop_assert!(b.acceleration_rad_s2(6_000.0, turn).abs() <= b.greatest_acceleration_rad_s2(6_000.0) + 1e-6);
            let most = (0..=3_600).map(|i| b.acceleration_rad_s2(6_000.0, f64::from(i) / 20.0)).fold(0.0, f64::max);
            close(most / (w * w), b.greatest_acceleration_rad_s2(6_000.0) / (w * w), 1e-5)?;
        }

        #[test]
        fn more_angle_is_less_even(angle in 0.0..59.0_f64, more in 0.01..1.0_f64, rpm in 500.0..9_000.0_f64) {
            let (less, more) = (joint(angle), joint(angle + more));
            prop_assert!(less.ratio_spread() < more.ratio_spread());
            prop_assert!(less.greatest_lead_deg() < more.greatest_lead_deg());
            prop_assert!(less.greatest_acceleration_rad_s2(rpm) < more.greatest_acceleration_rad_s2(rpm));
        }

        #[test]
        fn equal_joints_in_phase_leave_nothing(angle in 0.0..60.0_f64, turn in -180.0..180.0_f64) {
            let b = joint(angle);
            prop_assert_eq!(Joint::left_over(b, b, 0.0), Joint::new(0.0));
            prop_assert_eq!(left_over_short_deg(angle, angle, 0.0), 0.0);
            close(through(b, b, 0.0, turn), turn, 1e-10)?;
        }

        /// What the two do, followed through the turn, is what the one left over does.
        #[test]
        fn two_joints_are_one(front in 0.0..30.0_f64, rear in 0.0..30.0_f64, twist in -180.0..180.0_f64) {
            let (b1, b2) = (joint(front), joint(rear));
            let one = Joint::left_over(b1, b2, twist).unwrap();
            let speed = |turn: f64| {
                let shaft = b1.turned_deg(turn);
                b1.ratio(turn) * b2.ratio(shaft + 90.0 + twist)
            };
            let speeds = || (0..3_600).map(|i| speed(f64::from(i) / 20.0));
            close(speeds().fold(0.0, f64::max), one.greatest_ratio(), 1e-6)?;
            close(speeds().fold(9.0, f64::min), one.least_ratio(), 1e-6)?;
            // Front and rear may change places; a mirrored car has the twist the other way.
            for other in [Joint::left_over(b2, b1, twist), Joint::left_over(b1, b2, -twist)] {
                close(other.unwrap().angle_deg(), one.angle_deg(), 1e-9)?;
            }
            let phase = Joint::left_over(b1, b2, 0.0).unwrap().angle_deg();
            let across = Joint::left_over(b1, b2, 90.0).unwrap().angle_deg();
            prop_assert!(phase <= one.angle_deg() + 1e-9 && one.angle_deg() <= across + 1e-9);
            close(across.to_radians().cos(), b1.least_ratio() * b2.least_ratio(), 1e-14)?;
            let even = b1.least_ratio().min(b2.least_ratio()) / b1.least_ratio().max(b2.least_ratio());
            close(phase.to_radians().cos(), even, 1e-14)?;
        }

        #[test]
        fn the_short_form_is_near(front in 0.0..7.0_f64, rear in 0.0..7.0_f64, twist in -180.0..180.0_f64) {
            let exact = Joint::left_over(joint(front), joint(rear), twist).unwrap().angle_deg();
            close(left_over_short_deg(front, rear, twist), exact, 0.006 * exact + 1e-9)?;
            close(left_over_short_deg(front, rear, 90.0), front.hypot(rear), 1e-12)?;
        }
    }
}
