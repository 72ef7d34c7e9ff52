"""Grades a long file of recorded screens and tells cells a second, processors used and peak memory.

usage: grade_many.py BINARY CELLS

The file holds the committed trace `tests/traces/two_level.csv` (1224 rows, as a laboratory's logger writes a screen) for
each cell anew, with noise drawn for each of 50 variants, in the columns of the Battery Data Format with `Cell ID`. It
is also graded with a tenth of the cells: memory must not grow with the file. Standard library only.
Exit code 0: every cell answered and memory constant; 1: not; 2: usage.
"""

from __future__ import annotations

import os
import random
import subprocess
import sys
import tempfile
import time
from pathlib import Path

HERE = Path(__file__).resolve().parent.parent
VARIANTS = 50
MOST_GROWTH = 1.2


def variants() -> tuple[str, list[str]]:
    """Returns the header and the rows of each variant, every line still without a name."""
    header, *rows = (HERE / "traces" / "two_level.csv").read_text().splitlines()
    noise = random.Random(1)
    texts = []
    for _ in range(VARIANTS):
        lines = []
        for row in rows:
            fields = row.split(",")
            fields[2] = f"{float(fields[2]) + noise.gauss(0, 2e-4):.5f}"
            lines.append(",".join(fields))
        texts.append(lines)
    return header, ["\n".join(f"@,{line}" for line in lines) + "\n" for lines in texts]


def write(path: Path, cells: int) -> None:
    """Writes the file."""
    header, texts = variants()
    with path.open("w") as file:
        file.write(f"Cell ID,{header}\n")
        for cell in range(cells):
            file.write(texts[cell % VARIANTS].replace("@", f"PE-{cell:06}"))


def measured(binary: str, path: Path) -> tuple[int, float, float, float]:
    """Grades the file; returns answers, seconds, processors used and peak memory in MB."""
    label = HERE / "labels" / "scanner_cell.toml"
    command = [binary, "grade", str(path), "--many", "--cell", str(label)]
    began = time.monotonic()
    with subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL) as run:
        assert run.stdout is not None
        answers = 0
        while block := run.stdout.read(1 << 20):
            answers += block.count(b"\n")
        _, status, usage = os.wait4(run.pid, 0)
        run.returncode = os.waitstatus_to_exitcode(status)
    seconds = time.monotonic() - began
    if run.returncode != 0:
        raise RuntimeError(f"exit code {run.returncode}")
    return answers, seconds, (usage.ru_utime + usage.ru_stime) / seconds, usage.ru_maxrss / 1024


def main(arguments: list[str]) -> int:
    """Does what the command line asks for and returns the exit code."""
    if len(arguments) != 2 or not arguments[1].isdigit() or int(arguments[1]) < 10:
        print("usage: grade_many.py BINARY CELLS (10 or more)", file=sys.stderr)
        return 2
    good = True
    memories: list[float] = []
    for cells in (int(arguments[1]) // 10, int(arguments[1])):
        with tempfile.TemporaryDirectory() as temporary:
            path = Path(temporary) / "day.csv"
            write(path, cells)
            megabytes = path.stat().st_size / 1e6
            answers, seconds, processors, memory = measured(arguments[0], path)
        memories.append(memory)
        good &= answers == cells
        print(
            f"{cells:>7} screens of 1224 rows ({megabytes:.0f} MB): {seconds:.1f} s, {cells / seconds:.0f} cells/s, "
            f"{megabytes / seconds:.0f} MB/s, {processors:.2f} of {os.cpu_count()} processors, peak {memory:.1f} MB"
        )
    good &= memories[1] <= MOST_GROWTH * memories[0]
    print("good" if good else "NOT good: an answer is missing, or memory grows with the file")
    return 0 if good else 1


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
