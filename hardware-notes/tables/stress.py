"""Compares what each part bears in the circuit with its rating in bom.toml.

`text` gives the table of margins in bom.md; `faults` tells where a margin is lost. The stress follows from the limits in
the code and from the circuit's values, the rating from the key `rated` of the parts list.
"""

import adapter
import heat
import limits
from bom import read
from block import table
from electrical import ohms

# Highest +5V of a USB port (USB 2.0, 7.2.2) and of the doubled rail without load; clamping voltage of D2 (its rating).
USB_VOLTS, DOUBLED_VOLTS, CLAMP_VOLTS = 5.25, 10.5, 14.0
PASS_OHMS = 0.015


def rows(circuit):
    """Returns (parts, what, stress, rating, unit, least margin, how it comes about)."""
    code = limits.read()
    value = {ref: ohms(part.value) for ref, part in circuit.parts.items() if ref[0] == "R" and "Ohm" in part.value}
    highest, ceiling = code["HIGHEST_CHARGE_LIMIT"] / 1e6, code["CURRENT_CEILING"] / 1e6
    stuck, zener = heat.STUCK_AMPS, float(circuit.parts["D1"].value.split()[0]) * 1.05
    ceiling_words, stuck_words = f"at the guard's ceiling of {ceiling:g} A", f"fault: set point stuck at {stuck:g} A"
    return [
        ("F1", "A", ceiling, 1.25, ceiling_words), ("S1", "A", stuck, 1.25, stuck_words), ("S2", "A", stuck, 1.2, stuck_words),
        ("J1", "A", stuck, 1.25, stuck_words), ("X1", "A", stuck, 1.25, stuck_words),
        ("J3", "A", stuck, 1.25, stuck_words),
        ("F2", "A", adapter.read()["use"]["seconds_amps"], 1.25, "the adapter's largest current, for seconds"),
        ("X5", "A", float(circuit.parts["F2"].value.split()[0]), 1.25, "what F2 carries for ever, in two pins"),
        ("Q1", "V", CLAMP_VOLTS, 1.25, "what D2 lets through when the load goes off"),
        ("Q1", "W", ceiling**2 * PASS_OHMS, 2.0, f"{PASS_OHMS * 1e3:g} mOhm {ceiling_words}"),
        ("Q1", "gate_V", zener, 1.2, "D1 at its upper tolerance; the cell alone gives less"),
        ("Q2", "V", CLAMP_VOLTS, 2.0, "what D2 lets through"), ("Q2", "A", stuck, 2.0, f"{stuck_words}, for ever, at {highest:g} V; junction: heat.md"),
        ("Q3", "V", USB_VOLTS, 2.0, "highest USB supply"), ("Q3", "gate_V", USB_VOLTS, 1.4, "highest USB supply through R14"),
        ("RS1", "W", stuck**2 * value["RS1"], 2.0, stuck_words), ("RS2", "W", stuck**2 * value["RS2"], 1.4, stuck_words),
        ("R1", "W", highest**2 / value["R1"], 1.25, "fault: the tip touches the other pole"),
        ("C1", "V", DOUBLED_VOLTS, 2.0, "doubled rail without load"), ("C9", "V", USB_VOLTS, 2.0, "highest USB supply"),
        ("C13", "V", DOUBLED_VOLTS, 2.0, "doubled rail without load"), ("C5", "V", CLAMP_VOLTS, 1.5, "what D2 lets through"),
        ("D2", "V", highest, 1.5, "stand-off over the highest cell"), ("D6", "V", DOUBLED_VOLTS, 2.0, "doubled rail"),
        ("D8", "V", 3.6, 2.0, "module's 3.3 V, upper bound"),
        ("D3", "V", USB_VOLTS, 2.0, "highest USB supply"),
        ("U1", "V", DOUBLED_VOLTS, 2.0, "doubled rail without load"), ("U10", "V", DOUBLED_VOLTS, 2.0, "doubled rail without load"),
        ("U2", "V", 3.6, 1.25, "module's 3.3 V, upper bound"), ("U3", "V", USB_VOLTS, 1.0, "highest USB supply; recommended range, not the absolute maximum"),
        ("U5", "V", 3.31, 1.25, "U6"), ("U7", "V", 3.6, 1.25, "module's 3.3 V, upper bound"), ("U9", "V", USB_VOLTS, 1.5, "highest USB supply"),
    ]


def _rated():
    found = {}
    for item in read()["item"]:
        for key, value in item.get("rated", {}).items():
            found[item["refs"][0], key] = (value, ", ".join(item["refs"]))
    return found


def faults(circuit):
    """Returns a sentence for each part whose margin is lost, and for each rating that nothing is compared with."""
    rated, found, used = _rated(), [], set()
    for ref, key, stress, least, _ in rows(circuit):
        used.add((ref, key))
        if (ref, key) not in rated:
            found.append(f"bom.toml: {ref} states no rating {key}")
        elif rated[ref, key][0] < least * stress:
            found.append(f"bom.toml: {ref} bears {stress:.3g} of {rated[ref, key][0]:g} {key}; at least {least:g} times that is wanted")
    spare = {("C6", "V"), ("C7", "V"), ("C17", "V")}
    return found + [f"bom.toml: the rating {key} of {ref} is compared with nothing" for ref, key in sorted(set(rated) - used - spare)]


def text(circuit):
    """Returns the table of margins."""
    rated = _rated()
    lines = []
    for ref, key, stress, least, how in rows(circuit):
        rating, refs = rated[ref, key]
        unit = {"gate_V": "V at the gate"}.get(key, key)
        lines.append((refs, how, f"{stress:.3g} {unit}", f"{rating:g} {unit}", f"{rating / stress:.3g}", f"{least:g}"))
    return table(("parts", "case", "bears", "rated", "margin", "at least"), lines)
