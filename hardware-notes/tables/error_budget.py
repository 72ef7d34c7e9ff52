"""Adds up error_budget.toml and compares the sums with what the host uses.

`text` gives the tables of error_budget.md; `faults` tells where a figure of [front_end] is not covered by its budget.
"""

import tomllib
from math import sqrt
from pathlib import Path

import limits
from block import table

SOURCE = Path(__file__).resolve().parents[1] / "error_budget.toml"
DIVISORS = {"rectangular": sqrt(3), "triangular": sqrt(6), "normal": 1.0, "arcsine": sqrt(2)}
# A figure of the host may be rounded up, by at most this; beyond it the figure would no longer come from the budget.
LARGEST_ALLOWANCE = 2.0


def read():
    """Returns the file as it stands."""
    with open(SOURCE, "rb") as file:
        return tomllib.load(file)


def standard_uncertainty(contributor):
    """Returns limit / divisor x sensitivity, in the unit of the quantity."""
    return contributor["limit"] / DIVISORS[contributor["distribution"]] * abs(contributor["sensitivity"])


def combined(quantity):
    """Returns the root of the sum of squares."""
    return sqrt(sum(standard_uncertainty(contributor) ** 2 for contributor in quantity["contributor"]))


# The second look: its quantity and the margin that the guard gives it.
LOOKS = {"look_voltage": "LOOK_VOLTAGE_MARGIN", "look_current": "LOOK_CURRENT_MARGIN"}


def straight_sum(quantity):
    """Returns the worst case: all limits in one direction, three standard deviations of what scatters."""
    return sum(contributor["limit"] * abs(contributor["sensitivity"]) * (3 if contributor["distribution"] == "normal" else 1)
               for contributor in quantity["contributor"])


def faults():
    """Returns a sentence for each figure that its budget does not carry, and for each that has no budget."""
    data, found, covered = read(), [], set()
    for name, quantity in data["quantity"].items():
        key = quantity.get("front_end")
        if key is None:
            continue
        shared = key in covered
        covered.add(key)
        used, sum_of_budget = data["front_end"].get(key), combined(quantity)
        if used is None:
            found.append(f"error_budget.toml: quantity {name} names the front-end figure {key}, which is not there")
        elif used < sum_of_budget:
            found.append(f"error_budget.toml: {key} = {used:g} is smaller than its budget {sum_of_budget:.2g}")
        elif used > LARGEST_ALLOWANCE * sum_of_budget and not shared:
            found.append(f"error_budget.toml: {key} = {used:g} is more than twice its budget {sum_of_budget:.2g}")
    for key in data["front_end"]:
        if key not in covered:
            found.append(f"error_budget.toml: {key} has no budget")
    for name, quantity in data["quantity"].items():
        for contributor in quantity["contributor"]:
            if contributor["kind"] not in ("A", "B") or not contributor["source"]:
                found.append(f"error_budget.toml: {name}, {contributor['name']}: kind is A or B, and a source is needed")
    for name, margin in LOOKS.items():
        worst, borne = straight_sum(data["quantity"][name]), limits.read()[margin] / 1e6
        if worst > borne:
            found.append(f"error_budget.toml: {name} may be wrong by {worst:.3g}, more than {margin} = {borne:g}: a sound cell would trip")
    for milliohms in PROMISED:
        if expanded(data["front_end"], milliohms * 1e-3) > promise(milliohms * 1e-3):
            found.append(f"error_budget.toml: at {milliohms} mOhm the expanded uncertainty is above the promise of 1 % + 0.3 mOhm")
    if limits.read()["LARGEST_REST_RISE"] / 1e3 < 3 * sqrt(2) * data["front_end"]["temperature_k"]:
        found.append("error_budget.toml: LARGEST_REST_RISE is within three standard deviations of two thermometers: sound cells would trip")
    return found


# Resistances of phone and tablet cells, in milliohms, at which the promise is judged.
PROMISED = (30, 50, 80, 150, 300)


def promise(ohms):
    """Returns what the project promises on a resistance, k = 2."""
    return 0.01 * ohms + 0.3e-3


def expanded(front_end, ohms):
    """Returns the expanded uncertainty (k = 2) of a resistance: gains of voltage and current, and contact; noise apart."""
    return 2 * sqrt((ohms * front_end["voltage_gain"]) ** 2 + (ohms * front_end["current_gain"]) ** 2 + front_end["contact_ohm"] ** 2)


def _consequences(data):
    """Returns rows (what, expanded uncertainty, how) of what follows from the figures for what people read."""
    used = data["front_end"]
    rows = [(f"resistance of {milliohms} mOhm", f"{expanded(used, milliohms * 1e-3) * 1e3:.2f} mOhm",
             f"promise 1 % + 0.3 mOhm = {promise(milliohms * 1e-3) * 1e3:.2f} mOhm") for milliohms in PROMISED]
    volts = 2 * sqrt((4.0 * used["voltage_gain"]) ** 2 + used["voltage_offset_v"] ** 2)
    rows.append(("rest voltage of 4 V", f"{volts * 1e3:.1f} mV", "voltage gain and offset"))
    rows.append(("charge of a full discharge", f"{2 * used['current_gain'] * 100:.1f} %", f"current gain; of the counter {2 * sqrt(used['current_gain'] ** 2 + used['counter_clock'] ** 2) * 100:.1f} %, with its clock"))
    for name, margin in LOOKS.items():
        unit = data["quantity"][name]["unit"]
        rows.append((data["quantity"][name]["title"].partition(" (")[0], f"{_show(straight_sum(data['quantity'][name]), unit)} at worst",
                     f"all limits added; the guard bears {_show(limits.read()[margin] / 1e6, unit)} ({margin})"))
    warmest = limits.read()["LARGEST_REST_RISE"] / 1e3
    rise = 2 * sqrt(2 * used["thermometer_k"] ** 2 + (warmest * used["thermometer_loss"]) ** 2)
    rows.append(("cell warmer than the air", f"{rise:.2f} K", f"two thermometers, and the contact's loss at {warmest:g} K (LARGEST_REST_RISE)"))
    return rows


def _show(value, unit):
    if unit == "relative":
        return f"{value * 100:.2g} %"
    scale, prefix = {"V": (1e3, "mV"), "A": (1e3, "mA"), "Ohm": (1e3, "mOhm"), "K": (1, "K"), "s": (1e3, "ms")}[unit]
    return f"{value * scale:.2g} {prefix}"


def text():
    """Returns the tables, one a quantity, largest contributor first."""
    data = read()
    rows = []
    for quantity in data["quantity"].values():
        key = quantity.get("front_end")
        used = f"`{key}` = {_show(data['front_end'][key], quantity['unit'])}" if key else "not used"
        rows.append((quantity["title"], _show(combined(quantity), quantity["unit"]), used))
    parts = [table(("quantity", "standard uncertainty (k = 1)", "in the host"), rows), "### What follows",
             table(("what people read", "expanded uncertainty (k = 2)", "how"), _consequences(data))]
    for quantity in data["quantity"].values():
        unit = quantity["unit"]
        ordered = sorted(quantity["contributor"], key=standard_uncertainty, reverse=True)
        rows = [(c["name"], c["kind"], f"{c['limit']:g}", c["distribution"], f"{DIVISORS[c['distribution']]:.3g}",
                 f"{c['sensitivity']:g}", _show(standard_uncertainty(c), unit), c["source"]) for c in ordered]
        parts.append(f"### {quantity['title']}\n\n" + table(
            ("contributor", "kind", "limit", "distribution", "divisor", "sensitivity", "standard uncertainty", "source"), rows))
    return "\n\n".join(parts)
