#!/usr/bin/env python3
"""Regenerates the recomputed values of topics A and B of references.toml, and says which differ.

The formulas are written here from their sources, apart from the Rust; the answers of libraries come from the libraries
(requirements.txt). Regenerated are the expected values of entries of kind `recomputed`, the arithmetic of entries of kind
`memory`, and every `cross` value. Printed: id, key, the file's value, the new one, how far apart, and whether they differ.
Exit 1 on a difference, or where a value has nothing that regenerates it.
"""

import sys
import tomllib
from pathlib import Path

import air
import runs

# How far apart two computations of one value may be: arithmetic, and what a solver or a finite difference leaves.
ARITHMETIC = 1e-9
SOLVED = 1e-6

TOPICS = {
    "A.isa": air.a_isa,
    "A.es": air.a_es,
    "A.dewpoint": air.a_dewpoint,
    "A.wetbulb": air.a_wetbulb,
    "A.humidity_ratio": air.a_humidity_ratio,
    "A.rho": air.a_rho,
    "A.rho_grid": air.a_rho_grid,
    "A.density_altitude": air.a_density_altitude,
    "A.pressure_altitude": air.a_pressure_altitude,
    "A.altimeter": air.a_altimeter,
    "A.power_cf": air.a_power_cf,
    "A.metar": lambda i: air.decode(i["text"]),
    "A.chain": air.a_chain,
    "B.cube_root": runs.b_cube_root,
    "B.two_phase": runs.b_two_phase,
    "B.splits": runs.b_splits,
    "B.density_correction": runs.b_density_correction,
    "B.eighth_quarter": runs.b_eighth_quarter,
    "B.const_power": runs.b_const_power,
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
    if isinstance(old, (list, str, bool)):
        return old == new, "exact"
    relative, absolute = allowed(entry, key)
    off = abs(new - old)
    return off <= max(absolute, relative * abs(old)), f"{off:.1e}"


def main():
    path = Path(__file__).with_name("references.toml")
    entries = [e for e in tomllib.loads(path.read_text())["ref"] if e["topic"].startswith(("A.", "B."))]
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
        topic = TOPICS[entry["topic"]]
        new = topic(entry["inputs"], entry["formula"]) if topic is air.a_pressure_altitude else topic(entry["inputs"])
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
