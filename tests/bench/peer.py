#!/usr/bin/env python3
"""The fits that a row needs, done with SciPy, for comparing speed.

usage: peer.py PROGRAM CSV [ROWS]

For each row the five recipes of the tables nearest in density are fitted with scipy.optimize.least_squares: the
unknowns are the log-ratios of the mass fractions to the balance constituent, the pores and the scatter, all as
standard normal numbers z; the residuals are [z; (1/rho(z) - v) / u_v], v the specific volume by the formula and u_v
its standard uncertainty. Recipes come from `PROGRAM tables list --json`. Prints rows a second as JSON.
"""

import csv
import json
import math
import subprocess
import sys
import time

import numpy
from scipy.optimize import least_squares

WATER, AIR = 0.9982, 0.0012
STEP_U = {"pocket": 0.006, "jeweller": 0.0015, "laboratory": 0.0003}
CANDIDATES = 5


class Recipe:
    """A material as a function from z to specific volume."""

    def __init__(self, material, densities):
        fractions = material["fractions"]
        self.key = material["key"]
        self.typical = material["density"]["typical"]
        balance = max(fractions, key=lambda key: fractions[key]["typical"])
        free = [key for key in fractions if key != balance and fractions[key]["high"] > 0.0]
        self.volumes = numpy.array([1.0 / densities[key] for key in free] + [1.0 / densities[balance]])
        middle, above, below = [], [], []
        for key in free:
            typical = max(fractions[key]["typical"], 1e-6)
            low, high = max(fractions[key]["low"], typical / 10.0), max(fractions[key]["high"], typical)
            middle.append(math.log(typical / fractions[balance]["typical"]))
            above.append(math.log(high / typical) / 1.96)
            below.append(math.log(typical / min(low, typical)) / 1.96)
        self.middle, self.above, self.below = map(numpy.array, (middle, above, below))
        self.departure = material["departure"] or 0.0
        self.scatter = material["scatter"]
        pores = material["pores"]
        self.pores = None
        if pores:
            typical, low, high = (min(max(pores[key], 1e-4), 0.9) for key in ("typical", "low", "high"))
            self.pores = (math.log(typical / (1 - typical)), (math.log(high / low) + 1e-3) / 3.92)
        self.size = len(free) + (1 if self.pores else 0) + 1

    def specific_volume(self, z):
        ratios = z[:len(self.middle)]
        weights = numpy.append(numpy.exp(self.middle + numpy.where(ratios > 0, self.above, self.below) * ratios), 1.0)
        volume = weights @ self.volumes / weights.sum() / (1.0 + self.departure) / (1.0 + self.scatter * z[-1])
        if self.pores:
            volume *= 1.0 + math.exp(self.pores[0] + self.pores[1] * z[-2])  # 1 / (1 - pores)
        return volume


def fit(recipe, volume, u):
    def residuals(z):
        return numpy.append(z, (recipe.specific_volume(z) - volume) / u)

    return least_squares(residuals, numpy.zeros(recipe.size), method="lm")


def main():
    if len(sys.argv) not in (3, 4):
        print(__doc__, file=sys.stderr)
        return 2
    tables = json.loads(subprocess.run([sys.argv[1], "tables", "list", "--json"], capture_output=True, check=True).stdout)
    densities = {c["key"]: c["density"] for c in tables["constituents"]}
    recipes = [Recipe(m, densities) for m in tables["materials"]]
    wanted = int(sys.argv[3]) if len(sys.argv) == 4 else 200
    with open(sys.argv[2], encoding="utf-8", newline="") as file:
        rows = [row for _, row in zip(range(wanted), csv.DictReader(file))]
    start = time.perf_counter()
    fits = close = 0
    for row in rows:
        dry = float(row["dry_g"])
        displaced = float(row["rise_g"]) if row["rise_g"] else dry - float(row["submerged_g"])
        density = AIR + (WATER - AIR) * dry / max(displaced, 1e-3)
        u = STEP_U[row["scale"]] / dry / (WATER - AIR)
        for recipe in sorted(recipes, key=lambda r: abs(r.typical - density))[:CANDIDATES]:
            result = fit(recipe, 1.0 / density, u)
            fits += 1
            close += result.success and abs(1.0 / recipe.specific_volume(result.x) - density) < 0.2 * density
    seconds = time.perf_counter() - start
    print(json.dumps({"rows": len(rows), "fits": fits, "close": int(close), "seconds": seconds,
                      "rows_per_second": len(rows) / seconds}))
    return 0 if close > 0.9 * fits else 1  # a fit that goes nowhere would be quick


if __name__ == "__main__":
    sys.exit(main())
