"""Reads circuit.toml: parts with their pins on nets, and the sheets with their wires and flags.

Takes the path of the file; gives a `Circuit`. A mistake in the file is an error that names the part or the sheet.
Lengths are in grid steps; the drawing makes ten units of SVG out of one.
"""

import tomllib
from dataclasses import dataclass, field

from symbols import pin_places


class CircuitError(Exception):
    """The text source of the circuit is wrong; the message says where and what to do."""


@dataclass(frozen=True)
class Part:
    """One part of the circuit as it is drawn: where, which symbol, and which net each pin is on."""

    ref: str
    symbol: str
    value: str
    sheet: str
    at: tuple
    turn: int
    mirror: bool
    nets: dict
    sides: dict
    size: tuple
    text: tuple | None
    outside: bool
    address: int | None
    note: str

    def places(self):
        """Returns pin number -> (x, y) on the sheet."""
        places = {}
        for pin, (x, y) in pin_places(self).items():
            places[pin] = place(self, x, y)
        return places


def place(part, x, y):
    """Mirrors, turns and moves a point of a symbol to where the part lies on its sheet."""
    if part.mirror:
        x = -x
    for _ in range(part.turn // 90):
        x, y = -y, x
    return (round(part.at[0] + x, 3), round(part.at[1] + y, 3))


@dataclass
class Sheet:
    """One sheet: number, title, size, wires (lists of points), flags (net, place, direction), labels (net, place), frames, notes."""

    name: str
    number: int
    title: str
    size: tuple
    wires: list = field(default_factory=list)
    flags: list = field(default_factory=list)
    labels: list = field(default_factory=list)
    frames: list = field(default_factory=list)
    notes: list = field(default_factory=list)


@dataclass
class Circuit:
    """All parts by reference and all sheets by name, in the order of the file."""

    parts: dict
    sheets: dict
    title: str
    revision: str

    def elsewhere(self, net, sheet):
        """Returns the numbers of the other sheets that have a flag of this net."""
        return [other.number for other in self.sheets.values() if other.name != sheet and any(flag[0] == net for flag in other.flags)]

    def nets(self):
        """Returns net -> sorted list of (ref, pin)."""
        found = {}
        for part in self.parts.values():
            for pin, net in part.nets.items():
                if net != "-":
                    found.setdefault(net, []).append((part.ref, pin))
        return {net: sorted(pins, key=_by_number) for net, pins in sorted(found.items())}


def _by_number(item):
    ref, pin = item
    letters = ref.rstrip("0123456789")
    digits = ref[len(letters):]
    return (letters, int(digits or 0), pin.zfill(3))


def _part(ref, entry):
    known = {"sheet", "symbol", "value", "at", "turn", "mirror", "nets", "left", "right", "size", "text", "outside",
             "address", "note"}
    strange = set(entry) - known
    if strange:
        raise CircuitError(f"part {ref}: unknown key {sorted(strange)[0]!r}; known are {', '.join(sorted(known))}")
    for key in ("sheet", "symbol", "value", "at", "nets"):
        if key not in entry:
            raise CircuitError(f"part {ref}: the key {key!r} is missing")
    if entry.get("turn", 0) not in (0, 90, 180, 270):
        raise CircuitError(f"part {ref}: turn is {entry['turn']}; write 0, 90, 180 or 270")
    part = Part(ref, entry["symbol"], entry["value"], entry["sheet"], tuple(entry["at"]), entry.get("turn", 0),
                entry.get("mirror", False), {str(pin): net for pin, net in entry["nets"].items()},
                {side: entry.get(side, []) for side in ("left", "right")}, tuple(entry.get("size", (0, 0))),
                tuple(entry["text"]) if "text" in entry else None, entry.get("outside", False),
                entry.get("address"), entry.get("note", ""))
    drawn = set(pin_places(part))
    if drawn != set(part.nets):
        odd = sorted(drawn ^ set(part.nets))
        raise CircuitError(f"part {ref}: pins {odd} are drawn but on no net, or on a net but not drawn; "
                           "write \"-\" as the net of a pin that stays open")
    return part


def _point(token, parts, sheet):
    if "." in token and "," not in token:
        ref, pin = token.split(".", 1)
        part = parts.get(ref)
        if part is None or part.sheet != sheet:
            raise CircuitError(f"sheet {sheet}: a wire goes to {token}, but {ref} is not on this sheet")
        places = part.places()
        if pin not in places:
            raise CircuitError(f"sheet {sheet}: {ref} has no pin {pin}; it has {', '.join(places)}")
        return places[pin]
    try:
        x, y = token.split(",")
        return (float(x), float(y))
    except ValueError:
        raise CircuitError(f"sheet {sheet}: {token!r} is no point; write PART.PIN or x,y") from None


def _wire(text, parts, sheet):
    """A wire is a row of points; between two that are not in line it goes sideways first, or, before `|`, up or down."""
    points = []
    for token in text.split():
        upright = token.startswith("|")
        point = _point(token.lstrip("|"), parts, sheet)
        if points and points[-1][0] != point[0] and points[-1][1] != point[1]:
            last = points[-1]
            points.append((last[0], point[1]) if upright else (point[0], last[1]))
        if not points or points[-1] != point:
            points.append(point)
    if len(points) < 2:
        raise CircuitError(f"sheet {sheet}: the wire {text!r} has fewer than two points")
    return points


def _flag(text, parts, sheet):
    net, where, direction = text.split()
    if direction not in ("left", "right", "up", "down"):
        raise CircuitError(f"sheet {sheet}: flag {text!r}: the direction is left, right, up or down")
    return net, _point(where, parts, sheet), direction


def _label(text, parts, sheet):
    net, where = text.split()
    return net, _point(where, parts, sheet)


def read(path):
    """Reads the circuit from its text source."""
    with open(path, "rb") as file:
        data = tomllib.load(file)
    parts = {ref: _part(ref, entry) for ref, entry in data["part"].items()}
    sheets = {}
    for number, (name, entry) in enumerate(data["sheet"].items(), 1):
        sheets[name] = Sheet(
            name, number, entry["title"], tuple(entry["size"]),
            [_wire(text, parts, name) for text in entry.get("wires", [])],
            [_flag(text, parts, name) for text in entry.get("flags", [])],
            [_label(text, parts, name) for text in entry.get("labels", [])],
            entry.get("frames", []), entry.get("notes", []))
    for part in parts.values():
        if part.sheet not in sheets:
            raise CircuitError(f"part {part.ref}: there is no sheet {part.sheet!r}")
    return Circuit(parts, sheets, data["title"], data["revision"])
