//! The pinion limiter.

use crate::book::Check;
use crate::leaves::seat_of;
use slipbook::chassis::{
    Limiter, anti_squat_of_load_pct, anti_squat_pct, axle_torque_lb_ft, bound_force_lb, contact_angle_deg,
    gap_for_angle_in, seat_couple_in_lb, wound_force_lb,
};

pub fn limiter(c: &mut Check) {
    if c.given("a_front_in").is_some() {
        elastic(c);
    } else if let Some(stiffness) = c.given("Kth_both_in_lb_per_deg") {
        let (gap, ahead) = (c.input("gap_in"), c.input("d_in"));
        let couple = c.input("Fx_lb") * c.input("r_in");
        let (free, at) = (couple / stiffness, contact_angle_deg(gap, ahead));
        let force = wound_force_lb(couple, stiffness.to_degrees(), gap, ahead);
        c.is("axle_torque_in_lb", couple);
        c.is("free_windup_deg", free);
        c.is("gap_deg", at);
        crate::truth(c, "contact", Limiter { ahead_in: ahead, gap_in: gap }.is_met(free, 0.0));
        c.is("limiter_force_lb", force);
    } else if let Some(engine) = c.given("Te_lb_ft") {
        let torque = axle_torque_lb_ft(engine, c.input("conv"), c.input("gear"), c.input("final"));
        c.is("axle_torque_lb_ft", torque);
        c.is("F_lb", bound_force_lb(torque * 12.0, c.input("d_in")));
    } else if let Some(radius) = c.given("r_in") {
        let (seat, ground) = (seat_couple_in_lb(c.input("Fx_lb"), c.input("y_eye_in")), c.input("Fx_lb") * radius);
        c.is("M_seat_in_lb", seat);
        c.is("Fx_r_in_lb", ground);
        c.is("ratio", seat / ground);
    } else if let Some(height) = c.given("y_eye_in") {
        let ahead = c.input("d_in");
        c.is("as_pct", anti_squat_pct(ahead, height, c.input("L_in"), c.input("h_in")));
        c.is("F_lb", bound_force_lb(seat_couple_in_lb(c.input("Fx_lb"), height), ahead));
    } else if let Some(gap) = c.given("gap_in") {
        c.is("theta_deg", contact_angle_deg(gap, c.input("d_in")));
    } else {
        c.is("gap_in", gap_for_angle_in(c.input("theta_deg"), c.input("d_in")));
    }
}

fn elastic(c: &mut Check) {
    let seat = seat_of(c);
    let limiter = Limiter { ahead_in: c.input("d_in"), gap_in: c.input("gap_in") };
    let thrust = c.input("Fx_lb");
    let couple = seat_couple_in_lb(thrust, c.input("y_eye_in"));
    let hit = limiter.hit(&seat, couple);
    let anti_squat = anti_squat_of_load_pct(hit.tire_load_lb, thrust, c.input("L_in"), c.input("h_in"));
    let settled = limiter.settled(&seat, c.input("dN_lb"), couple);
    c.is("M_in_lb", couple);
    c.is("hit_free_windup_deg", hit.free_windup_rad.to_degrees());
    c.is("hit_force_lb", hit.force_lb);
    c.is("hit_tire_load_lb", hit.tire_load_lb);
    c.is("hit_tire_load_no_limiter_lb", hit.tire_load_without_lb);
    c.is("hit_as_pct", anti_squat);
    c.is("bound_force_lb", bound_force_lb(couple, limiter.ahead_in));
    c.is("settled_force_lb", settled.force_lb);
    c.is("settled_separation_in", settled.moved.separation_in());
    c.is("settled_windup_deg", settled.moved.windup_deg());
}
