#!/usr/bin/env python3
"""Writes a CSV of invented weighings to standard output, for measuring speed.

usage: make_csv.py ROWS [SEED]

Pieces of many kinds, found at many places, on three classes of scale, by cup or hung in water, some with bench
tests, some with a claim. The densities are round figures for such metals. The same seed gives the same rows, and
a longer file begins like a shorter one.
"""

import random
import sys

COLUMNS = ("piece,dry_g,rise_g,submerged_g,count,water_c,scale,wetting,found,magnet,notch_colour,notch_reagent,"
           "edge,claim,note")

# Where found: (density, how it looks under the file, what the drop says), grams of one piece, claims.
PLACES = {
    "breaker": ([(14.2, "white", "dark-red"), (10.2, "white", "red"), (8.9, "copper", ""), (8.5, "yellow", "")],
                (0.3, 12.0), []),
    "contactor": ([(10.2, "white", "red"), (9.9, "grey", "red"), (10.1, "white", "red"), (8.9, "copper", "")],
                  (0.5, 15.0), []),
    "relay": ([(10.4, "white", "bright-red"), (10.1, "white", "red"), (8.8, "copper", ""), (8.6, "yellow", "")],
              (0.05, 1.0), []),
    "tableware": ([(10.36, "white", "red"), (10.2, "white", "red"), (8.7, "yellow", "green"), (7.9, "grey", "")],
                  (5.0, 80.0), ["sterling", "800", "silver-plate"]),
    "coins": ([(10.3, "white", "red"), (8.95, "white", ""), (8.9, "copper", "")], (1.0, 26.0), ["coin-silver"]),
    "jewellery": ([(10.36, "white", "red"), (15.4, "yellow", ""), (13.0, "yellow", ""), (8.6, "yellow", "green")],
                  (0.5, 20.0), ["925", "18k", "14k"]),
    "board": ([(8.9, "copper", ""), (8.4, "yellow", ""), (7.3, "grey", "")], (0.05, 3.0), []),
    "": ([(10.4, "white", "red"), (8.9, "copper", ""), (8.5, "yellow", ""), (11.3, "dark", ""), (7.85, "grey", "")],
         (0.2, 30.0), []),
}
SCALES = [("pocket", 2, 0.004), ("jeweller", 3, 0.001), ("laboratory", 4, 0.0002)]


def row(number, rng):
    place = rng.choice(list(PLACES))
    kinds, (lightest, heaviest), claims = PLACES[place]
    density, colour, drop = rng.choice(kinds)
    density *= rng.gauss(1.0, 0.004)
    count = rng.choice((1, 1, 1, 1, 1, 6, 12)) if lightest < 0.5 else 1
    grams = count * lightest * (heaviest / lightest) ** rng.random()
    scale, decimals, noise = rng.choice(SCALES[1:] if grams < 0.5 else SCALES)
    displaced = grams / density * 0.998
    dry = f"{grams + rng.gauss(0.0, noise):.{decimals}f}"
    in_water = displaced + rng.gauss(0.0, noise)
    by_cup = rng.random() < 0.7
    rise = f"{in_water:.{decimals}f}" if by_cup else ""
    submerged = "" if by_cup else f"{grams - in_water:.{decimals}f}"
    tested = rng.random() < 0.4
    pull = "weak" if density < 8.0 and colour == "grey" else "none"
    cells = [f"piece {number}", dry, rise, submerged, str(count) if count > 1 else "",
             f"{rng.uniform(16.0, 25.0):.1f}" if rng.random() < 0.5 else "", scale,
             rng.choice(("", "soaped", "boiled")), place, pull if rng.random() < 0.5 else "", colour if tested else "",
             drop if tested else "", rng.choice(("", "plain")) if tested else "",
             rng.choice(claims) if claims and rng.random() < 0.3 else "",
             '"box 3, left"' if rng.random() < 0.1 else ""]
    return ",".join(cells)


def main():
    if len(sys.argv) not in (2, 3):
        print(__doc__, file=sys.stderr)
        return 2
    rng = random.Random(int(sys.argv[2]) if len(sys.argv) == 3 else 20240601)
    print(COLUMNS)
    for number in range(1, int(sys.argv[1]) + 1):
        print(row(number, rng))
    return 0


if __name__ == "__main__":
    sys.exit(main())
