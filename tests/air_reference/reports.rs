//! Raw weather reports, and from a report to the air at a track.

use crate::book::Check;
use slipbook::air::metar::{Metar, read_metar};
use slipbook::air::{
    Moisture, cipm_density_kg_m3, density_altitude_ft, ideal_density_kg_m3, moist, station_from_altimeter_pa,
};
use toml::Value;

pub fn report(c: &mut Check) {
    let text = c.entry.inputs["text"].as_str().unwrap();
    // One group alone is a group of the remarks.
    let whole = text.contains(' ');
    let m = read_metar(&if whole { text.to_owned() } else { format!("KXXX 010000Z RMK {text}") }).unwrap();
    let body = if whole { (m.body_temperature_c, m.body_dew_point_c) } else { (m.temperature_c, m.dew_point_c) };
    let numbers = [
        ("day", m.day.map(f64::from)),
        ("hhmm", m.hour.zip(m.minute).map(|(h, min)| f64::from(h) * 100.0 + f64::from(min))),
        ("wind_dir", m.wind_dir_deg.map(f64::from)),
        ("wind_kt", m.wind_kt),
        ("gust_kt", m.gust_kt),
        ("t_C", body.0),
        ("td_C", body.1),
        ("t_exact_C", m.temperature_c),
        ("td_exact_C", m.dew_point_c),
        ("slp_hPa", m.sea_level_hpa),
        ("qnh_hPa", m.setting_hpa),
        ("altimeter_inHg", m.setting_inhg),
    ];
    let from_q = c.value("qnh_hPa").is_some();
    for (key, ours) in numbers {
        let within = if key == "altimeter_inHg" && from_q { 1e-3 } else { 0.0 };
        let wanted = c.wanted(key);
        let same = ours.zip(wanted).is_some_and(|(ours, wanted)| (ours - wanted).abs() <= within);
        c.look(key, (!same).then(|| format!("is {wanted:?}, ours {ours:?}")));
    }
    let station = c.value("station").and_then(Value::as_str);
    c.look("station", (m.station.as_deref() != station).then(|| format!("ours {:?}", m.station)));
    c.look("auto", (c.value("auto").and_then(Value::as_bool) != Some(m.auto)).then(|| format!("ours {}", m.auto)));
    if station.is_some() {
        absent(c, &m);
    }
}

/// What a full entry does not name is not in the report either.
fn absent(c: &Check, m: &Metar) {
    let id = &c.entry.id;
    assert!(c.value("auto").is_some() || !m.auto, "{id}");
    assert_eq!(c.value("wind_dir").is_some(), m.wind_dir_deg.is_some(), "{id}");
    assert_eq!(c.value("gust_kt").is_some(), m.gust_kt.is_some(), "{id}");
    assert_eq!(c.value("td_C").is_some(), m.body_dew_point_c.is_some(), "{id}");
    assert_eq!(c.value("slp_hPa").is_some(), m.sea_level_hpa.is_some(), "{id}");
    if c.value("t_exact_C").is_none() {
        assert_eq!(m.temperature_c, m.body_temperature_c, "{id}");
    }
}

pub fn chain(c: &mut Check) {
    let m = read_metar(c.entry.inputs["metar"].as_str().unwrap()).unwrap();
    let p = station_from_altimeter_pa(m.setting_hpa.unwrap() * 100.0, c.input("elev_ft"));
    let air = moist(m.temperature_c.unwrap(), p, Moisture::DewPoint(m.dew_point_c.unwrap())).unwrap();
    let ideal = ideal_density_kg_m3(air.temperature_c, p, air.vapor_pa);
    c.is("station_hPa", p / 100.0);
    c.is("vapor_hPa", air.vapor_pa / 100.0);
    c.is("rho_ideal_kg_m3", ideal);
    c.is("rho_cipm_kg_m3", air.density_kg_m3());
    c.between("rho_ideal_kg_m3", ideal, air.density_kg_m3(), 9e-4 * ideal);
    c.near("cross.da_exact_ft", air.density_altitude_ft(), 0.0, 0.5);
    c.near("cross.pa_ft", air.pressure_altitude_ft(), 0.0, 0.5);
    // The parts are the whole.
    assert_eq!(air.density_altitude_ft(), density_altitude_ft(ideal));
    assert_eq!(air.density_kg_m3(), cipm_density_kg_m3(air.temperature_c, p, air.vapor_share));
}
