//! Loads: corners, center of gravity, transfer, traction, rotating mass, pitch, side to side.

use crate::book::Check;
use slipbook::chassis::{
    AtRest, AxleRates, Corners, G_IN_S2, OpenAxle, RaisedAxle, Roll, RotatingParts, Spinning, driveshaft_torque_lb_ft,
    mass_factor_guide, side_transfer_lb, spin_up_transfer_lb,
};

/// Inches in a meter, pounds in a kilogram: exact factors of NIST SP 811, B.8.
const IN_PER_M: f64 = 1.0 / 0.0254;
const LB_PER_KG: f64 = 1.0 / 0.453_592_37;
/// Standard gravity, m/s2.
const G_M_S2: f64 = 9.806_65;

pub fn corner_weights(c: &mut Check) {
    let [lf_lb, rf_lb, lr_lb, rr_lb] = ["LF", "RF", "LR", "RR"].map(|k| c.input(k));
    let corners = Corners { lf_lb, rf_lb, lr_lb, rr_lb };
    let shares = corners.shares().unwrap();
    c.is("total", corners.total_lb());
    c.is("front_pct", shares.front_pct);
    c.is("rear_pct", shares.rear_pct);
    c.is("left_pct", shares.left_pct);
    c.is("cross_rf_lr_pct", shares.cross_rf_lr_pct);
    c.is("cross_lf_rr_pct", shares.cross_lf_rr_pct);
    c.is("rr_minus_lr_lb", corners.rear_difference_lb());
    assert!((shares.left_pct + shares.right_pct - 100.0).abs() < 1e-9, "{}", c.entry.id);
}

pub fn cg_height(c: &mut Check) {
    // Front raised: the rear is on the scales.
    let (level, raised, down, up) = match c.given("Wr1_lb") {
        Some(level) => (level, c.input("Wr2_lb"), "rr_in", "rf_in"),
        None => (c.input("Wf1_lb"), c.input("Wf2_lb"), "rf_in", "rr_in"),
    };
    let radius = |c: &Check, key: &str| c.given(key).unwrap_or_else(|| c.input("r_in"));
    let weighing = RaisedAxle {
        weight_lb: c.input("W_lb"),
        level_lb: level,
        raised_lb: raised,
        wheelbase_in: c.input("L_in"),
        lift_in: c.input("H_in"),
        radius_down_in: radius(c, down),
        radius_up_in: radius(c, up),
    };
    let ours = weighing.height().unwrap();
    c.is("h_in", ours.height_in);
    c.is("theta_deg", ours.tilt_deg);
    c.is("h_true_in", ours.height_in);
    if c.value("h_true_in").is_some() {
        // Ours is exact where the entry's own form, which shares the radii by the level weights, is 0.02 in off.
        c.near("h_true_in", ours.height_in, 0.0, 1e-6);
        let share = 1.0 - level / weighing.weight_lb;
        let r = weighing.radius_down_in * (1.0 - share) + weighing.radius_up_in * share;
        let form =
            r + weighing.wheelbase_in * (raised - level) / (weighing.weight_lb * ours.tilt_deg.to_radians().tan());
        c.near("cross.h_formula_in", form, 1e-9, 0.0);
        c.between("cross.h_formula_in", form, ours.height_in, 0.05);
    }
}

pub fn load_transfer(c: &mut Check) {
    if c.given("m_body_kg").is_some() {
        return spinning_wheels(c);
    }
    if let Some(mu) = c.given("mu") {
        let (w, l, g) = (c.input("W_lb"), c.input("L_ft") * 12.0, c.input("g_ft_s2"));
        let car = AtRest {
            weight_lb: w,
            rear_lb: w * c.input("b_ft") * 12.0 / l,
            wheelbase_in: l,
            cg_height_in: c.input("h_ft") * 12.0,
        };
        let a_g = car.launch_limit(mu).traction_g.unwrap();
        let (front, rear) = car.axles_lb(a_g);
        c.is("Nf_each_lb", front / 2.0);
        c.is("t_s", c.input("v_ft_s") / (a_g * g));
        for (key, ours) in [("Nr_each_lb", rear / 2.0), ("a_ft_s2", a_g * g)] {
            c.is(key, ours);
            c.near(&format!("cross.{key}"), ours, 1e-5, 0.0);
        }
        return;
    }
    let car = AtRest {
        weight_lb: c.input("W_lb"),
        rear_lb: c.input("W_lb") - c.input("Wf_lb"),
        wheelbase_in: c.input("L_in"),
        cg_height_in: c.input("h_in"),
    };
    let (front, rear) = car.axles_lb(c.input("a_g"));
    c.is("dW_lb", car.transfer_lb(c.input("a_g")));
    c.is("Wf2_lb", front);
    c.is("Wr2_lb", rear);
    c.is("a_wheels_up_g", car.wheels_up_g());
}

/// A body and four wheels with inertia, metric; gravity as the entry has it, by weights that much heavier.
fn spinning_wheels(c: &mut Check) {
    let (l, a, g) = (c.input("L_m"), c.input("a_m_s2"), c.input("g_m_s2"));
    let body = (c.input("m_body_kg"), c.input("x_cg_ahead_of_rear_m"), c.input("h_cg_m"));
    let wheels = |x: f64, m: &str, r: &str| (2.0 * c.input(m), x, c.input(r));
    let masses = [body, wheels(0.0, "m_rear_wheel_kg", "r_rear_m"), wheels(l, "m_front_wheel_kg", "r_front_m")];
    let mass: f64 = masses.iter().map(|m| m.0).sum();
    let car = AtRest {
        weight_lb: mass * LB_PER_KG,
        rear_lb: masses.iter().map(|(m, x, _)| m * (1.0 - x / l)).sum::<f64>() * LB_PER_KG,
        wheelbase_in: l * IN_PER_M,
        cg_height_in: masses.iter().map(|(m, _, h)| m * h).sum::<f64>() / mass * IN_PER_M,
    };
    // kg m2 is (lb/G) in2, in lb s2/in.
    let spinning = |mass: f64, k: f64, r: f64| Spinning {
        inertia_in_lb_s2: mass * k * k * LB_PER_KG * IN_PER_M * IN_PER_M / G_IN_S2,
        radius_in: r * IN_PER_M,
    };
    let rear = spinning(masses[1].0, c.input("k_rear_m"), c.input("r_rear_m"));
    let front = spinning(masses[2].0, c.input("k_front_m"), c.input("r_front_m"));
    let a_g = a / G_M_S2;
    let newton = G_M_S2 / LB_PER_KG;
    // At rest with the entry's gravity; what comes of acceleration does not depend on it.
    let came = (car.transfer_lb(a_g) + spin_up_transfer_lb(&[rear, front], a_g, car.wheelbase_in)) * newton;
    let at_rest = |lb: f64| lb / LB_PER_KG * g;
    for (key, axle) in [
        ("N_rear_each", at_rest(car.rear_lb) + came),
        ("N_front_each", at_rest(car.front_lb()) - came),
        ("F_rear_each", car.thrust_lb(a_g, &[front]) * newton),
    ] {
        c.is(&format!("{key}_kN"), axle / 2.0 / 1000.0);
        c.near(&format!("cross.{key}_N"), axle / 2.0, 1e-9, 0.0);
    }
}

pub fn traction_limit(c: &mut Check) {
    let mu = c.input("mu");
    if let Some(share) = c.given("a1_over_L") {
        let car = AtRest {
            weight_lb: 1.0,
            rear_lb: share,
            wheelbase_in: c.input("L_m") * IN_PER_M,
            cg_height_in: c.input("h_m") * IN_PER_M,
        };
        let seconds = c.input("v_m_s") / c.input("g_m_s2");
        for (key, g) in [
            ("t_rear_drive_s", car.launch_limit(mu).traction_g.unwrap()),
            ("t_front_drive_s", car.front_drive_limit_lb(mu)),
            ("t_all_wheel_s", car.all_wheel_limit_lb(mu)),
        ] {
            c.is(key, seconds / g);
            // By its own tolerance: that one was made with 100 km/h unrounded.
            c.near(&format!("cross.{key}"), seconds / g, 0.0, 0.01);
        }
        return;
    }
    let car = AtRest {
        weight_lb: c.input("W_lb"),
        rear_lb: c.input("Wr_lb"),
        wheelbase_in: c.input("L_in"),
        cg_height_in: c.input("h_in"),
    };
    if let Some(kf) = c.given("Kf") {
        let open = OpenAxle {
            tire_radius_in: c.input("r_in"),
            final_drive: c.input("Nf"),
            tread_in: c.input("t_in"),
            front_roll_share: kf / (kf + c.input("Kr")),
        };
        let locked = c.entry.inputs["locked"].as_bool().unwrap();
        let force = car.rear_drive_limit_lb(mu, (!locked).then_some(&open)).unwrap();
        let torque = driveshaft_torque_lb_ft(force, open.tire_radius_in, open.final_drive);
        c.is("Fx_lb", force);
        c.is("ax_g", force / car.weight_lb);
        c.is("dW_lb", car.transfer_lb(force / car.weight_lb));
        c.is("driveshaft_torque_lb_ft", torque);
        c.is("side_transfer_per_wheel_lb", side_transfer_lb(torque, open.tread_in, open.front_roll_share));
        return;
    }
    let limit = car.launch_limit(mu);
    c.is("a_traction_g", limit.traction_g.unwrap());
    c.is("a_wheelstand_g", limit.wheels_up_g);
    c.is("a_max_g", limit.most_g);
    crate::truth(c, "front_lifts_first", limit.front_lifts_first);
}

pub fn mass_factor(c: &mut Check) {
    let parts = RotatingParts {
        engine_in_lb_s2: c.input("Ie_in_lb_s2"),
        transmission_in_lb_s2: c.input("It_in_lb_s2"),
        driveshaft_in_lb_s2: c.input("Id_in_lb_s2"),
        wheels_in_lb_s2: c.input("Iw_total_in_lb_s2"),
        gear: c.input("Nt"),
        final_drive: c.input("Nf"),
        tire_radius_in: c.input("r_in"),
    };
    c.is("m_r_lb", parts.as_weight_lb());
    c.is("factor", parts.factor(c.input("W_lb")));
    c.is("factor_rule", mass_factor_guide(parts.gear, parts.final_drive));
}

pub fn pitch(c: &mut Check) {
    let share = c.input("a_over_L");
    let weight_lb = c.input("W_lb");
    let car =
        AtRest { weight_lb, rear_lb: weight_lb * share, wheelbase_in: c.input("L_in"), cg_height_in: c.input("h_in") };
    let rates = AxleRates { front_lb_in: c.input("kf_axle_lb_in"), rear_lb_in: c.input("kr_axle_lb_in") };
    let transfer = car.transfer_lb(c.input("a_g"));
    let pitch = rates.pitch(transfer, c.input("as_pct"), car.wheelbase_in, share);
    c.is("dW_lb", transfer);
    c.is("front_rise_in", pitch.front_rise_in);
    c.is("rear_drop_in", pitch.rear_drop_in);
    c.is("pitch_deg", pitch.pitch_deg);
    c.is("cg_rise_in", pitch.cg_rise_in);
}

fn in_roll(c: &Check) -> Roll {
    Roll {
        front_in_lb_per_rad: c.input("Kf_in_lb_per_rad"),
        rear_in_lb_per_rad: c.input("Kr_in_lb_per_rad"),
        // Preload of the rear does not ask for the front's.
        front_tread_in: c.given("tf_in").unwrap_or(60.0),
        rear_tread_in: c.input("tr_in"),
    }
}

pub fn torque_reaction(c: &mut Check) {
    let torque = c.input("driveshaft_torque_lb_ft");
    if let Some(share) = c.given("Kf_share") {
        let one = side_transfer_lb(torque, c.input("tread_in"), share);
        c.is("dWy_lb", one);
        c.is("RR_LR_difference_lb", 2.0 * one);
        return;
    }
    let reaction = in_roll(c).torque_reaction(torque);
    c.is("roll_deg", reaction.roll_right_deg);
    c.is("dLF_lb", reaction.change.lf_lb);
    c.is("dRF_lb", reaction.change.rf_lb);
    c.is("dLR_lb", reaction.change.lr_lb);
    c.is("dRR_lb", reaction.change.rr_lb);
}

pub fn preload(c: &mut Check) {
    let (car, torque) = (in_roll(c), c.input("driveshaft_torque_lb_ft"));
    let shim = car.canceling_shim_in(torque);
    let corners = car.right_rear_shim(shim);
    c.is("dz_in", shim);
    c.is("M_in_lb", car.warp_in_lb(car.rear_in_lb_per_rad * shim / car.rear_tread_in));
    c.is("RR_minus_LR_lb", corners.rear_difference_lb());
    // It does cancel.
    let left = corners.rear_difference_lb() + car.torque_reaction(torque).change.rear_difference_lb();
    assert!(left.abs() < 1e-9, "{}: {left}", c.entry.id);
}
