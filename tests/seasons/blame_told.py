"""What is printed of blame's answers on seasons with known truth: beside other methods, against the targets, and whether its
intervals and probabilities mean what they say.

    blame_told.py CASES ANSWERS NAME     the same of answers on disk
"""
import json, os, sys, tomllib
import numpy as np
import pandas as pd
import score

HERE = os.path.dirname(os.path.abspath(__file__))
# What the figures over all families must keep to, shares. Seasons in which nothing has an effect count where a false call would
# be one, not where they would only flatter the intervals.
COVER95 = (0.90, 0.97)
FALSE_GAINS = 0.05
SURE, SURE_WRONG = 0.98, 0.01
BINS = [0, .1, .2, .3, .4, .5, .6, .7, .8, .9, SURE, 1.0]
# Seasons a family that the targets are meant for, where it is not 120.
MEANT = {"small": 240, "long": 10}
# Sizes of effect of which the share called is told, s: one that usually needs a back-to-back, and one that should not be missed;
# and what the model's first build called of them in a season.
SIZES = [("25 to 40 ms", 0.025, 0.040, "9-24 %"), ("over 80 ms", 0.080, np.inf, "71-95 %")]


def middle(values):
    return float(np.median(values))


def share(which):
    """Share of trues, nan of nothing."""
    return float(np.mean(which)) if len(which) else float("nan")


def num(x, form="%.2f", width=6):
    return ("-" if x is None or not np.isfinite(x) else form % x).rjust(width)


def percent(x, width=6):
    return num(None if x is None else 100 * x, "%.1f", width)


def gathered(cases, out, name, families):
    """One row a step of the answered seasons of `families` (all, if none are said)."""
    parts = []
    for family, seed, folder in score.cases(cases):
        path = os.path.join(out, name, family, seed + ".csv")
        if (families and family not in families) or not os.path.exists(path):
            continue
        with open(os.path.join(folder, "truth.json")) as h:
            got, _ = score.score_case(json.load(h), pd.read_csv(path))
        if got is not None:
            got.pop("regret")
            parts.append(pd.DataFrame(dict(got, family=family)))
    return pd.concat(parts, ignore_index=True)


def beside(table):
    """The table of a family, beside the other methods."""
    with open(os.path.join(HERE, "methods.toml"), "rb") as h:
        others = tomllib.load(h)
    print("%-9s %-19s %6s %6s %6s %6s %6s %6s %6s %6s %6s %7s" % ("family", "", "top1", "MRR", "RMSE", "false", "power", "Brier",
                                                              "95 %", "90 %", "said", "blame"))
    print("%-9s %-19s %6s %6s %6s %6s %6s %6s %6s %6s %6s %7s" % ("", "", "", "", "ms", "gains", ">20ms", "", "holds", "holds", "of",
                                                              "ms"))
    for _, r in table.iterrows():
        if r.family == "null":
            print("\nnull: nothing has an effect; false gains a season (%d seasons, %d changes)" % (r.cases, r.steps))
            for name, m in others["null"].items():
                print("%-9s %-19s %6.3f" % ("", name, m["false_per_case"]))
            print("%-9s %-19s %6.3f   RMSE %.1f ms" % ("", "slipbook blame", r.false_per_case, 1000 * r.rmse))
            continue
        print("\n%s (%d seasons, %d changes)" % (r.family, r.cases, r.steps))
        for name, m in others.get(r.family, {}).items():
            print("%-9s %-19s %s %s %s %s %s %s %s" % ("", name, num(m["top1"]), num(m["mrr"]), num(m["rmse_ms"], "%.0f"),
                  num(m["fdr0"]), num(m["power"]), num(m["brier"], "%.3f"), num(m.get("cov95"))))
        print("%-9s %-19s %s %s %s %s %s %s %s %s %s %s" % ("", "slipbook blame", num(r.top1), num(r.mrr), num(1000 * r.rmse, "%.1f"),
              num(r.fdr0), num(r.power), num(r.brier, "%.3f"), num(r.cov95), num(r.cov90), num(r.answered), num(r.ms, "%.1f", 7)))


def against_targets(table):
    """Each target with ok or MISS; returns the misses."""
    with open(os.path.join(HERE, "targets.json")) as h:
        targets = json.load(h)
    print("\nTargets")
    misses = []
    for _, r in table.iterrows():
        for key, op, limit in targets.get(r.family, []):
            good = r[key] >= limit if op == ">=" else r[key] <= limit
            print("%-9s %-14s %8.4f %s %.4f  %s" % (r.family, key, r[key], op, limit, "ok" if good else "MISS"))
            misses += [] if good else ["%s %s" % (r.family, key)]
    return misses


def within(name, value, low, high, of):
    """One figure that must lie within its limits; returns the miss. No interval holds nothing; no call is no wrong one."""
    good = low <= value <= high or (of == 0 and low == 0)
    limits = "at most %g %%" % (100 * high) if low == 0 else "%g to %g %%" % (100 * low, 100 * high)
    print("%-46s %s %% of %-6d %-13s %s" % (name, percent(value), of, limits, "ok" if good else "MISS"))
    return [] if good else [name]


def over_all(steps):
    """The figures over all families; returns the misses."""
    real = steps[steps.family != "null"]
    held = lambda s, q: share(((s["lo" + q] <= s.d) & (s.d <= s["hi" + q]))[np.isfinite(s["lo" + q])])
    misses = []
    print("\nOver all families (the first three without null: an interval around nothing flatters)")
    n = int(np.isfinite(real.lo95).sum())
    if len(real):
        misses += within("the 95 % interval holds the true effect in", held(real, "95"), *COVER95, n)
    print("%-46s %s %% of %d" % ("the 90 % interval in", percent(held(real, "90")), n))
    some = real[(real.d.abs() > 1e-9) & np.isfinite(real.lo90)]
    print("%-46s %s %% of %d" % ("the 90 % interval, where there was an effect, in", percent(held(some, "90")), len(some)))
    gains = steps[steps.pg >= score.CALL]
    misses += within("called gains that are none", share(gains.d >= 0), 0, FALSE_GAINS, len(gains))
    losses = steps[steps.pl >= score.CALL]
    print("%-46s %s %% of %d" % ("called losses that are none", percent(share(losses.d <= 0)), len(losses)))
    sure = np.r_[(steps.d >= 0)[steps.pg >= SURE], (steps.d <= 0)[steps.pl >= SURE]]
    misses += within("calls at .98 and over that are wrong", share(sure), 0, SURE_WRONG, len(sure))
    return misses


def reliability(steps):
    """What p_gain said, and how often it came true."""
    real = steps[(steps.family != "null") & np.isfinite(steps.pg)]
    print("\nWhat p_gain says and how often it is so (true effect below %g s; without null)" % -score.EPS)
    print("%-12s %7s %7s %10s %8s" % ("p_gain", "n", "said", "came true", "+-2 s.e."))
    for low, high in zip(BINS, BINS[1:]):
        part = real[(real.pg >= low) & ((real.pg < high) | (high == 1.0))]
        if len(part):
            true = share(part.d < -score.EPS)
            print("%.2f - %.2f  %7d %7.3f %10.3f %8.3f" % (low, high, len(part), part.pg.mean(), true,
                                                        2 * np.sqrt(true * (1 - true) / len(part))))


def by_size(steps):
    """How often effects of a size are called, by family and over all."""
    print("\nOf effects of a size, gains and losses: called for what they are, called the other way, the probability they were given")
    print("%-13s %-9s %6s %8s %6s %7s %8s   %s" % ("size", "family", "n", "called", "wrong", "said", "90 held", "first build"))
    for name, low, high, was in SIZES:
        part = steps[(steps.d.abs() >= low) & (steps.d.abs() <= high)]
        for family in [*dict.fromkeys(part.family), "all"]:
            s = part if family == "all" else part[part.family == family]
            gain = s.d < 0
            right, wrong = np.where(gain, s.pg, s.pl), np.where(gain, s.pl, s.pg)
            held = ((s.lo90 <= s.d) & (s.d <= s.hi90))[np.isfinite(s.lo90)]
            print("%-13s %-9s %6d %6s %% %6d %7s %6s %%   %s" % (name, family, len(s), percent(share(right >= score.CALL)).strip(),
                  int((wrong >= score.CALL).sum()), num(np.nanmean(right) if np.isfinite(right).any() else None).strip(),
                  percent(share(held)).strip(), was if family == "all" else ""))


# Of some fifty targets, the misses that are chance: the sampling error of top1 is about .045.
BY_CHANCE = 1


def may_pass(misses):
    """Whether these misses are no more than chance: one of the targets, and none of the figures over all families."""
    with open(os.path.join(HERE, "targets.json")) as h:
        names = {"%s %s" % (family, key) for family, all in json.load(h).items() for key, _, _ in all}
    return len(misses) <= BY_CHANCE and all(m in names for m in misses)


def told(cases, out, name, families=()):
    """Prints all of it; returns the misses."""
    table = score.table(cases, out, [name])
    if families:
        table = table[table.family.isin(families)]
    steps = gathered(cases, out, name, families)
    beside(table)
    misses = against_targets(table) + over_all(steps)
    reliability(steps)
    by_size(steps)
    few = ["%s %d" % (r.family, r.cases) for _, r in table.iterrows() if r.cases < MEANT.get(r.family, 120)]
    if few:
        print("\nThe targets are meant for 120 seasons a family (240 of small, 10 of long); there are fewer of %s." % ", ".join(few))
    print("\n%d miss(es)%s" % (len(misses), "".join("\n  " + m for m in misses)))
    return misses


if __name__ == "__main__":
    if len(sys.argv) != 4:
        sys.exit(__doc__)
    sys.exit(0 if may_pass(told(*sys.argv[1:])) else 1)
