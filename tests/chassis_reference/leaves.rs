//! Leaf springs.

use crate::book::Check;
use slipbook::chassis::{
    EyeLoads, LeafSeat, LeafSpring, TIP_PATH_GRADUATED, TIP_PATH_UNIFORM, eye_loads, seat_couple_in_lb,
    tip_path_graduated_in, tip_path_uniform_in,
};

/// A pound of force in N (exact; NIST SP 811, B.8).
const N_PER_LB: f64 = 0.453_592_37 * 9.806_65;

pub fn rates(c: &mut Check) {
    if let Some(force) = c.given("P_end_N") {
        let half = c.input("L_half_mm") / 25.4;
        let spring = LeafSpring {
            front_in: half,
            rear_in: half,
            width_in: c.input("b_mm") / 25.4,
            thickness_in: c.input("t_mm") / 25.4,
            full_leaves: c.input("nf"),
            graduated_leaves: c.input("ng"),
            clamped_front_in: 0.0,
            clamped_rear_in: 0.0,
            // MPa is N/mm2.
            modulus_psi: c.input("E_MPa") / N_PER_LB * 25.4 * 25.4,
        };
        let halves = spring.free_halves().unwrap();
        let delta = force / N_PER_LB / halves.front_lb_in * 25.4;
        c.is("delta_mm", delta);
        c.near("cross.delta_mm", delta, 1e-9, 0.0);
        c.near("cross.k_N_mm", halves.rate_free_lb_in() * N_PER_LB / 25.4, 1e-9, 0.0);
        return;
    }
    let (full_leaves, graduated_leaves) = match c.entry.inputs.get("type").and_then(|t| t.as_str()) {
        Some("uniform") => (c.input("n_leaves"), 0.0),
        Some("graduated") => (0.0, c.input("n_leaves")),
        Some(other) => panic!("{}: a spring that is {other}", c.entry.id),
        None => (c.input("nf"), c.input("ng")),
    };
    let clamped = c.input("inactive_each_side_in");
    let spring = LeafSpring {
        front_in: c.input("a_front_in"),
        rear_in: c.input("b_rear_in"),
        width_in: c.input("w_in"),
        thickness_in: c.input("t_in"),
        full_leaves,
        graduated_leaves,
        clamped_front_in: clamped,
        clamped_rear_in: clamped,
        modulus_psi: c.input("E_psi"),
    };
    let halves = spring.free_halves().unwrap();
    c.is("ka_lb_in", halves.front_lb_in);
    c.is("kb_lb_in", halves.rear_lb_in);
    c.is("k_lb_in", halves.rate_free_lb_in());
    c.is("k_seat_held_lb_in", halves.k11_lb_in());
    c.is("windup_in_lb_per_rad", halves.windup_free_in_lb_per_rad());
    c.is("windup_in_lb_per_deg", halves.windup_free_in_lb_per_rad() * 1.0_f64.to_radians());
}

pub fn equivalent(c: &mut Check) {
    let free = c.input("a_in");
    match c.entry.rtol {
        // Uniform section: to the digit.
        Some(_) => {
            c.is("ratio", TIP_PATH_UNIFORM);
            c.is("link_in", tip_path_uniform_in(free));
        }
        None => {
            c.near("link_in", tip_path_graduated_in(free), 0.05, 0.0);
            if c.value("ratio").is_some() {
                c.is("ratio", TIP_PATH_GRADUATED);
            }
            c.near("cross.numeric", TIP_PATH_GRADUATED, 0.0, 1e-3);
        }
    }
}

/// The seat of an entry that gives both springs' halves.
pub fn seat_of(c: &Check) -> LeafSeat {
    LeafSeat {
        front_in: c.input("a_front_in"),
        rear_in: c.input("b_rear_in"),
        front_lb_in: c.input("ka_both_lb_in"),
        rear_lb_in: c.input("kb_both_lb_in"),
    }
}

pub fn seat(c: &mut Check) {
    let seat = seat_of(c);
    c.is("k11_lb_in", seat.k11_lb_in());
    c.is("k12_lb", seat.k12_lb());
    c.is("k22_in_lb_per_rad", seat.k22_in_lb_per_rad());
    c.is("windup_free_in_lb_per_rad", seat.windup_free_in_lb_per_rad());
    match seat.pivot_ahead_in() {
        Some(pivot) => c.is("x_eq_in", pivot),
        None => assert!(c.value("x_eq_in").is_none(), "{}", c.entry.id),
    }
}

fn eyes(c: &mut Check, ours: EyeLoads) {
    c.is("Va_lb", ours.front_lb);
    c.is("Vb_lb", ours.rear_lb);
}

pub fn anti_squat(c: &mut Check) {
    let y = c.input("y_eye_in");
    if let Some(thrust) = c.given("Fx_lb") {
        return eyes(c, eye_loads(c.input("a_in"), c.input("b_in"), c.input("dW_lb"), seat_couple_in_lb(thrust, y)));
    }
    let (front_in, rear_in) = (c.input("a_front_in"), c.input("b_rear_in"));
    let seat = LeafSeat {
        front_in,
        rear_in,
        front_lb_in: 1e6 * c.input("front_half_stiffness_factor") / front_in.powi(3),
        rear_lb_in: 1e6 / rear_in.powi(3),
    };
    c.is("x_eq_in", seat.pivot_ahead_in().unwrap());
    c.is("as_pct", seat.anti_squat_pct(y, c.input("L_in"), c.input("h_in")));
}

pub fn launch(c: &mut Check) {
    let seat = seat_of(c);
    let moved = seat.moved(c.input("dN_lb"), seat_couple_in_lb(c.input("Fx_lb"), c.input("y_eye_in")));
    c.is("windup_deg", moved.windup_deg());
    c.is("separation_in", moved.separation_in());
    eyes(c, seat.eye_loads_at(moved));
}
