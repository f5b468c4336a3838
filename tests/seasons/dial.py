#!/usr/bin/env python3
"""How `slipbook dial` does on simulated seasons with known truth.

usage: dial.py [--n N] [--seed0 S] [--bin FILE] [--check] [FAMILY ...]

Each season (seasons.py) becomes a book of its own: its fields are the car's own fields, its table is imported, and
`slipbook dial --backtest` expects each run from those before it alone. Printed for each family: how often the ranges for
8 in 10 and 19 in 20 held, the middle miss of dial and of what people do instead, in seconds. --check: exit 1 unless both
ranges hold within 4 points of what they say and dial's middle miss is the smallest.
"""
import argparse, concurrent.futures, csv, json, os, subprocess, sys, tempfile
import seasons

# How far a run still counts that the driver marked, ft: lifted past the eighth, spun at the hit, missed a shift.
MARKED = {"lift": ("660", "lifted"), "spin": ("0", "spun"), "shift": ("60", "missed shift")}
FAMILIES = ["tidy", "typical", "messy"]


def book(family, seed, folder, binary):
    """Makes the book of a season; returns the environment its commands run in."""
    runs, table, fields, _, _ = seasons.make_case(family, seed)
    # The car's own fields, and the first sheet.
    car = ['format = 1', 'name = "Season"', 'template = "leaf-torsion"', '', '[[owner]]', 'name = "Nobody"', '']
    for name, kind in fields:
        car += ['[[field]]', 'key = "own.%s"' % name, 'label = "%s"' % name, 'ring = "sheet"', 'role = "set"',
                'sides = "one"', 'says = ["%s"]' % name, 'noun = { thing = "%s" }' % name, 'tool = "hand"',
                'place = "cockpit"', 'minutes = 1', 'moves = []', 'help = "A simulated setting."']
        if kind == "num":
            car += ['kind = "number"', 'decimals = 2', 'step = 0.25', 'usual = [-100.0, 200.0]', 'possible = [-1000.0, 1000.0]', '']
        else:
            car += ['kind = "choice"', 'choices = ["a", "b", "c", "d"]', '']
    sheets = {row[0]: row[3:] for row in table}
    first = sheets[table[0][0]]
    quoted = lambda kind, v: v if kind == "num" else '"%s"' % v
    sheet = ['format = 1', '', '[own]'] + ['%s = %s' % (n, quoted(k, v)) for (n, k), v in zip(fields, first)]
    names = [n for n, _ in fields]
    head = ["date", "time", "track", "finish", "lane", "ft60", "ft330", "ft660", "mph660", "ft1000", "ft1320", "mph1320",
            "clean_to", "why_not", "temperature [C]", "humidity", "pressure_station [hPa]"] + ["own." + n for n in names]
    rows, on = [], first
    for r in runs:
        now = sheets[r["setup_id"]]
        clean, why = MARKED.get(r["flag"], ("", ""))
        lane = {"L": "left", "R": "right"}.get(r["lane"], "")
        rows.append([r["date"], r["time"], r["track_id"], "1320", lane] +
                    ["%.3f" % r[k] if k.startswith("t") else "%.2f" % r[k]
                     for k in ("t60", "t330", "t660", "mph660", "t1000", "t1320", "mph1320")] +
                    [clean, why, r["temp_c"], int(r["rh_pct"]), r["press_hpa"]] +
                    [n if n != o else "" for n, o in zip(now, on)])
        on = now
    for name, lines in (("car.toml", car), ("setup.toml", sheet)):
        with open(os.path.join(folder, name), "w") as h:
            h.write("\n".join(lines) + "\n")
    with open(os.path.join(folder, "season.csv"), "w", newline="") as h:
        csv.writer(h, lineterminator="\n").writerows([head] + rows)
    env = dict(os.environ, SLIPBOOK_GARAGE=os.path.join(folder, "garage"), SLIPBOOK_FSYNC="off", SLIPBOOK_BY="nobody",
               SLIPBOOK_NOW="2030-01-01T12:00:00Z", TZ="UTC", HOME=folder, XDG_CACHE_HOME=os.path.join(folder, "cache"))
    at = lambda name: os.path.join(folder, name)
    call(env, binary, "new", "--yes", "--car-file", at("car.toml"), "--sheet", at("setup.toml"), "--when",
         "%s 06:00" % runs[0]["date"])
    call(env, binary, "import", "--yes", at("season.csv"))
    return env


def call(env, binary, *args):
    done = subprocess.run([binary, *args], env=env, capture_output=True, text=True)
    if done.returncode:
        sys.exit("%s\n%s%s" % (" ".join(args), done.stdout, done.stderr))
    return done.stdout


def one(job):
    family, seed, binary = job
    with tempfile.TemporaryDirectory() as folder:
        env = book(family, seed, folder, binary)
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
        answers = list(pool.map(one, jobs))
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
