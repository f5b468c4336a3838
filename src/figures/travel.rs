//! Travel: what shocks and stops leave.

use super::{Def, Of, State, Subject};

const LEFT: &str = "extended - collapsed - shaft showing at rest";

pub(super) const SUBJECT: Subject = Subject {
    title: "Travel and toe",
    figures: &[
        Def::new(
            "front_shock_travel_out",
            "front shock travel left, out of rest",
            "in",
            2,
            Of::Side(|a| {
                let [long, short, shaft] =
                    a.nums(["front.shock.extended", "front.shock.collapsed", "front.shock.shaft_at_rest"])?;
                Ok(long - short - shaft)
            }),
        )
        .by(LEFT, "arithmetic"),
        Def::new(
            "rear_shock_travel_out",
            "rear shock travel left, out of rest",
            "in",
            2,
            Of::Side(|a| {
                let [long, short, shaft] =
                    a.nums(["rear.shock.extended", "rear.shock.collapsed", "rear.shock.shaft_at_rest"])?;
                Ok(long - short - shaft)
            }),
        )
        .by(LEFT, "arithmetic"),
        Def::new(
            "front_shock_short",
            "the front shock tops out before the rise is used by",
            "in",
            2,
            Of::Side(|a| {
                let [up, out] = a.nums(["front.travel.up", "front_shock_travel_out"])?;
                // On a strut or a coil-over the shock moves with its spring.
                let coil = a.given().chassis.iter().any(|c| c == "strut" || c == "coilover");
                let ratio = if coil { "front.spring.motion_ratio" } else { "front.shock.motion_ratio" };
                let [ratio] = a.above_zero([ratio])?;
                Ok(up - out / ratio)
            }),
        )
        .by("rise available - shock travel left over the shock's travel for an inch of the wheel", "arithmetic")
        .hidden(),
        Def::new(
            "rear_shock_short",
            "the rear shock tops out before the axle is down by",
            "in",
            2,
            Of::Side(|a| {
                let [down, out] = a.nums(["rear.travel.separation", "rear_shock_travel_out"])?;
                a.assume("rear shocks stand upright on the axle: one that leans moves less than the axle");
                Ok(down - out)
            }),
        )
        .by("axle drop - shock travel left", "arithmetic")
        .hidden(),
        Def::new(
            "rear_extension_share",
            "rear shock extension, from soft",
            "%",
            0,
            Of::Side(|a| {
                let [clicks] = a.nums(["rear.shock.extension"])?;
                let [all] = a.above_zero(["rear.shock.clicks_all"])?;
                let from_stiff = a.text("rear.shock.counted_from")? == "full stiff";
                Ok(100.0 * if from_stiff { all - clicks } else { clicks } / all)
            }),
        )
        .by("clicks from full soft over the clicks there are", "arithmetic"),
        Def::new(
            "toe_full_rise",
            "toe, total",
            "in",
            2,
            Of::One(|a| {
                let [rest, change] = a.nums(["front.align.toe", "front.align.toe_at_rise"])?;
                Ok(rest + change)
            }),
        )
        .by("toe at rest + toe change at full rise", "arithmetic")
        .at(State::AtFullRise),
        Def::new(
            "out_of_square",
            "the axle sits out of square by",
            "in",
            2,
            Of::One(|a| {
                let [left, right] = a.nums(["frame.wheelbase.left", "frame.wheelbase.right"])?;
                Ok((left - right).abs())
            }),
        )
        .by("|wheelbase left - right|", "arithmetic"),
    ],
};
