"""Checks what the sink does when nobody steers it: power coming and going, a dead controller, a stuck bus, a dead transistor.

Wherever the enable line is not driven high, at most OFF_CURRENT may flow. Used by sink_check.py and check.py.
"""

import itertools

from cases import FULL_SCALE_VOLTS, NEVER, OFF_LIMIT, VOLTS_PER_AMP, constant, flowing
from ngspice import simulate

FULL_SCALE_AMPS = FULL_SCALE_VOLTS / VOLTS_PER_AMP


def check_dead(report):
    """No current without a program: supply rising, set point anywhere, pin leaking as erratum E9 has it, op-amp stuck."""
    for (name, amps), rise, stuck in itertools.product((("middle", 3), ("full", FULL_SCALE_AMPS)), (1e-6, 1e-3, 10e-3), (0, 1)):
        rows = simulate(**constant(amps), **NEVER, rail_rise=rise, threshold=1.0, stuck_high=stuck)
        worst = max(flowing(row) for row in rows if row[0] > 50e-6)
        report.check(worst <= OFF_LIMIT, f"power-up in {rise * 1e3:g} ms, controller dead, set point {name}, op-amp "
                                         f"{'stuck high' if stuck else 'sound'}: at most {worst * 1e3:.2f} mA, gate at most {max(row[3] for row in rows):.2f} V")
    for name, rail in (("without USB", 0.0), ("with USB, controller dead", 5.0)):
        rows = simulate(**NEVER, rail=rail, contact_at=5e-3, threshold=1.0)
        worst = max(flowing(row) for row in rows if row[0] > 5.05e-3)
        report.check(worst <= OFF_LIMIT, f"cell clipped on {name}: at most {worst * 1e3:.2f} mA after 50 us, gate at most {max(row[3] for row in rows):.2f} V")


def check_pulled_plug(report):
    """USB pulled at 5 A: no surge while the supply falls, fast or slowly, and no current after it."""
    for fall, threshold in itertools.product((20e-6, 1e-3, 5e-3), (1.0, 2.3)):
        rows = simulate(**constant(5), rail_fall_at=5e-3, rail_fall=fall, threshold=threshold)
        surge = max(row[1] for row in rows if row[0] > 4e-3) / 5 - 1
        off = max((row[0] - 5e-3 for row in rows if flowing(row) > OFF_LIMIT), default=0)
        report.check(surge < 0.05 and off <= fall + 0.5e-3, f"USB pulled at 5 A, supply gone in {fall * 1e3:g} ms, threshold {threshold:g} V: "
                                                            f"surge {surge * 100:.1f} %, off after {off * 1e3:.2f} ms")


def check_stuck_bus(report):
    """The converter no longer listens and stays at full scale: the enable line alone ends the load; S3 does the same by hand."""
    rows = simulate(**constant(FULL_SCALE_AMPS), enable_at=3e-3, disable_at=5e-3)
    off = max(row[0] - 5e-3 for row in rows if flowing(row) > OFF_LIMIT)
    report.check(off <= 1e-3, f"set point stuck at full scale: {rows[-1][1] * 1e3:.2f} mA in the end, off {off * 1e6:.0f} us after the enable line falls")


def check_shorted(report):
    """With the sink's transistor failed short, the enable line alone still opens the load path."""
    for volts in (3.0, 4.5):
        rows = simulate(**constant(0), enable_at=3e-3, disable_at=5e-3, shorted_ohms=0.02, cell_volts=volts)
        before = max(abs(row[1]) for row in rows if 1e-3 < row[0] < 3e-3)
        during = max(row[1] for row in rows if 3e-3 <= row[0] < 5e-3)
        gone = max(row[0] - 5e-3 for row in rows if row[1] > OFF_LIMIT)
        report.check(before <= OFF_LIMIT and gone <= 4e-3 and during > 5.5,
                     f"transistor shorted, {volts:g} V: {before * 1e3:.2f} mA before the enable line, {during:.0f} A with it, off in {gone * 1e6:.0f} us")


CHECKS = (check_dead, check_pulled_plug, check_stuck_bus, check_shorted)
