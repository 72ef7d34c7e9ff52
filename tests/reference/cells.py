"""The three reference cells: PyBaMM's Ai2020 parameter set, new and aged in two declared ways.

Takes the name of a variant; gives its PyBaMM parameters, its open-circuit voltage against state of charge and its
equilibrium capacity. The full cell is the state whose equilibrium voltage is 4.2 V, the empty one 3.0 V; state of
charge is the fraction of the charge between these two.

What Ai2020 is and is not good for:

* It describes a lithium cobalt oxide / graphite pouch cell of phone size, 2.28 Ah nominal, charge limit 4.2 V. Its
  cathode table ends in a straight line above that, so nothing here speaks for cells of 4.35 V and more.
* Contact resistance is zero in the set and the ohmic part is tiny. Each variant therefore carries a series resistance
  that was *chosen* (`series_ohm` below) to bring the total near that of real cells; it is no measured property.
* Its temperature dependence is far weaker than that of real cells. Temperature corrections must not be tested on it.
* It relaxes faster than real cells. Rest times must not be tuned on it.
* The ageing here is two clean mechanisms, one each; real cells mix several.

PyBaMM's own solver for electrode states is not used: for this set with lithium removed it returns stoichiometries
above one. The states are found here by bisection on the difference of the electrode potentials instead.
"""

from __future__ import annotations

import os
from collections.abc import Callable
from dataclasses import dataclass

os.environ.setdefault("PYBAMM_DISABLE_TELEMETRY", "true")  # must be set before PyBaMM is loaded

import numpy as np
import pybamm
from numpy.typing import ArrayLike, NDArray
from scipy.optimize import brentq

RATED_CAPACITY_AH = 2.28
"""Nameplate capacity; the current It is this number in ampere (IEC 61960-3)."""
CHARGE_LIMIT_V = 4.2
END_OF_DISCHARGE_V = 3.0

POSITIVE_START, NEGATIVE_START = (
    f"Initial concentration in {electrode} electrode [mol.m-3]" for electrode in ("positive", "negative")
)
CURRENT = "Current function [A]"
VOLTAGE_FLOOR = "Lower voltage cut-off [V]"


TEMPERATURE = "Ambient temperature [K]"
FIRST_TEMPERATURE = "Initial temperature [K]"


@dataclass(frozen=True)
class ParameterSet:
    """A published parameter set with what a label of such a cell would say."""

    name: str
    chemistry: str
    rated_ah: float
    charge_limit_v: float
    end_of_discharge_v: float
    parallel: int | None = None
    """Electrode pairs side by side, where the published cell is too small for a fixture; else as published."""
    lowest_positive: float = 1e-6
    """Positive stoichiometry at which the published potential ends."""
    added: tuple[tuple[str, float], ...] = ()
    """Parameters the set lacks, as chosen here."""


AI2020 = ParameterSet("Ai2020", "lco", RATED_CAPACITY_AH, CHARGE_LIMIT_V, END_OF_DISCHARGE_V, lowest_positive=0.40)


@dataclass(frozen=True)
class Variant:
    """A cell declared by how it differs from the published parameter set."""

    name: str
    description: str
    series_ohm: float
    exchange_current_factor: float = 1.0
    lithium_lost: float = 0.0
    """Cyclable lithium that is gone, as a fraction of the new cell's charge between its voltage limits."""
    published: ParameterSet = AI2020


VARIANTS = {
    variant.name: variant
    for variant in (
        Variant("fresh", "as published, 15 mOhm in series", series_ohm=0.015),
        Variant(
            "aged_resistance",
            "45 mOhm in series, both exchange currents halved, all lithium present",
            series_ohm=0.045,
            exchange_current_factor=0.5,
        ),
        Variant(
            "aged_capacity", "15 mOhm in series, 20 % of the cyclable lithium lost", series_ohm=0.015, lithium_lost=0.2
        ),
    )
}


class ReferenceCell:
    """A variant with its equilibrium states worked out."""

    def __init__(self, variant: Variant) -> None:
        self.variant = variant
        published = variant.published
        self.it_a = published.rated_ah
        self.parameters = pybamm.ParameterValues(published.name)
        self.parameters.update(dict(published.added), check_already_exists=False)
        if published.parallel is not None:
            self.parameters["Number of electrodes connected in parallel to make a cell"] = published.parallel
        self._age_exchange_currents()
        electrodes = pybamm.LithiumIonParameters()
        evaluate = self.parameters.evaluate
        self._positive_ah = float(evaluate(electrodes.p.Q_init))
        self._negative_ah = float(evaluate(electrodes.n.Q_init))
        self._positive_maximum = float(evaluate(electrodes.p.prim.c_max))
        self._negative_maximum = float(evaluate(electrodes.n.prim.c_max))

        # Lithium held by both electrodes together, as charge: the sum stays the same whatever the state of charge.
        published_ah = (
            self._negative_ah * self.parameters[NEGATIVE_START] / self._negative_maximum
            + self._positive_ah * self.parameters[POSITIVE_START] / self._positive_maximum
        )
        empty, full = self._negative_limits(published_ah)
        self._lithium_ah = published_ah - variant.lithium_lost * self._negative_ah * (full - empty)
        self._empty, self._full = self._negative_limits(self._lithium_ah)
        self.capacity_ah = self._negative_ah * (self._full - self._empty)

        self.parameters.update(
            {
                "Contact resistance [Ohm]": variant.series_ohm,
                # A cell resting at the limit must not end the run.
                "Upper voltage cut-off [V]": published.charge_limit_v + 0.1,
                **dict.fromkeys(
                    (CURRENT, VOLTAGE_FLOOR, TEMPERATURE, FIRST_TEMPERATURE, POSITIVE_START, NEGATIVE_START), "[input]"
                ),
            }
        )

    def ocv_v(self, soc: ArrayLike) -> NDArray[np.float64]:
        """Returns the equilibrium voltage in V at each state of charge (0 to 1)."""
        return self._equilibrium_v(self._negative(soc), self._lithium_ah)

    def start_inputs(self, soc: float) -> dict[str, float]:
        """Returns the PyBaMM inputs that start the cell in equilibrium at a state of charge."""
        negative = float(self._negative(soc))
        positive = (self._lithium_ah - self._negative_ah * negative) / self._positive_ah
        return {
            NEGATIVE_START: negative * self._negative_maximum,
            POSITIVE_START: positive * self._positive_maximum,
        }

    def _negative(self, soc: ArrayLike) -> NDArray[np.float64]:
        """Returns the stoichiometry of the negative electrode at a state of charge."""
        return self._empty + np.asarray(soc, dtype=float) * (self._full - self._empty)

    def _negative_limits(self, lithium_ah: float) -> tuple[float, float]:
        """Finds the negative stoichiometries at which the equilibrium voltage is at the published limits."""
        published = self.variant.published
        margin = 1e-6
        # Both electrodes must stay between empty and full, and within the published table.
        lowest = max(margin, (lithium_ah - self._positive_ah * (1 - margin)) / self._negative_ah)
        highest = min(1 - margin, (lithium_ah - self._positive_ah * published.lowest_positive) / self._negative_ah)

        def root(target_v: float) -> float:
            return float(
                brentq(lambda x: self._equilibrium_v(x, lithium_ah).item() - target_v, lowest, highest, xtol=1e-13)
            )

        return root(published.end_of_discharge_v), root(published.charge_limit_v)

    def _equilibrium_v(self, negative: ArrayLike, lithium_ah: float) -> NDArray[np.float64]:
        """Returns positive minus negative electrode potential in V at given negative stoichiometries."""
        negative = np.atleast_1d(np.asarray(negative, dtype=float))
        positive = (lithium_ah - self._negative_ah * negative) / self._positive_ah
        return self._potential("Positive", positive) - self._potential("Negative", negative)

    def _potential(self, electrode: str, stoichiometry: NDArray[np.float64]) -> NDArray[np.float64]:
        symbol = self.parameters[f"{electrode} electrode OCP [V]"](pybamm.Vector(stoichiometry))
        return np.asarray(self.parameters.evaluate(symbol), dtype=float).ravel()

    def _age_exchange_currents(self) -> None:
        """Scales both exchange-current densities by the variant's factor."""
        factor = self.variant.exchange_current_factor

        def scaled(published: Callable[..., pybamm.Symbol]) -> Callable[..., pybamm.Symbol]:
            return lambda *arguments: factor * published(*arguments)

        for electrode in ("Positive", "Negative"):
            name = f"{electrode} electrode exchange-current density [A.m-2]"
            self.parameters[name] = scaled(self.parameters[name])
