//! The linear model that exponents and expectations have in common.

use super::believed::Believed;
use super::row::{Row, day_kernel, drift_kernel, known, unread_kernel};
use crate::stats::{Bad, Mixed, Part};
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

/// The model of values about 0, one to a row. `seasons`: a season has a level of its own.
pub(super) fn model(b: &Believed, rows: &[&Row], y: Vec<f64>, alike: &Alike, seasons: bool, bad: Option<Bad>) -> Mixed {
    let n = rows.len();
    // Alike is alike both ways: half of it is looked up.
    let kernel = |f: &dyn Fn(&Row, &Row) -> f64| {
        let mut out = DMatrix::zeros(n, n);
        for j in 0..n {
            for i in j..n {
                let alike = f(rows[i], rows[j]);
                (out[(i, j)], out[(j, i)]) = (alike, alike);
            }
        }
        out
    };
    Mixed {
        y: DVector::from_vec(y),
        known: kernel(&|a, c| known(b, seasons, a, c) + of_air(alike, a, c)),
        noise: b.run,
        floor: b.floor,
        parts: vec![
            Part { kernel: kernel(&day_kernel), prior: b.day },
            Part { kernel: kernel(&drift_kernel), prior: b.drift },
            Part { kernel: kernel(alike.change), prior: b.change },
        ],
        bad,
    }
}
