//! A linear model with many random effects of diagonal variance: the same sizes by the same scoring as [`super::Mixed`], in
//! the space of the effects, so that its cost follows the days and setups of a record, not its values.

mod evidence;
mod fitted;

pub use evidence::Evidence;
pub use fitted::Fitted;

use super::factor::{Factor, squared};
use super::scoring::{FIRST, Scored, passes, start};
use super::{Bad, Prior};
use nalgebra::{DMatrix, DVector};
use std::cell::RefCell;

/// The variance of an effect: `known + Σ sd_j² of[j]`.
#[derive(Debug, Clone, PartialEq)]
pub struct Shares {
    /// Of known width.
    pub known: f64,
    /// Its share of the variance of each part.
    pub of: Vec<f64>,
}

/// The model: `y ~ N(0, σ² diag(1/w) + U diag(g) Uᵀ + own)`.
#[derive(Debug, Clone)]
pub struct Effects {
    /// n values about 0.
    pub y: DVector<f64>,
    /// n × q, a column an effect.
    pub shared: DMatrix<f64>,
    /// The variance of each column.
    pub shares: Vec<Shares>,
    /// Of each row: which group it is of, and its value in the one effect its group has to itself, of variance 1 (0 for
    /// none).
    pub own: Vec<(usize, f64)>,
    /// σ, the scatter of one value.
    pub noise: Prior,
    /// σ is never believed below this.
    pub floor: f64,
    /// The unknown sizes.
    pub parts: Vec<Prior>,
    /// Values that do not belong; `None` = all belong.
    pub bad: Option<Bad>,
    sums: RefCell<Option<Sums>>,
}

/// The fitted model.
#[derive(Debug, Clone, PartialEq)]
pub struct EffectsFit {
    /// σ, then the sd of each part.
    pub sd: Vec<f64>,
    /// How well the logarithm of each is known.
    pub log_sd: Vec<f64>,
    /// Chance that each value belongs, 1e-4 to 1.
    pub weights: Vec<f64>,
}

/// Cross products under some weights, before σ.
#[derive(Debug, Clone)]
struct Sums {
    weights: Vec<f64>,
    shared: DMatrix<f64>,
    own_shared: DMatrix<f64>,
    own: DVector<f64>,
    shared_y: DVector<f64>,
    own_y: DVector<f64>,
    yy: f64,
    ln_weights: f64,
}

/// The covariance at given sizes.
pub struct At {
    sigma2: f64,
    /// Square roots of the effects' variances.
    s: DVector<f64>,
    /// Groups by effects, scaled.
    cross: DMatrix<f64>,
    own: DVector<f64>,
    factor: Factor,
    v: DVector<f64>,
    v_own: DVector<f64>,
    quadratic: f64,
    ln_det: f64,
}

impl Effects {
    /// A model; every column has its variance and every row its group.
    pub fn new(
        y: DVector<f64>,
        shared: DMatrix<f64>,
        shares: Vec<Shares>,
        own: Vec<(usize, f64)>,
        noise: (Prior, f64),
        parts: Vec<Prior>,
        bad: Option<Bad>,
    ) -> Effects {
        let (noise, floor) = noise;
        Effects { y, shared, shares, own, noise, floor, parts, bad, sums: RefCell::new(None) }
    }

    /// The most probable sds, and the chance that each value belongs. `None` only where the numbers are not finite.
    pub fn fit(&self) -> Option<EffectsFit> {
        self.go(start(&self.priors()), FIRST, PASSES)
    }

    /// The same with so many passes over the weights at most.
    pub fn fit_in(&self, passes: usize) -> Option<EffectsFit> {
        self.go(start(&self.priors()), FIRST, passes)
    }

    fn go(&self, x: DVector<f64>, first: usize, most: usize) -> Option<EffectsFit> {
        if !self.y.iter().chain(self.shared.iter()).all(|v| v.is_finite()) {
            return None;
        }
        let ((x, known, _), weights) = passes(self, x, first, most, self.y.len())?;
        let log_sd = known.diagonal().iter().map(|v| v.max(0.0).sqrt()).collect();
        Some(EffectsFit { sd: self.sds(&x), log_sd, weights })
    }

    fn groups(&self) -> usize {
        self.own.iter().map(|(g, _)| g + 1).max().unwrap_or(0)
    }

    fn sds(&self, x: &DVector<f64>) -> Vec<f64> {
        x.iter().enumerate().map(|(j, v)| if j == 0 { v.exp().max(self.floor) } else { v.exp() }).collect()
    }

    fn variance(&self, k: usize, sd: &[f64]) -> f64 {
        let share = &self.shares[k];
        share.known + share.of.iter().zip(&sd[1..]).map(|(o, s)| o * s * s).sum::<f64>()
    }

    fn with_sums<T>(&self, weights: &[f64], use_it: impl FnOnce(&Sums) -> T) -> T {
        let mut kept = self.sums.borrow_mut();
        if kept.as_ref().is_none_or(|s| s.weights != weights) {
            *kept = Some(self.sums_of(weights));
        }
        // Just put there.
        use_it(kept.as_ref().unwrap_or(&Sums::empty()))
    }

    fn sums_of(&self, weights: &[f64]) -> Sums {
        let (n, q) = self.shared.shape();
        let roots: Vec<f64> = weights.iter().map(|w| w.sqrt()).collect();
        let mut half = self.shared.clone();
        columns_mut(&mut half).for_each(|c| c.iter_mut().zip(&roots).for_each(|(c, r)| *c *= r));
        let shared = squared(&half);
        let wy = DVector::from_fn(n, |i, _| weights[i] * self.y[i]);
        let shared_y = self.shared.tr_mul(&wy);
        let groups = self.groups();
        let mut own = DVector::zeros(groups);
        let mut own_y = DVector::zeros(groups);
        let mut own_shared = DMatrix::zeros(groups, q);
        let with: Vec<(usize, usize, f64)> =
            self.own.iter().enumerate().filter(|(_, o)| o.1 != 0.0).map(|(i, (g, h))| (i, *g, *h)).collect();
        for (i, g, h) in &with {
            own[*g] += weights[*i] * h * h;
            own_y[*g] += h * wy[*i];
        }
        for (sum, column) in columns_mut(&mut own_shared).zip(columns(&self.shared)) {
            with.iter().for_each(|(i, g, h)| sum[*g] += weights[*i] * h * column[*i]);
        }
        let yy = wy.dot(&self.y);
        let ln_weights = weights.iter().map(|w| w.ln()).sum();
        Sums { weights: weights.to_vec(), shared, own_shared, own, shared_y, own_y, yy, ln_weights }
    }

    /// `(V⁻¹)_ii` and `(V⁻¹y)_i` of every row.
    fn leverage(&self, at: &At, weights: &[f64]) -> (Vec<f64>, Vec<f64>) {
        let inverse = at.factor.inverse();
        let (own_shared, own) = at.rest_of_inverse(&inverse);
        let mut t = self.shared.clone();
        for (k, s) in at.s.iter().enumerate() {
            t.column_mut(k).scale_mut(*s);
        }
        let tm = &t * &inverse;
        let fitted = &t * &at.v;
        let crossed = (0..self.y.len()).map(|i| {
            let (g, h) = self.own[i];
            let mut form = t.row(i).dot(&tm.row(i));
            let mut mean = fitted[i];
            if h != 0.0 {
                form += 2.0 * h * own_shared.row(g).dot(&t.row(i)) + h * h * own[g];
                mean += h * at.v_own[g];
            }
            let p = weights[i] / at.sigma2;
            (p - p * p * form, p * (self.y[i] - mean))
        });
        crossed.unzip()
    }
}

fn columns(m: &DMatrix<f64>) -> impl Iterator<Item = &[f64]> {
    m.as_slice().chunks_exact(m.nrows().max(1))
}

fn columns_mut(m: &mut DMatrix<f64>) -> impl Iterator<Item = &mut [f64]> {
    let rows = m.nrows().max(1);
    m.as_mut_slice().chunks_exact_mut(rows)
}

/// Each row divided by its number.
fn divided_rows(m: &DMatrix<f64>, by: &DVector<f64>) -> DMatrix<f64> {
    let by: Vec<f64> = by.iter().map(|d| 1.0 / d).collect();
    let mut out = m.clone();
    columns_mut(&mut out).for_each(|c| c.iter_mut().zip(&by).for_each(|(c, b)| *c *= b));
    out
}

/// `aᵀ b`, by the blocked product: the crate's own for a transposed factor is dot by dot.
fn product(a: &DMatrix<f64>, b: &DMatrix<f64>) -> DMatrix<f64> {
    a.transpose() * b
}

impl Sums {
    fn empty() -> Sums {
        let (m, v) = (DMatrix::zeros(0, 0), DVector::zeros(0));
        Sums {
            weights: Vec::new(),
            shared: m.clone(),
            own_shared: m,
            own: v.clone(),
            shared_y: v.clone(),
            own_y: v,
            yy: 0.0,
            ln_weights: 0.0,
        }
    }
}

impl At {
    /// Of the inverse of the scaled matrix: groups by effects, and the diagonal of the groups.
    fn rest_of_inverse(&self, inverse: &DMatrix<f64>) -> (DMatrix<f64>, DVector<f64>) {
        let crossed = divided_rows(&(&self.cross * inverse), &-&self.own);
        let own = DVector::from_fn(self.own.len(), |g, _| (1.0 - crossed.row(g).dot(&self.cross.row(g))) / self.own[g]);
        (crossed, own)
    }

    /// Factors of `tᵀ K⁻¹ t` for the columns of `t = (shared, own)`: it is the sum of their squares.
    fn halves(&self, shared: &DMatrix<f64>, own: &DMatrix<f64>) -> (DMatrix<f64>, DMatrix<f64>) {
        let roots = self.own.map(f64::sqrt);
        let (scaled, cross) = (divided_rows(own, &roots), divided_rows(&self.cross, &roots));
        (self.factor.lower(&(shared - product(&cross, &scaled))), scaled)
    }
}

/// Passes over the weights.
const PASSES: usize = 4;

impl Scored for Effects {
    type At = At;

    fn at(&self, x: &DVector<f64>, weights: &[f64]) -> Option<At> {
        let sd = self.sds(x);
        let sigma2 = sd[0] * sd[0];
        let s = DVector::from_fn(self.shares.len(), |k, _| self.variance(k, &sd).sqrt());
        self.with_sums(weights, |sums| {
            let own = sums.own.map(|v| 1.0 + v / sigma2);
            let mut cross = sums.own_shared.clone();
            for (column, s) in columns_mut(&mut cross).zip(s.iter()) {
                column.iter_mut().for_each(|c| *c *= s / sigma2);
            }
            let scaled = divided_rows(&cross, &own.map(f64::sqrt));
            let mut c = -squared(&scaled);
            for (k, (c, w)) in columns_mut(&mut c).zip(columns(&sums.shared)).enumerate() {
                let by = s[k] / sigma2;
                c.iter_mut().zip(w).zip(s.as_slice()).for_each(|((c, w), s)| *c += w * (s * by));
                c[k] += 1.0;
            }
            let factor = Factor::new(&c)?;
            let r = sums.shared_y.component_mul(&s) / sigma2;
            let r_own = &sums.own_y / sigma2;
            let divided = r_own.component_div(&own);
            let v = factor.solve(&(&r - cross.tr_mul(&divided)));
            let v_own = &divided - (&cross * &v).component_div(&own);
            let quadratic = sums.yy / sigma2 - r.dot(&v) - r_own.dot(&v_own);
            let ln_det = weights.len() as f64 * sigma2.ln() - sums.ln_weights
                + own.iter().map(|d| d.ln()).sum::<f64>()
                + factor.ln_det;
            Some(At { sigma2, s, cross, own, factor, v, v_own, quadratic, ln_det })
        })
    }

    fn surprise(&self, at: &At) -> f64 {
        0.5 * (at.ln_det + at.quadratic)
    }

    /// With `K = I + S Uᵀ N⁻¹ U S`, `S² = g`, `N = σ²/w`: `S UᵀV⁻¹U S = I - K⁻¹` and `S UᵀV⁻¹y = K⁻¹ S UᵀN⁻¹y`, so every
    /// trace is a sum over entries of `K⁻¹` (own algebra; checked against [`super::Mixed`]).
    fn slope(&self, at: &At, x: &DVector<f64>, weights: &[f64]) -> (DVector<f64>, DMatrix<f64>) {
        let sd = self.sds(x);
        let q = at.s.len();
        let mut p = at.factor.inverse();
        let (crossed, _) = at.rest_of_inverse(&p);
        // K⁻¹ - I: only squares are wanted beside the diagonal.
        for k in 0..q {
            p[(k, k)] -= 1.0;
        }
        // Groups among themselves: only the sum of squares is wanted, of I - K⁻¹ there.
        let mut groups = crossed.clone() * at.cross.transpose();
        for (g, d) in at.own.iter().enumerate() {
            groups.column_mut(g).scale_mut(1.0 / d);
        }
        for (g, d) in at.own.iter().enumerate() {
            groups[(g, g)] += 1.0 - 1.0 / d;
        }
        let trace = groups.trace() - p.trace();
        let square = |c: &[f64]| c.iter().map(|v| v * v).sum::<f64>();
        let of_crossed = DVector::from_iterator(q, columns(&crossed).map(square));
        let column_squares = DVector::from_iterator(q, columns(&p).map(square)) + &of_crossed;
        let squares = column_squares.sum() + of_crossed.sum() + groups.norm_squared();
        let n = weights.len() as f64;
        let parts = self.parts.len();
        let e = DMatrix::from_fn(q, parts, |k, j| {
            let variance = at.s[k] * at.s[k];
            if variance > 0.0 { 2.0 * self.shares[k].of[j] * sd[j + 1] * sd[j + 1] / variance } else { 0.0 }
        });
        let own = -p.diagonal();
        let v2 = at.v.component_mul(&at.v);
        let own2 = at.v_own.norm_squared();
        let mut gradient = DVector::zeros(parts + 1);
        let mut information = DMatrix::zeros(parts + 1, parts + 1);
        gradient[0] = -(n - trace) + (at.quadratic - v2.sum() - own2);
        information[(0, 0)] = 2.0 * (n - 2.0 * trace + squares);
        p.iter_mut().for_each(|v| *v *= *v);
        let both = e.tr_mul(&(&p * &e));
        for j in 0..parts {
            let of = e.column(j);
            gradient[j + 1] = 0.5 * (0..q).map(|k| of[k] * (v2[k] - own[k])).sum::<f64>();
            let with = (0..q).map(|k| of[k] * (own[k] - column_squares[k])).sum::<f64>();
            information[(0, j + 1)] = with;
            information[(j + 1, 0)] = with;
            for l in 0..parts {
                information[(j + 1, l + 1)] = 0.5 * both[(j, l)];
            }
        }
        (gradient, information)
    }

    fn priors(&self) -> Vec<Prior> {
        std::iter::once(self.noise).chain(self.parts.iter().copied()).collect()
    }

    fn belongs(&self, at: &At, weights: &[f64]) -> Option<Vec<f64>> {
        let bad = self.bad?;
        let (diagonal, alpha) = self.leverage(at, weights);
        let one = |i: usize| {
            let own = 1.0 / diagonal[i].max(f64::MIN_POSITIVE);
            bad.belongs(alpha[i] * own, (own - at.sigma2 / weights[i]).max(0.0) + at.sigma2)
        };
        Some((0..self.y.len()).map(one).collect())
    }
}

#[cfg(test)]
mod tests;
