//! The model against a small simulated season fitted elsewhere: `tests/reference/golden_small.json` (NumPy, its own code; the
//! season is `seasons.py small 503001`), with the exponents and the share of bundles its settings name.

use super::columns::{CHANGE, Ground, effects};
use super::design::{Column, Design};
use super::fit::{levels, ready, slabs};
use super::priors::Settings;
use super::propagation::propagation;
use super::record::Used;
use crate::blame::verdict::Effect;
use crate::pace::{Row, believed};
use crate::slip::Response;
use crate::stats::{Draws, Random, Sweeps, Walk};
use nalgebra::DMatrix;
use serde_json::Value as Json;

fn numbers(json: &Json) -> Vec<f64> {
    json.as_array().unwrap().iter().map(|v| v.as_f64().unwrap()).collect()
}

fn golden() -> Json {
    serde_json::from_str(include_str!("../../../tests/reference/golden_small.json")).unwrap()
}

/// The runs of the season.
fn runs(golden: &Json) -> Vec<Used> {
    let csv = include_str!("../../../tests/reference/season_503001.csv");
    let head: Vec<&str> = csv.lines().next().unwrap().split(',').collect();
    let at = |name: &str| head.iter().position(|h| *h == name).unwrap();
    let lines: Vec<Vec<&str>> = csv.lines().skip(1).map(|l| l.split(',').collect()).collect();
    let mut days: Vec<&str> = lines.iter().map(|r| r[at("day_id")]).collect();
    days.dedup();
    let one = |(i, r): (usize, &Vec<&str>)| {
        let (h, m) = r[at("time")].split_once(':').unwrap();
        let number = |name: &str| r[at(name)].parse::<f64>().unwrap();
        Used {
            run: i,
            row: Row {
                day: days.iter().position(|d| *d == r[at("day_id")]).unwrap(),
                season: 2015,
                track: r[at("track_id")][1..].parse::<usize>().unwrap() - 1,
                lane: if r[at("lane")] == "L" { 0.5 } else { -0.5 },
                hour: h.parse::<f64>().unwrap() + m.parse::<f64>().unwrap() / 60.0 - 12.0,
                wear: i as f64 / 100.0,
                setup: golden["sheet_of_run"][i].as_u64().unwrap() as usize,
                air: (1.2 / number("air_density")).ln(),
                unread: 0.0,
            },
            life: 2015,
            passes: None,
            y: number("t1320"),
            ft60: Some(number("t60")),
        }
    };
    lines.iter().enumerate().map(one).collect()
}

fn design(golden: &Json) -> Design {
    let z: Vec<Vec<f64>> = golden["Z_sheets"].as_array().unwrap().iter().map(numbers).collect();
    let columns = golden["mult"].as_array().unwrap().iter().map(numbers);
    Design {
        columns: columns.map(|m| Column { keys: Vec::new(), fields: m[0], edges: m[1] }).collect(),
        z: DMatrix::from_fn(z.len(), z[0].len(), |s, k| z[s][k]),
    }
}

fn of_et(golden: &Json) -> Settings {
    let scale = golden["T_median_et"].as_f64().unwrap();
    Settings {
        believed: believed(Response::Et, 1320, scale),
        exponent: 1.0 / 3.0,
        exponent_sd: 0.05,
        scale,
        field_share: 0.18,
        edge_share: 0.05,
        slabs: [0.025, 0.080],
    }
}

fn ground(runs: &[Used]) -> Ground {
    let most = |f: &dyn Fn(&Used) -> usize| runs.iter().map(f).max().unwrap() + 1;
    Ground { days: (most(&|u| u.row.day), 0), tracks: most(&|u| u.row.track), seasons: false }
}

#[test]
fn every_intermediate_of_the_et_channel() {
    let golden = golden();
    let used = runs(&golden);
    let design = design(&golden);
    let settings = of_et(&golden);
    let ready = ready(used.iter().collect(), settings, &|u| u.y);
    assert!((ready.centre - golden["y_centre"].as_f64().unwrap()).abs() < 1e-12);
    for (a, b) in ready.y.iter().zip(numbers(&golden["y"])) {
        assert!((a - b).abs() < 1e-12);
    }
    let c = propagation(&used, &|run| used[run].row.setup, 1320, 1.0 / 3.0);
    assert!((c - golden["prop_coef"].as_f64().unwrap()).abs() < 1e-6, "{c}");
    let effects = effects(&ready.rows, ready.y.clone(), &settings, &ground(&used), Some(&design.z));
    let fit = effects.fit().unwrap();
    for (a, b) in fit.sd.iter().zip(numbers(&golden["sd_run_day_rw_effect"])) {
        // Theirs stops when a step is shorter than 1e-3 of the logarithm.
        assert!((a / b - 1.0).abs() < 2e-3, "{:?}", fit.sd);
    }
    for (a, b) in fit.weights.iter().zip(numbers(&golden["clean_prob"])) {
        assert!((a - b).abs() < 2e-3, "{:?}", fit.weights);
    }
    // A and b at the sizes and weights of the file.
    let (group_of, levels) = levels(&ready.rows, &design);
    let sd = numbers(&golden["sd_run_day_rw_effect"]);
    let evidence = effects.evidence(&sd, &numbers(&golden["clean_prob"]), &[CHANGE], &group_of, &levels, &[]).unwrap();
    for (i, row) in golden["A"].as_array().unwrap().iter().map(numbers).enumerate() {
        for (k, v) in row.iter().enumerate() {
            assert!((evidence.a[(i, k)] - v).abs() < 1e-6 * evidence.a[(i, i)], "A {i} {k}");
        }
    }
    for (k, v) in numbers(&golden["b"]).iter().enumerate() {
        assert!((evidence.b[k] - v).abs() < 1e-6 * evidence.b.amax());
    }
    // What is believed of each column, and the sampler against the exact sum of 3^9 terms.
    let slabs = slabs(&design, &settings);
    for (s, w) in slabs.iter().zip(golden["prior_weights"].as_array().unwrap().iter().map(numbers)) {
        assert!((s.slabs[0].0 - w[1]).abs() < 1e-12 && (s.slabs[1].0 - w[2]).abs() < 1e-12);
    }
    let keep = 60_000;
    let mut draws = Draws::new(keep, slabs.len());
    Walk::new(&slabs).go((&evidence.a, &evidence.b), Sweeps { burn: 200, keep }, &mut Random::new(1), &mut draws, 0);
    let exact = &golden["exact"];
    for s in 1..design.z.nrows() {
        let e = Effect::of(&draws.sum(&design.step(s - 1, s)), 0.005, false);
        let want = |key: &str| numbers(&exact[key])[s - 1];
        assert!((e.value - want("mean")).abs() < 5e-4, "step {s}: {e:?}");
        assert!((e.sd - want("sd")).abs() < 1e-3 && (e.p_gain - want("p_gain")).abs() < 0.01);
        assert!((e.p_loss - want("p_loss")).abs() < 0.01);
    }
}

/// Both channels with their weights as fractions, and with the indicators drawn: the whole model.
#[test]
fn both_channels() {
    let golden = golden();
    let used = runs(&golden);
    let design = design(&golden);
    let fitted = super::fit::both_for_tests(&used, &design, &ground(&used), golden["prop_coef"].as_f64().unwrap());
    for (key, effects) in [("fixed_weights", &fitted.0), ("whole_model", &fitted.1)] {
        let g = &golden[key];
        for (s, e) in effects.iter().enumerate() {
            let want = |k: &str| numbers(&g[k])[s];
            // As the file says: for its 20,000 sweeps of fixed weights, and for the whole model's 2,000 draws.
            let (p, ms) = if key == "fixed_weights" { (0.02, 0.002) } else { (0.04, 0.003) };
            assert!((e.value - want("est")).abs() < ms, "{key} {s}: {} for {}", e.value, want("est"));
            assert!((e.p_gain - want("p_gain")).abs() < p, "{key} {s}: {} for {}", e.p_gain, want("p_gain"));
            assert!((e.p_loss - want("p_loss")).abs() < p, "{key} {s}: {} for {}", e.p_loss, want("p_loss"));
        }
    }
}
