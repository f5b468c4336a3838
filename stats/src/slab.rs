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
const TOGETHER_EVERY: usize = 4;

struct Single {
    /// Logarithm of weight and width of each slab, and the variance given the values.
    ln: [f64; 2],
    s: [f64; 2],
}

struct Pair {
    j: usize,
    /// For each two slabs: constant, and the three entries of the covariance.
    both: [[(f64, f64, f64, f64); 2]; 2],
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
    /// Every fourth sweep each effect is drawn jointly with its two strongest partners.
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
    let ln_nothing: Vec<f64> = slabs.iter().map(|s| s.nothing().max(1e-300).ln()).collect();
    let singles: Vec<Single> = (0..p).map(|k| Single::new(a[(k, k)].max(0.0), &slabs[k])).collect();
    let pairs: Vec<Vec<Pair>> = (0..p).map(|k| partners(a, slabs, k)).collect();
    let rest = |theta: &[f64]| b - a * DVector::from_column_slice(theta);
    let mut r = rest(theta);
    let shift = |theta: &mut Vec<f64>, r: &mut DVector<f64>, k: usize, new: f64| {
        let by = new - theta[k];
        if by != 0.0 {
            theta[k] = new;
            r.axpy(-by, &a.column(k), 1.0);
        }
    };
    for sweep in 0..sweeps.burn + sweeps.keep {
        for k in 0..p {
            let g = r[k] + a[(k, k)] * theta[k];
            let one = &singles[k];
            let ln = [ln_nothing[k], one.ln[0] + 0.5 * g * g * one.s[0], one.ln[1] + 0.5 * g * g * one.s[1]];
            let new = match pick(&ln, rng) {
                0 => 0.0,
                c => g * one.s[c - 1] + one.s[c - 1].sqrt() * rng.normal(),
            };
            shift(theta, &mut r, k, new);
        }
        if sweep % TOGETHER_EVERY == TOGETHER_EVERY - 1 {
            for (k, partners) in pairs.iter().enumerate() {
                for pair in partners {
                    let (x, y) = draw_pair(a, slabs, (&ln_nothing, &singles), (k, pair), (theta, &r), rng);
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

impl Single {
    fn new(a: f64, slab: &Slab) -> Single {
        let s = slab.slabs.map(|(_, v)| 1.0 / (a + 1.0 / (v * v)));
        let ln = std::array::from_fn(|c| {
            let (w, v) = slab.slabs[c];
            w.max(1e-300).ln() + 0.5 * (s[c] / (v * v)).ln()
        });
        Single { ln, s }
    }
}

/// The two strongest partners of an effect.
fn partners(a: &DMatrix<f64>, slabs: &[Slab], k: usize) -> Vec<Pair> {
    let strength = |j: usize| a[(j, k)].abs() / (a[(j, j)] * a[(k, k)]).sqrt();
    let mut strong: Vec<(f64, usize)> =
        (0..slabs.len()).filter(|j| *j != k).map(|j| (strength(j), j)).filter(|(s, _)| *s > TOGETHER).collect();
    strong.sort_by(|x, y| y.0.total_cmp(&x.0).then(x.1.cmp(&y.1)));
    strong.truncate(2);
    let pair = |(_, j): (f64, usize)| {
        let both = std::array::from_fn(|c| {
            std::array::from_fn(|d| {
                let ((w1, v1), (w2, v2)) = (slabs[k].slabs[c], slabs[j].slabs[d]);
                let (p11, p12, p22) = (a[(k, k)] + 1.0 / (v1 * v1), a[(k, j)], a[(j, j)] + 1.0 / (v2 * v2));
                let det = p11 * p22 - p12 * p12;
                let ln = (w1 * w2).max(1e-300).ln() - (v1 * v2).ln() - 0.5 * det.ln();
                (ln, p22 / det, -p12 / det, p11 / det)
            })
        });
        Pair { j, both }
    };
    strong.into_iter().map(pair).collect()
}

fn draw_pair(
    a: &DMatrix<f64>,
    slabs: &[Slab],
    (ln_nothing, singles): (&[f64], &[Single]),
    (k, pair): (usize, &Pair),
    (theta, r): (&[f64], &DVector<f64>),
    rng: &mut Random,
) -> (f64, f64) {
    debug_assert!(slabs.len() == theta.len());
    let j = pair.j;
    let g = r[k] + a[(k, k)] * theta[k] + a[(k, j)] * theta[j];
    let h = r[j] + a[(k, j)] * theta[k] + a[(j, j)] * theta[j];
    let mut ln = [0.0; 9];
    for c in 0..3 {
        for d in 0..3 {
            ln[3 * c + d] = match (c, d) {
                (0, 0) => ln_nothing[k] + ln_nothing[j],
                (c, 0) => singles[k].ln[c - 1] + 0.5 * g * g * singles[k].s[c - 1] + ln_nothing[j],
                (0, d) => singles[j].ln[d - 1] + 0.5 * h * h * singles[j].s[d - 1] + ln_nothing[k],
                (c, d) => {
                    let (ln, s11, s12, s22) = pair.both[c - 1][d - 1];
                    ln + 0.5 * (g * g * s11 + 2.0 * g * h * s12 + h * h * s22)
                }
            };
        }
    }
    match pick(&ln, rng) {
        0 => (0.0, 0.0),
        n if n % 3 == 0 => {
            let s = singles[k].s[n / 3 - 1];
            (g * s + s.sqrt() * rng.normal(), 0.0)
        }
        n if n < 3 => {
            let s = singles[j].s[n - 1];
            (0.0, h * s + s.sqrt() * rng.normal())
        }
        n => {
            let (_, s11, s12, s22) = pair.both[n / 3 - 1][n % 3 - 1];
            let x = s11.sqrt() * rng.normal();
            let rest = (s22 - s12 * s12 / s11).max(0.0).sqrt() * rng.normal();
            (g * s11 + h * s12 + x, g * s12 + h * s22 + s12 / s11 * x + rest)
        }
    }
}

/// One of the places, with chances that go as the exponentials.
fn pick<const N: usize>(ln: &[f64; N], rng: &mut Random) -> usize {
    let most = ln.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    // Single precision is plenty for a chance.
    let w: [f64; N] = std::array::from_fn(|i| f64::from(exp((ln[i] - most) as f32)));
    let mut u = rng.uniform() * w.iter().sum::<f64>();
    for (i, w) in w.iter().enumerate() {
        u -= w;
        if u < 0.0 {
            return i;
        }
    }
    N - 1
}

/// e^x of x in -87 to 0 (below: as good as nothing), to 1 in 100,000 (single precision of the exponent) and without a branch or a call, so that several are
/// had at once: 2^whole by its bits, and the rest of the exponent by its Taylor series.
fn exp(x: f32) -> f32 {
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

    #[test]
    fn exponentials_as_the_library_has_them() {
        for i in 0..=87_000 {
            let x = -(i as f32) / 1000.0;
            assert!((exp(x) / x.exp() - 1.0).abs() < 1e-5, "{x}");
        }
        assert_eq!(exp(0.0), 1.0);
        assert!(exp(f32::NEG_INFINITY) < 1e-37);
    }

    #[test]
    fn quantiles_of_type_7() {
        let v = [1.0, 2.0, 4.0, 8.0];
        assert_eq!((quantile(&v, 0.0), quantile(&v, 0.5), quantile(&v, 1.0)), (1.0, 3.0, 8.0));
        assert!((quantile(&v, 0.9) - 6.8).abs() < 1e-12);
        assert!(quantile(&[], 0.5).is_nan());
    }
}
