//! Torque on the axle, and what driveshaft torque does side to side.

use super::antiroll::roll;
use super::{Ask, Def, Got, Of, State, Subject};
use crate::chassis::{Corners, Roll, diameter_in, driveshaft_torque_lb_ft, side_transfer_lb};

const GILLESPIE_2: &str =
    "Gillespie, Fundamentals of Vehicle Dynamics, ch. 2 (solid rear axle), carried to four wheels, own algebra";

/// Rolling radius of the rear tires, in.
fn radius(ask: &mut Ask) -> Got<f64> {
    let [rollout] = ask.above_zero(["rear.tire.rollout"])?;
    Ok(diameter_in(rollout) / 2.0)
}

fn change(ask: &mut Ask) -> Got<Corners> {
    let [torque] = ask.above_zero(["driveshaft_torque"])?;
    Ok(roll(ask)?.torque_reaction(torque).change)
}

pub(super) const SUBJECT: Subject = Subject {
    title: "Torque",
    figures: &[
        Def::new(
            "axle_torque",
            "torque reaction of the axle",
            "lb-ft",
            0,
            Of::One(|a| {
                let [thrust] = a.above_zero(["thrust"])?;
                Ok(thrust * radius(a)? / 12.0)
            }),
        )
        .by("thrust x rolling radius", "statics, wheels without inertia")
        .at(State::AtLaunch),
        Def::new(
            "driveshaft_torque",
            "torque in the driveshaft",
            "lb-ft",
            0,
            Of::One(|a| {
                let [thrust, gear] = a.above_zero(["thrust", "rear.axle.ratio"])?;
                Ok(driveshaft_torque_lb_ft(thrust, radius(a)?, gear))
            }),
        )
        .by("thrust x rolling radius/rear gear", "statics, without losses")
        .at(State::AtLaunch),
        Def::new(
            "side_change_most",
            "goes from right rear to left rear at most",
            "lb",
            0,
            Of::One(|a| {
                let [torque, track] = a.above_zero(["driveshaft_torque", "frame.rear_track"])?;
                Ok(side_transfer_lb(torque, track, 1.0))
            }),
        )
        .by("T/track, a front that does not roll at all", GILLESPIE_2)
        .at(State::AtLaunch),
        Def::new("left_rear_change", "left rear by driveshaft torque", "lb", 0, Of::One(|a| Ok(change(a)?.lr_lb)))
            .by("T Kf/(Kf + Kr)/rear track; the right rear loses as much", GILLESPIE_2)
            .at(State::AtLaunch),
        Def::new("right_front_change", "right front by driveshaft torque", "lb", 0, Of::One(|a| Ok(change(a)?.rf_lb)))
            .by("T Kf/(Kf + Kr)/front track; the left front loses as much", GILLESPIE_2)
            .at(State::AtLaunch),
        Def::new(
            "body_roll_launch",
            "body rolls to the right",
            "deg",
            2,
            Of::One(|a| {
                let [torque] = a.above_zero(["driveshaft_torque"])?;
                Ok(roll(a)?.torque_reaction(torque).roll_right_deg)
            }),
        )
        .by("T/(Kf + Kr)", GILLESPIE_2)
        .at(State::AtLaunch),
        Def::new(
            "canceling_shim",
            "right rear shim that would cancel it",
            "in",
            2,
            Of::One(|a| {
                let [torque, rate, base] =
                    a.above_zero(["driveshaft_torque", "rear_wheel_rate", "frame.rear_spring_base"])?;
                let springs = rate * base * base / 2.0;
                let roll = Roll {
                    front_in_lb_per_rad: 0.0,
                    rear_in_lb_per_rad: springs,
                    front_tread_in: base,
                    rear_tread_in: base,
                };
                Ok(roll.canceling_shim_in(torque))
            }),
        )
        .by("2 T/(k base), k the rear wheel rate, base between the springs", GILLESPIE_2)
        .at(State::AtLaunch),
    ],
};
