//! Density, and engine factors.

use crate::book::Check;
use crate::forms;
use slipbook::air::{
    Moisture, PA_PER_INHG, celsius, cipm_density_kg_m3, cipm_saturation_pa, compressibility, enhancement,
    ideal_density_kg_m3, magnus_saturation_pa, moist, vapor_share,
};

/// A conventional millimeter of mercury, Pa (NIST SP 811, B.8).
const PA_PER_MMHG: f64 = 133.322_4;

pub fn density(c: &mut Check) {
    let (t, rh) = (c.input("t_C"), c.input("rh"));
    let p = c.given("p_Pa").unwrap_or_else(|| c.input("p_mmHg") * PA_PER_MMHG);
    let x = rh * vapor_share(p, t);
    let ours = cipm_density_kg_m3(t, p, x);
    c.is("rho_kg_m3", ours);
    c.is("Z", compressibility(t, p, x));
    c.is("f", enhancement(p, t));
    c.is("psv_Pa", cipm_saturation_pa(t));
    c.is("xv", x);
    // CIPM-2007 itself is 9.5e-5 from the four digits printed (`cross.v_cipm` of the entry), so the 8e-5 that the
    // entry gives is not for it; what the grid has between CIPM-2007 and other forms is, 1e-4.
    c.near("v_m3_per_kg", 1.0 / ours, 1e-4, 0.0);
    c.near("cross.cipm2007_kg_m3", ours, 1e-6, 0.0);
    c.near("cross.coolprop_kg_m3", ours, 3e-4, 0.0);
    c.near("cross.v_cipm", 1.0 / ours, 1e-9, 0.0);
    c.near("cross.v_coolprop", 1.0 / ours, 8e-5, 0.0);
    match (90_000.0..=110_000.0).contains(&p) && (10.0..=30.0).contains(&t) {
        true => c.near("cross.oiml_r111_kg_m3", ours, 5e-4, 0.0),
        false => c.left("cross.oiml_r111_kg_m3", "the approximation is stated for 900-1100 hPa, 10-30 C"),
    }
    // Our ideal gas has the standard atmosphere's constant and 0.378: 1e-4 from theirs of molar masses.
    c.near("cross.ideal_gas_kg_m3", ideal_density_kg_m3(t, p, x * p), 1e-4, 0.0);
}

pub fn grid(c: &mut Check) {
    let (t, p) = (celsius(c.input("t_F")), c.input("p_inHg") * PA_PER_INHG);
    let air = moist(t, p, Moisture::Relative(c.input("rh"))).unwrap();
    c.is("rho_kg_m3", air.density_kg_m3());
    // That library means humidity over ice below 0 C; so this is what it has in the air.
    let theirs = if t < 0.0 { forms::saturation_ice_pa(t) / magnus_saturation_pa(t) } else { 1.0 };
    let x = air.vapor_share * theirs;
    c.near("cross.vapour_p_Pa", x * p, 1e-2, 0.0);
    c.near("cross.humidity_ratio", 0.621_945 * x / (1.0 - x), 1e-2, 0.0);
    if t >= 0.0 {
        c.near("cross.humidity_ratio", air.water_grains_per_lb() / 7000.0, 1e-2, 0.0);
    }
}

pub fn corrections(c: &mut Check) {
    let (t, p) = (celsius(c.input("t_F")), c.input("station_p_inHg") * PA_PER_INHG);
    let air = moist(t, p, Moisture::Relative(c.input("rh"))).unwrap();
    c.is("vapour_p_inHg", air.vapor_pa / PA_PER_INHG);
    c.is("dry_p_inHg", air.dry_pa() / PA_PER_INHG);
    c.is("cf_j607", air.correction_dry());
    c.is("cf_j1349", air.correction_j1349());
    // Not shipped; it stands on our dry pressure and is near the J1349 form.
    let iso = forms::correction_iso1585(t, air.dry_pa());
    c.is("cf_iso1585", iso);
    c.between("cf_iso1585", iso, air.correction_j1349(), 5e-3);
}
