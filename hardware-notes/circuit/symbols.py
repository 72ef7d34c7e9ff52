"""The shapes of the symbols, after the manner of IEC 60617, and where their pins are.

Takes a part; gives its pins as points and its shape as a list of primitives, both in grid steps around the part's
own centre before it is turned. A primitive is ("line", points), ("shape", points), ("disc", x, y, r), ("ring", ...) or
("text", x, y, words, anchor); "shape" is closed and unfilled, "solid" closed and filled.
"""

TWO_PINS = {"resistor": 3, "capacitor": 2, "diode": 2, "schottky": 2, "zener": 2, "led": 2,
            "fuse": 3, "cutout": 3, "button": 3, "contact": 2}
ONE_PIN = {"testpoint"}

FIXED = {
    "cell": {"1": (0, -3), "2": (0, 3)},
    "nmos": {"G": (-3, 1), "D": (1, -3), "S": (1, 3)},
    "pmos": {"G": (-3, 1), "D": (1, -3), "S": (1, 3)},
    "trimmer": {"1": (-3, 0), "2": (0, -2), "3": (3, 0)},
    "shunt": {"1": (-4, 0), "2": (4, 0), "3": (-2, 2), "4": (2, 2)},
    "opamp": {"3": (-5, -1), "4": (-5, 1), "1": (5, 0), "5": (-1, -4), "2": (-1, 4)},
    "comparator": {"3": (-5, -1), "1": (-5, 1), "4": (5, 0), "5": (-1, -4), "2": (-1, 4)},
}


def pin_places(part):
    """Returns pin -> (x, y) of the unturned symbol."""
    if part.symbol in TWO_PINS:
        half = TWO_PINS[part.symbol]
        return {"1": (-half, 0), "2": (half, 0)}
    if part.symbol in ONE_PIN:
        return {"1": (0, 0)}
    if part.symbol in FIXED:
        return FIXED[part.symbol]
    if part.symbol == "box":
        return {pin: spot for pin, _, spot, _ in box_pins(part)}
    raise ValueError(f"part {part.ref}: there is no symbol {part.symbol!r}")


def box_pins(part):
    """Returns (pin, name, place, side) of a box; its pins come as \"number name\", an empty string leaves a gap."""
    width, height = part.size
    found = []
    for side in ("left", "right"):
        for row, text in enumerate(part.sides[side]):
            if text:
                pin, _, name = text.partition(" ")
                x = (width / 2 + 2) * (-1 if side == "left" else 1)
                found.append((pin, name, (x, -height / 2 + 2 + 2 * row), side))
    return found


def shape(part):
    """Returns the primitives of the part's symbol."""
    return SHAPES[part.symbol](part)


def _leads(half, inner):
    return [("line", [(-half, 0), (-inner, 0)]), ("line", [(inner, 0), (half, 0)])]


def _rectangle(x1, y1, x2, y2):
    return ("shape", [(x1, y1), (x2, y1), (x2, y2), (x1, y2)])


def _resistor(_):
    return _leads(3, 1.7) + [_rectangle(-1.7, -0.6, 1.7, 0.6)]


def _fuse(_):
    return [("line", [(-3, 0), (3, 0)]), _rectangle(-1.7, -0.6, 1.7, 0.6)]


def _trimmer(part):
    return _resistor(part) + [("line", [(0, -2), (0, -0.9)]), ("solid", [(0, -0.6), (-0.3, -1.2), (0.3, -1.2)])]


def _shunt(_):
    body = [("line", [(-4, 0), (-2.6, 0)]), ("line", [(2.6, 0), (4, 0)]), _rectangle(-2.6, -0.7, 2.6, 0.7)]
    return body + [("line", [(-2, 0.7), (-2, 2)]), ("line", [(2, 0.7), (2, 2)])]


def _capacitor(_):
    return _leads(2, 0.3) + [("bold", [(-0.3, -1.1), (-0.3, 1.1)]), ("bold", [(0.3, -1.1), (0.3, 1.1)])]


def _diode(_):
    return [("line", [(-2, 0), (2, 0)]), ("shape", [(-0.7, -0.8), (-0.7, 0.8), (0.7, 0)]),
            ("bold", [(0.7, -0.8), (0.7, 0.8)])]


def _schottky(part):
    return _diode(part) + [("line", [(0.7, -0.8), (0.3, -0.8), (0.3, -0.5)]), ("line", [(0.7, 0.8), (1.1, 0.8), (1.1, 0.5)])]


def _zener(part):
    return _diode(part) + [("line", [(0.7, -0.8), (0.25, -0.8)])]


def _led(part):
    arrows = []
    for shift in (-0.4, 0.5):
        arrows += [("line", [(shift, -1.1), (shift + 0.8, -1.9)]),
                   ("solid", [(shift + 0.9, -2.0), (shift + 0.75, -1.5), (shift + 0.4, -1.85)])]
    return _diode(part) + arrows


def _cutout(_):
    """A contact that heat opens: normally closed, with the bimetal's mark."""
    return [("line", [(-3, 0), (-1.4, 0)]), ("line", [(1.4, 0), (3, 0)]), ("line", [(-1.4, 0), (1.6, -0.7)]),
            ("line", [(1.4, 0), (1.4, -0.9)]),
            ("line", [(-0.9, -1.3), (-0.2, -1.3), (-0.2, -1.9), (0.5, -1.9), (0.5, -1.3), (1.2, -1.3)])]


def _button(_):
    """A normally closed hand switch that stays where it is pushed."""
    return [("line", [(-3, 0), (-1.4, 0)]), ("line", [(1.4, 0), (3, 0)]), ("line", [(-1.4, 0), (1.6, -0.7)]),
            ("line", [(1.4, 0), (1.4, -0.9)]), ("dash", [(0.1, -0.4), (0.1, -1.9)]), ("bold", [(-0.7, -1.9), (0.9, -1.9)])]


def _contact(_):
    """A spring contact that is clipped on a tab."""
    return [("line", [(-2, 0), (-0.5, 0)]), ("ring", 0, 0, 0.5), ("line", [(0.5, 0), (2, 0)])]


def _testpoint(_):
    """A loop for the hook of a meter."""
    return [("line", [(0, 0), (0, -0.6)]), ("ring", 0, -1.1, 0.5)]


def _cell(_):
    return [("line", [(0, -3), (0, -0.4)]), ("line", [(0, 0.4), (0, 3)]), ("bold", [(-1.6, -0.4), (1.6, -0.4)]),
            ("bold", [(-0.8, 0.4), (0.8, 0.4)]), ("line", [(1.3, -1.5), (2.1, -1.5)]), ("line", [(1.7, -1.9), (1.7, -1.1)])]


def _mos(arrow, diode):
    return [
        ("line", [(-3, 1), (-0.9, 1)]), ("bold", [(-0.9, -1.3), (-0.9, 1.3)]),
        ("bold", [(-0.4, -1.5), (-0.4, -0.7)]), ("bold", [(-0.4, -0.4), (-0.4, 0.4)]), ("bold", [(-0.4, 0.7), (-0.4, 1.5)]),
        ("line", [(-0.4, -1.1), (1, -1.1), (1, -3)]), ("line", [(-0.4, 1.1), (1, 1.1), (1, 3)]),
        ("line", [(-0.4, 0), (1, 0), (1, 1.1)]), ("solid", arrow),
        ("line", [(1, -1.7), (2.2, -1.7), (2.2, 1.7), (1, 1.7)]), ("solid", diode[0]), ("bold", diode[1]),
        ("disc", 1, -1.7, 0.15), ("disc", 1, 1.7, 0.15), ("disc", 1, 1.1, 0.15)]


def _nmos(_):
    return _mos([(-0.35, 0), (0.35, -0.3), (0.35, 0.3)],
                ([(2.2, -0.4), (1.75, 0.4), (2.65, 0.4)], [(1.75, -0.4), (2.65, -0.4)]))


def _pmos(_):
    return _mos([(0.6, 0), (-0.1, -0.3), (-0.1, 0.3)],
                ([(2.2, 0.4), (1.75, -0.4), (2.65, -0.4)], [(1.75, 0.4), (2.65, 0.4)]))


def _opamp(_):
    return [("shape", [(-3.5, -3.2), (-3.5, 3.2), (3.5, 0)]), ("line", [(-5, -1), (-3.5, -1)]), ("line", [(-5, 1), (-3.5, 1)]),
            ("line", [(3.5, 0), (5, 0)]), ("line", [(-1, -4), (-1, -2.06)]), ("line", [(-1, 2.06), (-1, 4)]),
            ("line", [(-3.1, -1), (-2.4, -1)]), ("line", [(-2.75, -1.35), (-2.75, -0.65)]), ("line", [(-3.1, 1), (-2.4, 1)])]


def _box(part):
    width, height = part.size
    primitives = [_rectangle(-width / 2, -height / 2, width / 2, height / 2)]
    for pin, name, (x, y), side in box_pins(part):
        inward = 1 if side == "left" else -1
        primitives.append(("line", [(x, y), (x + 2 * inward, y)]))
        primitives.append(("text", x + 2.5 * inward, y + 0.4, name, "start" if side == "left" else "end"))
        primitives.append(("pin", x + 1.0 * inward, y - 0.3, pin, "middle"))
    return primitives


SHAPES = {"resistor": _resistor, "capacitor": _capacitor, "diode": _diode,
          "schottky": _schottky, "zener": _zener, "led": _led, "fuse": _fuse, "cutout": _cutout, "button": _button,
          "contact": _contact, "testpoint": _testpoint, "cell": _cell, "nmos": _nmos, "pmos": _pmos, "trimmer": _trimmer, "shunt": _shunt,
          "opamp": _opamp, "comparator": _opamp, "box": _box}
