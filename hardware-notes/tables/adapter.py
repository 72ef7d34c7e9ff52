"""Computes what the adapter with sprung pins adds to force and sense, and the limits of the check before a load.

Takes adapter.toml and the circuit; `text` gives the table of adapter.md, `faults` tells where a rule is broken.
"""

import tomllib
from math import hypot, sqrt
from pathlib import Path

import heat
import limits
from block import table
from electrical import ohms

SOURCE = Path(__file__).resolve().parents[1] / "adapter.toml"
COPPER_OHM_M = 1.75e-8
DIFFERENCE_OHMS = 40e3


def read():
    """Returns section -> name -> value; every value must have its source."""
    with open(SOURCE, "rb") as file:
        data = tomllib.load(file)
    missing = [f"{section}.{name}" for section, entries in data.items() for name, entry in entries.items() if not entry.get("source")]
    if missing:
        raise ValueError(f"adapter.toml: {missing[0]} has no source")
    return {section: {name: entry["value"] for name, entry in entries.items()} for section, entries in data.items()}


def figures(circuit):
    """Returns name -> (value, unit, how it comes about)."""
    a = read()
    fuse_amps = float(circuit.parts["F2"].value.split()[0])
    lead = COPPER_OHM_M * a["lead"]["metres"] / (a["lead"]["mm2"] * 1e-6)

    def force(pin):
        # Both poles: pins side by side, lead, pole of the plug; the fuse once.
        return 2 * (pin / a["pin"]["force_count"] + lead + a["plug"]["pole_ohms"]) + a["fuse"]["ohms"]

    usual, worn = force(a["pin"]["usual_ohms"]), force(a["pin"]["worn_ohms"])
    each = a["use"]["seconds_amps"] / a["pin"]["force_count"]
    place = a["contact"]["ohm_m"] * a["contact"]["mm"] * 1e-3 / (a["contact"]["width_mm"] * a["contact"]["thick_mm"] * 1e-6)
    series = ohms(circuit.parts["R34"].value)
    highest = limits.read()["HIGHEST_CHARGE_LIMIT"] / 1e6
    step = a["check"]["first_amps"]
    noise = sqrt(2) * a["check"]["volts_noise"] / step
    return {
        "force_usual": (usual * 1e3, "mOhm", "both poles of the adapter in the path of the current, pins as usual; sense does not see it"),
        "force_worn": (worn * 1e3, "mOhm", "the same with every pin at its limit: replace them"),
        "drop_worn": (worn * a["use"]["seconds_amps"], "V", f"that at {a['use']['seconds_amps']:g} A: what the sink has less to work with"),
        "pin_watts": (each**2 * a["pin"]["worn_ohms"], "W", f"heat of one worn force pin at {each:g} A, for seconds"),
        "pin_held_watts": ((a["use"]["held_amps"] / a["pin"]["force_count"]) ** 2 * a["pin"]["worn_ohms"], "W", f"the same at {a['use']['held_amps']:g} A, for hours"),
        "one_pin": (a["use"]["held_amps"], "A", f"what one force pin carries if its neighbour does not touch; the pin is good for {a['pin']['amps']:g} A"),
        "fuse_margin": (fuse_amps / a["use"]["seconds_amps"], "", f"F2 of {fuse_amps:g} A over the largest current of the adapter"),
        "fuse_stuck": (heat.STUCK_AMPS / fuse_amps, "", f"set point stuck at {heat.STUCK_AMPS:g} A over F2: it opens within a minute or so (curves of fast fuses, from memory)"),
        "sense_series": (-(series / DIFFERENCE_OHMS) * 100, "%", "gain lost in R34, R35 beside R1, R2; not calibrated out, since the jig is calibrated without the adapter"),
        "sense_pin": (-a["pin"]["worn_ohms"] / DIFFERENCE_OHMS * 100, "%", "gain lost in a worn sense pin"),
        "short_amps": (highest / series, "A", "in R34 or R35 if a sense lead is crushed onto the other pole: the fusible resistor opens"),
        "short_watts": (highest**2 / series, "W", "heat in it then, more than ten times what it bears"),
        "slip_amps": (highest / (series + ohms(circuit.parts["R1"].value)), "A", "a sense pin that slips onto the other pole's contact: R1 or R2 limits it as in the clips"),
        "place": (place * 1e3, "mOhm", f"metal of a contact between {a['contact']['mm']:g} mm too near and right, one pole: a row of the budget"),
        "step_volts": (step * a["check"]["highest_ohms"] * 1e3, "mV", f"fall of sense at {step:g} A and the highest resistance that passes"),
        "step_noise": (noise * 1e3, "mOhm", f"standard deviation of the resistance of that step, two readings of {a['check']['volts_noise'] * 1e3:g} mV noise"),
        "force_step": (worn * a["check"]["second_amps"] * 1e3, "mV", f"force falls by this more than sense at {a['check']['second_amps']:g} A, at most, besides fuse, cut-out and leads of the jig"),
        "path_low": ((a["check"]["lowest_ohms"]) * 1e3, "mOhm", "check: below this sense does not see the pack that is loaded"),
        "path_high": ((a["check"]["highest_ohms"]) * 1e3, "mOhm", "check: above this no load"),
        "agree": (a["check"]["agree_ohms"] * 1e3, "mOhm", "check: two steps, and two times put on, may differ by this"),
        "protection": (a["protection"]["high_ohms"] * 1e3, "mOhm", f"protection, lead and connector of a pack at most, {a['protection']['low_ohms'] * 1e3:g} at least: in the path at the connector, not at bare tabs"),
    }


def faults(circuit):
    """Returns a sentence for each rule that the adapter breaks."""
    a, f = read(), {name: entry[0] for name, entry in figures(circuit).items()}
    rules = [
        (f["pin_watts"] < 0.3, "a worn pin gets hot within seconds"),
        (f["pin_held_watts"] < 0.1, "a worn pin gets hot over hours"),
        (f["one_pin"] <= a["pin"]["amps"], "one pin alone cannot carry what is held for hours"),
        (f["fuse_margin"] >= 1.25, "F2 is too close to the adapter's largest current"),
        (f["fuse_stuck"] >= 1.5, "F2 would carry a stuck set point for long"),
        (float(circuit.parts["F2"].value.split()[0]) <= a["pin"]["amps"] * a["pin"]["force_count"], "F2 lets through more than the pins bear"),
        (f["drop_worn"] < 0.5, "the adapter takes more than half a volt from the sink"),
        (abs(f["sense_series"]) < 0.02, "R34 and R35 cost more gain than the budget has room for"),
        (f["short_watts"] > 10 * 0.25, "R34 and R35 would glow instead of opening"),
        (3 * f["step_noise"] * hypot(1, a["check"]["first_amps"] / a["check"]["second_amps"]) < a["check"]["agree_ohms"] * 1e3,
         "two steps could differ by more than the check allows, by noise alone"),
        (a["check"]["highest_ohms"] > 2 * (a["protection"]["high_ohms"] + 0.1), "the check would refuse sound packs with a long lead"),
        (a["check"]["lowest_ohms"] < a["protection"]["low_ohms"], "the check would refuse sound packs with a short lead"),
    ]
    return [f"adapter.toml: {words}" for good, words in rules if not good]


def text(circuit):
    """Returns the table of figures, and that of the design values."""
    with open(SOURCE, "rb") as file:
        data = tomllib.load(file)
    shown = table(("figure", "value", "how"), [(name.replace("_", " "), f"{value:.3g} {unit}".strip(), how)
                                              for name, (value, unit, how) in figures(circuit).items()])
    values = table(("design value", "value", "source"), [(f"{section}: {name.replace('_', ' ')}", f"{entry['value']:g}", entry["source"])
                                                         for section, entries in data.items() for name, entry in entries.items()])
    return f"{shown}\n\n{values}"
