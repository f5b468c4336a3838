use super::*;

/// The exact answer by summing all 3^6 states (NumPy), in `refs.json`'s `spike_slab_exact`: 20 values, six effects.
#[test]
fn as_the_exact_sum() {
    let refs: serde_json::Value = serde_json::from_str(include_str!("../../tests/data/spike_slab.json")).unwrap();
    let list =
        |v: &serde_json::Value| -> Vec<f64> { v.as_array().unwrap().iter().map(|x| x.as_f64().unwrap()).collect() };
    let rows: Vec<Vec<f64>> = refs["X"].as_array().unwrap().iter().map(list).collect();
    let x = DMatrix::from_fn(20, 6, |i, k| rows[i][k]);
    let y = DVector::from_vec(list(&refs["y"]));
    let (noise, w, v) = (refs["noise_var"].as_f64().unwrap(), list(&refs["weights"]), list(&refs["slab_var"]));
    let slab = Slab { slabs: [(w[1], v[0].sqrt()), (w[2], v[1].sqrt())] };
    let (a, b) = (x.tr_mul(&x) / noise, x.tr_mul(&y) / noise);
    let keep = 60_000;
    let mut draws = Draws::new(keep, 6);
    let mut rng = Random::new(7);
    Walk::new(&[slab; 6]).go((&a, &b), Sweeps { burn: 500, keep }, &mut rng, &mut draws, 0);
    for k in 0..6 {
        let of = draws.of(k);
        let share = of.iter().filter(|v| **v != 0.0).count() as f64 / keep as f64;
        let mean = of.iter().map(|v| f64::from(*v)).sum::<f64>() / keep as f64;
        assert!((share - list(&refs["incl_prob"])[k]).abs() < 0.01, "{k}: {share}");
        assert!((mean - list(&refs["mean"])[k]).abs() < 0.005, "{k}: {mean}");
    }
}

/// What decides a draw without an exponential decides it as the exponentials do.
#[test]
fn the_quick_way_to_nothing_is_the_long_way() {
    let (above, mut rng) = (Above::new(), Random::new(5));
    let mut quick = 0;
    for _ in 0..20_000 {
        let one = Single::new(1e4 * rng.uniform().powi(3), &Slab::new(0.9 * rng.uniform(), [0.025, 0.08]));
        let (g, u) = (300.0 * rng.normal(), rng.uniform());
        let half = 0.5 * g * g;
        let weight: f64 = (1..3).map(|c| (one.ln[c] - one.ln[0] + half * one.s[c - 1]).exp()).sum();
        assert!(one.at_most(g, &above) >= weight * (1.0 - 1e-12), "{g} {weight}");
        let sure = u * (1.0 + one.at_most(g, &above)) < 1.0;
        quick += usize::from(sure);
        // Beside the limit single precision decides either way.
        if (u * (1.0 + weight) - 1.0).abs() > 1e-4 {
            assert_eq!(one.which(g, u, &above) == 0, u * (1.0 + weight) < 1.0, "{g} {u}");
        }
    }
    assert!(quick > 1_000);
}

/// The same of two, whichever slab is the wide one.
#[test]
fn the_quick_way_to_nothing_of_two_is_the_long_way() {
    let (above, mut rng) = (Above::new(), Random::new(6));
    let mut quick = 0;
    for i in 0..20_000 {
        let size = 1e4 * rng.uniform().powi(3);
        let (x, y, apart) = (size * rng.uniform(), size * rng.uniform(), 1.9 * rng.uniform() - 0.95);
        let a = DMatrix::from_row_slice(2, 2, &[x, apart * (x * y).sqrt(), apart * (x * y).sqrt(), y]);
        let mut slabs = [0, 1].map(|_| Slab::new(0.9 * rng.uniform(), [0.025, 0.08]));
        if i % 3 == 0 {
            slabs[i % 2].slabs.reverse();
        }
        let singles = [0, 1].map(|k| Single::new(a[(k, k)], &slabs[k]));
        let pair = Pair::new(&a, &slabs, &singles, (0, 1));
        let (g, h) = (1.5 * x.sqrt() * rng.normal(), 1.5 * y.sqrt() * rng.normal());
        let (one, other) = ((&singles[0], g), (&singles[1], h));
        let (ln, u) = (pair.ln(one, other), rng.uniform());
        let weight: f64 = ln[1..].iter().map(|l| (l - ln[0]).exp()).sum();
        let most = pair.at_most(one, other, &above);
        assert!(most >= weight * (1.0 - 1e-9), "{most} {weight}");
        quick += usize::from(u * (1.0 + most) < 1.0);
        if (u * (1.0 + weight) - 1.0).abs() > 1e-4 {
            assert_eq!(pair.which(one, other, u, &above) == 0, u * (1.0 + weight) < 1.0, "{u}");
        }
    }
    assert!(quick > 1_000);
}
