//! What stands on the scales, and where the center of gravity is.

use super::{Def, Of, Subject};
use crate::chassis::{Corners, Shares};

const SCALES: &str = "arithmetic";
/// A door car's center of gravity, in, where none was measured.
const ASSUMED_CG_IN: f64 = 20.0;

fn corners(ask: &mut super::Ask) -> super::Got<Corners> {
    let [lf_lb, rf_lb, lr_lb, rr_lb] =
        ask.above_zero(["weight.corner.lf", "weight.corner.rf", "weight.corner.lr", "weight.corner.rr"])?;
    Ok(Corners { lf_lb, rf_lb, lr_lb, rr_lb })
}

fn shares(ask: &mut super::Ask) -> super::Got<Shares> {
    corners(ask)?.shares().ok_or_else(|| super::Cannot::Because("the corners add to nothing".to_owned()))
}

pub(super) const SUBJECT: Subject = Subject {
    title: "Weight",
    figures: &[
        Def::new("front_share", "on the front wheels", "%", 1, Of::One(|a| Ok(shares(a)?.front_pct)))
.by("(LF + RF)/(LF + RF + LR + RR)", SCALES),
        Def::new("left_share", "on the left wheels", "%", 1, Of::One(|a| Ok(shares(a)?.left_pct)))
.by("(LF + LR)/(LF + RF + LR + RR)", SCALES),
        Def::new("cross_share", "cross, right front and left rear", "%", 2, Of::One(|a| {
                Ok(shares(a)?.cross_rf_lr_pct)
            }))
.by("(RF + LR)/(LF + RF + LR + RR)", SCALES),
        Def::new("rear_difference", "right rear over left rear", "lb", 0, Of::One(|a| {
                let [lr, rr] = a.above_zero(["weight.corner.lr", "weight.corner.rr"])?;
                Ok(rr - lr)
            }))
.by("RR - LR", SCALES),
        Def::new("corners_over_total", "corners together over total weight", "lb", 0, Of::One(|a| {
                let [total] = a.above_zero(["weight.total"])?;
                Ok(corners(a)?.total_lb() - total)
            }))
.by("LF + RF + LR + RR - total", SCALES)
.hidden(),
        Def::new("rear_axle_load", "load on the rear axle", "lb", 0, Of::One(|a| {
                let [lr, rr] = a.above_zero(["weight.corner.lr", "weight.corner.rr"])?;
                Ok(lr + rr)
            }))
.by("LR + RR", SCALES),
        Def::new("cg_height", "center of gravity above the ground", "in", 2, Of::One(|a| match a.maybe("weight.cg_height") {
                Some(h) if h > 0.0 => Ok(h),
                _ => {
                    a.assume(format!(
                        "center of gravity {ASSUMED_CG_IN:.0} in high, as a door car's often is (18 to 22 in; common practice, no source); weigh it: numbers --cg"
                    ));
                    a.number("assumed", "center of gravity height, assumed", "in", ASSUMED_CG_IN);
                    Ok(ASSUMED_CG_IN)
                }
            }))
.by("h = r + L (W2 - W1)/(W tan tilt), weighed with one axle raised (numbers --cg)", "moments about the hub that stays down, own algebra; Gillespie, Fundamentals of Vehicle Dynamics, ch. 1"),
        Def::new("cg_behind_front", "center of gravity behind the front axle", "in", 2, Of::One(|a| {
                let [wheelbase] = a.above_zero(["frame.wheelbase"])?;
                Ok(wheelbase * shares(a)?.rear_pct / 100.0)
            }))
.by("L (LR + RR)/(LF + RF + LR + RR)", "moments about the front contact, own algebra"),
    ],
};
