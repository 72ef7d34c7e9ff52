#!/usr/bin/env python3
"""Renders everything in these notes that is computed, or checks that the committed files are fresh.

    python3 hardware-notes/draw.py           writes circuit/*.svg, the netlists, bom.csv and the computed parts of the pages
    python3 hardware-notes/draw.py --check   writes nothing; exit 1 with the reasons where something is stale or wrong

Takes circuit/circuit.toml, bom.toml, wiring.toml, heat.toml, adapter.toml, error_budget.toml, chip_facts.toml with the code's files that it
names, and protocol/src/limits.rs. Needs Python 3.11 or newer and nothing else.
"""

import sys
from pathlib import Path

HERE = Path(__file__).resolve().parent
sys.path[:0] = [str(HERE / "circuit"), str(HERE / "tables")]

import adapter  # noqa: E402
import block  # noqa: E402
import bom  # noqa: E402
import chip_facts  # noqa: E402
import electrical  # noqa: E402
import error_budget  # noqa: E402
import heat  # noqa: E402
import joining  # noqa: E402
import layout  # noqa: E402
import parts  # noqa: E402
import sense  # noqa: E402
import sheet  # noqa: E402
import stress  # noqa: E402
import wiring  # noqa: E402


def load():
    """Reads the circuit."""
    return parts.read(HERE / "circuit" / "circuit.toml")


def netlist(circuit):
    """Returns the netlist: one line a net with its pins, then one line a part."""
    lines = [f"{circuit.title}, revision {circuit.revision}. Rendered by draw.py from circuit.toml; do not edit.", "", "nets"]
    for net, pins in circuit.nets().items():
        lines.append(f"  {net:<20} " + " ".join(f"{ref}.{pin}" for ref, pin in pins))
    lines += ["", "parts"]
    for ref, part in circuit.parts.items():
        lines.append(f"  {ref:<5} {part.value:<22} sheet {part.sheet}" + ("  (not part of the fixture)" if part.outside else ""))
    return "\n".join(lines) + "\n"


def rendered(circuit):
    """Returns path -> text of everything that is rendered."""
    files = {HERE / "circuit" / f"{name}.svg": sheet.svg(circuit, name) for name in circuit.sheets}
    files[HERE / "circuit" / "netlist.txt"] = netlist(circuit)
    files[HERE / "circuit" / "fixture.net"] = layout.text(circuit, bom.read())
    files[HERE / "bom.csv"] = bom.order()
    pages = {"bom.md": bom.text() + "\n\n## What each part bears\n\n" + stress.text(circuit), "wiring.md": wiring.text(), "heat.md": heat.text(), "error_budget.md": error_budget.text(),
             "sense.md": sense.text(circuit), "chip_facts.md": chip_facts.text(), "adapter.md": adapter.text(circuit)}
    for name, text in pages.items():
        files[HERE / name] = block.fill((HERE / name).read_text(encoding="utf-8"), text)
    return files


def judgements(circuit):
    """Returns (what must hold, the faults against it) for all sources of these notes."""
    return (
        ("the wires join what the nets say", joining.wiring_faults(circuit)),
        ("the sheets can be read", [f for name in circuit.sheets for f in sheet.reading_faults(circuit, name)]),
        ("the electrical rules hold", electrical.faults(circuit)),
        ("the parts list is that of the circuit", bom.faults(circuit)),
        ("every part bears what the circuit asks of it, with its margin", stress.faults(circuit)),
        ("the netlist for a layout program is whole", layout.faults(circuit, bom.read())),
        ("the wiring table is that of the circuit", wiring.faults(circuit)),
        ("fuse, cut-outs and heat keep their margins", heat.faults()),
        ("the host's figures are covered by the error budget", error_budget.faults()),
        ("the adapter's pins, fuse and leads keep their margins", adapter.faults(circuit)),
        ("every chip fact has a source, and the code's constants are what the facts say", chip_facts.faults()),
        ("sense leads, polarity, enable line and bus are within bounds", sense.faults(circuit)),
    )


def stale(circuit):
    """Returns a sentence for each committed file that differs from a fresh rendering."""
    found = []
    for path, text in rendered(circuit).items():
        if not path.exists() or path.read_text(encoding="utf-8") != text:
            found.append(f"{path.relative_to(HERE)} is missing or not fresh; run python3 hardware-notes/draw.py")
    return found


def main(arguments):
    if arguments not in ([], ["--check"]):
        print("usage: draw.py [--check]", file=sys.stderr)
        return 2
    circuit = load()
    found = [fault for _, faults in judgements(circuit) for fault in faults]
    if arguments:
        found += stale(circuit)
    else:
        for path, text in rendered(circuit).items():
            path.write_text(text, encoding="utf-8")
    for fault in found:
        print(fault, file=sys.stderr)
    print(f"{len(circuit.parts)} parts, {len(circuit.nets())} nets, {len(circuit.sheets)} sheets, {len(found)} faults")
    return 1 if found else 0


if __name__ == "__main__":
    try:
        sys.exit(main(sys.argv[1:]))
    except (parts.CircuitError, ValueError, OSError) as error:
        print(f"hardware-notes: {error}", file=sys.stderr)
        sys.exit(1)
