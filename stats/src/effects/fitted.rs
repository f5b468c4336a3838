//! What the values are put down to, effect by effect.

use super::{Effects, Scored};
use nalgebra::DVector;

/// What each effect is believed to be, the mean given the values: `E[u | y] = G Uᵀ V⁻¹ y`.
#[derive(Debug, Clone, PartialEq)]
pub struct Fitted {
    /// Of each column.
    pub effects: DVector<f64>,
    /// Of each group's own effect.
    pub own: DVector<f64>,
}

impl Effects {
    /// What the effects are believed to be at given sizes: the best linear prediction (Henderson, Biometrics 31, 1975).
    pub fn fitted(&self, sd: &[f64], weights: &[f64]) -> Option<Fitted> {
        if sd.len() != self.parts.len() + 1 || weights.len() != self.y.len() {
            return None;
        }
        let at = self.at(&DVector::from_iterator(sd.len(), sd.iter().map(|s| s.ln())), weights)?;
        Some(Fitted { effects: at.s.component_mul(&at.v), own: at.v_own.clone() })
    }

    /// What a row's value owes to some of the columns, and to its group's own effect where `own`.
    pub fn share(&self, fitted: &Fitted, row: usize, columns: &dyn Fn(usize) -> bool, own: bool) -> f64 {
        let of = |k: usize| self.shared[(row, k)] * fitted.effects[k];
        let (group, times) = self.own[row];
        let by_group = if own && times != 0.0 { times * fitted.own[group] } else { 0.0 };
        (0..self.shares.len()).filter(|k| columns(*k)).map(of).sum::<f64>() + by_group
    }

    /// What a row's value owes to the columns whose variance is of part `j`, and to everything else.
    pub fn split(&self, fitted: &Fitted, row: usize, j: usize) -> (f64, f64) {
        let of_part = |k: usize| self.shares[k].of[j] > 0.0;
        (self.share(fitted, row, &of_part, false), self.share(fitted, row, &|k| !of_part(k), true))
    }
}
