//! Working angles, compound angles, one joint and two.

use crate::book::{Check, number};
use crate::forms;
use slipbook::chassis::{
    Driveline, Joint, LEFT_OVER_GUIDE_RAD_S2, Line, Yokes, left_over_short_deg, rear_joint_limits_deg,
};

fn sloping(slope_deg: f64) -> Line {
    Line::sloping(slope_deg).unwrap()
}

pub fn operating_angle(c: &mut Check) {
    let [Some(transmission), Some(shaft), Some(pinion)] =
        ["trans_deg", "shaft_deg", "pinion_line_deg"].map(|name| c.given(name))
    else {
        return;
    };
    let rest = Driveline::new(sloping(transmission), sloping(shaft), sloping(pinion)).unwrap();
    let angle = |joint: Joint| joint.angle_deg();
    c.is("front_deg", angle(rest.front()));
    match c.given("windup_deg") {
        None => {
            c.is("rear_deg", angle(rest.rear()));
            c.is("difference_deg", rest.difference_deg());
        }
        Some(wind_up) => {
            let loaded = rest.wound_up(wind_up).unwrap();
            c.is("pinion_line_loaded_deg", shaft + loaded.pinion_to_shaft_deg());
            c.is("rear_static_deg", angle(rest.rear()));
            c.is("rear_loaded_deg", angle(loaded.rear()));
            c.is("difference_loaded_deg", loaded.difference_deg());
        }
    }
}

/// Two numbers of an input.
fn pair(c: &Check, name: &str) -> Option<(f64, f64)> {
    let list = c.entry.inputs.get(name)?.as_array()?;
    Some((number(list.first()?)?, number(list.get(1)?)?))
}

pub fn compound(c: &mut Check) {
    let (first, second) = match (c.given("top_deg"), c.given("side_deg"), pair(c, "shaft1"), pair(c, "shaft2")) {
        (Some(top), Some(side), ..) => ((0.0, 0.0), (top, side)),
        // Top view, side view.
        (_, _, Some(first), Some(second)) => (first, second),
        _ => return,
    };
    let line = |(top, side): (f64, f64)| Line::new(side, top).unwrap();
    let ours = Joint::between(line(first), line(second)).unwrap().angle_deg();
    let workshop = forms::compound_deg(second.0 - first.0, second.1 - first.1);
    c.is("exact_deg", ours);
    c.is("approx_deg", workshop);
    c.between("approx_deg", workshop, ours, 0.002 * ours);
    // As printed: both round to it.
    for angle in [workshop, ours] {
        c.near("cross.published_rounded_deg", (angle * 10.0).round() / 10.0, 0.0, 1e-9);
    }
}

pub fn cardan(c: &mut Check) {
    match (c.given("beta_deg"), c.given("rpm"), c.given("swing_rpm")) {
        (Some(beta), None, None) => one_joint(c, Joint::new(beta).unwrap()),
        (None, Some(rpm), Some(swing)) => {
            let joint = Joint::of_swing(rpm, swing).unwrap();
            for (key, ours) in [("max_rpm", rpm * joint.greatest_ratio()), ("min_rpm", rpm * joint.least_ratio())] {
                c.is(key, ours);
                c.near(&format!("cross.{key}"), ours, 1e-9, 0.0);
            }
            c.near("cross.beta_deg", joint.angle_deg(), 1e-9, 0.0);
        }
        (Some(beta), Some(rpm), None) => {
            let joint = Joint::new(beta).unwrap();
            c.is("alpha_max_rad_s2", joint.greatest_acceleration_rad_s2(rpm));
            c.is("alpha_short_rad_s2", joint.short_acceleration_rad_s2(rpm));
            // A shaft between two such joints: parallel ends, yokes right and a quarter turn wrong.
            let line = Driveline::new(sloping(beta), sloping(0.0), sloping(beta)).unwrap();
            let [right, wrong] = [Yokes::InPhase, Yokes::QuarterTurnApart].map(|y| line.left_over(y).unwrap());
            for (key, ours) in [
                ("mid_min_rpm", rpm * line.front().least_ratio()),
                ("out_min_wrong_phase_rpm", rpm * wrong.least_ratio()),
                ("out_max_wrong_phase_rpm", rpm * wrong.greatest_ratio()),
                ("out_right_rpm", rpm * right.greatest_ratio()),
            ] {
                c.is(key, ours);
                c.near(&format!("cross.{key}"), ours, 1e-9, 0.0);
            }
        }
        _ => {}
    }
}

fn one_joint(c: &mut Check, joint: Joint) {
    c.is("min", joint.least_ratio());
    c.is("max", joint.greatest_ratio());
    c.is("spread", joint.ratio_spread());
    c.is("at_45", joint.ratio(45.0));
    c.is("angle_lead_exact_deg", joint.greatest_lead_deg());
    c.is("theta_deg", joint.equal_speed_deg());
}

pub fn residual(c: &mut Check) {
    match (c.given("b1_deg"), c.given("b2_deg"), c.given("rpm")) {
        (Some(b1), Some(b2), Some(rpm)) => two_joints(c, b1, b2, rpm),
        (None, None, Some(rpm)) => allowed(c, rpm),
        _ => {}
    }
}

fn two_joints(c: &mut Check, b1: f64, b2: f64, rpm: f64) {
    let [front, rear] = [b1, b2].map(|b| Joint::new(b).unwrap());
    let [phase, across] = [0.0, 90.0].map(|twist| left_over_short_deg(b1, b2, twist));
    let [exact, exact_across] = [0.0, 90.0].map(|twist| Joint::left_over(front, rear, twist).unwrap());
    c.is("b_eq_deg", phase);
    c.is("b_eq_exact_deg", exact.angle_deg());
    c.between("b_eq_deg", phase, exact.angle_deg(), 0.002 * phase);
    c.is("b_eq_out_of_phase_deg", across);
    c.between("b_eq_out_of_phase_deg", across, exact_across.angle_deg(), 0.002 * across);
    c.is("residual_accel_rad_s2", Joint::new(phase).unwrap().short_acceleration_rad_s2(rpm));
    let worst = front.short_acceleration_rad_s2(rpm).max(rear.short_acceleration_rad_s2(rpm));
    c.is("inertia_accel_rad_s2", worst);
}

/// The printed tables of what the other joint may have.
fn allowed(c: &mut Check, rpm: f64) {
    let Some(given) = c.entry.inputs.get("joint1_deg").and_then(|list| list.as_array()) else { return };
    let given: Vec<f64> = given.iter().filter_map(number).collect();
    let ours: Vec<f64> =
        given.iter().map(|b| rear_joint_limits_deg(*b, rpm, LEFT_OVER_GUIDE_RAD_S2).unwrap().1).collect();
    let table: Vec<f64> = given.iter().map(|b| forms::allowed_deg(rpm, *b)).collect();
    let atol = c.entry.atol.unwrap();
    list(c, "joint2_deg_published", &ours, atol);
    list(c, "cross.joint2_deg_formula", &ours, 0.1);
    list(c, "cross.joint2_deg_formula", &table, 1e-9);
}

/// Every number of a list, within `atol`; as many as there are.
fn list(c: &mut Check, key: &str, ours: &[f64], atol: f64) {
    let Some(wanted) = c.value(key).and_then(|list| list.as_array()) else { return };
    let wanted: Vec<f64> = wanted.iter().filter_map(number).collect();
    let near = |(a, b): (&f64, &f64)| (a - b).abs() <= atol;
    let same = wanted.len() == ours.len() && wanted.iter().zip(ours).all(near);
    c.look(key, (!same).then(|| format!("is {wanted:?}, ours {ours:?}: allowed {atol:.3e}")));
}
