"""Compares wiring.toml with the circuit and renders the wiring table.

`text` gives the table of wiring.md; `faults` tells where a pin or an address is not what circuit.toml draws. The board's
firmware is compared with the same file by a test of its own.
"""

import tomllib
from pathlib import Path

from block import table

# Pins besides bus and supply.
USES = ("load_enable", "polarity", "lamp", "look_force", "look_current", "look_reference")
SOURCE = Path(__file__).resolve().parents[1] / "wiring.toml"


def read():
    """Returns the file as it stands."""
    with open(SOURCE, "rb") as file:
        return tomllib.load(file)


def _pins(data):
    """Yields (use, GPIO number or nothing, pin of the module, net)."""
    for name in ("sda", "scl"):
        yield name.upper(), data["bus"][name]["gpio"], data["bus"][name]["pin"], data["bus"][name]["net"]
    for name in USES:
        yield name.replace("_", " "), data[name]["gpio"], data[name]["pin"], data[name]["net"]
    for name, entry in data["supply"].items():
        yield name.replace("_", " "), None, entry["pin"], entry["net"]


def faults(circuit):
    """Returns a sentence for each difference from the circuit."""
    data, found = read(), []
    controller = circuit.parts[data["part"]]
    named = dict(row.partition(" ")[::2] for side in controller.sides.values() for row in side if row)
    for use, gpio, pin, net in _pins(data):
        if controller.nets.get(str(pin)) != net:
            found.append(f"wiring.toml: {use} is on pin {pin}, net {net}; circuit.toml has {controller.nets.get(str(pin))}")
        if gpio is not None and named.get(str(pin)) != f"GP{gpio}":
            found.append(f"wiring.toml: {use} is GPIO {gpio}; circuit.toml names pin {pin} {named.get(str(pin))}")
    unused = set(controller.nets) - {str(pin) for _, _, pin, _ in _pins(data)}
    found += [f"wiring.toml: pin {pin} of {data['part']} is wired and not in the table" for pin in sorted(unused)]
    for name, entry in data["address"].items():
        if circuit.parts[entry["part"]].address != entry["at"]:
            found.append(f"wiring.toml: {name} is at 0x{entry['at']:02x}; circuit.toml says otherwise of {entry['part']}")
    return found


def text():
    """Returns the tables of pins and addresses."""
    data = read()
    means = {name.replace("_", " "): data[name]["means"] for name in USES}
    without = {name.replace("_", " "): data[name]["without_program"] for name in USES}
    rows = [(use, "" if gpio is None else f"GP{gpio}", pin, f"`{net}`", without.get(use, ""), means.get(use, ""))
            for use, gpio, pin, net in _pins(data)]
    pins = table(("use", "GPIO", "pin of U4", "net", "without program", "meaning"), rows)
    addresses = table(("chip", "part", "address"), [
        (name.replace("_", " "), entry["part"], f"0x{entry['at']:02X}") for name, entry in data["address"].items()])
    usb = data["usb"]
    identity = (f"USB: vendor 0x{usb['vendor']:04X}, product 0x{usb['product']:04X}, maker text *{usb['maker_text']}*, product text "
                f"*{usb['product_text']}*, serial number that of the chip (16 hexadecimal digits).")
    return f"{pins}\n\nI2C block {data['bus']['block']}, {data['bus']['hertz'] // 1000} kHz.\n\n{addresses}\n\n{identity}"
