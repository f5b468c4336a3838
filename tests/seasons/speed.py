#!/usr/bin/env python3
"""How long `slipbook blame et` takes, whole command, beside pandas + statsmodels on the same table, on one core.

usage: speed.py [--bin FILE] [--peer PYTHON] [--rounds N] [RUNS ...]

Each size (65, 300, 2000 runs if none is said) is a simulated season in a book of its own. Cold: nothing kept of the book,
neither its outline nor the fit; read: the outline kept, the fit not; cached: both. `peer` is what it takes to load the table
and to fit, `its start` what its libraries take to start, which a Python program pays every time: the last two columns are
the fit alone over the whole cold command, and whole over whole. Every round does each way once; medians, ms.
"""
import argparse, os, shutil, statistics, subprocess, sys, tempfile, time
import seasons
from book import book, call

# Runs, like which family, over how many seasons.
SIZES = {65: ("typical", 1), 300: ("typical", 5), 2000: ("long", 10)}


def case(runs, folder):
    family, count = SIZES.get(runs, ("long", max(1, runs // 200)))
    name = "%d like %s" % (runs, family)
    seasons.FAMILIES[name] = dict(seasons.FAMILIES[family], total=runs, seasons=count)
    out = os.path.join(folder, "case")
    seasons.write_case(name, 530000, out)
    return out


def timed(env, binary, *args):
    began = time.perf_counter()
    call(env, binary, *args)
    return 1000 * (time.perf_counter() - began)


def main():
    ask = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    ask.add_argument("runs", nargs="*", type=int, default=[])
    ask.add_argument("--bin", default="target/release/slipbook")
    ask.add_argument("--peer", default="target/peer/bin/python")
    ask.add_argument("--rounds", type=int, default=7)
    args = ask.parse_args()
    if hasattr(os, "sched_setaffinity"):
        os.sched_setaffinity(0, {sorted(os.sched_getaffinity(0))[0]})
    for name in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS"):
        os.environ[name] = "1"
    binary, peer = os.path.abspath(args.bin), os.path.abspath(args.peer)
    script = os.path.join(os.path.dirname(os.path.abspath(__file__)), "..", "reference", "blame_peer.py")
    print("%6s %9s %9s %9s   %12s %12s   %12s   %s" %
          ("runs", "cold", "read", "cached", "peer", "its start", "peer / cold", "whole / cold"))
    for runs in args.runs or SIZES:
        with tempfile.TemporaryDirectory() as folder:
            env = book(case(runs, folder), folder, binary)
            cache = env["XDG_CACHE_HOME"]
            asked = ("blame", "et", "--format", "json")
            cold, read, cached, fits, starts = [], [], [], [], []
            for round in range(args.rounds):
                shutil.rmtree(cache, ignore_errors=True)
                cold.append(timed(env, binary, *asked))
                kept = os.path.join(cache, "slipbook")
                for name in os.listdir(kept):
                    if ".fit-" in name:
                        os.remove(os.path.join(kept, name))
                read.append(timed(env, binary, *asked))
                cached.append(timed(env, binary, *asked))
                if os.path.exists(peer) and (runs < 1000 or round == 0):
                    done = subprocess.run([peer, script, os.path.join(folder, "season.csv")], capture_output=True, text=True)
                    told = dict(l.split()[:2] for l in done.stdout.splitlines() if l.startswith(("load_and_fit_s", "start_s")))
                    if "load_and_fit_s" not in told:
                        sys.exit("the peer failed:\n%s%s" % (done.stdout[-500:], done.stderr[-500:]))
                    fits.append(1000 * float(told["load_and_fit_s"]))
                    starts.append(1000 * float(told["start_s"]))
            m = lambda v: statistics.median(v) if v else float("nan")
            print("%6d %9.1f %9.1f %9.1f   %12.1f %12.1f   %12.1f   %.1f" %
                  (runs, m(cold), m(read), m(cached), m(fits), m(starts), m(fits) / m(cold), (m(fits) + m(starts)) / m(cold)))
            sys.stdout.flush()


if __name__ == "__main__":
    main()
