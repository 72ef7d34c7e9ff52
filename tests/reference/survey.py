"""Makes the survey: published cells over states of charge and temperatures, as the fixture would record them.

usage: survey.py FOLDER [--full]

Gives for each parameter set of `survey_sets.py` NAME.csv, NAME.toml and NAME.truth.json: all its traces in one file, told
apart by the column `Cell ID`; the label; and for each trace its truth (`truth.py`). Traces: the two load levels of
IEC 61960-3 and one pulse of 0.5 It for 10 s, each from equilibrium, with noise, converter steps and torn samples
(`fixture_noise.py`), 1000 rows a second. Without --full: 20, 50 and 80 % at 25 degC and 50 % at 15 and 35 degC, 60
traces; with it: 10 to 90 % by tens at 15, 25 and 35 degC, 324 traces. And as a set of its own, 12 traces of circuits
run by the package `thevenin` (`thevenin_cells.py`).

The same chemistry of scripts and pinned packages gives the same bytes, so results are kept beside the environment under
a hash of both. The cells are held at their temperature: over these seconds they warm by hundredths of a kelvin.
"""

from __future__ import annotations

import json
import sys
from collections.abc import Iterator
from dataclasses import asdict
from pathlib import Path
from typing import Any

import numpy as np

import cache
import thevenin_cells
import truth
from cells import ParameterSet, ReferenceCell
from fixture_noise import noisy_twin
from make_traces import HEADER, columns, millisecond_grid
from procedures import Bench
from survey_sets import SETS

INPUTS = (
    "cache.py",
    "cells.py",
    "fixture_noise.py",
    "make_traces.py",
    "procedures.py",
    "requirements.txt",
    "survey.py",
    "survey_sets.py",
    "thevenin_cells.py",
    "truth.py",
)
COARSE = [(20, 25), (50, 25), (80, 25), (50, 15), (50, 35)]
FULL = [(percent, celsius) for celsius in (15, 25, 35) for percent in range(10, 100, 10)]
"""Pairs of state of charge (%) and temperature (degC)."""
REST_AFTER_S = 1.0
CIRCUITS = "thevenin"


Runs = Iterator[tuple[str, str, list[Any], truth.Truth]]
"""Name of a trace, its procedure, its pieces and its truth."""


def published_runs(name: str, places: list[tuple[int, int]]) -> Runs:
    """Solves all traces of a published cell."""
    bench = Bench(ReferenceCell(SETS[name]), thermal="isothermal")
    for percent, celsius in places:
        bench.temperature_c = float(celsius)
        place = f"{name}_{percent}_{celsius}C"
        pieces = bench.two_level(percent / 100, REST_AFTER_S)
        yield f"{place}_two_level", "two_level", pieces, truth.of_two_level(pieces)
        pieces = bench.pulse(percent / 100, REST_AFTER_S)
        yield f"{place}_pulse", "pulse", pieces, truth.of_pulse(pieces)


def circuit_runs() -> Runs:
    """Solves all traces of the circuits."""
    for speed, fast_s in thevenin_cells.FAST_S.items():
        for percent in (30, 70):
            place = f"{CIRCUITS}_{percent}_{speed}"
            pieces: list[Any] = list(thevenin_cells.two_level(fast_s, percent / 100, REST_AFTER_S))
            yield f"{place}_two_level", "two_level", pieces, truth.of_two_level(pieces)
            pieces = list(thevenin_cells.pulse(fast_s, percent / 100, REST_AFTER_S))
            yield f"{place}_pulse", "pulse", pieces, truth.of_pulse(pieces)


def make_set(name: str, places: list[tuple[int, int]], folder: Path) -> str:
    """Writes all files of one set and returns a line about them."""
    truths: dict[str, object] = {}
    with (folder / f"{name}.csv").open("w") as file:
        file.write(f"Cell ID,{HEADER}\n")
        for trace, procedure, pieces, expected in circuit_runs() if name == CIRCUITS else published_runs(name, places):
            truths[trace] = {"procedure": procedure, **asdict(expected)}
            noisy = noisy_twin(columns(pieces, millisecond_grid), trace)
            table = np.column_stack(
                # The format counts charging as positive; the air is at the cell's temperature.
                [noisy.time_s, 0.0 - noisy.current_a, noisy.voltage_v, noisy.cell_c, noisy.cell_c]
            )
            row = trace + ",%.3f,%.8f,%.7f,%.4f,%.4f\n"
            file.write("".join(row % tuple(values) for values in table.tolist()))
    (folder / f"{name}.truth.json").write_text(json.dumps(truths, indent=1) + "\n")
    (folder / f"{name}.toml").write_text(thevenin_cells.LABEL if name == CIRCUITS else label_of(SETS[name].published))
    return f"{name}: {len(truths)} traces"


def label_of(published: ParameterSet) -> str:
    """Returns what the label of a published cell would say."""
    return (
        f"rated_capacity_ah = {published.rated_ah}\ncharge_limit_v = {published.charge_limit_v}\n"
        f'end_of_discharge_v = {published.end_of_discharge_v}\nchemistry = "{published.chemistry}"\n'
    )


def main(arguments: list[str]) -> int:
    """Fills the folder named on the command line and returns the exit code."""
    if len(arguments) not in (1, 2) or arguments[0].startswith("-") or arguments[1:] not in ([], ["--full"]):
        print("usage: survey.py FOLDER [--full]", file=sys.stderr)
        return 2
    extent, places = ("full", FULL) if arguments[1:] else ("coarse", COARSE)
    kept = cache.place("survey", INPUTS, f"{extent}-")
    if kept.is_dir():
        print(f"survey unchanged, taken from {kept}", file=sys.stderr)
    else:
        print(f"simulating {2 * len(SETS) * len(places)} traces of {len(SETS)} cells", file=sys.stderr, flush=True)
        cache.fill(kept, f"{extent}-*", make_set, [(name, places) for name in (*SETS, CIRCUITS)])
    cache.deliver(kept, Path(arguments[0]))
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
