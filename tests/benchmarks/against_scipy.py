"""Times the program's full estimate of a 10 s pulse at 1 kHz against SciPy's fit of the same rows, in one run.

usage: against_scipy.py ESTIMATE_TIME FOLDER     ESTIMATE_TIME: the program of `estimate.rs`; FOLDER: made by survey.py

For each set of the survey the pulse at 50 % and 25 degC. SciPy fits the very model that the program ended with, V = E - I
(R0 + sum of R (1 - exp(-t/tau))) with as many pairs, all parameters: as most people would (`curve_fit`, its own numeric
derivatives, a start within a factor of a few), as well as `curve_fit` can (analytic derivatives, started at the solution
moved by 10 %), and by variable projection (`least_squares` over the logarithms, the rest by `lstsq`). The program's time
covers all of its estimates from all rows of the trace, rests included, and its search for the number of pairs (one, two,
three in turn, on means of the rows). Reading is on neither side: there the file becomes rows, which the program also
summarises block by block, and SciPy's arrays. Both sides run warm on one thread, medians of repeats. Prints the ratios and
how far the fit's resistance lies from the program's at 1 s and 10 s, and from its circuit's at 1 s and 9 s.

Exit code 0: every ratio to `curve_fit` is at least 50 and every resistance agrees within 1 % + 0.3 mOhm; 1: not; 2: usage.
"""

from __future__ import annotations

import json
import os
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any

for library in ("OPENBLAS", "OMP", "MKL"):
    os.environ[f"{library}_NUM_THREADS"] = "1"  # read when NumPy is loaded

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import curve_fit, least_squares

LEAST_RATIO = 50.0
SECONDS = 1.0
STARTS_S = {1: (1.0,), 2: (0.05, 5.0), 3: (0.02, 0.4, 5.0)}
Numbers = NDArray[np.float64]


def median_time(work: Callable[[], Any]) -> tuple[float, Any]:
    """Returns the median time of a call, s, and its result."""
    times: list[float] = []
    began = time.perf_counter()
    result: Any = None
    while time.perf_counter() - began < SECONDS or len(times) < 3:
        one = time.perf_counter()
        result = work()
        times.append(time.perf_counter() - one)
    return statistics.median(times), result


def lost(t: Numbers, r0: float, pairs: Sequence[float]) -> Numbers:
    """Returns the voltage lost per ampere; `pairs` holds resistances and logarithms of time constants in turn."""
    total = np.full_like(t, r0)
    for r, log in zip(pairs[::2], pairs[1::2], strict=True):
        total += r * -np.expm1(-t / np.exp(log))
    return total


def plain_fit(t: Numbers, v: Numbers, pairs: int) -> Numbers:
    """Fits all parameters at once; the series resistance and E cannot be told apart on the pulse, so E is held."""
    e = v[0]

    def model(t: Numbers, r0: float, *rest: float) -> Numbers:
        return e - lost(t, r0, rest)

    start = [0.02, *(number for tau in STARTS_S[pairs] for number in (0.02, np.log(tau)))]
    found, _ = curve_fit(model, t[1:], v[1:], p0=start, maxfev=20000)
    return np.concatenate([[e], found])


def best_plain_fit(t: Numbers, v: Numbers, near: Numbers) -> Numbers:
    """Fits as `plain_fit` does, from a start within 10 % of the solution and with the derivatives written out."""
    e = v[0]

    def model(t: Numbers, r0: float, *rest: float) -> Numbers:
        return e - lost(t, r0, rest)

    def derivatives(t: Numbers, _r0: float, *rest: float) -> Numbers:
        columns = [-np.ones_like(t)]
        for r, log in zip(rest[::2], rest[1::2], strict=True):
            x = t / np.exp(log)
            left = np.exp(-x)
            columns += [left - 1.0, r * x * left]
        return np.column_stack(columns)

    found, _ = curve_fit(model, t[1:], v[1:], p0=near[1:] * 1.1, jac=derivatives, maxfev=20000)
    return np.concatenate([[e], found])


def projected_fit(t: Numbers, v: Numbers, pairs: int) -> Numbers:
    """Fits the time constants only and solves the rest for each."""
    e = v[0]

    def design(logs: Numbers) -> Numbers:
        return np.column_stack([np.ones_like(t[1:]), *(-np.expm1(-t[1:] / np.exp(log)) for log in logs)])

    def residuals(logs: Numbers) -> Numbers:
        matrix = design(logs)
        drop = e - v[1:]
        return matrix @ np.linalg.lstsq(matrix, drop, rcond=None)[0] - drop

    logs = least_squares(residuals, np.log(STARTS_S[pairs]), method="lm").x
    r0, *resistances = np.linalg.lstsq(design(logs), e - v[1:], rcond=None)[0]
    return np.array([e, r0, *(number for pair in zip(resistances, logs, strict=True) for number in pair)])


def rows_of(traces: Path, cell: str) -> tuple[str, Numbers]:
    """Returns the rows of one cell as text without its name, and as numbers."""
    lines = [line.split(",", 1)[1] for line in traces.open() if line.startswith(f"{cell},")]
    with traces.open() as file:
        header = next(file).split(",", 1)[1]
    return header + "".join(lines), np.array([line.split(",") for line in lines], dtype=float)


def main(arguments: list[str]) -> int:
    """Does what the command line asks for and returns the exit code."""
    if len(arguments) != 2 or arguments[0].startswith("-"):
        print("usage: against_scipy.py ESTIMATE_TIME FOLDER", file=sys.stderr)
        return 2
    program, folder = arguments[0], Path(arguments[1])
    good, compared = True, 0
    print(f"{'pulse':<14} {'rows':>6} {'pairs':>5} {'all estimates':>14} {'curve_fit':>12} {'ratio':>7} {'at its best':>12} {'ratio':>7} {'projected':>12} {'ratio':>7}"
          f"   {'R(1 s)':>9} {'R(10 s)':>9}   {'circuit 1 s':>9} {'9 s':>9}  fit against program")
    for label in sorted(folder.glob("*.toml")):
        name = label.stem
        cell = f"{name}_50_25C_pulse"
        text, rows = rows_of(label.with_suffix(".csv"), cell)
        if not rows.size:
            continue
        with tempfile.TemporaryDirectory() as temporary:
            trace = Path(temporary) / f"{cell}.csv"
            trace.write_text(text)
            run = subprocess.run(
                [program, str(trace), str(label), str(SECONDS)], capture_output=True, text=True, check=True
            )
        told = json.loads(run.stdout)
        loaded = rows[:, 1] < -0.01
        first = int(np.flatnonzero(loaded)[0])
        amperes = -float(np.median(rows[loaded, 1]))
        rest_v = float(np.mean(rows[first - 2000 : first, 2]))
        # The first loaded row is torn; time counts from the step.
        t = np.concatenate([[0.0], rows[loaded, 0][1:] - rows[first, 0]])
        v = np.concatenate([[rest_v], rows[loaded, 2][1:]]) / amperes
        pairs = told["pairs"]
        near = plain_fit(t, v, pairs)
        works: tuple[Callable[[], Numbers], ...] = (
            lambda t=t, v=v, pairs=pairs: plain_fit(t, v, pairs),
            lambda t=t, v=v, near=near: best_plain_fit(t, v, near),
            lambda t=t, v=v, pairs=pairs: projected_fit(t, v, pairs),
        )
        timed = [median_time(work) for work in works]
        times, fits = [seconds for seconds, _ in timed], [found for _, found in timed]
        ratios = [seconds / told["estimate_s"] for seconds in times]
        errors = []
        for key, instant in (("resistance_1s_ohm", 1.0), ("resistance_10s_ohm", 10.0)):
            ours = told["estimates"][key]
            theirs = float(lost(np.array([instant]), fits[2][1], fits[2][2:])[0])
            errors.append(theirs - ours)
            good &= abs(theirs - ours) <= 0.01 * ours + 0.3e-3
        # The program's own circuit, on means of the rows, against SciPy's on the rows.
        for instant, ours in zip((1.0, 9.0), told["circuit_ohm"], strict=True):
            theirs = float(lost(np.array([instant]), fits[2][1], fits[2][2:])[0])
            errors.append(theirs - ours if ours is not None else float("nan"))
            good &= ours is not None and abs(theirs - ours) <= 0.01 * ours + 0.3e-3
        good &= ratios[0] >= LEAST_RATIO
        compared += 1
        print(
            f"{name:<14} {told['rows']:>6} {pairs:>5} {told['estimate_s'] * 1e3:>11.3f} ms {times[0] * 1e3:>9.1f} ms {ratios[0]:>7.0f}"
            f" {times[1] * 1e3:>9.1f} ms {ratios[1]:>7.0f} {times[2] * 1e3:>9.1f} ms {ratios[2]:>7.0f}   {errors[0] * 1e3:>+6.3f} mO {errors[1] * 1e3:>+6.3f} mO"
            f"   {errors[2] * 1e3:>+6.3f} mO {errors[3] * 1e3:>+6.3f} mO"
        )
    print("good" if good and compared else "NOT good")
    return 0 if good and compared else 1


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
