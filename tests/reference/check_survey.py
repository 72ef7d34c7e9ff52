"""Grades the survey's traces and shows how far the program is off, worst of each published cell first.

usage: check_survey.py BINARY FOLDER     FOLDER: filled by survey.py

Needs only the standard library. Every set's file is graded in one call of `grade --many`; each number is judged as in
`judge.py`: an error of a resistance up to 1 % + 0.3 mOhm, a rest voltage up to 2 mV, nothing invented. As a check of
`--many` itself, one trace of each set is graded alone as well, and its estimates must be the same to the last digit.
Exit code 0: all passed; 1: some failed, or there was nothing to check; 2: wrong usage.
"""

from __future__ import annotations

import json
import subprocess
import sys
import tempfile
from pathlib import Path
from typing import Any

from check_grade import grade
from judge import Check, judge

LONGEST_S = 600
RESISTANCES = ("resistance_dc_ohm", "resistance_100ms_ohm", "resistance_1s_ohm", "resistance_10s_ohm")
NAMES = {"resistance_dc_ohm": "two-level", "resistance_100ms_ohm": "100 ms", "resistance_1s_ohm": "1 s", "resistance_10s_ohm": "10 s"}


def answers_of(binary: str, traces: Path) -> dict[str, Any]:
    """Grades a file of many cells; returns the answers by the cells' names."""
    command = [binary, "grade", str(traces), "--many", "--cell", str(traces.with_suffix(".toml"))]
    run = subprocess.run(command, capture_output=True, text=True, timeout=LONGEST_S, check=False)
    answers: dict[str, Any] = {}
    for line in run.stdout.splitlines():
        answer = json.loads(line)
        cell = answer["cell"]
        answers[cell if isinstance(cell, str) else cell["id"]] = answer
    if not answers:
        raise RuntimeError(f"{traces}: no answer (exit code {run.returncode}): {run.stderr.strip()}")
    return answers


def alone(binary: str, traces: Path, cell: str, answer: Any) -> Check:
    """Grades one cell's rows by themselves and compares."""
    with tempfile.TemporaryDirectory() as temporary:
        single = Path(temporary) / f"{cell}.csv"
        with traces.open() as rows, single.open("w") as copy:
            copy.write(next(rows).split(",", 1)[1])
            copy.writelines(row.split(",", 1)[1] for row in rows if row.startswith(f"{cell},"))
        other, problem = grade(binary, single, traces.with_suffix(".toml"))
    if not problem and other.get("estimates") != answer.get("estimates"):
        problem = "graded alone the estimates differ"
    return Check(cell, "alone as among many", problem)


def checks_of(binary: str, folder: Path) -> list[Check]:
    """Returns all checks of all sets."""
    checks: list[Check] = []
    for truth_file in sorted(folder.glob("*.truth.json")):
        traces = truth_file.with_name(truth_file.name.replace(".truth.json", ".csv"))
        truths: dict[str, Any] = json.loads(truth_file.read_text())
        answers = answers_of(binary, traces)
        for trace, truth in truths.items():
            if trace not in answers:
                checks.append(Check(trace, "program", "no answer for this trace"))
                continue
            checks += judge(trace, answers[trace], truth)
        first = next(iter(truths))
        checks.append(alone(binary, traces, first, answers.get(first, {})))
    return checks


def table(checks: list[Check]) -> None:
    """Prints for each set and resistance how many there are and the worst error."""
    print(f"{'set':<12} {'resistance':<10} {'traces':>6}   worst error                          allowed   at")
    sets = sorted({check.trace.split("_")[0] for check in checks})
    for name in sets:
        for resistance in RESISTANCES:
            some = [
                check
                for check in checks
                if check.trace.split("_")[0] == name and check.subject == resistance and check.error is not None
            ]
            if not some:
                continue
            worst = max(some, key=lambda check: abs(check.error or 0.0) / (check.limit or 1.0))
            error, expected, limit = worst.error or 0.0, worst.expected or 1.0, worst.limit or 0.0
            print(
                f"{name:<12} {NAMES[resistance]:<10} {len(some):>6}   {error * 1e3:+8.3f} mOhm of {expected * 1e3:7.3f} "
                f"({100 * error / expected:+.2f} %)   {limit * 1e3:.3f}   {worst.trace.removeprefix(name + '_')}"
            )


def main(arguments: list[str]) -> int:
    """Does what the command line asks for and returns the exit code."""
    if len(arguments) != 2 or arguments[0].startswith("-"):
        print("usage: check_survey.py BINARY FOLDER", file=sys.stderr)
        return 2
    checks = checks_of(arguments[0], Path(arguments[1]))
    table(checks)
    failed = [check for check in checks if not check.passed]
    for check in failed:
        found = "-" if check.found is None else f"{check.found:.6f}"
        expected = "-" if check.expected is None else f"{check.expected:.6f}"
        print(f"FAIL {check.trace} {check.subject}: {check.problem} (found {found}, expected {expected})")
    print(f"{len(checks) - len(failed)} passed, {len(failed)} failed")
    return 0 if checks and not failed else 1


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
