"""Computes the sink's heat from heat.toml and the limits in the code.

`text` gives the table of heat.md; `faults` tells where a temperature, the fuse or a cut-out has lost its margin.
"""

import tomllib
from math import sqrt
from pathlib import Path

import limits
from block import table

# Set point with RV1 at the end of its range that gives most, converter at full scale: 3.3 V x 3.01 / (3.01 + 28) / 50 mOhm.
STUCK_AMPS = 6.4

SOURCE = Path(__file__).resolve().parents[1] / "heat.toml"


def figures():
    """Returns name -> (value, unit, how it comes about)."""
    with open(SOURCE, "rb") as file:
        data = tomllib.load(file)
    value = {(group, name): entry["value"] for group, entries in data.items() for name, entry in entries.items()}
    code = limits.read()
    volts = code["HIGHEST_CHARGE_LIMIT"] / 1e6
    steady_amps, pulse_amps = code["LARGEST_STEADY"] / 1e6, code["LARGEST_PULSE"] / 1e6
    ceiling_amps, pulse_seconds = code["CURRENT_CEILING"] / 1e6, code["LONGEST_PULSE"] / 1e6
    loss, store = code["SINK_LOSS_UW"] / 1e6, code["SINK_STORE"] / 1e6
    room, k_per_w = value["room", "warmest_c"], value["heat_sink", "k_per_w"]
    j_per_k = value["heat_sink", "grams"] * value["heat_sink", "j_per_g_k"]
    inner = value["transistor", "junction_to_case_k_per_w"] + value["transistor", "pad_k_per_w"]
    opens, tolerance = value["cut_out", "sink_opens_c"], value["cut_out", "tolerance_k"]
    body = room + loss * k_per_w + store / j_per_k
    stuck_watts = STUCK_AMPS * volts
    mean_loss = (opens + tolerance - room) / 2 / k_per_w
    case_k_per_w, pad_k_per_w = value["transistor", "junction_to_case_k_per_w"], value["transistor", "pad_k_per_w"]
    highest_junction = value["transistor", "junction_limit_c"] + 25
    steady_watts = steady_amps * volts

    def area(watts, body_c):
        """Watts that the transistor may lose at this body: its direct-current line, less what the warmer case takes away."""
        case_c = body_c + watts * pad_k_per_w
        return value["transistor", "operating_area_amps"] * 5.0 * (highest_junction - case_c) / (highest_junction - 25)

    def instability(amps):
        """Loop gain of heat and current inside the chip: volts x junction to case x change of the current with temperature."""
        factor = value["transistor", "siemens_at_15_a"] ** 2 / 30
        siemens = sqrt(2 * factor * amps)
        per_kelvin = siemens * value["transistor", "threshold_v_per_k"] - 1.5 * amps / 350
        return volts * case_k_per_w * per_kelvin
    return {
        "steady": (steady_amps * volts, "W", f"{steady_amps:g} A at {volts:g} V, all of it in the transistor"),
        "loss": (loss, "W", "SINK_LOSS_UW: what the guard takes as lost"),
        "rise": (loss * k_per_w, "K", f"that on {k_per_w:g} K/W"),
        "pulse": (pulse_amps * volts * pulse_seconds, "J", f"longest pulse: {pulse_amps:g} A at {volts:g} V for {pulse_seconds:g} s"),
        "example": (pulse_amps * 4.4 * 1.0, "J", f"{pulse_amps:g} A at 4.4 V for 1 s, the usual pulse"),
        "store": (store, "J", "SINK_STORE: what the guard lets in above the loss"),
        "capacity": (j_per_k, "J/K", "heat capacity of the heat sink"),
        "store_rise": (store / j_per_k, "K", "a full store in the whole heat sink"),
        "tab_rise": (store / 1.25, "K", "a full store in 1.25 J/K, about the copper of transistor and spreader alone, nothing lost"),
        "body": (body, "degC", f"hottest heat sink in a room of {room:g} degC: loss and full store together"),
        "chain": (case_k_per_w + pad_k_per_w + k_per_w, "K/W", f"junction to case {case_k_per_w:g}, pad {pad_k_per_w:g}, heat sink to air {k_per_w:g}"),
        "steady_junction": (room + steady_watts * (inner + k_per_w), "degC", f"junction at {steady_amps:g} A for ever, room of {room:g} degC"),
        "junction": (body + pulse_amps * volts * inner, "degC", f"junction in the pulse: {inner:g} K/W from junction to heat sink"),
        "ceiling_junction": (body + ceiling_amps * volts * inner, "degC", f"junction at the ceiling of {ceiling_amps:g} A"),
        "opens_low": (opens - tolerance, "degC", "coldest point at which S1 opens"),
        "opens_high": (opens + tolerance, "degC", "warmest point at which S1 opens"),
        "stuck": (stuck_watts, "W", f"fault: set point stuck at {STUCK_AMPS:g} A (end of the trimmer), guard dead, {volts:g} V"),
        "stuck_seconds": (j_per_k * (opens + tolerance - room) / (stuck_watts - mean_loss), "s", "until S1 opens then, from a cold start"),
        "stuck_junction": (opens + tolerance + stuck_watts * inner, "degC", "junction at that moment"),
        "area_pulse": (area(pulse_watts(), body), "W", f"what the direct-current line leaves at the longest pulse, which takes {pulse_watts():.3g} W"),
        "area_stuck": (area(stuck_watts, opens + tolerance), "W", "what it leaves at the stuck set point when S1 opens"),
        "instability": (instability(pulse_amps), "", "hot-spot criterion at the largest pulse, steepest transistor allowed: must stay below 1"),
        "instability_stuck": (instability(STUCK_AMPS), "", "the same at the stuck set point"),
        "junction_limit": (value["transistor", "junction_limit_c"], "degC", "highest junction allowed here"),
        "cell_opens_low": (value["cut_out", "cell_opens_c"] - tolerance, "degC", "coldest point at which S2, on the cell, opens"),
        "hottest": (code["HOTTEST"] / 1e3, "degC", "HOTTEST: the guard drops the load"),
        "fuse_holds": (value["fuse", "amps"], "A", "F1 carries this without end"),
        "fuse_opens": (value["fuse", "amps"] * value["fuse", "opens_at_fraction"], "A", "F1 opens, within 600 s"),
        "ceiling": (ceiling_amps, "A", "CURRENT_CEILING: the guard drops the load"),
        "short": (volts / (value["path", "ohms"] + 0.02), "A", "a transistor that fails short, cell of 20 mOhm, leads left out: F1 opens within about half a second (3.5 times its rating: 0.5 s at most, ISO 8820-3, from memory)"),
        "long_short": (3.5 / (value["path", "ohms"] + 0.3 + 0.04), "A", "the same, 3.5 V cell of 300 mOhm with its leads: near the fuse's minimum, see hazards.md"),
    }


def pulse_watts():
    """Returns the transistor's heat in the largest pulse."""
    code = limits.read()
    return code["LARGEST_PULSE"] * code["HIGHEST_CHARGE_LIMIT"] / 1e12


def faults():
    """Returns a sentence for each lost margin."""
    f = {name: entry[0] for name, entry in figures().items()}
    rules = [
        (f["steady"] < f["loss"], "the steady load makes more heat than SINK_LOSS_UW"),
        (f["pulse"] < f["store"], "the longest pulse does not fit into SINK_STORE"),
        (f["body"] + 3 < f["opens_low"], "S1 could open in ordinary use"),
        (f["junction"] < f["junction_limit"], "the junction is too hot in the longest pulse"),
        (f["ceiling_junction"] < f["junction_limit"], "the junction is too hot at the current ceiling"),
        (f["stuck_junction"] < f["junction_limit"] + 25, "the junction does not outlast a stuck sink until S1 opens"),
        (f["area_pulse"] > 1.5 * pulse_watts(), "the longest pulse leaves the transistor's direct-current operating area"),
        (f["area_stuck"] > f["stuck"], "a stuck sink leaves the transistor's direct-current operating area before S1 opens"),
        (f["instability_stuck"] < 1, "the transistor is too steep: hot spots could form"),
        (f["cell_opens_low"] >= f["hottest"] + 5, "S2 opens before the guard has dropped the load"),
        (f["fuse_holds"] > f["ceiling"] * 1.2, "the fuse is too close to the firmware's ceiling"),
        (f["short"] > 3 * f["fuse_holds"], "the fuse does not open fast on a shorted transistor"),
    ]
    return [f"heat.toml: {words}" for good, words in rules if not good]


def text():
    """Returns the table of figures."""
    return table(("figure", "value", "how"), [(name.replace("_", " "), f"{value:.3g} {unit}", how)
                                               for name, (value, unit, how) in figures().items()])
