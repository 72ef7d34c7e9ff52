"""Renders bom.md from bom.toml and compares it with the circuit.

`text` gives the tables, `order` the list for a distributor; `faults` tells which part of the circuit is missing, named twice or has another value.
"""

import tomllib
from pathlib import Path

from block import table

SOURCE = Path(__file__).resolve().parents[1] / "bom.toml"
KEYS = {"refs", "value", "class", "rating", "package", "why", "kind", "other", "data"}
MAY_HAVE = {"rated", "footprint", "pads"}


def read():
    """Returns the file as it stands."""
    with open(SOURCE, "rb") as file:
        return tomllib.load(file)


def faults(circuit):
    """Returns a sentence for each difference from the circuit."""
    found, seen = [], set()
    for item in read()["item"]:
        if set(item) - MAY_HAVE != KEYS:
            found.append(f"bom.toml: {item.get('refs')}: keys {sorted((set(item) - MAY_HAVE) ^ KEYS)} are missing or unknown")
            continue
        values = item["value"] if isinstance(item["value"], list) else [item["value"]] * len(item["refs"])
        for ref, value in zip(item["refs"], values, strict=True):
            if ref in seen:
                found.append(f"bom.toml: {ref} is named twice")
            seen.add(ref)
            if ref not in circuit.parts:
                found.append(f"bom.toml: {ref} is not in the circuit")
            elif circuit.parts[ref].value != value:
                found.append(f"bom.toml: {ref} is {value!r}; circuit.toml says {circuit.parts[ref].value!r}")
    for ref, part in circuit.parts.items():
        if ref not in seen and not part.outside:
            found.append(f"bom.toml: {ref} of the circuit is missing")
    return found


def text():
    """Returns the tables of electrical and other parts."""
    data = read()
    rows = []
    for item in data["item"]:
        value = item["value"] if isinstance(item["value"], str) else " / ".join(item["value"])
        rows.append((len(item["refs"]), ", ".join(item["refs"]), value, item["class"], item["rating"], item["package"],
                     item["kind"], item["other"], item["why"], item["data"]))
    head = ("n", "parts", "value", "class", "rating", "package", "example", "second sources", "why", "figures from")
    return table(head, rows) + "\n\n" + table(("also needed", "why"), [(extra["what"], extra["why"]) for extra in data["extra"]])


def order():
    """Returns the parts list as comma-separated values, one line a part class, for the maker's order."""
    lines = ["quantity,parts,value,package,example,rating"]
    for item in read()["item"]:
        value = item["value"] if isinstance(item["value"], str) else " / ".join(item["value"])
        cells = [str(len(item["refs"])), " ".join(item["refs"]), value, item["package"], item["kind"], item["rating"]]
        lines.append(",".join('"' + cell.replace('"', '""') + '"' for cell in cells))
    return "\n".join(lines) + "\n"
