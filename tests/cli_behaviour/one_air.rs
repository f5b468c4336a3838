//! Runs on one footing: numbers carried to one air, beside those of the slip.

use crate::common::{Garage, flat, has, has_not};
use serde_json::Value;

/// Kilograms a cubic meter in a pound a cubic foot (NIST SP 811).
const KG_M3: f64 = 0.453_592_37 / (0.304_8 * 0.304_8 * 0.304_8);

/// A car with two days: one with air, thick and thin; one without.
fn two_days() -> Garage {
    let garage = Garage::with_car();
    let run = |at: &str, slip: &[&str], air: Option<&str>| {
        garage.at(at);
        let air: Vec<&str> = air.into_iter().flat_map(|a| ["--air", a]).collect();
        garage.ok(&[&["run", "--track", "Osier Flats", "--elevation", "612"], slip, &air].concat());
    };
    let slip = ["1.650", "4.780", "7.400", "93.0", "9.680", "11.650", "115.00"];
    run("2026-08-22T10:00:00", &slip, Some("60F 50% 29.60 station"));
    run("2026-08-22T14:00:00", &slip, Some("90F 50% 29.20 station"));
    run("2026-08-23T14:00:00", &slip, None);
    garage
}

fn exponent(answer: &Value, key: &str) -> f64 {
    answer["one_air"]["exponents"][key]["value"].as_f64().unwrap()
}

#[test]
fn the_slip_stays_and_the_carried_number_stands_below_it() {
    let garage = two_days();
    let json = garage.json(&["runs", "--all"]);
    let reference = json["one_air"]["reference"]["density_kg_m3"].as_f64().unwrap();
    let e = exponent(&json, "ft1320_s");
    assert!(e < 0.0 && e > -0.45, "{e}");
    for run in json["runs"].as_array().unwrap() {
        assert_eq!(run["ft1320"], 11.65);
        let density = run["air"]["density_kg_m3"].as_f64().unwrap();
        let wanted = 11.65 * (reference / density).powf(e);
        assert!((run["one_air"]["ft1320"].as_f64().unwrap() - wanted).abs() < 1e-9);
    }
    let [thick, thin, unread] = [0, 1, 2].map(|i| &json["runs"][i]);
    // The same slip in thinner air was the better run.
    assert!(thin["one_air"]["ft1320"].as_f64() < thick["one_air"]["ft1320"].as_f64());
    assert!(thin["one_air"]["mph1320"].as_f64() > thick["one_air"]["mph1320"].as_f64());
    assert_eq!((&thick["air"]["read"], &unread["air"]["read"]), (&Value::from(true), &Value::from(false)));
    let text = garage.ok(&["runs", "--all"]);
    has(&text, &["11.650", "Lines marked = are in one air", "elevation 612 ft"]);
    has(&flat(&text), &["1 of 3 runs has no air on record: taken as run in its track's usual air, or the book's."]);
}

#[test]
fn any_air_can_be_the_one() {
    let garage = two_days();
    let reference = |asked: &str| {
        let json = garage.json(&["runs", "--all", "--reference", asked]);
        json["one_air"]["reference"]["density_kg_m3"].as_f64().unwrap()
    };
    assert!((reference("sea-level") - 1.225).abs() < 1e-3);
    assert_eq!(reference("1.15"), 1.15);
    assert_eq!(reference("1.15kg/m3"), 1.15);
    assert!((reference("0.0718") - 0.0718 * KG_M3).abs() < 1e-12);
    let middle = reference("book");
    assert!((reference("day") - middle).abs() < 1e-12, "the one day with air is the book");
    let text = garage.ok(&["runs", "--reference", "sea-level"]);
    has(&flat(&text), &["the standard atmosphere at sea level"]);
    for bad in ["0.3", "thick", "12", "1.15 lb/ft3", "NaN", "inf"] {
        has(&garage.refused(2, &["runs", "--reference", bad]), &["no air to carry runs to"]);
    }
    has(&garage.refused(2, &["runs", "aug 23", "--reference", "day"]), &["no air is on record on 2026-08-23"]);
    for command in [&["history"][..], &["diff", "v1", "v1"], &["blame"]] {
        let json = garage.json(&[command, &["--reference", "1.2"]].concat());
        assert_eq!(json["one_air"]["reference"]["density_kg_m3"], 1.2, "{command:?}");
    }
}

/// Carried to its own air a run is what it ran: nothing is carried twice.
#[test]
fn a_run_in_the_reference_air_is_as_run() {
    let garage = Garage::with_car();
    for (at, slip) in [("2026-08-22T10:00:00", "11.650"), ("2026-08-22T11:00:00", "11.600")] {
        garage.at(at);
        let et = format!("et={slip}");
        garage.ok(&["run", "--track", "Osier Flats", "60=1.65", &et, "mph=115", "--air", "84F 52% 29.42 station"]);
    }
    let json = garage.json(&["runs"]);
    for run in json["runs"].as_array().unwrap() {
        for key in ["ft60", "ft1320", "mph1320"] {
            let (raw, carried) = (run[key].as_f64().unwrap(), run["one_air"][key].as_f64().unwrap());
            assert!((raw - carried).abs() < 1e-9, "{key} {raw} {carried}");
        }
    }
    let told = garage.json(&["history"]);
    assert!((told["versions"][0]["et_s"]["best"].as_f64().unwrap() - 11.6).abs() < 1e-9);
}

#[test]
fn without_any_air_all_is_as_run_and_says_so() {
    let garage = Garage::with_car();
    garage.ok(&["run", "--track", "Osier Flats", "60=1.65", "et=11.65", "mph=115"]);
    for command in [&["runs"][..], &["history"], &["history", "--field", "limiter"]] {
        has(&garage.ok(command), &["not in one air: no run has air on record"]);
    }
    let json = garage.json(&["runs"]);
    assert_eq!((&json["one_air"]["reference"], &json["runs"][0]["one_air"]), (&Value::Null, &Value::Null));
    has(&garage.ok(&["run", "60=1.66"]), &["no air on record: compared as run"]);
}

#[test]
fn how_far_the_air_is_from_a_run_is_told() {
    let garage = two_days();
    garage.at("2026-08-22T16:30:00");
    has(
        &garage.ok(&["run", "60=1.66", "--track", "Osier Flats", "--yes"]),
        &["the nearest reading of the air is 2 h 30 min away"],
    );
    has(&flat(&garage.ok(&["runs", "aug 22"])), &["1 run is more than an hour from a reading"]);
    garage.at("2026-08-23T15:00:00");
    has(&garage.ok(&["run", "60=1.66"]), &["no air on record for this run", "the usual air of its track"]);
    garage.ok(&["air", "84F 52% 29.42 station"]);
    has_not(&garage.ok(&["run", "60=1.67", "--at", "15:01", "--yes"]), &["no air on record", "away"]);
}

#[test]
fn where_in_the_run_it_differs() {
    let garage = Garage::with_car();
    let run = |at: &str, slip: [&str; 7]| {
        garage.at(at);
        garage.ok(&[&["run", "--track", "Osier Flats", "--air", "84F 52% 29.42 station"], &slip[..]].concat())
    };
    run("2026-08-22T10:00:00", ["1.650", "4.780", "7.400", "93.0", "9.680", "11.650", "115.0"]);
    garage.at("2026-08-22T10:30:00");
    garage.ok(&["change", "limiter", "0.5"]);
    // A better start and nothing else.
    let told = run("2026-08-22T11:00:00", ["1.610", "4.740", "7.360", "93.0", "9.640", "11.610", "115.0"]);
    has(&told, &["0-60 -0.040  60-330 0.000  330-660 0.000  660-1000 0.000  to 1320 0.000"]);
    let json = garage.json(&["diff", "v1", "v2"]);
    let segments = json["segments"].as_array().unwrap();
    assert_eq!(segments.len(), 5);
    let sum: f64 = segments.iter().map(|s| s["apart_s"].as_f64().unwrap()).sum();
    assert!((sum + 0.04).abs() < 1e-9, "{sum}");
    assert!((segments[0]["apart_s"].as_f64().unwrap() + 0.04).abs() < 1e-9);
    has(&garage.ok(&["diff", "v1", "v2"]), &["0-60 -0.040", "air 0.0", "1 track"]);
    has(&garage.ok(&["history"]), &["0-60 -0.040"]);
    let blame = garage.json(&["blame", "et"]);
    assert_eq!(blame["changes"][0]["segments"][0]["to_ft"], 60);
}

#[test]
fn one_run_can_be_followed_by_hand() {
    let garage = two_days();
    garage.ok(&["measure", "weight", "3200"]);
    let json = garage.json(&["runs", "--explain", "aug 22 14:00"]);
    let ratio = json["reference_density_kg_m3"].as_f64().unwrap() / json["air"]["density_kg_m3"].as_f64().unwrap();
    for n in json["numbers"].as_array().unwrap() {
        let (raw, e) = (n["raw"].as_f64().unwrap(), n["exponent"]["value"].as_f64().unwrap());
        assert!((n["factor"].as_f64().unwrap() - ratio.powf(e)).abs() < 1e-12);
        assert!((n["one_air"].as_f64().unwrap() - raw * ratio.powf(e)).abs() < 1e-9);
    }
    let physics = &json["physics"];
    let g = slipbook::air::average_g(60.0, 1.65, 0.0);
    assert!((physics["average_g_60ft"].as_f64().unwrap() - g).abs() < 1e-9);
    // The weight went on record after this run; it is measured, and holds for the sheet of the version.
    let least = slipbook::air::least_power_hp(3200.0, 115.0, 1320.0);
    assert!((physics["least_power_hp"].as_f64().unwrap() - least).abs() < 1e-6, "{physics}");
    let text = garage.ok(&["runs", "--explain", "aug 22 14:00"]);
    has(&text, &["11.650", "times = ratio ^ exponent", "CIPM-2007", "Fox 1973", "from memory", "90.0 F, 50 % humid"]);
    has(&garage.refused(2, &["runs", "--explain", "aug 22 19:00"]), &["there is no run"]);
    has(&garage.ok(&["runs", "--explain"]), &["Aug 23 14:00", "not read: the usual air of its track"]);
}

#[test]
fn the_sample_stories_still_read_true() {
    let garage = Garage::sample();
    // Knot, Jul 4: two tenths slow, and that is the air alone.
    let json = garage.json(&["runs", "--all", "--car", "knot"]);
    let et = |run: &Value, at: &Value| at["ft1320"].as_f64().filter(|_| run["clean_to_ft"].is_null());
    let of = |date: &str, one_air: bool| {
        let runs = json["runs"].as_array().unwrap().iter().filter(|r| r["date"] == date);
        let mut v: Vec<f64> = runs.filter_map(|r| et(r, if one_air { &r["one_air"] } else { r })).collect();
        v.sort_by(f64::total_cmp);
        v[v.len() / 2]
    };
    let (before, hot) = ("2026-06-06", "2026-07-04");
    let (raw, carried) = (of(hot, false) - of(before, false), of(hot, true) - of(before, true));
    assert!(raw > 0.18, "{raw}");
    assert!(carried.abs() < 0.05, "{carried} of {raw}");
}
