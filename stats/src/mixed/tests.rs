use super::*;

/// Priors so wide that they say nothing, a mean so free that nothing is known of it: then the most probable sds are those
/// of restricted maximum likelihood.
fn model(y: Vec<f64>, known: DMatrix<f64>, kernels: Vec<DMatrix<f64>>) -> Mixed {
    let says_nothing = Prior { median: 30.0, log_sd: 1e6 };
    let parts = kernels.into_iter().map(|kernel| Part { kernel, prior: says_nothing }).collect();
    Mixed { y: DVector::from_vec(y), known, noise: says_nothing, floor: 1e-9, parts, bad: None }
}

fn columns(csv: &str) -> Vec<Vec<String>> {
    csv.lines().skip(1).map(|l| l.split(',').map(|c| c.trim_matches('"').to_owned()).collect()).collect()
}

/// Dyestuff (Davies, 1947; open data of the R package lme4): restricted likelihood, recomputed with statsmodels 0.15.0.
#[test]
fn dyestuff() {
    let rows = columns(include_str!("../../../tests/reference/dyestuff.csv"));
    let y: Vec<f64> = rows.iter().map(|r| r[1].parse().unwrap()).collect();
    let n = y.len();
    let mean = y.iter().sum::<f64>() / n as f64;
    let batch = DMatrix::from_fn(n, n, |i, j| f64::from(u8::from(rows[i][0] == rows[j][0])));
    let free = DMatrix::from_element(n, n, 1e9);
    let fit = model(y.iter().map(|v| v - mean).collect(), free, vec![batch]).fit().unwrap();
    assert!((fit.sd[0] - 49.509_836).abs() < 0.05, "{:?}", fit.sd);
    assert!((fit.sd[1] - 42.002_031).abs() < 0.05, "{:?}", fit.sd);
}

/// Sleepstudy (Belenky et al., 2003; open data of the R package lme4) with an intercept for each subject, recomputed with
/// statsmodels 0.15.0.
#[test]
fn sleepstudy_intercepts() {
    let rows = columns(include_str!("../../../tests/reference/sleepstudy.csv"));
    let at = |name: &str| {
        let head = include_str!("../../../tests/reference/sleepstudy.csv").lines().next().unwrap();
        head.split(',').position(|h| h.trim_matches('"') == name).unwrap()
    };
    let (reaction, days, subject) = (at("reaction"), at("days"), at("subject"));
    let y: Vec<f64> = rows.iter().map(|r| r[reaction].parse().unwrap()).collect();
    let day: Vec<f64> = rows.iter().map(|r| r[days].parse().unwrap()).collect();
    let n = y.len();
    let same = DMatrix::from_fn(n, n, |i, j| f64::from(u8::from(rows[i][subject] == rows[j][subject])));
    // Intercept and slope free.
    let free = DMatrix::from_fn(n, n, |i, j| 1e9 + 1e8 * day[i] * day[j]);
    let fit = model(y.iter().map(|v| v - 300.0).collect(), free, vec![same]).fit().unwrap();
    assert!((fit.sd[0] - 30.991_175).abs() < 0.01, "{:?}", fit.sd);
    assert!((fit.sd[1] - 37.124_503).abs() < 0.02, "{:?}", fit.sd);
}

/// One spun run among ten loses its weight and drags nothing along.
#[test]
fn what_does_not_belong_loses_its_weight() {
    let mut y = vec![0.01, -0.01, 0.0, 0.012, -0.008, 0.004, -0.003, 0.009, -0.012, 0.0];
    y[4] = 0.40;
    let prior = |median| Prior { median, log_sd: 0.5 };
    let model = Mixed {
        known: DMatrix::from_element(10, 10, 4.0),
        y: DVector::from_vec(y),
        noise: prior(0.02),
        floor: 0.003,
        parts: Vec::new(),
        bad: Some(Bad { share: 0.06, shift: 0.25, wide_share: 0.07, wide_variance: 0.09 }),
    };
    let fit = model.fit().unwrap();
    assert!(
        fit.weights[4] < 0.01 && fit.weights.iter().enumerate().all(|(i, w)| i == 4 || *w > 0.9),
        "{:?}",
        fit.weights
    );
    let (mean, variance) = fit.expect(&DVector::from_element(10, 4.0), 4.0);
    assert!(mean.abs() < 0.005 && variance.sqrt() < 0.01, "{mean} {variance}");
    // Nothing was seen: nothing is known.
    let nothing = DVector::from_element(10, 0.0);
    assert_eq!(fit.expect(&nothing, 1.5), (0.0, 1.5));
}
