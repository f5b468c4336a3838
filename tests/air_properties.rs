//! What must hold of air and of the two-phase run anywhere in the plausible range: round trips, directions, limits,
//! refusals.

use proptest::prelude::*;
use slipbook::air::{
    Moist, Moisture, PA_PER_INHG, Refused, TwoPhase, altimeter_from_station_pa, cipm_saturation_pa, correction_dry,
    correction_j1349, geopotential_ft, isa, isa_height_ft, magnus_saturation_pa, moist, pressure_altitude_ft,
    station_from_altimeter_pa,
};

const TEMPERATURES_C: std::ops::RangeInclusive<f64> = -40.0..=60.0;
const PRESSURES_PA: std::ops::RangeInclusive<f64> = 61_000.0..=106_600.0;
const HUMIDITIES: std::ops::RangeInclusive<f64> = 0.0..=1.0;
const ELEVATIONS_FT: std::ops::RangeInclusive<f64> = -1_500.0..=10_000.0;
/// The lowest dew point and wet bulb that are taken, C.
const DRIEST_C: f64 = -60.0;

fn air(t: f64, p: f64, rh: f64) -> Moist {
    moist(t, p, Moisture::Relative(rh)).unwrap()
}

fn close(a: f64, b: f64, within: f64) -> Result<(), TestCaseError> {
    prop_assert!((a - b).abs() <= within, "{a} and {b} are {:.3e} apart", (a - b).abs());
    Ok(())
}

fn same_air(a: &Moist, b: &Moist, within: f64) -> Result<(), TestCaseError> {
    close(a.relative_humidity(), b.relative_humidity(), within)?;
    close(a.vapor_pa, b.vapor_pa, within * magnus_saturation_pa(a.temperature_c).max(1.0))?;
    close(a.density_altitude_ft(), b.density_altitude_ft(), 1e-3)
}

/// A car: hp for each lb, and g that its tires hold.
fn car() -> impl Strategy<Value = TwoPhase> {
    (0.04..0.6_f64, 0.4..3.5_f64).prop_map(|(hp_per_lb, g)| TwoPhase::from_weight(1.0, hp_per_lb, g))
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 1_000, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn humidity_dew_point_and_wet_bulb_are_one(t in TEMPERATURES_C, p in PRESSURES_PA, rh in HUMIDITIES) {
        let by_rh = air(t, p, rh);
        close(by_rh.relative_humidity(), rh, 1e-12)?;
        let wet = by_rh.wet_bulb_c();
        let by_wet = moist(t, p, Moisture::WetBulb(wet)).unwrap();
        same_air(&by_rh, &by_wet, 1e-9)?;
        close(by_wet.wet_bulb_c(), wet, 1e-9)?;
        match by_rh.dew_point_c() {
            Some(dew) if dew >= DRIEST_C => {
                let by_dew = moist(t, p, Moisture::DewPoint(dew.min(t))).unwrap();
                same_air(&by_rh, &by_dew, 1e-9)?;
                close(by_dew.dew_point_c().unwrap(), dew, 1e-9)?;
                close(by_dew.wet_bulb_c(), wet, 1e-9)?;
                // Humidity carries the enhancement at the air's temperature, a dew point that at its own: CIPM-2007 itself
                // is that far from one answer.
                close(by_dew.density_kg_m3() / by_rh.density_kg_m3(), 1.0, 2e-4)?;
                prop_assert!(dew <= wet + 1e-9 && wet <= t);
            }
            Some(dew) => prop_assert_eq!(moist(t, p, Moisture::DewPoint(dew)), Err(Refused::AboveTemperature)),
            None => prop_assert!(rh == 0.0),
        }
    }

    #[test]
    fn saturated_air_has_one_temperature(t in TEMPERATURES_C, p in PRESSURES_PA) {
        let full = air(t, p, 1.0);
        close(full.dew_point_c().unwrap(), t, 1e-9)?;
        close(full.wet_bulb_c(), t, 1e-9)?;
        let dry = air(t, p, 0.0);
        prop_assert_eq!(dry.dew_point_c(), None);
        prop_assert!(dry.wet_bulb_c() < t);
        // Below what dry air takes it, a wet bulb is no reading.
        let low = dry.wet_bulb_c() - 0.01;
        prop_assert_eq!(moist(t, p, Moisture::WetBulb(low)), Err(Refused::TooDry));
    }

    #[test]
    fn hotter_wetter_and_lower_is_thinner(
        t in -40.0..59.9_f64, p in 61_000.0..106_500.0_f64, rh in 0.0..0.99_f64, more in 0.001..1.0_f64,
    ) {
        let (here, step) = (air(t, p, rh), |top: f64, now: f64| now + (top - now) * more);
        let hotter = air(step(60.0, t), p, rh);
        let same_water = moist(step(60.0, t), p, Moisture::Relative(here.vapor_pa / magnus_saturation_pa(step(60.0, t)))).unwrap();
        let wetter = air(t, p, step(1.0, rh));
        let thicker = air(t, step(106_600.0, p), rh);
        for (thin, why) in [(&hotter, "hotter"), (&same_water, "hotter, the same water"), (&wetter, "wetter")] {
            prop_assert!(thin.density_kg_m3() < here.density_kg_m3(), "{why}: {thin:?} {here:?}");
            prop_assert!(thin.density_altitude_ft() > here.density_altitude_ft(), "{why}: {thin:?} {here:?}");
        }
        prop_assert!(here.density_kg_m3() < thicker.density_kg_m3());
        prop_assert!(here.density_altitude_ft() > thicker.density_altitude_ft());
        prop_assert!(here.pressure_altitude_ft() > thicker.pressure_altitude_ft());
        prop_assert!(wetter.water_grains_per_lb() > here.water_grains_per_lb());
        // An engine's factor falls as its dry pressure rises, and rises with the heat.
        for factor in [Moist::correction_dry, Moist::correction_j1349] {
            prop_assert!(factor(&here) > factor(&thicker) && factor(&here) < factor(&wetter) && factor(&here) < factor(&hotter));
        }
    }

    #[test]
    fn vapor_pressure_rises(t in -60.0..59.9_f64, more in 0.001..1.0_f64) {
        let up = t + (60.0 - t) * more;
        prop_assert!(magnus_saturation_pa(up) > magnus_saturation_pa(t));
        prop_assert!(cipm_saturation_pa(up) > cipm_saturation_pa(t));
        // The two forms are one thing in the range of air; lower, where only dew points are, they part by 2.2 %.
        let apart = if t < -40.0 { 2.5e-2 } else { 1e-2 };
        close(magnus_saturation_pa(t) / cipm_saturation_pa(t), 1.0, apart)?;
    }

    #[test]
    fn altimeter_and_station_are_inverse(p in PRESSURES_PA, elevation in ELEVATIONS_FT) {
        let setting = altimeter_from_station_pa(p, elevation);
        close(station_from_altimeter_pa(setting, elevation) / p, 1.0, 1e-12)?;
        close(altimeter_from_station_pa(station_from_altimeter_pa(p, elevation), elevation) / p, 1.0, 1e-12)?;
        close(station_from_altimeter_pa(p, 0.0) / p, 1.0, 1e-12)?;
        close(altimeter_from_station_pa(p, 0.0) / p, 1.0, 1e-12)?;
        // Higher, the same setting is a lower station pressure.
        prop_assert!(station_from_altimeter_pa(setting, elevation + 1.0) < station_from_altimeter_pa(setting, elevation));
        // The standard setting is the standard atmosphere.
        close(station_from_altimeter_pa(101_325.0, elevation) / isa(elevation).pressure_pa, 1.0, 1e-12)?;
    }

    #[test]
    fn the_standard_atmosphere_both_ways(height in ELEVATIONS_FT, more in 0.1..1_000.0_f64) {
        let here = isa(height);
        close(isa_height_ft(here.pressure_pa), height, 1e-6)?;
        let up = isa(height + more);
        prop_assert!(up.pressure_pa < here.pressure_pa && up.density_kg_m3 < here.density_kg_m3);
        prop_assert!(up.temperature_k < here.temperature_k);
        // Dry standard air is where it says it is; the printed form of pressure altitude is 0.05 % rounded.
        let dry = air(here.temperature_k - 273.15, here.pressure_pa.min(106_600.0), 0.0);
        if here.pressure_pa <= 106_600.0 {
            close(dry.density_altitude_ft(), height, 0.5)?;
            close(dry.pressure_altitude_ft(), height, 0.1 + 5e-4 * height.abs())?;
            prop_assert!(air(dry.temperature_c, dry.pressure_pa, 0.5).density_altitude_ft() > dry.density_altitude_ft());
        }
        let by_tape = geopotential_ft(height);
        prop_assert!(by_tape <= height && height - by_tape < 5.0);
    }

    #[test]
    fn outside_the_range_is_refused(
        t in TEMPERATURES_C, p in PRESSURES_PA, rh in HUMIDITIES, by in 0.01..1_000.0_f64, odd in 0..4usize,
    ) {
        let odd = [f64::NAN, f64::INFINITY, f64::NEG_INFINITY, f64::MAX][odd];
        let water = Moisture::Relative(rh);
        for bad in [-40.0 - by, 60.0 + by, odd] {
            prop_assert_eq!(moist(bad, p, water), Err(Refused::Temperature));
        }
        for bad in [60_900.0 - by, 31.51 * PA_PER_INHG + by, odd, 0.0, -p] {
            prop_assert_eq!(moist(t, bad, water), Err(Refused::Pressure));
        }
        for bad in [-by, 1.0 + by, odd] {
            prop_assert_eq!(moist(t, p, Moisture::Relative(bad)), Err(Refused::Humidity));
        }
        for bad in [t + by, -60.0 - by, odd] {
            prop_assert_eq!(moist(t, p, Moisture::DewPoint(bad)), Err(Refused::AboveTemperature));
            prop_assert_eq!(moist(t, p, Moisture::WetBulb(bad)), Err(Refused::AboveTemperature));
        }
    }

    #[test]
    fn a_run_goes_on_without_a_jump(car in car(), x in 1.0..1_320.0_f64, more in 0.001..200.0_f64) {
        let switch = car.switch_ft();
        let (below, above) = (switch * (1.0 - 1e-9), switch * (1.0 + 1e-9));
        close(car.time_s(below) / car.time_s(above), 1.0, 1e-8)?;
        close(car.speed_ft_s(below) / car.speed_ft_s(above), 1.0, 1e-8)?;
        prop_assert!(car.time_s(x + more) > car.time_s(x) && car.speed_ft_s(x + more) > car.speed_ft_s(x));
        // Speed is distance in time.
        let dx = 1e-3;
        close(dx / (car.time_s(x + dx) - car.time_s(x)) / car.speed_ft_s(x + dx / 2.0), 1.0, 1e-5)?;
        // Power tells the more the further out, and never more than a third.
        let (near, far) = (car.power_on_time(x), car.power_on_time(x + more));
        prop_assert!(far <= near && near <= 0.0 && far > -1.0 / 3.0);
        let (near, far) = (car.power_on_speed(x), car.power_on_speed(x + more));
        prop_assert!(far >= near && near >= 0.0 && far < 1.0 / 3.0);
        prop_assert_eq!(car.power_on_time(x) == 0.0, x <= switch);
    }

    #[test]
    fn more_power_and_more_grip_are_quicker(car in car(), x in 1.0..1_320.0_f64, by in 1.001..2.0_f64, r in 0.0..1.1_f64) {
        let stronger = TwoPhase { power_ft2_s3: car.power_ft2_s3 * by, ..car };
        let stickier = TwoPhase { accel_ft_s2: car.accel_ft_s2 * by, ..car };
        prop_assert!(stickier.time_s(x) < car.time_s(x) && stickier.speed_ft_s(x) > car.speed_ft_s(x));
        let limited = x > car.switch_ft();
        prop_assert_eq!(stronger.time_s(x) < car.time_s(x), limited);
        prop_assert_eq!(stronger.speed_ft_s(x) > car.speed_ft_s(x), limited);
        // The exponents are the slopes, and the two of them hang together by the dimensions.
        let step = 1e-5_f64;
        let slope = |up: f64, down: f64| (up / down).ln() / ((1.0 + step) / (1.0 - step)).ln();
        let [up, down] = [1.0 + step, 1.0 - step].map(|by| TwoPhase { accel_ft_s2: car.accel_ft_s2 * by, ..car });
        if (x / car.switch_ft() - 1.0).abs() > 1e-3 {
            close(slope(up.time_s(x), down.time_s(x)), car.tires_on_time(x), 1e-6)?;
            close(slope(up.speed_ft_s(x), down.speed_ft_s(x)), car.tires_on_speed(x), 1e-6)?;
        }
        // Longer roll-out: a quicker slip, and more speed at the mark.
        let (shallow, deep) = (r + 0.1, r);
        prop_assert!(car.slip_time_s(x, shallow) < car.slip_time_s(x, deep));
        prop_assert!(car.speed_ft_s(x + shallow) > car.speed_ft_s(x + deep));
        close(car.slip_time_s(x, 0.0), car.time_s(x), 1e-12)?;
        close(car.power_on_slip_time(x, 0.0), car.power_on_time(x), 1e-12)?;
        // Without a power limit and without a launch: the limits of the exponents.
        let tires = TwoPhase { power_ft2_s3: car.power_ft2_s3 * 1e6, ..car };
        prop_assert_eq!((tires.power_on_time(x), tires.tires_on_time(x)), (0.0, -0.5));
        let power = TwoPhase { accel_ft_s2: car.accel_ft_s2 * 1e6, ..car };
        close(power.power_on_time(x), -1.0 / 3.0, 1e-6)?;
        close(power.power_on_speed(x), 1.0 / 3.0, 1e-6)?;
        close(power.time_s(1_320.0) * power.speed_mph(1_320.0), 1_350.0, 1e-3)?;
    }

    #[test]
    fn a_slip_gives_a_car_that_prints_it(t60 in 0.9..2.6_f64, mph in 60.0..250.0_f64, r in 0.0..1.1_f64) {
        let least = TwoPhase { accel_ft_s2: 1e7, power_ft2_s3: TwoPhase::fitted(9.0, mph, 1_320.0, r).unwrap().power_ft2_s3 };
        match TwoPhase::fitted(t60, mph, 1_320.0, r) {
            Some(car) => close(car.slip_time_s(60.0, r), t60, 1e-9)?,
            // Even with all the grip there is, the power is not enough; or it takes a thousand times a launch.
            None => prop_assert!(least.slip_time_s(60.0, r) > t60 * (1.0 - 1e-3)),
        }
    }
}

#[test]
fn factors_are_one_in_their_reference_air() {
    assert!((correction_j1349(25.0, 99_000.0) - 1.0).abs() < 1e-12);
    assert!((correction_dry((60.0 - 32.0) / 1.8, 29.92 * PA_PER_INHG) - 1.0).abs() < 1e-12);
    assert!(pressure_altitude_ft(101_325.0).abs() < 1e-9 && isa_height_ft(101_325.0).abs() < 1e-9);
}
