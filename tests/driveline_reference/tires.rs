//! Footprint, rolling radius, and the revolutions at a speed.

use crate::book::Check;
use crate::forms;
use slipbook::chassis::{
    IN_PER_MILE, deflection_in, diameter_in, effective_radius_in, engine_rpm, footprint_in2, footprint_length_in,
    input_rpm, rolling_radius_in, rollout_in, turns_per_mile, wheel_rpm,
};

pub fn tire(c: &mut Check) {
    if let (Some(load), Some(psi), Some(width), Some(stiffness)) =
        (c.given("load_lb"), c.given("p_psi"), c.given("width_in"), c.given("k_lb_in"))
    {
        let area = footprint_in2(load, psi).unwrap();
        c.is("area_in2", area);
        c.is("length_in", footprint_length_in(area, width).unwrap());
        c.is("deflection_in", deflection_in(load, stiffness).unwrap());
    }
    if let Some(turns) = c.given("revs_per_mile") {
        let radius = rolling_radius_in(turns).unwrap();
        c.is("r_in", radius);
        c.near("cross.r_in", radius, 1e-9, 0.0);
    }
    if let (Some(free), Some(loaded)) = (c.given("r_free_in"), c.given("r_loaded_in")) {
        let rolling = effective_radius_in(free, loaded).unwrap();
        let short = forms::effective_radius_in(free, loaded);
        c.is("r_eff_in", rolling);
        c.is("r_eff_short_in", short);
        c.between("r_eff_short_in", short, rolling, 0.002 * rolling);
        c.is("revs_per_mile", turns_per_mile(rolling).unwrap());
    }
}

pub fn trap_rpm(c: &mut Check) {
    let [Some(mph), Some(gear), Some(last), Some(diameter)] =
        ["mph", "gear", "final", "dia_in"].map(|name| c.given(name))
    else {
        return;
    };
    let rollout = rollout_in(diameter);
    let input = input_rpm(mph, gear, last, rollout).unwrap();
    c.is("rpm", input);
    c.is("rollout_in", rollout);
    // A mile an hour on a tire an inch high.
    c.is("const", wheel_rpm(1.0, rollout_in(1.0)).unwrap());
    c.is("const", IN_PER_MILE / 60.0 * diameter_in(1.0));
    if let Some(slip) = c.given("slip") {
        c.is("engine_rpm", engine_rpm(input, slip).unwrap());
    }
    c.near("cross.rpm_exact", input, 1e-9, 0.0);
    let trade = forms::rpm_336(mph, gear * last, diameter);
    c.near("cross.rpm_336", trade, 1e-9, 0.0);
    c.between("cross.rpm_336", trade, input, 5e-4 * input);
}
