#!/usr/bin/env python3
"""Grades measured cells and compares with figures that this script works out by itself, or that the data's owner states.

usage: check.py BINARY

Needs only the standard library and the files in data/ (see README.md there for where they come from and under which licence). What is
compared, and how far off it may be:

- each 30 s pulse of a vehicle's pouch cell at 10, 25 and 40 degC: resistance after 10 s, here the difference between the last voltage at
  rest and the voltage 10 s after the step, over the current; 2 % (the file has a row each half second, so the step itself is
  known to half a second), and inside the interval that the program tells;
- resistance falls with temperature, from 10 over 25 to 40 degC, at the same charge taken out;
- a cylindrical cell's charge from full to its end at 0.1 It: the owner states 96.3 % of rated; 1 %, and inside the interval;
- a phone's cell, charged to 4.2 V and discharged at 0.03 It: charge by summing here; 0.5 % for what was counted, and the capacity's interval
  holds it; by the label of the cell itself (4.45 V) it did not begin full, and no capacity may be told.

Exit code 0: all passed; 1: some failed, or there was nothing to check; 2: wrong usage.
"""

from __future__ import annotations

import gzip
import json
import subprocess
import sys
import tempfile
from itertools import pairwise
from pathlib import Path

DATA = Path(__file__).parent / "data"
COVERAGE = 2.0
RESTING = 0.1
"""A current below this, in A, is none: the instrument reads 0 and 0.01 A by turns."""
Row = tuple[float, float, float]


def read(name: str) -> tuple[list[str], list[list[str]]]:
    """Returns the names of the columns and the rows of a file as they stand there."""
    lines = gzip.decompress((DATA / name).read_bytes()).decode().splitlines()
    return lines[0].split(","), [line.split(",") for line in lines[1:]]


def numbers(names: list[str], rows: list[list[str]]) -> list[Row]:
    """Returns time, current (charging above zero) and voltage."""
    places = [next(i for i, n in enumerate(names) if w in n.lower().split("_second")[0]) for w in ("time", "current", "voltage")]
    return [(float(r[places[0]]), float(r[places[1]]), float(r[places[2]])) for r in rows]


def grade(binary: str, names: list[str], rows: list[list[str]], label: list[str]) -> dict:
    """Has rows graded; returns the estimates."""
    with tempfile.TemporaryDirectory() as folder:
        trace = Path(folder) / "trace.csv"
        trace.write_text("\n".join([",".join(names), *(",".join(row) for row in rows)]) + "\n")
        done = subprocess.run([binary, "grade", str(trace), *label, "--json"], capture_output=True, text=True, check=False)
    if not done.stdout:
        sys.exit(f"no answer: {done.stderr}")
    return json.loads(done.stdout)["estimates"]


def pulses(rows: list[Row]) -> list[tuple[int, int]]:
    """Returns first and last row of each discharge that is larger than the others, after an hour's rest."""
    largest = -min(current for _, current, _ in rows)
    found, index = [], 0
    while index < len(rows):
        if rows[index][1] < -0.9 * largest:
            last = index
            while last + 1 < len(rows) and rows[last + 1][1] < -0.9 * largest:
                last += 1
            found.append((index, last))
            index = last
        index += 1
    return found


def after_ten_seconds(rows: list[Row], first: int) -> float:
    """Returns the drop 10 s after the step over the current, by a straight line between the two rows around it."""
    step = (rows[first - 1][0] + rows[first][0]) / 2
    wanted = step + 10
    for before, after in pairwise(rows[first:]):
        if before[0] <= wanted <= after[0]:
            share = (wanted - before[0]) / (after[0] - before[0])
            voltage = before[2] + share * (after[2] - before[2])
            return (rows[first - 1][2] - voltage) / -rows[first][1]
    raise ValueError("the pulse ends before 10 s")


def charge(rows: list[Row]) -> float:
    """Returns the charge in Ah that flows out of the cell, by the mean of neighbouring currents."""
    return -sum((b[0] - a[0]) * (a[1] + b[1]) / 2 for a, b in pairwise(rows)) / 3600


class Checks:
    """What passed and what failed."""

    def __init__(self) -> None:
        self.passed = self.failed = 0

    def hold(self, what: str, holds: bool) -> None:
        """Counts a check and prints one that fails."""
        self.passed += holds
        self.failed += not holds
        if not holds:
            print(f"FAIL  {what}")


def inside(told: dict, value: float) -> bool:
    """Returns whether a value lies in the interval that was told."""
    return abs(told["value"] - value) <= COVERAGE * told["standard_uncertainty"]


def pouch(binary: str, checks: Checks) -> None:
    """Each pulse at three temperatures."""
    label = ["--rated-capacity-ah", "30", "--charge-limit-v", "4.2", "--end-of-discharge-v", "3.0", "--form", "pouch", "--chemistry", "nmc"]
    by_temperature: list[list[float]] = []
    for degrees in (10, 25, 40):
        names, texts = read(f"pouch-pulses-{degrees}c.csv.gz")
        rows = numbers(names, texts)
        found, worst = [], 0.0
        for first, last in pulses(rows):
            rest = first - 1
            while rest > 0 and abs(rows[rest - 1][1]) < RESTING and rows[first][0] - rows[rest - 1][0] < 3700:
                rest -= 1
            truth = after_ten_seconds(rows, first)
            told = grade(binary, names, texts[rest : last + 20], label).get("resistance_10s_ohm")
            checks.hold(f"{degrees} degC at {rows[first][0]:.0f} s: a resistance is told", told is not None)
            if told is not None:
                off = told["value"] / truth - 1
                worst = max(worst, abs(off))
                found.append(told["value"])
                checks.hold(f"{degrees} degC at {rows[first][0]:.0f} s: {off:+.2%} off", abs(off) < 0.02 and inside(told, truth))
        by_temperature.append(found)
        print(f"pouch cell at {degrees} degC: {len(found)} pulses, {min(found) * 1e3:.3f} to {max(found) * 1e3:.3f} mOhm, at most {worst:.2%} off")
        checks.hold("there are pulses from full to empty", len(found) >= 8)
    cold, middle, warm = by_temperature
    for at, (a, b, c) in enumerate(zip(cold, middle, warm, strict=False)):
        checks.hold(f"pulse {at}: colder is larger", a > b > c)


def cylinder(binary: str, checks: Checks) -> None:
    """The charge of a whole discharge at 0.1 It."""
    names, texts = read("cylinder-reference-test.csv.gz")
    label = ["--rated-capacity-ah", "5", "--charge-limit-v", "4.2", "--end-of-discharge-v", "2.5", "--form", "cylindrical", "--chemistry", "nmc"]
    told = grade(binary, names, texts, label)["capacity_fraction"]
    print(f"cylindrical cell: {told['value']:.2%} of rated (u {told['standard_uncertainty']:.2%}); its owner states 96.3 %")
    checks.hold("cylindrical cell: 96.3 % within 1 %", abs(told["value"] - 0.963) < 0.01)
    checks.hold("cylindrical cell: 96.3 % inside the interval", inside(told, 0.963))


def phone(binary: str, checks: Checks) -> None:
    """The charge of a whole discharge at 0.03 It, of a cell that is charged to 4.45 V."""
    names, texts = read("phone-cell.csv.gz")
    rows = numbers(names, texts)
    first = next(i for i, row in enumerate(rows) if row[1] < -0.01)
    last = max(i for i, row in enumerate(rows) if row[1] < -0.01)
    truth = charge(rows[first : last + 1])
    label = ["--rated-capacity-ah", "4.835", "--end-of-discharge-v", "3.0", "--charge-limit-v"]
    counted = grade(binary, names, texts[first - 20 : last + 20], [*label, "4.2"])["counted_charge_ah"]["value"]
    # The test charged it to 4.2 V only: full by such a label, and not by the cell's own, which says 4.45 V.
    of_its_label = grade(binary, names, texts, [*label, "4.45"])
    checks.hold("phone's cell: by its own label it did not begin full", "capacity_ah" not in of_its_label)
    told = grade(binary, names, texts, [*label, "4.2"]).get("capacity_ah")
    checks.hold("phone's cell: counted charge within 0.5 %", abs(counted / truth - 1) < 0.005)
    checks.hold("phone's cell: a capacity is told", told is not None)
    if told is not None:
        checks.hold("phone's cell: the charge lies inside the interval of the capacity", inside(told, truth))
        about = f"capacity {told['value']:.3f} Ah (u {told['standard_uncertainty']:.3f} Ah)"
        print(f"phone's cell: counted {counted:.4f} Ah, {about}; by summing {truth:.4f} Ah")


def main() -> int:
    """Runs all checks."""
    if len(sys.argv) != 2:
        print(__doc__, file=sys.stderr)
        return 2
    checks = Checks()
    for one in (pouch, cylinder, phone):
        one(sys.argv[1], checks)
    print(f"{checks.passed} passed, {checks.failed} failed")
    return 0 if checks.passed and not checks.failed else 1


if __name__ == "__main__":
    sys.exit(main())
