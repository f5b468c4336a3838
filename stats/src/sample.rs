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

    /// The numbers, smallest first.
    pub fn values(&self) -> &[f64] {
        &self.0
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

/// A difference of two means whose groups scatter each in its own way.
#[derive(Debug, Clone, Copy, PartialEq, serde::Serialize)]
pub struct Welch {
    /// Mean with minus mean without.
    pub value: f64,
    /// Lower end of the interval.
    pub lo: f64,
    /// Upper end.
    pub hi: f64,
    /// The difference over its standard error.
    pub t: f64,
    /// Degrees of freedom, a fraction in general.
    pub freedom: f64,
    /// The chance of a t as far from 0 on either side, where there is no difference.
    pub chance: f64,
}

/// The difference of means with a two-sided interval of `confidence` (0.95), the two scatters not taken to be equal:
/// `f = (v1 + v2)² / (v1²/(n1-1) + v2²/(n2-1))` with `v = s²/n` (B. L. Welch, Biometrika 34, 1947; NIST/SEMATECH e-Handbook of
/// Statistical Methods, section 7.3.1). No scatter below `resolution/sqrt(12)` (rounding alone) is believed: a clock that
/// reads in steps cannot show less.
/// `None` with fewer than two values on a side, or where nothing scatters and the resolution is 0.
pub fn welch(without: &Sample, with: &Sample, resolution: f64, confidence: f64) -> Option<Welch> {
    let (a, b) = (without.mean()?, with.mean()?);
    let own = |s: &Sample| {
        let freedom = s.n().checked_sub(1).filter(|f| *f > 0)? as f64;
        Some(((s.squares() / freedom).max(resolution * resolution / 12.0) / s.n() as f64, freedom))
    };
    let ((va, fa), (vb, fb)) = (own(without)?, own(with)?);
    let error = (va + vb).sqrt();
    if error == 0.0 {
        return None;
    }
    let freedom = (va + vb) * (va + vb) / (va * va / fa + vb * vb / fb);
    let value = b - a;
    let half = t_quantile(1.0 - (1.0 - confidence) / 2.0, freedom)? * error;
    let t = value / error;
    let chance = 2.0 * StudentsT::new(0.0, 1.0, freedom).ok()?.cdf(-t.abs());
    Some(Welch { value, lo: value - half, hi: value + half, t, freedom, chance })
}

/// Quantile of Student's t.
pub fn t_quantile(p: f64, freedom: f64) -> Option<f64> {
    StudentsT::new(0.0, 1.0, freedom).ok().map(|t| t.inverse_cdf(p))
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

    /// SciPy 1.17.1, `scipy.stats.t.ppf`.
    #[test]
    fn t_agrees_with_scipy() {
        for (p, freedom, t) in [
            (0.95, 2.0, 2.919_985_580_353_724_2),
            (0.95, 5.0, 2.015_048_373_333_023_3),
            (0.95, 17.776, 1.735_248_191_047_77),
            (0.95, 60.0, 1.670_648_864_904_636_3),
            (0.975, 2.0, 4.302_652_729_749_462),
            (0.975, 5.0, 2.570_581_835_636_314_6),
            (0.975, 17.776, 2.102_821_310_380_221),
            (0.975, 60.0, 2.000_297_822_014_260_4),
        ] {
            let got = t_quantile(p, freedom).unwrap();
            assert!((got / t - 1.0).abs() < 1e-12, "t({p}, {freedom}) = {got:.16}, SciPy {t:.16}");
        }
    }

    /// Student's sleep data (Biometrika 6, 1908; `sleep` in R): R's documentation has t = -1.8608, df = 17.776, p = 0.07939,
    /// interval -3.3654832 to 0.2054832 for the first drug less the second. All digits: SciPy 1.17.1, `ttest_ind`.
    #[test]
    fn student_s_sleep() {
        let first = Sample::new([0.7, -1.6, -0.2, -1.2, -0.1, 3.4, 3.7, 0.8, 0.0, 2.0]);
        let second = Sample::new([1.9, 0.8, 1.1, 0.1, -0.1, 4.4, 5.5, 1.6, 4.6, 3.4]);
        let w = welch(&first, &second, 0.1, 0.95).unwrap();
        for (got, want) in [
            (w.value, 1.58),
            (w.t, 1.860_813_467_486_852_6),
            (w.freedom, 17.776_473_516_178_488),
            (w.chance, 0.079_394_140_187_358_3),
            (w.lo, -0.205_483_230_711_710_37),
            (w.hi, 3.365_483_230_711_710_4),
        ] {
            assert!((got / want - 1.0).abs() < 1e-11, "{got:.16} {want:.16}");
        }
    }

    /// Equal counts and equal scatters are Student's own case, and turning the two about turns the interval about.
    #[test]
    fn welch_at_its_edges() {
        let (a, b) = (Sample::new([1.0, 2.0, 3.0]), Sample::new([5.0, 3.0, 4.0]));
        let w = welch(&a, &b, 0.001, 0.95).unwrap();
        // By hand, with pooled sd 1 on 4 degrees: 2 +- 2.776 sqrt(2/3).
        assert!((w.freedom - 4.0).abs() < 1e-12 && (w.hi - 2.0 - 2.7764 * (2.0_f64 / 3.0).sqrt()).abs() < 1e-3);
        let back = welch(&b, &a, 0.001, 0.95).unwrap();
        assert!((back.lo + w.hi).abs() < 1e-12 && back.chance == w.chance);
        assert_eq!(welch(&a, &Sample::new([1.0, f64::NAN]), 0.001, 0.95), None);
        let still = Sample::new([1.0; 3]);
        assert_eq!(welch(&still, &still, 0.0, 0.95), None);
        let floored = welch(&still, &still, 0.001, 0.95).unwrap();
        assert!(floored.hi > 0.0006 && floored.chance == 1.0, "{floored:?}");
    }

    #[test]
    fn degenerate_samples_stay_honest() {
        assert_eq!(Sample::new([f64::NAN, f64::INFINITY]).n(), 0);
        assert_eq!(Sample::default().middle(), None);
        assert_eq!(Sample::new([2.0, 1.0]).middle(), Some(1.5));
    }

    #[test]
    fn quantiles_of_type_7() {
        let v = [1.0, 2.0, 4.0, 8.0];
        assert_eq!((quantile(&v, 0.0), quantile(&v, 0.5), quantile(&v, 1.0)), (1.0, 3.0, 8.0));
        assert!((quantile(&v, 0.9) - 6.8).abs() < 1e-12);
        assert!(quantile(&[], 0.5).is_nan());
    }
}
