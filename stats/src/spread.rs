//! Whether one of two groups scatters more than the other.

use super::anova::f_tail;
use super::{Sample, normal_quantile};

/// A side with fewer degrees of freedom (five values about one mean) gets no interval: kurtosis is not known from less, and
/// Bonett's correction was not made for it.
pub const LEAST_FREEDOM: f64 = 4.0;

/// Rounds in which an end of the interval settles: of 40,000 from five to eleven values a side, some of Cauchy's distribution, none
/// took more than 52.
const ROUNDS: usize = 200;

/// No more values are ever asked for.
const MOST_NEEDED: usize = 10_000;

/// What is left of values when the means of their groups are taken away. Invariant: at least two, all finite,
/// 1 <= freedom < how many.
#[derive(Debug, Clone, PartialEq)]
pub struct Residuals {
    /// Smallest first.
    values: Vec<f64>,
    freedom: f64,
}

impl Residuals {
    /// What is left, and the degrees of freedom behind it. `None` where there are fewer than two values, one is not finite, or
    /// the degrees of freedom are not from 1 to one less than the values.
    pub fn new(mut values: Vec<f64>, freedom: f64) -> Option<Residuals> {
        let possible = values.len() > 1 && (1.0..=(values.len() - 1) as f64).contains(&freedom);
        if !possible || !values.iter().all(|v| v.is_finite()) {
            return None;
        }
        values.sort_by(f64::total_cmp);
        Some(Residuals { values, freedom })
    }

    /// Of groups that each have a mean of their own; groups of one value say nothing of scatter and are left out.
    pub fn of_groups<'a>(groups: impl IntoIterator<Item = &'a Sample>) -> Option<Residuals> {
        let (mut values, mut freedom) = (Vec::new(), 0.0);
        for g in groups.into_iter().filter(|g| g.n() > 1) {
            let mean = g.mean()?;
            values.extend(g.values().iter().map(|x| x - mean));
            freedom += (g.n() - 1) as f64;
        }
        Residuals::new(values, freedom)
    }

    /// How many.
    pub fn n(&self) -> usize {
        self.values.len()
    }

    /// Degrees of freedom.
    pub fn freedom(&self) -> f64 {
        self.freedom
    }

    fn squares(&self) -> f64 {
        self.values.iter().map(|v| v * v).sum()
    }

    /// Standard deviation, in the values' unit; none below `resolution/sqrt(12)` is believed.
    pub fn sd(&self, resolution: f64) -> f64 {
        (self.squares() / self.freedom).sqrt().max(resolution / 12_f64.sqrt())
    }

    /// The count that one group with these degrees of freedom would have.
    fn as_one(&self) -> f64 {
        self.freedom + 1.0
    }

    fn middle(&self) -> f64 {
        let n = self.values.len();
        (self.values[n / 2] + self.values[(n - 1) / 2]) / 2.0
    }

    /// Mean without `share` of the values at each end.
    fn trimmed(&self, share: f64) -> f64 {
        let out = (self.values.len() as f64 * share).floor() as usize;
        match self.values.get(out..self.values.len() - out) {
            Some(kept) if !kept.is_empty() && share < 0.5 => kept.iter().sum::<f64>() / kept.len() as f64,
            _ => self.middle(),
        }
    }

    /// Sum of fourth powers from the trimmed mean, the share trimmed as Bonett has it; not below that of a normal scatter as small
    /// as the resolution allows.
    fn fourths(&self, resolution: f64) -> f64 {
        let about = self.trimmed(1.0 / (2.0 * (self.as_one() - 4.0).sqrt()));
        let seen: f64 = self.values.iter().map(|v| (v - about).powi(4)).sum();
        seen.max(3.0 * self.n() as f64 * (resolution * resolution / 12.0).powi(2))
    }
}

/// How much steadier or wilder one side is.
#[derive(Debug, Clone, Copy, PartialEq, serde::Serialize)]
pub struct Steadiness {
    /// Standard deviation with over standard deviation without: below 1 is steadier.
    pub ratio: f64,
    /// Lower end of its interval.
    pub lo: f64,
    /// Upper end.
    pub hi: f64,
    /// Heaviness of the tails of both sides together: 3 for the normal distribution, more for heavier ones.
    pub kurtosis: f64,
    /// Statistic of the test that both scatter alike.
    pub f: f64,
    /// The chance of such a statistic, or a greater one, where they do.
    pub chance: f64,
}

/// Compares the scatter of two sides without trusting either to be normal.
///
/// The interval is that of D. G. Bonett (Robust confidence interval for a ratio of standard deviations, Applied Psychological
/// Measurement 30, 2006), with the pooled kurtosis taken at each end as if that end were the true ratio, as in his R package
/// statpsych (`ci.ratio.sd2`): so it holds for any ratio, not only near 1. The test is that of M. B. Brown and A. B. Forsythe
/// (J. Am. Stat. Assoc. 69, 1974): distances from the median. Both are exactly theirs where a side is one group; where it is
/// several, `freedom + 1` stands for the count, and distances are stretched by what the means of small groups have taken.
///
/// No scatter below `resolution/sqrt(12)` is believed. `None` below [`LEAST_FREEDOM`] on a side, where nothing scatters and
/// the resolution is 0, or where the numbers are too large or small to be raised to the fourth power.
pub fn steadiness(without: &Residuals, with: &Residuals, resolution: f64, confidence: f64) -> Option<Steadiness> {
    let (n1, n2) = (with.as_one(), without.as_one());
    let (s1, s2) = (with.sd(resolution), without.sd(resolution));
    let z = normal_quantile(1.0 - (1.0 - confidence) / 2.0);
    let known = with.freedom.min(without.freedom) >= LEAST_FREEDOM && s1.min(s2) > 0.0 && z < n1.min(n2);
    if !known || !(s1 / s2).is_finite() {
        return None;
    }
    let (a1, a2) = (with.fourths(resolution), without.fourths(resolution));
    let kurtosis = |ratio: f64| {
        // Without, stretched so that it would scatter like the other were this the true ratio.
        let squares = with.freedom * s1 * s1 + ratio * ratio * without.freedom * s2 * s2;
        (with.n() + without.n()) as f64 * (a1 + ratio.powi(4) * a2) / (squares * squares)
    };
    let middle = 0.5 * ((n1 / (n1 - z)) / (n2 / (n2 - z))).ln() + (s1 / s2).ln();
    let end = |side: f64| {
        let mut ratio = 1.0;
        for _ in 0..ROUNDS {
            let heavy = Some(kurtosis(ratio)).filter(|k| k.is_finite())?;
            let next = (middle + side * z * log_error(heavy, n1, n2)).exp();
            let moved = (next / ratio - 1.0_f64).abs();
            ratio = next;
            if moved < 1e-12 {
                return Some(ratio);
            }
        }
        None
    };
    let (f, chance) = brown_forsythe(without, with, resolution)?;
    let ratio = s1 / s2;
    Some(Steadiness { ratio, lo: end(-1.0)?, hi: end(1.0)?, kurtosis: kurtosis(ratio), f, chance })
}

/// Standard error of the logarithm of a ratio of two standard deviations, from the kurtosis and the counts.
fn log_error(kurtosis: f64, n1: f64, n2: f64) -> f64 {
    let one = |n: f64| (kurtosis - (n - 3.0) / n) / (n - 1.0);
    0.5 * (one(n1) + one(n2)).max(0.0).sqrt()
}

/// The statistic of Brown and Forsythe for two sides, and the chance of more.
fn brown_forsythe(without: &Residuals, with: &Residuals, resolution: f64) -> Option<(f64, f64)> {
    let side = |r: &Residuals| {
        let stretch = ((r.n() - 1) as f64 / r.freedom).sqrt();
        let middle = r.middle();
        let far: Vec<f64> = r.values.iter().map(|v| (v - middle).abs() * stretch).collect();
        let mean = far.iter().sum::<f64>() / far.len() as f64;
        let squares = far.iter().map(|d| (d - mean).powi(2)).sum::<f64>() * r.as_one() / r.n() as f64;
        (mean, squares, r.as_one())
    };
    let ((m1, q1, n1), (m2, q2, n2)) = (side(without), side(with));
    let freedom = without.freedom + with.freedom;
    // A distance is known no better than it is read.
    let within = ((q1 + q2) / freedom).max(resolution * resolution / 12.0);
    let grand = (n1 * m1 + n2 * m2) / (n1 + n2);
    let between = n1 * (m1 - grand).powi(2) + n2 * (m2 - grand).powi(2);
    let f = if within > 0.0 { between / within } else { return None };
    Some((f, f_tail(f, 1.0, freedom)?))
}

/// The values a side needs (about one mean) so that the interval of [`steadiness`] leaves out 1 with this chance where the
/// true ratio is `ratio`: the smallest n with `z_confidence · se_1(n) + z_chance · se(n) <= |ln ratio|` for tails of this
/// kurtosis (3 = normal), never fewer than five. `se_1` is the error that the interval takes for a ratio of 1: both sides
/// together as one have heavier tails than either, `2 (1 + r⁴) / (1 + r²)²` times the kurtosis, of which a sample shows
/// `(n-1)/(n+1)` on the average (exact for one normal group; of heavy tails a small sample shows less, so for those it asks
/// too many rather than too few). `None` where that is more than ten thousand.
pub fn needed(ratio: f64, chance: f64, confidence: f64, kurtosis: f64) -> Option<usize> {
    let far = ratio.ln().abs();
    let inside = |p: f64| p > 0.0 && p < 1.0;
    if !(far.is_finite() && far > 0.0 && inside(chance) && inside(confidence) && kurtosis >= 1.0) {
        return None;
    }
    let square = (-2.0 * far).exp();
    let both = kurtosis * 2.0 * (1.0 + square * square) / ((1.0 + square) * (1.0 + square));
    let (sure, often) = (normal_quantile(1.0 - (1.0 - confidence) / 2.0), normal_quantile(chance));
    let enough = |n: usize| {
        let n = n as f64;
        sure * log_error(both * (n - 1.0) / (n + 1.0), n, n) + often * log_error(kurtosis, n, n) <= far
    };
    let least = LEAST_FREEDOM as usize + 1;
    (least..=MOST_NEEDED).find(|&n| enough(n))
}

#[cfg(test)]
mod tests;
