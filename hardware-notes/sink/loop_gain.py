"""Checks the stability of the sink's loops by their gain over frequency.

Two cuts: behind U3's ideal output, where all loops pass at once, and between RS2 and R10, the outer loop with transistor,
leads and cell. Required of both: 45 degrees of phase margin and 10 dB of gain margin (common practice) over cells, leads,
transistors, op-amps and currents from SMALLEST_LOAD to the largest pulse. Used by sink_check.py and check.py.
"""

import cmath
import itertools
import math

import ngspice
import plot
from cases import SMALLEST_LOAD, VOLTS_PER_AMP

PHASE_LIMIT, GAIN_LIMIT = 45.0, 10.0
NAMES = {"amplifier": "all loops at U3's output", "current": "outer loop between RS2 and R10"}


def unwrapped(gain):
    """Returns (frequency, decibels, phase in degrees without jumps)."""
    found, before = [], None
    for hertz, value in gain:
        phase = math.degrees(cmath.phase(value))
        if before is not None:
            phase += 360 * round((before - phase) / 360)
        found.append((hertz, 20 * math.log10(abs(value)), phase))
        before = phase
    return found


def margins(gain):
    """Returns (crossing in Hz, smallest phase margin in degrees, smallest gain margin in dB)."""
    points = unwrapped(gain)
    crossings = [(b[0], 180 + b[2]) for a, b in zip(points, points[1:]) if (a[1] >= 0) != (b[1] >= 0)]
    turns = [-b[1] for a, b in zip(points, points[1:]) if (a[2] > -180) != (b[2] > -180)]
    if not crossings:
        raise ngspice.Missing("the gain around the loop never crosses 1")
    return crossings[0][0], min(phase for _, phase in crossings), min(turns, default=math.inf)


def cases():
    """Yields all combinations of extremes."""
    for ohms, henries, threshold, kp, hertz, amps in itertools.product(
            (0.020, 0.300), (0.2e-6, 5e-6), (1.0, 2.3), (8, 120), (3e6, 20e6), (SMALLEST_LOAD, 0.6, 5.0)):
        yield {"cell_ohms": ohms, "lead_henries": henries, "threshold": threshold, "transconductance": kp, "bandwidth": hertz,
               "level_1": amps * VOLTS_PER_AMP}


def check_loop_gain(report):
    """Both loops keep their margins over all extremes, and the current is what was set."""
    for probe, name in NAMES.items():
        found = ngspice.every(lambda case: ngspice.loop(probe, **case), list(cases()))
        off = max(abs(amps / (case["level_1"] / VOLTS_PER_AMP) - 1) for (amps, _), case in zip(found, cases()))
        judged = [margins(gain) for _, gain in found]
        phase, gain = min(j[1] for j in judged), min(j[2] for j in judged)
        where = min(zip(judged, cases()), key=lambda pair: pair[0][1])[1]
        report.check(phase >= PHASE_LIMIT and gain >= GAIN_LIMIT and off < 0.02,
                     f"{name}: {len(found)} cases, crossing {min(j[0] for j in judged) / 1e3:.0f} to {max(j[0] for j in judged) / 1e3:.0f} kHz, "
                     f"phase margin at least {phase:.0f} degrees, gain margin at least {gain:.0f} dB; least {where}")


def check_loop_gain_itself(report):
    """The judgement can fail: with R8 of 1 kOhm the outer loop has no margin left."""
    _, phase, gain = margins(ngspice.loop("current", r_gate=1000, lead_henries=5e-6, transconductance=120, c_feedback=2.2e-10, level_1=2.75)[1])
    report.check(phase < PHASE_LIMIT or gain < GAIN_LIMIT, f"a loop with a slow gate is seen as bad ({phase:.0f} degrees, {gain:.0f} dB)")


def drawing():
    """Returns the plot of both loops at 3 A as SVG."""
    curves = []
    for probe, name in (("amplifier", "at U3"), ("current", "outer loop")):
        points = unwrapped(ngspice.loop(probe, level_1=3 * VOLTS_PER_AMP)[1])
        curves.append((f"{name}: gain / dB", [(math.log10(hertz), decibels) for hertz, decibels, _ in points]))
        curves.append((f"{name}: margin / degrees", [(math.log10(hertz), 180 + phase) for hertz, _, phase in points]))
    return plot.lines("Gain around the loops at 3 A, 60 mOhm, 1 uH", "frequency / Hz", "dB or degrees", curves, decades=True)


CHECKS = (check_loop_gain, check_loop_gain_itself)
