//! One run, step by step: from the slip to one air, and from the slip to physics.

use super::Exponent;
use super::footing::{Footing, responses};
use super::standing::Standing;
use crate::air::{KM, KM_LOW, ROLLOUT_FT, average_g, carried, least_power_hp, trap_power_with_km_hp};
use crate::schema::Num;
use crate::slip::{Beam, Day, Response, Run, TrackThen};

/// One number of the slip carried to the reference.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Step {
    /// Which.
    pub response: Response,
    /// As on the slip, s or mph.
    pub raw: f64,
    /// What it is carried by.
    pub exponent: Exponent,
    /// `(reference/density)^exponent`.
    pub factor: f64,
    /// `raw · factor`.
    pub carried: f64,
}

/// What a slip says of acceleration and power.
#[derive(Debug, Clone, Copy, PartialEq, serde::Serialize)]
pub struct Physics {
    /// Mean acceleration to 60 ft as the slip reads it, g.
    pub average_g_60ft: Option<f64>,
    /// The same with the usual roll-out before the timer starts, g.
    pub average_g_60ft_rollout: Option<f64>,
    /// The roll-out taken, in.
    pub rollout_in: f64,
    /// Weight with driver, lb, where the sheet has it.
    pub weight_lb: Option<f64>,
    /// The least power at the wheels that could do the trap speed, hp.
    pub least_power_hp: Option<f64>,
    /// Power by the trap form with Km 234 and 225, hp.
    pub trap_power_hp: Option<(f64, f64)>,
    /// Trap speed used, mph, and its distance, ft.
    pub trap: Option<(f64, u32)>,
}

/// The whole of it.
#[derive(Debug, Clone, PartialEq)]
pub struct Explained {
    /// Its air; `None` = the book has none.
    pub standing: Option<Standing>,
    /// kg/m3.
    pub reference_kg_m3: Option<f64>,
    /// Number by number, those the run was clean to.
    pub steps: Vec<Step>,
    /// The track then.
    pub track: TrackThen,
    /// Acceleration and power.
    pub physics: Physics,
}

/// Explains a run; `weight_lb` as the sheet has it, where it may be relied on.
pub fn explain(footing: &Footing, run: &Run, day: &Day, weight_lb: Option<f64>) -> Explained {
    let standing = footing.standing(run, day);
    let reference_kg_m3 = footing.reference.map(|r| r.density_kg_m3);
    let ratio = standing.zip(reference_kg_m3).map_or(1.0, |(s, r)| r / s.density_kg_m3());
    let steps = responses().filter_map(|response| {
        let raw = response.of(run, day, day.finish_ft)?;
        let exponent = footing.exponents.of(response);
        let factor = ratio.powf(exponent.value);
        Some(Step { response, raw, exponent, factor, carried: carried(raw, ratio, exponent.value) })
    });
    let t60 = run.clean_time(Beam::Ft60).map(Num::to_f64);
    let speed = |b: Beam| Response::Speed(b).of(run, day, day.finish_ft).map(|v| (v, b.feet()));
    let trap = Beam::ALL.into_iter().rev().find_map(speed);
    // A run may say that it was made heavier or lighter than the sheet.
    let weight_lb = weight_lb.map(|w| w + run.num("weight_change").map_or(0.0, Num::to_f64));
    let with_trap = weight_lb.zip(trap);
    let physics = Physics {
        average_g_60ft: t60.map(|t| average_g(60.0, t, 0.0)),
        average_g_60ft_rollout: t60.map(|t| average_g(60.0, t, ROLLOUT_FT)),
        rollout_in: ROLLOUT_FT * 12.0,
        weight_lb,
        least_power_hp: with_trap.map(|(w, (v, ft))| least_power_hp(w, v, f64::from(ft))),
        trap_power_hp: with_trap.map(|(w, (v, ft))| {
            let by = |km| trap_power_with_km_hp(w, v, f64::from(ft), km);
            (by(KM), by(KM_LOW))
        }),
        trap,
    };
    Explained { standing, reference_kg_m3, steps: steps.collect(), track: day.track_at(run.at), physics }
}
