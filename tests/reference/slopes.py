"""How far an aged cell's voltage over charge, and its slope, lie from those read in the table of a new cell.

usage: slopes.py

Takes the published electrode potentials of seven parameter sets in PyBaMM; for each the curve of the new cell, and those
after a loss of 10 or 20 % of the lithium or 15 % of the anode's material. Reads the new curve as the program reads its
tables (a point every 10 %, straight lines, secant over 10 % of charge) at the aged cell's voltage, and compares with the
aged cell's own slope. Prints the root mean square of the relative difference below and above 60 % charge, and of the charge that
the new curve tells at the aged cell's voltage, and fails where either is no longer what `host/measure/src/estimate/open_circuit.rs` and `tests/population/open_voltage.rs` say. The cobalt cell is
Ai2020; the others are mixed oxides over graphite or graphite with silicon.
"""

from __future__ import annotations

import os
import sys

os.environ["PYBAMM_DISABLE_TELEMETRY"] = "true"

import numpy as np
import pybamm
from numpy.typing import NDArray

Numbers = NDArray[np.float64]

STATED = {
    "Ai2020": (0.39, 0.23),
    "Chen2020": (0.32, 0.40),
    "Ecker2015": (0.52, 0.25),
    "Marquis2019": (0.95, 0.59),
    "OKane2022": (0.48, 0.53),
    "Mohtat2020": (0.41, 0.15),
    "ORegan2022": (0.36, 0.31),
}
TOLERANCE = 0.02
STATED_CHARGE = {
    "Ai2020": (0.066, 0.039),
    "Chen2020": (0.063, 0.039),
    "Ecker2015": (0.055, 0.028),
    "Marquis2019": (0.072, 0.094),
    "OKane2022": (0.064, 0.035),
    "Mohtat2020": (0.057, 0.022),
    "ORegan2022": (0.093, 0.107),
}
CHARGE_TOLERANCE = 0.002
# Lithium lost, anode lost.
AGED = ((0.10, 0.0), (0.20, 0.0), (0.0, 0.15))
# A set that was made with more lithium than its anode takes gains capacity when it loses some: that is no aged cell.
CREDIBLE = (0.60, 1.02)
TABLE = np.array([0, 5, 10, 20, 30, 40, 50, 60, 70, 80, 90, 100]) / 100
HALF_SPAN = 0.05
PULSE = 10 / 3600 * 0.5
PARTS = ((0.03, 0.60), (0.60, 0.99))


class PublishedCell:
    """Electrode potentials and amounts of a set."""

    def __init__(self, name: str) -> None:
        self.values = pybamm.ParameterValues(name)
        lithium_ion = pybamm.LithiumIonParameters()
        amounts = (lithium_ion.n.prim.Q_init, lithium_ion.p.prim.Q_init, lithium_ion.Q_Li_particles_init)
        self.anode_ah, self.cathode_ah, self.lithium_ah = (float(self.values.evaluate(one)) for one in amounts)
        self.lowest_v = float(self.values["Lower voltage cut-off [V]"])
        self.highest_v = float(self.values["Upper voltage cut-off [V]"])

    def potential_v(self, electrode: str, filling: Numbers) -> Numbers:
        """Returns an electrode's equilibrium potential at fillings from 0 to 1."""
        known = self.values[f"{electrode} electrode OCP [V]"]
        symbol = known(pybamm.Vector(filling)) if callable(known) else known
        return np.asarray(self.values.process_symbol(symbol).evaluate()).ravel()

    def curve(self, lithium_lost: float, anode_lost: float) -> tuple[Numbers, Numbers, float]:
        """Returns charge from 0 to 1, the cell's voltage, and its capacity in Ah."""
        anode_ah = self.anode_ah * (1 - anode_lost)
        lithium_ah = self.lithium_ah * (1 - lithium_lost)

        def voltage_v(anode: Numbers) -> Numbers:
            cathode = (lithium_ah - anode_ah * anode) / self.cathode_ah
            return self.potential_v("Positive", cathode) - self.potential_v("Negative", anode)

        anode = np.linspace(0.002, 0.998, 4000)
        cathode = (lithium_ah - anode_ah * anode) / self.cathode_ah
        anode = anode[(cathode > 0.001) & (cathode < 0.999)]
        rising = np.maximum.accumulate(voltage_v(anode))
        empty, full = np.interp([self.lowest_v, min(self.highest_v, rising[-1])], rising, anode)
        charge = np.linspace(0, 1, 4001)
        return charge, voltage_v(empty + (full - empty) * charge), float(anode_ah * (full - empty))


def read_slope(table_v: Numbers, voltage_v: Numbers) -> Numbers:
    """Returns the slope that the program would read at voltages."""
    place = np.clip(np.interp(voltage_v, table_v, TABLE), 0, 1)
    low, high = np.clip(place - HALF_SPAN, 0, 1), np.clip(place + HALF_SPAN, 0, 1)
    return (np.interp(high, TABLE, table_v) - np.interp(low, TABLE, table_v)) / (high - low)


def differences(name: str) -> tuple[list[float], list[float]]:
    """Returns root mean squares for each part of the charge: of the slope's relative difference, of the charge's error."""
    cell = PublishedCell(name)
    charge, new_v, new_ah = cell.curve(0.0, 0.0)
    table_v = np.maximum.accumulate(np.interp(TABLE, charge, new_v) + 1e-9 * np.arange(len(TABLE)))
    squares: list[list[float]] = [[], []]
    charges: list[list[float]] = [[], []]
    for lost in AGED:
        _, aged_v, aged_ah = cell.curve(*lost)
        if not CREDIBLE[0] <= aged_ah / new_ah <= CREDIBLE[1]:
            continue
        for part, errors, (low, high) in zip(squares, charges, PARTS, strict=True):
            places = np.linspace(low, high, 400)
            voltage_v = np.interp(places, charge, aged_v)
            slope = (voltage_v - np.interp(places - PULSE, charge, aged_v)) / PULSE
            part.append(float(np.mean((slope / read_slope(table_v, voltage_v) - 1) ** 2)))
            errors.append(float(np.mean((np.interp(voltage_v, new_v, charge) - places) ** 2)))
    slopes, told = ([float(np.sqrt(np.mean(part))) for part in parts] for parts in (squares, charges))
    return slopes, told


def main() -> int:
    """Prints the table; returns 1 where a stated figure is not what comes out."""
    print("an aged cell against the table of a new one, root mean square: slope, relative difference; charge as told")
    print(f"{'set':<12} {'3 to 60 %':>10} {'60 to 99 %':>10} {'3 to 60 %':>12} {'60 to 99 %':>10}")
    good = True
    found = []
    for name, stated in STATED.items():
        parts, charges = differences(name)
        found.append(parts)
        told = STATED_CHARGE[name]
        agrees = all(abs(one - other) <= TOLERANCE for one, other in zip(parts, stated, strict=True))
        agrees &= all(abs(one - other) <= CHARGE_TOLERANCE for one, other in zip(charges, told, strict=True))
        good &= agrees
        print(
            f"{name:<12} {parts[0]:>10.2f} {parts[1]:>10.2f} {charges[0]:>12.3f} {charges[1]:>10.3f}"
            f"{'' if agrees else f'  NOT as stated: {stated} {told}'}"
        )
    whole = np.sqrt(np.mean(np.square(found), axis=0))
    print(f"{'all':<12} {whole[0]:>10.2f} {whole[1]:>10.2f}; the program allows 0.5, and 0.25 for cobalt cells")
    return 0 if good else 1


if __name__ == "__main__":
    sys.exit(main())
