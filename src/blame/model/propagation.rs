//! How a gain in the 60 ft carries on to the finish: ET = c · 60 ft + the rest.

use super::record::Used;
use crate::stats::Sample;
use std::collections::BTreeMap;

/// Believed beforehand at the quarter mile; the generator's launch profile has less of it at shorter finishes.
fn beforehand(finish_ft: u32) -> f64 {
    match finish_ft {
        0..=660 => 1.41,
        661..=1000 => 1.52,
        _ => 1.6,
    }
}

/// (0.016/0.25)²: how strongly that is held.
const HELD: f64 = 0.004_096;
/// A run further than so many scatters from the line has no say, nor one further than this from its cell's 60 ft, s.
const FAR: f64 = 4.0;
const FAR_60: f64 = 0.06;

/// c, from runs of one day on one version: how the finish time, carried to one air by `exponent`, follows the 60 ft.
pub fn propagation(used: &[Used], version_of: &dyn Fn(usize) -> usize, finish_ft: u32, exponent: f64) -> f64 {
    let start = beforehand(finish_ft);
    let mut cells: BTreeMap<(usize, usize), Vec<(f64, f64)>> = BTreeMap::new();
    for u in used {
        if let Some(x) = u.ft60 {
            // ET · (ρ/1.2)^k.
            let z = u.y * (-exponent * u.row.air).exp();
            cells.entry((u.row.day, version_of(u.run))).or_default().push((x, z));
        }
    }
    let middle = |v: Vec<f64>| Sample::new(v).middle().unwrap_or_default();
    let mut points = Vec::new();
    for cell in cells.values().filter(|c| c.len() > 1) {
        let (mx, mz) = (middle(cell.iter().map(|p| p.0).collect()), middle(cell.iter().map(|p| p.1).collect()));
        points.extend(cell.iter().map(|(x, z)| (x - mx, z - mz)));
    }
    if points.is_empty() {
        return start;
    }
    let s = (1.4826 * middle(points.iter().map(|(x, z)| (z - start * x).abs()).collect())).max(0.006);
    let mut c = start;
    for _ in 0..20 {
        let near = points.iter().filter(|(x, z)| (z - c * x).abs() < FAR * s && x.abs() < FAR_60);
        let (xz, xx) = near.fold((0.0, 0.0), |(a, b), (x, z)| (a + x * z, b + x * x));
        let new = (xz + HELD * start) / (xx + HELD);
        let moved = (new - c).abs();
        c = new;
        if moved < 1e-6 {
            break;
        }
    }
    c.clamp(1.0, 2.2)
}
