//! ET and mph: cube-root laws, the two-phase model, what a slip says.

use crate::book::Check;
use slipbook::air::{
    FT_S_PER_MPH, G_FT_S2, TwoPhase, average_g, carried, least_power_hp, mean_mph, trap_power_hp, trap_power_with_km_hp,
};

/// So much grip that power is all.
const STICKY_G: f64 = 1e6;

pub fn cube_root(c: &mut Check) {
    let weight = c.input("W_lb");
    if let Some(mph) = c.given("mph") {
        c.is("hp_mph_234", trap_power_hp(weight, mph, 1320.0));
        c.is("hp_mph_225", trap_power_with_km_hp(weight, mph, 1320.0, 225.0));
        for key in ["hp_et_5_825", "hp_et_6_290"] {
            c.left(key, "power from ET is not shipped: ET hangs on the launch, and its constants are from memory");
        }
        return;
    }
    let hp = c.input("P_hp");
    let ideal = TwoPhase::from_weight(weight, hp, STICKY_G);
    let (mph, et) = (ideal.speed_mph(1320.0), ideal.time_s(1320.0));
    for (key, ours) in
        [("mph_const", mph), ("et_const", et), ("et_times_mph", et * mph), ("mph_ideal", mph), ("et_ideal", et)]
    {
        c.is(key, ours);
    }
    assert!((least_power_hp(weight, mph, 1320.0) / hp - 1.0).abs() < 1e-9);
    for key in c.keys() {
        if key.starts_with("et_k") {
            c.left(&key, "ET of power is not shipped: ET hangs on the launch, and Ke is from memory");
        } else if let Some(km) = key.strip_prefix("mph_k").and_then(|k| k[..3].parse::<f64>().ok()) {
            // Ours asks for the power behind a speed: the entry's speed must give the entry's power.
            let power = trap_power_with_km_hp(weight, c.wanted(&key).unwrap(), 1320.0, km);
            let within = 3.0 * c.entry.rtol.unwrap();
            c.look(&key, ((power / hp - 1.0).abs() > within).then(|| format!("its power is {power}, not {hp}")));
        }
    }
}

/// The number in the middle of a key: `t660_s`.
fn distance(key: &str, before: &str, after: &str) -> Option<f64> {
    key.strip_prefix(before)?.strip_suffix(after)?.parse().ok()
}

/// What a key has at a distance.
type Of<'a> = &'a dyn Fn(f64) -> f64;

pub fn two_phase(c: &mut Check) {
    let car = TwoPhase::from_weight(c.input("W_lb"), c.input("P_whp"), c.input("a_g"));
    for key in c.keys() {
        let name = key.strip_prefix("cross.").unwrap_or(&key);
        let forms: [(&str, &str, Of); 8] = [
            ("t", "_s", &|x| car.time_s(x)),
            ("v", "_mph", &|x| car.speed_mph(x)),
            ("n_et", "", &|x| car.power_on_time(x)),
            ("n_mph", "", &|x| car.power_on_speed(x)),
            ("n_P_et", "", &|x| car.power_on_time(x)),
            ("n_P_mph", "", &|x| car.power_on_speed(x)),
            ("n_a_et", "", &|x| car.tires_on_time(x)),
            ("n_a_mph", "", &|x| car.tires_on_speed(x)),
        ];
        let by_distance = forms.iter().find_map(|(before, after, of)| Some(of(distance(name, before, after)?)));
        let ours = match name {
            "x_switch_ft" => Some(car.switch_ft()),
            // Both follow the tires: seconds at the line for a second at 60 ft.
            "dt1320_per_dt60" => {
                Some(car.tires_on_time(1320.0) * car.time_s(1320.0) / (car.tires_on_time(60.0) * car.time_s(60.0)))
            }
            _ => by_distance,
        };
        match ours {
            // Exponents by finite differences.
            Some(ours) if key.starts_with("cross.") => c.near(&key, ours, 0.0, 1e-6),
            Some(ours) => c.is(&key, ours),
            None => {}
        }
    }
    // The model without drag of the test below is ours.
    if c.input("a_g") < 10.0 {
        let rolled = Dragged { car, drag_per_ft: 0.0 }.run(1320.0);
        assert!((rolled[0] / car.time_s(1320.0) - 1.0).abs() < 1e-6, "{}", c.entry.id);
        assert!((rolled[1] / car.speed_ft_s(1320.0) - 1.0).abs() < 1e-6, "{}", c.entry.id);
    }
}

pub fn eighth_quarter(c: &mut Check) {
    let car = TwoPhase::from_weight(3300.0, 450.0, STICKY_G);
    // The limit of no launch at all, as far as the grip above is from it.
    c.near("et_ratio", car.time_s(1320.0) / car.time_s(660.0), 1e-9, 0.0);
    c.near("mph_ratio", car.speed_mph(1320.0) / car.speed_mph(660.0), 1e-9, 0.0);
}

pub fn constant_power(c: &mut Check) {
    let (v1, v2, t) = (c.input("v1_m_s"), c.input("v2_m_s"), c.input("t_s"));
    let per_kg = (v2 * v2 - v1 * v1) / (2.0 * t);
    let mass = c.input("P_W") / per_kg;
    // Meters do as well as feet: at constant power alone, v^3 = 3 p x.
    let train = TwoPhase { accel_ft_s2: 1e6, power_ft2_s3: per_kg };
    let [x1, x2] = [v1, v2].map(|v| v.powi(3) / (3.0 * per_kg));
    assert!((train.time_s(x2) - train.time_s(x1) - t).abs() < 1e-6 && (train.speed_ft_s(x2) - v2).abs() < 1e-9);
    c.near("mass_kg", mass, 0.025, 0.0);
    c.near("distance_m", x2 - x1, 0.01, 0.0);
    c.near("cross.mass_kg", mass, 1e-9, 0.0);
    c.near("cross.distance_m", x2 - x1, 1e-9, 0.0);
}

pub fn splits(c: &mut Check) {
    if let Some(rollout) = c.given("rollout_in") {
        // All tires, no limit of power.
        let (s, r) = (c.input("s_ft"), rollout / 12.0);
        let car = TwoPhase::from_weight(3000.0, 1e6, c.input("a_g"));
        let t = car.slip_time_s(s, r);
        c.is("t60_s", t);
        c.is("v60_mph", car.speed_mph(s + r));
        c.is("a_from_slip_g", average_g(s, t, 0.0));
        c.is("t60_no_rollout_s", car.time_s(s));
        assert!((average_g(s, t, r) - c.input("a_g")).abs() < 1e-9, "{}", c.entry.id);
    } else if let (Some(s), Some(t)) = (c.given("s_ft"), c.given("t_s")) {
        let g = average_g(s, t, 0.0);
        c.is("a_g", g);
        c.is("a_ft_s2", g * G_FT_S2);
        c.is("v_end_mph", g * G_FT_S2 * t / FT_S_PER_MPH);
    } else if let (Some(length), Some(t)) = (c.given("trap_ft"), c.given("dt_s")) {
        c.is("mph", mean_mph(length, t));
    } else if let Some(x) = c.given("x_m") {
        let (t, v) = (c.input("t_s"), c.input("v_m_s"));
        // Rounded to 1 m/s2 in print; the two others are what a car that is not uniformly accelerated gives.
        c.near("a1", average_g(x / 0.3048, t, 0.0) * 9.806_65, 1e-9, 0.0);
        c.near("a2", v / t, 1e-9, 0.0);
        c.near("a3", v * v / (2.0 * x), 1e-9, 0.0);
        let printed: Vec<f64> = c
            .value("cross.published_rounded")
            .unwrap()
            .as_array()
            .unwrap()
            .iter()
            .filter_map(crate::book::number)
            .collect();
        let ours = [average_g(x / 0.3048, t, 0.0) * 9.806_65, v / t, v * v / (2.0 * x)].map(f64::round);
        c.look("cross.published_rounded", (printed != ours).then(|| format!("ours {ours:?}")));
    } else {
        let entry = c.entry;
        let at = |x: &str| entry.inputs.get(&format!("t{x}")).and_then(crate::book::number);
        for key in c.keys() {
            let (from, to, speed) = match key.strip_prefix("avg_mph_").and_then(|k| k.split_once('_')) {
                Some((from, to)) => (from.to_owned(), to.to_owned(), true),
                None => match key.strip_prefix('t').and_then(|k| k.split_once("_to_t")) {
                    Some((from, to)) => (from.to_owned(), to.to_owned(), false),
                    None => continue,
                },
            };
            let (Some(t1), Some(t2)) = (at(&from), at(&to)) else { continue };
            let feet = to.parse::<f64>().unwrap() - from.parse::<f64>().unwrap();
            let mph = mean_mph(feet, t2 - t1);
            // A segment's time is its length at its speed.
            c.is(&key, if speed { mph } else { feet / (mph * FT_S_PER_MPH) });
        }
    }
}

pub fn density_correction(c: &mut Check) {
    if let Some(n) = c.given("n") {
        let ratio = c.input("s2") / c.input("s1");
        c.is("et2_s", carried(c.input("et1_s"), ratio, -n));
        c.is("mph2", carried(c.input("mph1"), ratio, n));
        return;
    }
    let car = TwoPhase::from_weight(c.input("W_lb"), c.input("P_whp"), c.input("a_g"));
    // Drag is not in our model. With it, power by density: this is how far the model's exponents are from a car's.
    let drag_per_ft = 0.5 * c.input("rho0_slug_ft3") * c.input("CdA_ft2") / (c.input("W_lb") / G_FT_S2);
    let in_air = |ratio: f64| Dragged {
        car: TwoPhase { power_ft2_s3: car.power_ft2_s3 * ratio, ..car },
        drag_per_ft: drag_per_ft * ratio,
    };
    let step = 0.01;
    let slope = |x: f64, which: usize| {
        let [up, down] = [1.0 + step, 1.0 - step].map(|r: f64| (in_air(r).run(x)[which].ln(), r.ln()));
        (up.0 - down.0) / (up.1 - down.1)
    };
    for key in c.keys() {
        if let Some(x) = distance(&key, "n_et", "") {
            c.is(&key, slope(x, 0));
            c.between(&key, slope(x, 0), car.power_on_time(x), 0.025);
        } else if let Some(x) = distance(&key, "n_mph", "") {
            c.is(&key, slope(x, 1));
            c.between(&key, slope(x, 1), car.power_on_speed(x), 0.07);
        }
    }
}

/// The two-phase model with drag, by small steps of speed squared over distance.
struct Dragged {
    car: TwoPhase,
    /// 0.5 rho CdA/m, 1/ft.
    drag_per_ft: f64,
}

impl Dragged {
    /// Time and speed at `x_ft`: steps of equal speed, each with its time and distance by Simpson's rule, so that the
    /// beginning, where speed is 0, needs no care.
    fn run(&self, x_ft: f64) -> [f64; 2] {
        let accel = |v: f64| self.car.accel_ft_s2.min(self.car.power_ft2_s3 / v) - self.drag_per_ft * v * v;
        let (mut t, mut x, mut v) = (0.0, 0.0, 0.0_f64);
        let mut step = 0.05;
        loop {
            let simpson = |of: &dyn Fn(f64) -> f64| step / 6.0 * (of(v) + 4.0 * of(v + step / 2.0) + of(v + step));
            let (dt, dx) = (simpson(&|v| 1.0 / accel(v)), simpson(&|v| v / accel(v)));
            if x + dx < x_ft {
                (t, x, v) = (t + dt, x + dx, v + step);
            } else if step > 1e-9 {
                step /= 2.0;
            } else {
                return [t, v];
            }
        }
    }
}
