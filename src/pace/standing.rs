//! What air a run stands in.

use super::footing::Made;
use super::usual::AssumedBy;
use crate::air::Moist;
use crate::slip::{Day, Run, RunAir};

/// The air of one run.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Standing {
    /// Read: the air, its density in kg/m3, and the minutes to the nearest reading it rests on.
    Read {
        /// The air.
        air: Moist,
        /// kg/m3.
        density_kg_m3: f64,
        /// Minutes.
        minutes: u32,
    },
    /// Not read: taken as usual.
    Assumed {
        /// kg/m3.
        density_kg_m3: f64,
        /// What that rests on.
        by: AssumedBy,
    },
}

impl Standing {
    /// Density, kg/m3.
    pub fn density_kg_m3(&self) -> f64 {
        match self {
            Standing::Read { density_kg_m3, .. } | Standing::Assumed { density_kg_m3, .. } => *density_kg_m3,
        }
    }
}

/// The air of a run as read.
pub(super) fn air_of(run: &Run, day: &Day) -> Option<Standing> {
    Some(read(day.air_at(run.at)?))
}

/// The air of each run as read; a day's readings are gone through once for all its runs that stand together.
pub(super) fn airs_of(runs: &[Made]) -> Vec<Option<Standing>> {
    let of_day = |runs: &[Made]| -> Vec<Option<Standing>> {
        let air = runs.first().map(|(_, day, _)| day.air());
        runs.iter().map(|(run, ..)| Some(read(air.as_ref()?.at(run.at)?))).collect()
    };
    runs.chunk_by(|(_, a, _), (_, b, _)| std::ptr::eq(*a, *b)).flat_map(of_day).collect()
}

fn read(at: RunAir) -> Standing {
    Standing::Read { air: at.air, density_kg_m3: at.air.density_kg_m3(), minutes: at.minutes }
}
