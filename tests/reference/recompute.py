#!/usr/bin/env python3
"""Regenerates the recomputed values of references.toml, and says which differ.

    recompute.py [TOPIC...]

A topic is A., B., C. or D., or the beginning of a longer name (C.leaf); none is all of these.

The formulas are written here from their sources, apart from the Rust; the answers of libraries come from the libraries
(requirements.txt). Regenerated are the expected values of entries of kind `recomputed`, the arithmetic of entries of kind
`memory`, and every `cross` value. Printed: id, key, the file's value, the new one, how far apart, and whether they differ.
Exit 1 on a difference, or where a value has nothing that regenerates it.
"""

import importlib
import sys
import tomllib
from pathlib import Path

# How far apart two computations of one value may be: arithmetic, and what a solver or a finite difference leaves.
ARITHMETIC = 1e-9
SOLVED = 1e-6

# Which module has a topic: the longest beginning that fits. A module is loaded only when one of its topics is asked for, so
# that `recompute.py D.` needs no library of the air's.
MODULES = {
    "A.": "air",
    "B.": "runs",
    "C.": "chassis",
    "C.leaf": "leaves",
    "C.pinion_limiter": "leaves",
    "C.tire": "driveline",
    "C.trap_rpm": "driveline",
    "D.": "driveline",
}

# Found by a solver, a finite difference or an integration, so not to the last digit; the drag exponents to the tolerance
# that their entry gives.
ITERATED = {"A.rho_grid": SOLVED, "A.dewpoint": SOLVED, "A.wetbulb": SOLVED, "A.humidity_ratio": SOLVED}


def allowed(entry, key):
    if entry["topic"] == "B.density_correction" and "n" not in entry["inputs"]:
        return 0.0, entry["atol"]
    if key.removeprefix("cross.").startswith("n_") or key == "dt1320_per_dt60":
        return SOLVED, SOLVED
    return ITERATED.get(entry["topic"], ARITHMETIC), 1e-12


def same(entry, key, old, new):
    if isinstance(old, list) and isinstance(old[0], float):
        each = [same(entry, key, a, b) for a, b in zip(old, new)]
        return len(old) == len(new) and all(equal for equal, _ in each), max(off for _, off in each)
    if isinstance(old, (list, str, bool)):
        return old == new, "exact"
    relative, absolute = allowed(entry, key)
    off = abs(new - old)
    return off <= max(absolute, relative * abs(old)), f"{off:.1e}"


def regenerator(topic):
    """What gives a topic's values; none where its module has nothing for it."""
    module = MODULES[max((m for m in MODULES if topic.startswith(m)), key=len)]
    return importlib.import_module(module).TOPICS.get(topic)


def main():
    path = Path(__file__).with_name("references.toml")
    asked = tuple(sys.argv[1:]) or tuple(MODULES)
    ours = lambda topic: topic.startswith(tuple(MODULES)) and topic.startswith(asked)
    entries = [e for e in tomllib.loads(path.read_text())["ref"] if ours(e["topic"])]
    if not entries:
        sys.exit(f"no topic here begins with {' or '.join(asked)}: there are {', '.join(MODULES)}")
    counts = {"same": 0, "DIFFER": 0, "NOTHING": 0}
    for entry in entries:
        # What is printed in a source is not recomputed; what stands beside it as `cross` is.
        own = entry["expected"] if entry["kind"] in ("recomputed", "memory") else {}
        # Digits remembered from a table are no arithmetic either.
        if entry["kind"] == "memory" and entry["topic"] in ("A.isa", "A.pressure_altitude"):
            own = {}
        old = own | {f"cross.{k}": v for k, v in entry.get("cross", {}).items()}
        if not old:
            continue
        # Two topics hang on the entry's formula as well: one form of the air, and which leaf it is.
        told = entry["topic"] in ("A.pressure_altitude", "C.leaf_equiv")
        given = (entry["inputs"], entry["formula"]) if told else (entry["inputs"],)
        topic = regenerator(entry["topic"])
        new = topic(*given) if topic else {}
        for key, value in old.items():
            fresh = new.get(key)
            if fresh is None:
                verdict, off = "NOTHING", "-"
            else:
                equal, off = same(entry, key, value, fresh)
                verdict = "same" if equal else "DIFFER"
            counts[verdict] += 1
            print(f"{entry['id']:<26} {key:<30} {value!s:<24} {fresh!s:<24} {off:<8} {verdict}")
    print(f"{counts['same']} the same, {counts['DIFFER']} differ, {counts['NOTHING']} that nothing regenerates")
    return 1 if counts["DIFFER"] or counts["NOTHING"] else 0


if __name__ == "__main__":
    sys.exit(main())
