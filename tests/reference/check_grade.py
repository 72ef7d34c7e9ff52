"""Tries `celltriage grade` on every reference trace and compares its numbers with the truth beside each.

usage: check_grade.py BINARY TRACES     BINARY: the program; TRACES: a folder filled by make_traces.py
       check_grade.py --self-test       shows that wrong answers are caught; needs neither

Needs only the standard library. Prints a table of all checks with their errors; the last line is
"N passed, N failed". Exit code 0: all passed; 1: some failed, or there was nothing to check; 2: wrong usage.
"""

from __future__ import annotations

import copy
import json
import subprocess
import sys
import tempfile
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

from judge import Check, judge

NAMEPLATE = """\
rated_capacity_ah = 2.28
charge_limit_v = 4.2
end_of_discharge_v = 3.0
nominal_v = 3.7
chemistry = "lco"
form = "pouch"
"""
LONGEST_GRADE_S = 120
PANIC_CODE = 101
"""Exit code of a Rust program that panicked. Other codes may carry the fate, so the JSON decides."""


def grade(binary: str, trace: Path, nameplate: Path) -> tuple[Any, str]:
    """Runs the program on one trace; returns the decoded JSON and what went wrong, if anything."""
    command = [binary, "grade", str(trace), "--cell", str(nameplate), "--json"]
    try:
        run = subprocess.run(command, capture_output=True, text=True, timeout=LONGEST_GRADE_S, check=False)
    except OSError as error:
        return None, f"could not be started: {error}"
    except subprocess.TimeoutExpired:
        return None, f"did not end within {LONGEST_GRADE_S} s"
    message = (run.stderr.strip().splitlines() or ["no message"])[-1]
    if run.returncode < 0 or run.returncode == PANIC_CODE:
        return None, f"crashed with code {run.returncode}: {message}"
    try:
        return json.loads(run.stdout), ""
    except json.JSONDecodeError as error:
        return None, f"gave no JSON (exit code {run.returncode}, {error}): {message}"


def checks_of(binary: str, folder: Path) -> Iterator[Check]:
    """Grades every trace of the folder and yields its checks; a trace or truth without the other is a failed check."""
    truths = {path.name.removesuffix(".truth.json"): path for path in folder.glob("*.truth.json")}
    traces = {path.stem: path for path in folder.glob("*.csv")}
    with tempfile.TemporaryDirectory() as temporary:
        nameplate = Path(temporary) / "nameplate.toml"
        nameplate.write_text(NAMEPLATE)
        for name in sorted(truths.keys() | traces.keys()):
            if name not in truths or name not in traces:
                yield Check(name, "files", "trace without truth" if name in traces else "truth without trace")
                continue
            answer, problem = grade(binary, traces[name], nameplate)
            if problem:
                yield Check(name, "program", problem)
            else:
                yield from judge(name, answer, json.loads(truths[name].read_text()))


def row(check: Check) -> str:
    """Returns one line of the table."""

    def cell(number: float | None, width: int, form: str) -> str:
        return f"{'-' if number is None else format(number, form):>{width}}"

    ratio = check.error / check.uncertainty if check.error is not None and check.uncertainty else None
    numbers = (
        cell(check.expected, 10, ".6f"),
        cell(check.found, 10, ".6f"),
        cell(check.error, 11, "+.6f"),
        cell(check.limit, 9, ".6f"),
        cell(ratio, 8, "+.2f"),
    )
    return f"{check.trace:<36} {check.subject:<24} {' '.join(numbers)}  {check.problem or 'pass'}"


def compare(binary: str, folder: Path) -> int:
    """Prints the table and returns the exit code."""
    titles = f"{'expected':>10} {'found':>10} {'error':>11} {'limit':>9} {'error/u':>8}"
    print(f"{'trace':<36} {'check':<24} {titles}  result")
    passed = failed = 0
    for check in checks_of(binary, folder):
        print(row(check), flush=True)
        passed, failed = passed + check.passed, failed + (not check.passed)
    if not passed + failed:
        print(f"no trace in '{folder}': fill it with make_traces.py first", file=sys.stderr)
    print(f"{passed} passed, {failed} failed")
    return 0 if passed and not failed else 1


def self_test() -> int:
    """Feeds the judge one right answer and many wrong ones; returns 0 only if it tells them apart."""
    truth = {
        "required": {"rest_voltage_v": 3.8, "resistance_dc_ohm": 0.056},
        "if_reported": {"resistance_10s_ohm": 0.064},
        "absent": ["capacity_ah"],
    }
    right = {
        "estimates": {
            "rest_voltage_v": {"value": 3.8019, "standard_uncertainty": 1e-3},
            "resistance_dc_ohm": {"value": 0.05685, "standard_uncertainty": 2e-4},
            "resistance_10s_ohm": {"value": 0.0648, "standard_uncertainty": 1e-4},
        },
        "verdict": {"fate": "undecided"},
    }
    Change = Callable[[dict[str, Any]], object]
    wrong: dict[str, Change] = {
        "rest voltage 2.1 mV off": lambda a: a["estimates"]["rest_voltage_v"].update(value=3.8021),
        "two-level resistance 0.87 mOhm high": lambda a: a["estimates"]["resistance_dc_ohm"].update(value=0.05687),
        "two-level resistance 0.87 mOhm low": lambda a: a["estimates"]["resistance_dc_ohm"].update(value=0.05513),
        "two-level resistance wide but uncertain": lambda a: a["estimates"]["resistance_dc_ohm"].update(
            value=0.06, standard_uncertainty=0.01
        ),
        "two-level resistance left out": lambda a: a["estimates"].pop("resistance_dc_ohm"),
        "value not a number": lambda a: a["estimates"]["resistance_dc_ohm"].update(value=float("nan")),
        "value as text": lambda a: a["estimates"]["resistance_dc_ohm"].update(value="0.056"),
        "no uncertainty": lambda a: a["estimates"]["resistance_dc_ohm"].pop("standard_uncertainty"),
        "uncertainty of zero": lambda a: a["estimates"]["resistance_dc_ohm"].update(standard_uncertainty=0),
        "10 s resistance wrong": lambda a: a["estimates"]["resistance_10s_ohm"].update(value=0.066),
        "invented capacity": lambda a: a["estimates"].update(capacity_ah={"value": 2.4, "standard_uncertainty": 0.1}),
        "fate reuse": lambda a: a["verdict"].update(fate="reuse"),
        "no fate": lambda a: a.pop("verdict"),
        "no estimates": lambda a: a.pop("estimates"),
    }
    missed = [check.subject for check in judge("right", right, truth) if not check.passed]
    results = {"the right answer": not missed, "an answer that is no object": _fails("text", truth)}
    for name, change in wrong.items():
        answer = copy.deepcopy(right)
        change(answer)
        results[name] = _fails(answer, truth)
    for name, held in results.items():
        print(f"{'pass' if held else 'FAIL'}  {name}")
    failed = sum(not held for held in results.values())
    print(f"{len(results) - failed} passed, {failed} failed")
    return 1 if failed else 0


def _fails(answer: Any, truth: dict[str, Any]) -> bool:
    return sum(not check.passed for check in judge("wrong", answer, truth)) == 1


def main(arguments: list[str]) -> int:
    """Does what the command line asks for and returns the exit code."""
    match arguments:
        case ["--self-test"]:
            return self_test()
        case [binary, folder] if not binary.startswith("-"):
            return compare(binary, Path(folder))
        case _:
            print("usage: check_grade.py BINARY TRACES | check_grade.py --self-test", file=sys.stderr)
            return 2


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
