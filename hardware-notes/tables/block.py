"""Keeps the computed part of a page: the lines between `<!-- computed -->` and `<!-- end -->`.

A page is written by hand around that block; `fill` puts fresh text into it, so that no figure is typed twice.
"""

BEGIN, END = "<!-- computed by draw.py: do not edit -->", "<!-- end of computed -->"


def fill(page, text):
    """Returns the page with its computed block replaced."""
    before, found, rest = page.partition(BEGIN)
    _, closed, after = rest.partition(END)
    if not found or not closed:
        raise ValueError(f"the page has no block {BEGIN} ... {END}")
    return f"{before}{BEGIN}\n{text.strip()}\n{END}{after}"


def table(head, rows):
    """Returns a Markdown table; the first column is aligned left, the rest as text."""
    lines = ["| " + " | ".join(head) + " |", "|" + " --- |" * len(head)]
    return "\n".join(lines + ["| " + " | ".join(str(cell) for cell in row) + " |" for row in rows])
