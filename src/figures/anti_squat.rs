//! Anti-squat and instant center: of leaves by their elastic pivot, of ladder bars and four links by geometry.

use super::ask::some;
use super::rear_spring::seat_of_both;
use super::{Ask, Cannot, Def, Got, Of, State, Subject};
use crate::chassis::{
    FourLink, InstantCenter, Link, LinkForces, Point, anti_squat_pct, diameter_in, rear_spring_change_lb,
};

const LEAF: &[&str] = &["leaf"];
const LADDER: &[&str] = &["ladder"];
const FOUR: &[&str] = &["fourlink"];
const LINKED: &[&str] = &["ladder", "fourlink"];
const GILLESPIE_7: &str = "Gillespie, Fundamentals of Vehicle Dynamics, ch. 7 (anti-squat of a solid axle)";
const ELASTIC: &str = "elastic leaf as an equivalent link, unit-load statics, own algebra; Gillespie, ch. 7, for AS";

/// Height of the rear axle's center, in: half a diameter by the rollout.
fn axle_height(ask: &mut Ask) -> Got<f64> {
    let [rollout] = ask.above_zero(["rear.tire.rollout"])?;
    ask.assume("rear axle as high as the rollout's radius: the tire's squash is not in it");
    Ok(diameter_in(rollout) / 2.0)
}

/// The ladder bar's pivot, from under the axle.
fn ladder_pivot(ask: &mut Ask) -> Got<Point> {
    let [length, height_in] = ask.above_zero(["rear.ladder.length", "rear.ladder.front_height"])?;
    let drop = axle_height(ask)? - height_in;
    let ahead = (length * length - drop * drop).sqrt();
    let ahead_in = some((ahead > 0.0).then_some(ahead), "the bar is shorter than its pivot is below the axle")?;
    Ok(Point { ahead_in, height_in })
}

fn links(ask: &mut Ask) -> Got<FourLink> {
    let [front_x, front_y, rear_x, rear_y, front_step, rear_step] = ask.nums([
        "rear.link.front_base.ahead",
        "rear.link.front_base.height",
        "rear.link.rear_base.ahead",
        "rear.link.rear_base.height",
        "rear.link.hole_spacing.front",
        "rear.link.hole_spacing.rear",
    ])?;
    let [upper_front, upper_rear, lower_front, lower_rear] = ask.nums([
        "rear.link.upper_front_hole",
        "rear.link.upper_rear_hole",
        "rear.link.lower_front_hole",
        "rear.link.lower_rear_hole",
    ])?;
    ask.assume("holes of a bracket stand straight above each other");
    let at = |x: f64, y: f64, step: f64, hole: f64| Point { ahead_in: x, height_in: y + step * (hole - 1.0) };
    let link = |rear: f64, front: f64| Link {
        rear: at(rear_x, rear_y, rear_step, rear),
        front: at(front_x, front_y, front_step, front),
    };
    Ok(FourLink { lower: link(lower_rear, lower_front), upper: link(upper_rear, upper_front) })
}

fn link_center(ask: &mut Ask) -> Got<Point> {
    match links(ask)?.instant_center() {
        Some(InstantCenter::At(point)) => Ok(point),
        Some(InstantCenter::Parallel { .. }) => {
            Err(Cannot::Because("the bars are parallel: they meet nowhere".to_owned()))
        }
        None => Err(Cannot::Because("a bar has no length".to_owned())),
    }
}

fn forces(ask: &mut Ask) -> Got<LinkForces> {
    let [thrust] = ask.above_zero(["thrust"])?;
    let over = "no pull along the bars can hold the axle: they meet over it";
    links(ask)?.forces(thrust / 2.0).ok_or_else(|| Cannot::Because(over.to_owned()))
}

/// What both rear springs take on, whatever anti-squat is by.
fn spring_change(ask: &mut Ask) -> Got<f64> {
    let [transfer, squat] = ask.nums(["load_transfer", "anti_squat"])?;
    Ok(rear_spring_change_lb(transfer, squat))
}

pub(super) const SUBJECT: Subject = Subject {
    title: "Anti-squat",
    figures: &[
        Def::new(
            "leaf_pivot_ahead",
            "leaf acts like a bar with its pivot ahead",
            "in",
            1,
            Of::One(|a| {
                some(
                    seat_of_both(a)?.pivot_ahead_in(),
                    "equal halves pivot nowhere: wind-up does not move the axle up or down",
                )
            }),
        )
        .by("(b^2/ka + a^2/kb)/(a/kb - b/ka)", ELASTIC)
        .on(LEAF),
        Def::new(
            "anti_squat",
            "anti-squat",
            "%",
            0,
            Of::One(|a| {
                let [eye, wheelbase, h] =
                    a.above_zero(["rear.leaf.front_eye_height", "frame.wheelbase", "cg_height"])?;
                Ok(seat_of_both(a)?.anti_squat_pct(eye, wheelbase, h))
            }),
        )
        .by("100 (front eye height/pivot ahead)(L/h), the leaf's elastic pivot, limiter not met", ELASTIC)
        .at(State::AtLaunch)
        .on(LEAF),
        Def::new(
            "instant_center_ahead",
            "instant center ahead of the rear axle",
            "in",
            1,
            Of::Side(|a| Ok(ladder_pivot(a)?.ahead_in)),
        )
        .by("sqrt(bar^2 - (axle height - pivot height)^2)", "plane geometry")
        .on(LADDER),
        Def::new(
            "instant_center_height",
            "instant center above the ground",
            "in",
            1,
            Of::Side(|a| Ok(ladder_pivot(a)?.height_in)),
        )
        .by("the front pivot's", "plane geometry")
        .on(LADDER),
        Def::new(
            "anti_squat",
            "anti-squat",
            "%",
            0,
            Of::Side(|a| {
                let pivot = ladder_pivot(a)?;
                let [wheelbase, h] = a.above_zero(["frame.wheelbase", "cg_height"])?;
                Ok(anti_squat_pct(pivot.ahead_in, pivot.height_in, wheelbase, h))
            }),
        )
        .by("100 (y/x)(L/h)", GILLESPIE_7)
        .at(State::AtLaunch)
        .on(LADDER),
        Def::new(
            "instant_center_ahead",
            "instant center ahead of the rear axle",
            "in",
            1,
            Of::Side(|a| Ok(link_center(a)?.ahead_in)),
        )
        .by("where the lines of upper and lower bar meet", "plane geometry")
        .on(FOUR),
        Def::new(
            "instant_center_height",
            "instant center above the ground",
            "in",
            1,
            Of::Side(|a| Ok(link_center(a)?.height_in)),
        )
        .by("where the lines of upper and lower bar meet", "plane geometry")
        .on(FOUR),
        Def::new(
            "anti_squat",
            "anti-squat",
            "%",
            0,
            Of::Side(|a| {
                let [wheelbase, h] = a.above_zero(["frame.wheelbase", "cg_height"])?;
                some(links(a)?.anti_squat_pct(wheelbase, h), "the bars meet over the axle")
            }),
        )
        .by("100 (y/x)(L/h); of parallel bars 100 tan(slope)(L/h)", GILLESPIE_7)
        .at(State::AtLaunch)
        .on(FOUR),
        Def::new("upper_bar_force", "force in the upper bar, + pulled", "lb", 0, Of::Side(|a| Ok(forces(a)?.upper_lb)))
            .by(
                "axle in balance under half the thrust and a pull along each bar",
                "statics; anti-roll bar, shocks and spring seats left out",
            )
            .at(State::AtLaunch)
            .on(FOUR),
        Def::new(
            "lower_bar_force",
            "force in the lower bar, - pressed",
            "lb",
            0,
            Of::Side(|a| Ok(forces(a)?.lower_lb)),
        )
        .by(
            "axle in balance under half the thrust and a pull along each bar",
            "statics; anti-roll bar, shocks and spring seats left out",
        )
        .at(State::AtLaunch)
        .on(FOUR),
        Def::new(
            "rear_spring_change",
            "load the rear springs take on, both (- they let go)",
            "lb",
            0,
            Of::One(spring_change),
        )
        .by("W a h/L (1 - AS/100); under 0: they let go and the body rises", GILLESPIE_7)
        .at(State::AtLaunch)
        .on(LINKED),
        Def::new(
            "rear_spring_change",
            "load the rear springs take on, both (- they let go)",
            "lb",
            0,
            Of::One(spring_change),
        )
        .by("W a h/L (1 - AS/100); under 0: they let go and the body rises", ELASTIC)
        .at(State::AtLaunch)
        .on(LEAF),
        Def::new(
            "rear_drop_launch",
            "rear of the body drops (- it rises)",
            "in",
            2,
            Of::One(|a| {
                let [change, rate] = a.nums(["rear_spring_change", "rear_wheel_rate"])?;
                some((rate > 0.0).then(|| change / (2.0 * rate)), "the rear rate is 0")
            }),
        )
        .by("load the rear springs take on over the rate of both; under 0: it rises", GILLESPIE_7)
        .at(State::AtLaunch),
    ],
};
