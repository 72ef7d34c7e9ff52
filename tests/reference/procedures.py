"""Runs a load procedure on a reference cell and keeps the noise-free solution.

Takes a cell, a start state of charge and a list of steps of constant current; gives one `Piece` per step, whose voltage
and temperature can be asked for at any moment of it. Positive current discharges.

The model is PyBaMM's Doyle-Fuller-Newman model with double layers ("surface form") and one lumped temperature, cell and
surroundings at one temperature. The procedures follow IEC 61960-3 clause 7.7 (two load levels) and 7.3.1 (capacity at 0.2 It),
as this project knows them from memory; the single pulse is our own.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pybamm
from numpy.typing import ArrayLike, NDArray

from cells import (
    CURRENT,
    END_OF_DISCHARGE_V,
    FIRST_TEMPERATURE,
    RATED_CAPACITY_AH,
    TEMPERATURE,
    VOLTAGE_FLOOR,
    ReferenceCell,
)

IT_A = RATED_CAPACITY_AH
REST_S = 15.0
"""Rest before a load; the cell starts in equilibrium, so this only gives the reader of the trace its rest voltage."""
PULSE_CURRENT_A = 0.5 * IT_A
DISCHARGE_CURRENT_A = 0.2 * IT_A
NO_FLOOR_V = 2.0
LONGEST_DISCHARGE_S = 8 * 3600.0


@dataclass(frozen=True)
class Step:
    """A constant current (A, discharge positive) held for a time (s)."""

    current_a: float
    duration_s: float


@dataclass(frozen=True)
class Piece:
    """The solution of one step."""

    start_s: float
    current_a: float
    duration_s: float
    _solution: pybamm.Solution

    def voltage_v(self, elapsed_s: ArrayLike) -> NDArray[np.float64]:
        """Returns the terminal voltage (V) at times since the step began; time 0 is already under the new current."""
        return self._at("Voltage [V]", elapsed_s)

    def temperature_c(self, elapsed_s: ArrayLike) -> NDArray[np.float64]:
        """Returns the cell temperature (degC) at times since the step began."""
        return self._at("X-averaged cell temperature [K]", elapsed_s) - 273.15

    def resistance_ohm(self, rest_v: float, elapsed_s: float) -> float:
        """Returns the voltage lost since rest over the current, at one moment of the step."""
        return (rest_v - self.voltage_v(elapsed_s).item()) / self.current_a

    def _at(self, variable: str, elapsed_s: ArrayLike) -> NDArray[np.float64]:
        # The solver moves the ends of a step by some 1e-15 s; asking beyond them would be extrapolation.
        first, last = self._solution.t[0], self._solution.t[-1]
        times = np.clip(first + np.atleast_1d(np.asarray(elapsed_s, dtype=float)), first, last)
        return np.asarray(self._solution[variable](times), dtype=float)


class Bench:
    """A cell's model, built once and run many times."""

    def __init__(self, cell: ReferenceCell, temperature_c: float = 25.0, thermal: str = "lumped") -> None:
        self.cell = cell
        self.temperature_c = temperature_c
        model = pybamm.lithium_ion.DFN({"surface form": "differential", "contact resistance": "true", "thermal": thermal})
        # 1e-8 leaves less than 0.1 uV against 1e-9, well under the fixture's resolution; 1e-6 leaves 6 uV.
        solver = pybamm.IDAKLUSolver(rtol=1e-8, atol=1e-8)
        self._simulation = pybamm.Simulation(model, parameter_values=cell.parameters, solver=solver)

    def run(self, steps: list[Step], start_soc: float, floor_v: float = NO_FLOOR_V) -> list[Piece]:
        """Runs the steps from equilibrium; a step that reaches the floor voltage ends there and is the last."""
        kelvin = self.temperature_c + 273.15
        inputs = {
            **self.cell.start_inputs(start_soc),
            VOLTAGE_FLOOR: floor_v,
            TEMPERATURE: kelvin,
            FIRST_TEMPERATURE: kelvin,
        }
        pieces: list[Piece] = []
        # Not `None`: that would make PyBaMM go on from the run before this one.
        solution: pybamm.Solution | pybamm.EmptySolution = pybamm.EmptySolution()
        start_s = 0.0
        for step in steps:
            solution = self._simulation.step(
                step.duration_s, starting_solution=solution, inputs={**inputs, CURRENT: step.current_a}
            )
            part = solution.sub_solutions[-1]
            at_floor = solution.termination != "final time"
            duration_s = float(part.t[-1] - part.t[0]) if at_floor else step.duration_s
            pieces.append(Piece(start_s, step.current_a, duration_s, part))
            if at_floor:
                break
            start_s += duration_s
        self._check_start(pieces[0], start_soc)
        return pieces

    def two_level(self, start_soc: float, rest_after_s: float = 10.0) -> list[Piece]:
        """Runs the two load levels of IEC 61960-3: 0.2 It for 10 s, then 1.0 It for 1 s."""
        it_a = self.cell.it_a
        return self.run([Step(0, REST_S), Step(0.2 * it_a, 10), Step(it_a, 1), Step(0, rest_after_s)], start_soc)

    def pulse(self, start_soc: float, rest_after_s: float = 10.0) -> list[Piece]:
        """Runs one pulse of 0.5 It for 10 s."""
        return self.run([Step(0, REST_S), Step(0.5 * self.cell.it_a, 10), Step(0, rest_after_s)], start_soc)

    def full_discharge(self, rest_s: float = 60.0) -> list[Piece]:
        """Runs 0.2 It from the full cell to 3.0 V, with a rest on either side."""
        load = [Step(0, rest_s), Step(DISCHARGE_CURRENT_A, LONGEST_DISCHARGE_S)]
        pieces = self.run(load, 1.0, END_OF_DISCHARGE_V)
        if pieces[-1].duration_s >= LONGEST_DISCHARGE_S:
            raise RuntimeError(
                f"{self.cell.variant.name}: {END_OF_DISCHARGE_V} V not reached in {LONGEST_DISCHARGE_S} s"
            )
        # PyBaMM will not go on after a voltage limit, so the run is repeated with the time the first one found.
        load[-1] = Step(DISCHARGE_CURRENT_A, pieces[-1].duration_s)
        return self.run([*load, Step(0, rest_s)], 1.0)

    def _check_start(self, piece: Piece, start_soc: float) -> None:
        """Holds our equilibrium states against the model: at rest both must give the same voltage at 25 degC."""
        if self.temperature_c != 25.0:
            return  # equilibrium voltages move with temperature in some sets
        expected_v = self.cell.ocv_v(start_soc).item()
        found_v = piece.voltage_v(0.0).item()
        if abs(found_v - expected_v) > 1e-6:
            raise RuntimeError(
                f"{self.cell.variant.name}: at {start_soc:.0%} the model rests at {found_v:.6f} V, "
                f"the equilibrium states say {expected_v:.6f} V"
            )
