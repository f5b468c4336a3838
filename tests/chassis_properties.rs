//! What must hold of a chassis anywhere in the plausible range: sums, directions, limits, mirrors.

use proptest::prelude::*;
use slipbook::chassis::{
    AtRest, Coil, Corners, FourLink, LeafSeat, LeafSpring, Limiter, Link, OpenAxle, Point, RaisedAxle, Roll, Spinning,
    TorsionArm, TorsionBar, anti_squat_of_slope_pct, anti_squat_pct, bound_force_lb, contact_angle_deg, eye_loads,
    rear_spring_change_lb, ride_frequency_hz, series_rate_lb_in, side_transfer_lb, spin_up_transfer_lb,
    wheel_rate_lb_in,
};

fn close(a: f64, b: f64, within: f64) -> Result<(), TestCaseError> {
    prop_assert!((a - b).abs() <= within, "{a} and {b} are {:.3e} apart", (a - b).abs());
    Ok(())
}

/// The same to so many parts of the size.
fn same(a: f64, b: f64) -> Result<(), TestCaseError> {
    close(a, b, 1e-9 * a.abs().max(b.abs()).max(1e-6))
}

fn car() -> impl Strategy<Value = AtRest> {
    (1_500.0..4_500.0_f64, 0.35..0.65_f64, 90.0..125.0_f64, 12.0..30.0_f64).prop_map(|(weight_lb, rear, l, h)| AtRest {
        weight_lb,
        rear_lb: weight_lb * rear,
        wheelbase_in: l,
        cg_height_in: h,
    })
}

fn roll() -> impl Strategy<Value = Roll> {
    (0.0..500_000.0_f64, 50_000.0..900_000.0_f64, 50.0..66.0_f64, 45.0..66.0_f64).prop_map(|(kf, kr, tf, tr)| Roll {
        front_in_lb_per_rad: kf,
        rear_in_lb_per_rad: kr,
        front_tread_in: tf,
        rear_tread_in: tr,
    })
}

/// A leaf with its rear half no shorter than its front one, and not much softer there.
fn seat() -> impl Strategy<Value = LeafSeat> {
    (18.0..28.0_f64, 0.0..14.0_f64, 80.0..800.0_f64, 0.2..1.0_f64).prop_map(|(a, longer, ka, softer)| {
        let b = a + longer;
        LeafSeat { front_in: a, rear_in: b, front_lb_in: ka, rear_lb_in: ka * (a / b).powi(3) * softer }
    })
}

fn spring() -> impl Strategy<Value = LeafSpring> {
    (18.0..28.0_f64, 26.0..38.0_f64, 0.2..0.4_f64, 1.0..3.0_f64, 1.0..5.0_f64).prop_map(|(a, b, t, full, graduated)| {
        LeafSpring {
            front_in: a,
            rear_in: b,
            width_in: 2.5,
            thickness_in: t,
            full_leaves: full,
            graduated_leaves: graduated,
            clamped_front_in: 0.0,
            clamped_rear_in: 0.0,
            modulus_psi: slipbook::chassis::E_STEEL_PSI,
        }
    })
}

/// What scales say under the axle that stays down, the hub of the other raised: the car turned about the hub that stays.
/// Written apart from ours, as the place of the center of gravity over the ground.
fn weighed(car: &AtRest, front_up: bool, radius_down: f64, radius_up: f64, lift: f64) -> RaisedAxle {
    let down_lb = if front_up { car.rear_lb } else { car.front_lb() };
    let (x_up, y_up) = (car.wheelbase_in, radius_up - radius_down);
    let (x, y) = (car.wheelbase_in * (1.0 - down_lb / car.weight_lb), car.cg_height_in - radius_down);
    let turned = ((y_up + lift) / x_up.hypot(y_up)).asin() - y_up.atan2(x_up);
    let along = |x: f64, y: f64| x * turned.cos() - y * turned.sin();
    RaisedAxle {
        weight_lb: car.weight_lb,
        level_lb: down_lb,
        raised_lb: car.weight_lb * (1.0 - along(x, y) / along(x_up, y_up)),
        wheelbase_in: car.wheelbase_in,
        lift_in: lift,
        radius_down_in: radius_down,
        radius_up_in: radius_up,
    }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 1_000, failure_persistence: None, ..ProptestConfig::default() })]

    // Statement 7.
    #[test]
    fn loads_sum_to_the_weight(car in car(), a in 0.0..4.0_f64, times in 1.1..3.0_f64) {
        let (front, rear) = car.axles_lb(a);
        same(front + rear, car.weight_lb)?;
        prop_assert!(front >= 0.0);
        same(car.transfer_lb(a * times), car.transfer_lb(a) * times)?;
        same(AtRest { cg_height_in: car.cg_height_in * times, ..car }.transfer_lb(a), car.transfer_lb(a) * times)?;
        same(AtRest { wheelbase_in: car.wheelbase_in * times, ..car }.transfer_lb(a) * times, car.transfer_lb(a))?;
        let up = car.wheels_up_g();
        close(car.axles_lb(up).0, 0.0, 1e-6)?;
        prop_assert!(car.axles_lb(up * 0.99).0 > 0.0);
    }

    #[test]
    fn wheels_that_spin_up_add_load_and_thrust(car in car(), a in 0.1..3.0_f64, i in 1.0..40.0_f64, r in 9.0..17.0_f64) {
        let wheels = [Spinning { inertia_in_lb_s2: i, radius_in: r }];
        let added = spin_up_transfer_lb(&wheels, a, car.wheelbase_in);
        prop_assert!(added > 0.0 && car.thrust_lb(a, &wheels) > car.thrust_lb(a, &[]));
        same(car.thrust_lb(a, &[]), car.weight_lb * a)?;
        same(spin_up_transfer_lb(&[wheels[0]; 2], a, car.wheelbase_in), 2.0 * added)?;
        // The couple's thrust over the radius is what the ground has to give for it.
        same((car.thrust_lb(a, &wheels) - car.thrust_lb(a, &[])) * r, added * car.wheelbase_in)?;
    }

    #[test]
    fn tires_hold_what_their_load_allows(
        car in car(), mu in 0.3..3.0_f64, share in 0.0..1.0_f64, r in 12.0..17.0_f64, n in 2.5..6.0_f64,
    ) {
        let level = AtRest { cg_height_in: 1e-9, ..car };
        close(level.rear_drive_limit_lb(mu, None).unwrap(), mu * car.rear_lb, 1e-5)?;
        close(level.front_drive_limit_lb(mu), mu * car.front_lb(), 1e-5)?;
        let open = OpenAxle { tire_radius_in: r, final_drive: n, tread_in: 57.0, front_roll_share: share };
        let free = OpenAxle { front_roll_share: 0.0, ..open };
        if let Some(locked) = car.rear_drive_limit_lb(mu, None) {
            prop_assert!(car.rear_drive_limit_lb(mu, Some(&open)).unwrap() <= locked);
            prop_assert_eq!(car.rear_drive_limit_lb(mu, Some(&free)), Some(locked));
            // The load that this thrust brings is the load that it needs.
            same(mu * (car.rear_lb + car.transfer_lb(locked / car.weight_lb)), locked)?;
            let half = AtRest { rear_lb: car.weight_lb / 2.0, ..car };
            prop_assert!(half.rear_drive_limit_lb(mu, None).unwrap() > half.front_drive_limit_lb(mu));
        }
        let limit = car.launch_limit(mu);
        prop_assert!(limit.most_g <= limit.wheels_up_g && limit.most_g <= mu + 1e-12);
        prop_assert_eq!(limit.front_lifts_first, limit.traction_g.is_none_or(|g| g > limit.wheels_up_g));
        let at = car.launch_limit(limit.wheels_up_g);
        // As near as the difference from 1 lets it be.
        if let Some(g) = at.traction_g {
            close(g / limit.wheels_up_g, 1.0, 1e-6)?;
        }
    }

    // Statement 8.
    #[test]
    fn torque_reaction_sums_to_nothing(car in roll(), torque in 100.0..3_000.0_f64) {
        let change = car.torque_reaction(torque).change;
        close(change.total_lb(), 0.0, 1e-9)?;
        let moment = (change.lf_lb - change.rf_lb) * car.front_tread_in + (change.lr_lb - change.rr_lb) * car.rear_tread_in;
        close(moment, 0.0, 1e-6)?;
        prop_assert!(change.lr_lb >= 0.0 && change.rf_lb >= 0.0);
        prop_assert_eq!(car.torque_reaction(-torque).change, change.mirrored());
        prop_assert_eq!(car.torque_reaction(-torque).roll_right_deg, -car.torque_reaction(torque).roll_right_deg);
        same(change.lr_lb, side_transfer_lb(torque, car.rear_tread_in, car.front_share()))?;
        // Nothing holds: nothing goes over; all holds: all that the couple can.
        let soft = Roll { front_in_lb_per_rad: 0.0, ..car };
        prop_assert_eq!(soft.torque_reaction(torque).change.rear_difference_lb(), 0.0);
        let stiff = Roll { front_in_lb_per_rad: 1e15, ..car }.torque_reaction(torque).change.lr_lb;
        prop_assert!(stiff >= change.lr_lb);
        close(stiff / (torque * 12.0 / car.rear_tread_in), 1.0, 1e-6)?;
    }

    #[test]
    fn the_shim_cancels_whatever_the_front(car in roll(), torque in 100.0..3_000.0_f64, kf in 0.0..500_000.0_f64) {
        let shim = car.canceling_shim_in(torque);
        let other = Roll { front_in_lb_per_rad: kf, ..car };
        prop_assert_eq!(other.canceling_shim_in(torque), shim);
        for car in [car, other] {
            let (shimmed, launched) = (car.right_rear_shim(shim), car.torque_reaction(torque).change);
            close(shimmed.rear_difference_lb() + launched.rear_difference_lb(), 0.0, 1e-9)?;
            close(shimmed.lf_lb + launched.lf_lb, 0.0, 1e-9)?;
            close(shimmed.total_lb(), 0.0, 1e-9)?;
        }
    }

    #[test]
    fn a_mirrored_car_has_mirrored_shares(lf in 300.0..1_200.0_f64, rf in 300.0..1_200.0_f64, lr in 300.0..1_200.0_f64, rr in 300.0..1_200.0_f64) {
        let corners = Corners { lf_lb: lf, rf_lb: rf, lr_lb: lr, rr_lb: rr };
        let (ours, mirror) = (corners.shares().unwrap(), corners.mirrored().shares().unwrap());
        same(ours.left_pct, mirror.right_pct)?;
        same(ours.cross_rf_lr_pct, mirror.cross_lf_rr_pct)?;
        same(ours.front_pct, mirror.front_pct)?;
        for pair in [(ours.front_pct, ours.rear_pct), (ours.left_pct, ours.right_pct), (ours.cross_rf_lr_pct, ours.cross_lf_rr_pct)] {
            same(pair.0 + pair.1, 100.0)?;
        }
        prop_assert_eq!(corners.mirrored().rear_difference_lb(), -corners.rear_difference_lb());
    }

    // Statement 9.
    #[test]
    fn a_hundred_per_cent_leaves_the_springs_alone(car in car(), x in 15.0..90.0_f64, transfer in 100.0..1_500.0_f64, more in 1.01..2.0_f64) {
        let (l, h) = (car.wheelbase_in, car.cg_height_in);
        let on_the_line = anti_squat_pct(x, x * h / l, l, h);
        same(on_the_line, 100.0)?;
        close(rear_spring_change_lb(transfer, on_the_line), 0.0, 1e-9 * transfer)?;
        prop_assert!(anti_squat_pct(x, x * h / l * more, l, h) > on_the_line);
        prop_assert!(anti_squat_pct(x * more, x * h / l, l, h) < on_the_line);
        prop_assert_eq!(anti_squat_of_slope_pct(0.0, l, h), 0.0);
        prop_assert_eq!(rear_spring_change_lb(transfer, 0.0), transfer);
    }

    /// Lift by the forces in the bars is lift by the instant center: two ways that share nothing.
    #[test]
    fn four_link_forces_agree_with_the_center(
        yl in 5.0..9.0_f64, yu in 15.0..20.0_f64, rise in -3.0..4.0_f64, fall in -6.0..4.0_f64, run in 14.0..26.0_f64, off in -2.0..2.0_f64,
        thrust in 500.0..6_000.0_f64,
    ) {
        let point = |ahead_in, height_in| Point { ahead_in, height_in };
        let links = FourLink {
            lower: Link { rear: point(off, yl), front: point(run, yl + rise) },
            upper: Link { rear: point(-off, yu), front: point(run - 4.0, yu + fall) },
        };
        let (l, h) = (108.0, 20.0);
        let (Some(pct), Some(forces)) = (links.anti_squat_pct(l, h), links.forces(thrust)) else { return Ok(()) };
        prop_assume!(pct.abs() < 5_000.0);
        close(forces.lift_lb / (thrust * h / l) * 100.0, pct, 1e-5 * pct.abs().max(1.0))?;
    }

    // Statement 10.
    #[test]
    fn a_mixed_leaf_lies_between(spring in spring(), clamp in 1.0..8.0_f64) {
        let n = spring.full_leaves + spring.graduated_leaves;
        let rate = |s: LeafSpring| s.free_halves().unwrap().rate_free_lb_in();
        let mixed = rate(spring);
        let uniform = LeafSpring { full_leaves: n, graduated_leaves: 0.0, ..spring };
        let graduated = LeafSpring { full_leaves: 0.0, graduated_leaves: n, ..spring };
        prop_assert!(mixed < rate(uniform) && mixed > rate(graduated));
        for clamped in [LeafSpring { clamped_front_in: clamp, ..spring }, LeafSpring { clamped_rear_in: clamp, ..spring }] {
            prop_assert!(rate(clamped) > mixed);
            let (free, stiff) = (spring.seat_of_both().unwrap(), clamped.seat_of_both().unwrap());
            prop_assert!(stiff.rate_free_lb_in() > free.rate_free_lb_in());
            prop_assert!(stiff.k22_in_lb_per_rad() > free.k22_in_lb_per_rad());
        }
        // Of one section k is 3 E I L/(a^2 b^2), whatever the halves.
        let (a, b) = (spring.front_in, spring.rear_in);
        let e_i = spring.modulus_psi * n * spring.width_in * spring.thickness_in.powi(3) / 12.0;
        same(rate(uniform), 3.0 * e_i * (a + b) / (a * a * b * b))?;
    }

    #[test]
    fn the_seat_holds_what_is_put_on_it(seat in seat(), load in -500.0..1_500.0_f64, couple in 0.0..60_000.0_f64, stiffer in 1.1..10.0_f64) {
        let moved = seat.moved(load, couple);
        close(seat.k11_lb_in() * moved.up_in + seat.k12_lb() * moved.windup_rad, load, 1e-6)?;
        close(seat.k12_lb() * moved.up_in + seat.k22_in_lb_per_rad() * moved.windup_rad, couple, 1e-4)?;
        // By the springs and without them.
        let (ours, free) = (seat.eye_loads_at(moved), eye_loads(seat.front_in, seat.rear_in, load, couple));
        close(ours.front_lb, free.front_lb, 1e-6)?;
        close(ours.rear_lb, free.rear_lb, 1e-6)?;
        close(ours.front_lb + ours.rear_lb, load, 1e-6)?;
        prop_assert!(seat.k22_in_lb_per_rad() >= seat.windup_free_in_lb_per_rad() * (1.0 - 1e-12));
        let balanced = LeafSeat { rear_lb_in: seat.front_in * seat.front_lb_in / seat.rear_in, ..seat };
        same(balanced.k22_in_lb_per_rad(), balanced.windup_free_in_lb_per_rad())?;
        // A stiffer front half: a shorter arm, more anti-squat; rigid: the eye itself.
        let stiff = LeafSeat { front_lb_in: seat.front_lb_in * stiffer, ..seat };
        prop_assert!(stiff.anti_squat_pct(12.0, 108.0, 20.0) > seat.anti_squat_pct(12.0, 108.0, 20.0));
        if let (Some(soft), Some(stiff)) = (seat.pivot_ahead_in().filter(|x| *x > 0.0), stiff.pivot_ahead_in()) {
            prop_assert!(stiff < soft && stiff >= seat.front_in);
        }
        let rigid = LeafSeat { front_lb_in: seat.front_lb_in * 1e9, ..seat };
        close(rigid.pivot_ahead_in().unwrap() / seat.front_in, 1.0, 1e-6)?;
        same(rigid.anti_squat_pct(12.0, 108.0, 20.0) / anti_squat_pct(seat.front_in, 12.0, 108.0, 20.0), 1.0 / (rigid.pivot_ahead_in().unwrap() / seat.front_in))?;
    }

    // Statement 11.
    #[test]
    fn a_limiter_pushes_less_as_it_opens(
        seat in seat(), ahead in 6.0..14.0_f64, gap in 0.0..2.0_f64, wider in 0.01..1.0_f64, couple in 5_000.0..60_000.0_f64, load in 0.0..1_200.0_f64,
    ) {
        let at = |gap_in: f64| Limiter { ahead_in: ahead, gap_in };
        let bound = bound_force_lb(couple, ahead);
        let (hit, opened) = (at(gap).hit(&seat, couple), at(gap + wider).hit(&seat, couple));
        prop_assert!(opened.force_lb <= hit.force_lb && hit.force_lb <= bound * (1.0 + 1e-12));
        same(at(0.0).hit(&seat, couple).force_lb, bound)?;
        let just = ahead * couple / seat.k22_in_lb_per_rad();
        close(at(just * (1.0 - 1e-12)).hit(&seat, couple).force_lb, 0.0, 1e-6 * bound)?;
        prop_assert_eq!(at(just * 1.000_001).hit(&seat, couple).force_lb, 0.0);
        prop_assert_eq!(at(just * 1.000_001).hit(&seat, couple).tire_load_lb, hit.tire_load_without_lb);
        let (settled, settled_opened) = (at(gap).settled(&seat, load, couple), at(gap + wider).settled(&seat, load, couple));
        prop_assert!(settled_opened.force_lb <= settled.force_lb);
        // In contact the gap is shut, out of it open.
        let closed = settled.moved.up_in + ahead * settled.moved.windup_rad;
        if settled.force_lb > 0.0 { close(closed, gap, 1e-9)? } else { prop_assert!(closed <= gap + 1e-9) }
        if couple > ahead * load {
            prop_assert!(settled.force_lb <= bound * (1.0 + 1e-12));
            prop_assert!(at(0.0).settled(&seat, load, couple).force_lb <= at(0.0).hit(&seat, couple).force_lb * (1.0 + 1e-12));
        }
        // More gap never lowers the angle of contact; more separation never closes it.
        prop_assert!(contact_angle_deg(gap + wider, ahead) > contact_angle_deg(gap, ahead));
        let angle = hit.free_windup_rad.to_degrees().min(45.0);
        prop_assert!(at(gap).is_met(angle, 0.0) || !at(gap).is_met(angle, wider));
    }

    // Statement 12.
    #[test]
    fn bars_go_with_the_fourth_power(d in 0.7..1.3_f64, hole in 0.1..0.9_f64, l in 30.0..60.0_f64, times in 1.05..2.0_f64) {
        let bar = TorsionBar { outer_in: d, inner_in: 0.0, length_in: l, shear_modulus_psi: 11.5e6 };
        let rate = bar.rate_in_lb_per_rad();
        let hollow = TorsionBar { inner_in: d * hole, ..bar };
        prop_assert!(hollow.rate_in_lb_per_rad() < rate);
        same(TorsionBar { outer_in: d * times, ..bar }.rate_in_lb_per_rad(), rate * times.powi(4))?;
        same(TorsionBar { length_in: l * times, ..bar }.rate_in_lb_per_rad() * times, rate)?;
        prop_assert!(hollow.stress_psi(1e4) > bar.stress_psi(1e4));
    }

    #[test]
    fn the_arc_rises_more_than_the_line(
        rate in 12_000.0..40_000.0_f64, arm_in in 10.0..13.0_f64, load in 500.0..1_000.0_f64, share in 0.02..1.0_f64, angle_deg in -15.0..15.0_f64, times in 1.1..2.0_f64,
    ) {
        let level = TorsionArm { bar_in_lb_per_rad: rate, arm_in, angle_deg: 0.0, load_lb: load };
        same(level.wheel_rate_lb_in(), rate / (arm_in * arm_in))?;
        same(TorsionArm { arm_in: arm_in * times, ..level }.wheel_rate_lb_in() * times * times, level.wheel_rate_lb_in())?;
        let leaving = share * load;
        // More than the line as long as up to seven tenths of the twist go, less when all of it does.
        let (exact, line) = (level.rise_exact_in(leaving).unwrap(), level.rise_linear_in(leaving));
        let untwisted = (exact / arm_in).asin() / level.twist_deg().to_radians();
        prop_assert!(exact > line || untwisted > 0.7, "{exact} and {line} with {untwisted} of the twist gone");
        prop_assert!(level.rise_exact_in(load).unwrap() < level.rise_linear_in(load));
        // At any angle: the more leaves, the more it rises, and a thin bar more; a little at a time goes with the rate.
        let arm = TorsionArm { angle_deg, ..level };
        let rise = arm.rise_exact_in(leaving).unwrap();
        prop_assert!(rise > arm.rise_exact_in(leaving * 0.9).unwrap());
        let thick = TorsionArm { bar_in_lb_per_rad: rate * times, ..arm };
        prop_assert!(rise > thick.rise_exact_in(leaving).unwrap());
        let slope = (arm.rise_exact_in(0.01).unwrap() - arm.rise_exact_in(-0.01).unwrap()) / 0.02;
        close(slope * arm.wheel_rate_lb_in(), 1.0, 1e-5)?;
        // What leaves and comes back leaves nothing.
        let drooped = TorsionArm { angle_deg: (angle_deg.to_radians().sin() - rise / arm_in).asin().to_degrees(), load_lb: load - leaving, ..arm };
        close(drooped.twist_deg(), arm.twist_deg() - (arm.angle_deg - drooped.angle_deg), 1e-6)?;
    }

    #[test]
    fn coils_and_what_stands_in_series(d in 0.3..0.7_f64, mean in 2.5..6.0_f64, n in 5.0..12.0_f64, times in 1.1..2.0_f64, mr in 0.4..1.1_f64, kt in 700.0..2_000.0_f64) {
        let coil = Coil { wire_in: d, mean_in: mean, active_coils: n, shear_modulus_psi: 11.5e6 };
        let rate = coil.rate_lb_in();
        same(Coil { wire_in: d * times, ..coil }.rate_lb_in(), rate * times.powi(4))?;
        same(Coil { mean_in: mean * times, ..coil }.rate_lb_in() * times.powi(3), rate)?;
        same(wheel_rate_lb_in(rate, mr, 0.0), rate * mr * mr)?;
        close(wheel_rate_lb_in(rate, mr, 90.0), 0.0, 1e-9)?;
        prop_assert!(wheel_rate_lb_in(rate, mr, 25.0) < wheel_rate_lb_in(rate, mr, 20.0));
        let ride = series_rate_lb_in(rate, kt);
        prop_assert!(ride < rate && ride < kt);
        same(ride_frequency_hz(rate * 4.0, 850.0), 2.0 * ride_frequency_hz(rate, 850.0))?;
    }

    // Statement 13.
    #[test]
    fn one_car_has_one_height(
        car in car(), front in 11.0..14.0_f64, rear in 12.0..16.0_f64, lift in 8.0..30.0_f64, other in 8.0..30.0_f64,
    ) {
        let by_rear = weighed(&car, false, front, rear, lift);
        let by_front = weighed(&car, true, rear, front, other);
        close(by_rear.height().unwrap().height_in, car.cg_height_in, 1e-6)?;
        close(by_front.height().unwrap().height_in, car.cg_height_in, 1e-6)?;
        let equal = |lift| weighed(&car, false, front, front, lift).height().unwrap().height_in;
        close(equal(lift), equal(other), 1e-6)?;
        // Heavier on the scales: higher.
        let heavier = RaisedAxle { raised_lb: by_rear.raised_lb + 1.0, ..by_rear }.height().unwrap();
        let ours = by_rear.height().unwrap();
        prop_assert!(heavier.height_in > ours.height_in);
        close(heavier.height_in - ours.height_in, ours.in_per_lb, 1e-9)?;
    }
}
