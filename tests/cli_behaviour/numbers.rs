//! `numbers`: what the settings do, as if, side by side, and the weighing.

use crate::common::{Garage, has, has_not};

fn figure<'a>(answer: &'a serde_json::Value, name: &str) -> &'a serde_json::Value {
    let all = answer["figures"].as_array().unwrap();
    all.iter().find(|f| f["name"] == name).unwrap_or_else(|| panic!("there is no {name}"))
}

#[test]
fn all_three_cars_give_a_page_of_numbers() {
    let garage = Garage::sample();
    for (car, least) in [("plover", 85), ("dunlin", 75), ("knot", 80)] {
        let answer = garage.json(&["numbers", "--car", car]);
        let all = answer["figures"].as_array().unwrap();
        let said = all.iter().filter(|f| f["value"].is_number()).count();
        assert!(said >= least, "{car} says {said} of {}", all.len());
        for f in all {
            let (missing, cannot) = (f["missing"].as_array().unwrap(), &f["cannot"]);
            let explained = !missing.is_empty() || cannot.is_string();
            assert_eq!(f["value"].is_null(), explained, "{}", f["name"]);
        }
    }
}

#[test]
fn a_stranger_follows_one_to_its_source() {
    let garage = Garage::sample();
    let answer = garage.json(&["numbers", "--car", "plover"]);
    let transfer = figure(&answer, "load_transfer");
    let input = |name: &str| {
        let inputs = transfer["inputs"].as_array().unwrap();
        inputs.iter().find(|i| i["name"] == name).unwrap()["value"].as_f64().unwrap()
    };
    // W a h/L, from the inputs that are told.
    let by_hand = input("weight.total") * input("launch_g") * input("cg_height") / input("frame.wheelbase");
    let told = transfer["value"].as_f64().unwrap();
    assert!((told - by_hand).abs() < 1e-9 * told, "{told} and {by_hand}");
    let assumed = transfer["assumed"].to_string();
    has(&assumed, &["center of gravity 20 in high", "roll-out 11 in"]);
    let why = garage.ok(&["numbers", "--why", "load_transfer", "--car", "plover"]);
    has(&why, &["W a h/L", "Gillespie", "on record Jun 20 10:00", "[weight.total]", "assumed"]);
}

#[test]
fn what_is_stale_is_missing_and_a_measurement_brings_it_back() {
    let garage = Garage::new();
    garage.take_in("plover");
    garage.ok(&["change", "rear tires down 1/2", "--car", "plover"]);
    let torque = garage.json(&["numbers", "--car", "plover"]);
    let missing = &figure(&torque, "axle_torque")["missing"][0];
    assert_eq!((missing["name"].as_str(), missing["why"].as_str()), (Some("rear.tire.rollout"), Some("stale")));
    garage.ok(&["measure", "rear rollout 87.9/88.1", "--car", "plover"]);
    assert!(figure(&garage.json(&["numbers", "--car", "plover"]), "axle_torque")["value"].is_number());
}

#[test]
fn as_if_computes_and_records_nothing() {
    let garage = Garage::sample();
    let before = garage.contents();
    let shown = garage.ok(&["numbers", "--with", "limiter 0.75, pinion 3 down", "--car", "plover"]);
    has(&shown, &["as if", "limiter gap", "0.50", "pinion against the ground", "-3.0"]);
    let answer = garage.json(&["numbers", "--with", "total weight 3000", "--g", "1.2", "--car", "plover"]);
    let transfer = figure(&answer, "thrust");
    assert!((transfer["value"].as_f64().unwrap() - 3600.0).abs() < 1e-9);
    assert!(transfer["inputs"].as_array().unwrap().iter().any(|i| i["as_if"] == true));
    // A setting that moves what was measured leaves it stale, as a change would.
    let answer = garage.json(&["numbers", "--with", "rear tires 11", "--car", "plover"]);
    assert!(figure(&answer, "axle_torque")["value"].is_null());
    assert_eq!(garage.contents(), before, "nothing was written");
    garage.refused(2, &["numbers", "--with", "limiter sideways", "--car", "plover"]);
    garage.refused(2, &["numbers", "--g", "9", "--car", "plover"]);
    garage.refused(2, &["numbers", "--ft60", "nan", "--car", "plover"]);
}

#[test]
fn side_by_side_shows_what_differs() {
    let garage = Garage::sample();
    let shown = garage.ok(&["numbers", "v14", "v15", "--car", "plover"]);
    has(&shown, &["v14 beside v15", "torsion bar rate", "344", "263"]);
    has_not(&shown, &["rear wheel rate, left"]);
    let same = garage.ok(&["numbers", "v19", "v19", "--car", "plover"]);
    has(&same, &["no figure differs"]);
}

#[test]
fn a_weighing_gives_the_height_of_the_center_of_gravity() {
    let garage = Garage::sample();
    let walk = garage.ok(&["numbers", "--cg", "--car", "plover"]);
    has(&walk, &["Block the suspension", "never on a jack alone", "slipbook numbers --cg total="]);
    let said = [
        "numbers",
        "--cg",
        "total=3000",
        "level=1500",
        "raised=1550",
        "lift=20",
        "wheelbase=105",
        "radius=13",
        "--car",
        "plover",
    ];
    let answer = garage.json(&said);
    // Equal radii: h = r + L dW/(W tan), tan = H/sqrt(L^2 - H^2).
    let tan = 20.0 / (105.0_f64.powi(2) - 400.0).sqrt();
    let by_hand = 13.0 + 105.0 * 50.0 / (3000.0 * tan);
    assert!((answer["height_in"].as_f64().unwrap() - by_hand).abs() < 1e-9);
    has(&garage.ok(&said), &["slipbook measure cg height"]);
    for (wrong, why) in [
        ("raised=50000", "cannot be"),
        ("lift=0", "cannot be"),
        ("radius=x", "no number"),
        ("color=red", "not understood"),
        ("raised=1400", "a number is wrong"),
    ] {
        let mut args: Vec<&str> =
            said.iter().copied().filter(|a| a.split('=').next() != wrong.split('=').next()).collect();
        args.insert(2, wrong);
        has(&garage.refused(2, &args), &[why]);
    }
    garage.refused(2, &["numbers", "--cg", "total=3000", "--car", "plover"]);
}
