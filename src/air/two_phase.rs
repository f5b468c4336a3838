//! stand-in until the branch is merged
/// x
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TwoPhase {
    a: f64,
}
/// x
pub const ROLLOUT_FT: f64 = 11.0 / 12.0;
#[allow(missing_docs)]
impl TwoPhase {
    pub fn fitted(_t60: f64, _mph: f64, _ft: f64, _r: f64) -> Option<TwoPhase> {
        None
    }
    pub fn slip_power_on_time(&self, _x: f64, _r: f64) -> f64 {
        self.a
    }
    pub fn power_on_speed(&self, _x: f64) -> f64 {
        self.a
    }
}
