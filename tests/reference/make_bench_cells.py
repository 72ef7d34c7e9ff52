"""Derives the parameters of the simulated bench's cells from the same three reference cells.

usage: make_bench_cells.py           writes bench/NAME.json for each cell
       make_bench_cells.py --check   derives them again and compares with the files there, writing nothing

At each of five states of charge the reference cell takes the 10 s pulse and the two-level procedure, each followed by
60 s of rest; the equivalent circuit (`circuit.py`) is fitted to these voltages and to nothing else: not to the figures
under `truth`, and not to what the bench or the program makes of the result. In each file

`truth`    is what the reference cell itself shows,
`circuit`  what an ideal meter would read on the fitted circuit, which has lost something in the fit already,
`fit`      how far circuit and reference cell are apart in the voltages fitted.

So an error of the program on the bench is held against `circuit`, an error of the whole way against `truth`.
The circuit cannot follow everywhere: charge transfer and diffusion are no sums of three exponentials, the reference
cell's resistance falls as current rises, and time constants well beyond the 60 s of rest are not seen at all.
"""

from __future__ import annotations

import json
import os
import sys
from collections.abc import Iterable
from concurrent.futures import ProcessPoolExecutor
from pathlib import Path
from typing import Any

import numpy as np

import truth
from cells import CHARGE_LIMIT_V, END_OF_DISCHARGE_V, VARIANTS, ReferenceCell
from circuit import Circuit, Response, fit
from procedures import DISCHARGE_CURRENT_A, IT_A, PULSE_CURRENT_A, Bench, Step

FOLDER = Path(__file__).resolve().parent / "bench"
RESISTANCE_SOC = (0.1, 0.3, 0.5, 0.7, 0.9)
TWO_LEVEL_SOC = (0.8, 0.5, 0.2)
PULSE_SOC = 0.5
RELAXATION_S = 60.0
CHECK_LIMIT = 0.01
"""Largest relative difference --check lets pass: room for another processor's rounding, far below the fit's error."""


def derive(name: str) -> dict[str, Any]:
    """Returns the content of one cell's file."""
    cell = ReferenceCell(VARIANTS[name])
    bench = Bench(cell)
    groups = [
        [Response.of(cell, soc, run(soc, RELAXATION_S)) for run in (bench.pulse, bench.two_level)]
        for soc in RESISTANCE_SOC
    ]
    seconds, resistance, residuals = fit(groups)
    soc = np.arange(101) / 100
    circuit = Circuit(cell.capacity_ah, soc, cell.ocv_v(soc), np.array(RESISTANCE_SOC), resistance, seconds)
    return {
        "name": name,
        "source": f"tests/reference/make_bench_cells.py from PyBaMM's Ai2020 DFN: {cell.variant.description}",
        "capacity_ah": round(cell.capacity_ah, 5),
        "end_of_discharge_v": END_OF_DISCHARGE_V,
        "charge_limit_v": CHARGE_LIMIT_V,
        "soc": rounded(soc, 2),
        "ocv_v": rounded(circuit.ocv_v, 5),
        "resistance_soc": list(RESISTANCE_SOC),
        "series_ohm": rounded(resistance[:, 0], 6),
        "pair_ohm": [rounded(resistance[:, pair], 6) for pair in (1, 2, 3)],
        "pair_seconds": [significant(value, 4) for value in seconds],
        "fit": {
            "residual_rms_v": significant(float(np.sqrt(np.mean(residuals**2))), 3),
            "residual_largest_v": significant(float(np.abs(residuals).max()), 3),
            "points": residuals.size,
        },
        "truth": figures(
            [truth.two_level_ohm(bench.two_level(at)) for at in TWO_LEVEL_SOC],
            truth.instants_ohm(bench.pulse(PULSE_SOC)),
            truth.capacity_ah(bench.full_discharge()),
        ),
        "circuit": figures(
            [circuit_two_level_ohm(circuit, at) for at in TWO_LEVEL_SOC],
            {key: circuit_instant_ohm(circuit, time_s) for key, time_s in truth.INSTANTS.items()},
            circuit.capacity_to_end_ah(DISCHARGE_CURRENT_A),
        ),
    }


def figures(two_level_ohm: list[float], instants_ohm: dict[str, float], capacity_ah: float) -> dict[str, Any]:
    """Returns what is kept of a cell's measurable figures, rounded."""
    return {
        "two_level_soc": list(TWO_LEVEL_SOC),
        "two_level_ohm": rounded(two_level_ohm, 6),
        "pulse_soc": PULSE_SOC,
        "pulse_current_a": PULSE_CURRENT_A,
        **{key: round(value, 6) for key, value in instants_ohm.items()},
        "capacity_ah": round(capacity_ah, 5),
    }


def circuit_two_level_ohm(circuit: Circuit, soc: float) -> float:
    """Returns the two-level resistance (ohm) of the circuit."""
    low, high = Step(0.2 * IT_A, 10.0), Step(IT_A, 1.0)
    low_v, high_v = circuit.end_voltages([low, high], soc)
    return (low_v - high_v) / (high.current_a - low.current_a)


def circuit_instant_ohm(circuit: Circuit, time_s: float) -> float:
    """Returns the resistance (ohm) of the circuit at a time into the single pulse."""
    [loaded_v] = circuit.end_voltages([Step(PULSE_CURRENT_A, time_s)], PULSE_SOC)
    return (circuit.ocv_at(PULSE_SOC) - loaded_v) / PULSE_CURRENT_A


def rounded(values: Iterable[float], digits: int) -> list[float]:
    """Returns plain numbers with few enough decimals for a file kept under version control."""
    return [round(float(value), digits) for value in values]


def significant(value: float, digits: int) -> float:
    """Returns the number rounded to so many significant digits."""
    return float(f"{value:.{digits}g}")


def differences(kept: Any, derived: Any, place: str = "") -> list[str]:
    """Names every place where two contents differ in kind, in text, or in a number by more than CHECK_LIMIT."""
    if isinstance(derived, dict) and isinstance(kept, dict) and kept.keys() == derived.keys():
        return [line for key in derived for line in differences(kept[key], derived[key], f"{place} {key}")]
    if isinstance(derived, list) and isinstance(kept, list) and len(kept) == len(derived):
        return [line for i, one in enumerate(derived) for line in differences(kept[i], one, f"{place} {i}")]
    if isinstance(derived, (int, float)) and isinstance(kept, (int, float)):
        same = abs(kept - derived) <= CHECK_LIMIT * abs(derived) + 1e-6
        return [] if same else [f"{place}: kept {kept}, derived {derived}"]
    return [] if kept == derived else [f"{place}: kept and derived are not alike"]


def text_of(content: dict[str, Any]) -> str:
    """Returns the content as JSON with one key per line."""
    lines = ",\n".join(f"  {json.dumps(key)}: {json.dumps(value)}" for key, value in content.items())
    return f"{{\n{lines}\n}}\n"


def main(arguments: list[str]) -> int:
    """Derives all cells and writes or compares them; returns the exit code."""
    if arguments not in ([], ["--check"]):
        print("usage: make_bench_cells.py [--check]", file=sys.stderr)
        return 2
    wrong: list[str] = []
    with ProcessPoolExecutor(max_workers=min(2, os.cpu_count() or 1)) as pool:
        for content in pool.map(derive, VARIANTS):
            path = FOLDER / f"{content['name']}.json"
            print(f"{path.name}: time constants {content['pair_seconds']} s, {content['fit']}", file=sys.stderr)
            if not arguments:
                FOLDER.mkdir(exist_ok=True)
                path.write_text(text_of(content))
            elif not path.exists():
                wrong.append(f"{path.name}: missing; run make_bench_cells.py")
            else:
                wrong += [f"{path.name}{line}" for line in differences(json.loads(path.read_text()), content)]
    for line in wrong:
        print(line, file=sys.stderr)
    return 1 if wrong else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
