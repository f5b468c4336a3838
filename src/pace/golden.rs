//! The model against a small simulated season fitted elsewhere: `tests/reference/golden_small.json` (NumPy, its own code;
//! the season is `seasons.py small 503001`). Exponent 1/3 with sd 0.05, as the file's settings say.

use super::believed::believed;
use super::model::{Alike, model};
use super::row::Row;
use crate::slip::Response;

fn numbers(json: &serde_json::Value) -> Vec<f64> {
    json.as_array().unwrap().iter().map(|v| v.as_f64().unwrap()).collect()
}

#[test]
fn a_small_season_fitted_elsewhere() {
    let golden: serde_json::Value =
        serde_json::from_str(include_str!("../../tests/reference/golden_small.json")).unwrap();
    let csv = include_str!("../../tests/reference/season_503001.csv");
    let head: Vec<&str> = csv.lines().next().unwrap().split(',').collect();
    let at = |name: &str| head.iter().position(|h| *h == name).unwrap();
    let runs: Vec<Vec<&str>> = csv.lines().skip(1).map(|l| l.split(',').collect()).collect();
    let mut days: Vec<&str> = runs.iter().map(|r| r[at("day_id")]).collect();
    days.dedup();
    let rows: Vec<Row> = runs
        .iter()
        .enumerate()
        .map(|(i, r)| {
            let (h, m) = r[at("time")].split_once(':').unwrap();
            let density: f64 = r[at("air_density")].parse().unwrap();
            Row {
                day: days.iter().position(|d| *d == r[at("day_id")]).unwrap(),
                season: 2015,
                track: r[at("track_id")][1..].parse().unwrap(),
                lane: if r[at("lane")] == "L" { 0.5 } else { -0.5 },
                hour: h.parse::<f64>().unwrap() + m.parse::<f64>().unwrap() / 60.0 - 12.0,
                wear: i as f64 / 100.0,
                setup: golden["sheet_of_run"][i].as_u64().unwrap() as usize,
                air: (density / 1.2).ln(),
                unread: 0.0,
            }
        })
        .collect();
    let t = golden["T_median_et"].as_f64().unwrap();
    let carried: Vec<f64> =
        runs.iter().zip(&rows).map(|(r, row)| r[at("t1320")].parse::<f64>().unwrap() + t * row.air / 3.0).collect();
    let y: Vec<f64> = carried.iter().map(|v| v - golden["y_centre"].as_f64().unwrap()).collect();
    for (ours, theirs) in y.iter().zip(numbers(&golden["y"])) {
        assert!((ours - theirs).abs() < 1e-9, "{ours} {theirs}");
    }
    let sheets: Vec<Vec<f64>> = golden["Z_sheets"].as_array().unwrap().iter().map(numbers).collect();
    let b = believed(Response::Et, 1320, t);
    let dot = |a: &Row, c: &Row| sheets[a.setup].iter().zip(&sheets[c.setup]).map(|(x, y)| x * y).sum::<f64>();
    let slope = |r: &Row| t * r.air * 0.05;
    let rows: Vec<&Row> = rows.iter().collect();
    let model = model(&b, &rows, y, &Alike { change: &dot, slope: &slope, unread: 0.0 }, false, Some(b.bad));
    let fit = model.fit().unwrap();
    // Theirs stops when a step is shorter than 1e-3 of the logarithm.
    for (ours, theirs) in fit.sd.iter().zip(numbers(&golden["sd_run_day_rw_effect"])) {
        assert!((ours / theirs - 1.0).abs() < 2e-3, "{:?}", fit.sd);
    }
    for (ours, theirs) in fit.weights.iter().zip(numbers(&golden["clean_prob"])) {
        assert!((ours - theirs).abs() < 2e-3, "{:?}", fit.weights);
    }
}
