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
    // A known lane hardly matters to how far off it may be.
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
    has(&garage.ok(&["dial"]), &["read 40 min before", "4 clean runs on 1 day"]);
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

/// What comes after a run must not be known when it is expected: runs, readings, changes.
#[test]
fn a_backtest_knows_nothing_of_what_came_after() {
    let garage = Garage::with_car();
    let run = |at: &str, et: &str, air: &str| {
        garage.at(at);
        let et = format!("et={et}");
        garage.json(&["run", "--track", "Osier Flats", "60=1.65", &et, "mph=115", "--air", air])["run"]["id"].clone()
    };
    for (i, et) in ["11.650", "11.640", "11.660", "11.645", "11.655"].iter().enumerate() {
        run(&format!("2026-08-22T1{i}:00:00"), et, "84F 52% 29.42 station");
    }
    let asked = run("2026-08-29T10:00:00", "11.700", "70F 50% 29.42 station");
    let of = |garage: &Garage| {
        let json = garage.json(&["dial", "--backtest"]);
        json["tried"].as_array().unwrap().iter().find(|t| t["run"] == asked).unwrap().clone()
    };
    let before = of(&garage);
    run("2026-08-29T12:00:00", "12.300", "100F 80% 28.80 station");
    garage.at("2026-08-29T13:00:00");
    garage.ok(&["change", "limiter", "0.5"]);
    run("2026-08-29T14:00:00", "11.500", "60F 30% 29.80 station");
    assert_eq!(of(&garage), before);
    // Cooler air than the five before it ran in.
    assert!((11.5..11.64).contains(&before["expected_s"].as_f64().unwrap()), "{before}");
    assert_eq!(before["last_run_s"], Value::Null);
}

/// A run still to come can be asked about; one that is past is asked from what was known then.
#[test]
fn the_time_asked_about_decides_what_is_known() {
    let garage = Garage::with_car();
    for (i, et) in ["11.650", "11.640", "11.660", "11.645"].iter().enumerate() {
        garage.at(&format!("2026-08-22T1{i}:00:00"));
        let et = format!("et={et}");
        garage.ok(&["run", "--track", "Osier Flats", "60=1.65", &et, "--air", "84F 52% 29.42 station"]);
    }
    let runs = |at: &str| number(&garage.json(&["dial", "--at", at]), "et_s")["runs"].as_u64().unwrap();
    assert_eq!((runs("18:00"), runs("aug 22 12:30")), (4, 3));
    has(&garage.ok(&["dial", "--at", "18:00"]), &["Aug 22 18:00", "read 5 h 00 min before"]);
    let early = garage.json(&["dial", "--at", "aug 22 10:30"]);
    assert_eq!(early["numbers"].as_array().unwrap().len(), 0);
    has(&garage.refused(2, &["dial", "--at", "2025-08-22 10:30"]), &["the book begins after"]);
}

#[test]
fn the_finish_is_the_days() {
    let garage = Garage::with_car();
    for (i, (t660, et)) in [("7.400", "11.650"), ("7.390", "11.640"), ("7.410", "11.660")].iter().enumerate() {
        garage.at(&format!("2026-08-22T1{i}:00:00"));
        let (t660, et) = (format!("660={t660}"), format!("et={et}"));
        garage.ok(&["run", "--track", "Osier Flats", "60=1.65", &t660, &et, "--air", "84F 52% 29.42 station"]);
    }
    garage.at("2026-08-29T10:00:00");
    let air = ["--air", "70F 40% 29.60 station"];
    let told =
        garage.json(&[&["run", "--track", "Pale Fork", "--finish", "660", "60=1.65", "et=7.395"], &air[..]].concat());
    // Its ET is the time at 660 ft, and follows the air as that does: `runs` says the same.
    let runs = garage.json(&["runs", "aug 29"]);
    let carried = &runs["runs"][0]["one_air"]["ft660"];
    assert!((told["one_air"]["ET"].as_f64().unwrap() - carried.as_f64().unwrap()).abs() < 1e-9, "{told} {carried}");
    let json = garage.json(&["dial", "--at", "aug 29 10:30"]);
    assert_eq!(json["finish_ft"], 660);
    let et = number(&json, "et_s");
    assert_eq!(et["runs"], 4, "the quarter-mile runs' 660 ft counts");
    assert!((7.3..7.5).contains(&et["expected"].as_f64().unwrap()));
    assert_eq!(garage.json(&["dial", "--at", "aug 29 10:30", "--finish", "1320"])["finish_ft"], 1320);
    has(&garage.refused(2, &["dial", "--finish", "500"]), &["500 ft is no finish"]);
}

#[test]
fn air_that_was_never_read_at_a_track_is_thinner_up_there_and_wide() {
    let garage = Garage::with_car();
    for (i, et) in ["11.650", "11.640", "11.660", "11.645"].iter().enumerate() {
        garage.at(&format!("2026-08-22T1{i}:00:00"));
        let et = format!("et={et}");
        let place = ["--track", "Osier Flats", "--elevation", "612", "60=1.65", "mph=115"];
        garage.ok(&[&["run"], &place[..], &[et.as_str(), "--air", "84F 52% 29.42 station"]].concat());
    }
    let home = garage.json(&["dial"]);
    let high = garage.json(&["dial", "--track", "High Mesa", "--elevation", "5355"]);
    assert_eq!((&high["air"]["read"], &high["air"]["taken_by"]), (&Value::from(false), &Value::from("elevation")));
    assert!(high["air"]["density_kg_m3"].as_f64().unwrap() < 0.88 * home["air"]["density_kg_m3"].as_f64().unwrap());
    assert!(expected(&high) > expected(&home) + 0.1);
    let of = |j: &Value, part: &str| number(j, "et_s")["sd_of"][part].as_f64().unwrap();
    assert!(of(&high, "air") > 3.0 * of(&home, "air"), "what is not read is the air's part");
    has(&garage.ok(&["dial", "--track", "High Mesa"]), &["never read at High Mesa: the book's middle"]);
    has(&garage.refused(2, &["dial", "--elevation", "5000"]), &["612", "5000"]);
}

#[test]
fn a_new_season_is_a_wider_guess() {
    let garage = Garage::with_car();
    for day in 1..=8 {
        for (hour, et) in [(10, "11.650"), (12, "11.640"), (14, "11.660")] {
            garage.at(&format!("2026-08-0{day}T{hour}:00:00"));
            let et = format!("et={et}");
            garage.ok(&["run", "--track", "Osier Flats", "60=1.65", &et, "--air", "84F 52% 29.42 station"]);
        }
    }
    let sd = |at: &str| number(&garage.json(&["dial", "--at", at]), "et_s")["sd"].as_f64().unwrap();
    let (next_day, next_year) = (sd("2026-08-09 10:00"), sd("2027-04-05 10:00"));
    assert!(next_year > next_day.hypot(0.025), "{next_day} {next_year}");
}

/// Ranges of all numbers hold about as often as they say, not only those of ET; and speeds miss the right way round.
#[test]
fn odds_and_ranges_of_a_speed_agree() {
    let garage = Garage::sample();
    let json = garage.json(&["dial", "--car", "plover", "--air", "84F 52% 29.42 station"]);
    let mph = number(&json, "mph");
    let (low, high) = (mph["range95"][0].as_f64().unwrap(), mph["range95"][1].as_f64().unwrap());
    let x = mph["expected"].as_f64().unwrap();
    // An unmarked lift costs speed: the range reaches further down than up.
    assert!(x - low > high - x, "{mph}");
    let et = number(&json, "et_s");
    let (low, high) = (et["range95"][0].as_f64().unwrap(), et["range95"][1].as_f64().unwrap());
    let x = et["expected"].as_f64().unwrap();
    assert!(high - x > x - low, "{et}");
}
