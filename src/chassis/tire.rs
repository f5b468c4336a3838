//! Tires: footprint and squash, rolling radius and rollout, and from a speed to the revolutions of wheel, shaft and engine.

use std::f64::consts::PI;

/// Inches in a mile (exact: 5280 ft of 12 in).
pub const IN_PER_MILE: f64 = 63_360.0;
/// Minutes in an hour (exact).
pub const MIN_PER_HOUR: f64 = 60.0;

/// An answer that is a number, of inputs that are more than nothing.
fn of(inputs: &[f64], answer: f64) -> Option<f64> {
    (inputs.iter().all(|x| *x > 0.0 && x.is_finite()) && answer.is_finite()).then_some(answer)
}

/// Area on the ground, in2, of a load on air: `load/pressure`, a membrane. Common practice, no source; an upper bound, since
/// the carcass carries 5-15 % of the load itself, and more in a stiff sidewall.
pub fn footprint_in2(load_lb: f64, pressure_psi: f64) -> Option<f64> {
    of(&[load_lb, pressure_psi], load_lb / pressure_psi)
}

/// Length of the footprint, in: its area over the tread's width (as if it were square-edged).
pub fn footprint_length_in(area_in2: f64, width_in: f64) -> Option<f64> {
    of(&[area_in2, width_in], area_in2 / width_in)
}

/// How far a tire is squashed, in, by a load at its vertical stiffness: `load/stiffness`. Linear, standing still.
pub fn deflection_in(load_lb: f64, stiffness_lb_in: f64) -> Option<f64> {
    of(&[load_lb, stiffness_lb_in], load_lb / stiffness_lb_in)
}

/// Rollout, in, of a diameter, in: the way once around, `pi D`.
pub fn rollout_in(diameter_in: f64) -> f64 {
    PI * diameter_in
}

/// Diameter, in, of a rollout, in.
pub fn diameter_in(rollout_in: f64) -> f64 {
    rollout_in / PI
}

/// Rolling radius, in, of a tire that turns so often in a mile: `63360/(2 pi N)` (Gillespie, Fundamentals of Vehicle
/// Dynamics, chapter 2, from memory).
pub fn rolling_radius_in(turns_per_mile: f64) -> Option<f64> {
    of(&[turns_per_mile], IN_PER_MILE / (2.0 * PI * turns_per_mile))
}

/// Turns in a mile of a rolling radius, in.
pub fn turns_per_mile(rolling_radius_in: f64) -> Option<f64> {
    of(&[rolling_radius_in], IN_PER_MILE / (2.0 * PI * rolling_radius_in))
}

/// Rolling radius, in, between the free radius and the loaded one (axle to ground): `rf sin(phi)/phi`, `cos phi = rl/rf`
/// (Jazar, Vehicle Dynamics, chapter 3, from memory; the workshop's short form `rf - (rf - rl)/3` is within 0.2 %).
///
/// A belt that does not stretch, at walking speed: a bias slick at speed grows past its free radius. None where the loaded
/// radius is the greater.
pub fn effective_radius_in(free_in: f64, loaded_in: f64) -> Option<f64> {
    // cos phi = rl/rf by the half angle, so that a tire hardly squashed keeps its digits.
    let half = ((free_in - loaded_in) / (2.0 * free_in)).sqrt().asin();
    let share = if half == 0.0 { 1.0 } else { (2.0 * half).sin() / (2.0 * half) };
    of(&[free_in, loaded_in], free_in * share)
}

/// Revolutions a minute of a wheel at a speed: `mph 63360/60/rollout`, 1056 mph/rollout, which is 336.135 mph/diameter
/// (exact; the trade's 336 gives 0.04 % less).
///
/// The tire neither slips nor grows: a drive tire at the finish line turns a few per cent faster by slip and slower by
/// growth. The speed on a slip is the mean over the trap, a little below the speed at the line.
pub fn wheel_rpm(speed_mph: f64, rollout_in: f64) -> Option<f64> {
    of(&[speed_mph, rollout_in], speed_mph * (IN_PER_MILE / MIN_PER_HOUR) / rollout_in)
}

/// Revolutions a minute of the driveshaft: the wheel's times the final drive ([`wheel_rpm`] and its limits).
pub fn shaft_rpm(speed_mph: f64, final_drive: f64, rollout_in: f64) -> Option<f64> {
    input_rpm(speed_mph, 1.0, final_drive, rollout_in)
}

/// Revolutions a minute of the transmission's input, in a gear: the wheel's times gear and final drive. That of the engine
/// with a clutch or a locked converter ([`wheel_rpm`] and its limits).
pub fn input_rpm(speed_mph: f64, gear: f64, final_drive: f64, rollout_in: f64) -> Option<f64> {
    of(&[gear, final_drive], wheel_rpm(speed_mph, rollout_in)? * gear * final_drive)
}

/// Revolutions a minute of the engine before a converter that slips by a share 0 to under 1 of the engine's speed:
/// `input/(1 - slip)` (definition of slip).
pub fn engine_rpm(input_rpm: f64, slip: f64) -> Option<f64> {
    (0.0..1.0).contains(&slip).then_some(input_rpm / (1.0 - slip)).and_then(|rpm| of(&[input_rpm], rpm))
}

/// Slip of a converter, a share of the engine's speed, from the engine's revolutions and those at the transmission's input:
/// `1 - input/engine`. Below 0 the tire's rollout or a ratio is not what is on record, or the wheels did not turn as fast
/// as the car: it is given as it is.
pub fn converter_slip(engine_rpm: f64, input_rpm: f64) -> Option<f64> {
    of(&[engine_rpm, input_rpm], 1.0 - input_rpm / engine_rpm)
}

/// Speed, mph, of revolutions at the transmission's input: [`input_rpm`] the other way.
pub fn speed_mph(input_rpm: f64, gear: f64, final_drive: f64, rollout_in: f64) -> Option<f64> {
    let per_mph = self::input_rpm(1.0, gear, final_drive, rollout_in)?;
    of(&[input_rpm], input_rpm / per_mph)
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn close(a: f64, b: f64, within: f64) -> Result<(), TestCaseError> {
        prop_assert!((a - b).abs() <= within, "{a} and {b} are {:.3e} apart", (a - b).abs());
        Ok(())
    }

    #[test]
    fn nothing_gives_no_number() {
        for bad in [0.0, -1.0, f64::NAN, f64::INFINITY] {
            for answer in [
                footprint_in2(bad, 12.0),
                footprint_length_in(bad, 10.0),
                deflection_in(bad, 800.0),
                effective_radius_in(bad, 13.0),
                wheel_rpm(bad, 90.0),
                input_rpm(100.0, bad, 4.1, 90.0),
                input_rpm(100.0, 1.0, bad, 90.0),
                engine_rpm(bad, 0.05),
                speed_mph(bad, 1.0, 4.1, 90.0),
            ] {
                assert_eq!(answer, None, "{bad}");
            }
        }
        for bad in [0.0, -1.0, f64::NAN] {
            let answers =
                [footprint_in2(800.0, bad), rolling_radius_in(bad), turns_per_mile(bad), wheel_rpm(100.0, bad)];
            assert_eq!(answers, [None; 4], "{bad}");
        }
        assert_eq!(effective_radius_in(13.0, 13.1), None);
        assert_eq!((engine_rpm(6_000.0, 1.0), engine_rpm(6_000.0, -0.01)), (None, None));
    }

    #[test]
    fn limits() {
        assert_eq!(effective_radius_in(14.0, 14.0), Some(14.0));
        assert_eq!(engine_rpm(6_500.0, 0.0), Some(6_500.0));
        assert_eq!(converter_slip(6_500.0, 6_500.0), Some(0.0));
        // A mile a minute turns as often as a mile has rollouts.
        assert_eq!(wheel_rpm(60.0, 88.0), Some(720.0));
        assert_eq!(shaft_rpm(60.0, 4.0, 88.0), Some(2_880.0));
    }

    proptest! {
        #![proptest_config(ProptestConfig { cases: 500, failure_persistence: None, ..ProptestConfig::default() })]

        #[test]
        fn there_and_back(
            mph in 20.0..250.0_f64, gear in 0.7..4.0_f64, last in 2.5..6.5_f64, rollout in 70.0..112.0_f64, slip in 0.0..0.4_f64,
        ) {
            let input = input_rpm(mph, gear, last, rollout).unwrap();
            close(speed_mph(input, gear, last, rollout).unwrap(), mph, 1e-9)?;
            close(shaft_rpm(mph, last, rollout).unwrap() * gear, input, 1e-8)?;
            let engine = engine_rpm(input, slip).unwrap();
            prop_assert!(engine >= input);
            close(converter_slip(engine, input).unwrap(), slip, 1e-12)?;
            close(rollout_in(diameter_in(rollout)), rollout, 1e-12)?;
            // A bigger tire turns slower.
            prop_assert!(input_rpm(mph, gear, last, rollout + 0.12).unwrap() < input);
            // In an hour at that speed the wheel turns mph miles.
            let turns = turns_per_mile(diameter_in(rollout) / 2.0).unwrap();
            close(wheel_rpm(mph, rollout).unwrap() * 60.0 / mph, turns, 1e-9)?;
            close(rolling_radius_in(turns).unwrap(), diameter_in(rollout) / 2.0, 1e-12)?;
        }

        #[test]
        fn a_squashed_tire_rolls_between_its_radii(free in 11.0..17.0_f64, squash in 0.0..0.12_f64) {
            let loaded = free * (1.0 - squash);
            let rolling = effective_radius_in(free, loaded).unwrap();
            prop_assert!(loaded - 1e-12 <= rolling && rolling <= free);
            close(rolling, free - (free - loaded) / 3.0, 0.002 * free)?;
            prop_assert!(effective_radius_in(free, loaded - 0.1).unwrap() < rolling);
        }

        #[test]
        fn less_air_is_more_footprint(load in 200.0..2_500.0_f64, psi in 4.0..40.0_f64, width in 4.0..14.0_f64) {
            let area = footprint_in2(load, psi).unwrap();
            prop_assert!(footprint_in2(load, psi - 0.25).unwrap() > area && footprint_in2(load + 10.0, psi).unwrap() > area);
            close(footprint_length_in(area, width).unwrap() * width * psi, load, 1e-9)?;
            close(deflection_in(load, 800.0).unwrap() * 2.0, deflection_in(load, 400.0).unwrap(), 1e-12)?;
        }
    }
}
