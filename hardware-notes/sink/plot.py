"""Draws lines over two axes as SVG, with the Python standard library only.

Takes a title, the names of the axes and curves as (name, [(x, y), ...]); gives the SVG text. Long curves are thinned
to the extremes of each column of pixels, so that no peak is lost.
"""

from html import escape
from math import ceil

WIDTH, HEIGHT = 900, 420
LEFT, RIGHT, TOP, BOTTOM = 70, 20, 50, 60
# Four inks and dashes that can be told apart in black and white and by colour-blind readers.
STYLES = [("#1b4f9c", ""), ("#c8501e", "8 4"), ("#444444", "2 3"), ("#7a3b8f", "12 3 2 3")]


def _decade(power):
    return f"{10 ** (power % 3)}{' kMG'[power // 3].strip()}"


def _ticks(low, high):
    span = high - low
    step = next(s for s in (0.05, 0.1, 0.2, 0.5, 1, 2, 5, 10, 20, 50) if span / s <= 10)
    first = ceil(low / step - 1e-9) * step
    return [first + step * n for n in range(int((high - first) / step + 1.0001)) if low <= first + step * n <= high + 1e-9]


def lines(title, x_name, y_name, curves, decades=False):
    """Returns a plot as an SVG document; with `decades` x is the logarithm to the base ten of what is plotted."""
    xs = [x for _, points in curves for x, _ in points]
    ys = [y for _, points in curves for _, y in points]
    x_low, x_high, y_low, y_high = min(xs), max(xs), min(0.0, min(ys)), max(ys) * 1.08

    def spot(x, y):
        return (LEFT + (x - x_low) / (x_high - x_low) * (WIDTH - LEFT - RIGHT),
                HEIGHT - BOTTOM - (y - y_low) / (y_high - y_low) * (HEIGHT - TOP - BOTTOM))

    out = [f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDTH} {HEIGHT}" width="{WIDTH}" height="{HEIGHT}" '
           'font-family="DejaVu Sans, Liberation Sans, Arial, sans-serif" font-size="13">',
           f'<rect width="{WIDTH}" height="{HEIGHT}" fill="#ffffff"/>',
           f'<text x="{LEFT}" y="22" font-size="15" font-weight="bold">{escape(title)}</text>']
    for x in range(ceil(x_low - 1e-9), int(x_high) + 1) if decades else _ticks(x_low, x_high):
        at, _ = spot(x, 0)
        out.append(f'<line x1="{at:.1f}" y1="{TOP}" x2="{at:.1f}" y2="{HEIGHT - BOTTOM}" stroke="#dddddd"/>')
        out.append(f'<text x="{at:.1f}" y="{HEIGHT - BOTTOM + 18}" text-anchor="middle">{_decade(x) if decades else f"{x:g}"}</text>')
    for y in _ticks(y_low, y_high):
        _, at = spot(x_low, y)
        out.append(f'<line x1="{LEFT}" y1="{at:.1f}" x2="{WIDTH - RIGHT}" y2="{at:.1f}" stroke="{"#888888" if abs(y) < 1e-9 else "#dddddd"}"/>')
        out.append(f'<text x="{LEFT - 8}" y="{at + 4:.1f}" text-anchor="end">{y:g}</text>')
    out.append(f'<text x="{(LEFT + WIDTH - RIGHT) / 2}" y="{HEIGHT - 14}" text-anchor="middle">{escape(x_name)}</text>')
    out.append(f'<text x="18" y="{(TOP + HEIGHT - BOTTOM) / 2}" text-anchor="middle" '
               f'transform="rotate(-90 18 {(TOP + HEIGHT - BOTTOM) / 2})">{escape(y_name)}</text>')
    for number, (name, points) in enumerate(curves):
        ink, dash = STYLES[number % len(STYLES)]
        path = " ".join(f"{x:.1f},{y:.1f}" for x, y in _thin([spot(x, y) for x, y in points]))
        out.append(f'<polyline points="{path}" fill="none" stroke="{ink}" stroke-width="1.8" stroke-dasharray="{dash}"/>')
        x = LEFT + (WIDTH - LEFT - RIGHT) // max(3, len(curves)) * number
        out.append(f'<line x1="{x}" y1="38" x2="{x + 34}" y2="38" stroke="{ink}" stroke-width="2.4" stroke-dasharray="{dash}"/>')
        out.append(f'<text x="{x + 42}" y="42">{escape(name)}</text>')
    return "\n".join([*out, "</svg>"]) + "\n"


def _thin(points):
    columns = {}
    for point in points:
        columns.setdefault(int(point[0]), []).append(point)
    kept = []
    for column in columns.values():
        extremes = {column[0], column[-1], min(column, key=lambda p: p[1]), max(column, key=lambda p: p[1])}
        kept += [point for point in column if point in extremes]
    return kept
