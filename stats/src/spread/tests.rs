use super::*;

fn one(values: &[f64]) -> Residuals {
    Residuals::of_groups([&Sample::new(values.iter().copied())]).unwrap()
}

fn near(got: f64, want: f64, within: f64) {
    assert!((got / want - 1.0).abs() < within, "{got:.12} for {want:.12}");
}

/// The example of `ci.ratio.sd2` in D. G. Bonett's R package statpsych 1.7.0: standard deviations 5.711587 and 6.450667,
/// ratio 0.8854257, interval 0.486279 to 1.728396. The test: SciPy 1.17.1, `levene(center='median')`.
#[test]
fn bonett_s_example() {
    let y1 = one(&[32.0, 39.0, 26.0, 35.0, 43.0, 27.0, 40.0, 37.0, 34.0, 29.0]);
    let y2 = one(&[36.0, 44.0, 47.0, 42.0, 49.0, 39.0, 46.0, 31.0, 33.0, 48.0]);
    let s = steadiness(&y2, &y1, 1.0, 0.95).unwrap();
    near(s.ratio, 0.885_425_7, 1e-7);
    near(s.lo, 0.486_279, 1e-6);
    // statpsych stops after ten rounds; settled, the upper end is 1.728398.
    near(s.hi, 1.728_396, 2e-6);
    near(s.f, 0.221_608_040_201_005_14, 1e-12);
    near(s.chance, 0.643_471_794_942_983_5, 1e-11);
    // Turned about, one over it.
    let back = steadiness(&y1, &y2, 1.0, 0.95).unwrap();
    near(back.lo, 1.0 / s.hi, 1e-9);
    near(back.hi, 1.0 / s.lo, 1e-9);
    near(back.chance, s.chance, 1e-12);
}

/// Unequal counts, one value far out: SciPy 1.17.1, `levene(center='median')`.
#[test]
fn the_test_with_unequal_counts() {
    let u = one(&[0.012, -0.031, 0.004, 0.027, -0.009, 0.151, -0.018]);
    let v = one(&[0.003, -0.002, 0.006, -0.005, 0.001, 0.004, -0.007, 0.002, 0.0, -0.003, 0.005]);
    let s = steadiness(&v, &u, 0.001, 0.95).unwrap();
    near(s.f, 4.584_407_387_666_353, 1e-11);
    near(s.chance, 0.048_004_937_067_811_275, 1e-10);
    assert!(s.kurtosis > 3.0);
}

/// SciPy 1.17.1, `scipy.stats.f.sf`.
#[test]
fn tails_of_f() {
    for (f, above, below, want) in F_TAILS {
        near(f_tail(f, above, below).unwrap(), want, 1e-10);
    }
}

#[test]
fn degenerate_sides() {
    assert_eq!(Residuals::new(vec![0.1], 1.0), None);
    assert_eq!(Residuals::new(vec![], 0.0), None);
    assert_eq!(Residuals::new(vec![0.1, f64::NAN], 1.0), None);
    assert_eq!(Residuals::new(vec![0.1, -0.1], 2.0), None);
    assert_eq!(Residuals::new(vec![0.1, -0.1], 0.0), None);
    assert_eq!(Residuals::new(vec![0.1, -0.1], f64::NAN), None);
    let lone = [Sample::new([1.0]), Sample::new([f64::NAN, 2.0])];
    assert_eq!(Residuals::of_groups(&lone), None);
    let few = one(&[0.1, -0.2, 0.1, 0.0]);
    let enough = one(&[0.1, -0.2, 0.1, 0.0, 0.05]);
    assert_eq!(steadiness(&few, &enough, 0.001, 0.95), None);
    assert_eq!(steadiness(&enough, &few, 0.001, 0.95), None);
    assert_eq!(steadiness(&enough, &enough, 0.001, 1.0), None);
    let huge = one(&[1e90, -1e90, 2e90, 3e90, 0.0]);
    assert_eq!(steadiness(&huge, &enough, 0.001, 0.95), None);
    let still = one(&[2.0; 6]);
    assert_eq!(steadiness(&still, &still, 0.0, 0.95), None);
    // What the clock cannot tell apart is alike, not settled.
    let both = steadiness(&still, &still, 0.001, 0.95).unwrap();
    assert!(both.ratio == 1.0 && both.lo < 1.0 && both.hi > 1.0 && both.chance == 1.0, "{both:?}");
    // One side all equal: the floor keeps the ratio finite.
    let s = steadiness(&enough, &still, 0.001, 0.95).unwrap();
    near(s.ratio, 0.001 / 12_f64.sqrt() / enough.sd(0.0), 1e-12);
    assert!(s.lo > 0.0 && s.lo < s.ratio && s.ratio < s.hi && s.hi.is_finite(), "{s:?}");
}

/// Reproducible draws: SplitMix64 (Steele, Lea and Flood, 2014), normal by its quantile.
struct Draws(u64);

impl Draws {
    fn even(&mut self) -> f64 {
        self.0 = self.0.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        (((z ^ (z >> 31)) >> 11) as f64 + 0.5) / (1u64 << 53) as f64
    }

    fn normal(&mut self) -> f64 {
        normal_quantile(self.even())
    }

    /// Laplace: kurtosis 6.
    fn heavy(&mut self) -> f64 {
        let (u, up) = (self.even(), self.even() < 0.5);
        if up { -u.ln() } else { u.ln() }
    }

    fn side(&mut self, groups: usize, each: usize, size: f64, heavy: bool) -> Residuals {
        let groups: Vec<Sample> = (0..groups)
            .map(|g| Sample::new((0..each).map(|_| g as f64 + size * if heavy { self.heavy() } else { self.normal() })))
            .collect();
        Residuals::of_groups(&groups).unwrap()
    }
}

/// Share of 95 % intervals that hold the true ratio, and of tests that call equal scatters unequal at 5 %.
fn held(groups: [usize; 2], each: [usize; 2], ratio: f64, heavy: bool) -> (f64, f64) {
    const TIMES: usize = 4000;
    let mut draws = Draws(7);
    let (mut hold, mut called) = (0, 0);
    for _ in 0..TIMES {
        let without = draws.side(groups[0], each[0], 1.0, heavy);
        let with = draws.side(groups[1], each[1], ratio, heavy);
        let s = steadiness(&without, &with, 0.0, 0.95).unwrap();
        hold += usize::from(s.lo <= ratio && ratio <= s.hi);
        called += usize::from(s.chance < 0.05);
    }
    (hold as f64 / TIMES as f64, called as f64 / TIMES as f64)
}

/// 4,000 times: the interval holds the true ratio, 1 or a half, as often as it says or a little oftener for normal values,
/// and at least 92.5 % of the time for Laplace's; the test calls equal scatters unequal in at most 7 %. One group a side or
/// many small ones.
#[test]
fn the_interval_holds_what_it_says() {
    for (groups, each) in [
        ([1, 1], [5, 5]),
        ([1, 1], [8, 8]),
        ([1, 1], [6, 20]),
        ([1, 1], [40, 40]),
        ([4, 4], [4, 4]),
        ([8, 8], [2, 2]),
        ([10, 2], [2, 10]),
    ] {
        for (heavy, least) in [(false, 0.94), (true, 0.925)] {
            for ratio in [1.0, 0.5] {
                let (held, called) = held(groups, each, ratio, heavy);
                let case =
                    format!("{groups:?} of {each:?}, ratio {ratio}, heavy {heavy}: held {held}, called {called}");
                assert!((least..=0.982).contains(&held), "{case}");
                assert!(ratio != 1.0 || called <= 0.07, "{case}");
            }
        }
    }
}

/// With as many values as are said to be needed, 1 is outside the interval as often as asked or a little oftener (4,000 times);
/// for Laplace's heavy tails up to .93 for .80.
#[test]
fn what_is_needed_is_enough() {
    for (ratio, heavy, kurtosis) in [
        (0.35, false, 3.0),
        (0.5, false, 3.0),
        (0.7, false, 3.0),
        (0.35, true, 6.0),
        (0.5, true, 6.0),
        (0.7, true, 6.0),
    ] {
        let n = needed(ratio, 0.8, 0.95, kurtosis).unwrap();
        let most = if heavy { 0.94 } else { 0.85 };
        let mut draws = Draws(11);
        const TIMES: usize = 4000;
        let settled = (0..TIMES).filter(|_| {
            let (without, with) = (draws.side(1, n, 1.0, heavy), draws.side(1, n, ratio, heavy));
            let s = steadiness(&without, &with, 0.0, 0.95).unwrap();
            s.hi < 1.0
        });
        let share = settled.count() as f64 / TIMES as f64;
        println!("{ratio} {heavy}: {n} values a side settle {share}");
        assert!((0.78..=most).contains(&share), "{ratio}, {heavy}: {n} settle {share}");
    }
}

#[test]
fn what_is_needed_at_its_edges() {
    let n = |ratio| needed(ratio, 0.8, 0.95, 3.0);
    assert_eq!(n(0.5), n(2.0));
    assert!(n(0.5) < n(0.7) && n(0.7) < n(0.9), "{:?} {:?} {:?}", n(0.5), n(0.7), n(0.9));
    assert_eq!(n(0.01), Some(5));
    assert!(needed(0.7, 0.8, 0.95, 6.0) > n(0.7) && needed(0.7, 0.95, 0.95, 3.0) > n(0.7));
    for ratio in [1.0, 0.999_9, 0.0, -1.0, f64::NAN, f64::INFINITY] {
        assert_eq!(n(ratio), None, "{ratio}");
    }
    assert_eq!(needed(0.5, 1.0, 0.95, 3.0), None);
    assert_eq!(needed(0.5, 0.8, 0.0, 3.0), None);
    assert_eq!(needed(0.5, 0.8, 0.95, f64::NAN), None);
}

const F_TAILS: [(f64, f64, f64, f64); 5] = [
    (4.0, 1.0, 10.0, 0.07338803477074037),
    (0.3, 1.0, 18.0, 0.5906104129962633),
    (9.5, 1.0, 41.0, 0.003665112043965993),
    (2.5, 3.0, 24.0, 0.08367265178677705),
    (21.0, 8.0, 180.0, 2.5832643372689375e-22),
];
