"""Writes the traces `celltriage grade` is tried on, each with its truth beside it.

usage: make_traces.py FOLDER

Gives, for each of the three cells: the two-level procedure at 80, 50 and 20 % state of charge, one 10 s pulse at 50 %
and a full discharge; each clean and as a noisy twin (`fixture_noise.py`), as NAME.csv and NAME.truth.json.
The CSV has the columns of the open Battery Data Format, where positive current CHARGES the cell; everywhere else in
this folder positive current discharges. At each current step two rows carry the same time.

Results are kept under the environment folder (CELLTRIAGE_REFERENCE_ENV), named by a hash of everything they depend on.
"""

from __future__ import annotations

import hashlib
import json
import os
import shutil
import sys
import tempfile
import time
from collections.abc import Callable
from concurrent.futures import ProcessPoolExecutor, as_completed
from dataclasses import asdict
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

import truth
from cells import VARIANTS, ReferenceCell
from fixture_noise import Columns, noisy_twin
from procedures import Bench, Piece

HERE = Path(__file__).resolve().parent
INPUTS = ("cells.py", "fixture_noise.py", "make_traces.py", "procedures.py", "requirements.txt", "truth.py")
HEADER = "Test Time / s,Current / A,Voltage / V,Surface Temperature T1 / degC,Ambient Temperature / degC"
AMBIENT_C = 25.0
TWO_LEVEL_SOC_PERCENT = (80, 50, 20)
PULSE_SOC_PERCENT = 50
UNFINISHED = "unfinished-"

Grid = Callable[[float], NDArray[np.float64]]


def fine_grid(duration_s: float) -> NDArray[np.float64]:
    """Returns row times of a step: 1 ms for 0.2 s, 4 ms to 2 s and in the last 0.1 s, 20 ms between."""
    end = round(duration_s * 1000)
    rows = {*range(0, min(200, end)), *range(200, min(2000, end), 4), *range(2000, end, 20)}
    rows |= {*range(max(0, end - 100), end, 4), end}
    return np.array(sorted(rows)) / 1000


def millisecond_grid(duration_s: float) -> NDArray[np.float64]:
    """Returns row times of a step at 1 kHz."""
    return np.arange(round(duration_s * 1000) + 1) / 1000


def second_grid(duration_s: float) -> NDArray[np.float64]:
    """Returns row times of a step, one a second and one at its end."""
    return np.unique(np.append(np.arange(0.0, duration_s), duration_s))


def columns(pieces: list[Piece], grid: Grid) -> Columns:
    """Samples every piece on the grid, both of its ends included."""
    times = [grid(piece.duration_s) for piece in pieces]
    time_s = np.concatenate([piece.start_s + elapsed for piece, elapsed in zip(pieces, times, strict=True)])
    return Columns(
        time_s=time_s,
        current_a=np.concatenate([np.full(t.size, p.current_a) for p, t in zip(pieces, times, strict=True)]),
        voltage_v=np.concatenate([p.voltage_v(t) for p, t in zip(pieces, times, strict=True)]),
        cell_c=np.concatenate([p.temperature_c(t) for p, t in zip(pieces, times, strict=True)]),
        ambient_c=np.full(time_s.size, AMBIENT_C),
    )


def write_trace(folder: Path, name: str, trace: Columns, expected: dict[str, object]) -> None:
    """Writes one trace and its truth; the sign of the current is turned here, and only here."""
    charging_a = 0.0 - trace.current_a
    table = np.column_stack([trace.time_s, charging_a, trace.voltage_v, trace.cell_c, trace.ambient_c])
    formats = ["%.6f", "%.8f", "%.7f", "%.7f", "%.7f"]
    np.savetxt(folder / f"{name}.csv", table, fmt=formats, delimiter=",", header=HEADER, comments="")
    (folder / f"{name}.truth.json").write_text(json.dumps({"trace": name, **expected}, indent=2) + "\n")


def make_variant(variant_name: str, folder: Path) -> list[str]:
    """Writes all traces of one cell and returns a line about each procedure."""
    bench = Bench(ReferenceCell(VARIANTS[variant_name]))
    lines: list[str] = []

    def write(procedure: str, pieces: list[Piece], expected: truth.Truth, clean: Grid, recorded: Grid) -> None:
        name = f"{variant_name}_{procedure}"
        origin = {"variant": variant_name, "procedure": procedure, **asdict(expected)}
        write_trace(folder, name, columns(pieces, clean), origin)
        write_trace(folder, f"{name}_noisy", noisy_twin(columns(pieces, recorded), name), origin)
        lines.append(f"{name}: " + ", ".join(f"{key} {value:.6f}" for key, value in expected.required.items()))

    for percent in TWO_LEVEL_SOC_PERCENT:
        pieces = bench.two_level(percent / 100)
        write(f"two_level_{percent}", pieces, truth.of_two_level(pieces), fine_grid, millisecond_grid)
    pieces = bench.pulse(PULSE_SOC_PERCENT / 100)
    write(f"pulse_{PULSE_SOC_PERCENT}", pieces, truth.of_pulse(pieces), fine_grid, millisecond_grid)
    pieces = bench.full_discharge()
    write("full_discharge", pieces, truth.of_full_discharge(pieces), second_grid, second_grid)
    return lines


def cache_folder() -> Path:
    """Returns where the traces of these very scripts and packages are kept."""
    default = HERE.parent.parent / "target" / "reference-env"
    environment = Path(os.environ.get("CELLTRIAGE_REFERENCE_ENV") or default)
    digest = hashlib.sha256()
    for name in INPUTS:
        digest.update(name.encode() + b"\0" + (HERE / name).read_bytes() + b"\0")
    return environment / "traces" / digest.hexdigest()[:20]


def fill_cache(cache: Path) -> None:
    """Makes all traces, in two processes, and puts them in place only when the last one is written."""
    cache.parent.mkdir(parents=True, exist_ok=True)
    started = time.monotonic()
    with tempfile.TemporaryDirectory(dir=cache.parent, prefix=UNFINISHED) as temporary:
        unfinished = Path(temporary) / cache.name
        unfinished.mkdir()
        with ProcessPoolExecutor(max_workers=min(2, os.cpu_count() or 1)) as pool:
            jobs = [pool.submit(make_variant, name, unfinished) for name in VARIANTS]
            for job in as_completed(jobs):
                for line in job.result():
                    print(f"[{time.monotonic() - started:4.0f} s] {line}", file=sys.stderr, flush=True)
        for older in cache.parent.iterdir():
            if not older.name.startswith(UNFINISHED):
                shutil.rmtree(older)
        unfinished.rename(cache)


def deliver(cache: Path, folder: Path) -> int:
    """Copies the traces into the folder, takes away those of an earlier version, and returns how many there are."""
    folder.mkdir(parents=True, exist_ok=True)
    for old in folder.glob("*.truth.json"):
        if not (cache / old.name).exists():
            old.unlink()
            old.with_name(old.name.replace(".truth.json", ".csv")).unlink(missing_ok=True)
    shutil.copytree(cache, folder, dirs_exist_ok=True)
    return len(list(cache.glob("*.csv")))


def main(arguments: list[str]) -> int:
    """Fills the folder named on the command line and returns the exit code."""
    if len(arguments) != 1 or arguments[0].startswith("-"):
        print("usage: make_traces.py FOLDER", file=sys.stderr)
        return 2
    folder = Path(arguments[0])
    cache = cache_folder()
    if cache.is_dir():
        print(f"traces unchanged, taken from {cache}", file=sys.stderr)
    else:
        print(f"simulating {len(VARIANTS)} cells (about a minute)", file=sys.stderr, flush=True)
        fill_cache(cache)
    print(f"{deliver(cache, folder)} traces in {folder}", file=sys.stderr)
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
