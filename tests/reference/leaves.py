"""Topics C.leaf* and C.pinion_limiter of references.toml, from an entry's inputs to its values.

Written apart from the Rust: halves by the unit-load integral, checked by beam elements; the seat, the launch and the
limiter as one linear system of forces and movements, not by the closed forms beside the values.
"""

import math

import numpy as np
from scipy.integrate import quad

from statics import COUPLE, THRUST, balance, fixed, gained, linear, push, second_moment, up

GAUSS = np.polynomial.legendre.leggauss(12)


def integral(of, low, high):
    """Gauss's rule of 12 points: exact for every polynomial here."""
    points, weights = GAUSS
    half = (high - low) / 2
    return half * float(weights @ np.array([of((low + high) / 2 + half * p) for p in points]))


def tip_yield(length, stiffness, graduated):
    """Deflection at the tip of a cantilever for 1 of load there, by the unit-load integral from the tip.

    stiffness is E I at the clamp; graduated leaves laid side by side are a triangle, with its point at the tip.
    """
    section = (lambda s: stiffness * s / length) if graduated else (lambda s: stiffness)
    return integral(lambda s: s**2 / section(s), 0, length)


def path_radius(graduated):
    """Radius of the path of a cantilever's tip at small deflections, for the length 1.

    For a slope p f(s), s from the clamp, the tip sinks p int f and shortens p^2/2 int f^2: a circle of (int f)^2/int f^2.
    """
    curvature = (lambda s: 1.0) if graduated else (lambda s: 1 - s)
    f = lambda s: integral(curvature, 0, s)
    return integral(f, 0, 1) ** 2 / integral(lambda s: f(s) ** 2, 0, 1)


def seat(a, b, yield_a, yield_b, *conditions, d=0.0):
    """An axle on leaf springs, the body fixed: a free body and the yield of the halves, with three conditions more.

    Up on the axle: S; nose up: M. Down on it: the front eye Va at a ahead, the rear eye Vb at b behind, a limiter F at d
    ahead. The axle moves by z up and theta nose up. (Yields, not rates, so that a half may be all but rigid.)
    """
    return linear(
        {"S": 1, "Va": -1, "Vb": -1, "F": -1},
        {"M": 1, "Va": -a, "Vb": b, "F": -d},
        {"z": 1, "theta": a, "Va": -yield_a},
        {"z": 1, "theta": -b, "Vb": -yield_b},
        *conditions,
    )


def seat_by_elements(a, b, clamped, stiffness):
    """Rates of the same seat for load and couple: a uniform leaf as beam elements, its clamped middle all but rigid."""
    nodes = [-b, -clamped, 0.0, clamped, a] if clamped else [-b, 0.0, a]
    whole = np.zeros((2 * len(nodes), 2 * len(nodes)))
    for k, (left, right) in enumerate(zip(nodes, nodes[1:])):
        n = right - left
        rigid = 1e7 if clamped and abs(left + right) <= clamped else 1.0
        element = np.array(
            [
                [12, 6 * n, -12, 6 * n],
                [6 * n, 4 * n**2, -6 * n, 2 * n**2],
                [-12, -6 * n, 12, -6 * n],
                [6 * n, 2 * n**2, -6 * n, 4 * n**2],
            ]
        )
        whole[2 * k : 2 * k + 4, 2 * k : 2 * k + 4] += rigid * stiffness / n**3 * element
    free = [k for k in range(len(whole)) if k not in (0, len(whole) - 2)]  # an eye holds its height and lets the leaf turn
    yields = np.linalg.inv(whole[np.ix_(free, free)])
    middle = nodes.index(0.0)
    down, turn = free.index(2 * middle), free.index(2 * middle + 1)
    return 1 / yields[down, down], 1 / yields[turn, turn]


# --- topics -------------------------------------------------------------------------------------------------------------


def c_leaf_equiv(i, formula):
    """The entries have the same input; which spring it is stands in the formula."""
    graduated = not formula.startswith("uniform-section")
    ratio = path_radius(graduated)
    # The number beside it is of a finite bend, by the length of an arc that turns by 0.02 rad from the clamp to the tip.
    turn = 0.02
    sunk = quad(lambda s: math.sin(turn * s), 0, 1)[0]
    shortened = quad(lambda s: 2 * math.sin(turn * s / 2) ** 2, 0, 1)[0]
    return {"ratio": ratio, "link_in": ratio * i["a_in"], "cross.numeric": sunk**2 / (2 * shortened)}


def half_yield(length, i):
    """Leaves that share the deflection of the tip share the load by their rates."""
    each = i.get("E_psi", i.get("E_MPa")) * second_moment(i.get("w_in", i.get("b_mm")), i.get("t_in", i.get("t_mm")))
    full, graduated = i.get("nf", 0), i.get("ng", 0)
    if "type" in i:
        full, graduated = (i["n_leaves"], 0) if i["type"] == "uniform" else (0, i["n_leaves"])
    return 1 / sum(n / tip_yield(length, each, g) for n, g in ((full, False), (graduated, True)))


NO_LIMITER = fixed("F")


def c_leaf(i):
    if "P_end_N" in i:
        # Two like halves, the load of each end on its own.
        each = half_yield(i["L_half_mm"], i)
        return {"cross.delta_mm": i["P_end_N"] * each, "cross.k_N_mm": 2 / each}
    a, b, clamped = i["a_front_in"], i["b_rear_in"], i["inactive_each_side_in"]
    front, rear = half_yield(a - clamped, i), half_yield(b - clamped, i)
    if i.get("type") == "uniform":
        # Clamps shorten what bends; the eyes stay where they are, a and b from the axle: so say elements too.
        whole = lambda *conditions: seat(a, b, front, rear, NO_LIMITER, *conditions)
        as_it_is = whole(fixed("z", 1), fixed("M"))["S"], whole(fixed("theta", 1), fixed("S"))["M"]
        stiffness = i["E_psi"] * i["n_leaves"] * second_moment(i["w_in"], i["t_in"])
        assert np.allclose(seat_by_elements(a, b, clamped, stiffness), as_it_is, rtol=1e-5)
    # The entries take the handbook's way with a clamp, as their formula says (a - c, b - c): no spring, and no arm either.
    solve = lambda *conditions: seat(a - clamped, b - clamped, front, rear, NO_LIMITER, *conditions)
    free = solve(fixed("z", 1), fixed("M"))["S"]
    windup = solve(fixed("theta", 1), fixed("S"))["M"]
    return {
        "ka_lb_in": 1 / front,
        "kb_lb_in": 1 / rear,
        "k_lb_in": free,
        "k_seat_held_lb_in": solve(fixed("z", 1), fixed("theta"))["S"],
        "windup_in_lb_per_rad": windup,
        "windup_in_lb_per_deg": windup * math.radians(1),
    }


def springs(i):
    return i["a_front_in"], i["b_rear_in"], 1 / i["ka_both_lb_in"], 1 / i["kb_both_lb_in"]


def c_leaf_seat(i):
    solve = lambda *conditions: seat(*springs(i), NO_LIMITER, *conditions)
    turned = solve(fixed("z"), fixed("theta", 1))
    out = {
        "k11_lb_in": solve(fixed("z", 1), fixed("theta"))["S"],
        "k12_lb": turned["S"],
        "k22_in_lb_per_rad": turned["M"],
        "windup_free_in_lb_per_rad": solve(fixed("theta", 1), fixed("S"))["M"],
    }
    return out | ({"x_eq_in": turned["M"] / turned["S"]} if i["a_front_in"] != i["b_rear_in"] else {})


def couple_at(force, height):
    """The couple on an axle whose thrust at the ground is held at a height."""
    return -balance([push((0, height), (1, 0)), up(0), COUPLE], [force * THRUST])[2]


def c_leaf_launch(i):
    couple = fixed("M", couple_at(i["Fx_lb"], i["y_eye_in"]))
    at = seat(*springs(i), NO_LIMITER, couple, fixed("S", i["dN_lb"]))
    return {"windup_deg": math.degrees(at["theta"]), "separation_in": -at["z"], "Va_lb": at["Va"], "Vb_lb": at["Vb"]}


def c_leaf_anti_squat(i):
    y = i["y_eye_in"]
    if "dW_lb" in i:
        eyes = [push((i["a_in"], y), (1, 0)), -up(i["a_in"]), -up(-i["b_in"])]
        front, rear = balance(eyes, [i["Fx_lb"] * THRUST, i["dW_lb"] * up(0)])[1:]
        return {"Va_lb": front, "Vb_lb": rear}
    a, b = i["a_front_in"], i["b_rear_in"]
    front, rear = tip_yield(a, 1, False) / i["front_half_stiffness_factor"], tip_yield(b, 1, False)
    # What the tires gain of a thrust of 1 while the body has not moved.
    at = seat(a, b, front, rear, NO_LIMITER, fixed("z"), fixed("M", couple_at(1, y)))
    return {"x_eq_in": at["M"] / at["S"], "as_pct": 100 * at["S"] / gained(1, i["h_in"], i["L_in"])}


def c_limiter_angle(i):
    d = i["d_in"]
    if "gap_in" in i:
        return {"theta_deg": math.degrees(np.angle(complex(d, i["gap_in"])))}
    line = np.exp(1j * math.radians(i["theta_deg"]))
    return {"gap_in": linear({"along": line.real, "=": d}, {"gap": 1, "along": -line.imag})["gap"]}


def touching(solve, gap, d):
    """Where the limiter is off, or where it touches and pushes."""
    off = solve(NO_LIMITER)
    return solve({"z": 1, "theta": d, "=": gap}) if off["z"] + d * off["theta"] >= gap else off


def c_limiter_on_leaves(i):
    d, gap = i["d_in"], i["gap_in"]
    couple = couple_at(i["Fx_lb"], i["y_eye_in"])
    held = lambda limiter: seat(*springs(i), limiter, fixed("M", couple), fixed("z"), d=d)
    free = lambda limiter: seat(*springs(i), limiter, fixed("M", couple), fixed("S", i["dN_lb"]), d=d)
    alone, hit, settled = held(NO_LIMITER), touching(held, gap, d), touching(free, gap, d)
    # No spring at all: the limiter alone bears the couple.
    bound = balance([push((0, i["y_eye_in"]), (1, 0)), up(0), -up(d)], [i["Fx_lb"] * THRUST])[2]
    return {
        "M_in_lb": couple,
        "hit_free_windup_deg": math.degrees(alone["theta"]),
        "hit_force_lb": hit["F"],
        "hit_tire_load_lb": hit["S"],
        "hit_tire_load_no_limiter_lb": alone["S"],
        "hit_as_pct": 100 * hit["S"] / gained(i["Fx_lb"], i["h_in"], i["L_in"]),
        "bound_force_lb": bound,
        "settled_force_lb": settled["F"],
        "settled_separation_in": -settled["z"],
        "settled_windup_deg": math.degrees(settled["theta"]),
    }


def c_pinion_limiter(i):
    d = i.get("d_in")
    if "Te_lb_ft" in i:
        torque = i["Te_lb_ft"] * i["conv"] * i["gear"] * i["final"]
        force = balance([THRUST, up(0), -up(d)], [torque * 12 * COUPLE])[2]
        return {"axle_torque_lb_ft": torque, "F_lb": force}
    if "Kth_both_in_lb_per_deg" in i:
        couple, rate = couple_at(i["Fx_lb"], i["r_in"]), i["Kth_both_in_lb_per_deg"]
        gap = c_limiter_angle(i)["theta_deg"]
        wound = lambda condition: linear({"deg": rate, "F": d, "=": couple}, condition)
        alone = wound(NO_LIMITER)
        contact = alone["deg"] > gap
        return {
            "axle_torque_in_lb": couple,
            "free_windup_deg": alone["deg"],
            "gap_deg": gap,
            "contact": contact,
            "limiter_force_lb": wound(fixed("deg", gap))["F"] if contact else alone["F"],
        }
    if "a_front_in" in i:
        return c_limiter_on_leaves(i)
    if "r_in" in i:
        couple, other = couple_at(i["Fx_lb"], i["y_eye_in"]), couple_at(i["Fx_lb"], i["r_in"])
        return {"M_seat_in_lb": couple, "Fx_r_in_lb": other, "ratio": couple / other}
    if "Fx_lb" in i:
        held = [push((0, i["y_eye_in"]), (1, 0)), up(0), -up(d)]
        lift, force = balance(held, [i["Fx_lb"] * THRUST])[1:]
        return {"as_pct": 100 * lift / gained(i["Fx_lb"], i["h_in"], i["L_in"]), "F_lb": force}
    return c_limiter_angle(i)


TOPICS = {
    "C.leaf_equiv": c_leaf_equiv,
    "C.leaf": c_leaf,
    "C.leaf_seat": c_leaf_seat,
    "C.leaf_launch": c_leaf_launch,
    "C.leaf_anti_squat": c_leaf_anti_squat,
    "C.pinion_limiter": c_pinion_limiter,
}
