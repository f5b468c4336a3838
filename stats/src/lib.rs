//! Samples and estimates; linear models with random parts. Knows nothing of cars.

mod erfcx;
mod mixed;
mod mixture;
mod sample;

pub use erfcx::{erfcx, ln_shifted_density, normal_cdf, normal_density, normal_quantile};
pub use mixed::{Bad, Fit, Mixed, Part, Prior};
pub use mixture::Spread;
pub use sample::{Difference, Sample, Scatter, difference, t_quantile};
