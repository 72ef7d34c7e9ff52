"""Draws the plots of sink.md and tells whether the committed ones still show what ngspice gives.

Another version of ngspice may give other digits, so the curves are compared by their distance on the paper.
"""

import re
from pathlib import Path

import loop_gain
import plot
from cases import constant, staircase
from ngspice import simulate

HERE = Path(__file__).resolve().parent
STEPS = (0, 0.6, 3, 5, 3, 0.6, 0)
# Largest distance between a committed curve and a fresh one, in pixels of the plot.
LARGEST_DISTANCE = 3.0


def _steps():
    curves = []
    for ohms, henries in ((0.020, 0.2e-6), (0.060, 1e-6), (0.300, 5e-6)):
        rows = simulate(**staircase(STEPS), cell_ohms=ohms, lead_henries=henries)
        curves.append((f"{ohms * 1e3:g} mOhm, {henries * 1e6:g} uH", [(row[0] * 1e3, row[1]) for row in rows if row[0] > 1e-3]))
    return plot.lines("Cell current at the steps 0, 0.6, 3, 5, 3, 0.6, 0 A", "time / ms", "current / A", curves)


def _start():
    curves = []
    for henries in (0.2e-6, 5e-6):
        rows = simulate(**constant(5), enable_at=3e-3, disable_at=4e-3, lead_henries=henries, cell_ohms=0.06)
        curves.append((f"60 mOhm, {henries * 1e6:g} uH", [(row[0] * 1e3, row[1]) for row in rows if 2.9e-3 < row[0] < 4.2e-3]))
    return plot.lines("Enable on at 3 ms and off at 4 ms, set point 5 A before", "time / ms", "current / A", curves)


def _all():
    return {"steps.svg": _steps(), "start.svg": _start(), "loop.svg": loop_gain.drawing()}


def write():
    """Writes the plots."""
    for name, text in _all().items():
        (HERE / name).write_text(text, encoding="utf-8")


def _curves(text):
    return [[tuple(float(number) for number in point.split(",")) for point in row.split()] for row in re.findall(r'polyline points="([^"]+)"', text)]


def _distance(point, curve):
    """Returns the distance of a point from a row of lines."""
    x, y = point
    least = float("inf")
    for (ax, ay), (bx, by) in zip(curve, curve[1:]):
        length = (bx - ax) ** 2 + (by - ay) ** 2
        along = min(1.0, max(0.0, ((x - ax) * (bx - ax) + (y - ay) * (by - ay)) / length)) if length else 0.0
        least = min(least, (ax + along * (bx - ax) - x) ** 2 + (ay + along * (by - ay) - y) ** 2)
    return least**0.5


def check_drawings(report):
    """The committed plots show what ngspice gives now."""
    for name, fresh in _all().items():
        path = HERE / name
        committed = path.read_text(encoding="utf-8") if path.exists() else ""
        old, new = _curves(committed), _curves(fresh)
        words = [re.findall(r">([^<]+)<", text) for text in (committed, fresh)]
        far = max((_distance(point, b) for a, b in zip(old, new) for point in a[::5]), default=float("inf"))
        report.check(len(old) == len(new) and words[0] == words[1] and far <= LARGEST_DISTANCE,
                     f"{name} is fresh (its curves are within {far:.1f} px); otherwise run sink/sink_check.py --draw")
