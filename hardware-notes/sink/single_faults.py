"""Spoils each part of the sink in turn, open, short, drain on gate, and looks whether the load still stays off and goes off.

Two courses for each fault: a dead controller whose pin leaks (erratum E9) with the set point at full scale, where no current
may flow; and a load of 5 A with the fault in it, where the current must end after the enable line has fallen. Only the
cell's current counts: what else the fault does is for the guard. Used by sink_check.py and check.py.
"""

from cases import NEVER, OFF_LIMIT, constant
from ngspice import every, simulate

# Part of sink.cir -> what it is in circuit.toml.
PARTS = {"Mone": "Q1", "Mtwo": "Q6", "Mdrive": "Q7", "Rhold": "R26", "Rdrive": "R4", "M1": "Q2", "Rsense": "RS2",
         "Rgate": "R8", "Rbleed": "R9", "Rfeedback": "R10", "Cfeedback": "C6", "Rtop": "R11 or RV1", "Rbottom": "R12", "Cset": "C7",
         "Rdown": "R15", "Rdowntwo": "R27", "Rinverter": "R28", "Mrelease": "Q5", "Rrelease": "R14", "Mgate": "Q3", "Mset": "Q4", "Dpark": "D3",
         "Rpark": "R13", "Rsnub": "R7", "Csnub": "C5", "Dtvs": "D2", "Rshunt": "RS1"}
FULL_SCALE_AMPS = 5.99
OFF_AFTER = 4e-3


def _course(fault):
    off = simulate([fault], **constant(FULL_SCALE_AMPS), **NEVER, threshold=1.0)
    on = simulate([fault], **constant(5), enable_at=3e-3, disable_at=6e-3, threshold=1.0)
    return (max(abs(row[1]) for row in off if row[0] > 100e-6),
            max(abs(row[1]) for row in on if 1e-3 < row[0] < 3e-3 or row[0] > 6e-3 + OFF_AFTER))


def check_single_faults(report):
    """With any one part spoiled, a dead controller draws nothing and the enable line still ends the load."""
    faults = [(part, how) for part in PARTS for how in ("open", "short", "gate") if how != "gate" or part.startswith("M")]
    found = list(zip(faults, every(_course, faults)))
    for number, words in ((0, "controller dead, pin leaking, set point at full scale"), (1, f"{OFF_AFTER * 1e3:g} ms after the enable line fell at 5 A")):
        bad = [f"{PARTS[part]} {how}: {course[number] * 1e3:.0f} mA" for (part, how), course in found if course[number] > OFF_LIMIT]
        worst = max(course[number] for _, course in found if course[number] <= OFF_LIMIT)
        report.check(not bad, f"{len(faults)} single faults, {words}: at most {worst * 1e3:.2f} mA" + "".join(f"\n      {words}" for words in bad))


def check_two_faults(report):
    """The judgement can fail: where nothing but the leak decides (2.2 V), a dead controller switches the load on."""
    rows = simulate(**constant(3), **NEVER, r_enable=36.6e3, r_enable_two=36.6e3)
    worst = max(abs(row[1]) for row in rows if row[0] > 100e-6)
    report.check(worst > OFF_LIMIT, f"R15 and R27 both broken off are seen as bad ({worst:.2f} A flow)")


CHECKS = (check_single_faults, check_two_faults)
