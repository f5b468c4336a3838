//! Water vapor: saturation, dew point, wet bulb, humidity ratio.

use crate::book::Check;
use crate::forms;
use slipbook::air::{
    Moist, Moisture, PA_PER_INHG, celsius, cipm_density_kg_m3, cipm_saturation_pa, fahrenheit, magnus_saturation_pa,
    moist, vapor_share,
};

/// Humidity ratio of water against dry air, from grains to the pound.
fn ratio(air: &Moist) -> f64 {
    air.water_grains_per_lb() / 7000.0
}

pub fn saturation(c: &mut Check) {
    let t = c.given("t_C").unwrap_or_else(|| c.input("T_K") - 273.15);
    let (cipm, magnus) = (cipm_saturation_pa(t), magnus_saturation_pa(t));
    c.is("cipm_Pa", cipm);
    c.is("wmo_magnus_Pa", magnus);
    c.between("wmo_magnus_Pa", magnus, cipm, 3.2e-3 * cipm);
    // The file's word for the 237.3 form below 0 C is that of -20 C.
    let nws: f64 = if t < 0.0 { 7.3e-3 } else { 1.2e-3 };
    for (key, form, within) in [
        ("nws_237_3_Pa", forms::saturation_nws_pa(t, 237.3), nws),
        ("nws_237_7_Pa", forms::saturation_nws_pa(t, 237.7), nws.max(5.3e-3)),
        ("buck1981_Pa", forms::saturation_buck_pa(t), 1.6e-3),
    ] {
        c.is(key, form);
        c.between(key, form, cipm, within * cipm);
    }
    for key in ["cross.hyland_wexler_Pa", "cross.iapws95_Pa"] {
        c.near(key, cipm, 4e-4, 0.0);
    }
    // Over ice there is nothing of ours: reports and readings are over water. The form of the same annex stands in, and
    // ours must be above it.
    let ice = forms::saturation_ice_pa(t);
    c.is("ice_Pa", ice);
    c.is("water_Pa", magnus);
    c.is("ice_over_water", ice / magnus);
    c.near("cross.ice_hyland_wexler_Pa", ice, 4e-3, 0.0);
    c.near("cross.ice_iapws_r14_Pa", ice, 4e-3, 0.0);
    if t < 0.0 {
        for (key, unit) in [("p_Pa", 1.0), ("p_MPa", 1e-6)] {
            c.near(key, ice * unit, 3e-3, 0.0);
            c.between(key, ice * 1.05, magnus, ice * 0.6);
        }
    } else {
        // Above the range of air ours is as far off as the file has the forms apart.
        c.near("p_Pa", cipm, if t <= 60.0 { 3e-4 } else { 4e-4 }, 0.0);
        c.near("p_MPa", cipm * 1e-6, 4e-4, 0.0);
    }
}

pub fn dew_point(c: &mut Check) {
    let t = c.input("t_C");
    if let Some(dew) = c.given("td_C") {
        let air = moist(t, 101_325.0, Moisture::DewPoint(dew)).unwrap();
        c.is("rh", air.relative_humidity());
        // By the other form of saturation.
        c.near("rh", cipm_saturation_pa(dew) / cipm_saturation_pa(t), 0.0, 0.005);
        return;
    }
    let (rh, p) = (c.input("rh"), c.input("p_Pa"));
    let air = moist(t, p, Moisture::Relative(rh)).unwrap();
    let dew = air.dew_point_c().unwrap();
    c.is("td_magnus_C", dew);
    c.is("vapour_pressure_magnus_inHg", air.vapor_pa / PA_PER_INHG);
    c.near("cross.td_metpy_C", dew, 0.0, 0.1);
    // That library's humidity and dew point are over ice below 0 C.
    let within = if dew < 0.0 { 0.8 } else { 0.1 };
    c.near("cross.td_coolprop_C", dew, 0.0, within);
    // Water in a pound, as near as the dew point is.
    let grains = |dew: f64| {
        let x = vapor_share(p, dew);
        7000.0 * 0.621_945 * x / (1.0 - x)
    };
    c.near("cross.grains_per_lb", air.water_grains_per_lb(), 0.0, grains(dew + within) - grains(dew));
    // Theirs is the thermodynamic wet bulb; ours is what a ventilated psychrometer shows, 0.008 of humidity apart. The
    // thermodynamic one on our saturation is theirs.
    let wet = forms::thermodynamic_wet_bulb_c(t, rh, p);
    for key in ["cross.wetbulb_coolprop_C", "cross.wetbulb_psychrolib_C"] {
        c.near(key, wet, 0.0, 0.05);
    }
    if t > 0.0 {
        let shown = moist(t, p, Moisture::WetBulb(wet.min(t))).unwrap().relative_humidity();
        c.between("cross.wetbulb_coolprop_C", shown, rh, 0.008);
    }
}

pub fn wet_bulb(c: &mut Check) {
    let (t, wet) = match c.given("t_F") {
        Some(t) => (celsius(t), celsius(c.input("tw_F"))),
        None => (c.input("t_C"), c.input("tw_C")),
    };
    // 1 psi, Pa: 0.45359237 kg x 9.80665 m/s2 on a square inch (exact).
    let p = c.given("p_Pa").unwrap_or_else(|| c.input("p_psia") * 0.453_592_37 * 9.806_65 / (0.0254 * 0.0254));
    let air = moist(t, p, Moisture::WetBulb(wet)).unwrap();
    let rh = air.relative_humidity();
    c.is("rh_psychrometer", rh);
    c.near("cross.rh_coolprop", rh, 0.0, 0.008);
    c.near("cross.rh_psychrolib", rh, 0.0, 0.008);
    // The handbook's example has the thermodynamic wet bulb, and the library that quotes it no enhancement factor: by its
    // form, on our saturation and density. Ours from the psychrometer is 0.008 of humidity apart.
    let w = match (c.given("t_F"), c.given("tw_F")) {
        (Some(t), Some(wet)) => forms::ratio_of_wet_bulb_ip(t, wet, p, false),
        _ => forms::ratio_of_wet_bulb(t, wet, p, false),
    };
    let x = w / (0.621_945 + w);
    let theirs_rh = x * p / cipm_saturation_pa(t);
    let dew = saturates_at_c(x * p);
    let density = cipm_density_kg_m3(t, p, x);
    let volume = (1.0 + w) / density;
    // 1 m3/kg in ft3/lb.
    let volume_ft = volume * 0.453_592_37 / 0.3048_f64.powi(3);
    // The digits printed, read off a chart; then the library's, 1e-3 and 0.05 C.
    for (key, ours, printed, library) in [
        ("humidity_ratio", w, 1e-4, 1e-3 * w),
        ("td_C", dew, 0.5, 0.05),
        ("td_F", fahrenheit(dew), 1.0, 0.1),
        ("rh", theirs_rh, 0.01, 1e-3 * theirs_rh),
        ("v_m3_per_kg_dry", volume, 0.002, 1e-3 * volume),
        ("v_ft3_per_lb_dry", volume_ft, 0.03, 1e-3 * volume_ft),
        ("grains_per_lb", 7000.0 * w, 0.7, 7.0 * w),
        ("rho_kg_m3", density, 1e-3, 1e-3 * density),
    ] {
        c.near(key, ours, 0.0, printed);
        c.near(&format!("cross.{key}"), ours, 0.0, library);
    }
    c.between("rh", theirs_rh, rh, 0.008);
}

/// Where our saturation of CIPM-2007 is `vapor_pa`, C, by halving.
fn saturates_at_c(vapor_pa: f64) -> f64 {
    let (mut low, mut high) = (-60.0, 60.0);
    for _ in 0..60 {
        let middle = (low + high) / 2.0;
        if cipm_saturation_pa(middle) < vapor_pa { low = middle } else { high = middle }
    }
    high
}

pub fn humidity_ratio(c: &mut Check) {
    let air = moist(c.input("t_C"), c.input("p_Pa"), Moisture::Relative(1.0)).unwrap();
    c.is("Ws", ratio(&air));
    c.near("cross.Ws_cipm_f", ratio(&air), 8e-4, 0.0);
    c.near("cross.Ws_coolprop", ratio(&air), 8e-4, 0.0);
    // Without the enhancement factor it reads low: ours has it.
    let without = c.wanted("cross.Ws_no_f").unwrap_or(0.0);
    let same = ratio(&air) < without * 1.003;
    c.look("cross.Ws_no_f", same.then(|| "ours is as if without the enhancement factor".to_owned()));
}
