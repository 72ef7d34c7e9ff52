"""Equivalent circuits run by the package `thevenin`, a simulator that shares nothing with PyBaMM or with this project.

Gives for each of a few circuits the pieces of the two-level procedure and of the 10 s pulse, like `procedures.Bench`.
The circuits are invented (two pairs each, a straight open-circuit voltage): what is checked is the reading of a trace,
not a chemistry. Their fast pairs are of 3, 30 and 300 ms, so that resistances at 100 ms are tried on a voltage that has
settled, is settling, and has hardly begun to.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import thevenin
from numpy.typing import ArrayLike, NDArray

from procedures import REST_S, Step

RATED_AH = 3.0
LABEL = f'rated_capacity_ah = {RATED_AH}\ncharge_limit_v = 4.2\nend_of_discharge_v = 3.0\nchemistry = "lco"\n'
FAST_S = {"3ms": 0.003, "30ms": 0.03, "300ms": 0.3}
SERIES_OHM, FAST_OHM, SLOW_OHM, SLOW_S = 0.045, 0.018, 0.030, 12.0
ROWS_S = 1e-3


@dataclass(frozen=True)
class Piece:
    """The solution of one step on its grid of 1 ms; the same questions as `procedures.Piece`."""

    start_s: float
    current_a: float
    duration_s: float
    _times_s: NDArray[np.float64]
    _voltages_v: NDArray[np.float64]

    def voltage_v(self, elapsed_s: ArrayLike) -> NDArray[np.float64]:
        """Returns the terminal voltage (V) at times since the step began."""
        return np.interp(np.atleast_1d(np.asarray(elapsed_s, dtype=float)), self._times_s, self._voltages_v)

    def temperature_c(self, elapsed_s: ArrayLike) -> NDArray[np.float64]:
        """Returns the cell temperature (degC), which stays."""
        return np.full(np.atleast_1d(elapsed_s).size, 25.0)

    def resistance_ohm(self, rest_v: float, elapsed_s: float) -> float:
        """Returns the voltage lost since rest over the current."""
        return (rest_v - self.voltage_v(elapsed_s).item()) / self.current_a


def run(fast_s: float, soc: float, steps: list[Step]) -> list[Piece]:
    """Runs steps on a circuit from equilibrium."""
    simulation = thevenin.Simulation(
        {
            "num_RC_pairs": 2,
            "soc0": soc,
            "capacity": RATED_AH,
            "gamma": 0.0,
            "ce": 1.0,
            "mass": 0.06,
            "isothermal": True,
            "Cp": 900.0,
            "T_inf": 298.15,
            "h_therm": 12.0,
            "A_therm": 0.01,
            "ocv": lambda charge: 3.4 + 0.8 * charge,
            "M_hyst": lambda charge: 0.0,
            "R0": lambda charge, kelvin: SERIES_OHM,
            "R1": lambda charge, kelvin: FAST_OHM,
            "C1": lambda charge, kelvin: fast_s / FAST_OHM,
            "R2": lambda charge, kelvin: SLOW_OHM,
            "C2": lambda charge, kelvin: SLOW_S / SLOW_OHM,
        }
    )
    experiment = thevenin.Experiment(rtol=1e-9, atol=1e-11)
    for step in steps:
        experiment.add_step("current_A", step.current_a, (step.duration_s, round(step.duration_s / ROWS_S) + 1))
    solution = simulation.run(experiment)
    pieces: list[Piece] = []
    start_s = 0.0
    for index, step in enumerate(steps):
        values = solution.get_steps(index).vars
        time_s = values["time_s"] - values["time_s"][0]
        pieces.append(Piece(start_s, step.current_a, step.duration_s, time_s, values["voltage_V"]))
        start_s += step.duration_s
    return pieces


def two_level(fast_s: float, soc: float, rest_after_s: float) -> list[Piece]:
    """Runs the two load levels of IEC 61960-3."""
    return run(
        fast_s, soc, [Step(0, REST_S), Step(0.2 * RATED_AH, 10), Step(RATED_AH, 1), Step(0, rest_after_s)]
    )


def pulse(fast_s: float, soc: float, rest_after_s: float) -> list[Piece]:
    """Runs one pulse of 0.5 It for 10 s."""
    return run(fast_s, soc, [Step(0, REST_S), Step(0.5 * RATED_AH, 10), Step(0, rest_after_s)])
