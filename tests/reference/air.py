"""Topic A of references.toml, written from the sources: from an entry's inputs to its values."""

import math
import re

import CoolProp.CoolProp as coolprop
import metpy.calc
import psychrolib
from metpy.units import units

psychrolib.SetUnitSystem(psychrolib.SI)

INHG = 3386.388640341  # Pa, NIST SP 811
FT = 0.3048  # m, exact
MMHG = 133.322387415  # Pa, from the same 13 595.1 kg/m3 and 9.80665 m/s2
RD = 287.05287  # J/(kg K), ISO 2533
STANDARD_N = RD * 0.0065 / 9.80665


def celsius(f):
    return (f - 32) * 5 / 9


# --- water vapor ---------------------------------------------------------------------------------------------------


def es_cipm(t):
    """Picard et al. 2008, A1.1."""
    k = t + 273.15
    return math.exp(1.2378847e-5 * k**2 - 1.9121316e-2 * k + 33.93711047 - 6343.1645 / k)


def es_magnus(t):
    """WMO-No. 8, annex 4.B, over water."""
    return 611.2 * math.exp(17.62 * t / (243.12 + t))


def es_magnus_ice(t):
    return 611.2 * math.exp(22.46 * t / (272.62 + t))


def es_nws(t, c):
    return 611 * 10 ** (7.5 * t / (c + t))


def ps_sublimation(k):
    """IAPWS R14-08(2011), equation 6."""
    theta = k / 273.16
    a = (-0.212144006e2, 0.273203819e2, -0.610598130e1)
    b = (0.333333333e-2, 0.120666667e1, 0.170333333e1)
    return 611.657 * math.exp(sum(x * theta**y for x, y in zip(a, b)) / theta)


def enhancement(p, t):
    return 1.00062 + 3.14e-8 * p + 5.6e-7 * t**2


def cipm(t, p, x):
    """CIPM-2007: density and Z, carbon dioxide 400 ppm, R of the paper."""
    k = t + 273.15
    z = 1 - p / k * (
        1.58123e-6 - 2.9331e-8 * t + 1.1043e-10 * t**2 + (5.707e-6 - 2.051e-8 * t) * x + (1.9898e-4 - 2.376e-6 * t) * x**2
    ) + (p / k) ** 2 * (1.83e-11 - 0.765e-8 * x**2)
    ma, mv = 28.96546e-3, 18.01528e-3
    return p * ma / (z * 8.314472 * k) * (1 - x * (1 - mv / ma)), z


def ideal(t, p, e, lighter=0.378):
    return (p - lighter * e) / (RD * (t + 273.15))


def ideal_two_gases(t, p, e):
    """Dry air and vapor apart, with 287.05 and 461.495 J/(kg K)."""
    return (p - e) / (287.05 * (t + 273.15)) + e / (461.495 * (t + 273.15))


def oiml(t, p, rh):
    """OIML R 111-1:2004, E.3: hPa, per cent."""
    return (0.34848 * p / 100 - 0.009 * 100 * rh * math.exp(0.061 * t)) / (273.15 + t)


def humid(what, t, p, rh):
    return coolprop.HAPropsSI(what, "T", t + 273.15, "P", p, "R", rh)


# --- heights -------------------------------------------------------------------------------------------------------


def isa(h_m):
    t = 288.15 - 0.0065 * h_m
    p = 101325 * (t / 288.15) ** (1 / STANDARD_N)
    return t, p, p / (RD * t)


def station_isa(setting, h_m):
    return (setting**STANDARD_N - 101325**STANDARD_N * 0.0065 * h_m / 288.15) ** (1 / STANDARD_N)


def station_nws_mb(setting_mb, h_m):
    n = 0.190284
    return (setting_mb**n - 1013.25**n * 0.0065 / 288 * h_m) ** (1 / n) + 0.3


def pa_faa(p):
    return 145366.45 * (1 - (p / 101325) ** 0.190284)


def da_rounded(rho):
    return 145442.16 * (1 - (rho / 1.225) ** 0.234969)


def da(rho):
    """The same before its constants were rounded."""
    power = STANDARD_N / (1 - STANDARD_N)
    return 288.15 / 0.0065 / FT * (1 - (rho / isa(0)[2]) ** power)


# --- topic A -------------------------------------------------------------------------------------------------------


def a_isa(i):
    z = i.get("Z_m")
    h = i["h_ft"] * FT if "h_ft" in i else i.get("H_m", 6356766 * (z or 0) / (6356766 + (z or 0)))
    t, p, rho = isa(h)
    out = {"T_K": t, "p_Pa": p, "p_isa_Pa": p, "p_inHg": p / INHG, "rho_kg_m3": rho, "sigma": rho / isa(0)[2], "H_m": h}
    return out | {f"cross.{k}": v for k, v in out.items()}


def a_es(i):
    t = i["t_C"] if "t_C" in i else i["T_K"] - 273.15
    k = t + 273.15
    out = {
        "cipm_Pa": es_cipm(t),
        "wmo_magnus_Pa": es_magnus(t),
        "nws_237_3_Pa": es_nws(t, 237.3),
        "nws_237_7_Pa": es_nws(t, 237.7),
        "buck1981_Pa": 611.21 * math.exp(17.502 * t / (240.97 + t)),
        "ice_Pa": es_magnus_ice(t),
        "water_Pa": es_magnus(t),
        "ice_over_water": es_magnus_ice(t) / es_magnus(t),
        "cross.hyland_wexler_Pa": psychrolib.GetSatVapPres(t) if t <= 200 else None,
        "cross.ice_hyland_wexler_Pa": psychrolib.GetSatVapPres(t) if t <= 200 else None,
    }
    if t > 0:
        out["cross.iapws95_Pa"] = coolprop.PropsSI("P", "T", k, "Q", 0, "Water")
    else:
        out["cross.ice_iapws_r14_Pa"] = ps_sublimation(k)
    return out


def a_dewpoint(i):
    if "td_C" in i:
        return {"rh": es_magnus(i["td_C"]) / es_magnus(i["t_C"])}
    t, rh, p = i["t_C"], i["rh"], i["p_Pa"]
    g = math.log(rh) + 17.62 * t / (243.12 + t)
    return {
        "td_magnus_C": 243.12 * g / (17.62 - g),
        "vapour_pressure_magnus_inHg": rh * es_magnus(t) / INHG,
        "cross.td_metpy_C": metpy.calc.dewpoint_from_relative_humidity(t * units.degC, rh).m_as("degC"),
        "cross.td_coolprop_C": humid("D", t, p, rh) - 273.15,
        "cross.wetbulb_coolprop_C": humid("B", t, p, rh) - 273.15,
        "cross.wetbulb_psychrolib_C": psychrolib.GetTWetBulbFromRelHum(t, rh, p),
        "cross.grains_per_lb": 7000 * humid("W", t, p, rh),
    }


def a_wetbulb(i):
    if "t_F" in i:
        psychrolib.SetUnitSystem(psychrolib.IP)
        t, tw, p = i["t_F"], i["tw_F"], i["p_psia"]
        w = psychrolib.GetHumRatioFromTWetBulb(t, tw, p)
        out = {
            "cross.humidity_ratio": w,
            "cross.td_F": psychrolib.GetTDewPointFromHumRatio(t, w, p),
            "cross.rh": psychrolib.GetRelHumFromHumRatio(t, w, p),
            "cross.v_ft3_per_lb_dry": psychrolib.GetMoistAirVolume(t, w, p),
            "cross.grains_per_lb": 7000 * w,
        }
        psychrolib.SetUnitSystem(psychrolib.SI)
        return out
    t, tw, p = i["t_C"], i["tw_C"], i["p_Pa"]
    w = psychrolib.GetHumRatioFromTWetBulb(t, tw, p)
    return {
        "rh_psychrometer": (es_magnus(tw) - 6.53e-4 * (1 + 0.000944 * tw) * p * (t - tw)) / es_magnus(t),
        "cross.rh_coolprop": coolprop.HAPropsSI("R", "T", t + 273.15, "P", p, "B", tw + 273.15),
        "cross.rh_psychrolib": psychrolib.GetRelHumFromTWetBulb(t, tw, p),
        "cross.humidity_ratio": w,
        "cross.td_C": psychrolib.GetTDewPointFromHumRatio(t, w, p),
        "cross.rh": psychrolib.GetRelHumFromHumRatio(t, w, p),
        "cross.v_m3_per_kg_dry": psychrolib.GetMoistAirVolume(t, w, p),
        "cross.rho_kg_m3": (1 + w) / psychrolib.GetMoistAirVolume(t, w, p),
    }


def a_humidity_ratio(i):
    t, p = i["t_C"], i["p_Pa"]
    ratio = lambda e: 0.621945 * e / (p - e)
    # Saturation as the handbook's table prints it, to 0.1 Pa.
    es = round(coolprop.PropsSI("P", "T", t + 273.15, "Q", 0, "IF97::Water"), 1)
    return {
        "cross.Ws_cipm_f": ratio(enhancement(p, t) * es),
        "cross.Ws_no_f": ratio(es),
        "cross.Ws_coolprop": humid("W", t, p, 1.0),
    }


def a_rho(i):
    t, rh = i["t_C"], i["rh"]
    p = i["p_Pa"] if "p_Pa" in i else i["p_mmHg"] * MMHG
    x = rh * enhancement(p, t) * es_cipm(t) / p
    rho, z = cipm(t, p, x)
    coolprop_v = humid("Vha", t, p, rh)
    return {
        "rho_kg_m3": rho,
        "Z": z,
        "f": enhancement(p, t),
        "psv_Pa": es_cipm(t),
        "xv": x,
        "cross.oiml_r111_kg_m3": oiml(t, p, rh),
        "cross.ideal_gas_kg_m3": ideal_two_gases(t, p, rh * es_magnus(t)),
        "cross.coolprop_kg_m3": 1 / coolprop_v,
        "cross.cipm2007_kg_m3": rho,
        "cross.v_cipm": 1 / rho,
        "cross.v_coolprop": coolprop_v,
    }


def a_rho_grid(i):
    t, p, rh = celsius(i["t_F"]), i["p_inHg"] * INHG, i["rh"]
    return {
        "rho_kg_m3": 1 / humid("Vha", t, p, rh),
        "cross.vapour_p_Pa": humid("P_w", t, p, rh),
        "cross.humidity_ratio": humid("W", t, p, rh),
    }


def a_density_altitude(i):
    if "pa_ft" in i:
        return {"cross.da_ft": i["pa_ft"] + 120 * (i["t_C"] - (15 - 2 * i["elev_ft"] / 1000))}
    t = celsius(i["t_F"])
    if "altimeter_inHg" in i:
        pa = i["elev_ft"] - 165
        rule = pa + 118.8 * (t - (15 - 1.9812 * pa / 1000))
        station = isa(pa * FT)[1]
        return {"cross.da_formula_118_8_ft": rule, "cross.da_exact_dry_ft": da(ideal(t, station, 0))}
    td, p_in = i["dewpoint_C"], i["station_p_inHg"]
    p = p_in * INHG
    e = es_magnus(td)
    unrounded = 1 - 0.62198  # the 0.378 of these entries
    vapor = 6.11 * 10 ** (7.5 * td / (237.7 + td))
    tv = (t + 273.15) / (1 - 0.378 * vapor / (p / 100))
    pa = pa_faa(p)
    away = t - (15 - 1.9812 * pa / 1000)
    return {
        "da_exact_ft": da(ideal(t, p, e, unrounded)),
        "da_nws_ft": 145366 * (1 - (17.326 * p_in / (1.8 * (tv - 273.15) + 32 + 459.69)) ** 0.235),
        "pa_ft": pa,
        "da_faa_118_8_ft": pa + 118.8 * away,
        "da_faa_120_ft": pa + 120 * away,
        "da_dry_part_ft": da((p - e) / (RD * (t + 273.15))),
        "cross.rho_kg_m3": ideal(t, p, e, unrounded),
    }


def a_pressure_altitude(i, formula):
    p = i["altimeter_inHg"] * INHG
    # The entry without that formula has the standard atmosphere's own constants, to six digits.
    exact = 145442.16 * (1 - (i["altimeter_inHg"] / 29.92126) ** 0.190263)
    return {"cross.pa_formula_ft": i["elev_ft"] + (pa_faa(p) if "145366.45" in formula else exact)}


def a_altimeter(i):
    a, h = i["altimeter_inHg"], i["elev_ft"] * FT
    nws, exact = station_nws_mb(a * INHG / 100, h), station_isa(a * INHG, h)
    return {
        "station_nws_hPa": nws,
        "station_nws_inHg": nws * 100 / INHG,
        "station_isa_exact_hPa": exact / 100,
        "station_isa_exact_inHg": exact / INHG,
        "station_asos_inHg": (a ** (1 / 5.255) - 1.313e-5 * i["elev_ft"]) ** (1 / 0.1903),
        "cross.metpy_hPa": metpy.calc.altimeter_to_station_pressure(a * units.inHg, i["elev_ft"] * units.ft).m_as("hPa"),
        "cross.station_isa_exact_Pa": exact,
        "cross.station_isa_exact_inHg": exact / INHG,
    }


def a_power_cf(i):
    f, rh = i["t_F"], i["rh"]
    t, p = celsius(f), i["station_p_inHg"] * INHG
    e = rh * es_magnus(t)
    dry = p - e
    return {
        "vapour_p_inHg": e / INHG,
        "dry_p_inHg": dry / INHG,
        "cf_j607": 29.92 / (dry / INHG) * math.sqrt((f + 460) / 520),
        "cf_j1349": 1.18 * 99000 / dry * math.sqrt((t + 273) / 298) - 0.18,
        "cf_iso1585": (99000 / dry) ** 1.2 * ((t + 273.15) / 298.15) ** 0.6,
    }


def decode(text):
    """Just enough of a report for the entries: FM 15, remarks by FMH-1."""
    body, _, remarks = text.partition(" RMK ")
    out = {}
    if when := re.search(r"\b([A-Z]{4}) (\d\d)(\d{4})Z\b", body):
        out |= {"station": when[1], "day": int(when[2]), "hhmm": int(when[3])}
    if re.search(r"\bAUTO\b", body):
        out["auto"] = True
    if wind := re.search(r"\b(\d{3}|VRB)(\d{2,3})(?:G(\d{2,3}))?(KT|MPS)\b", body):
        unit = 3600 / 1852 if wind[4] == "MPS" else 1
        out["wind_kt"] = int(wind[2]) * unit
        if wind[1] != "VRB":
            out["wind_dir"] = int(wind[1])
        if wind[3]:
            out["gust_kt"] = int(wind[3]) * unit
    whole = lambda s: -int(s[1:]) if s.startswith("M") else int(s)
    if temperatures := re.search(r" (M?\d\d)/(M?\d\d)?(?= )", body + " "):
        out["t_C"] = whole(temperatures[1])
        if temperatures[2]:
            out["td_C"] = whole(temperatures[2])
    if inches := re.search(r"\bA(\d{4})\b", body):
        out["altimeter_inHg"] = int(inches[1]) / 100
    if hpa := re.search(r"\bQ(\d{4})\b", body):
        out |= {"qnh_hPa": int(hpa[1]), "altimeter_inHg": int(hpa[1]) * 100 / INHG}
    if tenths := re.search(r"\bT([01])(\d{3})(?:([01])(\d{3}))?\b", remarks):
        out["t_exact_C"] = (-1) ** int(tenths[1]) * int(tenths[2]) / 10
        if tenths[3]:
            out["td_exact_C"] = (-1) ** int(tenths[3]) * int(tenths[4]) / 10
    if slp := re.search(r"\bSLP(\d{3})\b", remarks):
        out["slp_hPa"] = int(slp[1]) / 10 + (1000 if int(slp[1]) < 500 else 900)
    return out


def a_chain(i):
    m = decode(i["metar"])
    setting = m["altimeter_inHg"] * INHG
    t, td = m.get("t_exact_C", m["t_C"]), m.get("td_exact_C", m["td_C"])
    p = station_isa(setting, i["elev_ft"] * FT)
    e = es_magnus(td)
    return {
        "station_hPa": p / 100,
        "vapor_hPa": e / 100,
        "rho_ideal_kg_m3": ideal(t, p, e),
        "rho_cipm_kg_m3": cipm(t, p, enhancement(p, td) * es_cipm(td) / p)[0],
        "cross.da_exact_ft": da_rounded(ideal(t, p, e)),
        "cross.pa_ft": pa_faa(p),
    }


TOPICS = {
    "A.isa": a_isa,
    "A.es": a_es,
    "A.dewpoint": a_dewpoint,
    "A.wetbulb": a_wetbulb,
    "A.humidity_ratio": a_humidity_ratio,
    "A.rho": a_rho,
    "A.rho_grid": a_rho_grid,
    "A.density_altitude": a_density_altitude,
    "A.pressure_altitude": a_pressure_altitude,
    "A.altimeter": a_altimeter,
    "A.power_cf": a_power_cf,
    "A.metar": lambda i: decode(i["text"]),
    "A.chain": a_chain,
}
