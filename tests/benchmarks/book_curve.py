"""Measures the book of a shop's years: what each question and each write costs while the book grows.

usage: book_curve.py BINARY YEARS FOLDER CELLS...

BINARY is the release program, YEARS the release `book_years`, which writes a book of so many cells into FOLDER, one after the
other (about 19 kB a cell; each is removed before the next). Every question is asked of the release program RUNS times, each in a
process of its own; the median of the wall times and the largest peak memory count (of which some 15 MB are this program's own,
as the system counts them). Prints a table in Markdown. With KEEP_BOOKS in the environment the books stay in FOLDER and are
asked again the next time. Standard library only.
Exit code 0: every promise below is kept; 1: not; 2: usage.
"""

from __future__ import annotations

import json
import os
import statistics
import subprocess
import sys
import time
from pathlib import Path

RUNS = 5
KEPT = os.environ.get("KEEP_BOOKS") is not None
REPOSITORY = Path(__file__).resolve().parent.parent.parent
# Promised at every size: milliseconds, MB. What is not named here is only measured.
PROMISED = {
    "book show CELL": (100, 50),
    "judge CELL": (100, 50),
    "judge --state": (100, 50),
    "container weigh": (100, 50),
    "container place": (100, 50),
    "grade into the book": (100, 50),
    "due": (1000, 200),
    "guided --list": (1000, 200),
    "container list": (1000, 200),
    "model list": (1000, 200),
    "model show": (1000, 200),
    "book list": (100, 50),
}
APPEND_OF_BARE = 0.8
VERIFY_OF_HASH = 0.5


# Milliseconds by the clock, milliseconds of processor time, MB at the peak.
Cost = tuple[float, float, float]


def run(command: list[str]) -> tuple[Cost, str]:
    """Runs a command; returns its cost and what it printed."""
    began = time.monotonic()
    with subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True) as process:
        out, error = process.stdout.read(), process.stderr.read()
        _, status, usage = os.wait4(process.pid, 0)
        process.returncode = os.waitstatus_to_exitcode(status)
    if process.returncode != 0:
        raise RuntimeError(f"{' '.join(command)}: exit code {process.returncode}\n{error}")
    cpu_ms = (usage.ru_utime + usage.ru_stime) * 1e3
    return ((time.monotonic() - began) * 1e3, cpu_ms, usage.ru_maxrss / 1024), out


def told(command: list[str]) -> dict[str, float]:
    """Runs a command that prints one line of JSON."""
    return json.loads(run(command)[1])


class Shop:
    """A book of so many cells, and the program to ask it with."""

    def __init__(self, binary: str, years: str, folder: Path, cells: int) -> None:
        self.binary, self.years, self.cells = binary, years, cells
        self.book = folder / f"years-{cells}.sqlite"
        self.today = time.strftime("%Y-%m-%d", time.gmtime())

    def write(self) -> dict[str, float]:
        """Writes the book, or takes the one that was kept."""
        kept = self.book.with_suffix(".json")
        if KEPT and self.book.exists() and kept.exists():
            return json.loads(kept.read_text())
        self.remove()
        recordings = ["--recordings"] if self.cells <= 10_000 else []
        written = told([self.years, "write", str(self.book), str(self.cells), *recordings])
        if KEPT:
            kept.write_text(json.dumps(written))
        return written

    def remove(self) -> None:
        for path in self.book.parent.glob(f"{self.book.stem}.*"):
            path.unlink()

    def call(self, *typed: str) -> list[str]:
        return [self.binary, *typed, "--book", str(self.book), "--today", self.today]

    def ask(self, *typed: str) -> Cost:
        """Asks RUNS times; returns the median times and the largest memory."""
        return self.each([list(typed)] * RUNS)

    def each(self, calls: list[list[str]]) -> Cost:
        """The same for calls that can each be made once."""
        seen = [run(self.call(*typed))[0] for typed in calls]
        ms, cpu_ms, mb = zip(*seen, strict=True)
        return statistics.median(ms), statistics.median(cpu_ms), max(mb)

    def standing(self) -> list[str]:
        """Returns cells of the box that is being filled."""
        listed = json.loads(run(self.call("container", "list", "--json"))[1])
        boxes = [(box["container"], box["cells"]) for box in listed["containers"]]
        _, cells = max((name, cells) for name, cells in boxes if name.startswith("IN-") and len(cells) >= RUNS)
        return [cell["cell"] for cell in cells]

    def measured(self) -> dict[str, Cost]:
        """Asks everything."""
        trace = str(REPOSITORY / "tests" / "traces" / "two_level.csv")
        label = str(REPOSITORY / "tests" / "labels" / "scanner_cell.toml")
        by = ["--by", "Ines Harrow"]
        able = ["--qualification", "battery technician with the maker's criteria", "--as-recorded"]
        answers = ["--answer", "short_circuit_protection=no", "--answer", "safety_features=no"]
        # Cells that are shown were handed over when half of the years were over; 1 in 20 has this number.
        gone = f"PE-{self.cells // 40 * 20 + 1:07}"
        cells = self.standing()[:RUNS]
        box = f"DD-NEW-{cells[0]}"
        found = {
            "book show CELL": self.ask("book", "show", gone),
            "judge CELL": self.ask("judge", gone),
            "book list": self.ask("book", "list"),
            "book find CELL": self.ask("book", "find", gone),
            "due": self.ask("due"),
            "container list": self.ask("container", "list"),
            "model list": self.ask("model", "list"),
            "model show": self.ask("model", "show", "Gannet 107"),
            "guided --list": self.ask("guided", "--list"),
            "container weigh": self.each([["container", "weigh", cell, "--mass-g", "68", *by] for cell in cells]),
            "judge --state": self.each(
                [
                    ["judge", cell, "--state", "damaged_or_defective", *able, *answers, *by, "--because", "seen"]
                    for cell in cells
                ]
            ),
        }
        run(
            self.call(
                *["container", "open", box, "--kind", "damaged", "--place", "DE", "--stands", "yard", *by]
            )
        )
        for cell in cells:
            run(self.call("container", "take-out", cell, "--because", "judged as damaged", *by))
        found["container place"] = self.each(
            [
                ["container", "place", box, cell, "--inner", f"bag {cell}", "--mass-g", "68", *by]
                for cell in cells
            ]
        )
        found["grade into the book"] = self.each(
            [
                ["grade", trace, "--id", f"{box}-{index}", "--cell", label, "--model", "Gannet 107", "--no-signs"]
                for index in range(RUNS)
            ]
        )
        return found


def main(arguments: list[str]) -> int:
    """Does what the command line asks for and returns the exit code."""
    if len(arguments) < 4 or not all(size.isdigit() for size in arguments[3:]):
        print("usage: book_curve.py BINARY YEARS FOLDER CELLS...", file=sys.stderr)
        return 2
    binary, years, folder, *sizes = arguments
    rows: dict[str, list[str]] = {}
    missed: list[str] = []

    def row(name: str, text: str, kept: bool = True) -> None:
        rows.setdefault(name, []).append(text if kept else f"**{text}**")
        if not kept:
            missed.append(f"{name} at {size} cells: {text}")

    for size in map(int, sizes):
        shop = Shop(binary, years, Path(folder), size)
        try:
            written = shop.write()
            print(f"{size} cells: {json.dumps(written)}; load {os.getloadavg()[0]:.1f}", file=sys.stderr)
            row("entries", f"{written['entries']:.0f}")
            row("written, cells/s", f"{written['cells_a_second']:.0f}")
            row("bytes a cell without recordings", f"{(written['bytes'] - written['recorded_bytes']) / size:.0f}")
            for name, (ms, cpu_ms, mb) in shop.measured().items():
                most = PROMISED.get(name)
                row(name, f"{ms:.0f} ms ({cpu_ms:.0f} of processor), {mb:.0f} MB", most is None or (ms <= most[0] and mb <= most[1]))
            append = told([years, "append", str(shop.book), "200"])
            print(json.dumps(append), file=sys.stderr)
            for what in ("event", "entry"):
                share = append[f"{what}_of_bare"]
                cpu = f"{append[f'{what}_cpu_ms']:.2f} of processor beside {append['bare_cpu_ms']:.2f}"
                text = f"{append[f'{what}_ms']:.2f} ms ({cpu}), {share:.0%} of bare SQLite"
                row(f"durable write of an {what}", text, what != "event" or share >= APPEND_OF_BARE)
            verified = told([years, "verify", str(shop.book)])
            print(json.dumps(verified), file=sys.stderr)
            threads = f"{verified['threads']:.0f} threads"
            text = f"{verified['verify_mb_s']:.0f} MB/s by {threads}, {verified['of_hash']:.0%} of SHA-256 alone by one"
            row("verify", text, verified["of_hash"] >= VERIFY_OF_HASH)
            (ms, cpu_ms, mb), _ = run(shop.call("book", "verify"))
            row("book verify", f"{ms / 1e3:.1f} s ({cpu_ms / 1e3:.1f} of processor), {mb:.0f} MB")
            plain = shop.book.with_suffix(".plain")
            before = told([years, "plain", str(shop.book), str(plain), str(min(size, 10_000))])
            row("as the first format, bytes a cell", f"{before['bytes_a_cell']:.0f}")
            for path in plain.parent.glob(f"{plain.name}*"):
                path.unlink()
        finally:
            if not KEPT:
                shop.remove()
    print(f"| | {' | '.join(f'{int(size):,} cells' for size in sizes)} |")
    print(f"| --- |{' --- |' * len(sizes)}")
    for name, cells in rows.items():
        print(f"| {name} | {' | '.join(cells)} |")
    print("\n".join(f"NOT kept: {one}" for one in missed) or "every promise is kept")
    return 1 if missed else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
