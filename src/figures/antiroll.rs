//! Anti-roll bars, and how stiff each end is against roll.

use super::{Ask, Cannot, Def, Got, Of, Subject};
use crate::chassis::{G_STEEL_PSI, Roll, TorsionBar, anti_roll_bar_in_lb_per_rad, anti_roll_bar_preload_in_lb};

const BAR: &str =
    "Shigley, Mechanical Engineering Design, torsion, G 11.5e6 psi; lever by own algebra, arms and links stiff";
const ROLL: &str = "own algebra, springs linear; Gillespie, Fundamentals of Vehicle Dynamics, ch. 6 (roll stiffness)";

/// Torque of a bar for each radian, in-lb/rad; the bore counts where it is on record.
fn bar(ask: &mut Ask, diameter: &'static str, inside: &'static str, length: &'static str) -> Got<f64> {
    let [outer_in, length_in] = ask.above_zero([diameter, length])?;
    let inner_in = match ask.maybe(inside) {
        Some(bore) => bore,
        None => {
            ask.assume("anti-roll bar taken as solid: no inside diameter can be relied on");
            0.0
        }
    };
    if !(0.0..outer_in).contains(&inner_in) {
        return Err(Cannot::Because("the bore of the anti-roll bar is not inside it".to_owned()));
    }
    Ok(TorsionBar { outer_in, inner_in, length_in, shear_modulus_psi: G_STEEL_PSI }.rate_in_lb_per_rad())
}

/// Whether a bar is on and hooked.
fn hooked(ask: &mut Ask, kind: &'static str) -> Got<bool> {
    ask.text(kind).map(|k| k == "hooked")
}

fn front_bar(ask: &mut Ask) -> Got<f64> {
    let kt = bar(ask, "front.antiroll.diameter", "front.antiroll.inside", "front.antiroll.length")?;
    let [arm, ratio, track] =
        ask.above_zero(["front.antiroll.arm", "front.antiroll.motion_ratio", "frame.front_track"])?;
    Ok(anti_roll_bar_in_lb_per_rad(kt, arm, track * ratio))
}

fn rear_bar(ask: &mut Ask) -> Got<f64> {
    let kt = bar(ask, "rear.antiroll.diameter", "rear.antiroll.inside", "rear.antiroll.length")?;
    let [arm, span] = ask.above_zero(["rear.antiroll.arm", "rear.antiroll.span"])?;
    Ok(anti_roll_bar_in_lb_per_rad(kt, arm, span))
}

/// Roll stiffness of both ends, with treads.
pub(super) fn roll(ask: &mut Ask) -> Got<Roll> {
    let [front, rear, front_tread_in, rear_tread_in] =
        ask.above_zero(["front_roll_stiffness", "rear_roll_stiffness", "frame.front_track", "frame.rear_track"])?;
    let rad = |per_deg: f64| per_deg.to_degrees() * 12.0;
    Ok(Roll { front_in_lb_per_rad: rad(front), rear_in_lb_per_rad: rad(rear), front_tread_in, rear_tread_in })
}

/// Stiffness in lb-ft for each degree.
fn per_deg(in_lb_per_rad: f64) -> f64 {
    in_lb_per_rad.to_radians() / 12.0
}

pub(super) const SUBJECT: Subject =
    Subject {
        title: "Anti-roll and roll",
        figures: &[
            Def::new(
                "front_antiroll_stiffness",
                "front anti-roll bar against roll",
                "lb-ft/deg",
                0,
                Of::One(|a| {
                    if hooked(a, "front.antiroll.kind")? { Ok(per_deg(front_bar(a)?)) } else { Err(Cannot::NotHere) }
                }),
            )
            .by("kT (track x link ratio/arm)^2, kT = G pi (D^4 - d^4)/(32 L)", BAR),
            Def::new(
                "rear_antiroll_stiffness",
                "rear anti-roll bar against roll",
                "lb-ft/deg",
                0,
                Of::One(|a| {
                    if hooked(a, "rear.antiroll.kind")? { Ok(per_deg(rear_bar(a)?)) } else { Err(Cannot::NotHere) }
                }),
            )
            .by("kT (links apart/arm)^2, kT = G pi (D^4 - d^4)/(32 L)", BAR),
            Def::new(
                "rear_antiroll_preload_moment",
                "rear anti-roll bar preload, moment on the body",
                "lb-ft",
                0,
                Of::One(|a| {
                    if !hooked(a, "rear.antiroll.kind")? {
                        return Err(Cannot::NotHere);
                    }
                    let kt = bar(a, "rear.antiroll.diameter", "rear.antiroll.inside", "rear.antiroll.length")?;
                    let [arm, span, threads] =
                        a.above_zero(["rear.antiroll.arm", "rear.antiroll.span", "rear.antiroll.threads"])?;
                    let [flats] = a.nums(["rear.antiroll.preload"])?;
                    Ok(anti_roll_bar_preload_in_lb(kt, arm, span, flats / 6.0 / threads) / 12.0)
                }),
            )
            .by("kT s l/R^2, l = flats/(6 x threads)", BAR),
            Def::new(
                "rear_antiroll_preload_load",
                "what that preload puts on the right rear tire",
                "lb",
                0,
                Of::One(|a| {
                    let [moment] = a.nums(["rear_antiroll_preload_moment"])?;
                    Ok(roll(a)?.rear_couple(moment * 12.0).rr_lb)
                }),
            )
            .by("M Kf/(Kf + Kr)/rear track; as much off the left rear", BAR),
            Def::new(
                "rear_antiroll_preload_front",
                "what that preload puts on the left front tire",
                "lb",
                0,
                Of::One(|a| {
                    let [moment] = a.nums(["rear_antiroll_preload_moment"])?;
                    Ok(roll(a)?.rear_couple(moment * 12.0).lf_lb)
                }),
            )
            .by("M Kf/(Kf + Kr)/front track; as much off the right front", BAR),
            Def::new(
                "preload_shim_load",
                "what the preload shim puts on the right rear tire",
                "lb",
                0,
                Of::One(|a| {
                    let [shim] = a.nums(["rear.leaf.preload_shim"])?;
                    let [rate, base] = a.above_zero(["rear_wheel_rate", "frame.rear_spring_base"])?;
                    Ok(roll(a)?.rear_couple(rate * shim * base / 2.0).rr_lb)
                }),
            )
            .by("k z base/2 x Kf/(Kf + Kr)/rear track; as much off the left rear", ROLL)
            .on(&["leaf"]),
            Def::new(
                "front_roll_stiffness",
                "front against roll, springs and bar",
                "lb-ft/deg",
                0,
                Of::One(|a| {
                    let [rate, track] = a.above_zero(["front_wheel_rate", "frame.front_track"])?;
                    let bar = if hooked(a, "front.antiroll.kind")? { a.num("front_antiroll_stiffness")? } else { 0.0 };
                    Ok(per_deg(2.0 * rate * track * track / 4.0) + bar)
                }),
            )
            .by("(kl + kr) track^2/4, and the bar", ROLL),
            Def::new(
                "rear_roll_stiffness",
                "rear against roll, springs and bar",
                "lb-ft/deg",
                0,
                Of::One(|a| {
                    let [rate, base] = a.above_zero(["rear_wheel_rate", "frame.rear_spring_base"])?;
                    let bar = if hooked(a, "rear.antiroll.kind")? { a.num("rear_antiroll_stiffness")? } else { 0.0 };
                    Ok(per_deg(2.0 * rate * base * base / 4.0) + bar)
                }),
            )
            .by("(kl + kr) base^2/4, base between the springs, and the bar", ROLL),
            Def::new(
                "front_roll_share",
                "front's share of the roll stiffness",
                "%",
                0,
                Of::One(|a| Ok(roll(a)?.front_share() * 100.0)),
            )
            .by("Kf/(Kf + Kr)", ROLL),
        ],
    };
