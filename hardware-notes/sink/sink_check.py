#!/usr/bin/env python3
"""Runs sink.cir in ngspice over cells, leads, transistors and faults, and checks what the notes claim of the sink.

    python3 hardware-notes/sink/sink_check.py           runs all cases, prints the measured figures; exit 1 on a failure
    python3 hardware-notes/sink/sink_check.py --draw    also writes steps.svg and start.svg

Takes ngspice (Debian: apt-get install ngspice) and Python 3.11; a missing ngspice is a failure, not a pass.
What is required: settling to 1 % within 1 ms, overshoot at most 10 % of the step, no ringing, full scale 6 A within 2 %,
and at most 20 mA (OFF_CURRENT of limits.md) whenever the load is not enabled, whatever the set point is.
"""

import itertools
import re
import shutil
import subprocess
import sys
import tempfile
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

HERE = Path(__file__).resolve().parent
sys.path.insert(0, str(HERE.parent / "circuit"))
sys.path.insert(0, str(HERE))

import parts  # noqa: E402
import plot  # noqa: E402

FULL_SCALE_VOLTS = 3.3 * 4095 / 4096
VOLTS_PER_AMP = 3.3 / 6
LEVELS = [0, 0.6, 3, 5, 3, 0.6, 0]
SETTLE_LIMIT = 1e-3
OVERSHOOT_LIMIT = 0.10
RINGING_LIMIT = 0.005
OFF_LIMIT = 0.020
# Parameter of sink.cir -> part of circuit.toml whose value it must equal; the trimmer is set within its range.
SAME_AS = {"r_sense": "RS2", "r_gate": "R8", "r_bleed": "R9", "r_feedback": "R10", "c_feedback": "C6", "r_top": "R11",
           "r_bottom": "R12", "c_set": "C7", "r_snub": "R7", "c_snub": "C5", "r_enable": "R15", "r_release": "R14",
           "r_park": "R13", "r_hold": "R26", "r_drive": "R4"}
SCALE = {"m": 1e-3, "u": 1e-6, "n": 1e-9, "k": 1e3, "": 1.0, "meg": 1e6}


class Missing(Exception):
    """ngspice is not there or did not finish."""


def simulate(**changes):
    """Runs the netlist with changed parameters; returns a list of (time, current, sunk, gate, drain)."""
    if shutil.which("ngspice") is None:
        raise Missing("ngspice is missing: apt-get install ngspice")
    text = (HERE / "sink.cir").read_text(encoding="utf-8")
    for name, value in changes.items():
        text, count = re.subn(rf"(?<=[ ]){name}=\S+", f"{name}={value!r}", text, count=1)
        if count != 1:
            raise Missing(f"sink.cir has no parameter {name}")
    with tempfile.TemporaryDirectory() as folder:
        (Path(folder) / "case.cir").write_text(text, encoding="utf-8")
        run = subprocess.run(["ngspice", "-b", "case.cir"], cwd=folder, capture_output=True, text=True, timeout=120)
        data = Path(folder) / "sink.data"
        if not data.exists():
            raise Missing(f"ngspice gave no result for {changes}: {run.stderr.strip()[-300:]}")
        rows = []
        for line in data.read_text(encoding="utf-8").splitlines():
            numbers = [float(word) for word in line.split()]
            rows.append((numbers[0], *numbers[1::2]))
    if not rows or rows[-1][0] < 13.9e-3:
        raise Missing(f"ngspice stopped early for {changes}")
    return rows


def staircase(scale=1.0):
    """Returns the converter's levels for the steps 0, 0.6, 3, 5, 3, 0.6, 0 A."""
    return {f"level_{number}": amps * VOLTS_PER_AMP * scale for number, amps in enumerate(LEVELS, 1)}


def judge_steps(rows):
    """Returns (longest settling in s, largest overshoot as a fraction of its step, largest ringing as a fraction)."""
    settle = overshoot = ringing = 0.0
    for number in range(1, len(LEVELS)):
        begin = number * 2e-3
        part = [(time - begin, current) for time, current, *_ in rows if begin <= time < begin + 1.99e-3]
        step = LEVELS[number] - LEVELS[number - 1]
        # The level it ends at: the trimmer and the divider are judged at full scale, not here.
        end = [current for time, current in part if time > 1.8e-3]
        final = sum(end) / len(end)
        if abs(final - LEVELS[number]) > 0.02 * max(LEVELS[number], 0.3):
            return float("inf"), float("inf"), float("inf")
        band = max(0.01 * LEVELS[number], 0.01 * abs(step) if LEVELS[number] == 0 else 0.0)
        outside = [time for time, current in part if abs(current - final) > band]
        settle = max(settle, outside[-1] if outside else 0.0)
        peak = max((current - final) * (1 if step > 0 else -1) for _, current in part)
        overshoot = max(overshoot, peak / abs(step))
        late = [current for time, current in part if time > SETTLE_LIMIT]
        turns = sum(1 for a, b, c in zip(late, late[1:], late[2:]) if (b - a) * (c - b) < 0 and abs(b - final) > 1e-3 * max(final, 0.1))
        if turns > 3:
            ringing = max(ringing, (max(late) - min(late)) / max(LEVELS[number], 0.6))
    return settle, overshoot, ringing


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


def check_values(report):
    """The netlist's design values are those of the circuit."""
    text = (HERE / "sink.cir").read_text(encoding="utf-8")
    circuit = parts.read(HERE.parent / "circuit" / "circuit.toml")
    units = {"Ohm": 1, "kOhm": 1e3, "mOhm": 1e-3, "nF": 1e-9, "uF": 1e-6, "pF": 1e-12}
    wrong = []
    for name, ref in SAME_AS.items():
        number, prefix = re.search(rf"(?<=[ ]){name}=([\d.]+)(meg|[munk]?)", text).groups()
        value, unit = circuit.parts[ref].value.split()[:2]
        if abs(float(number) * SCALE[prefix] - float(value) * units[unit]) > 1e-6 * float(value) * units[unit]:
            wrong.append(f"{name} is not {ref}")
    report.check(not wrong, f"{len(SAME_AS)} values of sink.cir are those of circuit.toml" + "".join(f"; {w}" for w in wrong))


def check_group(report, name, cases):
    """Runs staircases; one line tells the worst of them."""
    with ThreadPoolExecutor(2) as pool:
        results = list(pool.map(lambda case: judge_steps(simulate(**staircase(), **case)), cases))
    worst = tuple(max(column) for column in zip(*results))
    where = max(zip(results, cases), key=lambda pair: pair[0][0])[1]
    good = worst[0] <= SETTLE_LIMIT and worst[1] <= OVERSHOOT_LIMIT and worst[2] <= RINGING_LIMIT
    report.check(good, f"{name}: {len(cases)} cases, settling at most {worst[0] * 1e6:.0f} us, overshoot at most "
                       f"{worst[1] * 100:.1f} %, ringing {worst[2] * 100:.2f} %; slowest {where}")


def check_steps(report):
    """Steps over cells and leads, then over transistors and op-amps at the extremes of both."""
    cells = [{"cell_ohms": ohms, "lead_henries": henries} for ohms, henries in
             itertools.product((0.020, 0.060, 0.150, 0.300), (0.2e-6, 1e-6, 5e-6))]
    check_group(report, "steps, cells and leads at 4.2 V", cells)
    # The guard drops the load at 2.5 V on the terminals (LOADED_FLOOR): at 3.0 V and 5 A that is a cell of 100 mOhm.
    low = [{"cell_volts": 3.0, "cell_ohms": ohms, "lead_henries": henries, "pass_threshold": -1.1}
           for ohms, henries in itertools.product((0.020, 0.060, 0.100), (0.2e-6, 1e-6, 5e-6))]
    check_group(report, "steps, down to 2.5 V on the cell's terminals", low)
    extremes = [{"cell_ohms": ohms, "lead_henries": henries, "threshold": threshold, "transconductance": kp, "bandwidth": hertz, "rail": rail}
                for ohms, henries, threshold, kp, (hertz, rail) in itertools.product(
                    (0.020, 0.300), (0.2e-6, 5e-6), (1.0, 2.3), (15, 120), ((3e6, 4.5), (20e6, 5.25)))]
    check_group(report, "steps, second sources of Q2 and U3", extremes)


def check_full_scale(report):
    """Highest code, nominal and with every tolerance to one side; the trimmer stays where it is."""
    flat = {f"level_{number}": FULL_SCALE_VOLTS for number in range(1, 8)}
    for name, changes in (("nominal", {}),
                          ("all tolerances up", {"r_sense": 0.05 * 0.995, "r_bottom": 3010 * 1.001, "r_top": 28000 * 0.999, "offset": 150e-6}),
                          ("all tolerances down", {"r_sense": 0.05 * 1.005, "r_bottom": 3010 * 0.999, "r_top": 28000 * 1.001, "offset": -150e-6})):
        amps = simulate(**flat, **changes)[-1][1]
        report.check(abs(amps / 6 - 1) <= 0.02, f"full scale, {name}: {amps:.3f} A ({(amps / 6 - 1) * 100:+.2f} %)")


def check_enable(report):
    """The load comes on without a surge when the set point is already there, and goes off at once."""
    flat = {f"level_{number}": 5 * VOLTS_PER_AMP for number in range(1, 8)}
    for henries, ohms in itertools.product((0.2e-6, 5e-6), (0.020, 0.300)):
        rows = simulate(**flat, enable_at=3e-3, disable_at=9e-3, lead_henries=henries, cell_ohms=ohms)
        on = [(time - 3e-3, current) for time, current, *_ in rows if 3e-3 <= time < 8.9e-3]
        final = on[-1][1]
        late = [time for time, current in on if abs(current - final) > 0.01 * final]
        surge = max(current for _, current in on) / final - 1
        off = [(time - 9e-3, current) for time, current, *_ in rows if time >= 9e-3]
        gone = [time for time, current in off if abs(current) > OFF_LIMIT][-1]
        peak = max(row[4] for row in rows)
        report.check(late[-1] <= SETTLE_LIMIT and surge <= OVERSHOOT_LIMIT and gone <= SETTLE_LIMIT and peak < 20,
                     f"enable at 5 A, {henries * 1e6:g} uH, {ohms * 1e3:g} mOhm: on in {late[-1] * 1e6:.0f} us, surge {surge * 100:.1f} %, "
                     f"off in {gone * 1e6:.0f} us, drain at most {peak:.1f} V")


def check_dead(report):
    """No current without a program: supply rising, set point anywhere, pin leaking as erratum E9 has it, op-amp stuck."""
    never = {"enable_at": 0.5, "disable_at": 1.0, "leak_amps": 120e-6}
    for (name, volts), rise, stuck in itertools.product((("middle", 1.65), ("full", FULL_SCALE_VOLTS)), (1e-6, 1e-3, 10e-3), (0, 1)):
        flat = {f"level_{number}": volts for number in range(1, 8)}
        rows = simulate(**flat, **never, rail_rise=rise, threshold=1.0, stuck_high=stuck)
        worst = max(abs(row[2]) for row in rows if row[0] > 50e-6)
        report.check(worst <= OFF_LIMIT, f"power-up in {rise * 1e3:g} ms, controller dead, set point {name}, op-amp "
                                         f"{'stuck high' if stuck else 'sound'}: at most {worst * 1e3:.2f} mA, gate at most {max(row[3] for row in rows):.2f} V")
    for name, rail in (("without USB", 0.0), ("with USB, controller dead", 5.0)):
        rows = simulate(**never, rail=rail, contact_at=5e-3, threshold=1.0)
        worst = max(abs(row[2]) for row in rows if row[0] > 5.05e-3)
        report.check(worst <= OFF_LIMIT, f"cell clipped on {name}: at most {worst * 1e3:.2f} mA after 50 us, gate at most {max(row[3] for row in rows):.2f} V")


def check_shorted(report):
    """With the sink's transistor failed short, the enable line alone still opens the load path."""
    flat = {f"level_{number}": 0.0 for number in range(1, 8)}
    for volts in (3.0, 4.5):
        rows = simulate(**flat, enable_at=3e-3, disable_at=5e-3, shorted_ohms=0.02, cell_volts=volts)
        before = max(abs(row[1]) for row in rows if 1e-3 < row[0] < 3e-3)
        during = max(row[1] for row in rows if 3e-3 <= row[0] < 5e-3)
        gone = max(row[0] - 5e-3 for row in rows if row[1] > OFF_LIMIT)
        report.check(before <= OFF_LIMIT and gone <= 4e-3 and during > 5.5,
                     f"transistor shorted, {volts:g} V: {before * 1e3:.2f} mA before the enable line, {during:.0f} A with it, off in {gone * 1e6:.0f} us")


def check_itself(report):
    """The judgement can fail: a loop with a hundredth of the capacitor, and a sink without its clamp, must be refused."""
    loose = judge_steps(simulate(**staircase(), c_feedback=1e-12, c_set=1e-12, bandwidth=20e6, transconductance=120, lead_henries=5e-6))
    report.check(loose[1] > OVERSHOOT_LIMIT or loose[2] > RINGING_LIMIT or loose[0] > SETTLE_LIMIT,
                 f"a loop without compensation is seen as bad (overshoot {loose[1] * 100:.0f} %, ringing {loose[2] * 100:.0f} %)")
    flat = {f"level_{number}": 1.65 for number in range(1, 8)}
    rows = simulate(**flat, enable_at=0.5, disable_at=1.0, leak_amps=120e-6, r_enable=47e3)
    worst = max(abs(row[2]) for row in rows if row[0] > 50e-6)
    report.check(worst > OFF_LIMIT, f"a weak pull-down of 47 kOhm is seen as bad ({worst:.2f} A flow)")


def draw():
    """Writes the two plots of sink.md."""
    curves = []
    for ohms, henries in ((0.020, 0.2e-6), (0.060, 1e-6), (0.300, 5e-6)):
        rows = simulate(**staircase(), cell_ohms=ohms, lead_henries=henries)
        curves.append((f"{ohms * 1e3:g} mOhm, {henries * 1e6:g} uH", [(row[0] * 1e3, row[1]) for row in rows if row[0] > 1e-3]))
    (HERE / "steps.svg").write_text(plot.lines("Cell current at the steps 0, 0.6, 3, 5, 3, 0.6, 0 A", "time / ms", "current / A", curves), encoding="utf-8")
    flat = {f"level_{number}": 5 * VOLTS_PER_AMP for number in range(1, 8)}
    curves = []
    for henries in (0.2e-6, 5e-6):
        rows = simulate(**flat, enable_at=3e-3, disable_at=4e-3, lead_henries=henries, cell_ohms=0.06)
        curves.append((f"60 mOhm, {henries * 1e6:g} uH", [(row[0] * 1e3, row[1]) for row in rows if 2.9e-3 < row[0] < 4.2e-3]))
    (HERE / "start.svg").write_text(plot.lines("Enable on at 3 ms and off at 4 ms, set point 5 A before", "time / ms", "current / A", curves), encoding="utf-8")


CHECKS = (check_values, check_steps, check_full_scale, check_enable, check_dead, check_shorted, check_itself)


def main(arguments):
    report = Report()
    try:
        for check in CHECKS:
            check(report)
        if arguments == ["--draw"]:
            draw()
    except Missing as error:
        report.check(False, str(error))
    print(f"{report.passed} passed, {report.failed} failed")
    return 1 if report.failed else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
