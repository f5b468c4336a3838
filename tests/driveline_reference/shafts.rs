//! The speed at which a tube whips.

use crate::book::Check;
use crate::forms;
use slipbook::chassis::{ALUMINUM, Metal, STEEL, Tube};

pub fn critical_speed(c: &mut Check) {
    let [Some(outside_in), Some(wall_in), Some(length_in), Some(modulus_psi), Some(weight_lb_in3)] =
        ["D_in", "wall_in", "L_in", "E_psi", "weight_lb_in3"].map(|name| c.given(name))
    else {
        return;
    };
    let rpm = |metal: Metal| Tube::new(outside_in, wall_in, metal).unwrap().critical_rpm(length_in).unwrap();
    let ours = rpm(Metal { modulus_psi, weight_lb_in3 });
    c.is("rpm", ours);
    // The metals that the program knows are the entries' own.
    c.is("rpm", rpm(if modulus_psi > 2e7 { STEEL } else { ALUMINUM }));
    let guide = forms::critical_steel_rpm(outside_in, outside_in - 2.0 * wall_in, length_in);
    c.near("cross.rpm_guide_4p8e6", guide, 1e-9, 0.0);
    c.near("cross.rpm_guide_4p8e6", ours, 0.01, 0.0);
}
