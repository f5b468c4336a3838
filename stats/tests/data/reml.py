#!/usr/bin/env python3
"""Restricted likelihood of the sets in tests/reml.rs, made anew two ways: by minimising its formula over dense matrices (written
here apart from the Rust), and by statsmodels. Prints both, as sets have them: standard deviations, fixed effects, their errors,
-2 log likelihood. The test has the first. Exit 1 where the two differ by more than 2e-3 (statsmodels stops a little early: 9e-4
in one sd of Pastes, where the likelihood is flat), or the likelihoods by more than 1e-7.

    reml.py          needs statsmodels and SciPy (0.15.0, 1.17.1, NumPy 2.4.6 when this was written)
"""

import csv
import sys
import warnings
from pathlib import Path

import numpy as np
import pandas as pd
import statsmodels.api as sm
from scipy.linalg import solve_triangular
from scipy.optimize import minimize

warnings.simplefilter("ignore")
HERE = Path(__file__).parent


def table(path):
    return list(csv.DictReader(line for line in path.open() if line[0] != "#"))


def criterion(theta, y, X, kernels):
    """-2 log restricted likelihood, its fixed effects and their standard errors; theta = logarithms of the sds."""
    V = np.exp(2 * theta[0]) * np.eye(len(y)) + sum(np.exp(2 * t) * K for t, K in zip(theta[1:], kernels))
    L = np.linalg.cholesky(V)
    Xw, yw = solve_triangular(L, X, lower=True), solve_triangular(L, y, lower=True)
    A = Xw.T @ Xw
    b = np.linalg.solve(A, Xw.T @ yw)
    r = yw - Xw @ b
    value = 2 * np.log(np.diag(L)).sum() + np.linalg.slogdet(A)[1] + r @ r + (len(y) - X.shape[1]) * np.log(2 * np.pi)
    return value, b, np.sqrt(np.diag(np.linalg.inv(A)))


def best(y, X, kernels, start):
    x = np.log(start)
    for _ in range(2):
        x = minimize(lambda t: criterion(t, y, X, kernels)[0], x, method="Nelder-Mead", options={"xatol": 1e-8, "fatol": 1e-12, "maxiter": 2000}).x
    value, b, se = criterion(x, y, X, kernels)
    return np.exp(x), value, b, se


def same(names):
    names = np.array(names)
    return (names[:, None] == names[None, :]).astype(float)


def main():
    far = 0

    def show(name, own, library):
        nonlocal far
        print(name)
        for what, a, b in zip(("sd", "-2ll", "b", "se"), own, library):
            a, b = np.atleast_1d(a), np.atleast_1d(b)
            worst = np.max(np.abs(a / b - 1))
            far += worst > (1e-7 if what == "-2ll" else 2e-3)
            print(f"  {what:5}", [f"{v:.9g}" for v in a], [f"{v:.9g}" for v in b], f"{worst:.1e}")

    p = table(HERE / "pastes.csv")
    y = np.array([float(r["strength"]) for r in p])
    own = best(y, np.ones((60, 1)), [same([r["sample"] for r in p]), same([r["batch"] for r in p])], [1, 3, 1])
    d = pd.DataFrame({"y": y, "batch": [r["batch"] for r in p], "cask": [r["sample"] for r in p]})
    f = sm.MixedLM.from_formula("y ~ 1", d, groups="batch", re_formula="1", vc_formula={"cask": "0 + C(cask)"}).fit(method=["powell", "lbfgs"], gtol=1e-10)
    show("pastes: residual, cask, batch", own, ([f.scale**0.5, f.vcomp[0] ** 0.5, f.cov_re.iloc[0, 0] ** 0.5], -2 * f.llf, f.fe_params.iloc[0], f.bse_fe.iloc[0]))

    for name, path, ycol, xcol, gcol, start in (
        ("sleepstudy, intercepts", HERE / "../../../tests/reference/sleepstudy.csv", "reaction", "days", "subject", [30, 40]),
        ("dietox", HERE / "dietox.csv", "weight", "time", "pig", [3.4, 6.4]),
    ):
        r = table(path)
        y, x = (np.array([float(v[c]) for v in r]) for c in (ycol, xcol))
        X = np.column_stack([np.ones(len(y)), x])
        own = best(y, X, [same([v[gcol] for v in r])], start)
        f = sm.MixedLM(y, X, groups=[v[gcol] for v in r]).fit(method=["powell", "lbfgs"], gtol=1e-10)
        show(f"{name}: residual, {gcol}", own, ([f.scale**0.5, np.asarray(f.cov_re)[0, 0] ** 0.5], -2 * f.llf, f.fe_params, f.bse_fe))

    r = table(HERE / "nile.csv")
    y = np.array([float(v["volume"]) for v in r])
    i = np.arange(len(y), dtype=float)
    own = best(y, np.ones((len(y), 1)), [np.minimum(i[:, None], i[None, :])], [120, 40])
    m = sm.tsa.UnobservedComponents(y, "llevel", use_exact_diffuse=True)
    f = m.fit(disp=0, method="lbfgs", pgtol=1e-12, factr=10, maxiter=1000)
    f = m.fit(f.params, disp=0, method="nm", xtol=1e-10, ftol=1e-12, maxiter=2000)
    # The exact diffuse likelihood counts the first value with log(2 pi) as well, the restricted one does not.
    show("nile: irregular, level", own[:2], (np.sqrt(f.params), -2 * f.llf - np.log(2 * np.pi)))
    return int(far > 0)


sys.exit(main())
