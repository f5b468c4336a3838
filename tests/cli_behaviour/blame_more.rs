//! One field's values, sets that may work only together, and scatter; truths that the books were made with.

use crate::common::{Garage, has, has_not};
use serde_json::Value;
use std::fmt::Write as _;

/// Even noise of standard deviation 1 that is the same every time: twelve uniform numbers of a counter, minus six.
struct Noise(u64);

impl Noise {
    fn next(&mut self) -> f64 {
        let mut uniform = || {
            self.0 = self.0.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
            (self.0 >> 11) as f64 / (1_u64 << 53) as f64
        };
        (0..12).map(|_| uniform()).sum::<f64>() - 6.0
    }
}

/// A run: limiter height, rear extension, front pressure, what the setup is worth and its scatter, s.
type Made = (f64, u32, f64, f64, f64);

/// Days of runs, taken in on the car `grey`; the day itself is worth something too.
fn season(garage: &Garage, days: &[Vec<Made>]) {
    let mut noise = Noise(7);
    let mut table = String::from(
        "date,time,track,finish,ft60,ft1320,mph1320,rear.limiter.height,rear.shock.extension,front.tire.pressure\n",
    );
    for (d, runs) in days.iter().enumerate() {
        let day = 0.010 * noise.next();
        for (i, (height, clicks, psi, worth, sd)) in runs.iter().enumerate() {
            let minutes = 8 * 60 + 30 + 20 * i;
            let ft60 = 1.600 + day + worth + sd * noise.next();
            let et = 11.5 + 1.5 * (ft60 - 1.6) + 0.01 * noise.next();
            let _ = writeln!(
                table,
                "2026-08-{:02},{:02}:{:02},Osier Flats,1320,{ft60:.3},{et:.3},118.0,{height},{clicks},{psi}",
                d + 2,
                minutes / 60,
                minutes % 60
            );
        }
    }
    let path = garage.file("season.csv", table);
    garage.at("2026-08-22T14:20:00");
    garage.ok(&["import", &path]);
}

/// Each setup twice a day, forth and back, on so many days.
fn there_and_back(setups: &[Made], days: usize) -> Vec<Vec<Made>> {
    let day: Vec<Made> = setups.iter().chain(setups.iter().rev()).copied().collect();
    vec![day; days]
}

fn number(v: &Value) -> f64 {
    v.as_f64().unwrap_or_else(|| panic!("no number: {v}"))
}

const SD: f64 = 0.008;

#[test]
fn every_value_of_a_field_and_what_it_is_worth() {
    let garage = Garage::new();
    garage.take_in("plover");
    let told = garage.json(&["blame", "--field", "rear.leaf.rear_clamps"]);
    assert_eq!((&told["response"], &told["tables"].as_array().unwrap().len()), (&Value::from("ft60_s"), &1));
    let table = &told["tables"][0];
    let values = table["values"].as_array().unwrap();
    // Clamped until v14, and once more on v16: four hundredths (sample-garage/README.md).
    assert_eq!(
        (&table["slots"], &table["against"], &table["on_car"]),
        (&Value::from(Vec::<Value>::new()), &Value::from(1), &Value::from(1))
    );
    let spans: Vec<(&str, &str)> = values[0]["spans"]
        .as_array()
        .unwrap()
        .iter()
        .map(|s| (s["from"].as_str().unwrap(), s["to"].as_str().unwrap()))
        .collect();
    assert_eq!(spans, [("v1", "v13"), ("v16", "v16")]);
    let worth = &values[0]["worth"];
    assert!(number(&worth["lo95_s"]) < 0.037 && 0.037 < number(&worth["hi95_s"]), "{worth}");
    assert_eq!(
        (&worth["evidence"], &worth["along"]),
        (&Value::from("almost_certainly_loss"), &Value::from(Vec::<Value>::new()))
    );
    assert!(values[1]["worth"].is_null());
    assert_eq!(
        number(&values[0]["n_runs"]) + number(&values[1]["n_runs"]),
        number(&told["counted"]),
        "every run that counts is on a value"
    );
    // By a part of its key, in the ET, the other way round in words.
    let text = garage.ok(&["blame", "et", "--field", "rear clamps"]);
    has(
        &text,
        &["Plover", "in the ET", "2 clamps   v1 - v13, v16", "almost certainly a loss", "0 clamps, on the car now"],
    );
}

#[test]
fn what_always_came_along_is_named() {
    let garage = Garage::new();
    garage.take_in("plover");
    let told = garage.json(&["blame", "--field", "front.spring.bar_diameter"]);
    let worth = &told["tables"][0]["values"][0]["worth"];
    let with: Vec<&str> = worth["cannot_be_told_apart"].as_array().unwrap().iter().filter_map(Value::as_str).collect();
    // Thinner is down, more turns is up, the stop goes: all on the one evening.
    assert_eq!(with, ["front.spring.adjuster", "front.travel.upper_stop"]);
    has(
        &garage.ok(&["blame", "--field", "bar_diameter"]),
        &["together with torsion bar adjuster and upper bump", "apart"],
    );
    // Whichever is asked, the lump is worth the same but for its sign.
    let other = garage.json(&["blame", "--field", "front.travel.upper_stop"]);
    assert_eq!(worth["effect_s"], other["tables"][0]["values"][0]["worth"]["effect_s"]);
    // The limiter was raised with the shocks tightened, which were moved at another time too.
    let limiter = garage.json(&["blame", "--field", "limiter"]);
    assert_eq!(limiter["tables"][0]["values"][1]["worth"]["along"], Value::from(vec!["rear.shock.extension"]));
    has(&garage.ok(&["blame", "--field", "limiter"]), &["only ever run with rear shock extension"]);
}

#[test]
fn sides_apart_only_where_they_differ() {
    let garage = Garage::with_car();
    let row = |day: u32, psi: &str| {
        format!("2026-08-{day:02},10:00,Osier Flats,1.600,{psi}\n,10:30,,1.610,\n,11:00,,1.605,\n")
    };
    let table = |rows: &[String]| format!("date,time,track,ft60,rear.tire.pressure\n{}", rows.concat());
    let path = garage.file("a.csv", table(&[row(3, "12.5"), row(4, "12.0")]));
    garage.ok(&["import", &path]);
    let told = garage.json(&["blame", "--field", "rear.tire.pressure"]);
    assert_eq!(told["tables"].as_array().unwrap().len(), 1);
    let path = garage.file("b.csv", table(&[row(5, "12.0/11.5"), row(6, "12.0")]));
    garage.ok(&["import", &path]);
    let told = garage.json(&["blame", "--field", "rear.tire.pressure"]);
    let values = |t: usize| -> Vec<f64> {
        told["tables"][t]["values"].as_array().unwrap().iter().map(|v| number(&v["value"])).collect()
    };
    assert_eq!((&told["tables"][0]["slots"], values(0)), (&Value::from(vec!["left"]), vec![12.5, 12.0]));
    assert_eq!((&told["tables"][1]["slots"], values(1)), (&Value::from(vec!["right"]), vec![12.5, 12.0, 11.5]));
    // The left went to 12.0 with the right.
    assert_eq!(told["tables"][0]["values"][0]["worth"]["along"], Value::from(vec!["rear.tire.pressure"]));
    has(&garage.ok(&["blame", "--field", "rear.tire.pressure"]), &["left: each value against 12.0 psi", "11.5 psi"]);
}

#[test]
fn a_field_that_cannot_be_blamed() {
    let garage = Garage::with_car();
    has(&garage.refused(2, &["blame", "--field", "rear.limiter.gap"]), &["rear.limiter.gap", "history --field"]);
    has(&garage.refused(2, &["blame", "--field", "no.such.field"]), &["no.such.field"]);
    garage.refused(3, &["blame", "--field", "front.shock.valving"]);
    // No run yet: the values stand there, nothing is judged.
    has(&garage.ok(&["blame", "--field", "limiter"]), &["No run counts", "1.00 in"]);
    has(&garage.ok(&["blame", "spread"]), &["No change has enough runs"]);
    has(&garage.ok(&["blame", "--package"]), &["fewer than two of", "changed between runs that count"]);
}

/// Neither; the limiter alone; the shocks alone; both: twelve runs each.
fn two_by_two(limiter: f64, shocks: f64, both: f64) -> Vec<Vec<Made>> {
    there_and_back(
        &[(1.0, 6, 34.0, 0.0, SD), (0.75, 6, 34.0, limiter, SD), (1.0, 4, 34.0, shocks, SD), (0.75, 4, 34.0, both, SD)],
        6,
    )
}

const SET: &str = "rear.limiter.height,rear.shock.extension";

#[test]
fn a_set_that_works_only_together_is_found() {
    let garage = Garage::with_car();
    season(&garage, &two_by_two(0.0, 0.0, -0.050));
    let told = garage.json(&["blame", "--package", SET]);
    let one = &told["packages"][0]["tried"][0];
    assert_eq!((&one["answer"], &one["cannot_be_told_apart"]), (&Value::from("parted"), &Value::Null), "{one}");
    assert_eq!(one["alone"].as_array().unwrap().len(), 2);
    let beyond = &one["beyond"];
    assert!(number(&beyond["lo95_s"]) < -0.050 && -0.050 < number(&beyond["hi95_s"]), "{beyond}");
    assert_eq!(beyond["evidence"], "almost_certainly_gain", "{beyond}");
    assert!(number(&one["together"]["effect_s"]) < -0.040, "{one}");
    // Together is the sum of each alone and what is beyond, by the same draws.
    let sum: f64 = one["alone"].as_array().unwrap().iter().map(|b| number(&b["worth"]["effect_s"])).sum();
    assert!((sum + number(&beyond["effect_s"]) - number(&one["together"]["effect_s"])).abs() < 1e-6, "{one}");
    has(
        &garage.ok(&["blame", "--package", SET]),
        &["beyond the sum", "almost certainly: together they do more than each"],
    );
    // The rule package is the same pair in this book.
    let by_rule = garage.json(&["blame", "--package", "P2"]);
    assert_eq!(by_rule["packages"][0]["tried"][0]["beyond"], *beyond);
}

#[test]
fn each_doing_its_part_is_not_called_a_package() {
    let garage = Garage::with_car();
    season(&garage, &two_by_two(-0.030, -0.030, -0.060));
    let one = garage.json(&["blame", "--package", SET])["packages"][0]["tried"][0].clone();
    let beyond = &one["beyond"];
    assert!(number(&beyond["lo95_s"]) <= 0.0 && 0.0 <= number(&beyond["hi95_s"]), "{beyond}");
    assert!(number(&beyond["effect_s"]).abs() < 0.010, "{beyond}");
    for alone in one["alone"].as_array().unwrap() {
        has(alone["worth"]["evidence"].as_str().unwrap(), &["gain"]);
    }
    has_not(&garage.ok(&["blame", "--package", SET]), &["together they do more"]);
}

#[test]
fn a_corner_that_was_never_run_is_asked_for() {
    let garage = Garage::with_car();
    let three = [(1.0, 6, 34.0, 0.0, SD), (1.0, 4, 34.0, 0.0, SD), (0.75, 4, 34.0, -0.050, SD)];
    season(&garage, &there_and_back(&three, 4));
    let one = garage.json(&["blame", "--package", SET])["packages"][0]["tried"][0].clone();
    assert_eq!((&one["answer"], &one["beyond"]), (&Value::from("wanting"), &Value::Null), "{one}");
    assert_eq!(one["never_alone"], Value::from(vec!["rear.limiter.height"]));
    assert_eq!(one["run_with_back"], Value::from(vec![Value::from(vec!["rear.shock.extension"])]));
    let text = garage.ok(&["blame", "--package", SET]);
    has(&text, &["Never run with only limiter height changed", "rear shock", "back at 6"]);
    has_not(&text, &["beyond the sum of them"]);
}

#[test]
fn a_set_that_others_always_came_along_with() {
    let garage = Garage::with_car();
    let two = [(1.0, 6, 34.0, 0.0, SD), (0.75, 4, 36.0, -0.050, SD)];
    season(&garage, &there_and_back(&two, 4));
    let one = garage.json(&["blame", "--package", SET])["packages"][0]["tried"][0].clone();
    assert_eq!(one["answer"], "wanting");
    assert_eq!(one["cannot_be_told_apart"][1], Value::from(vec!["front.tire.pressure"]), "{one}");
    assert!(number(&one["together"]["effect_s"]) < -0.040, "the number is of all of them: {one}");
    has(
        &garage.ok(&["blame", "--package", SET]),
        &["Whenever limiter height and rear shock extension changed", "front tire pressure", "cannot be told apart"],
    );
}

#[test]
fn packages_by_name() {
    let garage = Garage::new();
    garage.take_in("plover");
    has(&garage.ok(&["blame", "--package", "limiter's package"]), &["P2", "the limiter's package"]);
    has(&garage.refused(2, &["blame", "--package", "gearbox"]), &["gearbox", "P2", "commas"]);
    has(&garage.refused(2, &["blame", "--package", "et"]), &["slipbook blame et --package"]);
    has(&garage.ok(&["blame", "et", "--package"]), &["in the ET", "P2", "P9"]);
    has(&garage.refused(2, &["blame", "--package", "limiter,"]), &["one field"]);
    has(&garage.refused(2, &["blame", "--package", "limiter,rear.limiter.gab"]), &["rear.limiter.ga"]);
    // Of a car's own rule.
    garage.edit("plover", "car.toml", |t| {
        format!(
            "{t}\n[[rule]]\nid = \"own.front\"\nname = \"front and clamps\"\nseverity = \"note\"\nwhen = \"rear.leaf.rear_clamps > 0\"\nsays = \"Clamped.\"\nbecause = \"So.\"\nsource = \"ours\"\npackage = [\"front.shock.valving\", \"rear.leaf.rear_clamps\"]\n"
        )
    });
    garage.ok(&["sheet", "--save"]);
    has(&garage.ok(&["blame", "--package", "own.front"]), &["own.front", "front and clamps"]);
    garage.edit("plover", "car.toml", |t| {
        t.replace("\"front.shock.valving\", \"rear.leaf", "\"rear.limiter.gap\", \"rear.leaf")
    });
    has(&garage.refused(3, &["sheet", "--save"]), &["own.front", "rear.limiter.gap", "no setting"]);
}

/// So many days, on each four runs without and four with a front pressure more, of these scatters.
fn scattering(days: usize, without: f64, with: f64) -> Vec<Vec<Made>> {
    let day = |_| [vec![(1.0, 6, 34.0, 0.0, without); 4], vec![(1.0, 6, 36.0, -0.020, with); 4]].concat();
    (0..days).map(day).collect()
}

#[test]
fn half_the_scatter_is_seen_with_runs_enough() {
    let garage = Garage::with_car();
    season(&garage, &scattering(10, 0.016, 0.006));
    let told = garage.json(&["blame", "spread"]);
    let changes = told["changes"].as_array().unwrap();
    assert_eq!(changes.len(), 1, "there and back ten times is one change");
    let one = &changes[0];
    assert_eq!(one["evidence"], "steadier", "{one}");
    assert!(number(&one["lo95"]) < 0.375 && 0.375 < number(&one["hi95"]), "{one}");
    let n = number(&one["without"]["n"]) + number(&one["without"]["improbable"]);
    assert_eq!(n, 40.0, "{one}");
    has(&garage.ok(&["blame", "spread"]), &["steadier: the range leaves out 1"]);
    // In either order, and of another number.
    assert_eq!(garage.ok(&["blame", "et", "spread"]), garage.ok(&["blame", "spread", "et"]));
    has(&garage.ok(&["blame", "spread", "et"]), &["in the ET"]);
}

#[test]
fn like_scatter_cannot_be_told_and_says_how_many_more() {
    let garage = Garage::with_car();
    season(&garage, &scattering(3, 0.010, 0.010));
    let one = garage.json(&["blame", "60", "spread"])["changes"][0].clone();
    assert_eq!(one["evidence"], "cannot_tell", "{one}");
    assert!(number(&one["lo95"]) < 1.0 && 1.0 < number(&one["hi95"]), "{one}");
    // Twelve runs a side about three means are ten about one; a halving takes some 25 (stats/src/spread/tests.rs).
    let more = number(&one["more_a_side_80"]["halving"]);
    assert!((8.0..=40.0).contains(&more), "{one}");
    has(&garage.ok(&["blame", "60", "spread"]), &["cannot tell", "would show half the"]);
}

#[test]
fn few_runs_and_odd_runs_are_said() {
    let garage = Garage::with_car();
    let mut days = scattering(1, 0.010, 0.010);
    days[0].truncate(7);
    season(&garage, &days);
    let told = garage.json(&["blame", "spread"]);
    let one = &told["changes"][0];
    assert_eq!((&one["evidence"], &one["ratio"]), (&Value::from("too_few"), &Value::Null));
    assert_eq!((&one["more_needed"]["without"], &one["more_needed"]["with"]), (&Value::from(4), &Value::from(5)));
    has(&garage.ok(&["blame", "spread"]), &["Too few runs", "4 more without it, 5 with it"]);
    // A marked run never moves a number; it is said.
    let before = told["on_car"]["runs"].clone();
    garage.ok(&["run", "2.100", "-", "-", "-", "-", "12.9", "88", "spun", "at", "the", "hit"]);
    let after = garage.json(&["blame", "spread"])["on_car"]["runs"].clone();
    assert_eq!((&after["sd_s"], &after["n"]), (&before["sd_s"], &before["n"]));
    assert_eq!(after["marked"], 1);
    // One nobody marked is taken for what it is.
    garage.at("2026-08-22T14:50:00");
    garage.ok(&["run", "2.050", "-", "-", "-", "-", "12.7", "100"]);
    let after = garage.json(&["blame", "spread"])["on_car"]["runs"].clone();
    assert_eq!((&after["improbable"], &after["sd_s"]), (&Value::from(1), &before["sd_s"]), "{after}");
}

#[test]
fn questions_that_do_not_go_together() {
    let garage = Garage::with_car();
    for args in [
        &["blame", "et", "steady"][..],
        &["blame", "spread", "spread"],
        &["blame", "spread", "--fields"],
        &["blame", "--field", "limiter", "--fields"],
        &["blame", "--field", "limiter", "--package"],
    ] {
        garage.refused(2, args);
    }
}
