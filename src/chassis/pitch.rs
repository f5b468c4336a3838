//! How the body moves on its springs when load goes to the rear.

/// Rates at the wheels, both of an axle together.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct AxleRates {
    /// Front axle, both wheels, lb/in.
    pub front_lb_in: f64,
    /// Rear axle, both wheels, lb/in.
    pub rear_lb_in: f64,
}

/// A body's place in a steady launch, against rest.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Pitch {
    /// The front axle's place on the body rises, in.
    pub front_rise_in: f64,
    /// The rear axle's place on the body drops, in; negative: it rises.
    pub rear_drop_in: f64,
    /// Nose up, degrees.
    pub pitch_deg: f64,
    /// The center of gravity rises, in.
    pub cg_rise_in: f64,
}

impl AxleRates {
    /// Where the body is with `transfer_lb` gone to the rear: front up `dW/k_f`, for an undriven front axle has no anti-lift,
    /// whatever the rear does; rear down `dW (1 - AS/100)/k_r`; `pitch = atan((z_f + z_r)/L)`; the center of gravity up
    /// `z_f (1 - s) - z_r s`, `s` the rear axle's share of the weight, 0 to 1.
    ///
    /// T. D. Gillespie, Fundamentals of Vehicle Dynamics, ch. 7 (anti-squat, anti-lift), statics. Linear springs without
    /// stops: the front rises no farther than its travel, and who calls holds it there.
    pub fn pitch(&self, transfer_lb: f64, anti_squat_pct: f64, wheelbase_in: f64, rear_share: f64) -> Pitch {
        let front_rise_in = transfer_lb / self.front_lb_in;
        let rear_drop_in = super::rear_spring_change_lb(transfer_lb, anti_squat_pct) / self.rear_lb_in;
        Pitch {
            front_rise_in,
            rear_drop_in,
            pitch_deg: ((front_rise_in + rear_drop_in) / wheelbase_in).atan().to_degrees(),
            cg_rise_in: front_rise_in * (1.0 - rear_share) - rear_drop_in * rear_share,
        }
    }
}
