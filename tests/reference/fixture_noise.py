"""Makes the noisy twin of a clean trace: what the fixture would have recorded of it.

Takes the columns of a noise-free trace; gives the same columns with white noise, the steps of the converters and torn
samples at every current step. Rows and times stay the same.

Figures: white noise of 200 uV and 0.5 mA rms per sample at 1 kHz is this project's assumption of the fixture's order of
magnitude. It is kept for slower rows too, although a fixture would average there: the worse case. Converter steps are
those of an INA228 (bus voltage 195.3125 uV; shunt voltage 312.5 nV, over 10 mOhm) and a TMP117 (7.8125 mK), from their
data sheets as quoted from memory.
"""

from __future__ import annotations

import zlib
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

VOLTAGE_NOISE_V = 200e-6
CURRENT_NOISE_A = 0.5e-3
TEMPERATURE_NOISE_K = 7.8125e-3
VOLTAGE_STEP_V = 195.3125e-6
CURRENT_STEP_A = 312.5e-9 / 0.010
TEMPERATURE_STEP_K = 7.8125e-3


@dataclass(frozen=True)
class Columns:
    """A trace as equally long columns; current in A, discharge positive."""

    time_s: NDArray[np.float64]
    current_a: NDArray[np.float64]
    voltage_v: NDArray[np.float64]
    cell_c: NDArray[np.float64]
    ambient_c: NDArray[np.float64]


def noisy_twin(clean: Columns, name: str) -> Columns:
    """Returns the trace as the fixture would have recorded it; the noise is seeded by the name alone."""
    random = np.random.default_rng(zlib.crc32(name.encode()))

    def recorded(values: NDArray[np.float64], noise: float, step: float) -> NDArray[np.float64]:
        return np.round((values + random.normal(0.0, noise, values.size)) / step) * step

    # The second of two rows with the same time is torn: its current is the new one, its voltage still the old one.
    voltage_v = clean.voltage_v.copy()
    torn = np.flatnonzero(np.diff(clean.time_s) == 0) + 1
    voltage_v[torn] = clean.voltage_v[torn - 1]
    return replace(
        clean,
        current_a=recorded(clean.current_a, CURRENT_NOISE_A, CURRENT_STEP_A),
        voltage_v=recorded(voltage_v, VOLTAGE_NOISE_V, VOLTAGE_STEP_V),
        cell_c=recorded(clean.cell_c, TEMPERATURE_NOISE_K, TEMPERATURE_STEP_K),
        ambient_c=recorded(clean.ambient_c, TEMPERATURE_NOISE_K, TEMPERATURE_STEP_K),
    )
