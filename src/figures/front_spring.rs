//! Front springs: torsion bar or coil, rate at the wheel, and how far the front comes up.

use super::ask::some;
use super::{Ask, Cannot, Def, Got, Of, State, Subject};
use crate::chassis::{
    G_STEEL_PSI, TorsionArm, TorsionBar, ride_frequency_hz, rise_in, static_deflection_in, wheel_rate_lb_in,
};

const TORSION: &[&str] = &["torsion"];
const COIL: &[&str] = &["strut", "coilover"];
const SHIGLEY: &str = "Shigley, Mechanical Engineering Design, torsion; G of spring steel 11.5e6 psi from its table";
const ARM: &str = "own algebra: derivative of F = T/(R cos a) by height; bar by Shigley, torsion, G 11.5e6 psi";
/// Load that leaves the front for a round figure, lb, both wheels together.
const LEAVING_LB: f64 = 100.0;

fn bar(ask: &mut Ask) -> Got<TorsionBar> {
    let [outer_in, length_in] = ask.above_zero(["front.spring.bar_diameter", "front.spring.bar_length"])?;
    Ok(TorsionBar { outer_in, inner_in: 0.0, length_in, shear_modulus_psi: G_STEEL_PSI })
}

fn arm(ask: &mut Ask) -> Got<TorsionArm> {
    let kt = bar(ask)?.rate_in_lb_per_rad();
    let [arm_in] = ask.above_zero(["front.spring.arm_length"])?;
    let [angle_deg, load_lb] = ask.nums(["front.spring.arm_angle", "front_sprung_corner"])?;
    if angle_deg.abs() >= 80.0 || load_lb <= 0.0 {
        return Err(Cannot::Because("the lower arm cannot stand like that under a load".to_owned()));
    }
    Ok(TorsionArm { bar_in_lb_per_rad: kt, arm_in, angle_deg, load_lb })
}

/// What rides on one front spring, lb.
fn sprung(ask: &mut Ask) -> Got<f64> {
    let corner: &'static str = ["weight.corner.lf", "weight.corner.rf"][ask.side()];
    let [load] = ask.above_zero([corner])?;
    match ask.maybe("weight.front_unsprung") {
        Some(both) if both / 2.0 < load => Ok(load - both / 2.0),
        _ => {
            ask.assume("front wheels and hubs counted as carried by the springs: no weight of them can be relied on, so spring load reads a little high");
            Ok(load)
        }
    }
}

pub(super) const SUBJECT: Subject = Subject {
    title: "Front springs",
    figures: &[
        Def::new("front_sprung_corner", "load on the front spring", "lb", 0, Of::Side(sprung))
.by("corner weight less half the front unsprung weight", "arithmetic"),
        Def::new("torsion_bar_rate", "torsion bar rate", "in-lb/deg", 0, Of::Side(|a| Ok(bar(a)?.rate_in_lb_per_rad().to_radians())))
.by("kT = G pi D^4/(32 L), for each degree", SHIGLEY)
.on(TORSION),
        Def::new("torsion_bar_twist", "torsion bar twist", "deg", 1, Of::Side(|a| {
            Ok(arm(a)?.twist_deg())
        }))
.by("T/kT, T = F R cos a", SHIGLEY)
.on(TORSION),
        Def::new("torsion_bar_stress", "stress at the surface of the bar", "psi", 0, Of::Side(|a| {
                let bar = bar(a)?;
                Ok(bar.stress_psi(arm(a)?.torque_in_lb()))
            }))
.by("16 T/(pi D^3), ends and nicks not in it", SHIGLEY)
.on(TORSION),
        Def::new("front_wheel_rate", "front wheel rate", "lb/in", 0, Of::Side(|a| {
            match a.tried(arm) {
                Ok(arm) => Ok(arm.wheel_rate_lb_in()),
                Err(why @ Cannot::Because(_)) => Err(why),
                Err(_) => {
                    let kt = bar(a)?.rate_in_lb_per_rad();
                    let [arm_in] = a.above_zero(["front.spring.arm_length"])?;
                    a.assume("lower arm taken as level: its slope or the corner weight cannot be relied on, and the rate is then kT/R^2");
                    Ok(kt / (arm_in * arm_in))
                }
            }
        }))
.by("(kT + T tan a)/(R^2 cos^2 a)", ARM)
.on(TORSION),
        Def::new("front_wheel_rate", "front wheel rate", "lb/in", 0, Of::Side(|a| {
                let [rate, ratio] = a.above_zero(["front.spring.rate", "front.spring.motion_ratio"])?;
                Ok(wheel_rate_lb_in(rate, ratio, 0.0))
            }))
.by("k MR^2, MR spring travel over wheel travel, the lean in it", "work at spring and wheel set equal, own algebra")
.on(COIL),
        Def::new("front_spring_deflection", "how far the load has pressed the front, at the wheel", "in", 2, Of::Side(|a| {
                let [load, rate] = a.above_zero(["front_sprung_corner", "front_wheel_rate"])?;
                Ok(static_deflection_in(load, rate))
            }))
.by("F/k", "Hooke's law")
.on(COIL),
        Def::new("front_ride_frequency", "front ride frequency", "Hz", 2, Of::Side(|a| {
                let [rate, load] = a.above_zero(["front_wheel_rate", "front_sprung_corner"])?;
                Ok(ride_frequency_hz(rate, load))
            }))
.by("sqrt(k g/W)/(2 pi)", "Gillespie, Fundamentals of Vehicle Dynamics, ch. 5"),
        Def::new("front_rise_per_100lb", "front rises for each 100 lb that leaves", "in", 2, Of::Side(|a| match a.tried(arm) {
                Ok(arm) => some(arm.rise_exact_in(LEAVING_LB / 2.0), "so soft a bar has no one answer"),
                Err(why @ Cannot::Because(_)) => Err(why),
                // Thin bar against thick bar, where nobody weighed the corners since.
                Err(_) => {
                    let [rate] = a.above_zero(["front_wheel_rate"])?;
                    a.assume("by the wheel rate, not along the arm's arc: the load on the spring cannot be relied on");
                    Ok(LEAVING_LB / 2.0 / rate)
                }
            }))
.by("along the arm's arc: F(a) = kT (twist)/(R cos a), 50 lb off each wheel", "own algebra; bar by Shigley, torsion")
.on(TORSION),
        Def::new("front_rise_per_100lb", "front rises for each 100 lb that leaves", "in", 2, Of::Side(|a| {
                let [load, rate] = a.above_zero(["front_sprung_corner", "front_wheel_rate"])?;
                Ok(rise_in(load, rate, LEAVING_LB / 2.0))
            }))
.by("50 lb off each wheel over the wheel rate", "Hooke's law")
.on(COIL),
        Def::new("front_rise_launch", "front rise that the springs would give", "in", 2, Of::One(|a| {
                let [transfer, rate] = a.above_zero(["load_transfer", "front_wheel_rate"])?;
                Ok(transfer / (2.0 * rate))
            }))
.by("W a h/L over the front rate of both wheels; an undriven front axle has no anti-lift", "Gillespie, Fundamentals of Vehicle Dynamics, ch. 7; statics, stops not in it")
.at(State::AtLaunch),
        Def::new("front_rise_unused", "front rise left then, to the stop", "in", 2, Of::One(|a| {
                let [up, rise] = a.nums(["front.travel.up", "front_rise_launch"])?;
                Ok(up - rise)
            }))
.by("rise available less what the springs would give; under 0: the stop ends it", "arithmetic")
.at(State::AtLaunch),
    ],
};
