//! Samples and estimates: plain before/after arithmetic.

use statrs::distribution::{ContinuousCDF, StudentsT};

/// Finite numbers, sorted. Invariant: every value is finite; may be empty.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Sample(Vec<f64>);

impl Sample {
    /// The finite ones of some numbers.
    pub fn new(values: impl IntoIterator<Item = f64>) -> Sample {
        let mut v: Vec<f64> = values.into_iter().filter(|x| x.is_finite()).collect();
        v.sort_by(f64::total_cmp);
        Sample(v)
    }

    /// How many.
    pub fn n(&self) -> usize {
        self.0.len()
    }

    /// The least.
    pub fn least(&self) -> Option<f64> {
        self.0.first().copied()
    }

    /// The greatest.
    pub fn greatest(&self) -> Option<f64> {
        self.0.last().copied()
    }

    /// The median.
    pub fn middle(&self) -> Option<f64> {
        let n = self.0.len();
        match n {
            0 => None,
            n if n % 2 == 1 => Some(self.0[n / 2]),
            n => Some((self.0[n / 2 - 1] + self.0[n / 2]) / 2.0),
        }
    }

    /// The mean.
    pub fn mean(&self) -> Option<f64> {
        (!self.0.is_empty()).then(|| self.0.iter().sum::<f64>() / self.0.len() as f64)
    }

    /// Sum of squared distances from the mean.
    pub fn squares(&self) -> f64 {
        self.mean().map_or(0.0, |m| self.0.iter().map(|x| (x - m) * (x - m)).sum())
    }
}

/// Scatter pooled over groups that each have a mean of their own.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Scatter {
    /// Standard deviation of one value about its group's mean.
    pub sd: f64,
    /// Degrees of freedom behind it.
    pub freedom: f64,
}

impl Scatter {
    /// Pools groups; `None` without two values in any group. A spread below `resolution/sqrt(12)` (rounding alone) is
    /// never believed: a clock that reads in steps cannot show less.
    pub fn pooled<'a>(groups: impl IntoIterator<Item = &'a Sample>, resolution: f64) -> Option<Scatter> {
        let (mut squares, mut freedom) = (0.0, 0.0);
        for g in groups.into_iter().filter(|g| g.n() > 1) {
            squares += g.squares();
            freedom += (g.n() - 1) as f64;
        }
        (freedom > 0.0).then(|| Scatter { sd: (squares / freedom).sqrt().max(resolution / 12_f64.sqrt()), freedom })
    }
}

/// A difference of two means with its interval.
#[derive(Debug, Clone, Copy, PartialEq, serde::Serialize)]
pub struct Difference {
    /// Mean with minus mean without.
    pub value: f64,
    /// Lower end of the interval.
    pub lo: f64,
    /// Upper end.
    pub hi: f64,
    /// Values without.
    pub n_without: usize,
    /// Values with.
    pub n_with: usize,
}

/// The difference of means with a two-sided interval of `confidence` (0.95) from the pooled scatter:
/// `d ± t(f) · s · sqrt(1/n1 + 1/n2)` (NIST/SEMATECH e-Handbook of Statistical Methods, section 7.3.1, equal standard
/// deviations, with the scatter pooled over all groups).
pub fn difference(without: &Sample, with: &Sample, scatter: Scatter, confidence: f64) -> Option<Difference> {
    let (a, b) = (without.mean()?, with.mean()?);
    let half = t_quantile(1.0 - (1.0 - confidence) / 2.0, scatter.freedom)?
        * scatter.sd
        * (1.0 / without.n() as f64 + 1.0 / with.n() as f64).sqrt();
    let value = b - a;
    Some(Difference { value, lo: value - half, hi: value + half, n_without: without.n(), n_with: with.n() })
}

/// Quantile of Student's t.
pub fn t_quantile(p: f64, freedom: f64) -> Option<f64> {
    StudentsT::new(0.0, 1.0, freedom).ok().map(|t| t.inverse_cdf(p))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// NIST/SEMATECH e-Handbook of Statistical Methods, 1.3.6.7.2, critical values of Student's t.
    #[test]
    fn t_agrees_with_the_nist_table() {
        for (freedom, p, t) in [
            (1.0, 0.975, 12.706),
            (5.0, 0.975, 2.571),
            (10.0, 0.95, 1.812),
            (30.0, 0.975, 2.042),
            (100.0, 0.995, 2.626),
        ] {
            let got = t_quantile(p, freedom).unwrap();
            assert!((got - t).abs() < 6e-4, "t({p}, {freedom}) = {got}, table {t}");
        }
    }

    /// By hand: 1,2,3 against 3,4,5 with pooled sd 1 on 4 degrees: 2 ± 2.776·sqrt(2/3).
    #[test]
    fn a_difference_by_hand() {
        let (a, b) = (Sample::new([1.0, 2.0, 3.0]), Sample::new([5.0, 3.0, 4.0]));
        let s = Scatter::pooled([&a, &b], 0.001).unwrap();
        assert_eq!((s.sd, s.freedom), (1.0, 4.0));
        let d = difference(&a, &b, s, 0.95).unwrap();
        assert!((d.value - 2.0).abs() < 1e-12 && (d.hi - 2.0 - 2.7764 * (2.0_f64 / 3.0).sqrt()).abs() < 1e-3);
    }

    #[test]
    fn degenerate_samples_stay_honest() {
        assert_eq!(Sample::new([f64::NAN, f64::INFINITY]).n(), 0);
        assert_eq!(Sample::default().middle(), None);
        assert_eq!(Sample::new([2.0, 1.0]).middle(), Some(1.5));
        let same = Sample::new([1.0; 4]);
        assert!(Scatter::pooled([&same], 0.001).unwrap().sd > 0.0002);
        assert_eq!(Scatter::pooled([&Sample::new([1.0])], 0.001), None);
    }
}
