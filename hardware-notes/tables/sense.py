"""Computes what the circuit's values do: sense leads, polarity, enable line, bus.

Takes the circuit; `text` gives the table of sense.md, `faults` tells where a figure is out of bounds. Inner figures of the
chips come with their source in the table.
"""

import limits
from block import table
from electrical import ohms

DIFFERENCE_OHMS = 40e3
MONITOR_BUS_OHMS = 1e6
MONITOR_SHUNT_OHMS = 92e3
LEAK_AMPS = 120e-6
# A pin of stepping A2 with its input off: 1 MOhm and 1 MOhm at 3.06 V read 2.9 V (pico-feedback issue 498).
PIN_LEAK_AMPS = (2.9 - 1.53) / 0.5e6


def figures(circuit):
    """Returns name -> (value, unit, how it comes about)."""
    value = {ref: ohms(part.value) for ref, part in circuit.parts.items() if ref[0] == "R" and "Ohm" in part.value}
    code = limits.read()
    highest = code["HIGHEST_CHARGE_LIMIT"] / 1e6
    # Output of the difference amplifier: each input leg is its resistor and R1 or R2; gain falls to inner / (inner + outer).
    loading = DIFFERENCE_OHMS / (DIFFERENCE_OHMS + value["R1"]) - 1
    mismatch = 0.02 * value["R1"] / DIFFERENCE_OHMS / 2
    # Open minus: the input follows the amplifier's middle, half of the plus lead; the output is that half.
    tap_at_zero = 3.3 * value["R21"] / (value["R21"] + value["R22"])
    slope = value["R22"] / (value["R21"] + value["R22"])
    level = 3.3 * value["R24"] / (value["R23"] + value["R24"])
    threshold = (level - tap_at_zero) / slope
    spread = 3.3 * 0.02 * (slope * (1 - slope) + 0.645 * 0.355) / slope + 0.01 / slope
    return {
        "loading": (loading * 100, "%", f"gain lost in R1, R2 on inner resistors of {DIFFERENCE_OHMS / 1e3:g} kOhm (INA132); calibrated out"),
        "filter": (-value["R3"] / MONITOR_BUS_OHMS * 100, "%", "gain lost in R3 on 1 MOhm of the VBUS pin (INA228 data sheet, section 6.5); calibrated out"),
        "shunt_filter": (-(value["R5"] + value["R6"]) / MONITOR_SHUNT_OHMS * 100, "%", "gain lost in R5, R6 on 92 kOhm (INA228 data sheet, section 6.5); calibrated out"),
        "contact": (1.0 / (2 * DIFFERENCE_OHMS) * 100, "%", "gain lost for 1 Ohm of contact resistance in the positive sense tip"),
        "common_mode": (0.020 * (1.6e-4 + mismatch) * 1e6, "uOhm", "resistance error from 20 mOhm in the negative force lead: 76 dB and 2 % mismatch of R1 and R2"),
        "drain": (highest / (2 * DIFFERENCE_OHMS) * 1e6, "uA", "current that the sense leads take from the cell all the time"),
        "per_day": (highest / (2 * DIFFERENCE_OHMS) * 24e3, "mAh", "that in a day: take the cell off for self-discharge"),
        "open_minus": (highest / 2, "V", "highest reading with the negative sense lead open; with the positive one open 0 V"),
        "floor": (code["LOADED_FLOOR"] / 1e6, "V", "LOADED_FLOOR: the guard drops the load below; LOWEST_START is higher still"),
        "floor_oxides": ((code["LOWEST_END"] - code["FLOOR_MARGIN"]) / 1e6, "V", "the same of a label of cobalt, nickel or manganese oxide, at the lowest"),
        "open_phosphate": ((code["HIGHEST_LFP_CHARGE_LIMIT"] + code["OVER_CHARGE_MARGIN"]) / 2e6, "V", "open minus, iron phosphate above its highest charge limit by OVER_CHARGE_MARGIN"),
        "floor_phosphate": ((code["LOWEST_LFP_END"] - code["FLOOR_MARGIN"]) / 1e6, "V", "floor of an iron phosphate label, at the lowest"),
        "touch": (highest / value["R1"], "A", "a sense lead that touches the other pole"),
        "touch_watts": (highest**2 / value["R1"], "W", "heat in R1 or R2 then: a 0.6 W part stands it"),
        "reversed_input": (highest / (2 * DIFFERENCE_OHMS) * 1e6, "uA", "into the amplifier's inner resistors with a reversed cell"),
        "polarity": (threshold, "V", "FORCE_POS below this reads as reversed"),
        "polarity_spread": (spread, "V", "worst shift of it: resistors 1 %, comparator 10 mV"),
        "look_leak": (PIN_LEAK_AMPS * value["R29"], "V", "second look: what a pin of stepping A2 that leaks adds, through R29 and R30 in parallel, twice"),
        "look_drain": (highest / (value["R29"] + value["R30"]) * 1e6, "uA", "current that R29 and R30 take from the force leads all the time; not through the shunt"),
        "look_open": (3.3 * (value["R29"] + value["R30"]) / (value["R29"] + value["R30"] + value["R21"] + value["R22"]), "V",
                      "second look with the force lead open: what R21 and R22 of the polarity leave"),
        "look_full": (highest / 2, "V", "at the controller's pin at the highest charge limit; its converter ends at 3.1 V at the lowest (5 % and 34 mV less than 3.3 V)"),
        "look_clamp": (highest / value["R29"] * 1e3, "mA", "into D8 or D9 with a reversed cell, or without USB; the pin then stays within 0.37 V of its supply (D8, D9)"),
        "look_sense": (code["CURRENT_CEILING"] / 1e6 * value["RS2"], "V", "second look at the current, at the ceiling: 50 mV per ampere"),
        "enable_leak": (LEAK_AMPS * max(value["R15"], value["R27"]), "V", "ENABLE_GATE with the leak of erratum E9 (0.12 mA, issue threads) when R15 or R27 has broken off; Q5 needs 0.65 V"),
        "enable_load": ((3.3 / value["R15"] + 3.3 / value["R27"]) * 1e3 + 1.0, "mA", "what GP14 must give: R15, R27 and the lamp D4; the pin is rated for 4 mA as set by default"),
        "bus_rise": (300e-9 / (0.8473 * value["R17"]) * 1e12, "pF", "bus capacitance that still rises in 300 ns (I2C at 400 kHz): board and 0.5 m of cable have about 100 pF"),
        "bus_sink": (3.3 / value["R17"] * 1e3, "mA", "current a chip must sink on the bus; the I2C rule is 3 mA"),
    }


def value_of(circuit, ref):
    """Returns the resistance of a part in ohms."""
    return ohms(circuit.parts[ref].value)


def faults(circuit):
    """Returns a sentence for each figure out of bounds."""
    f = {name: entry[0] for name, entry in figures(circuit).items()}
    rules = [
        (abs(f["loading"]) < 0.2, "R1 and R2 cost more gain than calibration should carry"),
        (f["common_mode"] < 25, "the force lead leaks into the resistance by more than a tenth of the contact budget"),
        (f["open_minus"] < min(f["floor"], f["floor_oxides"]), "an open sense lead could pass as a loaded cell"),
        (f["open_phosphate"] < f["floor_phosphate"], "an open sense lead could pass as a loaded cell of iron phosphate"),
        (f["touch_watts"] < 0.6, "R1 and R2 burn when a sense lead touches the other pole"),
        (f["polarity"] + f["polarity_spread"] < -0.1, "an empty fixture could read as reversed"),
        (f["polarity"] - f["polarity_spread"] > -1.0, "a reversed cell of 1 V would not be seen"),
        (f["enable_leak"] < 0.5, "the leak of erratum E9 could open Q5"),
        (f["enable_load"] < 4.0, "R15, R27 and the lamp overload the pin"),
        (f["look_leak"] < 0.5 * limits.read()["LOOK_VOLTAGE_MARGIN"] / 1e6, "a leaking pin takes more than half of the second look's margin"),
        (f["look_drain"] < 150, "the second look empties the cell"),
        (f["look_open"] < f["floor_phosphate"], "an open force lead could pass as a loaded cell on the second look"),
        (f["look_full"] < 3.1, "the highest cell is beyond the controller's converter"),
        (f["look_clamp"] < 1.0, "a reversed cell drives too much into the clamps of the second look"),
        (value_of(circuit, "R31") * PIN_LEAK_AMPS / 2 < 0.005, "a leaking pin moves the reference of the second look"),
        (f["bus_rise"] > 150, "the bus is too slow for the cable"),
        (f["bus_sink"] < 3.0, "the pull-ups are too strong for the bus"),
    ]
    return [f"sense figures: {words}" for good, words in rules if not good]


def text(circuit):
    """Returns the table of figures."""
    return table(("figure", "value", "how"), [(name.replace("_", " "), f"{value:.3g} {unit}", how)
                                               for name, (value, unit, how) in figures(circuit).items()])
