//! The Cholesky factor of a matrix with its inverse, by halves: most of the work is in products of large blocks, which the
//! linear algebra underneath does several times quicker than column by column.

use nalgebra::{Cholesky, DMatrix, DVector};

/// Blocks no larger than this are done column by column.
const SMALL: usize = 32;

/// `m = L Lᵀ`.
pub(crate) struct Factor {
    /// L⁻¹, lower.
    half: DMatrix<f64>,
    /// ln det m.
    pub ln_det: f64,
}

impl Factor {
    /// Of a symmetric matrix, of which the lower half is read; `None` where it is not positive definite.
    pub fn new(m: &DMatrix<f64>) -> Option<Factor> {
        let (half, ln_det) = halved(m)?;
        Some(Factor { half, ln_det })
    }

    /// `L⁻¹ b`.
    pub fn lower(&self, b: &DMatrix<f64>) -> DMatrix<f64> {
        &self.half * b
    }

    /// `m⁻¹ b`.
    pub fn solve(&self, b: &DVector<f64>) -> DVector<f64> {
        self.half.tr_mul(&(&self.half * b))
    }

    /// m⁻¹.
    pub fn inverse(&self) -> DMatrix<f64> {
        let n = self.half.nrows();
        let transposed = self.half.transpose();
        let mut out = DMatrix::zeros(n, n);
        square(&mut out, (&transposed, &self.half), (0, n), true);
        mirror(&mut out);
        out
    }
}

/// The inverse of a symmetric matrix; `None` where it is not positive definite.
pub fn inverse(m: &DMatrix<f64>) -> Option<DMatrix<f64>> {
    Factor::new(m).map(|f| f.inverse())
}

/// `aᵀ a`, of which only the lower half is multiplied out.
pub(crate) fn squared(a: &DMatrix<f64>) -> DMatrix<f64> {
    let n = a.ncols();
    let transposed = a.transpose();
    let mut out = DMatrix::zeros(n, n);
    square(&mut out, (&transposed, a), (0, n), false);
    mirror(&mut out);
    out
}

/// The lower half of `aᵀ a` for the columns from..to, by halves. Where `a` is lower triangular its rows begin with the column.
fn square(out: &mut DMatrix<f64>, (t, a): (&DMatrix<f64>, &DMatrix<f64>), (from, to): (usize, usize), lower: bool) {
    let begin = |column: usize| if lower { column } else { 0 };
    let mut block = |rows: (usize, usize), columns: (usize, usize)| {
        let (at, deep) = (begin(rows.0.max(columns.0)), a.nrows());
        let left = t.view((rows.0, at), (rows.1 - rows.0, deep - at));
        let right = a.view((at, columns.0), (deep - at, columns.1 - columns.0));
        out.view_mut((rows.0, columns.0), (rows.1 - rows.0, columns.1 - columns.0)).gemm(1.0, &left, &right, 0.0);
    };
    if to - from <= 2 * SMALL {
        block((from, to), (from, to));
        return;
    }
    let middle = from + (to - from) / 2;
    block((middle, to), (from, middle));
    square(out, (t, a), (from, middle), lower);
    square(out, (t, a), (middle, to), lower);
}

fn mirror(m: &mut DMatrix<f64>) {
    for k in 0..m.ncols() {
        for i in 0..k {
            m[(i, k)] = m[(k, i)];
        }
    }
}

/// L⁻¹ and ln det.
fn halved(m: &DMatrix<f64>) -> Option<(DMatrix<f64>, f64)> {
    let n = m.nrows();
    if n <= SMALL {
        let l = Cholesky::new(m.clone())?.unpack();
        let ln_det = l.diagonal().iter().map(|d| 2.0 * d.ln()).sum();
        let mut half = DMatrix::identity(n, n);
        l.solve_lower_triangular_mut(&mut half).then_some(())?;
        return Some((half, ln_det));
    }
    let h = n / 2;
    let (first, first_ln) = halved(&m.view((0, 0), (h, h)).into_owned())?;
    // L₂₁ = A₂₁ L₁₁⁻ᵀ, and what is left for L₂₂ is A₂₂ - L₂₁ L₂₁ᵀ.
    let below = m.view((h, 0), (n - h, h)) * first.transpose();
    let rest = m.view((h, h), (n - h, n - h)) - &below * below.transpose();
    let (second, second_ln) = halved(&rest)?;
    let mut half = DMatrix::zeros(n, n);
    half.view_mut((h, 0), (n - h, h)).copy_from(&-(&second * (below * &first)));
    half.view_mut((0, 0), (h, h)).copy_from(&first);
    half.view_mut((h, h), (n - h, n - h)).copy_from(&second);
    Some((half, first_ln + second_ln))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::Random;

    #[test]
    fn as_column_by_column() {
        let mut random = Random::new(11);
        for n in [1, 5, 32, 33, 71, 130] {
            let x = DMatrix::from_fn(n + 3, n, |_, _| random.normal());
            let m = x.tr_mul(&x) + DMatrix::identity(n, n);
            let b = DVector::from_fn(n, |_, _| random.normal());
            let (ours, known) = (Factor::new(&m).unwrap(), Cholesky::new(m.clone()).unwrap());
            assert!((ours.inverse() - known.inverse()).amax() < 1e-12);
            assert!((ours.solve(&b) - known.solve(&b)).amax() < 1e-12);
            assert!((ours.ln_det - known.ln_determinant()).abs() < 1e-10);
            assert!((squared(&x) - x.tr_mul(&x)).amax() < 1e-12);
            let lower = ours.lower(&DMatrix::from_column_slice(n, 1, b.as_slice()));
            assert!((lower.norm_squared() - b.dot(&known.solve(&b))).abs() < 1e-10);
        }
    }

    #[test]
    fn not_positive_definite_is_no_factor() {
        let mut m = DMatrix::<f64>::identity(70, 70);
        m[(60, 60)] = -1.0;
        assert!(Factor::new(&m).is_none());
        assert!(Factor::new(&DMatrix::from_element(3, 3, f64::NAN)).is_none());
    }
}
