//! Effects most of which are nothing: a spike at 0 and two slabs, by Gibbs sampling with the spike's indicator integrated
//! over the effect (George and McCulloch, Statistica Sinica 7, 1997; the point mass of Mitchell and Beauchamp, JASA 83, 1988).

use super::Random;
use nalgebra::{DMatrix, DVector};

/// What is believed of an effect: nothing with `1 - .0 - .1` of the parts' weights, else normal about 0.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Slab {
    /// Weight and standard deviation of each slab.
    pub slabs: [(f64, f64); 2],
}

impl Slab {
    /// Something with chance `share`, 0 to 1: of that 0.7 in the narrow slab and 0.3 in the wide one.
    pub fn new(share: f64, sds: [f64; 2]) -> Slab {
        Slab { slabs: [(0.7 * share, sds[0]), (0.3 * share, sds[1])] }
    }

    fn nothing(&self) -> f64 {
        1.0 - self.slabs[0].0 - self.slabs[1].0
    }
}

/// Draws of effects: by effect, one after the other.
#[derive(Debug, Clone, Default, PartialEq, serde::Serialize, serde::Deserialize)]
pub struct Draws {
    /// Draws of each effect.
    pub kept: usize,
    #[serde(with = "crate::floats")]
    values: Vec<f32>,
}

impl Draws {
    /// None yet, for so many draws of so many effects.
    pub fn new(kept: usize, effects: usize) -> Draws {
        Draws { kept, values: vec![0.0; kept * effects] }
    }

    /// How many effects there are.
    pub fn effects(&self) -> usize {
        self.values.len().checked_div(self.kept).unwrap_or(0)
    }

    /// The draws of an effect.
    pub fn of(&self, effect: usize) -> &[f32] {
        &self.values[effect * self.kept..(effect + 1) * self.kept]
    }

    /// The mean of an effect's draws.
    pub fn mean(&self, effect: usize) -> f64 {
        self.of(effect).iter().map(|d| f64::from(*d)).sum::<f64>() / self.kept.max(1) as f64
    }

    /// Draws of a sum of effects, each times its number.
    pub fn sum(&self, of: &[(usize, f64)]) -> Vec<f64> {
        let mut out = vec![0.0; self.kept];
        for (effect, times) in of {
            out.iter_mut().zip(self.of(*effect)).for_each(|(o, v)| *o += times * f64::from(*v));
        }
        out
    }
}

/// Sweeps before and while draws are kept.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Sweeps {
    /// Left out.
    pub burn: usize,
    /// Kept.
    pub keep: usize,
}

/// Partners correlated less than this are not drawn together.
const TOGETHER: f64 = 0.4;
/// Every so many sweeps partners are.
const TOGETHER_EVERY: usize = 8;

/// What is drawn of one effect, from what the values say of it: `g²/2` times the variance goes into the exponents.
struct Single {
    /// Logarithm of the weight of nothing, and of the weight and width of each slab.
    ln: [f64; 3],
    /// Weight of both slabs where the values say nothing, nothing's being 1.
    odds: f64,
    /// The variance of each slab given the values, its root, and half the larger.
    s: [f64; 2],
    sd: [f64; 2],
    half: f64,
}

struct Pair {
    j: usize,
    /// For each two slabs: constant, and the three entries of the covariance.
    both: [[(f64, f64, f64, f64); 2]; 2],
    /// All of them together where the values say nothing, both being nothing 1. The two wide slabs' exponent is the largest.
    odds: f64,
}

/// A walk over the effects, from all of them nothing.
#[derive(Debug, Clone)]
pub struct Walk<'a> {
    slabs: &'a [Slab],
    theta: Vec<f64>,
}

impl<'a> Walk<'a> {
    /// Under these slabs.
    pub fn new(slabs: &'a [Slab]) -> Walk<'a> {
        Walk { slabs, theta: vec![0.0; slabs.len()] }
    }

    /// Draws effects under `-½ θᵀAθ + bᵀθ` and the slabs, on from where the walk stands, into `draws` from place `from` on.
    /// Every eighth sweep each effect is drawn jointly with its two strongest partners, each two once: as good as oftener
    /// (integrated times of the draws on a made-up record of 300 values: 2.0, and 2.0 at every fourth), at two thirds of the cost.
    pub fn go(
        &mut self,
        (a, b): (&DMatrix<f64>, &DVector<f64>),
        sweeps: Sweeps,
        rng: &mut Random,
        draws: &mut Draws,
        from: usize,
    ) {
        sample(a, b, self, sweeps, rng, draws, from);
    }
}

fn sample(
    a: &DMatrix<f64>,
    b: &DVector<f64>,
    walk: &mut Walk,
    sweeps: Sweeps,
    rng: &mut Random,
    draws: &mut Draws,
    from: usize,
) {
    let Walk { slabs, theta } = walk;
    let p = slabs.len();
    let above = Above::new();
    let singles: Vec<Single> = (0..p).map(|k| Single::new(a[(k, k)].max(0.0), &slabs[k])).collect();
    let pairs = pairs(a, slabs, &singles);
    let rest = |theta: &[f64]| b - a * DVector::from_column_slice(theta);
    let mut r = rest(theta);
    let shift = |theta: &mut Vec<f64>, r: &mut DVector<f64>, k: usize, new: f64| {
        let by = new - theta[k];
        if by != 0.0 {
            theta[k] = new;
            r.as_mut_slice().iter_mut().zip(&a.as_slice()[k * p..(k + 1) * p]).for_each(|(r, a)| *r -= by * a);
        }
    };
    for sweep in 0..sweeps.burn + sweeps.keep {
        for (k, one) in singles.iter().enumerate() {
            let g = r[k] + a[(k, k)] * theta[k];
            let u = rng.uniform();
            let new = match one.which(g, u, &above) {
                0 => 0.0,
                c => g * one.s[c - 1] + one.sd[c - 1] * rng.normal(),
            };
            shift(theta, &mut r, k, new);
        }
        if sweep % TOGETHER_EVERY == TOGETHER_EVERY - 1 {
            for (k, partners) in pairs.iter().enumerate() {
                for pair in partners {
                    let (x, y) = pair.draw((a, &singles), k, (theta, &r), rng, &above);
                    shift(theta, &mut r, k, x);
                    shift(theta, &mut r, pair.j, y);
                }
            }
        }
        if let Some(kept) = sweep.checked_sub(sweeps.burn) {
            for (k, v) in theta.iter().enumerate().filter(|(_, v)| **v != 0.0) {
                draws.values[k * draws.kept + from + kept] = *v as f32;
            }
        }
        // Rounding would pile up over thousands of updates.
        if sweep % 50 == 49 {
            r = rest(theta);
        }
    }
}

/// Powers of e never too small: most draws are decided by them, without an exponential.
struct Above([f64; 128]);

impl Above {
    /// Steps to 1.
    const STEPS: f64 = 16.0;

    fn new() -> Above {
        Above(std::array::from_fn(|i| ((i + 1) as f64 / Above::STEPS).exp()))
    }

    /// No less than e^x; x not below 0.
    fn exp(&self, x: f64) -> f64 {
        self.0.get((x * Above::STEPS) as i32 as usize).copied().unwrap_or(f64::INFINITY)
    }
}

impl Single {
    fn new(a: f64, slab: &Slab) -> Single {
        let s = slab.slabs.map(|(_, v)| 1.0 / (a + 1.0 / (v * v)));
        let of = |c: usize| {
            let (w, v) = slab.slabs[c];
            w.max(1e-300).ln() + 0.5 * (s[c] / (v * v)).ln()
        };
        let ln = [slab.nothing().max(1e-300).ln(), of(0), of(1)];
        let odds = (ln[1] - ln[0]).exp() + (ln[2] - ln[0]).exp();
        Single { ln, odds, s, sd: s.map(f64::sqrt), half: 0.5 * s[0].max(s[1]) }
    }

    /// No less than what the slabs weigh, nothing's weight being 1.
    fn at_most(&self, g: f64, above: &Above) -> f64 {
        self.odds * above.exp(g * g * self.half)
    }

    /// 0 for nothing, else which slab; `u` is uniform in 0..1.
    fn which(&self, g: f64, u: f64, above: &Above) -> usize {
        if u * (1.0 + self.at_most(g, above)) < 1.0 {
            return 0;
        }
        let half = 0.5 * g * g;
        pick(&[self.ln[0], self.ln[1] + half * self.s[0], self.ln[2] + half * self.s[1]], u)
    }
}

/// The two strongest partners of each effect, each two once.
fn pairs(a: &DMatrix<f64>, slabs: &[Slab], singles: &[Single]) -> Vec<Vec<Pair>> {
    let diagonal = a.diagonal();
    let partners: Vec<[Option<usize>; 2]> = (0..slabs.len()).map(|k| partners(a, diagonal.as_slice(), k)).collect();
    let first = |k: usize, j: usize| k < j || !partners[j].contains(&Some(k));
    let of = |(k, with): (usize, &[Option<usize>; 2])| {
        with.iter().flatten().filter(|j| first(k, **j)).map(|j| Pair::new(a, slabs, singles, (k, *j))).collect()
    };
    partners.iter().enumerate().map(of).collect()
}

fn partners(a: &DMatrix<f64>, diagonal: &[f64], k: usize) -> [Option<usize>; 2] {
    let column = &a.as_slice()[k * a.nrows()..(k + 1) * a.nrows()];
    let enough = TOGETHER * TOGETHER * column[k];
    let mut strong: Vec<(f64, usize)> = Vec::new();
    for (j, (with, own)) in column.iter().zip(diagonal).enumerate() {
        if with * with > enough * own && j != k {
            strong.push((with * with / own, j));
        }
    }
    strong.sort_by(|x, y| y.0.total_cmp(&x.0).then(x.1.cmp(&y.1)));
    std::array::from_fn(|i| strong.get(i).map(|s| s.1))
}

impl Pair {
    fn new(a: &DMatrix<f64>, slabs: &[Slab], singles: &[Single], (k, j): (usize, usize)) -> Pair {
        let both: [[(f64, f64, f64, f64); 2]; 2] = std::array::from_fn(|c| {
            std::array::from_fn(|d| {
                let ((w1, v1), (w2, v2)) = (slabs[k].slabs[c], slabs[j].slabs[d]);
                let (p11, p12, p22) = (a[(k, k)] + 1.0 / (v1 * v1), a[(k, j)], a[(j, j)] + 1.0 / (v2 * v2));
                let det = p11 * p22 - p12 * p12;
                let ln = (w1 * w2).max(1e-300).ln() - (v1 * v2).ln() - 0.5 * det.ln();
                (ln, p22 / det, -p12 / det, p11 / det)
            })
        });
        let nothing = singles[k].ln[0] + singles[j].ln[0];
        let odds = both.iter().flatten().map(|(ln, ..)| (ln - nothing).exp()).sum();
        Pair { j, both, odds }
    }

    fn draw(
        &self,
        (a, singles): (&DMatrix<f64>, &[Single]),
        k: usize,
        (theta, r): (&[f64], &DVector<f64>),
        rng: &mut Random,
        above: &Above,
    ) -> (f64, f64) {
        let j = self.j;
        let (one, other) = (&singles[k], &singles[j]);
        let g = r[k] + a[(k, k)] * theta[k] + a[(j, k)] * theta[j];
        let h = r[j] + a[(j, k)] * theta[k] + a[(j, j)] * theta[j];
        let half = |(_, s11, s12, s22): (f64, f64, f64, f64)| 0.5 * (g * g * s11 + 2.0 * g * h * s12 + h * h * s22);
        let u = rng.uniform();
        let both = self.odds * above.exp(half(self.both[1][1]).max(0.0));
        if u * (1.0 + one.at_most(g, above) + other.at_most(h, above) + both) < 1.0 {
            return (0.0, 0.0);
        }
        let single =
            |of: &Single, g: f64, c: usize| if c == 0 { of.ln[0] } else { of.ln[c] + 0.5 * g * g * of.s[c - 1] };
        let ln: [f64; 9] = std::array::from_fn(|n| match (n / 3, n % 3) {
            (c, d) if c == 0 || d == 0 => single(one, g, c) + single(other, h, d),
            (c, d) => self.both[c - 1][d - 1].0 + half(self.both[c - 1][d - 1]),
        });
        match pick(&ln, u) {
            0 => (0.0, 0.0),
            n if n % 3 == 0 => {
                let c = n / 3 - 1;
                (g * one.s[c] + one.sd[c] * rng.normal(), 0.0)
            }
            n if n < 3 => (0.0, h * other.s[n - 1] + other.sd[n - 1] * rng.normal()),
            n => {
                let (_, s11, s12, s22) = self.both[n / 3 - 1][n % 3 - 1];
                let x = s11.sqrt() * rng.normal();
                let rest = (s22 - s12 * s12 / s11).max(0.0).sqrt() * rng.normal();
                (g * s11 + h * s12 + x, g * s12 + h * s22 + s12 / s11 * x + rest)
            }
        }
    }
}

/// One of the places, with chances that go as the exponentials; `u` is uniform in 0..1.
fn pick<const N: usize>(ln: &[f64; N], u: f64) -> usize {
    let most = ln.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    // Single precision is plenty for a chance.
    let w: [f64; N] = std::array::from_fn(|i| f64::from(exp_below((ln[i] - most) as f32)));
    let mut u = u * w.iter().sum::<f64>();
    for (i, w) in w.iter().enumerate() {
        u -= w;
        if u < 0.0 {
            return i;
        }
    }
    N - 1
}

/// e^x of x in -87 to 0 (below: as good as nothing), to 1 in 100,000, single precision of the exponent, without a branch or
/// a call, so that several are had at once: 2^whole by its bits, and the rest of the exponent by its Taylor series.
pub fn exp_below(x: f32) -> f32 {
    // Adding 1.5 * 2^23 leaves no room for a fraction.
    const WHOLE: f32 = 12_582_912.0;
    let two = x.max(-87.0) * std::f32::consts::LOG2_E;
    let whole = (two + WHOLE) - WHOLE;
    let t = (two - whole) * std::f32::consts::LN_2;
    let series = 1.0 + t * (1.0 + t * (0.5 + t * (1.0 / 6.0 + t * (1.0 / 24.0 + t * (1.0 / 120.0)))));
    f32::from_bits(((whole as i32 + 127) as u32) << 23) * series
}

/// The quantile of sorted values by linear interpolation (Hyndman and Fan, The American Statistician 50, 1996, type 7).
pub fn quantile(sorted: &[f64], p: f64) -> f64 {
    let Some(last) = sorted.len().checked_sub(1) else { return f64::NAN };
    let at = p * last as f64;
    let below = (at.floor() as usize).min(last);
    let above = (below + 1).min(last);
    sorted[below] + (at - below as f64) * (sorted[above] - sorted[below])
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The exact answer by summing all 3^6 states (NumPy), in `refs.json`'s `spike_slab_exact`: 20 values, six effects.
    #[test]
    fn as_the_exact_sum() {
        let refs: serde_json::Value = serde_json::from_str(include_str!("../tests/data/spike_slab.json")).unwrap();
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

    #[test]
    fn exponentials_as_the_library_has_them() {
        for i in 0..=87_000 {
            let x = -(i as f32) / 1000.0;
            assert!((exp_below(x) / x.exp() - 1.0).abs() < 1e-5, "{x}");
        }
        assert_eq!(exp_below(0.0), 1.0);
        assert!(exp_below(f32::NEG_INFINITY) < 1e-37);
    }

    #[test]
    fn quantiles_of_type_7() {
        let v = [1.0, 2.0, 4.0, 8.0];
        assert_eq!((quantile(&v, 0.0), quantile(&v, 0.5), quantile(&v, 1.0)), (1.0, 3.0, 8.0));
        assert!((quantile(&v, 0.9) - 6.8).abs() < 1e-12);
        assert!(quantile(&[], 0.5).is_nan());
    }
}
