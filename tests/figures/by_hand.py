#!/usr/bin/env python3
"""Every figure of the three cars of tests/rules, from their sheets to a number, by hand.

    by_hand.py > by_hand.toml

Python's standard library alone, apart from the Rust; where a closed form is in the program, another way is taken here (bisection
along the arc, beam halves by the linear system, lines by their intersection). What the runs say stands in RUNS, as in
tests/common/car.rs.
"""
import math
import tomllib
from pathlib import Path

G = 11.5e6  # spring steel, psi
E = 30e6
RUNS = {"ft60": 1.55, "quickest": 11.2, "mph": 119.0, "rpm": 6400.0, "rise": 4.0, "touched": 0.0}
GRAVITY_FT = 9.80665 / 0.3048
GRAVITY_IN = GRAVITY_FT * 12


def both(x):
    return (x["left"], x["right"]) if isinstance(x, dict) else (x, x)


def solve(f, low, high):
    for _ in range(200):
        mid = (low + high) / 2
        low, high = (mid, high) if (f(mid) > 0) == (f(low) > 0) else (low, mid)
    return (low + high) / 2


def bar_rate(outer, inner, length):
    return G * math.pi * (outer**4 - inner**4) / 32 / length


def linear(m, v):
    (a, b), (c, d) = m
    det = a * d - b * c
    return ((d * v[0] - b * v[1]) / det, (a * v[1] - c * v[0]) / det)


def weight(s, out):
    c = s["weight"]["corner"]
    lf, rf, lr, rr = c["lf"], c["rf"], c["lr"], c["rr"]
    total = lf + rf + lr + rr
    out["front_share"] = 100 * (lf + rf) / total
    out["left_share"] = 100 * (lf + lr) / total
    out["cross_share"] = 100 * (rf + lr) / total
    out["rear_difference"] = rr - lr
    out["corners_over_total"] = total - s["weight"]["total"]
    out["rear_axle_load"] = lr + rr
    out["cg_height"] = s["weight"]["cg_height"]
    out["cg_behind_front"] = sum(both(s["frame"]["wheelbase"])) / 2 * (lr + rr) / total


def launch(s, out):
    w, h = s["weight"]["total"], s["weight"]["cg_height"]
    base = sum(both(s["frame"]["wheelbase"])) / 2
    t, roll = RUNS["ft60"], 11 / 12
    out["average_g_60ft_timed"] = 2 * 60 / t**2 / GRAVITY_FT
    # The a for which the stretch behind the roll-out takes t.
    time = lambda a: math.sqrt(2 * (60 + roll) / a) - math.sqrt(2 * roll / a)
    g = solve(lambda a: time(a) - t, 1, 300) / GRAVITY_FT
    out["average_g_60ft"] = out["launch_g"] = g
    out["thrust"] = w * g
    out["load_transfer"] = w * g * h / base
    out["load_transfer_1g"] = w * h / base
    front = w - out["rear_axle_load"]
    out["front_axle_launch"] = front - out["load_transfer"]
    out["rear_axle_launch"] = w - out["front_axle_launch"]
    out["wheels_up_g"] = front / w * base / h
    out["grip_used"] = out["thrust"] / out["rear_axle_launch"]


def front(s, out):
    unsprung = s["weight"]["front_unsprung"] / 2
    loads = [s["weight"]["corner"][k] - unsprung for k in ("lf", "rf")]
    spring = s["front"]["spring"]
    rates = []
    for side, load in zip(("left", "right"), loads):
        out[f"front_sprung_corner_{side}"] = load
        if "bar_diameter" in spring:
            kt = bar_rate(spring["bar_diameter"], 0, spring["bar_length"])
            r, alpha = spring["arm_length"], math.radians(spring["arm_angle"])
            torque = load * r * math.cos(alpha)
            twist = torque / kt
            force = lambda a: kt * (twist + a - alpha) / (r * math.cos(a))
            height = lambda a: r * math.sin(a)
            d = 1e-6
            rate = (force(alpha + d) - force(alpha - d)) / (height(alpha + d) - height(alpha - d))
            lower = solve(lambda a: force(a) - (load - 50), alpha - twist, alpha)
            out[f"torsion_bar_rate_{side}"] = math.radians(kt)
            out[f"torsion_bar_twist_{side}"] = math.degrees(twist)
            out[f"torsion_bar_stress_{side}"] = 16 * torque / (math.pi * spring["bar_diameter"] ** 3)
            out[f"front_rise_per_100lb_{side}"] = height(alpha) - height(lower)
        else:
            rate = spring["rate"] * spring["motion_ratio"] ** 2
            out[f"front_spring_deflection_{side}"] = load / rate
            out[f"front_rise_per_100lb_{side}"] = 50 / rate
        out[f"front_wheel_rate_{side}"] = rate
        out[f"front_ride_frequency_{side}"] = math.sqrt(rate * GRAVITY_IN / load) / (2 * math.pi)
        rates.append(rate)
    out["front_rise_launch"] = out["load_transfer"] / sum(rates)
    out["front_rise_unused"] = s["front"]["travel"]["up"] - out["front_rise_launch"]
    return rates


def travel(s, out):
    for end in ("front", "rear"):
        shock = s[end]["shock"]
        left = shock["extended"] - shock["collapsed"] - shock["shaft_at_rest"]
        if end == "front":
            ratio = shock.get("motion_ratio") or s["front"]["spring"]["motion_ratio"]
            short = s["front"]["travel"]["up"] - left / ratio
        else:
            short = s["rear"]["travel"]["separation"] - left
        for side in ("left", "right"):
            out[f"{end}_shock_travel_out_{side}"] = left
            out[f"{end}_shock_short_{side}"] = short
            if end == "rear":
                out[f"rear_extension_share_{side}"] = 100 * shock["extension"] / shock["clicks_all"]
    out["toe_full_rise"] = s["front"]["align"]["toe"] + s["front"]["align"]["toe_at_rise"]
    left, right = both(s["frame"]["wheelbase"])
    out["out_of_square"] = abs(left - right)


def leaf_halves(leaf, clamped):
    """Rates of the halves of one spring at its eyes."""
    width, t = leaf["section"]["width"], leaf["section"]["thickness"]
    full, rest = leaf["full_leaves"], leaf["leaves"] - leaf["full_leaves"]
    a, b = leaf["front_length"], leaf["rear_length"]
    ca, cb = (leaf["front_clamped"], leaf["rear_clamped"]) if clamped else (0, 0)
    # Tip of a cantilever: uniform section x^3/(3EI) each leaf, uniform strength x^3/(2EI).
    one = E * width * t**3 / 12
    half = lambda length: (3 * full + 2 * rest) * one / length**3
    return a, b, half(a - ca), half(b - cb)


def seat(a, b, ka, kb):
    return ((ka + kb, a * ka - b * kb), (a * ka - b * kb, a * a * ka + b * b * kb))


def rear(s, out):
    axle = s["rear"]["axle"]["weight"] / 2
    loads = [s["weight"]["corner"][k] - axle for k in ("lr", "rr")]
    k = None
    if "leaf" in s["rear"]:
        leaf = s["rear"]["leaf"]
        for name, clamped in (("leaf_rate", False), ("leaf_rate_clamped", True)):
            # A load with the seat free to tilt.
            up = linear(seat(*leaf_halves(leaf, clamped)), (1.0, 0.0))[0]
            for side in ("left", "right"):
                out[f"{name}_{side}"] = 1 / up
        a, b, ka, kb = leaf_halves(leaf, True)
        for side in ("left", "right"):
            out[f"leaf_front_half_rate_{side}"], out[f"leaf_rear_half_rate_{side}"] = ka, kb
        k = seat(a, b, 2 * ka, 2 * kb)
        out["windup_stiffness_held"] = math.radians(k[1][1]) / 12
        out["windup_stiffness_free"] = math.radians(1 / linear(k, (0.0, 1.0))[1]) / 12
        rate = leaf["rate"]
    else:
        spring = s["rear"]["spring"]
        rate = spring["rate"] * math.cos(math.radians(spring["lean"])) ** 2
    for side, load in zip(("left", "right"), loads):
        out[f"rear_wheel_rate_{side}"] = rate
        out[f"rear_sprung_corner_{side}"] = load
        out[f"rear_ride_frequency_{side}"] = math.sqrt(rate * GRAVITY_IN / load) / (2 * math.pi)
    return rate, k


def roll(s, out, front_rates, rear_rate):
    track, base = s["frame"]["front_track"], s["frame"]["rear_spring_base"]
    # Moment of both springs for a radian of roll.
    kf = sum(front_rates) * (track / 2) ** 2
    kr = 2 * rear_rate * (base / 2) ** 2
    fr, rr = s["front"]["antiroll"], s["rear"]["antiroll"]
    if fr["kind"] == "hooked":
        kt = bar_rate(fr["diameter"], fr["inside"], fr["length"])
        bar = kt * (track * fr["motion_ratio"] / fr["arm"]) ** 2
        out["front_antiroll_stiffness"] = math.radians(bar) / 12
        kf += bar
    moment = None
    if rr["kind"] == "hooked":
        kt = bar_rate(rr["diameter"], rr["inside"], rr["length"])
        bar = kt * (rr["span"] / rr["arm"]) ** 2
        out["rear_antiroll_stiffness"] = math.radians(bar) / 12
        kr += bar
        longer = rr["preload"] / 6 / rr["threads"]
        moment = kt * (longer / rr["arm"]) * rr["span"] / rr["arm"]
        out["rear_antiroll_preload_moment"] = moment / 12
        out["rear_antiroll_preload_load"] = moment * kf / (kf + kr) / s["frame"]["rear_track"]
        out["rear_antiroll_preload_front"] = moment * kf / (kf + kr) / track
    if "leaf" in s["rear"]:
        # One spring pushes harder by k z, at half the base; what the front holds of that stays on the tires.
        couple = rear_rate * s["rear"]["leaf"]["preload_shim"] * base / 2
        out["preload_shim_load"] = couple * kf / (kf + kr) / s["frame"]["rear_track"]
    out["front_roll_stiffness"] = math.radians(kf) / 12
    out["rear_roll_stiffness"] = math.radians(kr) / 12
    out["front_roll_share"] = 100 * kf / (kf + kr)
    return kf, kr


def anti_squat(s, out, k):
    base, h = sum(both(s["frame"]["wheelbase"])) / 2, s["weight"]["cg_height"]
    per = base / h
    if k:
        eye = s["rear"]["leaf"]["front_eye_height"]
        out["leaf_pivot_ahead"] = k[1][1] / k[0][1]
        squat = 100 * eye / out["leaf_pivot_ahead"] * per
        out["anti_squat"] = squat
        squats = [squat]
    else:
        squats = []
        radius = [x / (2 * math.pi) for x in both(s["rear"]["tire"]["rollout"])]
        # Each side by its own wheelbase.
        for side, r, own in zip(("left", "right"), radius, both(s["frame"]["wheelbase"])):
            if "ladder" in s["rear"]:
                bar = s["rear"]["ladder"]
                y = bar["front_height"]
                x = math.sqrt(bar["length"] ** 2 - (r - y) ** 2)
            else:
                link = s["rear"]["link"]
                f, b, step = link["front_base"], link["rear_base"], link["hole_spacing"]
                at = lambda base_, step_, hole: (base_["ahead"], base_["height"] + step_ * (hole - 1))
                (x1, y1), (x2, y2) = at(b, step["rear"], link["lower_rear_hole"]), at(f, step["front"], link["lower_front_hole"])
                (x3, y3), (x4, y4) = at(b, step["rear"], link["upper_rear_hole"]), at(f, step["front"], link["upper_front_hole"])
                lower, upper = (y2 - y1) / (x2 - x1), (y4 - y3) / (x4 - x3)
                x = (y3 - y1 + lower * x1 - upper * x3) / (lower - upper)
                y = y1 + lower * (x - x1)
                # Half the thrust at the ground against a pull along each bar, moments about the patch.
                thrust = out["thrust"] / 2
                unit = lambda p, q: ((q[0] - p[0]) / math.dist(p, q), (q[1] - p[1]) / math.dist(p, q))
                ul, uu = unit((x1, y1), (x2, y2)), unit((x3, y3), (x4, y4))
                arm = lambda p, u: p[0] * u[1] - p[1] * u[0]
                pull = linear(((ul[0], uu[0]), (arm((x1, y1), ul), arm((x3, y3), uu))), (-thrust, 0.0))
                out[f"lower_bar_force_{side}"], out[f"upper_bar_force_{side}"] = pull
            out[f"instant_center_ahead_{side}"], out[f"instant_center_height_{side}"] = x, y
            out[f"anti_squat_{side}"] = 100 * y / x * own / h
            squats.append(100 * y / x * own / h)
    squat = sum(squats) / len(squats)
    out["rear_spring_change"] = out["load_transfer"] * (1 - squat / 100)
    out["rear_drop_launch"] = out["rear_spring_change"] / (out["rear_wheel_rate_left"] + out["rear_wheel_rate_right"])


def limiter(s, out, k):
    lim = s["rear"]["limiter"]
    gap, d = lim["gap"], lim["arm"]
    out["limiter_gap"] = gap
    rise = math.degrees(math.atan2(gap, d))
    out["pinion_rise_contact"] = rise
    out["pinion_contact"] = s["rear"]["pinion"]["slope"] + rise
    out["limiter_gap_wanted"] = d * math.tan(math.radians(4 - s["rear"]["pinion"]["slope"]))
    couple = out["thrust"] * s["rear"]["leaf"]["front_eye_height"]
    out["windup_free"] = math.degrees(couple / k[1][1])
    touch = gap / d
    force = (couple - k[1][1] * touch) / d
    out["limiter_force_hit"] = max(force, 0)
    out["limiter_load_hit"] = k[0][1] * touch + force if force > 0 else k[0][1] * couple / k[1][1]
    # The force that leaves the limiter just met, the body free.
    def closed(f):
        z, theta = linear(k, (out["load_transfer"] - f, couple - d * f))
        return z + d * theta - gap
    out["limiter_force_settled"] = solve(closed, 0, 1e5) if closed(0) > 0 else 0.0
    out["limiter_force_bound"] = couple / d
    holes = [lim["lowest"] + n * lim["hole_spacing"] for n in range(20)]
    out["limiter_off_hole"] = min(abs(x - lim["height"]) for x in holes)
    out["limiter_hole_below"] = max(x for x in holes if x <= lim["height"] + 1e-9)
    out["limiter_hole_above"] = min(x for x in holes if x > lim["height"] + 1e-9)


def torque(s, out, kf, kr, rear_rate):
    rollout = sum(both(s["rear"]["tire"]["rollout"])) / 2
    radius = rollout / (2 * math.pi)
    out["axle_torque"] = out["thrust"] * radius / 12
    shaft = out["axle_torque"] / s["rear"]["axle"]["ratio"]
    out["driveshaft_torque"] = shaft
    track, ftrack, base = s["frame"]["rear_track"], s["frame"]["front_track"], s["frame"]["rear_spring_base"]
    out["side_change_most"] = shaft * 12 / track
    turn = shaft * 12 / (kf + kr)
    out["body_roll_launch"] = math.degrees(turn)
    out["left_rear_change"] = turn * kf / track
    out["right_front_change"] = turn * kf / ftrack
    # A shim lifts one spring: its force over the base is the couple.
    out["canceling_shim"] = 2 * shaft * 12 / (rear_rate * base)


def driveline(s, out):
    d, pinion = s["driveline"], s["rear"]["pinion"]["slope"]
    trans, shaft = d["trans_slope"], d["shaft_slope"]
    top = d["shaft_top"]
    at = lambda side, top_: (1.0, math.tan(math.radians(top_)), math.tan(math.radians(side)))
    dot = lambda p, q: sum(x * y for x, y in zip(p, q))
    cross = lambda p, q: (p[1] * q[2] - p[2] * q[1], p[2] * q[0] - p[0] * q[2], p[0] * q[1] - p[1] * q[0])
    size = lambda p: math.sqrt(dot(p, p))
    between = lambda p, q: math.degrees(math.atan2(size(cross(p, q)), dot(p, q)))
    lines = at(trans, 0), at(shaft, top), at(pinion, 0)
    b1, b2 = between(lines[0], lines[1]), between(lines[1], lines[2])
    out["pinion_to_ground"], out["pinion_to_shaft"] = pinion, pinion - shaft
    out["working_angle_front"], out["working_angle_rear"] = b1, b2
    out["working_angle_apart"] = b1 - b2
    if "pinion_contact" in out:
        out["working_angle_rear_contact"] = between(lines[1], at(out["pinion_contact"], 0))
    c = math.cos(math.radians(b2))
    out["speed_variation_rear"] = 100 * (1 / c - c)
    # Turn both joints, the second from the plane of its own lines, and take the fastest the pinion gets: one joint at b gets
    # as fast as 1/cos b.
    twist = math.radians(between(cross(lines[0], lines[1]), cross(lines[1], lines[2])))
    c1, c2 = math.cos(math.radians(b1)), math.cos(math.radians(b2))
    speed = lambda c_, turn: c_ / (1 - (1 - c_ * c_) * math.cos(turn) ** 2)
    turned = lambda c_, turn: math.atan2(math.sin(turn), c_ * math.cos(turn))
    # A joint drives by its cross: the second one's input yoke stands a quarter turn from the first one's output yoke.
    def whole(turn):
        middle = turned(c1, turn)
        return speed(c1, turn) * speed(c2, middle + math.pi / 2 + twist)
    best = max(range(3600), key=lambda k: whole(k * math.pi / 3600)) * math.pi / 3600
    low, high = best - 1e-3, best + 1e-3
    for _ in range(200):
        a, b = low + (high - low) / 3, high - (high - low) / 3
        low, high = (a, high) if whole(a) < whole(b) else (low, b)
    left = math.degrees(math.acos(min(1.0, 1 / whole(low))))
    out["left_over_angle"] = left
    rollout = sum(both(s["rear"]["tire"]["rollout"])) / 2
    wheel = RUNS["mph"] * 63360 / 60 / rollout
    rpm = wheel * s["rear"]["axle"]["ratio"]
    w = rpm * 2 * math.pi / 60
    out["left_over_acceleration"] = (w * math.radians(left)) ** 2
    out["working_angle_most"] = math.degrees(math.sqrt(1000) / w)
    out["working_angle_rear_most"] = math.hypot(b1, math.degrees(math.sqrt(400) / w))
    out["wheel_rpm_trap"], out["shaft_rpm_trap"] = wheel, rpm
    out["engine_rpm_trap"] = rpm * d["ratios"][-1]
    out["converter_slip"] = 100 * (1 - out["engine_rpm_trap"] / RUNS["rpm"])
    out["low_gear_overall"] = d["ratios"][0] * s["rear"]["axle"]["ratio"]


def tires(s, out):
    tire = s["rear"]["tire"]
    left, right = both(tire["rollout"])
    out["rear_rollout_apart"] = right - left
    for side, x, corner in zip(("left", "right"), (left, right), ("lr", "rr")):
        out[f"rear_tire_diameter_{side}"] = x / math.pi
        out[f"rear_footprint_{side}"] = s["weight"]["corner"][corner] / both(tire["pressure"])[0]


def seen(out):
    out["ft60_middle"], out["quickest_et"] = RUNS["ft60"], RUNS["quickest"]
    out["trap_mph_middle"] = RUNS["mph"]
    out["front_rise_seen"], out["bar_touched_share"] = RUNS["rise"], RUNS["touched"]
    for name in ("fields_turned", "minutes_under", "went_back"):
        out[f"{name}_since_last_run"] = 0
    out["front_pressure_rise_since_last_run_left"] = out["front_pressure_rise_since_last_run_right"] = 0


for car in ("leaf", "ladder", "fourlink"):
    s = tomllib.loads((Path(__file__).parent / "../rules" / f"{car}.toml").read_text())
    out = {}
    weight(s, out)
    launch(s, out)
    front_rates = front(s, out)
    travel(s, out)
    rear_rate, k = rear(s, out)
    kf, kr = roll(s, out, front_rates, rear_rate)
    anti_squat(s, out, k)
    if "limiter" in s["rear"]:
        limiter(s, out, k)
    torque(s, out, kf, kr, rear_rate)
    driveline(s, out)
    tires(s, out)
    seen(out)
    print(f"[{car}]")
    for name, x in out.items():
        print(f"{name} = {float(x)!r}")
    print()
