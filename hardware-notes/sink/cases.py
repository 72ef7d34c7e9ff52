"""What the checks of the sink share: its scale, the converter's levels over time, and the report that counts.

The limits are those of protocol/src/limits.rs.
"""

import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "tables"))

import limits  # noqa: E402

FULL_SCALE_VOLTS = 3.3 * 4095 / 4096
VOLTS_PER_AMP = 3.3 / 6
OFF_LIMIT = limits.read()["OFF_CURRENT"] / 1e6
SMALLEST_LOAD = limits.read()["SMALLEST_LOAD"] / 1e6
# A controller that does nothing: its pin is an input that leaks as erratum E9 of the RP2350 has it.
NEVER = {"enable_at": 0.5, "disable_at": 1.0, "leak_amps": 120e-6}


def staircase(levels):
    """Returns the converter's levels for a row of seven currents, 2 ms each."""
    return {f"level_{number}": amps * VOLTS_PER_AMP for number, amps in enumerate(levels, 1)}


def constant(amps):
    """Returns the converter's levels for one current all the time."""
    return staircase([amps] * 7)


def flowing(row):
    """Returns the larger of the current out of the cell and the current in the sense resistor, in A."""
    return max(abs(row[1]), abs(row[2]))


class Report:
    """Counts and prints checks."""

    def __init__(self):
        self.passed = self.failed = 0

    def check(self, good, words):
        print(("pass  " if good else "FAIL  ") + words)
        if good:
            self.passed += 1
        else:
            self.failed += 1
