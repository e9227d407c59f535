#!/usr/bin/python3
"""Compares the elements of tables/constituents.toml with three collections installed on this machine.

usage: elements_from_packages.py TABLES/constituents.toml

Reads the densities at run time from the Python packages periodictable and xraydb and from the program GNU
units (Debian: python3-periodictable, python3-xraydb, units; run it with /usr/bin/python3). Prints one line a
constituent, and says which collections were there.
Exit status: 0 all agree within 1 %, 1 some differ (or none could be compared), 2 wrong use,
77 no collection is installed.
"""

import shutil
import subprocess
import sys
import tomllib

TOLERANCE = 0.01

# Names in GNU units are the element's English name (its own spelling) followed by "density"; these are not.
UNITS_NAMES = {
    "C": "carbon_graphite_density",
    "P": "phosphorus_white_density",
    "Sn": "tin_beta_density",
    "S": "sulfur_alpha_density",
    "Se": "selenium_gray_density",
}

# Keys of constituents that are an element under another name.
ELEMENT_OF = {"graphite": "C"}

# Entries known to be off: (symbol, collection) -> the figure it printed when it was judged, and why.
# An entry counts only while the collection still prints that figure.
KNOWN_BAD = {
    ("Ti", "units"): (4.406, "misprint of 4.506"),
    ("C", "periodictable"): (2.2, "nominal bulk carbon; graphite crystal is 2.26"),
    ("Mn", "periodictable"): (7.33, "another allotrope or an older value; alpha manganese is 7.43 to 7.47"),
    ("Mn", "xraydb"): (7.21, "another allotrope or an older value; alpha manganese is 7.43 to 7.47"),
    ("Mn", "units"): (7.21, "another allotrope or an older value; alpha manganese is 7.43 to 7.47"),
}


def load_periodictable():
    """The package, or None where it is not installed."""
    try:
        import periodictable
    except ImportError:
        return None
    return periodictable


def from_periodictable(package, symbol):
    """Density in g/cm3, or None where the package has no such element or no density for it."""
    try:
        return package.elements.symbol(symbol).density
    except ValueError:
        return None


def load_xraydb():
    """The package, or None where it is not installed."""
    try:
        import xraydb
    except ImportError:
        return None
    return xraydb


def from_xraydb(package, symbol):
    """Density in g/cm3, or None where the package has no such element or no density for it."""
    try:
        return package.atomic_density(symbol) or None
    except (ValueError, KeyError):
        return None


def from_units(program, symbol, english_name):
    """Density in g/cm3, or None where GNU units defines none."""
    name = UNITS_NAMES.get(symbol, english_name + "density")
    answer = subprocess.run([program, "--terse", name, "g/cm^3"], capture_output=True, text=True, check=False)
    try:
        return float(answer.stdout)
    except ValueError:
        return None


def judge(symbol, ours, found):
    """(verdict, is_failure) for one constituent; found maps collection to density or None."""
    remarks = []
    failed = False
    for collection, theirs in found.items():
        if theirs is None or abs(theirs / ours - 1.0) <= TOLERANCE:
            continue
        percent = 100.0 * (theirs / ours - 1.0)
        figure, reason = KNOWN_BAD.get((symbol, collection), (None, None))
        if figure is not None and abs(theirs - figure) < 1e-6:
            remarks.append(f"known: {collection} {percent:+.1f} %, {reason}")
        else:
            remarks.append(f"DIFFERS: {collection} {percent:+.1f} %")
            failed = True
    if remarks:
        return "; ".join(remarks), failed
    return ("agrees" if any(value is not None for value in found.values()) else "in none"), False


def show(value):
    return "-" if value is None else f"{value:.4g}"


def main(arguments):
    if len(arguments) != 2:
        print(__doc__, file=sys.stderr)
        return 2
    package = load_periodictable()
    xraydb = load_xraydb()
    units = shutil.which("units")
    there = {"periodictable": package, "xraydb": xraydb, "units": units}
    if not any(there.values()):
        print("neither periodictable nor xraydb nor units is installed: nothing to compare with")
        return 77
    for name, collection in there.items():
        print(f"{name}: {'not installed' if collection is None else 'read'}")
    try:
        with open(arguments[1], "rb") as file:
            constituents = tomllib.load(file).get("constituent", [])
    except (OSError, tomllib.TOMLDecodeError) as error:
        print(f"{arguments[1]}: {error}", file=sys.stderr)
        return 2

    symbols = {element.symbol: element.name for element in package.elements} if package else {}
    line = "{:<12} {:>8} {:>14} {:>8} {:>8}  {}".format
    print(line("constituent", "ours", "periodictable", "xraydb", "units", "verdict"))
    compared = 0
    failures = []
    for row in constituents:
        key, ours = row["key"], row["density"]
        symbol = ELEMENT_OF.get(key, key)
        if symbols and symbol not in symbols:
            print(line(key, show(ours), "-", "-", "-", "a compound: not in these collections"))
            continue
        english_name = symbols.get(symbol, row.get("name", symbol).lower())
        if english_name == "aluminium":
            english_name = "aluminum"  # the spelling of GNU units
        found = {
            "periodictable": from_periodictable(package, symbol) if package else None,
            "xraydb": from_xraydb(xraydb, symbol) if xraydb else None,
            "units": from_units(units, symbol, english_name) if units else None,
        }
        verdict, failed = judge(symbol, ours, found)
        compared += any(value is not None for value in found.values())
        if failed:
            failures.append(key)
        print(line(key, show(ours), show(found["periodictable"]), show(found["xraydb"]),
                   show(found["units"]), verdict))

    print(f"{compared} elements compared, {len(failures)} differ by more than {100 * TOLERANCE:g} %"
          + (": " + " ".join(failures) if failures else ""))
    return 1 if failures or compared == 0 else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv))
