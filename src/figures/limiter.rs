//! Pinion limiter: gap, angle at contact, and what it is hit with.

use super::ask::some;
use super::rear_spring::seat_of_both;
use super::{Ask, Cannot, Def, Got, Of, State, Subject};
use crate::chassis::{Hit, Limiter, bound_force_lb, contact_angle_deg, gap_for_angle_in, seat_couple_in_lb};

const LEAF: &[&str] = &["leaf"];
const GAP: &str = "rear.limiter.gap";
const HEIGHT: &str = "rear.limiter.height";
/// The pinion's place at contact that is reckoned with where none was asked for, degrees nose up against the ground.
const CONTACT_AT_DEG: f64 = 4.0;
const STATICS: &str = "statics of the leaf's seat, own algebra; limiter rigid, dampers off";

/// The gap now: as measured, or by arithmetic where nothing but the limiter's height was changed since.
fn gap(ask: &mut Ask) -> Got<f64> {
    if let Some(gap) = ask.maybe(GAP) {
        return Ok(gap);
    }
    match carried(ask) {
        Some(got) => Ok(got),
        None => ask.num(GAP),
    }
}

fn carried(ask: &mut Ask) -> Option<f64> {
    let given = ask.given();
    let stale = given.stale_of(GAP)?;
    let only_the_top = stale.causes.iter().flat_map(|c| &c.fields).all(|f| f == HEIGHT);
    let taken = stale.taken.as_ref().filter(|_| only_the_top)?;
    let was = given.schema.num_at(given.then.get(&taken.version.to_string())?, HEIGHT)?.to_f64();
    let gap = given.schema.num_at(given.sheet, GAP)?.to_f64();
    let date = taken.at.race_day();
    let day = crate::slip::Moment::day_words(date, Some(date.year()));
    let now = ask.num(HEIGHT).ok()?;
    ask.number(GAP, "limiter gap when it was measured", "in", gap);
    ask.number(HEIGHT, "limiter height then", "in", was);
    let since = match now - was {
        d if d.abs() < 1e-6 => "limiter back at that height now".to_owned(),
        d => format!("limiter {} {:.2} in since", if d > 0.0 { "raised" } else { "lowered" }, d.abs()),
    };
    ask.assume(format!("gap {gap:.2} in was taken at height {was:.2} ({day}); {since}. Measure it"));
    Some(gap - (now - was))
}

fn limiter(ask: &mut Ask) -> Got<Limiter> {
    let [ahead_in, gap_in] = ask.nums(["rear.limiter.arm", "limiter_gap"])?;
    if ahead_in <= 0.0 {
        return Err(Cannot::Because("the limiter is not ahead of the axle".to_owned()));
    }
    Ok(Limiter { ahead_in, gap_in: gap_in.max(0.0) })
}

fn couple(ask: &mut Ask) -> Got<f64> {
    let [thrust, eye] = ask.above_zero(["thrust", "rear.leaf.front_eye_height"])?;
    Ok(seat_couple_in_lb(thrust, eye))
}

fn hit(ask: &mut Ask) -> Got<Hit> {
    let limiter = limiter(ask)?;
    let seat = seat_of_both(ask)?;
    Ok(limiter.hit(&seat, couple(ask)?))
}

pub(super) const SUBJECT: Subject = Subject {
    title: "Pinion limiter",
    figures: &[
        Def::new("limiter_gap", "limiter gap", "in", 2, Of::One(gap))
.by("as measured; where only the limiter was moved since, less what it was raised", "arithmetic")
.on(LEAF),
        Def::new("pinion_rise_contact", "pinion rises before it touches, height held", "deg", 1, Of::One(|a| {
                let limiter = limiter(a)?;
                Ok(contact_angle_deg(limiter.gap_in, limiter.ahead_in))
            }))
.by("atan(gap/arm)", "plane geometry, at-rest geometry: a body that rises opens the gap")
.at(State::AtContact)
.on(LEAF),
        Def::new("pinion_contact", "pinion against the ground, + nose up", "deg", 1, Of::One(|a| {
                let [slope, rise] = a.nums(["rear.pinion.slope", "pinion_rise_contact"])?;
                Ok(slope + rise)
            }))
.by("slope at rest + atan(gap/arm)", "plane geometry, at-rest geometry")
.at(State::AtContact)
.on(LEAF),
        Def::new("limiter_gap_wanted", "gap for the pinion angle wanted at contact", "in", 2, Of::One(|a| {
                let [arm] = a.above_zero(["rear.limiter.arm"])?;
                let [slope] = a.nums(["rear.pinion.slope"])?;
                let wanted = match a.given().wanted.pinion_deg {
                    Some(wanted) => wanted,
                    None => {
                        a.assume(format!("pinion wanted {CONTACT_AT_DEG:.0} deg nose up against the ground at contact (3 to 5, common practice, no source); another: --pinion-at"));
                        CONTACT_AT_DEG
                    }
                };
                a.number("pinion_at", "pinion wanted at contact, against the ground", "deg", wanted);
                let rise = wanted - slope;
                some(
                    (rise > 0.0 && rise < 45.0).then(|| gap_for_angle_in(rise, arm)),
                    "at rest the pinion stands that far up already, or it is more than 45 degrees away",
                )
            }))
.by("arm x tan(wanted - slope at rest)", "plane geometry, at-rest geometry")
.on(LEAF),
        Def::new("windup_free", "wind-up without the limiter, height held", "deg", 1, Of::One(|a| {
                let seat = seat_of_both(a)?;
                Ok((couple(a)? / seat.k22_in_lb_per_rad()).to_degrees())
            }))
.by("M/(a^2 ka + b^2 kb)", STATICS)
.at(State::AtContact)
.on(LEAF),
        Def::new("limiter_force_hit", "force at the limiter when it is hit", "lb", 0, Of::One(|a| Ok(hit(a)?.force_lb)))
.by("(M - k22 gap/d)/d, body not moved yet; 0: it is not met", STATICS)
.at(State::AtContact)
.on(LEAF),
        Def::new("limiter_load_hit", "load that puts on the rear tires", "lb", 0, Of::One(|a| Ok(hit(a)?.tire_load_lb)))
.by("k12 gap/d + F", STATICS)
.at(State::AtContact)
.on(LEAF),
        Def::new("limiter_force_settled", "force at the limiter once the body has risen", "lb", 0, Of::One(|a| {
                let limiter = limiter(a)?;
                let seat = seat_of_both(a)?;
                let [transfer] = a.above_zero(["load_transfer"])?;
                Ok(limiter.settled(&seat, transfer, couple(a)?).force_lb)
            }))
.by("(z0 + d theta0 - gap)/c; 0: the rise has opened it", STATICS)
.at(State::AtLaunch)
.on(LEAF),
        Def::new("limiter_force_bound", "that force, leaves without stiffness", "lb", 0, Of::One(|a| {
                let limiter = limiter(a)?;
                Ok(bound_force_lb(couple(a)?, limiter.ahead_in))
            }))
.by("M/d", STATICS)
.at(State::AtContact)
.on(LEAF),
        Def::new("limiter_off_hole", "limiter height off the nearest hole", "in", 3, Of::One(|a| {
                    let (height, nearest) = nearest_holes(a)?;
                    Ok(nearest.iter().map(|h| (h - height).abs()).fold(f64::INFINITY, f64::min))
                }))
.by("distance to lowest + n x spacing", "arithmetic")
.on(LEAF)
.hidden(),
        Def::new("limiter_hole_below", "hole below gives", "in", 3, Of::One(|a| Ok(nearest_holes(a)?.1[0])))
.by("lowest + n x spacing", "arithmetic")
.on(LEAF)
.hidden(),
        Def::new("limiter_hole_above", "hole above gives", "in", 3, Of::One(|a| Ok(nearest_holes(a)?.1[1])))
.by("lowest + n x spacing", "arithmetic")
.on(LEAF)
.hidden(),
    ],
};

/// The height, and what the holes below and above it give.
fn nearest_holes(ask: &mut Ask) -> Got<(f64, [f64; 2])> {
    let [height, lowest, spacing] = ask.above_zero([HEIGHT, "rear.limiter.lowest", "rear.limiter.hole_spacing"])?;
    // The sheet's numbers are exact to a millionth.
    let holes = ((height - lowest) / spacing + 1e-6).floor().max(0.0);
    Ok((height, [lowest + holes * spacing, lowest + (holes + 1.0) * spacing]))
}
