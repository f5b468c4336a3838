#!/usr/bin/env python3
"""How `slipbook dial` does on simulated seasons with known truth.

usage: dial.py [--n N] [--seed0 S] [--bin FILE] [--check] [FAMILY ...]

Each season (seasons.py) becomes a book of its own (book.py): its fields are the car's own fields, its table is imported, and
`slipbook dial --backtest` expects each run from those before it alone. Printed for each family: how often the ranges for
8 in 10 and 19 in 20 held, the middle miss of dial and of what people do instead, in seconds. --check: exit 1 unless both
ranges hold within 4 points of what they say and dial's middle miss is the smallest.
"""
import argparse, concurrent.futures, json, os, sys, tempfile
from book import Failed, book, call, drawn

FAMILIES = ["tidy", "typical", "messy"]


def one(job):
    family, seed, binary = job
    with tempfile.TemporaryDirectory() as folder:
        env = book(drawn(family, seed, folder), folder, binary, tell_late=False)
        return family, seed, json.loads(call(env, binary, "dial", "--backtest", "--last", "1000", "--format", "json"))


def middle(values):
    values = sorted(values)
    n = len(values)
    return (values[(n - 1) // 2] + values[n // 2]) / 2 if n else float("nan")


def main():
    ask = argparse.ArgumentParser()
    ask.add_argument("families", nargs="*", default=[], metavar="FAMILY")
    ask.add_argument("--n", type=int, default=30)
    ask.add_argument("--seed0", type=int, default=500000)
    ask.add_argument("--bin", default="target/release/slipbook")
    ask.add_argument("--check", action="store_true")
    ask.add_argument("--by-place", action="store_true", help="also the share held by runs there were on the setup")
    args = ask.parse_args()
    families = args.families or FAMILIES
    jobs = [(f, args.seed0 + k, os.path.abspath(args.bin)) for f in families for k in range(args.n)]
    with concurrent.futures.ProcessPoolExecutor() as pool:
        try:
            answers = list(pool.map(one, jobs))
        except Failed as e:
            sys.exit("dial.py: %s" % e)
    print("%-9s %7s %6s  %7s %7s  %22s" % ("", "seasons", "runs", "8 in 10", "19in20", "middle miss, s"))
    print("%-9s %7s %6s  %7s %7s  %6s %8s %7s" % ("family", "", "", "held", "held", "dial", "last day", "fixed"))
    bad = 0
    for family in families:
        tried = [t for f, _, a in answers if f == family for t in a["tried"]]
        held = lambda key: sum(t[key][0] <= t["ran_s"] <= t[key][1] for t in tried) / len(tried)
        miss = lambda key: middle([abs(t[key] - t["ran_s"]) for t in tried])
        h80, h95 = held("range80_s"), held("range95_s")
        dial, last, fixed = miss("expected_s"), miss("last_day_s"), miss("fixed_s")
        ok = abs(h80 - .80) <= .04 and abs(h95 - .95) <= .04 and dial < min(last, fixed)
        bad += not ok
        print("%-9s %7d %6d  %6.1f%% %6.1f%%  %6.4f %8.4f %7.4f  %s"
              % (family, args.n, len(tried), 100 * h80, 100 * h95, dial, last, fixed, "ok" if ok else "MISS"))
        if args.by_place:
            for name, keep in (("no run on it", lambda n: n == 0), ("1 or 2", lambda n: n in (1, 2)), ("3 or more", lambda n: n > 2)):
                some = [t for t in tried if keep(t["runs_here"])]
                if some:
                    h = [sum(t[k][0] <= t["ran_s"] <= t[k][1] for t in some) / len(some) for k in ("range80_s", "range95_s")]
                    low = sum(t["ran_s"] < t["range95_s"][0] for t in some) / len(some)
                    print("          %-14s %6d  %6.1f%% %6.1f%%   under it %.1f%%" % (name, len(some), 100 * h[0], 100 * h[1], 100 * low))
    if args.check and bad:
        sys.exit(1)


if __name__ == "__main__":
    main()
