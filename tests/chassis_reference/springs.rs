//! Springs: torsion bars, coils, shocks, ride.

use crate::book::Check;
use slipbook::chassis::{
    Coil, TorsionArm, TorsionBar, critical_damping_lb_s_in, force_share, ride_frequency_hz, rise_in, series_rate_lb_in,
    static_deflection_in, wheel_damping_lb_s_in, wheel_rate_lb_in,
};

/// A psi in Pa, an inch-pound in N m: exact factors (NIST SP 811, B.8).
const PA_PER_PSI: f64 = 0.453_592_37 * 9.806_65 / (0.0254 * 0.0254);
const N_M_PER_IN_LB: f64 = 0.453_592_37 * 9.806_65 * 0.0254;

pub fn torsion_bar(c: &mut Check) {
    if let Some(thin) = c.given("d1") {
        // Twist of the thin bar over that of the thick one, under one load.
        let twist = |outer_in: f64| bar(outer_in, 0.0, 41.0, 11.5e6).rate_in_lb_per_rad().recip();
        c.is("ratio", twist(thin) / twist(c.input("d2")));
    } else if let Some(rate) = c.given("kT") {
        let arm = |angle_deg: f64| TorsionArm {
            bar_in_lb_per_rad: rate,
            arm_in: c.input("R_in"),
            angle_deg,
            load_lb: c.input("F_lb"),
        };
        let angle = c.input("a_deg");
        let (up, down) = (arm(angle).wheel_rate_lb_in(), arm(-angle).wheel_rate_lb_in());
        c.is("kw_lb_in", up);
        c.is("kw_at_minus10", down);
    } else if let Some(phi) = c.given("phi_deg") {
        let meters = bar(
            c.input("D_mm") / 25.4,
            c.input("d_mm") / 25.4,
            c.input("L_m") / 0.0254,
            c.input("G_GPa") * 1e9 / PA_PER_PSI,
        );
        let polar = meters.polar_in4() * 0.0254_f64.powi(4);
        let at_stress = c.input("tau_MPa") * 1e6 / PA_PER_PSI / meters.stress_psi(1.0) * N_M_PER_IN_LB;
        let at_twist = meters.rate_in_lb_per_rad() * phi.to_radians() * N_M_PER_IN_LB;
        c.is("J_m4", polar);
        c.is("T_at_tau_kN_m", at_stress / 1000.0);
        c.is("T_at_phi_kN_m", at_twist / 1000.0);
        c.near("cross.J_m4", polar, 1e-9, 0.0);
        c.near("cross.T_at_tau_N_m", at_stress, 1e-9, 0.0);
        c.near("cross.T_at_phi_N_m", at_twist, 1e-9, 0.0);
    } else if let Some(torque) = c.given("T_in_lb").or(c.given("T_lb_ft").map(|t| t * 12.0)) {
        let shaft = bar(c.input("d_in"), 0.0, c.input("L_in"), c.input("G_psi"));
        let twist = torque / shaft.rate_in_lb_per_rad();
        c.is("J_in4", shaft.polar_in4());
        c.is("phi_rad", twist);
        c.is("tau_psi", shaft.stress_psi(torque));
        c.near("cross.J_in4", shaft.polar_in4(), 2e-5, 0.0);
        c.near("cross.phi_rad", twist, 2e-5, 0.0);
    } else {
        let shear = c.given("G_psi").unwrap_or(slipbook::chassis::G_STEEL_PSI);
        let (outer, inner) = match c.given("D_in") {
            Some(outer) => (outer, c.input("d_in")),
            None => (c.input("d_in"), 0.0),
        };
        let bar = bar(outer, inner, c.input("L_in"), shear);
        let rate = bar.rate_in_lb_per_rad();
        let arm = TorsionArm {
            bar_in_lb_per_rad: rate,
            arm_in: c.input("arm_in"),
            angle_deg: 0.0,
            load_lb: c.given("wheel_load_lb").unwrap_or(0.0),
        };
        c.is("kT_in_lb_per_rad", rate);
        c.is("kT_in_lb_per_deg", rate * 1.0_f64.to_radians());
        c.is("wheel_rate_lb_in", arm.wheel_rate_lb_in());
        c.is("twist_deg", arm.twist_deg());
        c.is("tau_psi", bar.stress_psi(arm.torque_in_lb()));
        if let Some(leaving) = c.given("unload_lb") {
            c.is("rise_linear_in", arm.rise_linear_in(leaving));
            c.is("rise_exact_in", arm.rise_exact_in(leaving).unwrap());
        }
        c.near("cross.wheel_rate_G11p5", arm.wheel_rate_lb_in(), 1e-9, 0.0);
    }
}

fn bar(outer_in: f64, inner_in: f64, length_in: f64, shear_modulus_psi: f64) -> TorsionBar {
    TorsionBar { outer_in, inner_in, length_in, shear_modulus_psi }
}

pub fn coil(c: &mut Check) {
    if let Some(rate) = c.given("kw_lb_in") {
        let load = c.input("wheel_load_lb");
        c.is("static_defl_in", static_deflection_in(load, rate));
        c.is("rise_in", rise_in(load, rate, c.input("x_lb")));
        return;
    }
    let coil = Coil {
        wire_in: c.input("d_in"),
        mean_in: c.input("D_mean_in"),
        active_coils: c.input("Na"),
        shear_modulus_psi: c.input("G_psi"),
    };
    c.is("k_lb_in", coil.rate_lb_in());
    if c.value("solid_in").is_some() {
        // The length is printed finer than the rate.
        c.near("solid_in", coil.solid_in(), 0.0, 0.0005);
    }
    c.near("cross.k_lb_in", coil.rate_lb_in(), 1e-9, 0.0);
    if let Some(ratio) = c.given("MR") {
        c.is("wheel_rate_lb_in", wheel_rate_lb_in(coil.rate_lb_in(), ratio, c.input("angle_deg")));
    }
}

pub fn shock(c: &mut Check) {
    let (ratio, angle) = (c.input("MR"), c.input("angle_deg"));
    let damping = wheel_damping_lb_s_in(c.input("c_lb_s_in"), ratio, angle);
    let critical = critical_damping_lb_s_in(c.input("k_wheel_lb_in"), c.input("W_lb"));
    c.is("c_wheel_lb_s_in", damping);
    c.is("c_crit_lb_s_in", critical);
    c.is("zeta", damping / critical);
    c.is("force_ratio", force_share(ratio, angle));
}

pub fn ride(c: &mut Check) {
    if let Some(wheel) = c.given("kw") {
        c.is("ride_rate", series_rate_lb_in(wheel, c.input("kt")));
        return;
    }
    let (rate, weight) = (c.input("k_lb_in"), c.input("W_lb"));
    c.is("f_Hz", ride_frequency_hz(rate, weight));
    c.is("static_in", static_deflection_in(weight, rate));
    // An inch of static deflection.
    c.is("const", ride_frequency_hz(1.0, 1.0));
}
