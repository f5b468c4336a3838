//! Standard atmosphere, altimeter, pressure and density altitude.

use crate::book::Check;
use crate::forms;
use slipbook::air::{
    Moisture, PA_PER_INHG, altimeter_from_station_pa, celsius, density_altitude_ft, geopotential_ft,
    ideal_density_kg_m3, isa, isa_height_ft, moist, pressure_altitude_ft, station_from_altimeter_pa,
};

const M_PER_FT: f64 = 0.3048;

pub fn atmosphere(c: &mut Check) {
    let height = match (c.given("h_ft"), c.given("H_m"), c.given("Z_m")) {
        (Some(ft), ..) => ft,
        (_, Some(m), _) => m / M_PER_FT,
        _ => geopotential_ft(c.input("Z_m") / M_PER_FT),
    };
    let at = isa(height);
    let sigma = at.density_kg_m3 / isa(0.0).density_kg_m3;
    let numbers = [
        ("T_K", at.temperature_k),
        ("p_Pa", at.pressure_pa),
        ("p_isa_Pa", at.pressure_pa),
        ("p_inHg", at.pressure_pa / PA_PER_INHG),
        ("rho_kg_m3", at.density_kg_m3),
        ("sigma", sigma),
        ("H_m", height * M_PER_FT),
    ];
    let mut allowed_pa = c.entry.atol.unwrap_or(0.0).max(c.entry.rtol.unwrap_or(6e-5) * at.pressure_pa);
    for (key, ours) in numbers {
        match c.entry.tolerance.starts_with("T 1e-3 K; p,rho rel 6e-5") {
            true if key == "T_K" => c.near(key, ours, 0.0, 1e-3),
            true => c.near(key, ours, 6e-5, 0.0),
            false => c.is(key, ours),
        }
        // Other answers: 2 Pa for the table, 1e-5 for the digits printed.
        match c.entry.atol {
            Some(pa) => c.near(&format!("cross.{key}"), ours, 0.0, pa),
            None => c.near(&format!("cross.{key}"), ours, 1e-5, 0.0),
        }
    }
    // And back: the height of that pressure, as near as the pressure is.
    if let Some(p) = c.wanted("p_Pa") {
        allowed_pa += 1e-9 * p;
        let near = isa_height_ft(p - allowed_pa) - isa_height_ft(p);
        c.between("p_Pa", height, isa_height_ft(p), near);
    }
}

pub fn pressure_altitude(c: &mut Check) {
    // The table gives the feet that a setting adds to the elevation.
    let ours = c.input("elev_ft") + pressure_altitude_ft(c.input("altimeter_inHg") * PA_PER_INHG);
    c.is("pa_ft", ours);
    c.near("cross.pa_formula_ft", ours, 0.0, 1.0);
}

pub fn altimeter(c: &mut Check) {
    let (setting, elevation) = (c.input("altimeter_inHg"), c.input("elev_ft"));
    let ours = station_from_altimeter_pa(setting * PA_PER_INHG, elevation);
    c.is("station_isa_exact_hPa", ours / 100.0);
    c.is("station_isa_exact_inHg", ours / PA_PER_INHG);
    c.is("station_Pa", ours);
    c.near("cross.station_isa_exact_Pa", ours, 0.0, 3.0);
    c.near("cross.station_isa_exact_inHg", ours / PA_PER_INHG, 0.0, 0.003);
    let nws = forms::station_nws_mb(setting * PA_PER_INHG / 100.0, elevation);
    c.is("station_nws_hPa", nws);
    c.is("station_nws_inHg", nws * 100.0 / PA_PER_INHG);
    c.between("station_nws_hPa", nws, ours / 100.0, 0.35);
    c.near("cross.metpy_hPa", nws, 0.0, 0.05);
    let asos = forms::station_asos_inhg(setting, elevation);
    c.is("station_asos_inHg", asos);
    c.between("station_asos_inHg", asos, ours / PA_PER_INHG, 0.003);
    let back = altimeter_from_station_pa(ours, elevation) / PA_PER_INHG;
    assert!((back - setting).abs() < 1e-9, "{}: {setting} and back {back}", c.entry.id);
}

pub fn density_altitude(c: &mut Check) {
    if let Some(pa) = c.given("pa_ft") {
        return rule_of_thumb(c, pa);
    }
    if let Some(setting) = c.given("altimeter_inHg") {
        return chart(c, setting);
    }
    let (t, dew, p_inhg) = (celsius(c.input("t_F")), c.input("dewpoint_C"), c.input("station_p_inHg"));
    let p = p_inhg * PA_PER_INHG;
    // -100 C stands for dry air.
    let water = if dew <= -100.0 { Moisture::Relative(0.0) } else { Moisture::DewPoint(dew) };
    let air = moist(t, p, water).unwrap();
    let ours = air.density_altitude_ft();
    c.is("da_exact_ft", ours);
    c.is("pa_ft", air.pressure_altitude_ft());
    c.is("da_dry_part_ft", density_altitude_ft(ideal_density_kg_m3(t, air.dry_pa(), 0.0)));
    // The density of the exact form: the ideal gas.
    c.near("cross.rho_kg_m3", ideal_density_kg_m3(t, p, air.vapor_pa), 5e-4, 0.0);
    let nws = forms::density_altitude_nws_ft(t, p / 100.0, dew, p_inhg);
    c.is("da_nws_ft", nws);
    c.between("da_nws_ft", nws, ours, 25.0);
    let dry = density_altitude_ft(ideal_density_kg_m3(t, p, 0.0));
    let pa = air.pressure_altitude_ft();
    for (key, ft_per_c) in [("da_faa_118_8_ft", 118.8), ("da_faa_120_ft", 120.0)] {
        let rule = forms::density_altitude_rule_ft(pa, t, pa, ft_per_c, 1.981_2);
        c.is(key, rule);
        c.between(key, rule, dry, (0.1 * dry.abs()).max(400.0));
    }
}

/// A density altitude read off the handbook's chart.
fn chart(c: &mut Check, setting: f64) {
    let p = station_from_altimeter_pa(setting * PA_PER_INHG, c.input("elev_ft"));
    let t = celsius(c.input("t_F"));
    let dry = moist(t, p, Moisture::Relative(0.0)).unwrap();
    // By the table, rounded to 1 ft: the elevation and what the setting adds; ours of the station pressure is near it. The
    // chart is read to 100.
    let table = c.input("elev_ft") + pressure_altitude_ft(setting * PA_PER_INHG);
    c.near("pa_ft", table, 0.0, 1.0);
    c.between("pa_ft", table, dry.pressure_altitude_ft(), 1e-3 * table);
    c.between("pa_ft", table, isa_height_ft(p), 0.5);
    c.near("da_ft", dry.density_altitude_ft(), 0.0, 100.0);
    c.near("cross.da_formula_118_8_ft", dry.density_altitude_ft(), 0.02, 100.0);
    c.near("cross.da_exact_dry_ft", dry.density_altitude_ft(), 0.02, 100.0);
}

fn rule_of_thumb(c: &mut Check, pa: f64) {
    let t = c.input("t_C");
    let rule = forms::density_altitude_rule_ft(pa, t, c.input("elev_ft"), 120.0, 2.0);
    c.is("da_ft", rule);
    c.near("cross.da_ft", rule, 1e-9, 0.0);
    let dry = moist(t, isa(pa).pressure_pa, Moisture::Relative(0.0)).unwrap().density_altitude_ft();
    c.between("da_ft", rule, dry, (0.1 * dry.abs()).max(400.0));
}
