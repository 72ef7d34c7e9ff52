"""Grades discharges in stages, whole and cut, and compares with what 0.2 It alone takes out of the same cell.

usage: check_step_down.py BINARY FOLDER     FOLDER: filled by step_down.py

Needs only the standard library. Each trace is graded whole: the capacity must be that of 0.2 It alone, within 0.4 % (iron phosphate
0.6 %: what stages may change, and 0.1 % for counting) and within its own interval. And cut at 40, 70 and 90 % of its time: what is told
then is a lower bound (never above the truth by more than its guard of 1.645 standard uncertainties, and above nine tenths of what had
been taken out), or, once the first stage is through at 0.5 It, a capacity whose interval holds the truth.
Exit code 0: all passed; 1: some failed, or there was nothing to check; 2: wrong usage.
"""

from __future__ import annotations

import json
import sys
import tempfile
from pathlib import Path
from typing import Any

from check_grade import grade

CUTS = (0.4, 0.7, 0.9)
MOST_OFF = {"lfp": 0.006}
MOST_OFF_OTHERS = 0.004
GUARD, COVERAGE = 1.645, 2.0
LEAST_COUNTED = 0.9
LEAST_TOLD = 0.25
"""Less than this share of the rated capacity is not told as a bound."""


def cut(trace: Path, share: float, to: Path) -> float:
    """Writes the first part of a trace; returns the charge (Ah) that had flowed out by then."""
    rows = trace.read_text().splitlines()
    kept = rows[: 1 + int(share * (len(rows) - 1))]
    to.write_text("\n".join(kept) + "\n")
    values = [tuple(map(float, row.split(",")[:2])) for row in kept[1:]]
    return -sum((b[0] - a[0]) * (a[1] + b[1]) / 2 for a, b in zip(values, values[1:], strict=False)) / 3600


def whole(name: str, answer: Any, truth: dict[str, Any]) -> str:
    """Returns what is wrong with the answer to a whole trace; nothing if all is well."""
    found = answer["estimates"].get("capacity_ah")
    if found is None:
        return f"no capacity: {answer['conditions']['not_estimated'].get('capacity_ah')}"
    off = found["value"] / truth["alone_ah"] - 1
    most = MOST_OFF.get(truth["chemistry"], MOST_OFF_OTHERS)
    print(f"{name:<22} {off:+8.3%} of {truth['alone_ah']:.4f} Ah, u {found['standard_uncertainty'] / found['value']:.2%}")
    if abs(off) > most:
        return f"off by {off:+.3%}, more than {most:.1%}"
    if abs(found["value"] - truth["alone_ah"]) > COVERAGE * found["standard_uncertainty"]:
        return "the truth lies outside the interval"
    if "faster stages first" not in found["method"]:
        return "it does not say that it is not the procedure of the standard"
    return ""


def part(answer: Any, truth: dict[str, Any], taken_ah: float, rated_ah: float) -> str:
    """Returns what is wrong with the answer to a part of a trace."""
    estimates, alone = answer["estimates"], truth["alone_ah"]
    if (capacity := estimates.get("capacity_ah")) is not None:
        if abs(capacity["value"] - alone) > COVERAGE * capacity["standard_uncertainty"]:
            return f"capacity {capacity['value']:.4f} Ah, the truth {alone:.4f} Ah lies outside the interval"
        return ""
    bound = estimates.get("capacity_at_least_ah")
    if bound is None:
        return "" if taken_ah < LEAST_TOLD * rated_ah else f"no bound after {taken_ah:.4f} Ah"
    if bound["value"] - GUARD * bound["standard_uncertainty"] > alone:
        return f"at least {bound['value']:.4f} Ah is told, and the truth is {alone:.4f} Ah"
    if bound["value"] < LEAST_COUNTED * min(taken_ah, truth["first_stage_ah"]):
        return f"at least {bound['value']:.4f} Ah of the {taken_ah:.4f} Ah that were taken out"
    return ""


def main(arguments: list[str]) -> int:
    """Does what the command line asks for and returns the exit code."""
    if len(arguments) != 2 or arguments[0].startswith("-"):
        print("usage: check_step_down.py BINARY FOLDER", file=sys.stderr)
        return 2
    binary, folder = arguments[0], Path(arguments[1])
    passed, failed = 0, 0
    with tempfile.TemporaryDirectory() as temporary:
        for truth_file in sorted(folder.glob("*.truth.json")):
            truth = json.loads(truth_file.read_text())
            name = truth_file.name.removesuffix(".truth.json")
            trace, label = folder / f"{name}.csv", folder / f"{name}.toml"
            rated_ah = float(next(line for line in label.read_text().splitlines() if line.startswith("rated")).split("=")[1])
            for share in (None, *CUTS):
                file, taken_ah = trace, 0.0
                if share is not None:
                    file = Path(temporary) / f"{name}_{share}.csv"
                    taken_ah = cut(trace, share, file)
                answer, problem = grade(binary, file, label)
                if not problem:
                    problem = whole(name, answer, truth) if share is None else part(answer, truth, taken_ah, rated_ah)
                passed, failed = passed + (not problem), failed + bool(problem)
                if problem:
                    print(f"FAIL {name} {'whole' if share is None else f'cut at {share:.0%}'}: {problem}")
    print(f"{passed} passed, {failed} failed")
    return 0 if passed and not failed else 1


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
