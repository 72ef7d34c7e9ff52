"""Compares sink.cir with the circuit: the same parts between the same nets, and no part of the sheet forgotten.

The netlist simplifies in a few places, which are told here; everything else must agree pin by pin. Used by sink_check.py and
check.py.
"""

import re
from pathlib import Path

import ngspice
import parts
from single_faults import PARTS

CIRCUIT = Path(__file__).resolve().parents[1] / "circuit" / "circuit.toml"
# Node of sink.cir -> net of circuit.toml.
NODES = {"0": "GND", "force": "FORCE_POS", "pass_gate": "PASS_GATE", "pass_node": "PASS", "pass_drive": "PASS_DRIVE", "pin": "ENABLE_GATE",
         "inverter": "INVERTER_GATE", "shunt_in": "LOAD_IN", "shunt_out": "LOAD_IN", "drain": "DRAIN", "snub": "SNUBBER", "gate": "GATE",
         "source": "SOURCE", "strip": "SOURCE", "strip_tap": "SOURCE", "out": "DRIVE", "minus": "FEEDBACK", "set": "SET", "dac": "SET_POINT",
         "release": "RELEASE", "park": "PARK", "rail": "+5V"}
# Nets that are one in the netlist, because what lies between them is in another element: S1 in the leads' resistance, RV1 in
# Rtop, the copper of RS2 in Lsense, the sense pads of RS2.
SAME = {"SHUNT_OUT": "DRAIN", "TRIM": "SET", "SOURCE_TAP": "SOURCE"}
# Pins in the order of the element's nodes; the rest have two pins without a direction.
ORDER = {"M": ("D", "G", "S"), "D": ("1", "2")}
# On the sheet and not in the netlist, or there as another element.
LEFT_OUT = {"S1": "closed: in Rlead", "RV1": "in Rtop", "R5": "filter of the monitor", "R6": "filter of the monitor", "C4": "filter of the monitor",
            "C8": "supply of U3", "D1": "never conducts with one cell", "U3": "Bfirst to Rout"}


def _net(net):
    return SAME.get(net, net)


def differences(text, circuit):
    """Returns a sentence for each part that lies elsewhere in the netlist than in the circuit, or is missing from it."""
    found = []
    for element, ref in PARTS.items():
        part = circuit.parts[ref.split()[0]]
        order = ORDER.get(element[0], ("1", "2"))
        match = re.search(rf"^{element} (.+)$", text, re.MULTILINE)
        if match is None:
            found.append(f"{ref} is not in sink.cir as {element}")
            continue
        there = [NODES.get(node, node) for node in match[1].split()[:len(order)]]
        here = [_net(part.nets[pin]) for pin in order]
        if there != here and (element[0] in ORDER or sorted(there) != sorted(here)):
            found.append(f"{ref} lies between {', '.join(here)}, in sink.cir between {', '.join(there)}")
    known = {ref.split()[0] for ref in PARTS.values()} | set(LEFT_OUT)
    found += [f"{ref} is on the sheet and neither in sink.cir nor left out with a reason" for ref, part in circuit.parts.items()
              if part.sheet == "sink" and ref not in known and part.symbol != "testpoint"]
    amplifier = {pin: _net(net) for pin, net in circuit.parts["U3"].nets.items()}
    if (amplifier["3"], amplifier["4"], amplifier["1"]) != ("SET", "FEEDBACK", "DRIVE") or "V(set) - V(minus)" not in text:
        found.append("U3 compares something else in sink.cir")
    return found


def check_same_circuit(report):
    """The netlist that is simulated is the circuit that is drawn; a swapped and a missing part are found."""
    circuit, text = parts.read(CIRCUIT), ngspice.SOURCE.read_text(encoding="utf-8")
    found = differences(text, circuit)
    report.check(not found, f"{len(PARTS)} parts lie in sink.cir where circuit.toml draws them" + "".join(f"\n      {words}" for words in found))
    for spoiled, words in ((text.replace("Mgate gate release 0", "Mgate release gate 0"), "Q3"), (re.sub(r"(?m)^Rinverter .*$", "", text), "R28")):
        report.check(any(words in fault for fault in differences(spoiled, circuit)), f"a netlist that differs is refused: {words}")


CHECKS = (check_same_circuit,)
