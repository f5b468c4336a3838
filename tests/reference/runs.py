"""Topic B of references.toml, written from the sources: from an entry's inputs to its values."""

import math

import numpy as np
from scipy.integrate import quad, solve_ivp

FT = 0.3048  # m, exact
G = 9.80665 / FT  # ft/s2
MPH = 5280 / 3600  # ft/s
HP = 550.0  # ft lbf/s


def b_cube_root(i):
    w = i["W_lb"]
    if "mph" in i:
        return {
            "hp_mph_234": w * (i["mph"] / 234) ** 3,
            "hp_mph_225": w * (i["mph"] / 225) ** 3,
            "hp_et_5_825": w / (i["et_s"] / 5.825) ** 3,
            "hp_et_6_290": w / (i["et_s"] / 6.290) ** 3,
        }
    r = i["P_hp"] / w
    power = r * HP * G
    mph, et = (3 * power * 1320) ** (1 / 3) / MPH, (9 * 1320**2 / (8 * power)) ** (1 / 3)
    out = {"mph_const": mph, "et_const": et, "et_times_mph": et * mph, "mph_ideal": mph, "et_ideal": et}
    for km, ke in ((225, 6.290), (230, 6.269), (234, 5.825)):
        name = f"k{km}_{ke:.3f}".replace(".", "p")
        out |= {f"mph_{name}": km * r ** (1 / 3), f"et_{name}": ke * r ** (-1 / 3)}
    return out


def two_phase(a, p, x):
    """Time and speed by quadrature over speed, not by the closed form."""
    vc = p / a
    xc = vc**2 / (2 * a)
    if x <= xc:
        return math.sqrt(2 * x / a), math.sqrt(2 * a * x)
    v = (vc**3 + 3 * p * (x - xc)) ** (1 / 3)
    return vc / a + quad(lambda u: u / p, vc, v, epsabs=0, epsrel=1e-12)[0], v


def b_two_phase(i):
    a, p = i["a_g"] * G, i["P_whp"] * HP * G / i["W_lb"]
    xc = p**2 / (2 * a**3)

    def slope(x, which, over):
        step = 1e-4
        values = [two_phase(a * k if over == "a" else a, p * k if over == "p" else p, x)[which] for k in (1 + step, 1 - step)]
        return math.log(values[0] / values[1]) / math.log((1 + step) / (1 - step))

    out = {"x_switch_ft": xc}
    for x in (60, 330, 660, 1000, 1320):
        t, v = two_phase(a, p, x)
        out |= {f"t{x}_s": t, f"v{x}_mph": v / MPH}
        if i["a_g"] < 100:
            for which, name in ((0, "et"), (1, "mph")):
                on_power = slope(x, which, "p")
                out |= {f"cross.n_{name}{x}": on_power, f"n_P_{name}{x}": on_power, f"n_a_{name}{x}": slope(x, which, "a")}
    if i["a_g"] < 100:
        late, early = [two_phase(a * 1.0001, p, x)[0] - two_phase(a * 0.9999, p, x)[0] for x in (1320, 60)]
        out["dt1320_per_dt60"] = late / early
    return out


def b_splits(i):
    if "rollout_in" in i:
        a, s, r = i["a_g"] * G, i["s_ft"], i["rollout_in"] / 12
        t = math.sqrt(2 * (s + r) / a) - math.sqrt(2 * r / a)
        return {
            "t60_s": t,
            "v60_mph": math.sqrt(2 * a * (s + r)) / MPH,
            "a_from_slip_g": 2 * s / t**2 / G,
            "t60_no_rollout_s": math.sqrt(2 * s / a),
        }
    if "s_ft" in i:
        a = 2 * i["s_ft"] / i["t_s"] ** 2
        return {"a_ft_s2": a, "a_g": a / G, "v_end_mph": 2 * i["s_ft"] / i["t_s"] / MPH}
    if "dt_s" in i:
        return {"mph": i["trap_ft"] / i["dt_s"] / MPH}
    if "x_m" in i:
        exact = [2 * i["x_m"] / i["t_s"] ** 2, i["v_m_s"] / i["t_s"], i["v_m_s"] ** 2 / (2 * i["x_m"])]
        return {"a1": exact[0], "a2": exact[1], "a3": exact[2], "cross.published_rounded": [round(x) for x in exact]}
    marks = [60, 330, 660, 1000, 1320]
    out = {}
    for start, end in zip(marks, marks[1:]):
        dt = i[f"t{end}"] - i[f"t{start}"]
        out |= {f"t{start}_to_t{end}": dt, f"avg_mph_{start}_{end}": (end - start) / dt / MPH}
    return out


def b_density_correction(i):
    if "n" in i:
        ratio = i["s1"] / i["s2"]
        return {"et2_s": i["et1_s"] * ratio ** i["n"], "mph2": i["mph1"] * ratio ** -i["n"]}
    a, p, mass = i["a_g"] * G, i["P_whp"] * HP * G / i["W_lb"], i["W_lb"] / G

    def run(ratio):
        drag = 0.5 * i["rho0_slug_ft3"] * ratio * i["CdA_ft2"] / mass
        push = lambda v: min(a, p * ratio / max(v, 1e-9)) - drag * v * v
        marks = []
        for x in (60, 660, 1320):
            event = lambda t, y, x=x: y[0] - x
            marks.append(event)
        path = solve_ivp(
            lambda t, y: [y[1], push(y[1])], (0, 30), [0, 0], events=marks, rtol=1e-10, atol=1e-10, max_step=0.01
        )
        return [(path.t_events[n][0], path.y_events[n][0][1]) for n in range(3)]

    up, down = run(1.01), run(0.99)
    slopes = np.log(np.array(up) / np.array(down)) / math.log(1.01 / 0.99)
    out = {}
    for n, x in enumerate((60, 660, 1320)):
        out |= {f"n_et{x}": slopes[n][0], f"n_mph{x}": slopes[n][1]}
    return out


def b_eighth_quarter(_):
    return {"et_ratio": 2 ** (2 / 3), "mph_ratio": 2 ** (1 / 3)}


def b_const_power(i):
    v1, v2, power = i["v1_m_s"], i["v2_m_s"], i["P_W"]
    mass = 2 * power * i["t_s"] / (v2**2 - v1**2)
    return {"cross.mass_kg": mass, "cross.distance_m": mass * (v2**3 - v1**3) / (3 * power)}


TOPICS = {
    "B.cube_root": b_cube_root,
    "B.two_phase": b_two_phase,
    "B.splits": b_splits,
    "B.density_correction": b_density_correction,
    "B.eighth_quarter": b_eighth_quarter,
    "B.const_power": b_const_power,
}
