"""Topics D, C.tire and C.trap_rpm of references.toml, from an entry's inputs to its values.

Written apart from the Rust: in SI units, and the joints by where their pins lie in space. NumPy alone.
"""

import math

import numpy as np

INCH = 0.0254  # m, exact
MILE = 1609.344  # m, exact
G0 = 9.80665  # m/s2, exact
POUND = 0.45359237  # kg, exact
PSI = POUND * G0 / INCH**2  # Pa


def omega(rpm):
    return rpm * 2 * math.pi / 60


# --- lines and joints ------------------------------------------------------------------------------------------------


def direction(top_deg, side_deg):
    v = np.array([1, math.tan(math.radians(top_deg)), math.tan(math.radians(side_deg))])
    return v / np.linalg.norm(v)


def angle_between_deg(a, b):
    """By half the sum and half the difference of two unit vectors (Kahan)."""
    return math.degrees(2 * math.atan2(np.linalg.norm(a - b), np.linalg.norm(a + b)))


def frame(axis):
    """Two directions across a shaft; the second is the normal of the side view, turned onto the shaft."""
    across = np.array([0.0, 1.0, 0.0])
    across = across - axis * (across @ axis)
    across /= np.linalg.norm(across)
    return np.cross(across, axis), across


def driven(pin_in, axis_out):
    """The other pin of a cross is at right angles to the first and to its own shaft."""
    pin = np.cross(pin_in, axis_out)
    return pin / np.linalg.norm(pin)


def speeds(axes, turns, wrong=False):
    """Speed of the last shaft for 1 of the first, at turns of the first yoke from the plane of the first two lines.

    The rates are exact: for pins p, q of a cross with p.q = 0, p' = W1 x p and q' = W2 x q, so W1 (d1 x p).q + W2 (d2 x q).p = 0.
    """
    out = []
    for turn in turns:
        up, across = frame(axes[0])
        pin = up * math.cos(turn) + across * math.sin(turn)
        rate, shaft = 1.0, axes[0]
        for i, axis in enumerate(axes[1:]):
            q = driven(pin, axis)
            rate *= -(np.cross(shaft, pin) @ q) / (np.cross(axis, q) @ pin)
            # The yoke at the other end of this shaft holds the next cross by a pin in line with this one, or a quarter turn off.
            pin, shaft = (np.cross(axis, q) if wrong else q), axis
        out.append(rate)
    return np.array(out)


def in_plane(*slopes):
    return [direction(0, s) for s in slopes]


def extreme(of, low, high, sign):
    """Golden section."""
    ratio = (math.sqrt(5) - 1) / 2
    a, b = low, high
    for _ in range(90):
        c, d = b - ratio * (b - a), a + ratio * (b - a)
        a, b = (a, d) if sign * of(c) > sign * of(d) else (c, b)
    return sign * max(sign * of((a + b) / 2), sign * of(low), sign * of(high))


def quarter(axes, wrong=False):
    """Speeds where an in-plane driveline is at its extremes: the first yoke in the plane and across it."""
    return sorted(speeds(axes, [0, math.pi / 2], wrong))


def root(of, low, high):
    for _ in range(200):
        mid = (low + high) / 2
        low, high = (mid, high) if (of(low) > 0) == (of(mid) > 0) else (low, mid)
    return (low + high) / 2


# --- topics ----------------------------------------------------------------------------------------------------------


def d_operating_angle(i):
    t, s, p = i["trans_deg"], i["shaft_deg"], i["pinion_line_deg"]
    loaded = p + i.get("windup_deg", 0)
    front, rest, wound = abs(t - s), abs(s - p), abs(s - loaded)
    return {
        "front_deg": front,
        "rear_deg": rest,
        "rear_static_deg": rest,
        "rear_loaded_deg": wound,
        "pinion_line_loaded_deg": loaded,
        "difference_deg": front - rest,
        "difference_loaded_deg": front - wound,
    }


def d_compound(i):
    first, second = i.get("shaft1", [0, 0]), i.get("shaft2") or [i["top_deg"], i["side_deg"]]
    workshop = math.sqrt((first[0] - second[0]) ** 2 + (first[1] - second[1]) ** 2)
    return {
        "exact_deg": angle_between_deg(direction(*first), direction(*second)),
        "approx_deg": workshop,
        "cross.published_rounded_deg": round(workshop, 1),
    }


def d_cardan(i):
    if "swing_rpm" in i:
        # cos^2 b + q cos b - 1 = 0.
        q = i["swing_rpm"] / i["rpm"]
        c = max(np.roots([1, q, -1]).real)
        return {"cross.beta_deg": math.degrees(math.acos(c)), "cross.max_rpm": i["rpm"] / c, "cross.min_rpm": i["rpm"] * c}
    beta = i["beta_deg"]
    axes = in_plane(0, beta)
    low, high = quarter(axes)
    out = {"min": low, "max": high, "spread": high - low, "at_45": speeds(axes, [math.pi / 4])[0]}
    b = math.radians(beta)
    # The crossing of the speeds, where the lead is greatest: tan(out) = tan(in)/cos b.
    lead = lambda th: math.atan2(math.sin(th) / math.cos(b), math.cos(th)) - th
    even = root(lambda th: speeds(axes, [th])[0] - 1, 0.1, math.pi / 2 - 0.1)
    out |= {"theta_deg": math.degrees(even), "angle_lead_exact_deg": math.degrees(lead(even))}
    if "rpm" in i:
        w, rpm = omega(i["rpm"]), i["rpm"]
        # The angular acceleration is the speed's change, by a central difference in the complex plane.
        step = 1e-20
        speed = lambda th: math.cos(b) / (1 - math.sin(b) ** 2 * np.cos(th) ** 2)
        change = lambda th: np.imag(speed(th + step * 1j)) / step * w**2
        double = in_plane(beta, 0, beta)
        wrong = quarter(double, wrong=True)
        out |= {
            "alpha_max_rad_s2": extreme(change, math.pi / 2, math.pi, 1),
            "alpha_short_rad_s2": (w * b) ** 2,
            "cross.mid_min_rpm": rpm * low,
            "cross.out_min_wrong_phase_rpm": rpm * wrong[0],
            "cross.out_max_wrong_phase_rpm": rpm * wrong[1],
            "cross.out_right_rpm": rpm * quarter(double)[1],
        }
    return out


def d_residual(i):
    w = omega(i["rpm"])
    if "joint1_deg" in i:
        alone = math.degrees(math.sqrt(400) / w)
        return {"cross.joint2_deg_formula": [math.sqrt(alone**2 + b**2) for b in i["joint1_deg"]]}
    b1, b2 = i["b1_deg"], i["b2_deg"]
    rad1, rad2 = math.radians(b1), math.radians(b2)
    low, high = quarter(in_plane(b1, 0, b2))
    # High/low = 1/c^2.
    exact = math.acos(math.sqrt(low / high))
    return {
        "b_eq_deg": math.degrees(math.sqrt(abs(rad1**2 - rad2**2))),
        "b_eq_exact_deg": math.degrees(exact),
        "b_eq_out_of_phase_deg": math.degrees(math.sqrt(rad1**2 + rad2**2)),
        "residual_accel_rad_s2": abs((w * rad1) ** 2 - (w * rad2) ** 2),
        "inertia_accel_rad_s2": max((w * rad1) ** 2, (w * rad2) ** 2),
    }


def critical_rpm(outside, inside, length, modulus, density):
    """SI: the sine is the lowest form of a beam on pinned ends, so w^2 = (pi/L)^4 E I/(rho A)."""
    area = math.pi / 4 * (outside**2 - inside**2)
    second_moment = math.pi / 64 * (outside**4 - inside**4)
    return math.sqrt((math.pi / length) ** 4 * modulus * second_moment / (density * area)) * 30 / math.pi


def critical_rpm_by_differences(outside, inside, length, modulus, density, pieces):
    """The same by the eigenvalue of the beam's equation in finite differences, pinned ends."""
    h = length / pieces
    n = pieces - 1
    second = (np.diag(-2 * np.ones(n)) + np.diag(np.ones(n - 1), 1) + np.diag(np.ones(n - 1), -1)) / h**2
    lowest = np.linalg.eigvalsh(second @ second)[0]
    area = math.pi / 4 * (outside**2 - inside**2)
    second_moment = math.pi / 64 * (outside**4 - inside**4)
    return math.sqrt(lowest * modulus * second_moment / (density * area)) * 30 / math.pi


def d_critical_speed(i):
    outside, inside = i["D_in"] * INCH, (i["D_in"] - 2 * i["wall_in"]) * INCH
    tube = (outside, inside, i["L_in"] * INCH, i["E_psi"] * PSI, i["weight_lb_in3"] * POUND / INCH**3)
    rpm = critical_rpm(*tube)
    assert abs(critical_rpm_by_differences(*tube, 200) / rpm - 1) < 1e-4
    guide = 4.8e6 * math.sqrt(i["D_in"] ** 2 + (inside / INCH) ** 2) / i["L_in"] ** 2
    return {"rpm": rpm, "cross.rpm_guide_4p8e6": guide}


def c_tire(i):
    if "revs_per_mile" in i:
        radius = MILE / i["revs_per_mile"] / (2 * math.pi) / INCH
        return {"r_in": round(radius, 2), "cross.r_in": radius}
    if "r_free_in" in i:
        free, loaded = i["r_free_in"], i["r_loaded_in"]
        # Half the footprint, and the arc of the free tire that is pressed into it.
        half = math.sqrt(free**2 - loaded**2)
        rolling = free * half / (free * math.atan2(half, loaded))
        turns = MILE / (2 * math.pi * rolling * INCH)
        return {"r_eff_in": rolling, "r_eff_short_in": (2 * free + loaded) / 3, "revs_per_mile": turns}
    newton = i["load_lb"] * POUND * G0
    area = newton / (i["p_psi"] * PSI) / INCH**2
    return {"area_in2": area, "length_in": area / i["width_in"], "deflection_in": i["load_lb"] / i["k_lb_in"]}


def c_trap_rpm(i):
    ratio = i["gear"] * i["final"]
    of = lambda mph, diameter_in: mph * MILE / 3600 / (diameter_in * INCH / 2) * 60 / (2 * math.pi)
    rpm = of(i["mph"], i["dia_in"]) * ratio
    return {
        "rpm": rpm,
        "engine_rpm": rpm / (1 - i.get("slip", 0)),
        "rollout_in": math.pi * i["dia_in"],
        "const": of(1, 1),
        "cross.rpm_336": i["mph"] * ratio * 336 / i["dia_in"],
        "cross.rpm_exact": rpm,
    }


TOPICS = {
    "D.operating_angle": d_operating_angle,
    "D.compound": d_compound,
    "D.cardan": d_cardan,
    "D.residual": d_residual,
    "D.critical_speed": d_critical_speed,
    "C.tire": c_tire,
    "C.trap_rpm": c_trap_rpm,
}
