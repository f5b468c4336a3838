//! A linear model with random parts of unknown size: their standard deviations by the most probable value, with priors, and
//! values that do not belong told apart.

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

/// Iterations of the first fit, passes over the weights, iterations in a pass.
const FIRST: usize = 12;
const NEAR: usize = 3;
const PASSES: usize = 4;
const AGAIN: usize = 6;
/// A pass whose weights moved less is the last.
const SETTLED: f64 = 0.02;
/// A step shorter than this ends the iterations.
const SHORT: f64 = 1e-3;
/// No weight is smaller.
const LEAST_WEIGHT: f64 = 1e-4;

impl Mixed {
    /// The sds as believed beforehand, every value belonging: cheap, and enough to learn a slope from.
    pub fn as_believed(&self) -> Option<Fit> {
        let x = self.start();
        let weights = vec![1.0; self.y.len()];
        let chol = Cholesky::new(self.covariance(&x, &weights))?;
        let log_sd = self.priors().map(|p| p.log_sd).collect();
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
        let mut weights = vec![1.0; self.y.len()];
        let (mut x, mut known) = self.score(start, &weights, iterations)?;
        if let Some(bad) = self.bad {
            for _ in 0..PASSES {
                let new = self.belongs(&x, &weights, bad)?;
                let moved = new.iter().zip(&weights).map(|(a, b)| (a - b).abs()).fold(0.0, f64::max);
                weights = new;
                (x, known) = self.score(x, &weights, AGAIN)?;
                if moved < SETTLED {
                    break;
                }
            }
        }
        let chol = Cholesky::new(self.covariance(&x, &weights))?;
        let log_sd = known.diagonal().iter().map(|v| v.max(0.0).sqrt()).collect();
        Some(Fit { sd: self.sds(&x), log_sd, weights, alpha: chol.solve(&self.y), chol })
    }

    fn priors(&self) -> impl Iterator<Item = Prior> + '_ {
        std::iter::once(self.noise).chain(self.parts.iter().map(|p| p.prior))
    }

    fn start(&self) -> DVector<f64> {
        DVector::from_iterator(self.parts.len() + 1, self.priors().map(|p| p.median.ln()))
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

    /// Minus the logarithm of likelihood and prior, without constants.
    fn objective(&self, x: &DVector<f64>, chol: &Cholesky<f64, Dyn>) -> f64 {
        let l = chol.l_dirty();
        let half_log_det: f64 = (0..l.nrows()).map(|i| l[(i, i)].ln()).sum();
        let surprise: f64 = self.priors().zip(x).map(|(p, v)| ((v - p.median.ln()) / p.log_sd).powi(2)).sum();
        half_log_det + 0.5 * self.y.dot(&chol.solve(&self.y)) + 0.5 * surprise
    }

    /// Fisher scoring: `g_j = -½ tr(V⁻¹M_j) + ½ yᵀV⁻¹M_jV⁻¹y - (x_j-m_j)/s_j²`, `F_jk = ½ tr(V⁻¹M_jV⁻¹M_k) + [j=k]/s_j²`,
    /// `M_j = ∂V/∂x_j` (Searle, Casella and McCulloch, Variance Components, 1992, chapter 8, with a prior added).
    /// With the inverse of the information at the last step: how well the logarithms are known.
    fn score(&self, mut x: DVector<f64>, weights: &[f64], most: usize) -> Option<(DVector<f64>, DMatrix<f64>)> {
        let mut known = DMatrix::zeros(x.len(), x.len());
        let mut chol = Cholesky::new(self.covariance(&x, weights))?;
        let mut value = self.objective(&x, &chol);
        for _ in 0..most {
            let inverse = chol.inverse();
            let alpha = &inverse * &self.y;
            let sd = self.sds(&x);
            // At the floor σ does not move the covariance, and the prior alone would drive it; harmless, but no step.
            let noise = DVector::from_iterator(self.y.len(), weights.iter().map(|w| 2.0 * sd[0] * sd[0] / w));
            let mut products =
                vec![DMatrix::from_fn(inverse.nrows(), inverse.ncols(), |i, j| inverse[(i, j)] * noise[j])];
            let mut squares = vec![alpha.component_mul(&noise).dot(&alpha)];
            for (part, sd) in self.parts.iter().zip(&sd[1..]) {
                let scale = 2.0 * sd * sd;
                products.push(&inverse * &part.kernel * scale);
                squares.push((&part.kernel * &alpha).dot(&alpha) * scale);
            }
            let priors: Vec<Prior> = self.priors().collect();
            let gradient = DVector::from_fn(priors.len(), |j, _| {
                -0.5 * products[j].trace() + 0.5 * squares[j]
                    - (x[j] - priors[j].median.ln()) / priors[j].log_sd.powi(2)
            });
            let information = DMatrix::from_fn(priors.len(), priors.len(), |j, k| {
                let both = products[j].tr_dot(&products[k]);
                0.5 * both + if j == k { priors[j].log_sd.powi(-2) } else { 0.0 }
            });
            let information = Cholesky::new(information)?;
            known = information.inverse();
            let mut step = information.solve(&gradient);
            let longest = step.amax();
            if longest > 1.0 {
                step /= longest;
            }
            let mut taken = None;
            for _ in 0..7 {
                let next = &x + &step;
                if let Some(c) = Cholesky::new(self.covariance(&next, weights)) {
                    let v = self.objective(&next, &c);
                    if v < value + 1e-9 {
                        taken = Some((next, c, v));
                        break;
                    }
                }
                step /= 2.0;
            }
            let Some((next, c, v)) = taken else { break };
            (x, chol, value) = (next, c, v);
            if step.amax() < SHORT {
                break;
            }
        }
        Some((x, known))
    }

    /// The chance that each value belongs, from what the others say of it (leave one out).
    fn belongs(&self, x: &DVector<f64>, weights: &[f64], bad: Bad) -> Option<Vec<f64>> {
        let chol = Cholesky::new(self.covariance(x, weights))?;
        let inverse = chol.inverse();
        let alpha = &inverse * &self.y;
        let noise = self.sds(x)[0].powi(2);
        let one = |i: usize| {
            let own = 1.0 / inverse[(i, i)];
            let e = alpha[i] * own;
            let s2 = (own - noise / weights[i]).max(0.0) + noise;
            let clean = (1.0 - bad.share) * normal_density(e, s2);
            let shifted = (1.0 - bad.wide_share) * ln_shifted_density(e, s2, bad.shift).exp();
            let wide = bad.wide_share * normal_density(e, s2 + bad.wide_variance);
            let total = clean + bad.share * (shifted + wide);
            if total > 0.0 { (clean / total).clamp(LEAST_WEIGHT, 1.0) } else { LEAST_WEIGHT }
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
