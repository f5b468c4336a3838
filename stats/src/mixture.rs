//! What a value still to come may be: mostly normal, now and then shifted.

use super::{normal_cdf, normal_density};
use std::f64::consts::SQRT_2;

/// A normal value, with a chance of a shift upward of exponential size on top.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Spread {
    /// Middle of the normal part.
    pub mean: f64,
    /// Its standard deviation.
    pub sd: f64,
    /// Chance of a shift, 0 to 1.
    pub share: f64,
    /// Mean size of a shift.
    pub shift: f64,
}

impl Spread {
    /// The chance that the value is below `x`.
    pub fn below(&self, x: f64) -> f64 {
        let z = (x - self.mean) / self.sd;
        let clean = normal_cdf(z);
        if self.share <= 0.0 {
            return clean;
        }
        // Exponentially modified Gaussian: F = Φ(z) - exp(s²/2m² - (x-µ)/m) Φ(z - s/m).
        let ratio = self.sd / self.shift;
        let u = z - ratio;
        let tail = if u < -6.0 {
            // The product in the tail, where the factors run out of range (A&S 7.1.23).
            normal_density(z, 1.0) * super::erfcx(-u / SQRT_2) * (std::f64::consts::PI / 2.0).sqrt()
        } else {
            (ratio * ratio / 2.0 - ratio * z).exp() * normal_cdf(u)
        };
        (1.0 - self.share) * clean + self.share * (clean - tail).max(0.0)
    }

    /// The value below which it falls with chance `p`.
    pub fn quantile(&self, p: f64) -> f64 {
        let (mut low, mut high) = (self.mean - 12.0 * self.sd, self.mean + 12.0 * self.sd + 40.0 * self.shift);
        for _ in 0..200 {
            let middle = (low + high) / 2.0;
            if self.below(middle) < p { low = middle } else { high = middle }
        }
        (low + high) / 2.0
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn without_a_shift_it_is_the_normal() {
        let s = Spread { mean: 10.0, sd: 2.0, share: 0.0, shift: 1.0 };
        assert!((s.below(12.0) - 0.841_344_746).abs() < 1e-8);
        assert!((s.quantile(0.975) - 13.919_927_97).abs() < 1e-6);
    }

    /// The distribution function is the sum of the density, and quantile its inverse.
    #[test]
    fn the_sum_of_its_density() {
        for (sd, share, shift) in [(0.03, 0.2, 0.25), (0.3, 1.0, 0.02), (0.02, 0.05, 3.0)] {
            let s = Spread { mean: 1.0, sd, share, shift };
            let (steps, from, to) = (40_000, 1.0 - 10.0 * sd, 1.0 + 2.0 * sd + shift);
            let h = (to - from) / f64::from(steps);
            let density = |x: f64| {
                let e = x - 1.0;
                (1.0 - share) * super::super::normal_density(e, sd * sd)
                    + share * super::super::ln_shifted_density(e, sd * sd, shift).exp()
            };
            let sum: f64 = (0..steps).map(|i| density(from + (f64::from(i) + 0.5) * h) * h).sum();
            assert!((s.below(to) - sum).abs() < 1e-6, "{} {sum}", s.below(to));
            for p in [0.025, 0.1, 0.5, 0.9, 0.975] {
                assert!((s.below(s.quantile(p)) - p).abs() < 1e-9);
            }
        }
    }
}
