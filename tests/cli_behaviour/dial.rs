//! What the car should run.

use crate::common::{Garage, has};
use serde_json::Value;

fn number<'a>(json: &'a Value, key: &str) -> &'a Value {
    json["numbers"].as_array().unwrap().iter().find(|n| n["number"] == key).unwrap_or_else(|| panic!("{key} in {json}"))
}

fn expected(json: &Value) -> f64 {
    number(json, "et_s")["expected"].as_f64().unwrap()
}

#[test]
fn an_expectation_with_its_range_and_where_it_comes_from() {
    let garage = Garage::sample();
    let json = garage.json(&["dial", "--car", "plover", "--on", "v17", "--air", "84F 52% 29.42 station"]);
    assert_eq!((&json["version"], &json["finish_ft"]), (&Value::from("v17"), &Value::from(1320)));
    for key in ["ft60_s", "ft330_s", "ft660_s", "ft1000_s", "et_s", "mph"] {
        let n = number(&json, key);
        let pair = |name: &str| (n[name][0].as_f64().unwrap(), n[name][1].as_f64().unwrap());
        let (wide, narrow, x) = (pair("range95"), pair("range80"), n["expected"].as_f64().unwrap());
        assert!(wide.0 < narrow.0 && narrow.0 < x && x < narrow.1 && narrow.1 < wide.1, "{n}");
        let of = |name: &str| n["sd_of"][name].as_f64().unwrap();
        let squares: f64 = ["run", "day", "air", "knowing"].map(of).iter().map(|s| s * s).sum();
        assert!((squares.sqrt() / n["sd"].as_f64().unwrap() - 1.0).abs() < 1e-9, "{n}");
    }
    // It ran 11.49 in the middle in one air, thicker than this.
    assert!((11.44..11.66).contains(&expected(&json)), "{}", expected(&json));
    let odds: Vec<f64> = json["odds"].as_array().unwrap().iter().map(|o| o["under"].as_f64().unwrap()).collect();
    assert!(odds.len() > 4 && odds.windows(2).all(|w| w[0] < w[1]) && odds[0] < 0.05, "{odds:?}");
    let text = garage.ok(&["dial", "--car", "plover", "--on", "v17", "--air", "84F 52% 29.42 station"]);
    has(&text, &["Plover   v17", "19 times in 20", "8 times in 10", "one sigma", "run to run", "driver's choice"]);
    // The driver chooses: no number is recommended.
    crate::common::has_not(&text, &["recommend", "dial it"]);
}

#[test]
fn thinner_air_is_slower_and_a_guess_is_wider() {
    let garage = Garage::sample();
    let ask = |air: &str| garage.json(&["dial", "--car", "knot", "--air", air]);
    let (cool, hot) = (ask("55F 40% 29.60 station"), ask("95F 70% 28.60 station"));
    assert!(expected(&hot) > expected(&cool) + 0.05, "{} {}", expected(&hot), expected(&cool));
    let mph = |j: &Value| number(j, "mph")["expected"].as_f64().unwrap();
    assert!(mph(&hot) < mph(&cool));
    let sd = |j: &Value, part: &str| number(j, "et_s")["sd_of"][part].as_f64().unwrap();
    // Air far from what the car ran in rests on the exponent more.
    let usual = ask("75F 50% 29.30 station");
    assert!(sd(&hot, "air") > sd(&usual, "air"));
    // A known lane, a day with runs: nothing gets wider by knowing more.
    let wide = |j: &Value| number(j, "et_s")["sd"].as_f64().unwrap();
    let lane = garage.json(&["dial", "--car", "knot", "--air", "75F 50% 29.30 station", "--lane", "l"]);
    assert!((wide(&lane) / wide(&usual) - 1.0).abs() < 0.1);
}

#[test]
fn the_air_is_the_days_last_reading_and_its_age_is_told() {
    let garage = Garage::with_car();
    for (i, et) in ["11.650", "11.640", "11.660", "11.645"].iter().enumerate() {
        garage.at(&format!("2026-08-22T1{i}:00:00"));
        let et = format!("et={et}");
        garage.ok(&["run", "--track", "Osier Flats", "60=1.65", &et, "mph=115", "--air", "84F 52% 29.42 station"]);
    }
    garage.at("2026-08-22T13:40:00");
    let json = garage.json(&["dial"]);
    assert_eq!((&json["air"]["read"], &json["air"]["minutes_to_reading"]), (&Value::from(true), &Value::from(40)));
    has(&garage.ok(&["dial"]), &["read 40 min away", "4 clean runs on 1 day"]);
    garage.at("2026-08-23T13:40:00");
    let json = garage.json(&["dial"]);
    assert_eq!(json["air"]["read"], false);
    has(&garage.ok(&["dial"]), &["not read today: taken as usual at Osier Flats"]);
    // A change nobody ran: from the setups before it, and wider.
    let before = number(&json, "et_s")["sd"].as_f64().unwrap();
    garage.ok(&["change", "limiter", "0.5"]);
    let json = garage.json(&["dial"]);
    assert!(number(&json, "et_s")["sd"].as_f64().unwrap() > before * 1.05);
    has(&garage.ok(&["dial"]), &["not run yet", "a wide guess"]);
    for bad in [&["--air", "84F 52%"][..], &["--air", "84F 29.42 station"], &["--lane", "up"], &["--on", "v9"]] {
        garage.refused(2, &[&["dial"], bad].concat());
    }
}

#[test]
fn too_few_runs_give_no_expectation() {
    let garage = Garage::with_car();
    has(&garage.refused(2, &["dial"]), &["no day is on record"]);
    garage.ok(&["run", "--track", "Osier Flats", "60=1.65", "et=11.65"]);
    garage.ok(&["run", "60=1.65", "et=11.0", "lifted at 330", "--at", "14:21"]);
    has(&garage.ok(&["dial"]), &["no expectation yet", "1 clean run to the finish", "takes three"]);
    assert_eq!(garage.json(&["dial"])["numbers"].as_array().unwrap().len(), 0);
    has(&garage.ok(&["dial", "--backtest"]), &["Nothing to try yet"]);
    assert_eq!(garage.json(&["dial", "--backtest"])["runs"], 0);
}

#[test]
fn a_bad_run_that_nobody_marked_drags_nothing_along() {
    let build = |last: &str| {
        let garage = Garage::with_car();
        for (i, et) in ["11.650", "11.640", "11.660", "11.645", "11.655", last].iter().enumerate() {
            garage.at(&format!("2026-08-22T1{i}:00:00"));
            let et = format!("et={et}");
            garage.ok(&["run", "--track", "Osier Flats", "60=1.65", &et, "--air", "84F 52% 29.42 station"]);
        }
        expected(&garage.json(&["dial", "--air", "84F 52% 29.42 station"]))
    };
    let (good, bad) = (build("11.650"), build("12.450"));
    assert!((good - bad).abs() < 0.02, "{good} {bad}");
}

#[test]
fn eighth_mile_books_are_dialed_to_the_eighth() {
    let garage = Garage::sample();
    let json = garage.json(&["dial", "--car", "dunlin"]);
    assert_eq!(json["finish_ft"], 660);
    assert!((6.2..6.6).contains(&expected(&json)));
    has(&garage.ok(&["dial", "--car", "dunlin"]), &["eighth mile"]);
}

#[test]
fn how_earlier_ones_would_have_done() {
    let garage = Garage::sample();
    let json = garage.json(&["dial", "--car", "dunlin", "--backtest", "--last", "25"]);
    assert_eq!(json["runs"], 25);
    let tried = json["tried"].as_array().unwrap();
    let inside = |key: &str| {
        tried
            .iter()
            .filter(|t| {
                let (ran, low, high) = (t["ran_s"].as_f64(), t[key][0].as_f64(), t[key][1].as_f64());
                low <= ran && ran <= high
            })
            .count()
    };
    assert_eq!(
        (json["inside80"].as_u64(), json["inside95"].as_u64()),
        (Some(inside("range80_s") as u64), Some(inside("range95_s") as u64),)
    );
    // The last day's average is just that: the day before the run's.
    let runs = garage.json(&["runs", "--all", "--car", "dunlin"]);
    let runs = runs["runs"].as_array().unwrap();
    let last = &tried[24];
    let mine = runs.iter().find(|r| r["id"] == last["run"]).unwrap();
    let clean = |r: &&Value| r["clean_to_ft"].is_null() && !r["ft660"].is_null() && r["finish_ft"] == 660;
    let day =
        runs.iter().filter(clean).map(|r| r["date"].as_str().unwrap()).filter(|d| *d < mine["date"].as_str().unwrap());
    let day = day.max().unwrap();
    let ets: Vec<f64> =
        runs.iter().filter(clean).filter(|r| r["date"] == day).map(|r| r["ft660"].as_f64().unwrap()).collect();
    let mean = ets.iter().sum::<f64>() / ets.len() as f64;
    assert!((last["last_day_s"].as_f64().unwrap() - mean).abs() < 1e-9);
    let miss = |way: &str| json[way]["middle_miss_s"].as_f64().unwrap();
    assert!(miss("expected") < miss("last_day") && miss("expected") < miss("fixed"), "{json}");
    has(&garage.ok(&["dial", "--car", "dunlin", "--backtest", "--last", "25"]), &["the last day's average", "8 in 10"]);
}

/// What comes after a run must not be known when it is expected.
#[test]
fn a_backtest_knows_nothing_of_what_came_after() {
    let garage = Garage::sample();
    let all = garage.json(&["dial", "--car", "plover", "--backtest"]);
    let few = garage.json(&["dial", "--car", "plover", "--backtest", "--last", "3"]);
    let (all, few) = (all["tried"].as_array().unwrap(), few["tried"].as_array().unwrap());
    let same = &all[all.len() - 3];
    // The same run asked in a shorter look back: the fit may begin elsewhere, the answer may not be another.
    let apart = same["expected_s"].as_f64().unwrap() - few[0]["expected_s"].as_f64().unwrap();
    assert!(apart.abs() < 0.002, "{apart}");
}
