//! What stands on the scales, and where the center of gravity is.

use super::{Def, Of, State, Subject};
use crate::chassis::{Corners, Shares};

const SCALES: &str = "arithmetic";
/// A door car's center of gravity, in, where none was measured.
const ASSUMED_CG_IN: f64 = 20.0;

/// A share of the corners, %.
const fn share(
    name: &'static str,
    label: &'static str,
    formula: &'static str,
    of: fn(&mut super::Ask) -> super::Got<f64>,
) -> Def {
    Def {
        name,
        label,
        unit: "%",
        decimals: 1,
        state: State::AtRest,
        chassis: &[],
        formula,
        source: SCALES,
        shown: true,
        of: Of::One(of),
    }
}

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
        share("front_share", "on the front wheels", "(LF + RF)/(LF + RF + LR + RR)", |a| Ok(shares(a)?.front_pct)),
        share("left_share", "on the left wheels", "(LF + LR)/(LF + RF + LR + RR)", |a| Ok(shares(a)?.left_pct)),
        Def {
            decimals: 2,
            ..share("cross_share", "cross, right front and left rear", "(RF + LR)/(LF + RF + LR + RR)", |a| {
                Ok(shares(a)?.cross_rf_lr_pct)
            })
        },
        Def {
            name: "rear_difference",
            label: "right rear over left rear",
            unit: "lb",
            decimals: 0,
            state: State::AtRest,
            chassis: &[],
            formula: "RR - LR",
            source: SCALES,
            shown: true,
            of: Of::One(|a| {
                let [lr, rr] = a.above_zero(["weight.corner.lr", "weight.corner.rr"])?;
                Ok(rr - lr)
            }),
        },
        Def {
            name: "corners_over_total",
            label: "corners together over total weight",
            unit: "lb",
            decimals: 0,
            state: State::AtRest,
            chassis: &[],
            formula: "LF + RF + LR + RR - total",
            source: SCALES,
            shown: false,
            of: Of::One(|a| {
                let [total] = a.above_zero(["weight.total"])?;
                Ok(corners(a)?.total_lb() - total)
            }),
        },
        Def {
            name: "rear_axle_load",
            label: "load on the rear axle",
            unit: "lb",
            decimals: 0,
            state: State::AtRest,
            chassis: &[],
            formula: "LR + RR",
            source: SCALES,
            shown: true,
            of: Of::One(|a| {
                let [lr, rr] = a.above_zero(["weight.corner.lr", "weight.corner.rr"])?;
                Ok(lr + rr)
            }),
        },
        Def {
            name: "cg_height",
            label: "center of gravity above the ground",
            unit: "in",
            decimals: 2,
            state: State::AtRest,
            chassis: &[],
            formula: "h = r + L (W2 - W1)/(W tan tilt), weighed with one axle raised (numbers --cg)",
            source: "moments about the hub that stays down, own algebra; Gillespie, Fundamentals of Vehicle Dynamics, ch. 1",
            shown: true,
            of: Of::One(|a| match a.maybe("weight.cg_height") {
                Some(h) if h > 0.0 => Ok(h),
                _ => {
                    a.assume(format!(
                        "center of gravity {ASSUMED_CG_IN:.0} in high, as a door car's often is (18 to 22 in; common practice, no source); weigh it: numbers --cg"
                    ));
                    a.number("assumed", "center of gravity height, assumed", "in", ASSUMED_CG_IN);
                    Ok(ASSUMED_CG_IN)
                }
            }),
        },
        Def {
            name: "cg_behind_front",
            label: "center of gravity behind the front axle",
            unit: "in",
            decimals: 2,
            state: State::AtRest,
            chassis: &[],
            formula: "L (LR + RR)/(LF + RF + LR + RR)",
            source: "moments about the front contact, own algebra",
            shown: true,
            of: Of::One(|a| {
                let [wheelbase] = a.above_zero(["frame.wheelbase"])?;
                Ok(wheelbase * shares(a)?.rear_pct / 100.0)
            }),
        },
    ],
};
