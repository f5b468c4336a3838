#!/usr/bin/env python3
"""What pandas and statsmodels make of a season table: a linear mixed model of the ET, the day a random effect (REML).

usage: blame_peer.py SEASON.csv

SEASON.csv is a table as tests/seasons/book.py writes it; the first sheet is read from setup.toml beside it, where there is one.
Fixed effects: each distinct setup (equal sheets share one), the air, the lane, the wear of the season. Runs marked not clean are
left out. Printed: each version's effect against the version before it, s (negative is quicker), with its standard error; then the
seconds it took to load and to fit, the start of the libraries apart.

Air density: ideal gas, with the Magnus form of the saturation pressure (coefficients from memory, Alduchov and Eskridge 1996).
"""
import os, sys, time, tomllib

began = time.perf_counter()
import warnings
import numpy as np
import pandas as pd
from statsmodels.regression.mixed_linear_model import MixedLM

STARTED = time.perf_counter() - began


def plain(value):
    """A cell of a sheet in one spelling."""
    return value if isinstance(value, str) else "%g" % value


def loaded(path):
    """The runs of the table, with version, distinct setup, air density, lane and wear of each."""
    t = pd.read_csv(path, dtype=str)
    own = [c for c in t.columns if c.startswith("own.")]
    sheets, t = t[own].copy(), t.drop(columns=own)
    t["version"] = 1 + sheets.notna().any(axis=1).cumsum()
    first = os.path.join(os.path.dirname(path), "setup.toml")
    if os.path.exists(first):
        with open(first, "rb") as h:
            at_first = tomllib.load(h)["own"]
        # An empty cell is as in the row above; those of the first row are as on the first sheet.
        sheets.iloc[0] = [plain(at_first[c[4:]]) if pd.isna(v) else v for c, v in sheets.iloc[0].items()]
    t["setup"] = pd.util.hash_pandas_object(sheets.ffill().fillna(""), index=False).factorize()[0]
    numbers = ["ft1320", "temperature [C]", "humidity", "pressure_station [hPa]"]
    t[numbers] = t[numbers].apply(pd.to_numeric)
    temp, rh = t["temperature [C]"], t["humidity"] / 100
    steam = rh * 6.1094 * np.exp(17.625 * temp / (temp + 243.04))
    t["thin"] = np.log(1.2 / (100 * ((t["pressure_station [hPa]"] - steam) / 287.05 + steam / 461.495) / (temp + 273.15)))
    t["side"] = t["lane"].map({"left": 0.5, "right": -0.5}).fillna(0.0)
    t["wear"] = t.groupby(t["date"].str[:4]).cumcount() / 100
    return t


def fitted(t):
    """The model's fit over the clean runs, and the column of each setup in it."""
    used = t[t["clean_to"].isna() & t["ft1320"].notna()]
    setups = {s: i for i, s in enumerate(sorted(used["setup"].unique()))}
    x = np.zeros((len(used), len(setups)))
    x[np.arange(len(used)), used["setup"].map(setups)] = 1
    beyond = np.empty((len(used), 0))
    for name in ("thin", "side", "wear"):
        more = used[name].fillna(used[name].mean())
        if more.isna().any():
            continue  # no run has it
        # Only what the setups do not already tell can be told from them.
        wider = np.column_stack([beyond, more - more.groupby(used["setup"]).transform("mean")])
        if np.linalg.matrix_rank(wider) > beyond.shape[1]:
            x, beyond = np.column_stack([x, more]), wider
    return MixedLM(used["ft1320"].to_numpy(), x, groups=used["date"].to_numpy()).fit(reml=True), setups


def effects(t, fit, setups):
    """(version, effect s, standard error s) of each version after the first; not numbers where a setup has no clean run."""
    mean, cov = fit.fe_params, fit.cov_params()[:len(fit.fe_params), :len(fit.fe_params)]
    on = t.groupby("version")["setup"].first()
    for version in on.index[1:]:
        a, b = setups.get(on[version - 1]), setups.get(on[version])
        if a is None or b is None:
            yield version, float("nan"), float("nan")
        else:
            yield version, mean[b] - mean[a], np.sqrt(max(cov[a, a] + cov[b, b] - 2 * cov[a, b], 0))


def main(path):
    began = time.perf_counter()
    table = loaded(path)
    read = time.perf_counter()
    with warnings.catch_warnings():
        # A variance on its boundary is an answer here, not news.
        warnings.simplefilter("ignore")
        fit, setups = fitted(table)
        told = list(effects(table, fit, setups))
    done = time.perf_counter()
    for version, effect, se in told:
        print("v%-5d %8.4f  +- %.4f" % (version, effect, se))
    print("runs %d, clean %d, setups %d, days %d, converged %s" % (len(table), fit.nobs, len(setups), len(fit.model.group_labels),
                                                                "yes" if fit.converged else "no"))
    print("run %.4f s, day %.4f s (sd)" % (np.sqrt(fit.scale), np.sqrt(max(float(np.asarray(fit.cov_re).flat[0]), 0))))
    print("start_s %.4f\nload_s %.4f\nfit_s %.4f\nload_and_fit_s %.4f" % (STARTED, read - began, done - read, done - began))


if __name__ == "__main__":
    if len(sys.argv) != 2:
        sys.exit(__doc__)
    main(sys.argv[1])
