"""Runs sink.cir in ngspice with changed parameters or with a part spoiled.

`simulate` gives the course of time as rows (time, current, sunk, gate, drain); `loop` gives the gain around the loop over
frequency. A missing ngspice is a `Missing` error: the checks then fail, they are not left out.
"""

import re
import shutil
import subprocess
import tempfile
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

SOURCE = Path(__file__).resolve().parent / "sink.cir"
LOOP_CONTROL = """.control
op
let sunk_amps = v(sunk)
ac dec 60 100 30meg
wrdata sink.data vr(BEFORE) vi(BEFORE) vr(AFTER) vi(AFTER)
print op1.sunk_amps
.endc
.end
"""


class Missing(Exception):
    """ngspice is not there or did not finish."""


def netlist(changes, spoiled=()):
    """Returns the netlist with changed parameters; `spoiled` is a row of (part, "open", "short" or "gate")."""
    text = SOURCE.read_text(encoding="utf-8")
    for name, value in changes.items():
        text, count = re.subn(rf"(?<=[ ]){name}=\S+", f"{name}={value!r}", text, count=1)
        if count != 1:
            raise Missing(f"sink.cir has no parameter {name}")
    for part, how in spoiled:
        match = re.search(rf"^{part} (\S+) (\S+)( \S+)?", text, re.MULTILINE)
        if match is None:
            raise Missing(f"sink.cir has no part {part}")
        one, other = (match[1], match[3].strip()) if part.startswith("M") else (match[1], match[2])
        # "gate" joins drain and gate of a transistor.
        other = match[2] if how == "gate" else other
        line = f"Rspoiled{part} {one} {other} {'1g' if how == 'open' else '10m'}"
        if how == "open":
            text = text.replace(text[match.start():text.index("\n", match.start())], line, 1)
        else:
            text = text.replace(match[0], line + "\n" + match[0], 1)
    return text


def _run(text, what):
    if shutil.which("ngspice") is None:
        raise Missing("ngspice is missing: apt-get install ngspice")
    with tempfile.TemporaryDirectory() as folder:
        (Path(folder) / "case.cir").write_text(text, encoding="utf-8")
        run = subprocess.run(["ngspice", "-b", "case.cir"], cwd=folder, capture_output=True, text=True, timeout=120)
        data = Path(folder) / "sink.data"
        if not data.exists():
            raise Missing(f"ngspice gave no result for {what}: {run.stderr.strip()[-300:]}")
        rows = []
        for line in data.read_text(encoding="utf-8").splitlines():
            numbers = [float(word) for word in line.split()]
            rows.append((numbers[0], *numbers[1::2]))
    return rows, run.stdout


def simulate(spoiled=(), **changes):
    """Returns the rows (time, current, sunk, gate, drain) of 14 ms."""
    rows, _ = _run(netlist(changes, spoiled), f"{changes} {spoiled}")
    if not rows or rows[-1][0] < 13.9e-3:
        raise Missing(f"ngspice stopped early for {changes} {spoiled}")
    return rows


def loop(probe, **changes):
    """Returns (current at rest in A, [(frequency, gain around the loop as a complex number)]).

    `probe` is "amplifier" (behind the ideal output of U3: all loops at once) or "current" (between RS2 and R10: the outer
    loop alone). The test source sits behind a source without resistance or of 50 mOhm before 1 kOhm, so the ratio of the
    voltages at its two ends is the gain.
    """
    before, after = {"amplifier": ("out_ideal", "out_probe"), "current": ("strip", "strip_tap")}[probe]
    text = netlist({**changes, "probe_amplifier": int(probe == "amplifier"), "probe_current": int(probe == "current")})
    text = text[:text.index(".control")] + LOOP_CONTROL.replace("BEFORE", before).replace("AFTER", after)
    rows, words = _run(text, f"the loop with {changes}")
    amps = float(re.search(r"op1\.sunk_amps = (\S+)", words)[1])
    return amps, [(hertz, -complex(a, b) / complex(c, d)) for hertz, a, b, c, d in rows]


def every(function, cases):
    """Returns function(case) for all cases, two at a time."""
    with ThreadPoolExecutor(2) as pool:
        return list(pool.map(function, cases))
