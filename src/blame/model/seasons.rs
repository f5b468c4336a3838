//! A long book: the sizes season by season, averaged; a season of very many runs in halves.

use super::columns::{Ground, effects};
use super::fit::{MANY, Ready};
use super::record::Used;
use crate::stats::{EffectsFit, Sample};
use nalgebra::DMatrix;

/// Passes over the weights of a season.
const PASSES: usize = 3;

/// A season of fewer runs says too little of the sizes.
const FEW: usize = 8;

/// The sizes, averaged over seasons, and the chance that each run belongs, from its season.
pub(super) fn fit(ready: &Ready, tracks: usize, z: &DMatrix<f64>) -> Option<EffectsFit> {
    let mut weights = vec![1.0; ready.rows.len()];
    let mut logs: Vec<Vec<f64>> = Vec::new();
    let mut log_sd: Vec<Vec<f64>> = Vec::new();
    for part in parts(&ready.rows).into_iter().filter(|p| p.len() >= FEW) {
        let rows: Vec<&Used> = part.iter().map(|i| ready.rows[*i]).collect();
        let mut y: Vec<f64> = part.iter().map(|i| ready.y[*i]).collect();
        let middle = Sample::new(y.iter().copied()).middle().unwrap_or_default();
        y.iter_mut().for_each(|v| *v -= middle);
        let (first, last) = (rows[0].row.day, rows[rows.len() - 1].row.day);
        let ground = Ground { days: (last - first + 1, 1), tracks, seasons: false };
        // Each season's sheets from its own first on: what came before it is in its middle.
        let base = z.row(rows[0].row.setup).into_owned();
        let mut own = z.clone();
        for mut row in own.row_iter_mut() {
            row -= &base;
        }
        let keep: Vec<usize> =
            (0..own.ncols()).filter(|k| rows.iter().any(|u| own[(u.row.setup, *k)] != 0.0)).collect();
        let own = own.select_columns(&keep);
        let one = effects(&rows, y, &ready.settings, &ground, Some(&own)).fit_in(PASSES)?;
        part.iter().zip(&one.weights).for_each(|(i, w)| weights[*i] = *w);
        logs.push(one.sd.iter().map(|s| s.ln()).collect());
        log_sd.push(one.log_sd);
    }
    if logs.is_empty() {
        // No season says enough: the sizes as they are believed.
        let b = &ready.settings.believed;
        let priors = [b.run, b.day, b.drift, b.change];
        logs.push(priors.iter().map(|p| p.median.ln()).collect());
        log_sd.push(priors.iter().map(|p| p.log_sd).collect());
    }
    let n = logs.len() as f64;
    let mean = |of: &[Vec<f64>], j: usize| of.iter().map(|l| l[j]).sum::<f64>() / n;
    let sd = (0..logs[0].len()).map(|j| mean(&logs, j).exp()).collect();
    let log_sd = (0..log_sd[0].len()).map(|j| mean(&log_sd, j)).collect();
    Some(EffectsFit { sd, log_sd, weights })
}

/// Places of the rows by season; one of more than [`MANY`] is split at its middle day.
fn parts(rows: &[&Used]) -> Vec<Vec<usize>> {
    let mut out: Vec<Vec<usize>> = Vec::new();
    for (i, u) in rows.iter().enumerate() {
        match out.last_mut() {
            Some(part) if rows[part[0]].row.season == u.row.season => part.push(i),
            _ => out.push(vec![i]),
        }
    }
    out.into_iter().flat_map(|part| halves(part, rows)).collect()
}

fn halves(part: Vec<usize>, rows: &[&Used]) -> Vec<Vec<usize>> {
    let days: Vec<usize> = part.iter().map(|i| rows[*i].row.day).collect();
    let (first, last) = (days.first().copied().unwrap_or(0), days.last().copied().unwrap_or(0));
    if part.len() <= MANY || first == last {
        return vec![part];
    }
    let middle = (first + last).div_ceil(2);
    let (a, b): (Vec<usize>, Vec<usize>) = part.into_iter().partition(|i| rows[*i].row.day < middle);
    halves(a, rows).into_iter().chain(halves(b, rows)).collect()
}
