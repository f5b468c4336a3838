//! Rows → random effects: day, drift, hour of the day, air, lane, track, wear, season, and the columns of the design.

use super::priors::Settings;
use super::record::Used;
use crate::stats::{Effects, Shares};
use nalgebra::{DMatrix, DVector};
use std::collections::BTreeMap;
use std::f64::consts::PI;

/// The unknown sizes, in the order the model has them behind σ: day, drift, change.
pub const CHANGE: usize = 2;

/// Where a channel's rows stand in the book.
pub struct Ground {
    /// Days that are counted, and the number of the first.
    pub days: (usize, usize),
    /// Tracks of the book.
    pub tracks: usize,
    /// A season has a level of its own.
    pub seasons: bool,
}

struct Wide {
    columns: Vec<DVector<f64>>,
    shares: Vec<Shares>,
}

impl Wide {
    fn push(&mut self, column: DVector<f64>, known: f64, of: [f64; 3]) {
        // A column of zeros says nothing and costs as much as any other.
        if column.iter().any(|v| *v != 0.0) && (known > 0.0 || of.iter().any(|v| *v > 0.0)) {
            self.columns.push(column);
            self.shares.push(Shares { known, of: of.to_vec() });
        }
    }
}

/// The model of centred, carried values of some rows. `z` holds the row of the design of each of the rows' setups.
pub fn effects(rows: &[&Used], y: Vec<f64>, settings: &Settings, ground: &Ground, z: Option<&DMatrix<f64>>) -> Effects {
    let b = &settings.believed;
    let n = rows.len();
    let of = |f: &dyn Fn(&Used) -> f64| DVector::from_iterator(n, rows.iter().map(|u| f(u)));
    let mut wide = Wide { columns: Vec::new(), shares: Vec::new() };
    let yes = |x: bool| f64::from(u8::from(x));
    wide.push(of(&|_| 1.0), b.intercept * b.intercept, [0.0; 3]);
    wide.push(of(&|u| settings.scale * u.row.air), settings.exponent_sd.powi(2), [0.0; 3]);
    wide.push(of(&|u| u.row.lane), b.lane * b.lane, [0.0; 3]);
    for t in 0..ground.tracks {
        wide.push(of(&|u| u.row.lane * yes(u.row.track == t)), b.lane * b.lane, [0.0; 3]);
        wide.push(of(&|u| yes(u.row.track == t)), b.track * b.track, [0.0; 3]);
    }
    wide.push(of(&|u| u.row.wear), 0.5 * b.wear * b.wear, [0.0; 3]);
    let mut lives: Vec<usize> = rows.iter().map(|u| u.life).collect();
    lives.sort_unstable();
    lives.dedup();
    for life in lives {
        wide.push(of(&|u| u.row.wear * yes(u.life == life)), 0.5 * b.wear * b.wear, [0.0; 3]);
    }
    if ground.seasons {
        let mut seasons: Vec<i16> = rows.iter().map(|u| u.row.season).collect();
        seasons.dedup();
        for s in seasons {
            wide.push(of(&|u| yes(u.row.season == s)), b.season * b.season, [0.0; 3]);
        }
    }
    // Air taken as usual is off by the same on all runs of a day.
    let unread = settings.exponent * settings.scale;
    let mut days: BTreeMap<usize, f64> = BTreeMap::new();
    rows.iter().filter(|u| u.row.unread > 0.0).for_each(|u| {
        days.insert(u.row.day, u.row.unread);
    });
    for (day, sd) in days {
        wide.push(of(&|u| yes(u.row.day == day && u.row.unread > 0.0)), (unread * sd).powi(2), [0.0; 3]);
    }
    days_of(&mut wide, rows, ground);
    if let Some(z) = z {
        // A factor of rank setups is as good as columns without number: only their products matter.
        let (setup_rows, count) = compact(rows);
        let levels = z.select_rows(&setup_rows);
        let factor = if levels.ncols() > count { levels.transpose().qr().r().transpose() } else { levels };
        let place: BTreeMap<usize, usize> = setup_rows.iter().enumerate().map(|(i, s)| (*s, i)).collect();
        for column in factor.column_iter() {
            wide.push(of(&|u| column[place[&u.row.setup]]), 0.0, [0.0, 0.0, 1.0]);
        }
    }
    let first_day = rows.iter().map(|u| u.row.day).min().unwrap_or(0);
    let own = rows.iter().map(|u| (u.row.day - first_day, b.hour * u.row.hour)).collect();
    let shared = DMatrix::from_columns(&wide.columns);
    let parts = vec![b.day, b.drift, b.change];
    Effects::new(DVector::from_vec(y), shared, wide.shares, own, (b.run, b.floor), parts, Some(b.bad))
}

/// How many of the first columns of [`effects`] are the level and, where there is air, what its exponent is off by.
pub fn level_columns(rows: &[&Used], settings: &Settings) -> usize {
    let air = settings.exponent_sd > 0.0 && rows.iter().any(|u| settings.scale * u.row.air != 0.0);
    if air { 2 } else { 1 }
}

/// The setups of some rows, each once, in order, and how many.
pub fn compact(rows: &[&Used]) -> (Vec<usize>, usize) {
    let mut setups: Vec<usize> = rows.iter().map(|u| u.row.setup).collect();
    setups.sort_unstable();
    setups.dedup();
    let count = setups.len();
    (setups, count)
}

/// A day's own ups and downs, `σ_d² [same day]`, and the drift, `σ_g² min(i, j)`, have their axes in common: those of
/// min(i, j), i, j = 1..D, are sines, `sin((2k-1)πi/(2D+1))`, with `1/(4 sin²((2k-1)π/(4D+2)))` (Yueh, Applied Mathematics
/// E-Notes 5, 2005, for the inverse, a tridiagonal matrix; checked in the tests).
fn days_of(wide: &mut Wide, rows: &[&Used], ground: &Ground) {
    let (count, from) = ground.days;
    let first = rows.iter().map(|u| u.row.day).min().unwrap_or(0);
    // Numbered from 0, the first day has not drifted yet; a season by itself is numbered from 1.
    let number = |u: &Used| u.row.day + from - if from == 0 { 0 } else { first };
    if from == 0 {
        let day0 = DVector::from_iterator(rows.len(), rows.iter().map(|u| f64::from(u8::from(number(u) == 0))));
        wide.push(day0, 0.0, [1.0, 0.0, 0.0]);
    }
    let d = if from == 0 { count.saturating_sub(1) } else { count };
    let norm = 2.0 / (2.0 * d as f64 + 1.0).sqrt();
    for k in 1..=d {
        let angle = (2 * k - 1) as f64 * PI / (2.0 * d as f64 + 1.0);
        let size = 1.0 / (4.0 * (angle / 2.0).sin().powi(2));
        let column = DVector::from_iterator(
            rows.len(),
            rows.iter().map(|u| match number(u) {
                0 => 0.0,
                i => norm * (i as f64 * angle).sin(),
            }),
        );
        wide.push(column, 0.0, [1.0, size, 0.0]);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_axes_of_days_and_drift() {
        let used = |day: usize| Used {
            run: day,
            row: crate::pace::Row {
                day,
                season: 2026,
                track: 0,
                lane: 0.0,
                hour: 0.0,
                wear: 0.0,
                setup: 0,
                air: 0.0,
                unread: 0.0,
            },
            life: 2026,
            passes: None,
            y: 0.0,
            ft60: None,
        };
        let all: Vec<Used> = [0, 1, 1, 3, 6].map(used).into();
        let rows: Vec<&Used> = all.iter().collect();
        for (from, shift) in [(0, 0), (1, 1)] {
            let mut wide = Wide { columns: Vec::new(), shares: Vec::new() };
            days_of(&mut wide, &rows, &Ground { days: (7, from), tracks: 1, seasons: false });
            for (i, a) in rows.iter().enumerate() {
                for (j, b) in rows.iter().enumerate() {
                    let kernel = |part: usize| -> f64 {
                        wide.columns.iter().zip(&wide.shares).map(|(c, s)| c[i] * c[j] * s.of[part]).sum()
                    };
                    let same = f64::from(u8::from(a.row.day == b.row.day));
                    assert!((kernel(0) - same).abs() < 1e-9, "{i} {j}: {}", kernel(0));
                    assert!((kernel(1) - (a.row.day.min(b.row.day) + shift) as f64).abs() < 1e-9);
                }
            }
        }
    }
}
