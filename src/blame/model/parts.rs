//! What each run's number is made of, as the model has it: its sheet, day and lane and the like, and what is left over.

use super::columns::{Ground, effects, level_columns};
use super::fit::{ChannelFit, Fit, Ready, ready, several_seasons};
use super::priors::{Channel, Middles, Settings};
use super::record::{Record, Used};
use crate::slip::{Beam, Response};

/// The number of a channel.
type Number = Box<dyn Fn(&Used) -> f64>;

/// One run that counts, in parts; in the response's unit as displayed. As run it is sheet + others + left + what the air of
/// the run is worth.
#[derive(Debug, Clone, PartialEq)]
pub struct Parts {
    /// Its place among all runs.
    pub run: usize,
    /// What its sheet runs in the one air, on the mean day and lane of the runs that count.
    pub sheet: f64,
    /// What its day, drift, hour, lane, track, wear and season do.
    pub others: f64,
    /// What nothing explains.
    pub left: f64,
    /// Chance that it is an ordinary run, channel by channel.
    pub ordinary: Vec<f64>,
}

/// The runs that count, in parts. The changes are the means of the draws the verdicts rest on, so that sheets differ by what
/// is said of the step between them; the rest is what the model predicts of it with those given. `density_kg_m3` is the one
/// air (`None`: the book has none). `None` where the fit is not of this record.
pub fn parts(
    record: &Record,
    fit: &Fit,
    response: Response,
    density_kg_m3: Option<f64>,
    settings: &dyn Fn(Channel, Middles) -> Settings,
) -> Option<Vec<Parts>> {
    let same = fit.used.len() == record.used.len() && fit.used.iter().zip(&record.used).all(|(a, b)| *a == b.run);
    if !same || fit.channels.len() != if record.two { 2 } else { 1 } {
        return None;
    }
    let middles = Middles { response: record.middle, ft60: record.middle_60 };
    let sign = if response.is_speed() { -1.0 } else { 1.0 };
    let air = density_kg_m3.map_or(0.0, |d| (1.2 / d).ln());
    let start = |u: &Used| Parts { run: u.run, sheet: 0.0, others: 0.0, left: 0.0, ordinary: Vec::new() };
    let mut out: Vec<Parts> = record.used.iter().map(start).collect();
    for (i, channel) in fit.channels.iter().enumerate() {
        let c = fit.channels[0].times;
        let (settings, of): (Settings, Number) = match (record.two, i) {
            (false, _) => (settings(Channel::Number(response), middles), Box::new(|u| u.y)),
            (true, 0) => {
                let of_60 = Middles { response: record.middle_60, ..middles };
                (settings(Channel::Number(Response::Time(Beam::Ft60)), of_60), Box::new(|u| u.ft60.unwrap_or(u.y)))
            }
            (true, _) => {
                let rest = settings(Channel::Rest { times: c }, middles);
                (rest, Box::new(move |u| u.y - c * u.ft60.unwrap_or(0.0)))
            }
        };
        let ready = ready(record.used.iter().collect(), settings, &*of);
        for (row, part) in of_channel(record, fit, channel, &ready, air)?.into_iter().zip(&mut out) {
            let times = sign * channel.times;
            part.sheet += times * row.0;
            part.others += times * row.1;
            part.left += times * row.2;
            part.ordinary.push(row.3);
        }
    }
    // The level is the model's to share out: a sheet stands on the mean day and lane of the runs that count.
    let mean = out.iter().map(|p| p.others).sum::<f64>() / out.len().max(1) as f64;
    for p in &mut out {
        p.sheet += mean;
        p.others -= mean;
    }
    Some(out)
}

/// Sheet, others, left over, chance ordinary: of each row of a channel.
fn of_channel(
    record: &Record,
    fit: &Fit,
    channel: &ChannelFit,
    ready: &Ready,
    air: f64,
) -> Option<Vec<(f64, f64, f64, f64)>> {
    let p = fit.columns.len();
    let change = |u: &Used| -> f64 {
        let row = &fit.z[u.row.setup * p..(u.row.setup + 1) * p];
        row.iter().zip(&channel.mean).map(|(z, w)| f64::from(*z) * w).sum()
    };
    let changes: Vec<f64> = ready.rows.iter().map(|u| change(u)).collect();
    let y: Vec<f64> = ready.y.iter().zip(&changes).map(|(y, c)| y - c).collect();
    let ground = Ground { days: (record.days, 0), tracks: record.tracks, seasons: several_seasons(&ready.rows) };
    let effects = effects(&ready.rows, y, &ready.settings, &ground, None);
    let fitted = effects.fitted(&channel.sd, &channel.ordinary)?;
    // The level and what the exponent is off by belong to the sheet's number in one air.
    let levels = level_columns(&ready.rows, &ready.settings);
    let off = if levels > 1 { fitted.effects[1] } else { 0.0 };
    let base = ready.centre + fitted.effects[0] + (ready.settings.exponent + off) * ready.settings.scale * air;
    let row = |i: usize| {
        let others = effects.share(&fitted, i, &|k| k >= levels, true);
        let level = effects.share(&fitted, i, &|k| k < levels, false);
        (base + changes[i], others, effects.y[i] - level - others, channel.ordinary[i])
    };
    Some((0..ready.rows.len()).map(row).collect())
}
