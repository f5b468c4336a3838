//! A linear model with random parts of unknown size: their standard deviations by the most probable value, with priors, and
//! values that do not belong told apart.

use super::scoring::{FIRST, Scored, passes, start};
use super::{ln_shifted_density, normal_density};
use nalgebra::{Cholesky, DMatrix, DVector, Dyn};

/// What is believed of a standard deviation beforehand: lognormal.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Prior {
    /// Its median, in the unit of the values.
    pub median: f64,
    /// Standard deviation of its logarithm.
    pub log_sd: f64,
}

/// A random part: covariance `sd² · kernel` with an unknown sd.
#[derive(Debug, Clone)]
pub struct Part {
    /// n × n, symmetric, not negative.
    pub kernel: DMatrix<f64>,
    /// What is believed of its sd.
    pub prior: Prior,
}

/// Values that do not belong: shifted upward, or anywhere.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Bad {
    /// Share of them.
    pub share: f64,
    /// Mean of their shift.
    pub shift: f64,
    /// Of them, the share that may lie anywhere.
    pub wide_share: f64,
    /// The variance of those beyond the others'.
    pub wide_variance: f64,
}

impl Bad {
    /// The chance that a value belongs which lies `e` from what the others say of it, with variance `s2` if it does. Not
    /// below 1e-4.
    pub(crate) fn belongs(&self, e: f64, s2: f64) -> f64 {
        let clean = (1.0 - self.share) * normal_density(e, s2);
        let shifted = (1.0 - self.wide_share) * ln_shifted_density(e, s2, self.shift).exp();
        let wide = self.wide_share * normal_density(e, s2 + self.wide_variance);
        let total = clean + self.share * (shifted + wide);
        if total > 0.0 { (clean / total).clamp(LEAST_WEIGHT, 1.0) } else { LEAST_WEIGHT }
    }
}

/// The model: `y ~ N(0, σ² diag(1/w) + Σ sd_j² K_j + known)`.
#[derive(Debug, Clone)]
pub struct Mixed {
    /// n values about 0.
    pub y: DVector<f64>,
    /// n × n covariance of known size: what has a prior of fixed width.
    pub known: DMatrix<f64>,
    /// σ, the scatter of one value.
    pub noise: Prior,
    /// σ is never believed below this.
    pub floor: f64,
    /// Random parts.
    pub parts: Vec<Part>,
    /// Values that do not belong; `None` = all belong.
    pub bad: Option<Bad>,
}

/// The fitted model.
#[derive(Debug, Clone)]
pub struct Fit {
    /// σ, then the sd of each part.
    pub sd: Vec<f64>,
    /// How well the logarithm of each is known: standard deviations (of the prior, where nothing was fitted).
    pub log_sd: Vec<f64>,
    /// Chance that each value belongs, 1e-4 to 1.
    pub weights: Vec<f64>,
    /// `V⁻¹ y`.
    pub alpha: DVector<f64>,
    chol: Cholesky<f64, Dyn>,
}

/// A covariance at given sizes, and its scatter.
pub struct At {
    chol: Cholesky<f64, Dyn>,
    noise: f64,
}

/// Iterations of a fit begun near its end, and passes over the weights.
const NEAR: usize = 3;
const PASSES: usize = 4;
/// No weight is smaller.
pub(crate) const LEAST_WEIGHT: f64 = 1e-4;

impl Mixed {
    /// The sds as believed beforehand, every value belonging: cheap, and enough to learn a slope from.
    pub fn as_believed(&self) -> Option<Fit> {
        let x = self.start();
        let weights = vec![1.0; self.y.len()];
        let chol = Cholesky::new(self.covariance(&x, &weights))?;
        let log_sd = self.priors().iter().map(|p| p.log_sd).collect();
        Some(Fit { sd: self.sds(&x), log_sd, weights, alpha: chol.solve(&self.y), chol })
    }

    /// The most probable sds: Fisher scoring on their logarithms, then passes in which values that do not belong lose their
    /// weight. `None` only where the covariance cannot be factored (values or kernels that are not finite).
    pub fn fit(&self) -> Option<Fit> {
        self.go(self.start(), FIRST)
    }

    /// The same, begun at the sds of an earlier fit of nearly the same values: a few iterations are enough.
    pub fn fit_from(&self, sd: &[f64]) -> Option<Fit> {
        if sd.len() != self.parts.len() + 1 {
            return self.fit();
        }
        self.go(DVector::from_iterator(sd.len(), sd.iter().map(|s| s.ln())), NEAR)
    }

    fn go(&self, start: DVector<f64>, iterations: usize) -> Option<Fit> {
        let ((x, known, At { chol, .. }), weights) = passes(self, start, iterations, PASSES, self.y.len())?;
        let log_sd = known.diagonal().iter().map(|v| v.max(0.0).sqrt()).collect();
        Some(Fit { sd: self.sds(&x), log_sd, weights, alpha: chol.solve(&self.y), chol })
    }

    fn start(&self) -> DVector<f64> {
        start(&self.priors())
    }

    fn sds(&self, x: &DVector<f64>) -> Vec<f64> {
        x.iter().enumerate().map(|(j, v)| if j == 0 { v.exp().max(self.floor) } else { v.exp() }).collect()
    }

    fn covariance(&self, x: &DVector<f64>, weights: &[f64]) -> DMatrix<f64> {
        let sd = self.sds(x);
        let mut v = self.known.clone();
        for (part, sd) in self.parts.iter().zip(&sd[1..]) {
            v.zip_apply(&part.kernel, |a, k| *a += sd * sd * k);
        }
        for (i, w) in weights.iter().enumerate() {
            v[(i, i)] += sd[0] * sd[0] / w;
        }
        v
    }
}

impl Scored for Mixed {
    type At = At;

    fn at(&self, x: &DVector<f64>, weights: &[f64]) -> Option<At> {
        Some(At { chol: Cholesky::new(self.covariance(x, weights))?, noise: self.sds(x)[0].powi(2) })
    }

    fn surprise(&self, At { chol, .. }: &At) -> f64 {
        let l = chol.l_dirty();
        let half_log_det: f64 = (0..l.nrows()).map(|i| l[(i, i)].ln()).sum();
        half_log_det + 0.5 * self.y.dot(&chol.solve(&self.y))
    }

    fn slope(&self, At { chol, .. }: &At, x: &DVector<f64>, weights: &[f64]) -> (DVector<f64>, DMatrix<f64>) {
        let inverse = chol.inverse();
        let alpha = &inverse * &self.y;
        let sd = self.sds(x);
        // At the floor σ does not move the covariance, and the prior alone would drive it; harmless, but no step.
        let noise = DVector::from_iterator(self.y.len(), weights.iter().map(|w| 2.0 * sd[0] * sd[0] / w));
        let mut products = vec![DMatrix::from_fn(inverse.nrows(), inverse.ncols(), |i, j| inverse[(i, j)] * noise[j])];
        let mut squares = vec![alpha.component_mul(&noise).dot(&alpha)];
        for (part, sd) in self.parts.iter().zip(&sd[1..]) {
            let scale = 2.0 * sd * sd;
            products.push(&inverse * &part.kernel * scale);
            squares.push((&part.kernel * &alpha).dot(&alpha) * scale);
        }
        let count = products.len();
        let gradient = DVector::from_fn(count, |j, _| -0.5 * products[j].trace() + 0.5 * squares[j]);
        let information = DMatrix::from_fn(count, count, |j, k| 0.5 * products[j].tr_dot(&products[k]));
        (gradient, information)
    }

    fn priors(&self) -> Vec<Prior> {
        std::iter::once(self.noise).chain(self.parts.iter().map(|p| p.prior)).collect()
    }

    fn belongs(&self, at: &At, weights: &[f64]) -> Option<Vec<f64>> {
        let bad = self.bad?;
        let inverse = at.chol.inverse();
        let alpha = &inverse * &self.y;
        let one = |i: usize| {
            let own = 1.0 / inverse[(i, i)];
            bad.belongs(alpha[i] * own, (own - at.noise / weights[i]).max(0.0) + at.noise)
        };
        Some((0..self.y.len()).map(one).collect())
    }
}

impl Fit {
    /// Mean and variance of a new value's part that is no scatter: `with` = its covariance with each value, `own` = its own
    /// variance before anything was seen.
    pub fn expect(&self, with: &DVector<f64>, own: f64) -> (f64, f64) {
        let solved = self.chol.solve(with);
        (with.dot(&self.alpha), (own - with.dot(&solved)).max(0.0))
    }
}

#[cfg(test)]
mod tests;
