"""Checks which currents the sink still holds at the voltages where the guard drops the load, by label.

Q1 and Q6 are driven by what the cell has left, so that a low cell opens them less. The voltage is that at the sense tips,
behind the cell's own resistance; the parts are the weakest that the parts list allows, the adapter one with worn pins. Used
by sink_check.py.
"""

from pathlib import Path

import adapter
import limits
import parts
from cases import constant
from ngspice import simulate

HERE = Path(__file__).resolve().parent
WEAKEST = {"pass_threshold": -1.1, "threshold": 2.3, "transconductance": 8, "rail": 4.5}
# Force leads and clips; F1, S2 and the jig's leads are in sink.cir.
CLIPS_OHMS = 0.020


def check_low_voltage(report):
    """At the strictest floor a pulse is held, at the lowest one what is held for hours; and why a pulse keeps the former."""
    constants = limits.read()
    strict, lowest = constants["LOADED_FLOOR"] / 1e6, (constants["LOWEST_LFP_END"] - constants["FLOOR_MARGIN"]) / 1e6
    pulse, steady = constants["LARGEST_PULSE"] / 1e6, constants["LARGEST_STEADY"] / 1e6
    figures = adapter.figures(parts.read(HERE.parent / "circuit" / "circuit.toml"))
    seconds = adapter.read()["use"]["seconds_amps"]
    clips, pins = ("clips", CLIPS_OHMS), ("worn adapter", CLIPS_OHMS + figures["force_worn"][0] * 1e-3)
    for (words, ohms), volts, amps, holds in (
            (clips, strict, pulse, True), (pins, strict, seconds, True), (clips, lowest, steady, True), (pins, lowest, steady, True),
            (clips, lowest, seconds, True), (clips, lowest, pulse, False), (pins, lowest, seconds, False)):
        found = simulate(**constant(amps), cell_volts=volts, cell_ohms=1e-3, lead_ohms=ohms, **WEAKEST)[-1][1]
        told = "held" if holds else "not held, hence the strictest floor for pulses"
        report.check((found > 0.99 * amps) == holds, f"{amps:g} A at {volts:.1f} V, {words}: {found:.2f} A, {told}")


CHECKS = (check_low_voltage,)
