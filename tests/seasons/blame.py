#!/usr/bin/env python3
"""How `slipbook blame` does on simulated seasons with known truth.

usage: blame.py [--n N] [--seed0 S] [--cases DIR] [--out DIR] [--bin FILE] [--jobs J] [--check] [FAMILY ...]

Each season becomes a book of its own (book.py) and is asked `slipbook blame et --all`. The answers are written as score.py
wants them and scored beside what other methods did (methods.toml) and what is asked (targets.json); then, over all
seasons, whether the intervals and the probabilities mean what they say (blame_told.py).

  --n N        seasons a family from seed S on (120); of `small` twice as many, of `long` a twelfth
  --cases DIR  seasons on disk instead, DIR/<family>/<seed> as seasons.py writes them; all of them, or those of the families
  --out DIR    keep the answers: DIR/slipbook/<family>/<seed>.csv and DIR/slipbook/time.json (else they are thrown away)
  --check      exit 1 where more than one target is missed (one in fifty figures is chance, and is printed), or where the
               intervals or probabilities are not what they say
"""
import argparse, concurrent.futures, csv, json, os, shutil, sys, tempfile, time
import blame_told, score
from book import Failed, book, call, drawn, rows

FAMILIES = ["tidy", "typical", "messy", "small", "interact", "null", "long"]
NAME = "slipbook"
# Columns of an answer, and the keys of `blame --format json` they are.
KEYS = {"est": "effect_s", "lo90": "lo90_s", "hi90": "hi90_s", "lo95": "lo95_s", "hi95": "hi95_s",
        "p_gain": "p_gain", "p_loss": "p_loss", "p_same": "p_same"}


def steps(case):
    """The steps of a season: {version in its book: (step, the fields that differ from the sheet before)}."""
    sheets = rows(case, "setups.csv")
    names = [k for k in sheets[0] if k not in ("setup_id", "first_run_id", "entered_late")]
    return {"v%d" % (i + 2): (b["setup_id"], {"own." + n for n in names if a[n] != b[n]})
            for i, (a, b) in enumerate(zip(sheets, sheets[1:]))}


def sane(change):
    """What is wrong with the numbers of a change in itself, or nothing."""
    got = [change[k] for k in KEYS.values()]
    if None in got:
        return "" if got.count(None) == len(got) else "some of its numbers are null, not all: %s" % got
    est, lo90, hi90, lo95, hi95, gain, loss, same = got
    if not lo95 <= lo90 <= hi90 <= hi95:
        return "its intervals do not nest: %s" % got
    if min(gain, loss, same) < 0 or gain + loss > 1 + 1e-9 or same > 1:
        return "its probabilities are none: %s" % got
    return ""


def answer(case, told):
    """The rows of the answer file of a season, from what `blame` told."""
    want, out = steps(case), []
    for change in told["changes"]:
        version = change["version"]
        if version not in want:
            raise Failed("blame tells of %s, which the season does not have (or a second time)" % version)
        step, fields = want.pop(version)
        if set(change["fields"]) != fields:
            raise Failed("%s is not %s: it changes %s, the season's sheets %s"
                         % (version, step, sorted(change["fields"]), sorted(fields)))
        wrong = sane(change)
        if wrong:
            raise Failed("%s: %s" % (version, wrong))
        row = {c: "" if change[k] is None else repr(float(change[k])) for c, k in KEYS.items()}
        out.append(dict(row, step_id=step, score="" if change["effect_s"] is None else repr(-float(change["effect_s"]))))
    if want:
        raise Failed("blame --all does not tell of %s" % ", ".join(want))
    return out


def one(job):
    """Answers one season; returns its family and how long `blame` took, ms."""
    case, family, seed, binary, out = job
    try:
        with tempfile.TemporaryDirectory(prefix="slipbook-season-") as folder:
            env = book(case, folder, binary)
            began = time.perf_counter()
            told = call(env, binary, "blame", "et", "--all", "--matters", "0.005", "--format", "json")
            took = (time.perf_counter() - began) * 1000
        lines = answer(case, json.loads(told))
    except Failed as e:
        raise Failed("season %s %s: %s" % (family, seed, e)) from None
    except (KeyError, ValueError, TypeError) as e:
        raise Failed("season %s %s: blame's JSON cannot be read: %s %s" % (family, seed, type(e).__name__, e)) from None
    os.makedirs(os.path.join(out, family), exist_ok=True)
    with open(os.path.join(out, family, seed + ".csv"), "w", newline="") as h:
        w = csv.DictWriter(h, ["step_id", *KEYS, "score"], lineterminator="\n")
        w.writeheader()
        w.writerows(lines)
    return family, took


def draw(job):
    family, seed, folder = job
    drawn(family, seed, folder)


def how_many(family, n):
    return {"small": 2 * n, "long": max(n // 12, 1)}.get(family, n)


def answers(args, families, cases, out, pool):
    """Draws the seasons where none are given, answers all of them; writes time.json."""
    if not args.cases:
        list(pool.map(draw, [(f, args.seed0 + k, cases) for f in families for k in range(how_many(f, args.n))], chunksize=4))
    # A season in which nothing was changed has no step, and the scorer no way to score it.
    found = [(d, f, s, os.path.abspath(args.bin), out) for f, s, d in score.cases(cases)
             if (f in families or not families) and len(rows(d, "setups.csv")) > 1]
    if not found:
        raise Failed("no seasons in %s%s" % (cases, "" if not families else " of " + ", ".join(families)))
    shutil.rmtree(out, ignore_errors=True)
    took = {}
    for family, ms in pool.map(one, found):
        took.setdefault(family, []).append(ms)
    with open(os.path.join(out, "time.json"), "w") as h:
        json.dump({f: round(blame_told.middle(t), 2) for f, t in took.items()}, h, indent=0, sort_keys=True)
        h.write("\n")


def main():
    ask = argparse.ArgumentParser(formatter_class=argparse.RawDescriptionHelpFormatter, description=__doc__.split("\n\n")[0])
    ask.add_argument("families", nargs="*", default=[], metavar="FAMILY")
    ask.add_argument("--n", type=int, default=120, help="seasons a family; of small twice, of long a twelfth")
    ask.add_argument("--seed0", type=int, default=500000, help="seed of the first season of each")
    ask.add_argument("--cases", metavar="DIR", help="seasons on disk: DIR/<family>/<seed>")
    ask.add_argument("--out", metavar="DIR", help="keep the answers there")
    ask.add_argument("--bin", default="target/release/slipbook")
    ask.add_argument("--jobs", type=int, default=2)
    ask.add_argument("--check", action="store_true")
    args = ask.parse_args()
    odd = [f for f in args.families if f not in FAMILIES]
    if odd and not args.cases:
        ask.error("no family %s; there are %s" % (", ".join(odd), ", ".join(FAMILIES)))
    families = args.families or ([] if args.cases else FAMILIES)
    with tempfile.TemporaryDirectory(prefix="slipbook-seasons-") as scratch:
        cases = args.cases or os.path.join(scratch, "cases")
        out = args.out or os.path.join(scratch, "answers")
        with concurrent.futures.ProcessPoolExecutor(args.jobs) as pool:
            try:
                answers(args, families, cases, os.path.join(out, NAME), pool)
            except Failed as e:
                pool.shutdown(cancel_futures=True)
                print("blame.py: %s" % e, file=sys.stderr)
                return 2
        misses = blame_told.told(cases, out, NAME, families)
    return 1 if args.check and not blame_told.may_pass(misses) else 0


if __name__ == "__main__":
    sys.exit(main())
