//! Samples and estimates; linear models with random parts. Knows nothing of cars.

mod effects;
mod erfcx;
mod mixed;
mod mixture;
mod random;
mod sample;
mod scoring;
mod slab;

pub use effects::{Effects, EffectsFit, Evidence, Shares};
pub use erfcx::{erfcx, ln_shifted_density, normal_cdf, normal_density, normal_quantile};
pub use mixed::{Bad, Fit, Mixed, Part, Prior};
pub use mixture::Spread;
pub use random::Random;
pub use sample::{Difference, Sample, Scatter, difference, t_quantile};
pub use slab::{Draws, Slab, Sweeps, quantile, sample_slab};
