//! What never changes an answer of blame: the order of entry, units, names, marked runs, the cache.

use super::blame::{Pass, book, table, toggled};
use crate::common::Garage;
use serde_json::Value;

/// The numbers of every change, in the order of versions.
fn numbers(garage: &Garage, number: &str) -> Vec<(String, Vec<f64>)> {
    let blame = garage.json(&["blame", number, "--all"]);
    let mut out: Vec<(String, Vec<f64>)> = blame["changes"]
        .as_array()
        .unwrap()
        .iter()
        .filter(|c| !c["effect_s"].is_null())
        .map(|c| {
            let keys = ["effect_s", "sd_s", "lo95_s", "hi95_s", "p_gain", "p_loss", "p_same"];
            (c["version"].as_str().unwrap().to_owned(), keys.map(|k| c[k].as_f64().unwrap()).to_vec())
        })
        .collect();
    out.sort_by(|a, b| a.0.cmp(&b.0));
    assert!(!out.is_empty(), "{blame}");
    out
}

#[test]
fn the_order_of_entry() {
    let passes = toggled(2, 3, -0.03);
    let in_order = book(&passes);
    // The same runs typed in backwards, each at its time, once the changes are on record.
    let garage = Garage::with_car();
    let bare: Vec<&Pass> = passes.iter().filter(|p| p.minute % 90 == 0).collect();
    let firsts: Vec<Pass> = bare.into_iter().cloned().collect();
    let path = garage.file("season.csv", table(&firsts));
    garage.json(&["import", "--yes", &path]);
    garage.at("2026-09-01T12:00:00");
    for p in passes.iter().rev().filter(|p| p.minute % 90 != 0) {
        let at = format!("2026-08-{:02} {}:{:02}", p.day + 1, 9 + p.minute / 60, p.minute % 60);
        let (ft60, ft660, et) =
            (format!("60={:.3}", p.ft60.unwrap()), format!("660={:.3}", p.et * 0.64), format!("et={:.3}", p.et));
        let air = "80F 50% 29.4 station";
        garage.ok(&["run", &ft60, &ft660, &et, "mph=116.5", p.lane, "--at", &at, "--air", air, "--yes"]);
    }
    assert_eq!(garage.json(&["blame"])["counted"], Value::from(passes.len()));
    for number in ["60", "et"] {
        assert_eq!(numbers(&garage, number), numbers(&in_order, number));
    }
}

#[test]
fn the_unit_a_value_was_typed_in() {
    let passes = toggled(2, 3, -0.03);
    let inches = book(&passes);
    let garage = Garage::with_car();
    let metric = table(&passes)
        .replace("rear.limiter.height", "rear.limiter.height [mm]")
        .replace(",1.00,", ",25.4,")
        .replace(",0.75,", ",19.05,");
    let path = garage.file("season.csv", metric);
    garage.json(&["import", "--yes", &path]);
    assert_eq!(numbers(&garage, "et"), numbers(&inches, "et"));
}

#[test]
fn the_names_of_fields() {
    let passes = toggled(2, 3, -0.03);
    // Another field of the sheet turned at the same runs: nothing but its name is another.
    let limiter = book(&passes);
    let garage = Garage::with_car();
    let other = table(&passes)
        .replace("rear.limiter.height", "front.tire.pressure")
        .replace(",1.00,", ",34,")
        .replace(",0.75,", ",32,");
    let path = garage.file("season.csv", other);
    garage.json(&["import", "--yes", &path]);
    let ours = |g: &Garage| numbers(g, "et").into_iter().skip(1).collect::<Vec<_>>();
    assert_eq!(ours(&garage), ours(&limiter));
}

#[test]
fn a_run_the_racer_marked() {
    let with = |ft60: f64, et: f64| {
        let mut passes = toggled(2, 3, -0.03);
        let bad = Pass { marked: true, ft60: Some(ft60), et, minute: 45, ..passes[1].clone() };
        passes.insert(2, bad);
        book(&passes)
    };
    let (a, b) = (with(1.70, 11.8), with(2.40, 14.2));
    for number in ["60", "et"] {
        assert_eq!(numbers(&a, number), numbers(&b, number));
    }
}

#[test]
fn the_cache() {
    let garage = book(&toggled(3, 3, -0.03));
    let cold = garage.json(&["blame", "et"]);
    let warm = garage.json(&["blame", "et"]);
    assert_eq!(cold, warm);
    garage.forget_caches();
    assert_eq!(garage.json(&["blame", "et"]), cold);
    // What is damaged is not read, wherever the damage is.
    for from_end in [0, 3, 40, 333, 1000, 2500, 9000, 40_000] {
        garage.spoil_caches(from_end);
        assert_eq!(garage.json(&["blame", "et"]), cold, "{from_end}");
    }
    garage.at("2026-08-25T10:00:00");
    garage.ok(&["run", "60=1.60", "et=11.4", "--track", "Osier Flats"]);
    assert_ne!(garage.json(&["blame", "et"])["counted"], cold["counted"]);
}
