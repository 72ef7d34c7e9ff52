"""Holds what the program writes and reads of the open Battery Data Format against the format's own package.

usage: check_format.py BINARY     needs the package `batterydf` (import name `bdf`)

1. A cell assessed on the simulated bench is exported from the book; the package must read and validate the CSV, know
   every column of it, and see a discharge as negative current.
2. The package writes the same table again, once with its labels and once with its machine names; the program must
   grade all three files to the same estimates, digit for digit.
Exit code 0: all passed; 1: not; 2: wrong usage.
"""

from __future__ import annotations

import json
import subprocess
import sys
import tempfile
from pathlib import Path
from typing import Any

import bdf.io
from bdf.validate import validate_df

LABEL = 'rated_capacity_ah = 3.0\ncharge_limit_v = 4.35\nend_of_discharge_v = 3.0\nchemistry = "lco"\nform = "pouch"\n'


def call(binary: str, *arguments: str) -> str:
    """Runs the program and returns its standard output; a failure ends the check."""
    run = subprocess.run([binary, *arguments], capture_output=True, text=True, timeout=120, check=False)
    if run.returncode != 0:
        raise SystemExit(f"FAIL {' '.join(arguments[:2])}: exit code {run.returncode}: {run.stderr.strip()}")
    return run.stdout


def main(arguments: list[str]) -> int:
    """Does what the command line asks for and returns the exit code."""
    if len(arguments) != 1 or arguments[0].startswith("-"):
        print("usage: check_format.py BINARY", file=sys.stderr)
        return 2
    binary = arguments[0]
    results: dict[str, bool] = {}
    with tempfile.TemporaryDirectory() as temporary:
        folder = Path(temporary)
        label, book, out = folder / "label.toml", folder / "book.sqlite", folder / "export"
        label.write_text(LABEL)
        about = ["--id", "PE-0001", "--cell", str(label), "--book", str(book)]
        call(binary, "assess", *about, "--simulated", "sound", "--no-signs", "--json")
        call(binary, "book", "--book", str(book), "export", "1", str(out))
        ours = next(iter(sorted(out.glob("*.csv"))), None)
        if ours is None:
            print(f"FAIL the export holds no CSV: {sorted(path.name for path in out.iterdir())}")
            return 1
        table = bdf.io.load(ours)
        report = validate_df(table, raise_on_error=False)
        header = ours.read_text().splitlines()[0].split(",")
        print(f"export of {len(table)} rows: {', '.join(header)}")
        results["the package validates our export"] = bool(report["ok"]) and not report.get("missing")
        results["no column has an outdated label"] = not report.get("legacy_labels")
        results["its time never runs backwards"] = bool(report["time_stats"]["monotonic"])
        results["a discharge is negative"] = float(table["Current / A"].min()) < -1.0 < 0.1 > float(table["Current / A"].max())
        files = {"ours": ours}
        for name, human in (("labels", True), ("machine names", False)):
            files[name] = folder / f"{name.split()[0]}.csv"
            bdf.io.save(table, files[name], human=human)
        answers: dict[str, Any] = {}
        for name, path in files.items():
            answers[name] = json.loads(call(binary, "grade", str(path), "--cell", str(label), "--json"))
        for name in ("labels", "machine names"):
            same = answers[name]["estimates"] == answers["ours"]["estimates"]
            results[f"its file with {name} is graded to the same estimates"] = same
        results["and there are estimates"] = "resistance_dc_ohm" in answers["ours"]["estimates"]
    for name, held in results.items():
        print(f"{'pass' if held else 'FAIL'}  {name}")
    failed = sum(not held for held in results.values())
    print(f"{len(results) - failed} passed, {failed} failed")
    return 1 if failed else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
