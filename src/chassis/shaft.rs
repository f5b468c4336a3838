//! The driveshaft: the lines of transmission, shaft and pinion, the working angles between them, what speed allows, and the
//! speed at which a tube whips.
//!
//! Slopes are as the sheet has them: positive falls toward the rear. A pinion slope is positive nose up, which is the same
//! thing: its line falls toward the rear then.

use super::cardan::{Joint, Vector, cross, dot, length};
use super::rad_s;

/// Guide for what two joints leave over, rad/s2 of torsional acceleration: SAE AE-7, section 3.1.1. From memory; an open
/// reference page on installation angles that quotes AE-7 prints tables made with it.
pub const LEFT_OVER_GUIDE_RAD_S2: f64 = 400.0;
/// Guide for the shaft's own acceleration between its joints, rad/s2: SAE AE-7, section 3.1.1, from memory, unverified.
pub const INERTIA_GUIDE_RAD_S2: f64 = 1_000.0;
/// The guides are written in `w^2 b^2`, small angles. Beyond so many degrees, where that reads 2.5 % low, no limit is given:
/// a shaft that turns that slowly is not limited by evenness.
pub const LIMIT_HOLDS_TO_DEG: f64 = 20.0;
/// Share of a tube's critical speed that a car should stay below: a driveline supplier's open technical page, as quoted in
/// the check values.
pub const USUAL_SHARE_OF_CRITICAL: f64 = 0.7;

/// Standard gravity, in/s2: 9.80665 m/s2 in inches of 0.0254 m (both exact).
const G_IN_S2: f64 = 9.806_65 / 0.025_4;

/// Where a shaft points: rearward and so far down and aside, each under 90 degrees.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Line {
    side_deg: f64,
    top_deg: f64,
}

impl Line {
    /// A line by its slope in the side view (positive falls toward the rear) and its angle in the top view (positive goes to
    /// the right toward the rear), degrees; none at 90 and beyond.
    pub fn new(side_deg: f64, top_deg: f64) -> Option<Line> {
        (side_deg.abs() < 90.0 && top_deg.abs() < 90.0).then_some(Line { side_deg, top_deg })
    }

    /// A line that runs straight back in the top view.
    pub fn sloping(side_deg: f64) -> Option<Line> {
        Line::new(side_deg, 0.0)
    }

    /// Slope in the side view, degrees, positive falling toward the rear.
    pub fn side_deg(self) -> f64 {
        self.side_deg
    }

    /// `(1, tan top, tan side)`.
    pub(super) fn direction(self) -> Vector {
        [1.0, self.top_deg.to_radians().tan(), self.side_deg.to_radians().tan()]
    }
}

/// How the yokes at the two ends of the shaft stand to each other.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Yokes {
    /// In line, as they belong.
    InPhase,
    /// A quarter turn apart: put together wrong.
    QuarterTurnApart,
}

/// Transmission, driveshaft and pinion with the joint at each end of the shaft.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Driveline {
    transmission: Line,
    shaft: Line,
    pinion: Line,
    front: Joint,
    rear: Joint,
}

impl Driveline {
    /// A driveline by its three lines; none where a joint would work at 90 degrees or more.
    pub fn new(transmission: Line, shaft: Line, pinion: Line) -> Option<Driveline> {
        let (front, rear) = (Joint::between(transmission, shaft)?, Joint::between(shaft, pinion)?);
        Some(Driveline { transmission, shaft, pinion, front, rear })
    }

    /// The joint behind the transmission.
    pub fn front(&self) -> Joint {
        self.front
    }

    /// The joint at the pinion.
    pub fn rear(&self) -> Joint {
        self.rear
    }

    /// Front working angle less the rear one, degrees: 0 is equal angles (geometry; driveshaft makers' installation guides).
    pub fn difference_deg(&self) -> f64 {
        self.front.angle_deg() - self.rear.angle_deg()
    }

    /// Slope of the pinion against the shaft in the side view, degrees: negative is nose down to the shaft, as the trade
    /// means a pinion angle of a leaf car.
    pub fn pinion_to_shaft_deg(&self) -> f64 {
        self.pinion.side_deg - self.shaft.side_deg
    }

    /// The same with the axle wound up: the torque turns the pinion's nose up by `nose_up_deg`, which opens or closes the
    /// rear joint by its sign (geometry). The shaft's slope is taken unchanged. In truth the pinion's yoke comes up with the
    /// nose, and the shaft then falls less to the rear by about the yoke's distance from the axle over the shaft's length, a
    /// fifth of the wind-up with 10 in and 50 in; what the body does meanwhile is not in it either.
    pub fn wound_up(&self, nose_up_deg: f64) -> Option<Driveline> {
        let pinion = Line::new(self.pinion.side_deg + nose_up_deg, self.pinion.top_deg)?;
        Driveline::new(self.transmission, self.shaft, pinion)
    }

    /// How far the rear joint's plane is turned about the shaft against the front joint's, degrees: 0 where all three lines
    /// lie in one plane. Of no meaning, and of none where it is used, with a joint that is straight.
    pub fn twist_deg(&self) -> f64 {
        let [transmission, shaft, pinion] = [self.transmission, self.shaft, self.pinion].map(Line::direction);
        let (front, rear) = (cross(transmission, shaft), cross(shaft, pinion));
        length(cross(front, rear)).atan2(dot(front, rear)).to_degrees()
    }

    /// The joint that turns as unevenly as the whole driveline ([`Joint::left_over`]).
    pub fn left_over(&self, yokes: Yokes) -> Option<Joint> {
        let apart = match yokes {
            Yokes::InPhase => 0.0,
            Yokes::QuarterTurnApart => 90.0,
        };
        Joint::left_over(self.front, self.rear, self.twist_deg() + apart)
    }
}

/// The greatest working angle, degrees, of a joint whose `w^2 b^2` stays within `guide_rad_s2` at that shaft speed:
/// `b = sqrt(guide)/w` (SAE AE-7, section 3.1.1). None where it would be beyond [`LIMIT_HOLDS_TO_DEG`], or at rest.
pub fn working_angle_limit_deg(shaft_rpm: f64, guide_rad_s2: f64) -> Option<f64> {
    let limit = (guide_rad_s2.sqrt() / rad_s(shaft_rpm.abs())).to_degrees();
    (limit <= LIMIT_HOLDS_TO_DEG).then_some(limit)
}

/// Least and greatest working angle, degrees, of the other joint for one at `front_deg`, so that what two in one plane and
/// phase leave over stays within `guide_rad_s2`: `sqrt(b1^2 -+ guide/w^2)` (SAE AE-7, section 3.1.1; a least angle below 0
/// is 0). None where [`working_angle_limit_deg`] is.
pub fn rear_joint_limits_deg(front_deg: f64, shaft_rpm: f64, guide_rad_s2: f64) -> Option<(f64, f64)> {
    let alone = working_angle_limit_deg(shaft_rpm, guide_rad_s2)?;
    let front_deg = front_deg.abs();
    let greatest = alone.hypot(front_deg);
    let least = ((front_deg - alone).max(0.0) * (front_deg + alone)).sqrt();
    (greatest <= LIMIT_HOLDS_TO_DEG).then_some((least, greatest))
}

/// What a tube is made of.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Metal {
    /// Modulus of elasticity, psi.
    pub modulus_psi: f64,
    /// Weight, lb/in3.
    pub weight_lb_in3: f64,
}

/// Steel: 30e6 psi, 0.283 lb/in3 (handbook values as in the check values; from memory, grades differ by 1 %).
pub const STEEL: Metal = Metal { modulus_psi: 30e6, weight_lb_in3: 0.283 };
/// Aluminum: 10e6 psi, 0.098 lb/in3 (handbook values as in the check values; from memory, alloys differ by 4 %).
pub const ALUMINUM: Metal = Metal { modulus_psi: 10e6, weight_lb_in3: 0.098 };

/// A driveshaft's tube.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Tube {
    outside_in: f64,
    wall_in: f64,
    metal: Metal,
}

impl Tube {
    /// A tube by outside diameter and wall, in; none where the wall is nothing or more than the half diameter, or the metal
    /// has no stiffness or weight.
    pub fn new(outside_in: f64, wall_in: f64, metal: Metal) -> Option<Tube> {
        let sound = |x: f64| x > 0.0 && x.is_finite();
        let metal_is = sound(metal.modulus_psi) && sound(metal.weight_lb_in3);
        (sound(outside_in) && sound(wall_in) && wall_in <= outside_in / 2.0 && metal_is).then_some(Tube {
            outside_in,
            wall_in,
            metal,
        })
    }

    /// First bending critical speed, rpm, with joints `length_in` apart: `30 pi/L^2 sqrt(E I/(rho A))`, the lowest bending
    /// frequency of a beam on pinned ends, with `I/A = (D^2 + d^2)/16` (Euler-Bernoulli; Shigley, chapter 7, Roark).
    ///
    /// A plain tube on stiff bearings: joints, yokes, a bent or unbalanced tube and soft mounts lower it
    /// ([`USUAL_SHARE_OF_CRITICAL`]).
    pub fn critical_rpm(&self, length_in: f64) -> Option<f64> {
        let inside_in = self.outside_in - 2.0 * self.wall_in;
        let gyration_in2 = (self.outside_in * self.outside_in + inside_in * inside_in) / 16.0;
        let stretch = self.metal.modulus_psi * G_IN_S2 / self.metal.weight_lb_in3;
        let rpm = 30.0 * std::f64::consts::PI / (length_in * length_in) * (stretch * gyration_in2).sqrt();
        (length_in > 0.0 && rpm.is_finite()).then_some(rpm)
    }
}

#[cfg(test)]
mod tests {
    use super::super::left_over_short_deg;
    use super::*;
    use proptest::prelude::*;

    fn close(a: f64, b: f64, within: f64) -> Result<(), TestCaseError> {
        prop_assert!((a - b).abs() <= within, "{a} and {b} are {:.3e} apart", (a - b).abs());
        Ok(())
    }

    fn lines() -> impl Strategy<Value = [(f64, f64); 3]> {
        let line = || (-8.0..8.0_f64, -4.0..4.0_f64);
        [line(), line(), line()]
    }

    fn driveline(lines: [(f64, f64); 3]) -> Driveline {
        let [transmission, shaft, pinion] = lines.map(|(side, top)| Line::new(side, top).unwrap());
        Driveline::new(transmission, shaft, pinion).unwrap()
    }

    fn in_plane(transmission: f64, shaft: f64, pinion: f64) -> Driveline {
        driveline([(transmission, 0.0), (shaft, 0.0), (pinion, 0.0)])
    }

    fn times(a: Vector, by: f64) -> Vector {
        a.map(|x| x * by)
    }

    fn unit(a: Vector) -> Vector {
        times(a, 1.0 / length(a))
    }

    /// Speeds of the pinion for 1 of the transmission over a turn, from where the pins of the two crosses lie in space: a
    /// cross's pins are at right angles, each at right angles to its own shaft.
    fn speeds(lines: [(f64, f64); 3], yokes: Yokes) -> (f64, f64) {
        let [d1, d2, d3] = lines.map(|(side, top)| unit(Line::new(side, top).unwrap().direction()));
        let sideways = |d: Vector| unit(cross(d, [0.0, 0.0, 1.0]));
        let (u1, u3) = (sideways(d1), sideways(d3));
        let (w1, w3) = (cross(d1, u1), cross(d3, u3));
        let out = |turn: f64| {
            let at = |i: usize| u1[i] * turn.cos() + w1[i] * turn.sin();
            let on_shaft = unit(cross([at(0), at(1), at(2)], d2));
            let rear_pin = match yokes {
                Yokes::InPhase => on_shaft,
                Yokes::QuarterTurnApart => cross(d2, on_shaft),
            };
            let pin = cross(rear_pin, d3);
            dot(pin, w3).atan2(dot(pin, u3))
        };
        let h = 1e-5;
        let speed = |turn: f64| {
            // The angle itself jumps by a whole turn once.
            let step = out(turn + h) - out(turn - h);
            (step.sin()).atan2(step.cos()) / (2.0 * h)
        };
        let turns = (0..3_600).map(|i| speed(f64::from(i) * std::f64::consts::PI / 3_600.0));
        turns.fold((f64::INFINITY, 0.0), |(least, most), x| (x.min(least), x.max(most)))
    }

    #[test]
    fn what_has_no_answer() {
        for angle in [90.0, -90.0, f64::NAN, f64::INFINITY] {
            assert!(Line::new(angle, 0.0).is_none() && Line::new(0.0, angle).is_none());
        }
        let [up, level, down] = [-60.0, 0.0, 60.0].map(|a| Line::sloping(a).unwrap());
        assert!(Driveline::new(up, down, level).is_none() && Driveline::new(level, up, down).is_none());
        assert!(in_plane(3.0, 1.0, -2.0).wound_up(95.0).is_none());
        assert!(in_plane(3.0, 1.0, -2.0).wound_up(f64::NAN).is_none());
        for (outside, wall) in [(3.0, 0.0), (3.0, 1.51), (0.0, 0.0), (-3.0, 0.1), (f64::NAN, 0.1), (3.0, f64::NAN)] {
            assert!(Tube::new(outside, wall, STEEL).is_none(), "{outside} {wall}");
        }
        assert!(Tube::new(3.0, 0.083, Metal { modulus_psi: 0.0, ..STEEL }).is_none());
        let tube = Tube::new(3.0, 0.083, STEEL).unwrap();
        for length in [0.0, -48.0, f64::NAN, 1e-200] {
            assert_eq!(tube.critical_rpm(length), None, "{length}");
        }
        for rpm in [0.0, 100.0, f64::NAN] {
            assert_eq!(working_angle_limit_deg(rpm, INERTIA_GUIDE_RAD_S2), None, "{rpm}");
            assert_eq!(rear_joint_limits_deg(3.0, rpm, LEFT_OVER_GUIDE_RAD_S2), None, "{rpm}");
        }
        assert_eq!(rear_joint_limits_deg(19.5, 1_500.0, LEFT_OVER_GUIDE_RAD_S2), None);
    }

    /// A leaf car: nose 5 down to the shaft at rest, level with it when 5 degrees wind up.
    #[test]
    fn wind_up_takes_the_nose_up() {
        let rest = in_plane(2.5, 1.5, -3.5);
        assert_eq!(rest.pinion_to_shaft_deg(), -5.0);
        let loaded = rest.wound_up(5.0).unwrap();
        assert_eq!((loaded.rear().angle_deg(), loaded.pinion_to_shaft_deg()), (0.0, 0.0));
        assert_eq!(loaded.pinion.side_deg(), 1.5);
        assert!(rest.wound_up(-1.0).unwrap().rear().angle_deg() > rest.rear().angle_deg());
    }

    #[test]
    fn a_rod_is_the_thickest_tube() {
        // 30 pi/L^2 (D/4) sqrt(E g/rho).
        let rod = Tube::new(2.0, 1.0, STEEL).unwrap().critical_rpm(50.0).unwrap();
        let by_hand = 30.0 * std::f64::consts::PI / 2_500.0 * 0.5 * (30e6 * 386.088_582_677 / 0.283_f64).sqrt();
        assert!((rod / by_hand - 1.0).abs() < 1e-9, "{rod} {by_hand}");
    }

    proptest! {
        #![proptest_config(ProptestConfig { cases: 300, failure_persistence: None, ..ProptestConfig::default() })]

        #[test]
        fn compound_is_no_less_than_what_each_view_shows(side in -60.0..60.0_f64, top in -60.0..60.0_f64) {
            let level = Line::sloping(0.0).unwrap();
            let compound = Joint::between(level, Line::new(side, top).unwrap()).unwrap().angle_deg();
            prop_assert!(compound >= side.abs() - 1e-12 && compound >= top.abs() - 1e-12);
            prop_assert!(compound <= side.hypot(top) + 1e-12);
            let one = Joint::between(level, Line::sloping(side).unwrap()).unwrap().angle_deg();
            close(one, side.abs(), 1e-12)?;
        }

        /// A mirrored car has the same angles, and so has one that is tilted as a whole in the side view.
        #[test]
        fn mirrored_and_tilted(lines in lines(), tilt in -3.0..3.0_f64) {
            let (a, b) = (driveline(lines), driveline(lines.map(|(side, top)| (side, -top))));
            for (a, b) in [(a.front(), b.front()), (a.rear(), b.rear())] {
                close(a.angle_deg(), b.angle_deg(), 1e-12)?;
            }
            close(a.twist_deg(), b.twist_deg(), 1e-6)?;
            let [(t, _), (s, _), (p, _)] = lines;
            let (flat, tilted) = (in_plane(t, s, p), in_plane(t + tilt, s + tilt, p + tilt));
            close(flat.front().angle_deg(), (t - s).abs(), 1e-12)?;
            close(tilted.rear().angle_deg(), flat.rear().angle_deg(), 1e-12)?;
            close(tilted.difference_deg(), flat.difference_deg(), 1e-12)?;
        }

        #[test]
        fn equal_and_opposite_leave_nothing(slope in -8.0..8.0_f64, shaft in -8.0..8.0_f64, top in -4.0..4.0_f64) {
            // Parallel ends, and ends that are bent the same way: a broken back.
            for lines in [[(slope, 0.0), (shaft, top), (slope, 0.0)], [(shaft - slope, 0.0), (shaft, 0.0), (shaft + slope, 0.0)]] {
                let even = driveline(lines);
                close(even.difference_deg(), 0.0, 1e-12)?;
                close(even.left_over(Yokes::InPhase).unwrap().angle_deg(), 0.0, 1e-5)?;
                let wrong = even.left_over(Yokes::QuarterTurnApart).unwrap().angle_deg();
                let both = even.front().angle_deg().hypot(even.rear().angle_deg());
                close(wrong, both, 0.01 * both + 1e-9)?;
            }
        }

        /// In space, with planes that are turned against each other.
        #[test]
        fn left_over_is_what_the_pins_do(lines in lines(), wrong in any::<bool>()) {
            let yokes = if wrong { Yokes::QuarterTurnApart } else { Yokes::InPhase };
            let one = driveline(lines).left_over(yokes).unwrap();
            let (least, most) = speeds(lines, yokes);
            close(most, one.greatest_ratio(), 1e-6)?;
            close(least, one.least_ratio(), 1e-6)?;
        }

        #[test]
        fn limits_are_where_the_guide_is(front in 0.0..8.0_f64, rpm in 1_500.0..9_000.0_f64) {
            let w2 = rad_s(rpm).powi(2);
            let alone = working_angle_limit_deg(rpm, INERTIA_GUIDE_RAD_S2).unwrap();
            close(Joint::new(alone).unwrap().short_acceleration_rad_s2(rpm), INERTIA_GUIDE_RAD_S2, 1e-9)?;
            prop_assert!(working_angle_limit_deg(rpm * 1.01, INERTIA_GUIDE_RAD_S2).unwrap() < alone);
            let (least, greatest) = rear_joint_limits_deg(front, rpm, LEFT_OVER_GUIDE_RAD_S2).unwrap();
            prop_assert!(least <= front && front < greatest);
            let left = |rear: f64| w2 * left_over_short_deg(front, rear, 0.0).to_radians().powi(2);
            close(left(greatest), LEFT_OVER_GUIDE_RAD_S2, 1e-8)?;
            prop_assert!(left(least) <= LEFT_OVER_GUIDE_RAD_S2 + 1e-8);
            if least > 0.0 {
                close(left(least), LEFT_OVER_GUIDE_RAD_S2, 1e-8)?;
            }
        }

        #[test]
        fn longer_is_slower_and_bigger_is_faster(
            outside in 2.0..5.0_f64, wall in 0.06..0.25_f64, length in 30.0..65.0_f64, more in 0.01..1.0_f64,
        ) {
            let rpm = |outside: f64, wall: f64, length: f64, metal: Metal| {
                Tube::new(outside, wall, metal).unwrap().critical_rpm(length).unwrap()
            };
            let at = rpm(outside, wall, length, STEEL);
            close(rpm(outside, wall, 2.0 * length, STEEL) * 4.0 / at, 1.0, 1e-12)?;
            close(rpm(outside, wall, length * (1.0 + more), STEEL) * (1.0 + more).powi(2) / at, 1.0, 1e-12)?;
            prop_assert!(rpm(outside + more, wall, length, STEEL) > at);
            prop_assert!(rpm(outside, wall + 0.1 * more, length, STEEL) < at);
            // All dimensions twice: half the speed.
            close(rpm(2.0 * outside, 2.0 * wall, 2.0 * length, STEEL) * 2.0 / at, 1.0, 1e-12)?;
            let heavy = Metal { weight_lb_in3: 4.0 * STEEL.weight_lb_in3, ..STEEL };
            close(rpm(outside, wall, length, heavy) * 2.0 / at, 1.0, 1e-12)?;
            prop_assert!(rpm(outside, wall, length, ALUMINUM) < at * 1.02);
        }
    }
}
