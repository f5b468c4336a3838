//! One-way analysis of variance.

use super::Sample;
use statrs::distribution::{ContinuousCDF, FisherSnedecor};

/// One line of the table.
#[derive(Debug, Clone, Copy, PartialEq, serde::Serialize)]
pub struct Squares {
    /// Degrees of freedom.
    pub freedom: f64,
    /// Sum of squares.
    pub squares: f64,
}

impl Squares {
    /// Squares for each degree of freedom.
    pub fn mean(&self) -> f64 {
        self.squares / self.freedom
    }
}

/// How much of the scatter lies between groups, and how much within them.
#[derive(Debug, Clone, Copy, PartialEq, serde::Serialize)]
pub struct Anova {
    /// Between the means of the groups.
    pub between: Squares,
    /// About the mean of each group.
    pub within: Squares,
    /// Ratio of the two mean squares; `None` where nothing scatters within the groups.
    pub f: Option<f64>,
    /// The chance of such a ratio, or a greater one, where all groups have one mean and one normal scatter.
    pub chance: Option<f64>,
}

/// One-way analysis of variance (NIST/SEMATECH e-Handbook of Statistical Methods, section 7.4.3). Two passes: values are first
/// measured from their common mean, so leading digits that all share cost nothing (Simon and Lesage, 1989). Empty groups do
/// not count; `None` without two groups, or with one value in each.
pub fn anova(groups: &[Sample]) -> Option<Anova> {
    let groups: Vec<&Sample> = groups.iter().filter(|g| g.n() > 0).collect();
    let n: usize = groups.iter().map(|g| g.n()).sum();
    if groups.len() < 2 || n <= groups.len() {
        return None;
    }
    // Any value near them all will do; the difference of two near values is exact.
    let about = groups.iter().flat_map(|g| g.values()).map(|x| x / n as f64).sum::<f64>();
    let means: Vec<f64> = groups.iter().map(|g| sum(g.values().iter().map(|x| x - about)) / g.n() as f64).collect();
    let grand = sum(groups.iter().zip(&means).map(|(g, m)| g.n() as f64 * m)) / n as f64;
    let between = sum(groups.iter().zip(&means).map(|(g, m)| g.n() as f64 * (m - grand).powi(2)));
    let within =
        sum(groups.iter().zip(&means).flat_map(|(g, m)| g.values().iter().map(move |x| (x - about - m).powi(2))));
    let between = Squares { freedom: (groups.len() - 1) as f64, squares: between };
    let within = Squares { freedom: (n - groups.len()) as f64, squares: within };
    let f = (within.squares > 0.0).then(|| between.mean() / within.mean());
    let chance = f.and_then(|f| f_tail(f, between.freedom, within.freedom));
    Some(Anova { between, within, f, chance })
}

/// The chance of an F beyond `f`.
pub(crate) fn f_tail(f: f64, above: f64, below: f64) -> Option<f64> {
    FisherSnedecor::new(above, below).ok().map(|d| d.sf(f))
}

/// A sum that keeps what each addition rounds away (Neumaier, 1974).
fn sum(values: impl Iterator<Item = f64>) -> f64 {
    let (mut total, mut lost) = (0.0_f64, 0.0_f64);
    for v in values {
        let next = total + v;
        lost += if total.abs() >= v.abs() { (total - next) + v } else { (v - next) + total };
        total = next;
    }
    total + lost
}

#[cfg(test)]
mod tests {
    use super::*;

    /// By hand: 1, 2, 3 and 3, 4, 5: between 6 on 1, within 4 on 4, F = 6 = t² with t = 2.449, whose two tails are .0705.
    #[test]
    fn by_hand() {
        let table = anova(&[Sample::new([1.0, 2.0, 3.0]), Sample::default(), Sample::new([5.0, 3.0, 4.0])]).unwrap();
        assert_eq!(table.between, Squares { freedom: 1.0, squares: 6.0 });
        assert_eq!(table.within, Squares { freedom: 4.0, squares: 4.0 });
        assert_eq!(table.f, Some(6.0));
        // SciPy 1.17.1: scipy.stats.f.sf(6, 1, 4).
        assert!((table.chance.unwrap() - 0.070_483_996_910_219_93).abs() < 1e-12, "{:?}", table.chance);
    }

    #[test]
    fn degenerate_groups() {
        assert_eq!(anova(&[]), None);
        assert_eq!(anova(&[Sample::new([1.0, 2.0])]), None);
        assert_eq!(anova(&[Sample::new([1.0]), Sample::new([2.0])]), None);
        assert_eq!(anova(&[Sample::new([1.0, 2.0]), Sample::new([f64::NAN])]), None);
        let still = anova(&[Sample::new([1.0, 1.0]), Sample::new([2.0, 2.0])]).unwrap();
        assert_eq!((still.f, still.chance), (None, None));
        assert_eq!(still.between.squares, 1.0);
    }
}
