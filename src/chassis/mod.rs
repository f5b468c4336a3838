//! What the settings do: numbers of the chassis and the driveline. Every constant and every formula is named with its
//! source.
//!
//! Pure functions; each name carries its unit. Where a number can have no answer (a tube with a wall thicker than itself,
//! a tire without rollout) the answer is none, never a NaN.

mod cardan;
mod shaft;
mod tire;

pub use cardan::{Joint, left_over_short_deg};
pub use shaft::{
    ALUMINUM, Driveline, INERTIA_GUIDE_RAD_S2, LEFT_OVER_GUIDE_RAD_S2, LIMIT_HOLDS_TO_DEG, Line, Metal, STEEL, Tube,
    USUAL_SHARE_OF_CRITICAL, Yokes, rear_joint_limits_deg, working_angle_limit_deg,
};
pub use tire::{
    IN_PER_MILE, MIN_PER_HOUR, converter_slip, deflection_in, diameter_in, effective_radius_in, engine_rpm,
    footprint_in2, footprint_length_in, input_rpm, rolling_radius_in, rollout_in, shaft_rpm, speed_mph, turns_per_mile,
    wheel_rpm,
};

/// Angular speed, rad/s, of revolutions per minute.
fn rad_s(rpm: f64) -> f64 {
    rpm * std::f64::consts::PI / 30.0
}
