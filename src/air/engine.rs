//! Engine correction factors: how much more power an engine would have made in its standard's reference air. They are kept
//! beside the air; no run is corrected by them.

use super::PA_PER_INHG;

/// The form of SAE J1349: `1.180 (990/pd) sqrt((t+273)/298) - 0.18`, dry pressure in mbar, t in C; 1 at 990 mbar dry and
/// 25 C (constants from memory). The standard means it for 15-35 C and 90-105 kPa (memory).
pub fn correction_j1349(t_c: f64, dry_pa: f64) -> f64 {
    1.180 * (990.0 / (dry_pa / 100.0)) * ((t_c + 273.0) / 298.0).sqrt() - 0.18
}

/// The older dry form, SAE J607: `(29.92/pd) sqrt((t+460)/520)`, dry pressure in inHg, t in F; 1 at 29.92 inHg dry and 60 F
/// (constants from memory).
pub fn correction_dry(t_c: f64, dry_pa: f64) -> f64 {
    29.92 / (dry_pa / PA_PER_INHG) * ((super::fahrenheit(t_c) + 460.0) / 520.0).sqrt()
}
