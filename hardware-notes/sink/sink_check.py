#!/usr/bin/env python3
"""Runs sink.cir in ngspice over cells, leads, transistors and faults, and checks what the notes claim of the sink.

    python3 hardware-notes/sink/sink_check.py           runs all cases, prints the measured figures; exit 1 on a failure
    python3 hardware-notes/sink/sink_check.py --draw    writes steps.svg, start.svg and loop.svg first

Takes ngspice (Debian: apt-get install ngspice) and Python 3.11; a missing ngspice is a failure, not a pass.
What is required: settling to 1 % within 1 ms, overshoot at most 10 % of the step, no ringing, full scale 6 A within 2 %,
phase margins (loop_gain.py), and no current whenever the load is not enabled, whatever the set point is
(without_program.py), also with any one part spoiled (single_faults.py).
"""

import itertools
import re
import sys
from pathlib import Path

HERE = Path(__file__).resolve().parent
sys.path.insert(0, str(HERE.parent / "circuit"))
sys.path[:0] = [str(HERE), str(HERE.parent / "tables")]

import drawings  # noqa: E402
import limits  # noqa: E402
import look_faults  # noqa: E402
import loop_gain  # noqa: E402
import low_voltage  # noqa: E402
import parts  # noqa: E402
import same_circuit  # noqa: E402
import single_faults  # noqa: E402
import without_program  # noqa: E402
from cases import FULL_SCALE_VOLTS, OFF_LIMIT, VOLTS_PER_AMP, Report, constant, staircase  # noqa: E402
from ngspice import Missing, every, simulate  # noqa: E402

LEVELS = [0, 0.6, 3, 5, 3, 0.6, 0]
# From nothing the gate has to travel first, the slower the smaller the current; 0.25 A is the smallest start within 1 ms.
SMALL_LEVELS = [0, 0.25, 0.05, 0.2, 1.5, 0.2, 0.05]
SLOW_START = 12e-3
SETTLE_LIMIT = 1e-3
OVERSHOOT_LIMIT = 0.10
RINGING_LIMIT = 0.005
# Parameter of sink.cir -> part of circuit.toml whose value it must equal; the trimmer is set within its range.
SAME_AS = {"r_sense": "RS2", "r_gate": "R8", "r_bleed": "R9", "r_feedback": "R10", "c_feedback": "C6", "r_top": "R11",
           "r_bottom": "R12", "c_set": "C7", "r_snub": "R7", "c_snub": "C5", "r_enable": "R15", "r_enable_two": "R27",
           "r_release": "R14", "r_park": "R13", "r_hold": "R26", "r_drive": "R4", "r_inverter": "R28"}
SCALE = {"m": 1e-3, "u": 1e-6, "n": 1e-9, "k": 1e3, "": 1.0, "meg": 1e6}


def judge_steps(rows, levels=LEVELS):
    """Returns (longest settling in s, largest overshoot as a fraction of its step, largest ringing as a fraction)."""
    settle = overshoot = ringing = 0.0
    for number in range(1, len(levels)):
        begin = number * 2e-3
        part = [(time - begin, current) for time, current, *_ in rows if begin <= time < begin + 1.99e-3]
        step = levels[number] - levels[number - 1]
        # The level it ends at: the trimmer and the divider are judged at full scale, not here.
        end = [current for time, current in part if time > 1.8e-3]
        final = sum(end) / len(end)
        if abs(final - levels[number]) > 0.02 * max(levels[number], 0.3):
            return float("inf"), float("inf"), float("inf")
        band = max(0.01 * levels[number], 0.01 * abs(step) if levels[number] == 0 else 0.0)
        outside = [time for time, current in part if abs(current - final) > band]
        settle = max(settle, outside[-1] if outside else 0.0)
        peak = max((current - final) * (1 if step > 0 else -1) for _, current in part)
        overshoot = max(overshoot, peak / abs(step))
        late = [current for time, current in part if time > SETTLE_LIMIT]
        turns = sum(1 for a, b, c in zip(late, late[1:], late[2:]) if (b - a) * (c - b) < 0 and abs(b - final) > 1e-3 * max(final, 0.1))
        if turns > 3:
            ringing = max(ringing, (max(late) - min(late)) / max(levels[number], 0.6))
    return settle, overshoot, ringing


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


def check_group(report, name, cases, levels=LEVELS):
    """Runs staircases; one line tells the worst of them."""
    results = every(lambda case: judge_steps(simulate(**staircase(levels), **case), levels), cases)
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
                    (0.020, 0.300), (0.2e-6, 5e-6), (1.0, 2.3), (8, 120), ((3e6, 4.5), (20e6, 5.25)))]
    check_group(report, "steps, second sources of Q2 and U3", extremes)
    check_group(report, "small steps, second sources of Q2 and U3", extremes[::3], SMALL_LEVELS)


def check_slow_start(report):
    """A start below 0.25 A takes longer than 1 ms, but comes without overshoot; the guard allows CURRENT_MARGIN below the set point."""
    for amps in (limits.read()["SMALLEST_LOAD"] / 1e6, 0.05, 0.1):
        levels = [0] + [amps] * 6
        times = []
        for threshold, kp in itertools.product((1.0, 2.3), (8, 120)):
            rows = [(row[0] - 2e-3, row[1]) for row in simulate(**staircase(levels), threshold=threshold, transconductance=kp, bandwidth=3e6) if row[0] > 2e-3]
            final = rows[-1][1]
            times.append(max(time for time, current in rows if abs(current - final) > 0.02 * amps))
            peak = max(current for time, current in rows if time > 50e-6)
            if abs(final / amps - 1) > 0.05 or peak > 1.1 * amps:
                times.append(float("inf"))
        report.check(max(times) < SLOW_START, f"start at {amps * 1e3:g} mA: within 2 % after {min(times) * 1e3:.1f} to {max(times) * 1e3:.1f} ms, no overshoot")


def check_full_scale(report):
    """Highest code, nominal and with every tolerance to one side; the trimmer stays where it is."""
    flat = constant(FULL_SCALE_VOLTS / VOLTS_PER_AMP)
    for name, changes in (("nominal", {}),
                          ("all tolerances up", {"r_sense": 0.05 * 0.995, "r_bottom": 3010 * 1.001, "r_top": 28000 * 0.999, "offset": 150e-6}),
                          ("all tolerances down", {"r_sense": 0.05 * 1.005, "r_bottom": 3010 * 0.999, "r_top": 28000 * 1.001, "offset": -150e-6})):
        amps = simulate(**flat, **changes)[-1][1]
        report.check(abs(amps / 6 - 1) <= 0.02, f"full scale, {name}: {amps:.3f} A ({(amps / 6 - 1) * 100:+.2f} %)")


def check_enable(report):
    """The load comes on without a surge when the set point is already there, and goes off at once."""
    flat = constant(5)
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


def check_itself(report):
    """The judgement can fail: a loop without its capacitors must be refused."""
    loose = judge_steps(simulate(**staircase(LEVELS), c_feedback=1e-12, c_set=1e-12, bandwidth=20e6, transconductance=120, lead_henries=5e-6))
    report.check(loose[1] > OVERSHOOT_LIMIT or loose[2] > RINGING_LIMIT or loose[0] > SETTLE_LIMIT,
                 f"a loop without compensation is seen as bad (overshoot {loose[1] * 100:.0f} %, ringing {loose[2] * 100:.0f} %)")


CHECKS = (check_values, *same_circuit.CHECKS, check_steps, *low_voltage.CHECKS, check_slow_start, check_full_scale, check_enable, *loop_gain.CHECKS, *without_program.CHECKS,
          *single_faults.CHECKS, *look_faults.CHECKS, check_itself, drawings.check_drawings)


def main(arguments):
    report = Report()
    try:
        if arguments == ["--draw"]:
            drawings.write()
        for check in CHECKS:
            check(report)
    except Missing as error:
        report.check(False, str(error))
    print(f"{report.passed} passed, {report.failed} failed")
    return 1 if report.failed else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
