//! Forms that slipbook does not use, from the entries' own `formula`: what ours is compared with.

/// Compound angle of the workshop, degrees: `sqrt(T^2 + S^2)`.
pub fn compound_deg(top_deg: f64, side_deg: f64) -> f64 {
    top_deg.hypot(side_deg)
}

/// Joint-2 angle of the printed tables, degrees: `sqrt((20/w)^2 + b1^2)`, 20 the root of 400 rad/s2.
pub fn allowed_deg(rpm: f64, joint1_deg: f64) -> f64 {
    (20.0 / (rpm * std::f64::consts::TAU / 60.0)).to_degrees().hypot(joint1_deg)
}

/// Critical speed of a steel tube on a driveline supplier's page, rpm: `4.8e6 sqrt(D^2 + d^2)/L^2`, inches.
pub fn critical_steel_rpm(outside_in: f64, inside_in: f64, length_in: f64) -> f64 {
    4.8e6 * outside_in.hypot(inside_in) / (length_in * length_in)
}

/// Rolling radius of the workshop, in: `rg - (rg - rl)/3`.
pub fn effective_radius_in(free_in: f64, loaded_in: f64) -> f64 {
    free_in - (free_in - loaded_in) / 3.0
}

/// Revolutions by the trade's rounded constant: `mph ratio 336/diameter`.
pub fn rpm_336(mph: f64, ratio: f64, diameter_in: f64) -> f64 {
    mph * ratio * 336.0 / diameter_in
}
