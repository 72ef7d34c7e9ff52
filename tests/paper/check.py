#!/usr/bin/env python3
"""Labels and reports of the demo's cells, as the program writes them, read by programs that share nothing with it.

    tests/paper/check.py PROGRAM     PROGRAM: celltriage, built with the feature `paper`

Codes by dmtxread (libdmtx) and zbarimg (zbar); PDF by qpdf --check, pdftotext and pdfinfo (poppler). qpdf looks at syntax and
streams; whether a file keeps PDF/A-2a and PDF/UA-1 to the last rule only a validator for them tells, and none is among Debian's packages.
"""
import html
import os
import pathlib
import re
import subprocess
import sys
import tempfile
import time

SIZES = [(50, 30), (62, 100), (40, 40)]
# A cell for each fate: reuse, recycled, swollen and quarantined, undecided.
CELLS = ["PE-0401", "PE-0402", "PE-0404", "PE-0408"]


def said(*command, **more):
    return subprocess.run([str(word) for word in command], check=True, capture_output=True, text=True, **more).stdout


def squeezed(text):
    """Letters alone: lines are broken in other places in other forms."""
    return re.sub(r"\s+", "", text)


class Shop:
    def __init__(self, program, folder):
        self.program, self.folder = program, folder
        self.around = {**os.environ, "CELLTRIAGE_BOOK": str(folder / "book.sqlite")}
        said(program, "demo", "--out", folder, env=self.around)

    def run(self, *words):
        return said(self.program, *words, env=self.around)

    def twice(self, name, *words):
        """Writes a file twice; returns its path where both are the same."""
        bytes_of = []
        for _ in range(2):
            path = self.folder / name
            self.run(*words, path)
            bytes_of.append(path.read_bytes())
        if bytes_of[0] != bytes_of[1]:
            raise SystemExit(f"{name} is another file the second time")
        return path


def check_label(shop, cell):
    """All sizes and both codes as PNG and PDF; returns how many codes were read."""
    tag = shop.run("tag", cell).strip()
    words = shop.run("label", cell).splitlines()
    read = 0
    for width, height in SIZES:
        for dpi in (203, 300):
            for code in ("data-matrix", "qr"):
                size = ["label", cell, "--width-mm", width, "--height-mm", height, "--dpi", dpi, "--code", code]
                picture = shop.twice("label.png", *size, "--png")
                reader = ["dmtxread", "-N1"] if code == "data-matrix" else ["zbarimg", "-q", "--raw"]
                found = said(*reader, picture).strip()
                assert found == tag, f"{cell} {width} x {height} mm at {dpi} dpi, {code}: read {found!r}, not {tag!r}"
                paper = shop.twice("label.pdf", *size, "--pdf")
                said("qpdf", "--check", paper)
                text = squeezed(said("pdftotext", "-raw", paper, "-"))
                assert all(squeezed(line) in text for line in words), f"{cell}: {words} are not all in {text}"
                read += 1
    return read


def check_report(shop, cell):
    """PDF and page of a report hold the same words; returns the pages of the PDF."""
    paper = shop.twice("report.pdf", "report", cell, "--pdf")
    page = shop.twice("report.html", "report", cell, "--html").read_text()
    assert "http://" not in page and "https://" not in page and "<script" not in page, "the page loads something"
    said("qpdf", "--check", paper)
    about = said("pdfinfo", paper)
    assert re.search(r"Tagged:\s+yes", about) and re.search(r"Page size:.*A4", about), about
    text = squeezed(said("pdftotext", "-raw", paper, "-"))
    body = re.sub(r"<svg.*?</svg>|<style>.*?</style>", "", page.split("<body", 1)[1], flags=re.S)
    for node in re.split(r"<[^>]*>", body.split(">", 1)[1]):
        words = squeezed(html.unescape(node))
        # What stands above everything else is written in capitals on paper.
        assert words in text or words.upper() in text, f"{cell}: {html.unescape(node)!r} is not in the PDF"
    return int(re.search(r"Pages:\s+(\d+)", about)[1])


def main(program):
    with tempfile.TemporaryDirectory() as folder:
        shop = Shop(pathlib.Path(program).resolve(), pathlib.Path(folder))
        read = sum(check_label(shop, cell) for cell in CELLS)
        pages = [check_report(shop, cell) for cell in CELLS]
        times = []
        for words in (["label", CELLS[0], "--png", shop.folder / "x.png"], ["report", CELLS[0], "--pdf", shop.folder / "x.pdf"]):
            began = time.monotonic()
            shop.run(*words)
            times.append(round((time.monotonic() - began) * 1000))
        print(f"{read} codes read, {read + len(CELLS)} PDF checked by qpdf and read by pdftotext; pages of the reports: {pages}")
        print(f"a label in {times[0]} ms, a report in {times[1]} ms, start of the program and reading of the book with them")


if __name__ == "__main__":
    main(sys.argv[1])
