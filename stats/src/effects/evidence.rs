//! What the values say of some effects, everything else integrated out.

use super::super::mixed::LEAST_WEIGHT;
use super::super::scoring::Scored;
use super::{Effects, product};
use nalgebra::{Cholesky, DMatrix, DVector};
use std::cell::RefCell;

/// What the values say of some effects, everything else integrated out: `-½ θᵀAθ + bᵀθ`.
#[derive(Debug, Clone)]
pub struct Evidence {
    /// p × p.
    pub a: DMatrix<f64>,
    /// p.
    pub b: DVector<f64>,
    /// Rows that can be left out, with what they say.
    rows: Vec<usize>,
    said: DMatrix<f64>,
    among: DMatrix<f64>,
    alpha: DVector<f64>,
    /// What leaving a row out adds to its variance.
    added: f64,
}

impl Effects {
    /// What the values say of effects given by `levels` (a row a group of rows, a column an effect; `group_of` a row of y),
    /// at the fitted sizes but without the parts in `but`: their columns are those effects. `may_go`: rows that
    /// [`Evidence::without`] may leave out.
    pub fn evidence(
        &self,
        sd: &[f64],
        weights: &[f64],
        but: &[usize],
        group_of: &[usize],
        levels: &DMatrix<f64>,
        may_go: &[usize],
    ) -> Option<Evidence> {
        let keep: Vec<usize> =
            (0..self.shares.len()).filter(|k| !but.iter().any(|j| self.shares[*k].of[*j] > 0.0)).collect();
        let rest = Effects {
            shared: self.shared.select_columns(&keep),
            shares: keep.iter().map(|k| self.shares[*k].clone()).collect(),
            sums: RefCell::new(None),
            ..self.clone()
        };
        let x = DVector::from_iterator(sd.len(), sd.iter().map(|s| s.ln()));
        let at = rest.at(&x, weights)?;
        let (setups, p) = levels.shape();
        let (groups, q) = (at.own.len(), at.s.len());
        // Sums over the rows of each group: weights, weighted effects, weighted values.
        let mut sum = DVector::zeros(setups);
        let mut sum_y = DVector::zeros(setups);
        let mut shared = DMatrix::zeros(q, setups);
        let mut own = DMatrix::zeros(groups, setups);
        let transposed = rest.shared.transpose();
        for (i, u) in group_of.iter().enumerate() {
            let w = weights[i] / at.sigma2;
            sum[*u] += w;
            sum_y[*u] += w * self.y[i];
            shared.column_mut(*u).axpy(w, &transposed.column(i), 1.0);
            own[(self.own[i].0, *u)] += w * self.own[i].1;
        }
        for k in 0..q {
            shared.row_mut(k).scale_mut(at.s[k]);
        }
        let (shared, own) = (shared * levels, own * levels);
        let (whole, halves) = at.halves(&shared, &own);
        let mut weighted = levels.clone();
        for (u, w) in sum.iter().enumerate() {
            weighted.row_mut(u).scale_mut(*w);
        }
        let a = product(levels, &weighted) - product(&whole, &whole) - product(&halves, &halves);
        let b = levels.tr_mul(&sum_y) - shared.tr_mul(&at.v) - own.tr_mul(&at.v_own);
        // The rows that may go.
        let f = may_go.len();
        let mut row_shared = DMatrix::zeros(q, f);
        let mut row_own = DMatrix::zeros(groups, f);
        for (j, i) in may_go.iter().enumerate() {
            let w = weights[*i] / at.sigma2;
            row_shared.column_mut(j).axpy(w, &transposed.column(*i), 0.0);
            row_own[(self.own[*i].0, j)] = w * self.own[*i].1;
        }
        for k in 0..q {
            row_shared.row_mut(k).scale_mut(at.s[k]);
        }
        let (row_whole, row_halves) = at.halves(&row_shared, &row_own);
        let mut said = -product(&whole, &row_whole) - product(&halves, &row_halves);
        let mut among = -product(&row_whole, &row_whole) - product(&row_halves, &row_halves);
        let mut alpha = -row_shared.tr_mul(&at.v) - row_own.tr_mul(&at.v_own);
        for (j, i) in may_go.iter().enumerate() {
            let w = weights[*i] / at.sigma2;
            for k in 0..p {
                said[(k, j)] += w * levels[(group_of[*i], k)];
            }
            among[(j, j)] += w;
            alpha[j] += w * self.y[*i];
        }
        let added = at.sigma2 * (1.0 / LEAST_WEIGHT - 1.0);
        Some(Evidence { a: symmetric(a), b, rows: may_go.to_vec(), said, among, alpha, added })
    }
}

impl Evidence {
    /// The same with some rows (of those that may go) as good as left out: their weight is 1e-4 of what it was.
    pub fn without(&self, rows: &[usize]) -> Option<(DMatrix<f64>, DVector<f64>)> {
        let places: Vec<usize> = rows.iter().filter_map(|r| self.rows.iter().position(|x| x == r)).collect();
        if places.is_empty() {
            return Some((self.a.clone(), self.b.clone()));
        }
        let said = self.said.select_columns(&places);
        let mut inner = self.among.select_columns(&places).select_rows(&places);
        for j in 0..places.len() {
            inner[(j, j)] += 1.0 / self.added;
        }
        let chol = Cholesky::new(symmetric(inner))?;
        let alpha = DVector::from_iterator(places.len(), places.iter().map(|j| self.alpha[*j]));
        let mut half = said.transpose();
        chol.l_dirty().solve_lower_triangular_mut(&mut half);
        Some((&self.a - product(&half, &half), &self.b - said * chol.solve(&alpha)))
    }
}

fn symmetric(a: DMatrix<f64>) -> DMatrix<f64> {
    (&a + a.transpose()) / 2.0
}
