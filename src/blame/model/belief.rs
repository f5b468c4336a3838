//! What is believed of the columns once the runs are in. It is large and seldom wanted whole, so it is kept apart from the
//! fit.

use super::columns::CHANGE;
use super::fit::Fit;
use crate::stats::Draws;
use serde::{Deserialize, Serialize};

/// Of one channel.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Belief {
    /// Draws of each column.
    pub draws: Draws,
    /// Columns × columns, row by row: what is left of what is believed of them, were all of them worth something.
    #[serde(with = "crate::stats::floats")]
    pub left: Vec<f32>,
}

impl Belief {
    /// Whether it is of a fit with so many columns.
    pub fn is_of(&self, columns: usize) -> bool {
        self.left.len() == columns * columns && self.draws.effects() == columns
    }
}

impl Fit {
    /// What a step is worth on average, in the response's unit; less is quicker.
    pub fn mean(&self, step: &[(usize, f64)]) -> f64 {
        let of = |mean: &[f64]| step.iter().map(|(k, d)| d * mean[*k]).sum::<f64>();
        self.channels.iter().map(|c| c.times * of(&c.mean)).sum()
    }

    /// Draws of it.
    pub fn draws(&self, beliefs: &[Belief], step: &[(usize, f64)]) -> Vec<f64> {
        let mut out: Vec<f64> = Vec::new();
        for (channel, belief) in self.channels.iter().zip(beliefs) {
            let of = belief.draws.sum(step);
            if out.is_empty() {
                out = vec![0.0; of.len()];
            }
            out.iter_mut().zip(of).for_each(|(o, v)| *o += channel.times * v);
        }
        out
    }

    /// How much of what was believed of a step these runs leave open, 0 to 1: above 0.75 they cannot tell.
    pub fn open(&self, beliefs: &[Belief], step: &[(usize, f64)]) -> f64 {
        let p = self.columns.len();
        let size: f64 = step.iter().map(|(_, d)| d * d).sum();
        let (mut left, mut before) = (0.0, 0.0);
        for (c, belief) in self.channels.iter().zip(beliefs) {
            let form: f64 = step
                .iter()
                .flat_map(|(j, x)| step.iter().map(move |(k, y)| (j, x, k, y)))
                .map(|(j, x, k, y)| x * y * f64::from(belief.left[j * p + k]))
                .sum();
            left += c.times * c.times * form;
            before += (c.times * c.sd[CHANGE + 1]).powi(2) * size;
        }
        // To four places: beyond that machines differ.
        if before > 0.0 { (1e4 * left / before).round() / 1e4 } else { 1.0 }
    }
}
