"""Tells what the wires of a sheet join, and where that differs from the nets of the pins.

Takes a `Circuit`. `joints` gives the points that get a dot; `wiring_faults` compares drawing and nets, so that neither can
say something the other does not. Wires join where one ends on another, at a pin or at a flag; a mere crossing joins nothing.
"""


def joints(circuit, sheet):
    """Returns the points where three or more lines of the sheet meet."""
    pins = [point for part in circuit.parts.values() if part.sheet == sheet.name for point in part.places().values()]
    flags = [point for _, point, _ in sheet.flags]
    segments = _segments(sheet)
    found = set()
    for point in {end for segment in segments for end in segment} | set(pins):
        lines = pins.count(point) + flags.count(point) + sum((point in pair) + 2 * _strictly_inside(point, *pair) for pair in segments)
        if lines >= 3 and _is_end(point, circuit, sheet):
            found.add(point)
    return found


def _segments(sheet):
    return [pair for wire in sheet.wires for pair in zip(wire, wire[1:])]


def _on(point, a, b):
    (x, y), (ax, ay), (bx, by) = point, a, b
    if ax == bx:
        return x == ax and min(ay, by) <= y <= max(ay, by)
    return y == ay and min(ax, bx) <= x <= max(ax, bx)


def _strictly_inside(point, a, b):
    return _on(point, a, b) and point not in (a, b)


def wiring_faults(circuit):
    """Returns a sentence for each place where the drawing joins or parts what the nets do not."""
    faults = []
    islands = {}
    for sheet in circuit.sheets.values():
        for pins, flags, labels in _islands(circuit, sheet):
            nets = {net for _, net in pins} | set(flags) | set(labels)
            if len(nets) > 1:
                faults.append(f"sheet {sheet.name}: the drawing joins the nets {', '.join(sorted(nets))}")
            if not pins:
                faults.append(f"sheet {sheet.name}: the flag or wire of {', '.join(sorted(nets)) or 'no net'} touches no pin")
            for net in nets:
                islands.setdefault(net, []).append((sheet.name, sorted(pin for pin, _ in pins), net in flags))
    for net, places in islands.items():
        if net != "-" and len(places) > 1:
            for sheet, pins, flagged in places:
                if not flagged:
                    faults.append(f"sheet {sheet}: {', '.join(pins)} on net {net} is joined to the rest by no wire and no flag")
    return faults


def _islands(circuit, sheet):
    """Returns (pins with their net, flags, labels) for everything the wires of a sheet join."""
    points = {}
    for part in circuit.parts.values():
        if part.sheet == sheet.name:
            for pin, point in part.places().items():
                if part.nets[pin] != "-":
                    points.setdefault(point, ([], [], []))[0].append((f"{part.ref}.{pin}", part.nets[pin]))
    for net, point, _ in sheet.flags:
        points.setdefault(point, ([], [], []))[1].append(net)
    for net, point in sheet.labels:
        points.setdefault(point, ([], [], []))[2].append(net)
    for wire in sheet.wires:
        for point in wire:
            points.setdefault(point, ([], [], []))
    parent = {point: point for point in points}

    def root(point):
        while parent[point] != point:
            point = parent[point]
        return point

    for wire in sheet.wires:
        for a, b in zip(wire, wire[1:]):
            # A corner of another wire, a pin or a flag joins where it lies on this one; a mere crossing does not.
            for point in points:
                if point in (a, b) or (_on(point, a, b) and _is_end(point, circuit, sheet)):
                    parent[root(point)] = root(a)
    groups = {}
    for point, found in points.items():
        group = groups.setdefault(root(point), ([], [], []))
        for collected, here in zip(group, found):
            collected.extend(here)
    return list(groups.values())


def _is_end(point, circuit, sheet):
    if any(point in (wire[0], wire[-1]) for wire in sheet.wires) or any(point == where for _, where, *_ in sheet.flags + sheet.labels):
        return True
    return any(point in part.places().values() for part in circuit.parts.values() if part.sheet == sheet.name)
