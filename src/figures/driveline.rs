//! Pinion and driveshaft: slopes, working angles, what two joints leave over, what speed allows.

use super::ask::some;
use super::{Ask, Cannot, Def, Got, Of, State, Subject};
use crate::chassis::{
    Driveline, INERTIA_GUIDE_RAD_S2, Joint, LEFT_OVER_GUIDE_RAD_S2, Line, Yokes, rear_joint_limits_deg,
    working_angle_limit_deg,
};

const GEOMETRY: &str = "plane geometry";
const AE7: &str = "SAE AE-7, Universal Joint and Driveshaft Design Manual, sec. 3";
const AE7_GUIDE: &str =
    "SAE AE-7, Universal Joint and Driveshaft Design Manual, sec. 3.1.1; guides from memory, unverified";

fn line(deg: f64) -> Got<Line> {
    Line::sloping(deg).ok_or_else(|| Cannot::Because("a line stands upright".to_owned()))
}

/// The driveshaft's line: from the side, and from above where that is on record.
fn shaft_line(ask: &mut Ask, side_deg: f64) -> Got<Line> {
    let top_deg = match ask.maybe("driveline.shaft_top") {
        Some(top) => top,
        None => {
            ask.assume("driveshaft runs straight back seen from above: no angle of it from there can be relied on");
            0.0
        }
    };
    Line::new(side_deg, top_deg).ok_or_else(|| Cannot::Because("a line stands upright".to_owned()))
}

fn driveline(ask: &mut Ask) -> Got<Driveline> {
    let [transmission, shaft, pinion] =
        ask.nums(["driveline.trans_slope", "driveline.shaft_slope", "rear.pinion.slope"])?;
    Driveline::new(line(transmission)?, shaft_line(ask, shaft)?, line(pinion)?)
        .ok_or_else(|| Cannot::Because("a joint would work at 90 degrees".to_owned()))
}

fn rear_joint(ask: &mut Ask) -> Got<Joint> {
    let [shaft, pinion] = ask.nums(["driveline.shaft_slope", "rear.pinion.slope"])?;
    Joint::between(shaft_line(ask, shaft)?, line(pinion)?)
        .ok_or_else(|| Cannot::Because("a joint would work at 90 degrees".to_owned()))
}

fn left_over(ask: &mut Ask) -> Got<Joint> {
    ask.assume("yokes in line, transmission and pinion straight ahead seen from above");
    driveline(ask)?
        .left_over(Yokes::InPhase)
        .ok_or_else(|| Cannot::Because("what the joints leave over cannot be said".to_owned()))
}

pub(super) const SUBJECT: Subject = Subject {
    title: "Pinion and driveshaft",
    figures: &[
        Def::new("pinion_to_ground", "pinion against the ground, - nose down", "deg", 1, Of::One(|a| a.num("rear.pinion.slope")))
.by("as measured", "measured"),
        Def::new("pinion_to_shaft", "pinion against the driveshaft, - nose down", "deg", 1, Of::One(|a| {
                let [shaft, pinion] = a.nums(["driveline.shaft_slope", "rear.pinion.slope"])?;
                Ok(pinion - shaft)
            }))
.by("slope - driveshaft slope", GEOMETRY),
        Def::new("working_angle_front", "front U-joint working angle", "deg", 1, Of::One(|a| {
                let [transmission, shaft] = a.nums(["driveline.trans_slope", "driveline.shaft_slope"])?;
                some(
                    Joint::between(line(transmission)?, shaft_line(a, shaft)?).map(Joint::angle_deg),
                    "a joint would work at 90 degrees",
                )
            }))
.by("angle between the lines of transmission and driveshaft, side and top view together", AE7),
        Def::new("working_angle_rear", "rear U-joint working angle", "deg", 1, Of::One(|a| Ok(rear_joint(a)?.angle_deg())))
.by("angle between the lines of driveshaft and pinion, side and top view together", AE7),
        Def::new("working_angle_apart", "front less rear working angle", "deg", 1, Of::One(|a| Ok(driveline(a)?.difference_deg())))
.by("0 where the joints cancel", AE7),
        Def::new("working_angle_rear_contact", "rear U-joint working angle", "deg", 1, Of::One(|a| {
                let [shaft, pinion] = a.nums(["driveline.shaft_slope", "pinion_contact"])?;
                some(
                    Joint::between(shaft_line(a, shaft)?, line(pinion)?).map(Joint::angle_deg),
                    "a joint would work at 90 degrees",
                )
            }))
.by("|driveshaft slope - (pinion slope + rise to the limiter)|; driveshaft slope taken unchanged", AE7)
.at(State::AtContact),
        Def::new("speed_variation_rear", "pinion speed, fastest less slowest, rear joint alone", "%", 2, Of::One(|a| Ok(rear_joint(a)?.ratio_spread() * 100.0)))
.by("1/cos b - cos b", AE7),
        Def::new("left_over_angle", "what both joints leave over is one joint at", "deg", 2, Of::One(|a| Ok(left_over(a)?.angle_deg())))
.by("sqrt(|b1^2 - b2^2|) in one plane; with the joints' planes turned by t: e = ((c1 - c2)^2 cos^2 t + (1 - c1 c2)^2 sin^2 t)/(c1 c2), (1 - c)^2/c = e, c = cos b", AE7),
        Def::new("left_over_acceleration", "torsional acceleration that leaves", "rad/s2", 0, Of::One(|a| {
                let joint = left_over(a)?;
                let [rpm] = a.above_zero(["shaft_rpm_trap"])?;
                Ok(joint.short_acceleration_rad_s2(rpm))
            }))
.by("w^2 b^2; guide 400", AE7_GUIDE)
.at(State::AtSpeed),
        Def::new("working_angle_most", "greatest working angle of one joint", "deg", 1, Of::One(|a| {
                let [rpm] = a.above_zero(["shaft_rpm_trap"])?;
                some(
                    working_angle_limit_deg(rpm, INERTIA_GUIDE_RAD_S2),
                    "a driveshaft that slow is not limited by evenness",
                )
            }))
.by("sqrt(1000 rad/s2)/w", AE7_GUIDE)
.at(State::AtSpeed),
        Def::new("working_angle_rear_most", "greatest rear working angle beside the front one", "deg", 1, Of::One(|a| {
                let [rpm] = a.above_zero(["shaft_rpm_trap"])?;
                let [front] = a.nums(["working_angle_front"])?;
                some(
                    rear_joint_limits_deg(front, rpm, LEFT_OVER_GUIDE_RAD_S2).map(|l| l.1),
                    "a driveshaft that slow is not limited by evenness",
                )
            }))
.by("sqrt(b1^2 + 400/w^2)", AE7_GUIDE)
.at(State::AtSpeed),
    ],
};
