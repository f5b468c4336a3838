//! From a slip to physics: mean acceleration, the power behind a trap speed. Published forms, with what they leave out.

/// Standard gravity, ft/s2: 9.80665 m/s2 in feet of 0.3048 m (both exact).
pub const G_FT_S2: f64 = 9.806_65 / 0.304_8;
/// A horsepower, ft lbf/s (definition).
pub const HP_FT_LBF_S: f64 = 550.0;
/// A mile an hour, ft/s (exact: 5280 ft, 3600 s).
pub const FT_S_PER_MPH: f64 = 5_280.0 / 3_600.0;
/// Length of a speed trap before the line, ft. Common practice, no source.
pub const TRAP_FT: f64 = 66.0;

/// Km of the trap form at 1320 ft, mph (lb/hp)^(1/3). From memory, unverified.
pub const KM: f64 = 234.0;
/// The other Km in use, printed in P. J. Nahin, In Praise of Simple Physics (Princeton); it gives 12 % more power.
pub const KM_LOW: f64 = 225.0;
/// Where the Km hold, ft.
const KM_FT: f64 = 1_320.0;

/// Mean acceleration to `distance_ft`, g, of a slip's time: the constant acceleration that takes as long. Plain
/// kinematics, `2 s/t^2` where `rollout_ft` is 0; that reads high by what the car rolled before the timer started (28 %
/// with 11 in), so with the roll-out r it is `2 (sqrt(s+r) - sqrt(r))^2/t^2`.
pub fn average_g(distance_ft: f64, time_s: f64, rollout_ft: f64) -> f64 {
    let root = (distance_ft + rollout_ft).sqrt() - rollout_ft.sqrt();
    2.0 * root * root / (time_s * time_s) / G_FT_S2
}

/// Mean speed over `length_ft` in `time_s`, mph: a trap of 66 ft gives 45/t (kinematics).
pub fn mean_mph(length_ft: f64, time_s: f64) -> f64 {
    length_ft / time_s / FT_S_PER_MPH
}

/// The least power at the wheels, hp, that brings `weight_lb` from standstill to `speed_mph` at `distance_ft`: constant
/// power and nothing lost, `P = m v^3/(3 x)` (G. T. Fox, Am. J. Phys. 41 (1973) 311; own algebra).
///
/// No drag, no wheel slip, no rotating mass, no launch that the tires limit: a real car has more. `speed_mph` of a slip is
/// the mean over the 66 ft before the line, a little below the speed at it.
pub fn least_power_hp(weight_lb: f64, speed_mph: f64, distance_ft: f64) -> f64 {
    let v = speed_mph * FT_S_PER_MPH;
    weight_lb / G_FT_S2 * v.powi(3) / (3.0 * distance_ft) / HP_FT_LBF_S
}

/// Power, hp, by the trap form: `P = W (mph/Km)^3` at 1320 ft with Km = 234 ([`KM`], from memory, unverified). At another
/// distance Km goes with the cube root of it, as at constant power.
///
/// A rule fitted to cars, so it has their usual drag, slip and rotating mass in it and none of this car's. Which Km one
/// believes moves it 12 % ([`KM_LOW`]). The trap's speed is a mean over the 66 ft before the line.
pub fn trap_power_hp(weight_lb: f64, trap_mph: f64, trap_ft: f64) -> f64 {
    trap_power_with_km_hp(weight_lb, trap_mph, trap_ft, KM)
}

/// [`trap_power_hp`] with another Km.
pub fn trap_power_with_km_hp(weight_lb: f64, trap_mph: f64, trap_ft: f64, km: f64) -> f64 {
    weight_lb * (trap_mph / km).powi(3) * KM_FT / trap_ft
}

/// Power at the wheels, hp, that a trap speed speaks for: midway (geometrically) between the least that could do it and
/// the trap form. Beside a model with drag (the reference values `dragexp_*`) the exponents of a car with the trap form's
/// power leave ET 0.03 too near 0, with the least power 0.04 too far from it, midway within 0.01 (compared by hand).
pub fn slip_power_hp(weight_lb: f64, trap_mph: f64, trap_ft: f64) -> f64 {
    (least_power_hp(weight_lb, trap_mph, trap_ft) * trap_power_hp(weight_lb, trap_mph, trap_ft)).sqrt()
}

/// A time or a speed where density or power is `ratio` times what it was: `x ratio^n` (follows from the cube-root laws,
/// where n is 1/3 for speed and -1/3 for time; a car's own n is nearer 0).
pub fn carried(value: f64, ratio: f64, exponent: f64) -> f64 {
    value * ratio.powf(exponent)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn powers_of_a_trap_speed() {
        let (least, trap) = (least_power_hp(3_300.0, 120.0, 1_320.0), trap_power_hp(3_300.0, 120.0, 1_320.0));
        assert!((trap - 3_300.0 * (120.0_f64 / 234.0).powi(3)).abs() < 1e-9);
        assert!(least < trap && trap < trap_power_with_km_hp(3_300.0, 120.0, 1_320.0, KM_LOW));
        // Half the distance to the same speed takes twice the power, in either form.
        assert!((least_power_hp(3_300.0, 120.0, 660.0) / least - 2.0).abs() < 1e-12);
        assert!((trap_power_hp(3_300.0, 120.0, 660.0) / trap - 2.0).abs() < 1e-12);
    }

    #[test]
    fn acceleration_of_a_slip() {
        let (plain, rolled) = (average_g(60.0, 1.5, 0.0), average_g(60.0, 1.5, 11.0 / 12.0));
        assert!((plain * G_FT_S2 - 120.0 / 2.25).abs() < 1e-9);
        assert!((plain / rolled - 1.28).abs() < 0.001);
        assert!((mean_mph(TRAP_FT, 0.36) - 125.0).abs() < 1e-9);
    }
}
