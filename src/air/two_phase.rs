//! A run in two phases: the tires' acceleration until the power cannot hold it, then constant power.
//!
//! A car of mass m that the tires push with the acceleration a needs the power m a v. From `v = p/a` on, `p = P/m`, it is
//! the power that limits: `v^3 = 3 p x - p^3/(2 a^3)`, `t = p/(2 a^2) + v^2/(2 p)`. The second phase alone is the constant
//! power of G. T. Fox, Am. J. Phys. 41 (1973) 311; own algebra joins the two. Left out: drag, wheel spin, rotating mass, the
//! gaps of shifts. So `p` is what moves the car on the whole, not what an engine makes.

use super::power::{FT_S_PER_MPH, G_FT_S2, HP_FT_LBF_S, slip_power_hp};

/// How far a car moves before the timer starts, ft: 11 in. Common practice, no source; 7 to 13 in with the height of the
/// beams, the tire and how deep the car is staged.
pub const ROLLOUT_FT: f64 = 11.0 / 12.0;

/// A car of the two-phase model. Both numbers are above 0.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TwoPhase {
    /// Acceleration that the tires hold, ft/s2.
    pub accel_ft_s2: f64,
    /// Power at the wheels on mass, ft2/s3.
    pub power_ft2_s3: f64,
}

impl TwoPhase {
    /// From weight with driver, lb, power at the wheels, hp, and the tires' acceleration, g.
    pub fn from_weight(weight_lb: f64, wheel_hp: f64, accel_g: f64) -> TwoPhase {
        TwoPhase { accel_ft_s2: accel_g * G_FT_S2, power_ft2_s3: wheel_hp * HP_FT_LBF_S * G_FT_S2 / weight_lb }
    }

    /// From a slip: the 60 ft time, s, and the speed, mph, in the trap at `trap_ft`. Power by [`slip_power_hp`], the rest by
    /// [`TwoPhase::with_power`]. The model has no drag, so its own speed at the trap is the higher.
    pub fn fitted(t60_s: f64, trap_mph: f64, trap_ft: f64, rollout_ft: f64) -> Option<TwoPhase> {
        if trap_mph <= 0.0 || trap_ft <= 0.0 {
            return None;
        }
        TwoPhase::with_power(t60_s, slip_power_hp(1.0, trap_mph, trap_ft), rollout_ft)
    }

    /// The car of that much power, hp for each lb, with which a slip's 60 ft time comes out, s: its tires' acceleration is
    /// found. None where none does: the power is not enough for the time, or a number is none.
    pub fn with_power(t60_s: f64, hp_per_lb: f64, rollout_ft: f64) -> Option<TwoPhase> {
        let p = hp_per_lb * HP_FT_LBF_S * G_FT_S2;
        let sound = [t60_s, p].iter().all(|n| *n > 0.0 && n.is_finite()) && rollout_ft >= 0.0 && rollout_ft.is_finite();
        if !sound {
            return None;
        }
        let with = |a: f64| TwoPhase { accel_ft_s2: a, power_ft2_s3: p };
        let slow = |a: f64| with(a).slip_time_s(60.0, rollout_ft) > t60_s;
        // Without a limit to the power; with one, the car is no quicker.
        let mut low = 2.0 * ((60.0 + rollout_ft).sqrt() - rollout_ft.sqrt()).powi(2) / (t60_s * t60_s);
        if !slow(low) {
            return Some(with(low));
        }
        let mut high = low * 2.0;
        while slow(high) {
            // A thousand times the first guess and still slow: the power alone takes longer.
            if high > low * 1_000.0 {
                return None;
            }
            high *= 2.0;
        }
        // Down to what a double resolves.
        for _ in 0..80 {
            let middle = (low + high) / 2.0;
            if slow(middle) { low = middle } else { high = middle }
        }
        Some(with(high))
    }

    /// Where the power takes over from the tires, ft: `p^2/(2 a^3)`.
    pub fn switch_ft(&self) -> f64 {
        self.power_ft2_s3.powi(2) / (2.0 * self.accel_ft_s2.powi(3))
    }

    /// Time from standstill to `x_ft`, s.
    pub fn time_s(&self, x_ft: f64) -> f64 {
        if x_ft <= self.switch_ft() {
            return (2.0 * x_ft / self.accel_ft_s2).sqrt();
        }
        let v = self.speed_ft_s(x_ft);
        self.power_ft2_s3 / (2.0 * self.accel_ft_s2.powi(2)) + v * v / (2.0 * self.power_ft2_s3)
    }

    /// Speed at `x_ft` from standstill, ft/s.
    pub fn speed_ft_s(&self, x_ft: f64) -> f64 {
        if x_ft <= self.switch_ft() {
            return (2.0 * self.accel_ft_s2 * x_ft).sqrt();
        }
        let (a, p) = (self.accel_ft_s2, self.power_ft2_s3);
        (3.0 * p * x_ft - p.powi(3) / (2.0 * a.powi(3))).cbrt()
    }

    /// Speed at `x_ft` from standstill, mph.
    pub fn speed_mph(&self, x_ft: f64) -> f64 {
        self.speed_ft_s(x_ft) / FT_S_PER_MPH
    }

    /// Exponent of power in the time to `x_ft`: d ln t / d ln P. 0 while the tires are the limit, toward -1/3 far out.
    pub fn power_on_time(&self, x_ft: f64) -> f64 {
        self.time_moved_by_power(x_ft) / self.time_s(x_ft)
    }

    /// Exponent of power in the speed at `x_ft`: 0 while the tires are the limit, toward +1/3 far out.
    pub fn power_on_speed(&self, x_ft: f64) -> f64 {
        if x_ft <= self.switch_ft() {
            return 0.0;
        }
        let (a, p) = (self.accel_ft_s2, self.power_ft2_s3);
        (p * x_ft - p.powi(3) / (2.0 * a.powi(3))) / self.speed_ft_s(x_ft).powi(3)
    }

    /// Exponent of the tires' acceleration in the time to `x_ft`: -1/2 while they are the limit.
    pub fn tires_on_time(&self, x_ft: f64) -> f64 {
        tires_from_power_on_time(self.power_on_time(x_ft))
    }

    /// Exponent of the tires' acceleration in the speed at `x_ft`: 1/2 while they are the limit.
    pub fn tires_on_speed(&self, x_ft: f64) -> f64 {
        (1.0 - 3.0 * self.power_on_speed(x_ft)) / 2.0
    }

    /// The time a slip prints at `x_ft`, s: the timer starts after the roll-out. Speeds there are those at
    /// `x_ft + rollout_ft`.
    pub fn slip_time_s(&self, x_ft: f64, rollout_ft: f64) -> f64 {
        self.time_s(x_ft + rollout_ft) - self.time_s(rollout_ft)
    }

    /// Exponent of power in the time a slip prints at `x_ft`.
    pub fn power_on_slip_time(&self, x_ft: f64, rollout_ft: f64) -> f64 {
        (self.time_moved_by_power(x_ft + rollout_ft) - self.time_moved_by_power(rollout_ft))
            / self.slip_time_s(x_ft, rollout_ft)
    }

    /// Exponent of the tires' acceleration in the time a slip prints at `x_ft`.
    pub fn tires_on_slip_time(&self, x_ft: f64, rollout_ft: f64) -> f64 {
        tires_from_power_on_time(self.power_on_slip_time(x_ft, rollout_ft))
    }

    /// P dt/dP, s.
    fn time_moved_by_power(&self, x_ft: f64) -> f64 {
        if x_ft <= self.switch_ft() {
            return 0.0;
        }
        let (a, p, v) = (self.accel_ft_s2, self.power_ft2_s3, self.speed_ft_s(x_ft));
        p / (2.0 * a * a) + v * v / (2.0 * p) * (2.0 * self.power_on_speed(x_ft) - 1.0)
    }
}

/// By the dimensions: a time is made of a, p and distances as `x^i a^j p^k` with `2 j + 3 k = -1`. It holds for a
/// difference of times too.
fn tires_from_power_on_time(power: f64) -> f64 {
    -(1.0 + 3.0 * power) / 2.0
}

#[cfg(test)]
mod tests {
    use super::*;

    fn close(a: f64, b: f64, within: f64) -> bool {
        (a - b).abs() <= within
    }

    #[test]
    fn a_slip_gives_back_the_car() {
        for (hp, g, rollout) in
            [(450.0, 1.0, ROLLOUT_FT), (700.0, 1.6, 0.0), (250.0, 1.0, ROLLOUT_FT), (900.0, 0.8, 0.5)]
        {
            let car = TwoPhase::from_weight(3_300.0, hp, g);
            let mph = (hp / slip_power_hp(3_300.0, 1.0, 1_320.0)).cbrt();
            let fit = TwoPhase::fitted(car.slip_time_s(60.0, rollout), mph, 1_320.0, rollout).unwrap();
            assert!(close(fit.accel_ft_s2, car.accel_ft_s2, 1e-8) && close(fit.power_ft2_s3, car.power_ft2_s3, 1e-6));
            // In the eighth mile the same car has the speed of half the distance.
            let fit = TwoPhase::fitted(car.slip_time_s(60.0, rollout), mph * 0.5_f64.cbrt(), 660.0, rollout).unwrap();
            assert!(close(fit.power_ft2_s3, car.power_ft2_s3, 1e-6));
        }
    }

    #[test]
    fn what_no_car_can_do_has_no_fit() {
        // At 60 mph there is not the power for a 60 ft time of a second.
        assert_eq!(TwoPhase::fitted(1.0, 60.0, 1_320.0, ROLLOUT_FT), None);
        for bad in [0.0, -1.0, f64::NAN, f64::INFINITY] {
            assert_eq!(TwoPhase::fitted(bad, 110.0, 1_320.0, ROLLOUT_FT), None);
            assert_eq!(TwoPhase::fitted(1.6, bad, 1_320.0, ROLLOUT_FT), None);
            assert_eq!(TwoPhase::fitted(1.6, 110.0, bad, ROLLOUT_FT), None);
        }
        assert_eq!(TwoPhase::fitted(1.6, 110.0, 1_320.0, -1.0), None);
        assert_eq!(TwoPhase::fitted(1.6, 110.0, 1_320.0, f64::NAN), None);
    }

    #[test]
    fn exponents_are_the_slopes() {
        let step: f64 = 1e-5;
        for (hp, g) in [(450.0, 1.0), (250.0, 1.0), (700.0, 1.6), (450.0, 0.7)] {
            let car = TwoPhase::from_weight(3_300.0, hp, g);
            for x in [60.0, 330.0, 660.0, 1_000.0, 1_320.0] {
                let slope = |of: &dyn Fn(TwoPhase) -> f64, power: bool| {
                    let moved = |by: f64| match power {
                        true => TwoPhase { power_ft2_s3: car.power_ft2_s3 * by, ..car },
                        false => TwoPhase { accel_ft_s2: car.accel_ft_s2 * by, ..car },
                    };
                    (of(moved(1.0 + step)).ln() - of(moved(1.0 - step)).ln()) / ((1.0 + step).ln() - (1.0 - step).ln())
                };
                for (ours, slope) in [
                    (car.power_on_time(x), slope(&|c| c.time_s(x), true)),
                    (car.power_on_speed(x), slope(&|c| c.speed_ft_s(x), true)),
                    (car.tires_on_time(x), slope(&|c| c.time_s(x), false)),
                    (car.tires_on_speed(x), slope(&|c| c.speed_ft_s(x), false)),
                    (car.power_on_slip_time(x, ROLLOUT_FT), slope(&|c| c.slip_time_s(x, ROLLOUT_FT), true)),
                    (car.tires_on_slip_time(x, ROLLOUT_FT), slope(&|c| c.slip_time_s(x, ROLLOUT_FT), false)),
                ] {
                    assert!(close(ours, slope, 1e-7), "{hp} hp, {g} g at {x} ft: {ours} and {slope}");
                }
            }
        }
    }
}
