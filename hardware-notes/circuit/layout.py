"""Writes the netlist of the circuit board in the S-expression form that the open layout program KiCad imports.

Takes the circuit and the parts list. Parts in the jig, in the leads and on the carriers of the thermometers are left out;
plugs are there with the side that belongs to the board. A net that then has a single pad is left out as well.
"""


def _quote(text):
    return '"' + text.replace("\\", "\\\\").replace('"', '\\"') + '"'


def _on_board(bom):
    """Returns part -> (footprint, drawn pin -> pads)."""
    return {ref: (item["footprint"], item.get("pads")) for item in bom["item"] if "footprint" in item for ref in item["refs"]}


# Chips and passive parts beside the thermometers, which sit on the carriers.
CARRIED = {"C11", "C12"}


def pads(circuit, bom):
    """Returns net -> list of (part, pad) on the board."""
    board, found = _on_board(bom), {}
    for ref, part in circuit.parts.items():
        if ref not in board or ref in CARRIED:
            continue
        mapped = board[ref][1]
        for pin, net in part.nets.items():
            if net != "-" and (mapped is None or pin in mapped):
                found.setdefault(net, []).extend((ref, pad) for pad in (mapped[pin] if mapped else pin).split())
    return {net: sorted(places) for net, places in sorted(found.items()) if len(places) > 1}


def text(circuit, bom):
    """Returns the netlist."""
    board = _on_board(bom)
    lines = ['(export (version "E")', "  (design (source \"circuit.toml\") (tool \"draw.py\"))", "  (components"]
    for ref, part in circuit.parts.items():
        if ref in board and ref not in CARRIED:
            lines.append(f"    (comp (ref {_quote(ref)}) (value {_quote(part.value)}) (footprint {_quote(board[ref][0])}))")
    lines[-1] += ")"
    lines.append("  (nets")
    for number, (net, places) in enumerate(pads(circuit, bom).items(), 1):
        nodes = " ".join(f"(node (ref {_quote(ref)}) (pin {_quote(pad)}))" for ref, pad in places)
        lines.append(f"    (net (code {_quote(str(number))}) (name {_quote(net)}) {nodes})")
    lines[-1] += "))"
    return "\n".join(lines) + "\n"


def faults(circuit, bom):
    """Returns a sentence for each pad that two nets claim, and for each mapped pin that is not drawn."""
    found, taken = [], {}
    for net, places in pads(circuit, bom).items():
        for place in places:
            if place in taken:
                found.append(f"fixture.net: pad {place[1]} of {place[0]} is on {net} and on {taken[place]}")
            taken[place] = net
    for ref, (_, mapped) in _on_board(bom).items():
        strange = set(mapped or ()) - set(circuit.parts[ref].nets)
        found += [f"bom.toml: {ref} maps the pin {pin}, which is not drawn" for pin in sorted(strange)]
    return found
