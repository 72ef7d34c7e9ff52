"""Spoils each part of both looks at the cell in turn and asks whether a cell beyond its end can still pass for a good one.

Takes look.cir and the limits in the code; for each part, open and short, works out in ngspice what the monitor and the
controller's own converter read. A cell below its end of discharge by more than the margin must show: the monitor reads the end,
or the two looks contradict each other by more than the guard bears. The sink's own loop is ideal here: single_faults.py
spoils it. Used by check.py.
"""

import re
import shutil
import subprocess
import tempfile
from pathlib import Path

import parts
from cases import Report, limits
from ngspice import Missing, every
from same_circuit import CIRCUIT

SOURCE = Path(__file__).resolve().parent / "look.cir"
# Element of look.cir -> part of circuit.toml.
PARTS = {"Rcontactpos": "X1", "Rfuse": "F1", "Rcutout": "S2", "Rcontactneg": "X4", "Rtippos": "X2", "Rtipneg": "X3", "Ronefour": "R1",
         "Rtwofour": "R2", "Rplus": "U1, inside", "Rref": "U1, inside", "Rminus": "U1, inside", "Rfeedback": "U1, inside", "Rfilter": "R3",
         "Cfilter": "C2", "Rshunt": "RS1", "Rsense": "RS2", "Rpolone": "R21", "Rpoltwo": "R22", "Rhalfone": "R29", "Rhalftwo": "R30",
         "Clook": "C18", "Dupper": "D8", "Dlower": "D9", "Rrefone": "R31", "Rreftwo": "R32", "Cref": "C20", "Rtap": "R33", "Ctap": "C19"}
# Node of look.cir -> net of circuit.toml, where the netlist has every part between them.
NODES = {"force_pos": "FORCE_POS", "look_v": "LOOK_V", "look_ref": "LOOK_REF", "look_i": "LOOK_I", "gnd_board": "GND", "three": "+3V3",
         "ref": "+3V3_REF", "source": "SOURCE_TAP", "pol": "POLARITY_TAP", "amp_out": "CELL_VOLTS", "first": "CELL_VOLTS_FILTERED"}
DRAWN = ("Rfilter", "Cfilter", "Rpolone", "Rpoltwo", "Rhalfone", "Rhalftwo", "Clook", "Dupper", "Dlower", "Rrefone", "Rreftwo", "Cref", "Rtap", "Ctap")
SCALES = {"k": "kOhm", "n": "nF", "": "Ohm"}
END_VOLTS = 3.0
LOAD_AMPS = 0.576
REFERENCE_VOLTS = 3.3
# As second_look.rs has them: half of the reference is 1,850 to 2,250 of 4,096 codes.
REFERENCE_CODES = (1850, 2250)


def readings(spoiled, cell_volts, load_amps=LOAD_AMPS):
    """Returns (monitor V, look V or nothing where the reference cannot be, look A, terminals V, current out of the cell A)."""
    text = SOURCE.read_text(encoding="utf-8").replace("cell_volts=3.8", f"cell_volts={cell_volts + load_amps * 0.1!r}")
    text = text.replace("load_amps=0.576", f"load_amps={load_amps!r}")
    if spoiled:
        part, how = spoiled
        match = re.search(rf"^{part} (\S+) (\S+)", text, re.MULTILINE)
        line = f"Rspoiled {match[1]} {match[2]} {'1g' if how == 'open' else '1m'}"
        end = text.index("\n", match.start())
        text = text[:match.start()] + line + text[end:] if how == "open" else text[:match.start()] + line + "\n" + text[match.start():]
    if shutil.which("ngspice") is None:
        raise Missing("ngspice is missing: apt-get install ngspice")
    with tempfile.TemporaryDirectory() as folder:
        (Path(folder) / "case.cir").write_text(text, encoding="utf-8")
        run = subprocess.run(["ngspice", "-b", "case.cir"], cwd=folder, capture_output=True, text=True, timeout=120)
    found = [float(number) for number in re.findall(r"^\S.* = (-?[\d.]+e[+-]\d+)$", run.stdout, re.MULTILINE)]
    if len(found) != 6:
        raise Missing(f"ngspice gave {len(found)} of 6 values for {spoiled}: {run.stderr.strip()[-300:]}")
    first, look, tap, reference, terminals, amps = found
    codes = reference / REFERENCE_VOLTS * 4096
    if not REFERENCE_CODES[0] <= codes <= REFERENCE_CODES[1]:
        return first, None, None, terminals, -amps
    scale = REFERENCE_VOLTS / 2 / reference
    return first, 2 * look * scale, tap * scale / 0.05, terminals, -amps


def contradicted(first, look, look_amps, load_amps=LOAD_AMPS):
    """Returns whether the guard drops the load for these two looks (guard/second_look.rs), or refuses it."""
    code = limits.read()
    if look is None:
        return True
    margin, fall = code["LOOK_VOLTAGE_MARGIN"] / 1e6, load_amps * code["LOOK_LEAD_UOHM"] / 1e6
    current = code["LOOK_CURRENT_MARGIN"] / 1e6 + load_amps / 10
    return not (first - fall - margin <= look <= first + margin and abs(look_amps - load_amps) <= current)


def margin():
    """Returns how far below its end of discharge a cell may come unseen: both looks' bounds, and the second one's own error."""
    code = limits.read()
    return 2 * code["LOOK_VOLTAGE_MARGIN"] / 1e6 + LOAD_AMPS * code["LOOK_LEAD_UOHM"] / 1e6


def _judge(fault):
    """Returns (fault, words for what shows at 3.8 V, whether a cell beyond its margin passes)."""
    first, look, look_amps, _, amps = readings(fault, 3.8)
    flows = abs(amps) > limits.read()["OFF_CURRENT"] / 1e6
    if not flows:
        shows = "no current flows"
    elif first < END_VOLTS or first > limits.read()["HIGHEST_CHARGE_LIMIT"] / 1e6:
        shows = "the monitor's voltage ends it"
    elif contradicted(first, look, look_amps):
        shows = "the second look ends it"
    else:
        shows = "nothing shows"
    first, look, look_amps, terminals, amps = readings(fault, END_VOLTS - margin())
    passes = abs(amps) > limits.read()["OFF_CURRENT"] / 1e6 and first > END_VOLTS and not contradicted(first, look, look_amps)
    return fault, shows, passes


def check_same(report):
    """The parts of look.cir lie and have values as circuit.toml draws them; the leads' resistance is what sense.md says."""
    circuit, text, wrong = parts.read(CIRCUIT), SOURCE.read_text(encoding="utf-8"), []
    for element in (*DRAWN, "Ronefour", "Rtwofour"):
        part = circuit.parts[PARTS[element]]
        one, other, value = re.search(rf"^{element} (\S+) (\S+) (\S+)", text, re.MULTILINE).groups()
        if element in DRAWN and {NODES[one], NODES[other]} != set(part.nets.values()):
            wrong.append(f"{part.ref} lies elsewhere")
        if element.startswith("D"):
            if (NODES[one], NODES[other]) != (part.nets["1"], part.nets["2"]):
                wrong.append(f"{part.ref} is the other way round")
        elif part.value != f"{value.rstrip('kn')} {SCALES[value[-1] if value[-1] in 'kn' else '']}":
            wrong.append(f"{part.ref} is {part.value}, in look.cir {value}")
    report.check(not wrong, f"{len(DRAWN) + 2} parts of look.cir are those of circuit.toml" + "".join(f"; {words}" for words in wrong))


def check_sound(report):
    """Without a fault both looks agree, at full and at the end, and at the largest pulse."""
    worst = 0.0
    for volts, amps in ((4.3, LOAD_AMPS), (3.0, LOAD_AMPS), (4.0, 5.0)):
        first, look, look_amps, terminals, _ = readings(None, volts, amps)
        worst = max(worst, abs(first - terminals), abs(look - terminals + amps * 0.03))
        if contradicted(first, look, look_amps, amps):
            worst = float("inf")
    report.check(worst < 0.07, f"both looks agree with a sound circuit, within {worst * 1e3:.0f} mV")


def check_look_faults(report):
    """With any one part of either look spoiled, no cell beyond its end passes for a good one."""
    faults = [(part, how) for part in PARTS for how in ("open", "short")]
    judged = every(_judge, faults)
    bad = [f"{PARTS[part]} ({part}) {how}" for (part, how), _, passes in judged if passes]
    counts = {}
    for _, shows, _ in judged:
        counts[shows] = counts.get(shows, 0) + 1
    told = ", ".join(f"{words} {count}" for words, count in sorted(counts.items()))
    latent = sorted({PARTS[part] for (part, how), shows, _ in judged if shows == "nothing shows"})
    report.check(not bad, f"{len(faults)} single faults of both looks, none lets a cell {margin():.2f} V below its end pass; at 3.8 V: {told} "
                          f"(of {', '.join(latent)})" + "".join(f"\n      {words}" for words in bad))


def check_without_second_look(report):
    """The judgement can fail: a first reading that stands still would pass, were the second look not there."""
    _, look, look_amps, _, _ = readings(None, END_VOLTS - margin())
    report.check(contradicted(3.02, look, look_amps) and not contradicted(3.02, 3.02 - 0.03 * LOAD_AMPS, LOAD_AMPS),
                 "a monitor that stands still at 3.02 V is contradicted by the second look of a cell beyond its end, and by nothing else")


CHECKS = (check_same, check_sound, check_look_faults, check_without_second_look)


if __name__ == "__main__":
    report = Report()
    for check in CHECKS:
        check(report)
    print(f"{report.passed} passed, {report.failed} failed")
