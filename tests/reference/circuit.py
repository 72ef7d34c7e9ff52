"""The simulated bench's equivalent circuit: fitted to voltages of a reference cell, and what it would itself read.

    V(t) = ocv(soc(t)) - I(t) series - sum_k pair_k z_k(t),   d z_k / dt = (I - z_k) / seconds_k,   I > 0 discharging.

Takes solutions of procedures, grouped by state of charge; gives the circuit that loses the same voltage with least
squared error. Voltages are taken from the first load on, at moments spread evenly over the logarithm of the time since
each step. The time constants are common to all states of charge, the resistances are not negative. The search runs over
the time constants only, since for given ones the resistances are a linear problem. Between and beyond the fitted states
of charge the circuit's resistances are joined by straight lines and held.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import brentq, least_squares, nnls

from cells import END_OF_DISCHARGE_V, ReferenceCell
from procedures import Piece, Step

FIRST_SECONDS = (0.01, 1.0, 20.0)
"""Where the search for the time constants (s) starts: a milliseconds, a seconds and a slow process."""
POINTS_PER_STEP = 60

Numbers = NDArray[np.float64]


@dataclass(frozen=True)
class Response:
    """What one procedure shows at one state of charge: the voltage lost (V) at chosen moments of its steps."""

    lost_v: Numbers
    steps: list[tuple[Step, Numbers]]
    """Each step with the moments (s) since it began."""

    @classmethod
    def of(cls, cell: ReferenceCell, soc: float, pieces: list[Piece]) -> Response:
        """Takes the equilibrium voltage at the charge counted so far off the solution; the first rest is left out."""
        lost: list[Numbers] = []
        steps: list[tuple[Step, Numbers]] = []
        drawn_c = 0.0
        for piece in pieces[1:]:
            elapsed_s = np.concatenate([[0.0], np.geomspace(1e-3, piece.duration_s, POINTS_PER_STEP)])
            now = soc - (drawn_c + piece.current_a * elapsed_s) / 3600 / cell.capacity_ah
            lost.append(cell.ocv_v(now) - piece.voltage_v(elapsed_s))
            steps.append((Step(piece.current_a, piece.duration_s), elapsed_s))
            drawn_c += piece.current_a * piece.duration_s
        return cls(np.concatenate(lost), steps)

    def design(self, seconds: Numbers) -> Numbers:
        """Returns the matrix that takes (series, pairs...) to the voltage lost, for given time constants (s)."""
        states = np.zeros(seconds.size)
        rows: list[Numbers] = []
        for step, elapsed_s in self.steps:
            pairs = step.current_a + (states - step.current_a) * np.exp(-elapsed_s[:, None] / seconds)
            rows.append(np.column_stack([np.full(elapsed_s.size, step.current_a), pairs]))
            states = step.current_a + (states - step.current_a) * np.exp(-step.duration_s / seconds)
        return np.vstack(rows)


@dataclass(frozen=True)
class Circuit:
    """The bench's cell: tables over state of charge and the time constants of its pairs."""

    capacity_ah: float
    soc: Numbers
    ocv_v: Numbers
    resistance_soc: Numbers
    resistance_ohm: Numbers
    """One row per state of charge: series, then the pairs in the order of `seconds`."""
    seconds: Numbers

    def ocv_at(self, soc: float) -> float:
        """Returns the open-circuit voltage (V), by straight lines between the table's rows."""
        return float(np.interp(soc, self.soc, self.ocv_v))

    def resistance_at(self, soc: float) -> Numbers:
        """Returns series and pair resistances (ohm) at a state of charge."""
        return np.array([np.interp(soc, self.resistance_soc, column) for column in self.resistance_ohm.T])

    def end_voltages(self, steps: list[Step], soc: float) -> list[float]:
        """Returns the voltage (V) at the end of each step, begun at rest."""
        states = np.zeros(self.seconds.size)
        voltages: list[float] = []
        for step in steps:
            states = step.current_a + (states - step.current_a) * np.exp(-step.duration_s / self.seconds)
            soc -= step.current_a * step.duration_s / 3600 / self.capacity_ah
            series, *pairs = self.resistance_at(soc)
            voltages.append(self.ocv_at(soc) - step.current_a * float(series) - float(np.dot(pairs, states)))
        return voltages

    def capacity_to_end_ah(self, current_a: float) -> float:
        """Returns the charge (Ah) from full to 3.0 V at a current held so long that the pairs have settled."""

        def above_end_v(soc: float) -> float:
            return self.ocv_at(soc) - current_a * float(self.resistance_at(soc).sum()) - END_OF_DISCHARGE_V

        return self.capacity_ah * (1 - float(brentq(above_end_v, 0.0, 1.0)))


def fit(groups: list[list[Response]]) -> tuple[Numbers, Numbers, Numbers]:
    """Returns time constants (s), resistances (ohm, a row per group: series, pairs) and all residuals (V)."""

    def resistances(seconds: Numbers) -> tuple[Numbers, Numbers]:
        rows: list[Numbers] = []
        residuals: list[Numbers] = []
        for group in groups:
            design = np.vstack([one.design(seconds) for one in group])
            lost_v = np.concatenate([one.lost_v for one in group])
            solution, _ = nnls(design, lost_v)
            rows.append(solution)
            residuals.append(design @ solution - lost_v)
        return np.array(rows), np.concatenate(residuals)

    # The logarithm keeps the time constants above zero and their scales alike.
    search = least_squares(lambda logs: resistances(np.exp(logs))[1], np.log(FIRST_SECONDS))
    if not search.success:
        raise RuntimeError(f"the fit of the time constants did not end: {search.message}")
    seconds = np.sort(np.exp(search.x))
    return seconds, *resistances(seconds)
