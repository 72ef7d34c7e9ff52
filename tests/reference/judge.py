"""Judges one answer of `celltriage grade --json` against the truth of its trace; standard library only.

Takes the decoded JSON of the program and the content of a truth file (`truth.py` says what its keys mean); gives a list
of checks, each passed or failed. Nothing is skipped: what is missing where it is required is a failed check.

Limits: resistance 1 % + 0.3 mOhm and capacity 1 % are the accuracy this project promises; rest voltage 2 mV is ten
resolution steps of the fixture. A value the trace was not made for may instead lie within three of its own standard
uncertainties. A standard uncertainty of zero or none at all fails, as does a `reuse`: nobody looked at this cell.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

FATES = ("recycle", "quarantine", "undecided")
"""Fates a cell may get that nobody observed."""
REST_LIMIT_V = 2e-3
CAPACITY_LIMIT = 0.01
RESISTANCE_LIMIT = 0.01
RESISTANCE_LIMIT_OHM = 0.3e-3
OWN_UNCERTAINTIES = 3.0


@dataclass(frozen=True)
class Check:
    """One comparison and how it came out; `problem` is empty when it passed."""

    trace: str
    subject: str
    problem: str
    expected: float | None = None
    found: float | None = None
    limit: float | None = None
    uncertainty: float | None = None

    @property
    def passed(self) -> bool:
        """Returns whether there was no problem."""
        return not self.problem

    @property
    def error(self) -> float | None:
        """Returns found minus expected, where both exist."""
        return None if self.found is None or self.expected is None else self.found - self.expected


def judge(trace: str, answer: Any, truth: dict[str, Any]) -> list[Check]:
    """Compares everything the truth speaks of; an answer of the wrong shape gives failed checks, never an exception."""
    estimates = _member(answer, "estimates")
    if not isinstance(estimates, dict):
        return [Check(trace, "answer", "the JSON has no object `estimates`")]
    checks = [_value(trace, name, estimates.get(name), expected, True) for name, expected in truth["required"].items()]
    checks += [
        _value(trace, name, estimates[name], expected, False)
        for name, expected in truth["if_reported"].items()
        if _reported(estimates.get(name))
    ]
    checks += [_absent(trace, name, estimates.get(name)) for name in truth["absent"]]
    fate = _member(_member(answer, "verdict"), "fate")
    checks.append(Check(trace, "fate", "" if fate in FATES else f"fate {fate!r} for a cell nobody observed"))
    return checks


def limit_of(name: str, expected: float) -> float:
    """Returns the largest allowed error of an estimate, in its own unit."""
    if name.startswith("resistance_"):
        return RESISTANCE_LIMIT * abs(expected) + RESISTANCE_LIMIT_OHM
    if name == "capacity_ah":
        return CAPACITY_LIMIT * abs(expected)
    if name == "rest_voltage_v":
        return REST_LIMIT_V
    raise ValueError(f"no limit is laid down for the estimate {name!r}; add one to judge.py")


def _value(trace: str, name: str, estimate: Any, expected: float, required: bool) -> Check:
    limit = limit_of(name, expected)
    if estimate is None:
        return Check(trace, name, "not reported", expected, limit=limit)
    found, uncertainty = _number(_member(estimate, "value")), _number(_member(estimate, "standard_uncertainty"))
    problem = ""
    if found is None:
        problem = "has no finite `value`"
    elif uncertainty is None or uncertainty <= 0:
        problem = "has no `standard_uncertainty` above zero"
    else:
        allowed = limit if required else max(limit, OWN_UNCERTAINTIES * uncertainty)
        if abs(found - expected) > allowed:
            problem = "error above the limit"
    return Check(trace, name, problem, expected, found, limit, uncertainty)


def _absent(trace: str, name: str, estimate: Any) -> Check:
    problem = "reported, but this trace cannot show it" if _reported(estimate) else ""
    return Check(trace, f"no {name}", problem, found=_number(_member(estimate, "value")))


def _reported(estimate: Any) -> bool:
    # A null value claims nothing; anything else under the name does, whatever its shape.
    return estimate is not None and not (isinstance(estimate, dict) and estimate.get("value") is None)


def _member(value: Any, name: str) -> Any:
    return value.get(name) if isinstance(value, dict) else None


def _number(value: Any) -> float | None:
    is_number = isinstance(value, (int, float)) and not isinstance(value, bool)
    return float(value) if is_number and math.isfinite(value) else None
