//! Rear springs: leaf halves, coils, rates at the wheel, wind-up.

use super::ask::some;
use super::{Ask, Cannot, Def, Got, Of, Subject};
use crate::chassis::{E_STEEL_PSI, LeafSeat, LeafSpring, ride_frequency_hz, wheel_rate_lb_in};

const LEAF: &[&str] = &["leaf"];
const COIL: &[&str] = &["ladder", "fourlink"];
const BEAM: &str = "beam theory (Roark; Shigley), halves by unit load, own algebra";

/// One spring's halves from its measured rate: both of one section, so that the rate of a half goes with 1/length^3.
fn halves_of_rate(rate_lb_in: f64, a: f64, b: f64) -> LeafSeat {
    // (a + b)^2/(b^2/ka + a^2/kb) = k with ka = c/a^3 and kb = c/b^3.
    let c = rate_lb_in * a * a * b * b / (a + b);
    LeafSeat { front_in: a, rear_in: b, front_lb_in: c / a.powi(3), rear_lb_in: c / b.powi(3) }
}

/// One spring from the section of its leaves, with what clamps hold.
fn spring(ask: &mut Ask) -> Got<LeafSpring> {
    let [front_in, rear_in, width_in, thickness_in, leaves, full_leaves] = ask.above_zero([
        "rear.leaf.front_length",
        "rear.leaf.rear_length",
        "rear.leaf.section.width",
        "rear.leaf.section.thickness",
        "rear.leaf.leaves",
        "rear.leaf.full_leaves",
    ])?;
    let [clamped_front_in, clamped_rear_in] = ask.nums(["rear.leaf.front_clamped", "rear.leaf.rear_clamped"])?;
    if full_leaves > leaves {
        return Err(Cannot::Because("more leaves reach the eyes than there are".to_owned()));
    }
    Ok(LeafSpring {
        front_in,
        rear_in,
        width_in,
        thickness_in,
        full_leaves,
        graduated_leaves: leaves - full_leaves,
        clamped_front_in,
        clamped_rear_in,
        modulus_psi: E_STEEL_PSI,
    })
}

/// Both springs of the car on the axle: from the section where it is on record, else from the measured rate.
pub(super) fn seat_of_both(ask: &mut Ask) -> Got<LeafSeat> {
    let section =
        ["rear.leaf.section.width", "rear.leaf.section.thickness", "rear.leaf.leaves", "rear.leaf.full_leaves"];
    // The section goes first where all of it is on record: it knows what clamps hold.
    if section.iter().all(|k| ask.has(k)) || !ask.has("rear.leaf.rate") {
        let clamped = "clamps leave no leaf free";
        return spring(ask)?.seat_of_both().ok_or_else(|| Cannot::Because(clamped.to_owned()));
    }
    let [rate, a, b] = ask.above_zero(["rear.leaf.rate", "rear.leaf.front_length", "rear.leaf.rear_length"])?;
    ask.assume("both halves of the leaf of one section, clamped as they were when the rate was taken: clamps put on or taken off change it (leaf section and clamped lengths say by how much)");
    let one = halves_of_rate(rate, a, b);
    Ok(LeafSeat { front_lb_in: 2.0 * one.front_lb_in, rear_lb_in: 2.0 * one.rear_lb_in, ..one })
}

fn half(ask: &mut Ask, of: fn(&LeafSeat) -> f64) -> Got<f64> {
    Ok(of(&seat_of_both(ask)?) / 2.0)
}

/// What rides on one rear spring, lb.
fn sprung(ask: &mut Ask) -> Got<f64> {
    let corner: &'static str = ["weight.corner.lr", "weight.corner.rr"][ask.side()];
    let [load] = ask.above_zero([corner])?;
    match ask.maybe("rear.axle.weight") {
        Some(axle) if axle / 2.0 < load => Ok(load - axle / 2.0),
        _ => {
            ask.assume(
                "the rear axle counted as carried by the springs: no weight of it can be relied on, so frequencies read low",
            );
            Ok(load)
        }
    }
}

pub(super) const SUBJECT: Subject = Subject {
    title: "Rear springs",
    figures: &[
        Def::new(
            "leaf_rate",
            "leaf rate from its section, free of clamps",
            "lb/in",
            0,
            Of::Side(|a| {
                let free = LeafSpring { clamped_front_in: 0.0, clamped_rear_in: 0.0, ..spring(a)? };
                a.assume("real leaves are 5 to 20 % off: tapered ends, camber, friction between them");
                some(free.free_halves().map(|h| h.rate_free_lb_in()), "a half has no length")
            }),
        )
        .by("halves (3 nf + 2 ng) E w t^3/(12 a^3); k = (a + b)^2/(b^2/ka + a^2/kb)", BEAM)
        .on(LEAF),
        Def::new(
            "leaf_rate_clamped",
            "leaf rate as it is clamped",
            "lb/in",
            0,
            Of::Side(|a| {
                let seat = some(spring(a)?.seat_of_both().map(|s| s.rate_free_lb_in()), "clamps leave no leaf free")?;
                a.assume("real leaves are 5 to 20 % off: tapered ends, camber, friction between them");
                Ok(seat / 2.0)
            }),
        )
        .by("halves by their free lengths, arms whole: (a + b)^2/(b^2/ka + a^2/kb)", BEAM)
        .on(LEAF),
        Def::new(
            "leaf_front_half_rate",
            "front half of the leaf, at its eye",
            "lb/in",
            0,
            Of::Side(|a| half(a, |s| s.front_lb_in)),
        )
        .by("ka = k b^2/(a (a + b)) of a measured rate k; from the section (3 nf + 2 ng) E w t^3/(12 a^3)", BEAM)
        .on(LEAF),
        Def::new(
            "leaf_rear_half_rate",
            "rear half of the leaf, at its eye",
            "lb/in",
            0,
            Of::Side(|a| half(a, |s| s.rear_lb_in)),
        )
        .by("kb = k a^2/(b (a + b)) of a measured rate k; from the section as the front half", BEAM)
        .on(LEAF),
        Def::new(
            "rear_wheel_rate",
            "rear wheel rate",
            "lb/in",
            0,
            Of::Side(|a| match a.maybe("rear.leaf.rate") {
                Some(rate) if rate > 0.0 => {
                    a.assume("leaf rate as it was taken: clamps put on or taken off since change it");
                    Ok(rate)
                }
                _ => a.num("leaf_rate_clamped"),
            }),
        )
        .by("the leaf's rate with its seat free to tilt", BEAM)
        .on(LEAF),
        Def::new(
            "rear_wheel_rate",
            "rear wheel rate",
            "lb/in",
            0,
            Of::Side(|a| {
                let [rate] = a.above_zero(["rear.spring.rate"])?;
                let [lean] = a.nums(["rear.spring.lean"])?;
                a.assume("rear springs stand on the axle: an inch of the wheel is an inch of the mount");
                Ok(wheel_rate_lb_in(rate, 1.0, lean))
            }),
        )
        .by("k cos^2 lean, mounts on the axle", "work at spring and wheel set equal, own algebra")
        .on(COIL),
        Def::new("rear_sprung_corner", "load on the rear spring", "lb", 0, Of::Side(sprung))
            .by("corner weight less half the axle's weight", "arithmetic"),
        Def::new(
            "rear_ride_frequency",
            "rear ride frequency",
            "Hz",
            2,
            Of::Side(|a| {
                let [rate, load] = a.above_zero(["rear_wheel_rate", "rear_sprung_corner"])?;
                Ok(ride_frequency_hz(rate, load))
            }),
        )
        .by("sqrt(k g/W)/(2 pi)", "Gillespie, Fundamentals of Vehicle Dynamics, ch. 5"),
        Def::new(
            "windup_stiffness_held",
            "wind-up stiffness of both leaves, height held",
            "lb-ft/deg",
            0,
            Of::One(|a| Ok(seat_of_both(a)?.k22_in_lb_per_rad().to_radians() / 12.0)),
        )
        .by("a^2 ka + b^2 kb", BEAM)
        .on(LEAF),
        Def::new(
            "windup_stiffness_free",
            "wind-up stiffness, axle free to rise",
            "lb-ft/deg",
            0,
            Of::One(|a| Ok(seat_of_both(a)?.windup_free_in_lb_per_rad().to_radians() / 12.0)),
        )
        .by("(a + b)^2 ka kb/(ka + kb)", BEAM)
        .on(LEAF),
    ],
};

#[cfg(test)]
mod tests {
    use super::halves_of_rate;

    #[test]
    fn halves_of_a_measured_rate_give_it_back() {
        for (k, a, b) in [(145.0, 20.0, 36.0), (120.0, 28.0, 28.0), (210.0, 24.0, 33.0)] {
            let seat = halves_of_rate(k, a, b);
            assert!((seat.rate_free_lb_in() - k).abs() < 1e-9);
            // Of one section the pivot is a b/(b - a) ahead (reference, leaf anti-squat).
            match seat.pivot_ahead_in() {
                Some(x) => assert!((x - a * b / (b - a)).abs() < 1e-6),
                None => assert_eq!(a, b),
            }
        }
    }
}
