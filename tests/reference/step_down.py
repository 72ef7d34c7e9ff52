"""Makes discharges in stages: a faster current to the end voltage, then 0.2 It to it again, and what 0.2 It alone gives.

usage: step_down.py FOLDER

Gives for each cell and first current NAME.csv, NAME.toml and NAME.truth.json: the trace with the noise of the fixture, the label,
and the charge that 0.2 It alone takes out of the same cell. Cells: the six published sets of `survey_sets.py`, each new, and aged in
both declared ways at once: 0.12 Ohm.Ah in series with both exchange currents halved, and 15 % of the cyclable lithium lost. First
currents: 0.5 and 1.0 It. The model of this folder (DFN, held at 25 degC), rest of 60 s before and 30 s between.

Prints a table of charge in stages over charge at 0.2 It alone; fails where a cell is further off than 0.3 % (iron phosphate 0.5 %).
Results are kept beside the environment under a hash of scripts and packages. Exit code 0: all within; 1: not; 2: wrong usage.
"""

from __future__ import annotations

import json
import sys
from pathlib import Path

import numpy as np

import cache
from cells import ReferenceCell, Variant
from fixture_noise import noisy_twin
from make_traces import HEADER, columns, second_grid
from procedures import Bench, Piece, Step
from survey import label_of
from survey_sets import PUBLISHED, SERIES_OHM_AH

INPUTS = (
    "cache.py",
    "cells.py",
    "fixture_noise.py",
    "make_traces.py",
    "procedures.py",
    "requirements.txt",
    "step_down.py",
    "survey.py",
    "survey_sets.py",
)
FIRST_SHARES = (0.5, 1.0)
LAST_SHARE = 0.2
REST_S, BETWEEN_S, LONGEST_S = 60.0, 30.0, 8 * 3600.0
MOST_OFF = {"lfp": 0.005}
MOST_OFF_OTHERS = 0.003

CELLS = [
    variant
    for published in PUBLISHED
    for variant in (
        Variant(f"{published.name}_new", "as published", SERIES_OHM_AH / published.rated_ah, published=published),
        Variant(
            f"{published.name}_aged",
            "0.12 Ohm.Ah in series, exchange currents halved, 15 % of the lithium lost",
            0.12 / published.rated_ah,
            exchange_current_factor=0.5,
            lithium_lost=0.15,
            published=published,
        ),
    )
]


def to_the_end(bench: Bench, before: list[Step], share: float) -> list[Piece]:
    """Goes through some steps and then discharges to the end voltage."""
    published = bench.cell.variant.published
    steps = [*before, Step(share * bench.cell.it_a, LONGEST_S)]
    pieces = bench.run(steps, 1.0, published.end_of_discharge_v)
    if len(pieces) != len(steps) or pieces[-1].duration_s >= LONGEST_S:
        raise RuntimeError(f"{bench.cell.variant.name}: the end voltage was not reached as planned")
    return pieces


def charge_ah(pieces: list[Piece]) -> float:
    """Returns what all steps have taken out (Ah)."""
    return sum(piece.current_a * piece.duration_s for piece in pieces) / 3600


def make_cell(variant: Variant, folder: Path) -> str:
    """Writes the traces of one cell; returns a line about each."""
    bench = Bench(ReferenceCell(variant), thermal="isothermal")
    published = variant.published
    rest = Step(0.0, REST_S)
    alone = charge_ah(to_the_end(bench, [rest], LAST_SHARE))
    lines = []
    for share in FIRST_SHARES:
        name = f"{variant.name}_{share:.1f}"
        first = to_the_end(bench, [rest], share)[-1]
        # PyBaMM does not go on after a voltage limit: the run is repeated with the time that the first one found. A little less of it,
        # so that its own tolerance does not end the repetition early.
        stage = Step(first.current_a, first.duration_s * (1 - 1e-7))
        pieces = to_the_end(bench, [rest, stage, Step(0.0, BETWEEN_S)], LAST_SHARE)
        staged = charge_ah(pieces)
        noisy = noisy_twin(columns(pieces, second_grid), name)
        table = np.column_stack([noisy.time_s, 0.0 - noisy.current_a, noisy.voltage_v, noisy.cell_c, noisy.ambient_c])
        formats = ["%.3f", "%.8f", "%.7f", "%.4f", "%.4f"]
        np.savetxt(folder / f"{name}.csv", table, fmt=formats, delimiter=",", header=HEADER, comments="")
        (folder / f"{name}.toml").write_text(label_of(published))
        truth = {
            "chemistry": published.chemistry,
            "first_share": share,
            "alone_ah": alone,
            "staged_ah": staged,
            "first_stage_ah": charge_ah(pieces[:2]),
            "hours": (pieces[-1].start_s + pieces[-1].duration_s) / 3600,
            "alone_hours": alone / (LAST_SHARE * bench.cell.it_a),
        }
        (folder / f"{name}.truth.json").write_text(json.dumps(truth, indent=1) + "\n")
        lines.append(f"{name}: in stages {staged / alone - 1:+.4%}, {truth['hours']:.2f} h for {truth['alone_hours']:.2f} h")
    return "\n".join(lines)


def table(folder: Path) -> bool:
    """Prints what stages give against 0.2 It alone; returns whether all is within what the program allows for."""
    print(f"{'cell':<22} {'first':>7}   in stages    0.2 It alone   stage 1 alone   hours")
    good = True
    for file in sorted(folder.glob("*.truth.json")):
        truth = json.loads(file.read_text())
        cell = file.name.removesuffix(".truth.json").rsplit("_", 1)[0]
        alone, off = truth["alone_ah"], truth["staged_ah"] / truth["alone_ah"] - 1
        within = abs(off) <= MOST_OFF.get(truth["chemistry"], MOST_OFF_OTHERS)
        good &= within
        print(
            f"{cell:<22} {truth['first_share']:>4.1f} It   {off:+9.3%}   {alone:9.4f} Ah   {truth['first_stage_ah'] / alone - 1:+12.2%}"
            f"   {truth['hours']:.2f} of {truth['alone_hours']:.2f}{'' if within else '   FAIL'}"
        )
    return good


def main(arguments: list[str]) -> int:
    """Fills the folder named on the command line, prints the table and returns the exit code."""
    if len(arguments) != 1 or arguments[0].startswith("-"):
        print("usage: step_down.py FOLDER", file=sys.stderr)
        return 2
    kept = cache.place("step-down", INPUTS)
    if kept.is_dir():
        print(f"discharges in stages unchanged, taken from {kept}", file=sys.stderr)
    else:
        print(f"simulating {len(CELLS) * len(FIRST_SHARES)} discharges in stages", file=sys.stderr, flush=True)
        cache.fill(kept, "*", make_cell, [(variant,) for variant in CELLS])
    folder = Path(arguments[0])
    cache.deliver(kept, folder)
    return 0 if table(folder) else 1


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
