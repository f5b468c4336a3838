//! Samples and estimates; linear models with random parts. Knows nothing of cars.

mod anova;
mod erfcx;
mod mixed;
mod mixture;
mod regression;
mod sample;
mod spread;

pub use anova::{Anova, Squares, anova};
pub use erfcx::{erfcx, ln_shifted_density, normal_cdf, normal_density, normal_quantile};
pub use mixed::{Bad, Fit, Mixed, Part, Prior};
pub use mixture::Spread;
pub use regression::{Regression, Unfit, least_squares};
pub use sample::{Difference, Sample, Scatter, Welch, difference, t_quantile, welch};
pub use spread::{LEAST_FREEDOM, Residuals, Steadiness, needed, steadiness};
