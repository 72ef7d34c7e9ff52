"""Draws one sheet of the circuit as SVG, and tells where the drawing cannot be read.

Takes a `Circuit` and the name of a sheet. `svg` gives the picture; `reading_faults` finds text that lies on other text, on
a wire or outside the sheet, wires through symbols and symbols on each other.
"""

from html import escape

from joining import joints
from parts import place
from symbols import pin_places, shape

STEP = 10
INK = "#1a1a1a"
GROUND = "GND"


class Drawing:
    """Collects lines, texts and their extents in grid steps while a sheet is drawn."""

    def __init__(self):
        self.out = []
        self.lines = []
        self.texts = []

    def line(self, points, width=1.4, dash=""):
        path = " ".join(f"{x * STEP:g},{y * STEP:g}" for x, y in points)
        style = f' stroke-dasharray="{dash}"' if dash else ""
        self.out.append(f'<polyline points="{path}" fill="none" stroke="{INK}" stroke-width="{width}"{style}/>')
        self.lines += list(zip(points, points[1:]))

    def shape(self, points, solid):
        path = " ".join(f"{x * STEP:g},{y * STEP:g}" for x, y in points)
        self.out.append(f'<polygon points="{path}" fill="{INK if solid else "#ffffff"}" stroke="{INK}" stroke-width="1.4"/>')
        self.lines += list(zip(points, points[1:] + points[:1]))

    def disc(self, x, y, radius, hollow=False):
        fill = "#ffffff" if hollow else INK
        self.out.append(f'<circle cx="{x * STEP:g}" cy="{y * STEP:g}" r="{radius * STEP:g}" fill="{fill}" '
                        f'stroke="{INK}" stroke-width="1.4"/>')

    def text(self, x, y, words, anchor="start", size=1.25, weight="normal", fill=INK):
        """Writes words with their base line at y; keeps their extent, taken as 0.68 em a capital and 0.6 em any other letter."""
        self.out.append(f'<text x="{x * STEP:g}" y="{y * STEP:g}" text-anchor="{anchor}" font-size="{size * STEP:g}" '
                        f'font-weight="{weight}" fill="{fill}">{escape(words)}</text>')
        width = size * sum(0.68 if letter.isupper() else 0.6 for letter in words)
        left = {"start": x, "middle": x - width / 2, "end": x - width}[anchor]
        self.texts.append((words, (left, y - 0.78 * size, left + width, y + 0.2 * size)))


def _draw_part(drawing, part):
    for kind, *rest in shape(part):
        if kind in ("line", "bold", "dash", "shape", "solid"):
            points = [place(part, x, y) for x, y in rest[0]]
            if kind in ("shape", "solid"):
                drawing.shape(points, kind == "solid")
            else:
                drawing.line(points, 2.6 if kind == "bold" else 1.4, "3 2" if kind == "dash" else "")
        elif kind in ("disc", "ring"):
            x, y = place(part, rest[0], rest[1])
            drawing.disc(x, y, rest[2], kind == "ring")
        elif kind == "text":
            x, y = place(part, rest[0], rest[1])
            drawing.text(x, y, rest[2], rest[3], 1.2)
        elif kind == "pin":
            x, y = place(part, rest[0], rest[1])
            drawing.text(x, y, rest[2], rest[3], 0.95, fill="#555555")
    for pin, (x, y) in part.places().items():
        if part.nets[pin] == "-":
            outward = 0.45
            drawing.line([(x - outward, y - outward), (x + outward, y + outward)])
            drawing.line([(x - outward, y + outward), (x + outward, y - outward)])


def _name_part(drawing, part):
    """Writes reference and value beside the symbol."""
    x, y = part.at
    if part.text is not None:
        dx, dy, anchor = part.text
        drawing.text(x + dx, y + dy, part.ref, anchor, weight="bold")
        drawing.text(x + dx, y + dy + 1.5, part.value, anchor, 1.2)
    elif part.symbol in ("opamp", "comparator"):
        drawing.text(x - 0.6, y + 0.4, part.ref, "middle", weight="bold")
        drawing.text(x + 0.4, y + 3.2, part.value, size=1.2)
    elif part.symbol == "box":
        drawing.text(x, y - part.size[1] / 2 - 2.0, part.ref, "middle", weight="bold")
        drawing.text(x, y - part.size[1] / 2 - 0.5, part.value, "middle", 1.2)
    elif part.symbol == "testpoint":
        row = y + (1.6 if part.turn == 180 else -0.7)
        drawing.text(x + 0.9, row, part.ref, weight="bold")
        drawing.text(x + 1.3 + 0.75 * 1.25 * len(part.ref), row, part.value, size=1.2)
    elif part.symbol in ("nmos", "pmos"):
        drawing.text(x + 3.2, y - 0.2, part.ref, weight="bold")
        drawing.text(x + 3.2, y + 1.3, part.value, size=1.2)
    elif part.turn in (90, 270):
        drawing.text(x + 1.5, y - 0.2, part.ref, weight="bold")
        drawing.text(x + 1.5, y + 1.3, part.value, size=1.2)
    else:
        tall = part.symbol in ("capacitor", "diode", "schottky", "zener")
        above = 2.3 if part.symbol in ("cutout", "button", "led") else 1.5 if tall else 1.2
        drawing.text(x, y - above, part.ref, "middle", weight="bold")
        drawing.text(x, y + (2.4 if tall else 2.1), part.value, "middle", 1.2)


def _draw_flag(drawing, net, point, direction, others):
    x, y = point
    if net == GROUND:
        drawing.line([(x, y), (x, y + 0.6)])
        for row, half in ((0.6, 1.0), (1.0, 0.65), (1.4, 0.3)):
            drawing.line([(x - half, y + row), (x + half, y + row)])
    elif net.startswith("+"):
        sign = -1 if direction == "up" else 1
        drawing.line([(x, y), (x, y + 0.8 * sign)])
        drawing.line([(x - 1, y + 0.8 * sign), (x + 1, y + 0.8 * sign)], 2.6)
        drawing.text(x, y + (-1.3 if sign < 0 else 2.2), net, "middle", weight="bold")
    else:
        sign = 1 if direction == "right" else -1
        drawing.line([(x, y - 0.5), (x + 0.6 * sign, y), (x, y + 0.5), (x, y - 0.5)])
        leads_to = f" ({', '.join(str(number) for number in others)})" if others else ""
        drawing.text(x + 1.0 * sign, y + 0.45, net + leads_to, "start" if sign > 0 else "end", 1.2)


def _area(sheet):
    """Returns left, top, right and bottom of the paper: the drawing, room for flags beside it, the title block below."""
    width, height = sheet.size
    return -9, 0, width + 5, height + 7


def _draw_frame(drawing, circuit, sheet):
    """Draws the frame with its zones (letters down, numbers across) and the title block, after the manner of ISO 5457 and 7200."""
    left, top, right, bottom = _area(sheet)
    x1, y1, x2, y2 = left + 2, top + 2, right - 2, bottom - 2
    drawing.line([(left, top), (right, top), (right, bottom), (left, bottom), (left, top)], 1.0)
    drawing.line([(x1, y1), (x2, y1), (x2, y2), (x1, y2), (x1, y1)], 2.0)
    for count, across in ((round((x2 - x1) / 25), True), (round((y2 - y1) / 25), False)):
        span = (x2 - x1 if across else y2 - y1) / count
        for number in range(count):
            middle, edge, name = (number + 0.5) * span, number * span, str(number + 1) if across else "ABCDEFGH"[number]
            for near, far in ((left, x1), (x2, right)) if not across else ((top, y1), (y2, bottom)):
                if across:
                    drawing.text(x1 + middle, (near + far) / 2 + 0.4, name, "middle", 1.1)
                    if number:
                        drawing.line([(x1 + edge, near), (x1 + edge, far)], 1.0)
                else:
                    drawing.text((near + far) / 2, y1 + middle + 0.4, name, "middle", 1.1)
                    if number:
                        drawing.line([(near, y1 + edge), (far, y1 + edge)], 1.0)
    height, cells = 4, ((26, "equipment", circuit.title), (44, "title", sheet.title), (14, "revision", circuit.revision),
                        (12, "sheet", f"{sheet.number} of {len(circuit.sheets)}"))
    drawing.line([(x1, y2 - height), (x2, y2 - height)], 1.4)
    x = x2
    for width, name, words in reversed(cells):
        x -= width
        drawing.line([(x, y2 - height), (x, y2)], 1.4)
        drawing.text(x + 0.8, y2 - height + 1.3, name, size=0.9, fill="#555555")
        drawing.text(x + 0.8, y2 - 0.8, words, size=1.4, weight="bold")


def draw(circuit, name):
    """Draws a sheet and returns the `Drawing`."""
    sheet = circuit.sheets[name]
    drawing = Drawing()
    _draw_frame(drawing, circuit, sheet)
    for x1, y1, x2, y2, title in sheet.frames:
        drawing.line([(x1, y1), (x2, y1), (x2, y2), (x1, y2), (x1, y1)], 1.0, "8 5")
        drawing.text(x1 + 1, y1 + 1.8, title, size=1.2, fill="#555555")
    for wire in sheet.wires:
        drawing.line(wire)
    for part in circuit.parts.values():
        if part.sheet == name:
            _draw_part(drawing, part)
            _name_part(drawing, part)
    for net, point, direction in sheet.flags:
        _draw_flag(drawing, net, point, direction, circuit.elsewhere(net, name))
    for net, (x, y) in sheet.labels:
        drawing.text(x + 0.2, y - 0.4, net, size=1.0, fill="#333333")
    for x, y in sorted(joints(circuit, sheet)):
        drawing.disc(x, y, 0.28)
    for note in sheet.notes:
        where, _, words = note.partition(" ")
        x, y = (float(number) for number in where.split(","))
        drawing.text(x, y, words, size=1.15, fill="#333333")
    return drawing


def svg(circuit, name):
    """Returns the sheet as an SVG document."""
    left, top, right, bottom = (side * STEP for side in _area(circuit.sheets[name]))
    width, height = right - left, bottom - top
    head = (f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="{left} {top} {width} {height}" width="{width}" height="{height}" '
            'font-family="DejaVu Sans, Liberation Sans, Arial, sans-serif">')
    paper = f'<rect x="{left}" y="{top}" width="{width}" height="{height}" fill="#ffffff"/>'
    return "\n".join([head, paper, *draw(circuit, name).out, "</svg>"]) + "\n"


def _body(part):
    """Returns the extent of the symbol without its leads, in grid steps on the sheet."""
    points = []
    for kind, *rest in shape(part):
        if kind in ("bold", "shape", "solid"):
            points += rest[0]
        elif kind == "ring":
            points += [(rest[0] - rest[2], rest[1] - rest[2]), (rest[0] + rest[2], rest[1] + rest[2])]
    if not points:  # a contact of lines only: its moving part
        points = [point for kind, *rest in shape(part) if kind == "line" for point in rest[0][1:-1] or rest[0] if point not in pin_places(part).values()]
    xs, ys = zip(*(place(part, x, y) for x, y in points))
    return min(xs), min(ys), max(xs), max(ys)


def _overlap(a, b):
    return a[0] < b[2] and b[0] < a[2] and a[1] < b[3] and b[1] < a[3]


def body_faults(circuit, name):
    """Returns a sentence for each wire that runs through a symbol and for each two symbols that lie on each other."""
    bodies = [(part.ref, _body(part)) for part in circuit.parts.values() if part.sheet == name]
    faults = []
    for number, (ref, body) in enumerate(bodies):
        for wire in circuit.sheets[name].wires:
            if any(_crosses(a, b, body) for a, b in zip(wire, wire[1:])):
                faults.append(f"sheet {name}: a wire runs through {ref}")
        faults += [f"sheet {name}: {ref} lies on {other}" for other, place_of_other in bodies[number + 1:] if _overlap(body, place_of_other)]
    return faults


def reading_faults(circuit, name):
    """Returns a sentence for each text that lies on another text, on a line or outside the sheet."""
    drawing = draw(circuit, name)
    left, top, right, bottom = _area(circuit.sheets[name])
    faults = body_faults(circuit, name)
    for number, (words, box) in enumerate(drawing.texts):
        if box[0] < left + 0.3 or box[1] < top + 0.3 or box[2] > right - 0.3 or box[3] > bottom - 0.3:
            faults.append(f"sheet {name}: the text {words!r} leaves the sheet")
        for other, place_of_other in drawing.texts[number + 1:]:
            if _overlap(box, place_of_other):
                faults.append(f"sheet {name}: the text {words!r} lies on the text {other!r}")
        if any(_crosses(a, b, box) for a, b in drawing.lines):
            faults.append(f"sheet {name}: the text {words!r} lies on a line")
    return faults


def _crosses(a, b, box):
    """Tells whether the line from a to b passes through the box, by walking along it."""
    count = int(max(abs(a[0] - b[0]), abs(a[1] - b[1])) * 10) + 1
    for step in range(count + 1):
        x = a[0] + (b[0] - a[0]) * step / count
        y = a[1] + (b[1] - a[1]) * step / count
        if box[0] < x < box[2] and box[1] < y < box[3]:
            return True
    return False
