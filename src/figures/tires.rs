//! Tires and gear: rollout, rpm in the traps, and pressure against what the makers give.

use super::ask::{Got, some};
use super::{Ask, Cannot, Def, Missing, Of, State, Subject, Why};
use crate::chassis::{converter_slip, diameter_in, footprint_in2, input_rpm, shaft_rpm, wheel_rpm};
use crate::schema::Bound;

const KINEMATICS: &str = "kinematics; 63,360 in to the mile; tire growth and slip not in it";

/// The gear of the finish: the last of the ratios.
fn last_gear(ask: &mut Ask) -> Got<f64> {
    let ratios = ask.list("driveline.ratios")?;
    let last = ratios.last().copied().filter(|r| *r > 0.0);
    ask.assume("in the last gear through the traps");
    some(last, "no gear ratio is on record")
}

/// A number of a part's maker, as its owner put it down.
fn limit(ask: &mut Ask, key: &'static str, bound: Bound, label: &str) -> Got<f64> {
    let found = ask.given().limits.iter().find(|(k, b, _)| k == key && *b == bound).map(|(_, _, n)| n.to_f64());
    let Some(found) = found else {
        let missing = Missing {
            name: "part_limit".to_owned(),
            label: label.to_owned(),
            whole: label.to_owned(),
            why: Why::NotOnRecord,
            tool: Some("as its maker gives it: slipbook part set".to_owned()),
            minutes: None,
        };
        return Err(Cannot::Missing(vec![missing]));
    };
    ask.number("part_limit", label, "psi", found);
    Ok(found)
}

pub(super) const SUBJECT: Subject = Subject {
    title: "Tires and gear",
    figures: &[
        Def::new(
            "rear_tire_diameter",
            "rear tire diameter by its rollout",
            "in",
            2,
            Of::Side(|a| {
                let [rollout] = a.above_zero(["rear.tire.rollout"])?;
                Ok(diameter_in(rollout))
            }),
        )
        .by("rollout/pi", "plane geometry"),
        Def::new(
            "rear_rollout_apart",
            "rear rollout, right over left",
            "in",
            2,
            Of::One(|a| {
                let [left, right] = a.nums(["rear.tire.rollout.left", "rear.tire.rollout.right"])?;
                Ok(right - left)
            }),
        )
        .by("right - left", "arithmetic"),
        Def::new(
            "rear_footprint",
            "rear footprint, at most",
            "in2",
            0,
            Of::Side(|a| {
                let corner: &'static str = ["weight.corner.lr", "weight.corner.rr"][a.side()];
                let [load, psi] = a.above_zero([corner, "rear.tire.pressure"])?;
                some(footprint_in2(load, psi), "no load or no pressure")
            }),
        )
        .by("corner weight/pressure; the carcass carries 5 to 15 % itself", "common practice, no source (membrane)"),
        Def::new(
            "low_gear_overall",
            "low gear, overall",
            "",
            2,
            Of::One(|a| {
                let [rear] = a.above_zero(["rear.axle.ratio"])?;
                let low = a.list("driveline.ratios")?.first().copied();
                Ok(some(low, "no gear ratio is on record")? * rear)
            }),
        )
        .by("low gear x rear gear", "arithmetic")
        .at(State::AtLaunch),
        Def::new(
            "wheel_rpm_trap",
            "rear wheels",
            "rpm",
            0,
            Of::One(|a| {
                let [rollout, mph] = a.above_zero(["rear.tire.rollout", "trap_mph_middle"])?;
                some(wheel_rpm(mph, rollout), "no speed")
            }),
        )
        .by("1056 mph/rollout", KINEMATICS)
        .at(State::AtSpeed),
        Def::new(
            "shaft_rpm_trap",
            "driveshaft",
            "rpm",
            0,
            Of::One(|a| {
                let [rollout, gear, mph] = a.above_zero(["rear.tire.rollout", "rear.axle.ratio", "trap_mph_middle"])?;
                some(shaft_rpm(mph, gear, rollout), "no speed")
            }),
        )
        .by("1056 mph x rear gear/rollout", KINEMATICS)
        .at(State::AtSpeed),
        Def::new(
            "engine_rpm_trap",
            "engine, if nothing slips",
            "rpm",
            0,
            Of::One(|a| {
                let [rollout, rear, mph] = a.above_zero(["rear.tire.rollout", "rear.axle.ratio", "trap_mph_middle"])?;
                let gear = last_gear(a)?;
                a.assume("converter and tires do not slip");
                some(input_rpm(mph, gear, rear, rollout), "no speed")
            }),
        )
        .by("1056 mph x gear x rear gear/rollout", KINEMATICS)
        .at(State::AtSpeed),
        Def::new(
            "converter_slip",
            "slip between engine and transmission",
            "%",
            1,
            Of::One(|a| {
                let seen = a.ran("rpm_finish", "rpm at the finish", "rpm", |r| r.rpm_finish)?;
                let [rollout, rear, mph] = a.above_zero(["rear.tire.rollout", "rear.axle.ratio", "trap_mph_middle"])?;
                let gear = last_gear(a)?;
                a.assume("the tires neither slip nor grow: their growth reads as slip");
                let stiff = some(input_rpm(mph, gear, rear, rollout), "no speed")?;
                let grown =
                    "the engine turned slower than the wheels drive it: a number is mistyped, or the tires grew";
                some(converter_slip(seen, stiff).filter(|s| *s >= 0.0).map(|s| s * 100.0), grown)
            }),
        )
        .by("1 - rpm without slip/rpm seen", KINEMATICS)
        .at(State::AtSpeed),
        Def::new(
            "rear_pressure_floor",
            "least pressure put down for the rear tires",
            "psi",
            1,
            Of::One(|a| limit(a, "rear.tire.pressure", Bound::Least, "least pressure put down for the rear tires")),
        )
        .by("the maker's figure, typed by the owner", "the maker's figure")
        .hidden(),
        Def::new(
            "rear_pressure_over_floor",
            "rear pressure over that",
            "psi",
            2,
            Of::Side(|a| {
                let [psi, floor] = a.nums(["rear.tire.pressure", "rear_pressure_floor"])?;
                Ok(psi - floor)
            }),
        )
        .by("pressure - least pressure", "the maker's figure")
        .hidden(),
        Def::new(
            "front_pressure_under_most",
            "front pressure under the most put down",
            "psi",
            2,
            Of::Side(|a| {
                let [psi] = a.nums(["front.tire.pressure"])?;
                Ok(limit(a, "front.tire.pressure", Bound::Most, "highest pressure put down for the front tires")? - psi)
            }),
        )
        .by("highest pressure - pressure", "marking on the sidewall, typed by the owner")
        .hidden(),
    ],
};
