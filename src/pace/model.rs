//! The linear model that exponents and expectations have in common.

use super::believed::Believed;
use super::row::{Row, day_kernel, drift_kernel, known, unread_kernel};
use crate::stats::{Bad, Fit, Mixed, Part};
use nalgebra::{DMatrix, DVector};

/// How rows are alike beside day, drift and what is of known width.
pub(super) struct Alike<'a> {
    /// Steps of the sheet in common.
    pub change: &'a dyn Fn(&Row, &Row) -> f64,
    /// What the exponent's prior width makes of a row's air, in the unit of the values.
    pub slope: &'a dyn Fn(&Row) -> f64,
    /// The exponent times the middle of the values: what air that is off by 1 in the logarithm would make.
    pub unread: f64,
}

/// What the air makes two rows alike by: the exponent's width, and air that was not read.
pub(super) fn of_air(alike: &Alike, a: &Row, c: &Row) -> f64 {
    (alike.slope)(a) * (alike.slope)(c) + alike.unread * alike.unread * unread_kernel(a, c)
}

/// A kernel of every two rows: alike is alike both ways, so half of it is looked up.
fn kernel(rows: &[&Row], of: &dyn Fn(&Row, &Row) -> f64) -> DMatrix<f64> {
    let mut out = DMatrix::zeros(rows.len(), rows.len());
    for j in 0..rows.len() {
        for i in j..rows.len() {
            let alike = of(rows[i], rows[j]);
            (out[(i, j)], out[(j, i)]) = (alike, alike);
        }
    }
    out
}

/// The model of values about 0, one to a row. `seasons`: a season has a level of its own.
pub(super) fn model(b: &Believed, rows: &[&Row], y: Vec<f64>, alike: &Alike, seasons: bool, bad: Option<Bad>) -> Mixed {
    Mixed {
        y: DVector::from_vec(y),
        known: kernel(rows, &|a, c| known(b, seasons, a, c) + of_air(alike, a, c)),
        noise: b.run,
        floor: b.floor,
        parts: vec![
            Part { kernel: kernel(rows, &day_kernel), prior: b.day },
            Part { kernel: kernel(rows, &drift_kernel), prior: b.drift },
            Part { kernel: kernel(rows, alike.change), prior: b.change },
        ],
        bad,
    }
}

/// The same with every part as large as believed beforehand: one covariance, and no fit of their sizes.
pub(super) fn as_believed(b: &Believed, rows: &[&Row], y: Vec<f64>, alike: &Alike, seasons: bool) -> Option<Fit> {
    let [day, drift, change] = [b.day, b.drift, b.change].map(|prior| prior.median.powi(2));
    let all = |a: &Row, c: &Row| {
        let known = known(b, seasons, a, c) + of_air(alike, a, c);
        known + day * day_kernel(a, c) + drift * drift_kernel(a, c) + change * (alike.change)(a, c)
    };
    let known = kernel(rows, &all);
    Mixed { y: DVector::from_vec(y), known, noise: b.run, floor: b.floor, parts: Vec::new(), bad: None }.as_believed()
}
