//! Travel: what shocks and stops leave.

use super::{Ask, Def, Got, Of, State, Subject};

const fn side(
    name: &'static str,
    label: &'static str,
    unit: &'static str,
    formula: &'static str,
    shown: bool,
    of: fn(&mut Ask) -> Got<f64>,
) -> Def {
    Def {
        name,
        label,
        unit,
        decimals: 2,
        state: State::AtRest,
        chassis: &[],
        formula,
        source: "arithmetic",
        shown,
        of: Of::Side(of),
    }
}

const LEFT: &str = "extended - collapsed - shaft showing at rest";

pub(super) const SUBJECT: Subject = Subject {
    title: "Travel and toe",
    figures: &[
        side("front_shock_travel_out", "front shock travel left, out of rest", "in", LEFT, true, |a| {
            let [long, short, shaft] =
                a.nums(["front.shock.extended", "front.shock.collapsed", "front.shock.shaft_at_rest"])?;
            Ok(long - short - shaft)
        }),
        side("rear_shock_travel_out", "rear shock travel left, out of rest", "in", LEFT, true, |a| {
            let [long, short, shaft] =
                a.nums(["rear.shock.extended", "rear.shock.collapsed", "rear.shock.shaft_at_rest"])?;
            Ok(long - short - shaft)
        }),
        side(
            "front_shock_short",
            "the front shock tops out before the rise is used by",
            "in",
            "rise available - shock travel left over the shock's travel for an inch of the wheel",
            false,
            |a| {
                let [up, out] = a.nums(["front.travel.up", "front_shock_travel_out"])?;
                // On a strut or a coil-over the shock moves with its spring.
                let coil = a.given().chassis.iter().any(|c| c == "strut" || c == "coilover");
                let ratio = if coil { "front.spring.motion_ratio" } else { "front.shock.motion_ratio" };
                let [ratio] = a.above_zero([ratio])?;
                Ok(up - out / ratio)
            },
        ),
        side(
            "rear_shock_short",
            "the rear shock tops out before the axle is down by",
            "in",
            "axle drop - shock travel left",
            false,
            |a| {
                let [down, out] = a.nums(["rear.travel.separation", "rear_shock_travel_out"])?;
                a.assume("rear shocks stand upright on the axle: one that leans moves less than the axle");
                Ok(down - out)
            },
        ),
        Def {
            unit: "%",
            decimals: 0,
            formula: "clicks from full soft over the clicks there are",
            ..side("rear_extension_share", "rear shock extension, from soft", "", "", true, |a| {
                let [clicks] = a.nums(["rear.shock.extension"])?;
                let [all] = a.above_zero(["rear.shock.clicks_all"])?;
                let from_stiff = a.text("rear.shock.counted_from")? == "full stiff";
                Ok(100.0 * if from_stiff { all - clicks } else { clicks } / all)
            })
        },
        Def {
            name: "toe_full_rise",
            label: "toe, total",
            unit: "in",
            decimals: 2,
            state: State::AtFullRise,
            chassis: &[],
            formula: "toe at rest + toe change at full rise",
            source: "arithmetic",
            shown: true,
            of: Of::One(|a| {
                let [rest, change] = a.nums(["front.align.toe", "front.align.toe_at_rise"])?;
                Ok(rest + change)
            }),
        },
        Def {
            name: "out_of_square",
            label: "the axle sits out of square by",
            unit: "in",
            decimals: 2,
            state: State::AtRest,
            chassis: &[],
            formula: "|wheelbase left - right|",
            source: "arithmetic",
            shown: true,
            of: Of::One(|a| {
                let [left, right] = a.nums(["frame.wheelbase.left", "frame.wheelbase.right"])?;
                Ok((left - right).abs())
            }),
        },
    ],
};
