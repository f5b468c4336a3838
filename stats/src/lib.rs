//! Samples and estimates; linear models with random parts. Knows nothing of cars.

mod anova;
mod effects;
mod erfcx;
mod exp;
mod factor;
pub mod floats;
mod mixed;
mod mixture;
mod random;
mod regression;
mod sample;
mod scoring;
mod slab;
mod spread;

pub use anova::{Anova, Squares, anova};
pub use effects::{Effects, EffectsFit, Evidence, Fitted, Shares};
pub use erfcx::{erfcx, ln_shifted_density, normal_cdf, normal_density, normal_quantile};
pub use exp::exp_below;
pub use factor::inverse;
pub use mixed::{Bad, Fit, Mixed, Part, Prior};
pub use mixture::Spread;
pub use random::Random;
pub use regression::{Regression, Unfit, least_squares};
pub use sample::{Sample, Welch, quantile, t_quantile, welch};
pub use slab::{Draws, Slab, Sweeps, Walk};
pub use spread::{LEAST_FREEDOM, Residuals, Steadiness, needed, steadiness};
