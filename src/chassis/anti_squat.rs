//! Anti-squat: how much of the load that comes to the rear goes through the links instead of the springs.
//!
//! T. D. Gillespie, Fundamentals of Vehicle Dynamics, ch. 7: a solid axle with its thrust at the contact patch, seen from the
//! side. x is ahead of the rear axle, y above the ground, in.

/// Anti-squat of an instant center (a ladder bar's front pivot), %: `AS = 100 (y/x)(L/h)`.
///
/// 100 when it lies on the line from the contact patch to the height of the center of gravity above the front axle: the rear
/// springs' load does not change. For a leaf the front eye as pivot is the limit of a rigid front half.
pub fn anti_squat_pct(ic_ahead_in: f64, ic_height_in: f64, wheelbase_in: f64, cg_height_in: f64) -> f64 {
    anti_squat_of_slope_pct(ic_height_in / ic_ahead_in, wheelbase_in, cg_height_in)
}

/// The same from the slope of the thrust's line, rise over run: of parallel links it is their own, `tan(theta)`.
pub fn anti_squat_of_slope_pct(slope: f64, wheelbase_in: f64, cg_height_in: f64) -> f64 {
    100.0 * slope * wheelbase_in / cg_height_in
}

/// Anti-squat of a load that links or a limiter bring to the tires while `thrust_lb` pushes, %: the load for the transfer
/// that this thrust makes, `100 dN/(F h/L)`.
pub fn anti_squat_of_load_pct(load_lb: f64, thrust_lb: f64, wheelbase_in: f64, cg_height_in: f64) -> f64 {
    anti_squat_of_slope_pct(load_lb / thrust_lb, wheelbase_in, cg_height_in)
}

/// Change of load on the rear springs, lb: `dW (1 - AS/100)`; negative: the springs let go and the body rises.
pub fn rear_spring_change_lb(transfer_lb: f64, anti_squat_pct: f64) -> f64 {
    transfer_lb * (1.0 - anti_squat_pct / 100.0)
}
