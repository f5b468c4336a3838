"""Topic C of references.toml, from an entry's inputs to its values.

The leaves and the limiter are in leaves.py, C.tire and C.trap_rpm in driveline.py. Written apart from the Rust, and not by
the formulas that stand beside the values where there is another way: loads and link forces by free bodies solved as linear
systems, rates by derivatives along the path and by integration over the section, positions by root finding, oscillation by
eigenvalues.
"""

import math

import numpy as np
from scipy.integrate import quad
from scipy.optimize import brentq

from statics import COUPLE, G, NOTHING, THRUST, balance, fixed, gained, linear, polar_moment, push, slope, up

FINEST = {"xtol": 1e-14, "rtol": 1e-15}


# --- loads on the axles -------------------------------------------------------------------------------------------------


def accelerating(weight, rear, wheelbase, h, friction):
    """Acceleration in g and the front axle's load, with the rear tires' whole friction used."""
    cg = ((weight - rear) / weight * wheelbase, h)
    tire, front, a = balance([push((0, 0), (friction, 1)), up(wheelbase), push(cg, (-weight, 0))], [push(cg, (0, -weight))])
    return a, front, tire


def wheels_up(weight, front, wheelbase, h):
    """Acceleration in g that leaves the front axle no load."""
    cg = (front / weight * wheelbase, h)
    return balance([up(0), THRUST, push(cg, (-weight, 0))], [push(cg, (0, -weight))])[2]


def rolling_wheels(i):
    """The body, the rear and the front wheels apart, with the forces at the hubs and the drive torque between them."""
    a, g, wheelbase = i["a_m_s2"], i["g_m_s2"], i["L_m"]
    rear, front = (0, i["r_rear_m"]), (wheelbase, i["r_front_m"])
    three = lambda body=NOTHING, rear=NOTHING, front=NOTHING: np.concatenate([body, rear, front])
    between = lambda name, wrench: three(body=wrench, **{name: -wrench})
    unknown = [between(n, push(hub, d)) for n, hub in (("rear", rear), ("front", front)) for d in ((1, 0), (0, 1))]
    unknown += [between("rear", COUPLE)]
    unknown += [three(rear=THRUST), three(rear=up(0))]
    unknown += [three(front=push((wheelbase, 0), (1, 0))), three(front=up(wheelbase))]
    mass = lambda at, m: push(at, (-m * a, -m * g))
    wheels = lambda at, m, k: mass(at, 2 * m) + 2 * m * k**2 * a / at[1] * COUPLE
    loads = three(
        mass((i["x_cg_ahead_of_rear_m"], i["h_cg_m"]), i["m_body_kg"]),
        wheels(rear, i["m_rear_wheel_kg"], i["k_rear_m"]),
        wheels(front, i["m_front_wheel_kg"], i["k_front_m"]),
    )
    thrust, rear_load, _, front_load = balance(unknown, [loads])[5:] / 2
    return {"cross.F_rear_each_N": thrust, "cross.N_rear_each_N": rear_load, "cross.N_front_each_N": front_load}


def c_load_transfer(i):
    if "m_body_kg" in i:
        return rolling_wheels(i)
    if "mu" in i:
        a, _, tire = accelerating(i["W_lb"], i["W_lb"] * i["b_ft"] / i["L_ft"], i["L_ft"], i["h_ft"], i["mu"])
        return {"cross.Nr_each_lb": tire / 2, "cross.a_ft_s2": a * i["g_ft_s2"]}
    weight, front, wheelbase, h = i["W_lb"], i["Wf_lb"], i["L_in"], i["h_in"]
    cg = (front / weight * wheelbase, h)
    rear2, front2, _ = balance([up(0), up(wheelbase), THRUST], [push(cg, (-weight * i["a_g"], -weight))])
    lift = wheels_up(weight, front, wheelbase, h)
    return {"dW_lb": front - front2, "Wf2_lb": front2, "Wr2_lb": rear2, "a_wheels_up_g": lift}


def solid_axle(i):
    """Seven unknowns of a car at the limit of an axle whose driveshaft loads one tire more than the other."""
    t, weight = i["t_in"], i["W_lb"]
    at = linear(
        {"Fx": 1, "a": -weight},
        {"dW": i["L_in"], "a": -weight * i["h_in"]},
        {"left": 1, "right": 1, "dW": -1, "=": i["Wr_lb"]},
        {"Fx": i["r_in"], "Td": -i["Nf"]},
        {"Td": 1, "roll": -(i["Kf"] + i["Kr"])},
        {"left": t / 2, "right": -t / 2, "Td": -1, "roll": i["Kr"]},
        # Joined, the tires pull by what both bear; through an open differential, twice by what the lighter bears.
        {"Fx": 1, "left": -i["mu"], "right": -i["mu"]} if i["locked"] else {"Fx": 1, "right": -2 * i["mu"]},
    )
    side = (at["left"] - at["right"]) / 2
    out = {"Fx_lb": at["Fx"], "ax_g": at["a"], "dW_lb": at["dW"], "driveshaft_torque_lb_ft": at["Td"] / 12}
    return out | {"side_transfer_per_wheel_lb": side}


def c_traction_limit(i):
    if "Nf" in i:
        return solid_axle(i)
    if "v_m_s" in i:
        cg, wheelbase, mu = (i["L_m"] * (1 - i["a1_over_L"]), i["h_m"]), i["L_m"], i["mu"]
        speed = round(i["v_m_s"] * 3.6, 1) / 3.6  # 27.78 m/s stands for 100 km/h
        out = {}
        for name, rear, front in (("rear_drive", mu, 0), ("front_drive", 0, mu), ("all_wheel", mu, mu)):
            tires = [push((0, 0), (rear, 1)), push((wheelbase, 0), (front, 1)), push(cg, (-1, 0))]
            seconds = speed / (balance(tires, [push(cg, (0, -1))])[2] * i["g_m_s2"])
            out |= {f"t_{name}_s": round(seconds, 2), f"cross.t_{name}_s": seconds}
        return out
    weight, rear = i["W_lb"], i["Wr_lb"]
    a, front, _ = accelerating(weight, rear, i["L_in"], i["h_in"], i["mu"])
    lift = wheels_up(weight, weight - rear, i["L_in"], i["h_in"])
    return {"a_traction_g": a, "a_wheelstand_g": lift, "a_max_g": min(a, lift), "front_lifts_first": bool(front < 0)}


# --- roll ---------------------------------------------------------------------------------------------------------------


def rolled(kf, kr, tf, tr, *conditions):
    """Changes of four wheels' loads and of the rear springs', for a driveshaft torque Td and a shim at the right rear.

    Springs at the wheels; roll to the right is positive, and the axles' own loads do not change.
    """
    k = 2 * kr / tr**2
    return linear(
        {"SL": -tr / 2, "SR": tr / 2, "roll": kf, "Td": -1},  # the body, turned to the right
        {"LR": -tr / 2, "RR": tr / 2, "SL": tr / 2, "SR": -tr / 2, "Td": 1},  # the rear axle, turned to the left
        {"LF": -tf / 2, "RF": tf / 2, "roll": -kf},
        {"LF": 1, "RF": 1},
        {"LR": 1, "RR": 1},
        {"SL": 1, "SR": 1},
        {"SL": 1, "down": -k, "roll": k * tr / 2},
        {"SR": 1, "down": -k, "roll": -k * tr / 2, "shim": -k},
        *conditions,
    )


def c_torque_reaction(i):
    torque = [fixed("Td", i["driveshaft_torque_lb_ft"] * 12), fixed("shim")]
    if "Kf_share" in i:
        share, tread = i["Kf_share"] * 5e5, i["tread_in"]
        at = rolled(share, 5e5 - share, tread, tread, *torque)
        return {"dWy_lb": at["LR"], "RR_LR_difference_lb": at["LR"] - at["RR"]}
    at = rolled(i["Kf_in_lb_per_rad"], i["Kr_in_lb_per_rad"], i["tf_in"], i["tr_in"], *torque)
    return {"roll_deg": math.degrees(at["roll"])} | {f"d{w}_lb": at[w] for w in ("LF", "RF", "LR", "RR")}


def c_preload(i):
    """The shim that leaves the rear tires equal under the torque, and what it does at rest."""
    tr = i["tr_in"]
    car = (i["Kf_in_lb_per_rad"], i["Kr_in_lb_per_rad"], tr, tr)
    shim = rolled(*car, fixed("Td", i["driveshaft_torque_lb_ft"] * 12), {"RR": 1, "LR": -1})["shim"]
    rest = rolled(*car, fixed("Td"), fixed("shim", shim))
    more = rest["RR"] - rest["LR"]
    return {"dz_in": shim, "M_in_lb": more * tr / 2, "RR_minus_LR_lb": more}


def c_corner_weights(i):
    """A mean, and what is forward, on the left and on the left front to right rear diagonal."""
    corners = [i[w] for w in ("LF", "RF", "LR", "RR")]
    mean, forward, left, warp = np.linalg.solve([[1, 1, 1, 1], [1, 1, -1, -1], [1, -1, 1, -1], [1, -1, -1, 1]], corners)
    pct = lambda part: 50 + 50 * part / mean
    return {
        "total": 4 * mean,
        "front_pct": pct(forward),
        "rear_pct": pct(-forward),
        "left_pct": pct(left),
        "cross_lf_rr_pct": pct(warp),
        "cross_rf_lr_pct": pct(-warp),
        "rr_minus_lr_lb": 2 * (warp - left),
    }


# --- anti-squat and pitch -----------------------------------------------------------------------------------------------


def crossing(p, q, r, s):
    """Where the line through p and q meets the line through r and s."""
    normals = np.array([[q[1] - p[1], p[0] - q[0]], [s[1] - r[1], r[0] - s[0]]], dtype=float)
    return np.linalg.solve(normals, [normals[0] @ p, normals[1] @ r])


def link(rear, front):
    """A pull of 1 along a link, on the axle."""
    along = np.subtract(front, rear)
    return push(rear, along / np.hypot(*along))


def c_anti_squat(i):
    wheelbase, h = i["L_in"], i["h_in"]
    if "lower_rear" in i:
        lower, upper = (i["lower_rear"], i["lower_front"]), (i["upper_rear"], i["upper_front"])
        x, y = crossing(*lower, *upper)
        pull_lower, pull_upper, lift = balance([link(*lower), link(*upper), up(0)], [i["Fx_lb"] * THRUST])
        out = {"ic_x_in": x, "ic_y_in": y, "as_pct": 100 * lift / gained(i["Fx_lb"], h, wheelbase)}
        return out | {"lower_force_lb": pull_lower, "upper_force_lb": pull_upper, "lift_on_body_lb": lift}
    if "theta_deg" in i:
        ahead = (math.cos(math.radians(i["theta_deg"])), math.sin(math.radians(i["theta_deg"])))
        lift = balance([push((0, 7), ahead), push((0, 17), ahead), up(0)], [THRUST])[2]
        return {"as_pct": 100 * lift / gained(1, h, wheelbase)}
    force, pivot = i["W_lb"] * i["a_g"], (i["ic_x_in"], i["ic_y_in"])
    lift = balance([push(pivot, (1, 0)), push(pivot, (0, 1)), up(0)], [force * THRUST])[2]
    gain = gained(force, h, wheelbase)
    return {"as_pct": 100 * lift / gain, "dW_lb": gain, "rear_spring_dF_lb": gain - lift}


def c_pitch(i):
    """The sprung body: its two springs, and a push that rises from the rear contact by the anti-squat's part."""
    force, wheelbase, h = i["W_lb"] * i["a_g"], i["L_in"], i["h_in"]
    rise = i["as_pct"] / 100 * h / wheelbase
    rear, front, _ = balance([up(0), up(wheelbase), push((0, 0), (1, rise))], [push((0, h), (-force, 0))])
    front_rise, rear_drop = -front / i["kf_axle_lb_in"], rear / i["kr_axle_lb_in"]
    return {
        "dW_lb": gained(force, h, wheelbase),
        "front_rise_in": front_rise,
        "rear_drop_in": rear_drop,
        "pitch_deg": math.degrees(math.atan2(front_rise + rear_drop, wheelbase)),
        "cg_rise_in": np.interp(i["a_over_L"], [0, 1], [front_rise, -rear_drop]),
    }


# --- springs and dampers ------------------------------------------------------------------------------------------------


def bar_rate(outside, inside, length, modulus):
    return modulus * polar_moment(outside, inside) / length


def arm(rate, twist, radius):
    """Load at the end of an arm, and its height, at an angle above the horizontal; twist is the bar's at angle 0."""
    return (lambda x: rate * (twist + x) / (radius * np.cos(x))), (lambda x: radius * np.sin(x))


def wheel_rate(load, height, angle):
    """Along the arc: change of load for a change of height."""
    return slope(load, angle) / slope(height, angle)


def c_torsion_bar(i):
    if "wheel_load_lb" in i:
        weight, radius = i["wheel_load_lb"], i["arm_in"]
        rate = bar_rate(i["D_in"], i["d_in"], i["L_in"], i["G_psi"])
        twist = weight * radius / rate
        load, height = arm(rate, twist, radius)
        at_wheel = wheel_rate(load, height, 0)
        # Where less is borne the arm hangs lower, that is, the car has risen.
        angle = brentq(lambda x: load(x) - (weight - i["unload_lb"]), -1.5, 0, **FINEST)
        return {
            "kT_in_lb_per_rad": rate,
            "kT_in_lb_per_deg": rate * math.radians(1),
            "wheel_rate_lb_in": at_wheel,
            "twist_deg": math.degrees(twist),
            "tau_psi": weight * radius * i["D_in"] / 2 / polar_moment(i["D_in"], i["d_in"]),
            "rise_linear_in": i["unload_lb"] / at_wheel,
            "rise_exact_in": -height(angle),
        }
    if "kT" in i:
        def at(angle):
            twisted = i["F_lb"] * i["R_in"] * math.cos(angle) / i["kT"]
            return wheel_rate(*arm(i["kT"], twisted - angle, i["R_in"]), angle)

        angle = math.radians(i["a_deg"])
        return {"kw_lb_in": at(angle), "kw_at_minus10": at(-angle)}
    if "d1" in i:
        return {"ratio": polar_moment(i["d2"]) / polar_moment(i["d1"])}
    if "tau_MPa" in i:
        section = polar_moment(i["D_mm"] / 1e3, i["d_mm"] / 1e3)
        angle, modulus = math.radians(i["phi_deg"]), i["G_GPa"] * 1e9
        torque = i["tau_MPa"] * 1e6 * section / (i["D_mm"] / 2e3)
        # The remembered 1.829 comes of a section of four figures and an angle of three.
        short, short_angle = round(section, 9), round(angle, 4)
        return {
            "J_m4": short,
            "T_at_tau_kN_m": round(torque / 1e3, 2),
            "T_at_phi_kN_m": round(modulus * short * short_angle / i["L_m"] / 1e3, 3),
            "cross.J_m4": section,
            "cross.T_at_tau_N_m": torque,
            "cross.T_at_phi_N_m": modulus * section * angle / i["L_m"],
        }
    if "arm_in" in i:
        load, height = arm(bar_rate(i["d_in"], 0, i["L_in"], 11.5e6), 0, i["arm_in"])
        return {"cross.wheel_rate_G11p5": wheel_rate(load, height, 0)}
    section, torque = polar_moment(i["d_in"]), i["T_in_lb"] if "T_in_lb" in i else i["T_lb_ft"] * 12
    turned = torque * i["L_in"] / (section * i["G_psi"])
    out = {"tau_psi": torque * i["d_in"] / 2 / section, "phi_rad": turned}
    return out | {"cross.J_in4": section, "cross.phi_rad": turned}


def coil_rate(i):
    """By the energy of the wire's torsion: for 1 of load the torque is D/2 along the whole coiled length."""
    arm_in = i["D_mean_in"] / 2
    per_turn = quad(lambda _: arm_in**2 / (i["G_psi"] * polar_moment(i["d_in"])) * arm_in, 0, 2 * math.pi)[0]
    return 1 / (per_turn * i["Na"])


def travel_ratio(i):
    """How much shorter a spring or damper gets for the wheel's travel: its mount moves, its other end stands."""
    angle = math.radians(i["angle_deg"])
    end = (math.sin(angle), math.cos(angle))
    return -slope(lambda z: np.sqrt(end[0] ** 2 + (end[1] - i["MR"] * z) ** 2), 0)


def c_coil(i):
    if "kw_lb_in" in i:
        height = lambda load: -max(load, 0) / i["kw_lb_in"]
        weight = i["wheel_load_lb"]
        return {"static_defl_in": -height(weight), "rise_in": height(weight - i["x_lb"]) - height(weight)}
    k = coil_rate(i)
    if "MR" not in i:
        return {"cross.k_lb_in": k}
    return {"k_lb_in": k, "wheel_rate_lb_in": k * travel_ratio(i) ** 2}


def modes(k, weight, damping=0.0):
    """Eigenvalues, 1/s, of a weight on a spring and a damper."""
    return np.linalg.eigvals([[0, 1], [-k * G / weight, -damping * G / weight]])


def c_ride_freq(i):
    hertz = lambda k, weight: abs(modes(k, weight)[0].imag) / (2 * math.pi)
    if "kt" in i:
        # 1 of load through the wheel's spring, on the axle, on the tire's.
        sunk = linear({"body": i["kw"], "axle": -i["kw"], "=": 1}, {"body": -i["kw"], "axle": i["kw"] + i["kt"]})
        return {"ride_rate": 1 / sunk["body"]}
    k, weight = i["k_lb_in"], i["W_lb"]
    return {"f_Hz": hertz(k, weight), "static_in": weight / k, "const": hertz(1, 1)}


def c_shock(i):
    ratio = travel_ratio(i)
    at_wheel = i["c_lb_s_in"] * ratio**2
    mode = modes(i["k_wheel_lb_in"], i["W_lb"], at_wheel)[0]
    zeta = -mode.real / abs(mode)
    return {"c_wheel_lb_s_in": at_wheel, "c_crit_lb_s_in": at_wheel / zeta, "zeta": zeta, "force_ratio": ratio}


def c_mass_factor(i):
    """By the energy of the turning parts at 1 in/s."""
    wheel = 1 / i["r_in"]
    shaft = wheel * i["Nf"]
    engine = shaft * i["Nt"]
    parts = (("Ie_in_lb_s2", engine), ("It_in_lb_s2", engine), ("Id_in_lb_s2", shaft), ("Iw_total_in_lb_s2", wheel))
    energy = sum(i[name] * speed**2 / 2 for name, speed in parts)
    alike = 2 * energy * G
    rule = 1.04 + 0.0025 * (i["Nt"] * i["Nf"]) ** 2
    return {"m_r_lb": alike, "factor": (i["W_lb"] + alike) / i["W_lb"], "factor_rule": rule}


# --- the height of the mass ---------------------------------------------------------------------------------------------


def lifted(ground, other, wheelbase, by):
    """The angle that the axle line turns through when the axle of radius `other` is raised, by the axles' places.

    Places are complex numbers: the axle that stays on the ground above 0, the other behind it, at minus the wheelbase.
    """
    behind = complex(-wheelbase, other - ground)
    height = lambda angle: (behind * np.exp(-1j * angle)).imag
    return brentq(lambda angle: height(angle) - behind.imag - by, 0, 1.2, **FINEST)


def load_on_ground(weight, level, h, ground, other, wheelbase, angle):
    """Load of the axle on the ground when the car stands turned by the angle, the mass at a height h when level."""
    behind = complex(-wheelbase, other - ground)
    mass = complex(-wheelbase * (1 - level / weight), h - ground)
    mass, raised = (place * np.exp(-1j * angle) for place in (mass, behind))
    return balance([up(0), up(raised.real), push((0, 0), (1, 0))], [push((mass.real, 0), (0, -weight))])[0]


def c_cg_height(i):
    """The same for either end: the axle that stays on the ground is the front one, or the rear one turned about."""
    end = "Wr" if "Wr1_lb" in i else "Wf"
    level, turned, weight, wheelbase = i[f"{end}1_lb"], i[f"{end}2_lb"], i["W_lb"], i["L_in"]
    ground, other = i.get("rf_in", i.get("r_in")), i.get("rr_in", i.get("r_in"))
    angle = lifted(ground, other, wheelbase, i["H_in"])
    short = lambda h: load_on_ground(weight, level, h, ground, other, wheelbase, angle) - turned
    h = brentq(short, 0, 60, **FINEST)
    # The formula leaves out that the axle line of unequal tires is turned before the lift.
    line = np.interp(1 - level / weight, [0, 1], [ground, other])
    formula = line + wheelbase * (turned - level) / (weight * math.tan(angle))
    return {"h_in": h, "h_true_in": h, "theta_deg": math.degrees(angle), "cross.h_formula_in": formula}


TOPICS = {
    "C.load_transfer": c_load_transfer,
    "C.traction_limit": c_traction_limit,
    "C.torque_reaction": c_torque_reaction,
    "C.preload": c_preload,
    "C.corner_weights": c_corner_weights,
    "C.anti_squat": c_anti_squat,
    "C.pitch": c_pitch,
    "C.torsion_bar": c_torsion_bar,
    "C.coil": c_coil,
    "C.ride_freq": c_ride_freq,
    "C.shock": c_shock,
    "C.mass_factor": c_mass_factor,
    "C.cg_height": c_cg_height,
}
