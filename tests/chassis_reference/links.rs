//! Instant center and anti-squat of links.

use crate::book::{Check, number};
use slipbook::chassis::{
    AtRest, FourLink, InstantCenter, Link, Point, anti_squat_of_slope_pct, anti_squat_pct, rear_spring_change_lb,
};

/// A hole of the links: ahead of the axle and above the ground.
fn point(c: &Check, key: &str) -> Point {
    let both: Vec<f64> = c.entry.inputs[key].as_array().unwrap().iter().filter_map(number).collect();
    let [ahead_in, height_in] = both[..] else { panic!("{}.{key}", c.entry.id) };
    Point { ahead_in, height_in }
}

pub fn anti_squat(c: &mut Check) {
    let (l, h) = (c.input("L_in"), c.input("h_in"));
    if let Some(theta) = c.given("theta_deg") {
        let slope = theta.to_radians().tan();
        c.is("as_pct", anti_squat_of_slope_pct(slope, l, h));
        // Two links at that angle, one over the other.
        let link = |height_in: f64| Link {
            rear: Point { ahead_in: 0.0, height_in },
            front: Point { ahead_in: 20.0, height_in: height_in + 20.0 * slope },
        };
        c.is("as_pct", FourLink { lower: link(7.0), upper: link(18.0) }.anti_squat_pct(l, h).unwrap());
    } else if let Some(x) = c.given("ic_x_in") {
        let pct = anti_squat_pct(x, c.input("ic_y_in"), l, h);
        let car = AtRest { weight_lb: c.input("W_lb"), rear_lb: 0.0, wheelbase_in: l, cg_height_in: h };
        let transfer = car.transfer_lb(c.input("a_g"));
        c.is("as_pct", pct);
        c.is("dW_lb", transfer);
        c.is("rear_spring_dF_lb", rear_spring_change_lb(transfer, pct));
    } else {
        let links = FourLink {
            lower: Link { rear: point(c, "lower_rear"), front: point(c, "lower_front") },
            upper: Link { rear: point(c, "upper_rear"), front: point(c, "upper_front") },
        };
        let Some(InstantCenter::At(ic)) = links.instant_center() else { panic!("{}: no center", c.entry.id) };
        let forces = links.forces(c.input("Fx_lb")).unwrap();
        c.is("ic_x_in", ic.ahead_in);
        c.is("ic_y_in", ic.height_in);
        c.is("as_pct", links.anti_squat_pct(l, h).unwrap());
        c.is("lower_force_lb", forces.lower_lb);
        c.is("upper_force_lb", forces.upper_lb);
        c.is("lift_on_body_lb", forces.lift_lb);
    }
}
