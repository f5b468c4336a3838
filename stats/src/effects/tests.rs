use super::super::mixed::LEAST_WEIGHT;
use super::*;
use crate::{Mixed, Part};

/// A made-up record: days with a level and a slope of their own, a known width, two unknown sizes.
fn record(n: usize, seed: u64) -> (Effects, Mixed) {
    let mut state = seed;
    let mut next = move || {
        state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        (state >> 11) as f64 / (1u64 << 53) as f64 - 0.5
    };
    let days = n / 5;
    let day = |i: usize| i * days / n;
    let y = DVector::from_fn(n, |i, _| 0.05 * next() + 0.03 * ((day(i) * 7) % 5) as f64 - 0.06 + f64::from(i == 7));
    let h: Vec<f64> = (0..n).map(|_| 3.0 * next()).collect();
    let change = DMatrix::from_fn(n, 6, |i, k| f64::from(u8::from((i * 3 + k * k) % 7 < 3)));
    let shared = DMatrix::from_fn(n, days + 7, |i, k| match k {
        k if k < days => f64::from(u8::from(day(i) == k)),
        k if k == days => 1.0,
        k => change[(i, k - days - 1)],
    });
    let shares: Vec<Shares> = (0..days + 7)
        .map(|k| match k {
            k if k < days => Shares { known: 0.0, of: vec![1.0, 0.0] },
            k if k == days => Shares { known: 4.0, of: vec![0.0, 0.0] },
            _ => Shares { known: 0.0, of: vec![0.0, 1.0] },
        })
        .collect();
    let prior = |median: f64| Prior { median, log_sd: 0.5 };
    let bad = Some(Bad { share: 0.06, shift: 0.25, wide_share: 0.07, wide_variance: 0.09 });
    let own = (0..n).map(|i| (day(i), 0.01 * h[i])).collect();
    let parts = vec![prior(0.03), prior(0.03)];
    let effects = Effects::new(y.clone(), shared, shares, own, (prior(0.03), 0.003), parts, bad);
    let same = |i, j| day(i) == day(j);
    let known = DMatrix::from_fn(n, n, |i, j| 4.0 + if same(i, j) { 1e-4 * h[i] * h[j] } else { 0.0 });
    let mixed = Mixed {
        y,
        known,
        noise: prior(0.03),
        floor: 0.003,
        parts: vec![
            Part { kernel: DMatrix::from_fn(n, n, |i, j| f64::from(u8::from(same(i, j)))), prior: prior(0.03) },
            Part { kernel: &change * change.transpose(), prior: prior(0.03) },
        ],
        bad,
    };
    (effects, mixed)
}

/// The same model in both spaces: the dense one is checked against published fits.
#[test]
fn as_the_dense_model() {
    for (n, seed) in [(20, 1), (45, 2), (80, 3)] {
        let (effects, mixed) = record(n, seed);
        let (a, b) = (effects.fit().unwrap(), mixed.fit().unwrap());
        for (x, y) in a.sd.iter().zip(&b.sd).chain(a.weights.iter().zip(&b.weights)) {
            assert!((x / y - 1.0).abs() < 1e-6, "{a:?} {:?} {:?}", b.sd, b.weights);
        }
        for (x, y) in a.log_sd.iter().zip(&b.log_sd) {
            assert!((x / y - 1.0).abs() < 1e-6, "{:?} {:?}", a.log_sd, b.log_sd);
        }
    }
}

/// The evidence by plain inverses, and leaving rows out against doing it with their weights.
#[test]
fn evidence_by_plain_inverses() {
    let (effects, mixed) = record(40, 9);
    let n = 40;
    let sd = [0.02, 0.03, 0.05];
    let group_of: Vec<usize> = (0..n).map(|i| i % 4).collect();
    let levels = DMatrix::from_fn(4, 3, |u, k| ((u * 5 + k * 2) % 3) as f64 - 1.0);
    let z = DMatrix::from_fn(n, 3, |i, k| levels[(group_of[i], k)]);
    let by_hand = |weights: &[f64]| {
        let mut v = mixed.known.clone() + &mixed.parts[0].kernel * (sd[1] * sd[1]);
        (0..n).for_each(|i| v[(i, i)] += sd[0] * sd[0] / weights[i]);
        let inverse = v.try_inverse().unwrap();
        (z.transpose() * &inverse * &z, z.transpose() * &inverse * &mixed.y)
    };
    let may_go = [3, 7, 12, 30];
    let ones = vec![1.0; n];
    let evidence = effects.evidence(&sd, &ones, &[1], &group_of, &levels, &may_go).unwrap();
    let close = |a: &DMatrix<f64>, b: &DMatrix<f64>| assert!((a - b).amax() < 1e-6 * b.amax(), "{a} {b}");
    for gone in [vec![], vec![7], vec![3, 30, 12]] {
        let mut weights = ones.clone();
        gone.iter().for_each(|i| weights[*i] = LEAST_WEIGHT);
        let (a, b) = evidence.without(&gone).unwrap();
        let (want_a, want_b) = by_hand(&weights);
        close(&a, &want_a);
        assert!((b - &want_b).amax() < 1e-6 * want_b.amax());
    }
}

/// Every predicted effect by plain inverses, part by part: `G Uᵀ V⁻¹ y`; with what is left over they make up the values.
#[test]
fn fitted_by_plain_inverses() {
    let (effects, mixed) = record(40, 9);
    let n = 40;
    let sd = [0.02, 0.03, 0.05];
    let mut weights = vec![1.0; n];
    (weights[3], weights[7]) = (0.3, LEAST_WEIGHT);
    let (days, changes) = (&mixed.parts[0].kernel * (sd[1] * sd[1]), &mixed.parts[1].kernel * (sd[2] * sd[2]));
    let mut v = &mixed.known + &days + &changes;
    (0..n).for_each(|i| v[(i, i)] += sd[0] * sd[0] / weights[i]);
    let alpha = v.try_inverse().unwrap() * &mixed.y;
    let fitted = effects.fitted(&sd, &weights).unwrap();
    let by_hand = [&days * &alpha, &changes * &alpha, &mixed.known * &alpha];
    for i in 0..n {
        let (day, but_days) = effects.split(&fitted, i, 0);
        let (change, but_changes) = effects.split(&fitted, i, 1);
        assert!((day - by_hand[0][i]).abs() < 1e-9, "{i}: {day} {}", by_hand[0][i]);
        assert!((change - by_hand[1][i]).abs() < 1e-9, "{i}: {change} {}", by_hand[1][i]);
        assert!((but_days - change - by_hand[2][i]).abs() < 1e-9, "{i}");
        assert!((day + but_days - change - but_changes).abs() < 1e-12);
        // What is left over is the scatter's share: σ²/w · V⁻¹y.
        let left = mixed.y[i] - day - but_days;
        assert!((left - sd[0] * sd[0] / weights[i] * alpha[i]).abs() < 1e-8, "{i}: {left}");
    }
    assert!(effects.fitted(&sd[1..], &weights).is_none() && effects.fitted(&sd, &weights[1..]).is_none());
}
