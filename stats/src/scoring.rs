//! The most probable sizes of random parts: Fisher scoring on the logarithms of their standard deviations.

use super::Prior;
use nalgebra::{Cholesky, DMatrix, DVector};

/// A covariance at given sizes, with what one step of scoring needs of it.
pub(crate) trait Scored {
    /// The covariance, factored.
    type At;
    /// Factors it; `None` where it cannot be.
    fn at(&self, x: &DVector<f64>, weights: &[f64]) -> Option<Self::At>;
    /// Minus the logarithm of the likelihood, without constants.
    fn surprise(&self, at: &Self::At) -> f64;
    /// `-½ tr(V⁻¹M_j) + ½ yᵀV⁻¹M_jV⁻¹y` and `½ tr(V⁻¹M_jV⁻¹M_k)`, `M_j = ∂V/∂x_j`.
    fn slope(&self, at: &Self::At, x: &DVector<f64>, weights: &[f64]) -> (DVector<f64>, DMatrix<f64>);
    /// What is believed of each standard deviation.
    fn priors(&self) -> Vec<Prior>;
    /// The chance that each value belongs, from what the others say of it (leave one out); `None` where all are taken to.
    fn belongs(&self, at: &Self::At, weights: &[f64]) -> Option<Vec<f64>>;
}

/// What scoring ends with: the logarithms, how well they are known, and the covariance there.
type Scores<A> = (DVector<f64>, DMatrix<f64>, A);

/// A step shorter than this ends the iterations.
const SHORT: f64 = 1e-3;
/// The same while the weights are still to move: what they move takes more than what is left.
const ROUGH: f64 = 0.1;

/// The medians of the priors, as logarithms.
pub(crate) fn start(priors: &[Prior]) -> DVector<f64> {
    DVector::from_iterator(priors.len(), priors.iter().map(|p| p.median.ln()))
}

/// Fisher scoring: step `F⁻¹g` with `g_j - (x_j-m_j)/s_j²` and `F_jk + [j=k]/s_j²` (Searle, Casella and McCulloch, Variance
/// Components, 1992, chapter 8, with a prior added); its largest entry capped at 1, halved at most 6 times. With the inverse
/// of the information at the last step: how well the logarithms are known.
fn score<S: Scored>(model: &S, mut x: DVector<f64>, weights: &[f64], most: usize, short: f64) -> Option<Scores<S::At>> {
    let priors = model.priors();
    let beforehand =
        |x: &DVector<f64>| -> f64 { priors.iter().zip(x).map(|(p, v)| ((v - p.median.ln()) / p.log_sd).powi(2)).sum() };
    let mut known = DMatrix::zeros(x.len(), x.len());
    let mut at = model.at(&x, weights)?;
    let mut value = model.surprise(&at) + 0.5 * beforehand(&x);
    for _ in 0..most {
        let (mut gradient, mut information) = model.slope(&at, &x, weights);
        for (j, p) in priors.iter().enumerate() {
            gradient[j] -= (x[j] - p.median.ln()) / p.log_sd.powi(2);
            information[(j, j)] += p.log_sd.powi(-2);
        }
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
            if let Some(there) = model.at(&next, weights) {
                let v = model.surprise(&there) + 0.5 * beforehand(&next);
                if v < value + 1e-9 {
                    taken = Some((next, there, v));
                    break;
                }
            }
            step /= 2.0;
        }
        let Some((next, there, v)) = taken else { break };
        (x, at, value) = (next, there, v);
        if step.amax() < short {
            break;
        }
    }
    Some((x, known, at))
}

/// Iterations of the first fit, passes over the weights, iterations in a pass.
pub(crate) const FIRST: usize = 12;
const AGAIN: usize = 6;
/// A pass whose weights moved less is the last.
const SETTLED: f64 = 0.02;

/// The sizes, how well they are known, and the weights: a first fit, then passes in which values that do not belong lose
/// their weight. The sizes are those of the weights handed back.
pub(crate) fn passes<S: Scored>(
    model: &S,
    start: DVector<f64>,
    first: usize,
    most: usize,
    n: usize,
) -> Option<(Scores<S::At>, Vec<f64>)> {
    let mut weights = vec![1.0; n];
    let mut scored = score(model, start, &weights, first, ROUGH)?;
    for pass in 1..=most {
        let Some(new) = model.belongs(&scored.2, &weights) else { break };
        let moved = new.iter().zip(&weights).map(|(a, b)| (a - b).abs()).fold(0.0, f64::max);
        weights = new;
        if moved < SETTLED || pass == most {
            break;
        }
        scored = score(model, scored.0, &weights, AGAIN, ROUGH)?;
    }
    let scored = score(model, scored.0, &weights, first.max(AGAIN), SHORT)?;
    Some((scored, weights))
}
