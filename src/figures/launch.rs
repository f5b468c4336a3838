//! How hard the car leaves, and what that does to the axles.

use super::ask::some;
use super::{Ask, Cannot, Def, Got, Of, State, Subject};
use crate::air::average_g;
use crate::chassis::AtRest;

/// From where the car stands to where the timer starts, in (words of the trade; the check values use it too).
const ROLLOUT_IN: f64 = 11.0;
const GILLESPIE_1: &str = "Gillespie, Fundamentals of Vehicle Dynamics, ch. 1 (load equations)";

/// The 60 ft that was asked about, else the setup's.
fn ft60(ask: &mut Ask) -> Got<f64> {
    match ask.given().wanted.ft60_s {
        Some(t) => {
            ask.number("ft60", "60 ft, as asked", "s", t);
            Ok(t)
        }
        None => ask.ran("ft60", "60 ft", "s", |r| r.ft60_s),
    }
}

/// The car at rest, with what its figures rest on, and the launch; all that is missing is named at once.
fn launched(ask: &mut Ask) -> Got<(AtRest, f64)> {
    let [weight_lb, rear_lb, wheelbase_in, cg_height_in, g] =
        ask.above_zero(["weight.total", "rear_axle_load", "frame.wheelbase", "cg_height", "launch_g"])?;
    Ok((AtRest { weight_lb, rear_lb, wheelbase_in, cg_height_in }, g))
}

pub(super) const SUBJECT: Subject = Subject {
    title: "Launch",
    figures: &[
        Def::new(
            "average_g_60ft_timed",
            "average by the timer, as from a standstill",
            "g",
            2,
            Of::One(|a| Ok(average_g(60.0, ft60(a)?, 0.0))),
        )
        .by("2 s/t^2: high by what was rolled before the timer started", "kinematics, constant acceleration")
        .at(State::AtLaunch),
        Def::new(
            "average_g_60ft",
            "average to the 60-ft line, roll-out reckoned",
            "g",
            2,
            Of::One(|a| {
                let t = ft60(a)?;
                a.assume(format!("roll-out {ROLLOUT_IN:.0} in before the timer starts (common practice, no source)"));
                Ok(average_g(60.0, t, ROLLOUT_IN / 12.0))
            }),
        )
        .by("2 (sqrt(s + r) - sqrt(r))^2/t^2, r the roll-out", "kinematics, constant acceleration")
        .at(State::AtLaunch),
        Def::new(
            "launch_g",
            "launch that is reckoned with",
            "g",
            2,
            Of::One(|a| match a.given().wanted.launch_g {
                Some(g) => {
                    a.number("launch_g", "launch, as asked", "g", g);
                    Ok(g)
                }
                None => a.num("average_g_60ft"),
            }),
        )
        .by("as asked (--g), else the average to the 60-ft line", "given")
        .at(State::AtLaunch),
        Def::new(
            "thrust",
            "thrust at the rear tires",
            "lb",
            0,
            Of::One(|a| {
                let [weight, g] = a.above_zero(["weight.total", "launch_g"])?;
                Ok(weight * g)
            }),
        )
        .by("W a, wheels without inertia, no drag", "Newton's second law")
        .at(State::AtLaunch),
        Def::new(
            "load_transfer",
            "load that goes from front to rear",
            "lb",
            0,
            Of::One(|a| {
                let [weight, h, wheelbase, g] =
                    a.above_zero(["weight.total", "cg_height", "frame.wheelbase", "launch_g"])?;
                let transfer = weight * g * h / wheelbase;
                match a.maybe("rear_axle_load").map(|rear| weight - rear) {
                    // No more goes than is there.
                    Some(front) if transfer > front => Err(Cannot::Because(format!(
                        "the front wheels are up from {:.2} g: what follows is no statics",
                        front / weight * wheelbase / h
                    ))),
                    _ => Ok(transfer),
                }
            }),
        )
        .by("W a h/L", GILLESPIE_1)
        .at(State::AtLaunch),
        Def::new(
            "load_transfer_1g",
            "load that goes to the rear at 1 g",
            "lb",
            0,
            Of::One(|a| {
                let [weight, h, wheelbase] = a.above_zero(["weight.total", "cg_height", "frame.wheelbase"])?;
                Ok(weight * h / wheelbase)
            }),
        )
        .by("W h/L", GILLESPIE_1)
        .at(State::AtLaunch),
        Def::new(
            "front_axle_launch",
            "left on the front axle",
            "lb",
            0,
            Of::One(|a| {
                let (car, g) = launched(a)?;
                Ok(car.axles_lb(g).0)
            }),
        )
        .by("Wf - W a h/L, not under 0", GILLESPIE_1)
        .at(State::AtLaunch),
        Def::new(
            "rear_axle_launch",
            "then on the rear axle",
            "lb",
            0,
            Of::One(|a| {
                let (car, g) = launched(a)?;
                Ok(car.axles_lb(g).1)
            }),
        )
        .by("W less what is left on the front", GILLESPIE_1)
        .at(State::AtLaunch),
        Def::new(
            "wheels_up_g",
            "launch that lifts the front wheels",
            "g",
            2,
            Of::One(|a| {
                let [weight_lb, rear_lb, wheelbase_in, cg_height_in] =
                    a.above_zero(["weight.total", "rear_axle_load", "frame.wheelbase", "cg_height"])?;
                Ok(AtRest { weight_lb, rear_lb, wheelbase_in, cg_height_in }.wheels_up_g())
            }),
        )
        .by("(Wf/W)(L/h)", GILLESPIE_1)
        .at(State::AtLaunch),
        Def::new(
            "grip_used",
            "thrust for each lb on the rear tires",
            "",
            2,
            Of::One(|a| {
                let [thrust, rear] = a.above_zero(["thrust", "rear_axle_launch"])?;
                some((rear > 0.0).then(|| thrust / rear), "nothing is on the rear axle")
            }),
        )
        .by(
            "W a/(rear axle load in the launch)",
            "Gillespie, Fundamentals of Vehicle Dynamics, ch. 2 (traction-limited acceleration), read backward",
        )
        .at(State::AtLaunch),
    ],
};
