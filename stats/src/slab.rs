//! Effects most of which are nothing: a spike at 0 and two slabs, by Gibbs sampling with the spike's indicator integrated
//! over the effect (George and McCulloch, Statistica Sinica 7, 1997; the point mass of Mitchell and Beauchamp, JASA 83, 1988).

use super::{Random, exp_below};
use nalgebra::{DMatrix, DVector};

/// What is believed of an effect: nothing with `1 - .0 - .1` of the parts' weights, else normal about 0.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Slab {
    /// Weight and standard deviation of each slab.
    pub slabs: [(f64, f64); 2],
}

impl Slab {
    /// Something with chance `share`, 0 to 1: of that 0.7 in the narrow slab and 0.3 in the wide one (the second).
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
    /// All of them together where the values say nothing, both being nothing 1.
    odds: f64,
    /// The wider slab of each.
    widest: (usize, usize),
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
        let wide = |slab: &Slab| usize::from(slab.slabs[1].1 >= slab.slabs[0].1);
        Pair { j, both, odds, widest: (wide(&slabs[k]), wide(&slabs[j])) }
    }

    /// Half of what the values say of both in two slabs, g and h.
    fn half(&self, (c, d): (usize, usize), g: f64, h: f64) -> f64 {
        let (_, s11, s12, s22) = self.both[c][d];
        0.5 * (g * g * s11 + 2.0 * g * h * s12 + h * h * s22)
    }

    /// No less than what all but nothing weighs, both being nothing 1: the widest slabs' covariance is the largest.
    fn at_most(&self, (one, g): (&Single, f64), (other, h): (&Single, f64), above: &Above) -> f64 {
        let both = self.odds * above.exp(self.half(self.widest, g, h).max(0.0));
        one.at_most(g, above) + other.at_most(h, above) + both
    }

    /// Logarithms of the nine weights: nothing or a slab of the one, times the same of the other.
    fn ln(&self, (one, g): (&Single, f64), (other, h): (&Single, f64)) -> [f64; 9] {
        let single =
            |of: &Single, g: f64, c: usize| if c == 0 { of.ln[0] } else { of.ln[c] + 0.5 * g * g * of.s[c - 1] };
        std::array::from_fn(|n| match (n / 3, n % 3) {
            (c, d) if c == 0 || d == 0 => single(one, g, c) + single(other, h, d),
            (c, d) => self.both[c - 1][d - 1].0 + self.half((c - 1, d - 1), g, h),
        })
    }

    /// Which of the nine; `u` is uniform in 0..1.
    fn which(&self, one: (&Single, f64), other: (&Single, f64), u: f64, above: &Above) -> usize {
        if u * (1.0 + self.at_most(one, other, above)) < 1.0 { 0 } else { pick(&self.ln(one, other), u) }
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
        let u = rng.uniform();
        match self.which((one, g), (other, h), u, above) {
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

#[cfg(test)]
mod tests;
