#!/usr/bin/env python3
"""Computes the certified values in strd.csv anew from the data with 60 digits, and checks that the rule by which tests/strd.rs
makes the three large ANOVA sets gives NIST's files (as in SciPy). Exit 1 where something differs.

    strd.py          needs mpmath and SciPy (1.4.1 and 1.17.1 when this was written)
"""

import csv
import sys
from decimal import Decimal
from pathlib import Path

import scipy
from mpmath import matrix, mp, mpf, sqrt

mp.dps = 60
HERE = Path(__file__).parent
POWERS = {"Norris": 1, "Pontius": 2, "Filip": 10} | {f"Wampler{k}": 5 for k in range(1, 6)}


def rows_of(path):
    if path.suffix == ".dat":
        return [line.split() for line in path.read_text().splitlines()[60:] if line.strip()]
    return list(csv.reader(line for line in path.open() if line[0] != "#"))[1:]


def certified():
    rows = csv.DictReader(line for line in (HERE / "strd.csv").open() if line[0] != "#")
    sets = {}
    for r in rows:
        sets.setdefault(r["set"], []).append(r)
    return sets


def fitted(name):
    path = HERE / f"{name}.csv"
    rows = [[mpf(c) for c in r] for r in rows_of(path if path.exists() else path.with_suffix(".dat"))]
    y = [r[0] for r in rows]
    if name == "NoInt1":
        x = [[r[1]] for r in rows]
    elif name in POWERS:
        x = [[r[1] ** k for k in range(POWERS[name] + 1)] for r in rows]
    else:
        x = [[mpf(1), *r[1:]] for r in rows]
    n, p = len(x), len(x[0])
    X, Y = matrix(x), matrix(y)
    normal = (X.T * X) ** -1
    b = normal * (X.T * Y)
    left = Y - X * b
    squares = sum(e * e for e in left)
    sd = sqrt(squares / (n - p))
    middle = mpf(0) if name == "NoInt1" else sum(y) / n
    total = sum((v - middle) ** 2 for v in y)
    found = {f"b{j + (name == 'NoInt1')}": (b[j], sd * sqrt(normal[j, j])) for j in range(p)}
    return found | {"sd": (sd, None), "r2": (1 - squares / total, None)}


def near(text, value):
    """Equal to the last digit that NIST prints: 15, or all the digits of a value that is exact."""
    old = mpf(text)
    return abs(value) < mpf(10) ** -25 if old == 0 else abs(value - old) <= abs(old) * mpf("1.1e-14")


def main():
    wrong = 0
    for name, rows in certified().items():
        found = fitted(name)
        if set(found) != {r["what"] for r in rows}:
            wrong += 1
            print(name, "has other parameters")
        for r in rows:
            value, error = found[r["what"]]
            for text, new in ((r["value"], value), (r["error"], error)):
                if text and not near(text, new):
                    wrong += 1
                    print(name, r["what"], text, mp.nstr(new, 17))
    nist = Path(scipy.__file__).parent / "stats/tests/data/nist_anova"
    for name, base in (("SmLs03", "1"), ("SmLs06", "1000000"), ("SmLs09", "1000000000000")):
        made = []
        for group in range(1, 10):
            middle = Decimal(base) + (Decimal("0.4") if group == 1 else Decimal("0.3") if group % 2 == 0 else Decimal("0.5"))
            step = [middle] + [middle + (Decimal("-0.1") if i % 2 else Decimal("0.1")) for i in range(1, 2001)]
            made += [(str(group), v) for v in step]
        if [(g, Decimal(v)) for g, v in rows_of(nist / f"{name}.dat")] != made:
            wrong += 1
            print(name, "is not made by the rule")
    print("scipy", scipy.__version__, "wrong:", wrong)
    return wrong > 0


sys.exit(main())
