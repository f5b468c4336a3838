//! Statics of a chassis, and its driveline: what is on the scales, where the center of gravity is, what springs, leaves, links and the pinion
//! limiter do when the car leaves. Pure functions; units stand in the names, every constant has its source.
//!
//! Weights are lb of force, lengths in, angles degrees unless a name says radians. Weights, lengths, rates, and counts are
//! above 0; an answer that such numbers need not have is an `Option`. Who calls checks that what was measured is plausible.
//!
//! All of it is a car at rest or in a steady state: dampers, tire wrap and growth, lift of air, wheelie bars, and the
//! converter are left out. A back-to-back decides.

mod anti_squat;
mod cardan;
mod cg_height;
mod coil;
mod corners;
mod four_link;
mod leaf;
mod leaf_seat;
mod limiter;
mod loads;
mod mass_factor;
mod pitch;
mod ride;
mod roll;
mod shaft;
mod shock;
mod tire;
mod torsion_bar;
mod traction;

pub use anti_squat::{anti_squat_of_load_pct, anti_squat_of_slope_pct, anti_squat_pct, rear_spring_change_lb};
pub use cardan::{Joint, left_over_short_deg};
pub use cg_height::{CgHeight, RaisedAxle};
pub use coil::{Coil, rise_in, static_deflection_in, wheel_rate_lb_in};
pub use corners::{Corners, Shares};
pub use four_link::{FourLink, InstantCenter, Link, LinkForces, Point};
pub use leaf::{
    E_STEEL_PSI, LeafSpring, TIP_PATH_GRADUATED, TIP_PATH_UNIFORM, tip_path_graduated_in, tip_path_uniform_in,
};
pub use leaf_seat::{EyeLoads, LeafSeat, SeatMove, eye_loads, seat_couple_in_lb};
pub use limiter::{
    Hit, Limiter, Settled, axle_torque_lb_ft, bound_force_lb, contact_angle_deg, gap_for_angle_in, wound_force_lb,
};
pub use loads::{AtRest, Spinning, spin_up_transfer_lb};
pub use mass_factor::{RotatingParts, mass_factor_guide};
pub use pitch::{AxleRates, Pitch};
pub use ride::{G_IN_S2, ride_frequency_hz, series_rate_lb_in};
pub use roll::{
    Roll, TorqueReaction, anti_roll_bar_in_lb_per_rad, anti_roll_bar_preload_in_lb, driveshaft_torque_lb_ft,
    side_transfer_lb,
};
pub use shaft::{
    ALUMINUM, Driveline, INERTIA_GUIDE_RAD_S2, LEFT_OVER_GUIDE_RAD_S2, LIMIT_HOLDS_TO_DEG, Line, Metal, STEEL, Tube,
    USUAL_SHARE_OF_CRITICAL, Yokes, rear_joint_limits_deg, working_angle_limit_deg,
};
pub use shock::{critical_damping_lb_s_in, force_share, wheel_damping_lb_s_in};
pub use tire::{
    IN_PER_MILE, MIN_PER_HOUR, converter_slip, deflection_in, diameter_in, effective_radius_in, engine_rpm,
    footprint_in2, footprint_length_in, input_rpm, rolling_radius_in, rollout_in, shaft_rpm, speed_mph, turns_per_mile,
    wheel_rpm,
};
pub use torsion_bar::{G_STEEL_PSI, TorsionArm, TorsionBar};
pub use traction::{LaunchLimit, OpenAxle};

/// Inches to a foot (exact).
pub const IN_PER_FT: f64 = 12.0;

/// Angular speed, rad/s, of revolutions per minute.
fn rad_s(rpm: f64) -> f64 {
    rpm * std::f64::consts::PI / 30.0
}
