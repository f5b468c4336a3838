//! [`Mixed`] against restricted maximum likelihood of open sets: with priors that say nothing and coefficients that are free, the
//! most probable sds are those of restricted likelihood. The values are made by `data/reml.py` two ways (statsmodels 0.15.0, and
//! the formula itself minimised with SciPy 1.17.1); each set names its source in its file.

use nalgebra::{Cholesky, DMatrix, DVector};
use slipbook_stats::{Fit, Mixed, Part, Prior};

fn rows(text: &'static str) -> Vec<Vec<&'static str>> {
    text.lines().filter(|l| !l.starts_with('#')).skip(1).map(|l| l.split(',').collect()).collect()
}

fn numbers(rows: &[Vec<&str>], column: usize) -> Vec<f64> {
    rows.iter().map(|r| r[column].parse().unwrap()).collect()
}

fn same(rows: &[Vec<&str>], column: usize) -> DMatrix<f64> {
    DMatrix::from_fn(rows.len(), rows.len(), |i, j| f64::from(u8::from(rows[i][column] == rows[j][column])))
}

/// Values about a middle, with coefficients of these columns free (variance `free` each).
struct Set {
    y: DVector<f64>,
    columns: DMatrix<f64>,
    free: f64,
    kernels: Vec<DMatrix<f64>>,
}

impl Set {
    fn fit(&self, begin: f64) -> Fit {
        let says_nothing = Prior { median: begin, log_sd: 1e6 };
        let model = Mixed {
            y: self.y.clone(),
            known: &self.columns * self.columns.transpose() * self.free,
            noise: says_nothing,
            floor: 1e-9,
            parts: self.kernels.iter().map(|k| Part { kernel: k.clone(), prior: says_nothing }).collect(),
            bad: None,
        };
        let first = model.fit().unwrap();
        // A few more iterations from there: the last step may have been as long as one in a thousand.
        model.fit_from(&first.sd).unwrap()
    }

    /// A coefficient and its standard error.
    fn coefficient(&self, fit: &Fit, column: usize) -> (f64, f64) {
        let with = self.columns.column(column) * self.free;
        let (mean, variance) = fit.expect(&with, self.free);
        (mean, variance.sqrt())
    }

    /// -2 log restricted likelihood at these sds, by its formula.
    fn criterion(&self, sd: &[f64]) -> f64 {
        let (n, p) = self.columns.shape();
        let mut v = DMatrix::identity(n, n) * (sd[0] * sd[0]);
        for (k, sd) in self.kernels.iter().zip(&sd[1..]) {
            v += k * (sd * sd);
        }
        let chol = Cholesky::new(v).unwrap();
        let information = Cholesky::new(self.columns.tr_mul(&chol.solve(&self.columns))).unwrap();
        let b = information.solve(&self.columns.tr_mul(&chol.solve(&self.y)));
        let left = &self.y - &self.columns * b;
        let squares = left.dot(&chol.solve(&left));
        let log_det = |c: &Cholesky<f64, nalgebra::Dyn>| 2.0 * c.l().diagonal().map(f64::ln).sum();
        log_det(&chol) + log_det(&information) + squares + (n - p) as f64 * std::f64::consts::TAU.ln()
    }
}

fn near(what: &str, got: f64, want: f64, within: f64) {
    println!("{what}: {got:.9} for {want:.9}, {:.1e}", (got / want - 1.0).abs());
    assert!((got / want - 1.0).abs() < within, "{what}: {got:.9} for {want:.9}");
}

fn ones(n: usize) -> DMatrix<f64> {
    DMatrix::from_element(n, 1, 1.0)
}

fn line(x: &[f64]) -> DMatrix<f64> {
    DMatrix::from_fn(x.len(), 2, |i, j| if j == 0 { 1.0 } else { x[i] })
}

/// Pastes: tests within casks within batches, two random parts one within the other.
#[test]
fn pastes() {
    let rows = rows(include_str!("data/pastes.csv"));
    let y = DVector::from_vec(numbers(&rows, 0)).map(|v| v - 60.0);
    let set = Set { columns: ones(y.len()), y, free: 1e6, kernels: vec![same(&rows, 2), same(&rows, 1)] };
    let fit = set.fit(2.0);
    near("residual", fit.sd[0], 0.823_407_546, 1e-6);
    near("cask", fit.sd[1], 2.904_077_58, 1e-6);
    near("batch", fit.sd[2], 1.287_365_07, 1e-5);
    let (mean, error) = set.coefficient(&fit, 0);
    near("mean", mean + 60.0, 60.053_333_333, 1e-8);
    near("its error", error, 0.676_870_078, 1e-5);
    near("-2 log likelihood", set.criterion(&fit.sd), 246.990_746, 1e-8);
}

/// Sleepstudy: an intercept for each subject, a common slope.
#[test]
fn sleepstudy() {
    let rows = rows(include_str!("../../tests/reference/sleepstudy.csv"));
    let y = DVector::from_vec(numbers(&rows, 2)).map(|v| v - 250.0);
    let set = Set { y, columns: line(&numbers(&rows, 1)), free: 1e7, kernels: vec![same(&rows, 0)] };
    let fit = set.fit(30.0);
    near("residual", fit.sd[0], 30.991_233_9, 1e-5);
    near("subject", fit.sd[1], 37.123_827_7, 1e-5);
    let ((a, a_error), (b, b_error)) = (set.coefficient(&fit, 0), set.coefficient(&fit, 1));
    near("intercept", a + 250.0, 251.405_103, 1e-6);
    near("its error", a_error, 9.746_716_46, 1e-5);
    near("slope", b, 10.467_286_7, 1e-6);
    near("its error", b_error, 0.804_221_428, 1e-5);
    near("-2 log likelihood", set.criterion(&fit.sd), 1_786.465_08, 1e-8);
}

/// Dietox, all 861 rows: an intercept for each pig, a common slope.
#[test]
fn dietox() {
    let rows = rows(include_str!("data/dietox.csv"));
    let y = DVector::from_vec(numbers(&rows, 0));
    assert_eq!(y.len(), 861);
    let set = Set { y, columns: line(&numbers(&rows, 1)), free: 1e6, kernels: vec![same(&rows, 2)] };
    let fit = set.fit(5.0);
    near("residual", fit.sd[0], 3.371_486_12, 1e-6);
    near("pig", fit.sd[1], 6.355_623_73, 1e-5);
    let ((a, a_error), (b, b_error)) = (set.coefficient(&fit, 0), set.coefficient(&fit, 1));
    near("intercept", a, 15.723_523_1, 2e-6);
    near("its error", a_error, 0.788_053_741, 1e-5);
    near("slope", b, 6.942_505_01, 1e-6);
    near("its error", b_error, 0.033_387_274_4, 1e-5);
    near("-2 log likelihood", set.criterion(&fit.sd), 4_809.550_674, 1e-8);
}

/// Nile: a level that wanders from year to year, and scatter about it, the level of the first year free. Durbin and Koopman
/// have variances 15099 and 1469.1 (from memory). The exact diffuse likelihood of statsmodels, -633.464564, counts the first value
/// with half of log(2 pi) as well.
#[test]
fn nile() {
    let rows = rows(include_str!("data/nile.csv"));
    let y = DVector::from_vec(numbers(&rows, 1)).map(|v| v - 900.0);
    let n = y.len();
    let wander = DMatrix::from_fn(n, n, |i, j| i.min(j) as f64);
    let set = Set { y, columns: ones(n), free: 1e8, kernels: vec![wander] };
    let fit = set.fit(60.0);
    near("irregular", fit.sd[0].powi(2), 15_098.518, 1e-3);
    near("level", fit.sd[1].powi(2), 1_469.176, 2e-3);
    near("-2 log likelihood", set.criterion(&fit.sd), 1_265.091_250, 1e-7);
}
