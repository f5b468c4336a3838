//! Least squares by orthogonal triangles.

use nalgebra::{DMatrix, DVector};
use std::fmt;

/// Why no coefficients can be found.
#[derive(Debug, Clone, PartialEq)]
pub enum Unfit {
    /// The rows of the columns are not as many as the values.
    Shape {
        /// Rows of the columns.
        rows: usize,
        /// Values.
        values: usize,
    },
    /// No column, or not one value more than there are columns: nothing is left to judge the scatter by.
    TooFew {
        /// Values.
        values: usize,
        /// Columns.
        columns: usize,
    },
    /// Something is not a finite number, or too large to be squared.
    NotFinite,
    /// This column (from 0) is nothing, or made up of the ones before it.
    Dependent {
        /// Which.
        column: usize,
    },
}

impl fmt::Display for Unfit {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Unfit::Shape { rows, values } => write!(f, "{rows} rows for {values} values"),
            Unfit::TooFew { values, columns } => write!(f, "{values} values are too few for {columns} columns"),
            Unfit::NotFinite => f.write_str("a value is not a finite number"),
            Unfit::Dependent { column } => write!(f, "column {} says nothing that is not said before it", column + 1),
        }
    }
}

impl std::error::Error for Unfit {}

/// A fit by least squares.
#[derive(Debug, Clone, PartialEq)]
pub struct Regression {
    /// A coefficient for each column.
    pub coefficients: Vec<f64>,
    /// The standard error of each.
    pub errors: Vec<f64>,
    /// Standard deviation of what is left.
    pub sd: f64,
    /// Share of the squares that is explained: about the mean where a column is constant, else about 0 (as in NIST's StRD).
    /// 1 where all values are the same and nothing is left.
    pub r_squared: f64,
    /// Degrees of freedom of what is left.
    pub freedom: f64,
    /// What is left of each value.
    pub residuals: Vec<f64>,
}

/// Fits `y = columns · coefficients` by least squares: Householder triangles of the columns, each scaled to a length from 1 to 2 (Golub and
/// Van Loan, Matrix Computations, section 5.3). The scaling is by powers of two and rounds nothing.
pub fn least_squares(columns: &DMatrix<f64>, y: &DVector<f64>) -> Result<Regression, Unfit> {
    let (n, p) = columns.shape();
    if n != y.len() {
        return Err(Unfit::Shape { rows: n, values: y.len() });
    }
    if p == 0 || n <= p {
        return Err(Unfit::TooFew { values: n, columns: p });
    }
    let lengths: Vec<f64> = columns.column_iter().map(|c| c.norm()).collect();
    if !lengths.iter().all(|l| l.is_finite()) || !y.norm_squared().is_finite() {
        return Err(Unfit::NotFinite);
    }
    if let Some(column) = lengths.iter().position(|l| *l == 0.0) {
        return Err(Unfit::Dependent { column });
    }
    let scales: Vec<f64> = lengths.iter().map(|l| l.log2().floor().exp2()).collect();
    let scaled = DMatrix::from_fn(n, p, |i, j| columns[(i, j)] / scales[j]);
    let qr = scaled.clone().qr();
    let r = qr.r();
    // A column whose distance from those before it is rounding has no direction of its own.
    let rounding = n as f64 * f64::EPSILON;
    if let Some(column) = (0..p).find(|&j| r[(j, j)].abs() <= rounding * lengths[j] / scales[j]) {
        return Err(Unfit::Dependent { column });
    }
    let solve = |rest: &DVector<f64>| {
        let mut turned = rest.clone();
        qr.q_tr_mul(&mut turned);
        r.solve_upper_triangular(&turned.rows(0, p).into_owned()).ok_or(Unfit::NotFinite)
    };
    let b = solve(y)?;
    let residuals = y - &scaled * &b;
    let inverse = r.solve_upper_triangular(&DMatrix::identity(p, p)).ok_or(Unfit::NotFinite)?;
    let freedom = (n - p) as f64;
    let left = residuals.norm_squared();
    let sd = (left / freedom).sqrt();
    let constant = columns.column_iter().any(|c| c.iter().all(|v| *v == c[0]));
    let middle = if constant { y.mean() } else { 0.0 };
    let total: f64 = y.iter().map(|v| (v - middle) * (v - middle)).sum();
    Ok(Regression {
        coefficients: (0..p).map(|j| b[j] / scales[j]).collect(),
        errors: (0..p).map(|j| sd * inverse.row(j).norm() / scales[j]).collect(),
        sd,
        r_squared: if total > 0.0 { 1.0 - left / total } else { 1.0 },
        freedom,
        residuals: residuals.as_slice().to_vec(),
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn fit(rows: &[[f64; 2]], y: &[f64]) -> Result<Regression, Unfit> {
        least_squares(&DMatrix::from_fn(rows.len(), 2, |i, j| rows[i][j]), &DVector::from_row_slice(y))
    }

    /// By hand: 1, 2, 2 at 0, 1, 2: slope ½, mean 5/3, left 1/6 on one degree.
    #[test]
    fn a_line_by_hand() {
        let line = fit(&[[1.0, 0.0], [1.0, 1.0], [1.0, 2.0]], &[1.0, 2.0, 2.0]).unwrap();
        let near = |a: f64, b: f64| assert!((a - b).abs() < 1e-14, "{a} {b}");
        near(line.coefficients[0], 7.0 / 6.0);
        near(line.coefficients[1], 0.5);
        near(line.sd, (1.0_f64 / 6.0).sqrt());
        near(line.errors[1], (1.0_f64 / 12.0).sqrt());
        near(line.r_squared, 0.75);
        near(line.residuals[1], 1.0 / 3.0);
        assert_eq!(line.freedom, 1.0);
    }

    #[test]
    fn what_cannot_be_fitted_is_an_error() {
        let x = [[1.0, 2.0], [1.0, 3.0], [1.0, 4.0]];
        let bad = |c: Result<Regression, Unfit>| c.unwrap_err();
        assert_eq!(bad(fit(&x, &[1.0, 2.0])), Unfit::Shape { rows: 3, values: 2 });
        assert_eq!(bad(fit(&x[..2], &[1.0, 2.0])), Unfit::TooFew { values: 2, columns: 2 });
        assert_eq!(bad(fit(&[], &[])), Unfit::TooFew { values: 0, columns: 2 });
        assert_eq!(bad(fit(&x, &[1.0, 2.0, f64::NAN])), Unfit::NotFinite);
        assert_eq!(bad(fit(&[[f64::INFINITY, 1.0]; 3], &[1.0; 3])), Unfit::NotFinite);
        assert_eq!(bad(fit(&[[1e200, 1.0]; 3], &[1.0; 3])), Unfit::NotFinite);
        assert_eq!(bad(fit(&[[1.0, 0.0]; 3], &[1.0; 3])), Unfit::Dependent { column: 1 });
        assert_eq!(bad(fit(&[[0.1, 0.3]; 4], &[1.0; 4])), Unfit::Dependent { column: 1 });
        let third = DMatrix::from_fn(6, 3, |i, j| [1.0, 0.1 * i as f64, 3.3 - 0.7 * 0.1 * i as f64][j]);
        let no = least_squares(&third, &DVector::from_element(6, 1.0)).unwrap_err();
        assert_eq!(no, Unfit::Dependent { column: 2 });
        assert!(no.to_string().starts_with("column 3"));
    }

    /// Values far from 1 in size change nothing but the size of the answer.
    #[test]
    fn size_does_not_matter() {
        let small = fit(&[[1.0, 1e-9], [1.0, 2e-9], [1.0, 4e-9]], &[1.0, 3.0, 4.0]).unwrap();
        let large = fit(&[[1.0, 1e9], [1.0, 2e9], [1.0, 4e9]], &[1.0, 3.0, 4.0]).unwrap();
        assert!((small.coefficients[1] / large.coefficients[1] / 1e18 - 1.0).abs() < 1e-12);
        let same = fit(&[[1.0, 1.0], [1.0, 2.0], [1.0, 4.0]], &[5.0; 3]).unwrap();
        assert!((same.r_squared - 1.0).abs() < 1e-12 && same.sd < 1e-14);
    }
}
