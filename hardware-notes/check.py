#!/usr/bin/env python3
"""Runs every check of the hardware notes and ends with "N passed, N failed"; exit 1 on any failure.

    python3 hardware-notes/check.py

Takes the files of this folder, protocol/src/limits.rs and the names of the repository's tests. Needs Python 3.11 and
ngspice; without ngspice the sink's checks fail, they are not left out. Each rule of the circuit is also tried on a
circuit spoiled on purpose, so that a rule that cannot fail is found.
"""

import re
import sys
import tempfile
from pathlib import Path

HERE = Path(__file__).resolve().parent
ROOT = HERE.parent
sys.path[:0] = [str(HERE), str(HERE / "circuit"), str(HERE / "tables"), str(HERE / "sink")]

import chip_facts  # noqa: E402
import draw  # noqa: E402
import electrical  # noqa: E402
import joining  # noqa: E402
import parts  # noqa: E402
import sense  # noqa: E402
import sheet  # noqa: E402
import sink_check  # noqa: E402

# What is spoiled in circuit.toml -> words that one of the faults found must hold.
SPOILED = [
    ('nets = { 1 = "+3V3", 2 = "SDA" }', 'nets = { 1 = "+5V", 2 = "SDA" }', "SDA has 0 pull-ups"),
    ("address = 0x49", "address = 0x48", "same address"),
    ('value = "3.9 kOhm"', 'value = "47 kOhm"', "erratum E9"),
    ('nets = { 1 = "ENABLE_GATE", 2 = "GND" }', 'nets = { 1 = "RELEASE", 2 = "GND" }', "joins the nets"),
    ('"16,32 R27.1"', '"16,32 R27.1", "20,20 60,20"', "runs through"),
    ('"X1.2 F1.1", ', "", "joined to the rest"),
    ('"F1.2 S2.1", ', '"F1.2 S2.1", "26,14 26,22", ', "joins the nets"),
    ('D = "DRAIN", S = "SOURCE"', 'D = "SOURCE", S = "DRAIN"', "load path is broken"),
    ('7 = "+9V" }', '7 = "CELL_VOLTS" }', "U1 has no supply"),
    ('value = "47 Ohm", at = [30, 22]', 'value = "4.7 Ohm", at = [30, 22]', "burn"),
    ('"GND D2.1 down", ', '"GND D2.1 down", "GND 80,13 down", ', "joins the nets"),
    ('at = [90, 24]', 'at = [90, 19]', "lies on"),
    ('value = "22 kOhm"\nat = [19, 20]', 'value = "24 kOhm"\nat = [19, 20]', "do not halve FORCE_POS"),
    ('nets = { 1 = "SOURCE_TAP", 2 = "LOOK_I" }', 'nets = { 1 = "SHUNT_OUT", 2 = "LOOK_I" }', "R33 does not lead from"),
]

# What is spoiled in the code that chip_facts.toml describes, by file -> words that the fault found must hold.
SPOILED_CODE = [
    ("D", "const LATCH: u16 = 1 << 15", "const LATCH: u16 = 1 << 14", "the fact says 32768"),
    ("D", "const VBUS: u8 = 0x05;", "const VBUS: u8 = 0x05;\nconst DIETEMP: u8 = 0x06;", "is in no fact"),
    ("S", "const STEPS: i64 = 4_096;", "", "has no constant STEPS"),
    ("thermometer", "=> IDENTITY", "=> 0x0117", "stands outside a constant"),
    ("T", "pub fn read(", "pub fn look(", "has no fn read"),
]


def check_spoiled(report):
    """Each spoiled circuit is refused with the words that name the mistake."""
    source = (HERE / "circuit" / "circuit.toml").read_text(encoding="utf-8")
    for before, after, words in SPOILED:
        if before not in source:
            report.check(False, f"check.py spoils {before!r}, which circuit.toml no longer has")
            continue
        with tempfile.TemporaryDirectory() as folder:
            path = Path(folder) / "circuit.toml"
            path.write_text(source.replace(before, after, 1), encoding="utf-8")
            try:
                circuit = parts.read(path)
                found = circuit_faults(circuit) + sense.faults(circuit)
            except (parts.CircuitError, ValueError) as error:
                found = [str(error)]
        report.check(any(words in fault for fault in found), f"a spoiled circuit is refused: {words}")


def check_spoiled_facts(report):
    """A constant that changed, came or went, a bare number, and a fact without or with one source twice are each found."""
    data = chip_facts.read()
    files = {alias: (ROOT / path).read_text(encoding="utf-8") for alias, path in data["file"].items()}
    for alias, before, after, words in SPOILED_CODE:
        found = chip_facts.faults(data, files | {alias: files[alias].replace(before, after, 1)})
        report.check(before in files[alias] and any(words in fault for fault in found), f"spoiled code is refused: {words}")
    for change, words in (({"first": ["nobody", "page 1"]}, "is not one of [source]"), ({"second": ["e2e", "the answer"]}, "that is one"),
                          ({"used": []}, "nothing uses it"), ({"first": None}, "are missing")):
        spoiled = chip_facts.read()
        fact = spoiled["chip"][0]["fact"][0]
        fact.update(change)
        if fact["first"] is None:
            del fact["first"]
        found = chip_facts.faults(spoiled, files)
        report.check(any(words in fault for fault in found), f"a spoiled fact is refused: {words}")
    every, two, both = chip_facts.share()
    print(f"      {every} chip facts, {two} with two sources ({two / every * 100:.0f} %), {both} of them read or seen quoted")


def circuit_faults(circuit):
    """Returns the faults of wires, readability and electrical rules."""
    reading = [fault for name in circuit.sheets for fault in sheet.reading_faults(circuit, name)]
    return joining.wiring_faults(circuit) + reading + electrical.faults(circuit)


def check_source(report, circuit):
    """The sources agree with each other, and what is rendered is fresh."""
    for words, found in (*draw.judgements(circuit), ("drawings, netlist and tables are fresh", draw.stale(circuit))):
        report.check(not found, words + "".join(f"\n      {fault}" for fault in found))


def tests_of_the_repository():
    """Returns the names of all Rust tests and of the checks that these notes run."""
    defined = set()
    for folder in ("protocol", "firmware", "host", "tests"):
        for path in (ROOT / folder).rglob("*.rs"):
            if "target" not in path.parts:
                defined.update(re.findall(r"#\[test\]\s*(?:#\[[^\]]*\]\s*)*fn ([a-z_0-9]+)\(", path.read_text(encoding="utf-8")))
    run = {check.__name__ for check in sink_check.CHECKS} | {"faults", "figures"}
    return defined | run | set(re.findall(r"for check in \((.+)\):", Path(electrical.__file__).read_text(encoding="utf-8"))[0].split(", "))


def check_hazards(report):
    """Every test that hazards.md names is one, every step exists; what only the built fixture or a rule can show is counted."""
    text = (HERE / "hazards.md").read_text(encoding="utf-8")
    rows = [line for line in text.splitlines() if line.startswith("| ")][2:]
    steps = set(re.findall(r"^\| (\d+) \|", (HERE / "first_power_up.md").read_text(encoding="utf-8"), re.MULTILINE))
    defined, wrong = tests_of_the_repository(), []
    for row in rows:
        shown = row.rstrip("| ").rsplit("|", 1)[-1]
        names = re.findall(r"`([a-z_0-9]+)`", shown)
        wrong += [f"{name} is no test" for name in names if name not in defined]
        wrong += [f"step {step} is not in first_power_up.md" for step in re.findall(r"step (\d+)", row) if step not in steps]
        if not names and "to be done on the built fixture" not in shown and "rule only" not in shown:
            wrong.append(f"nothing shows: {row[2:60]}")
    built, rules = sum("to be done on" in row for row in rows), sum("rule only" in row for row in rows)
    report.check(not wrong and len(rows) > 20, f"{len(rows)} hazards: every test named is one; {built} wait for the built fixture in part, {rules} rest on a rule"
                 + "".join(f"\n      {words}" for words in wrong))


def check_example(report):
    """The worked example of calibration.md gives what it says."""
    text = (HERE / "calibration.md").read_text(encoding="utf-8")
    raw1, raw2, meter1, meter2, gain, offset = (float(number) for number in re.search(
        r"raw ([\d.]+) V and ([\d.]+) V, meter ([\d.]+) V and ([\d.]+) V: gain (\d+) ppm, offset (-?\d+) uV", text).groups())
    back = [raw + raw * gain / 1e6 + offset / 1e6 for raw in (raw1, raw2)]
    report.check(abs(back[0] - meter1) < 5e-6 and abs(back[1] - meter2) < 5e-6,
                 f"the example of calibration.md gives back {back[0]:.5f} V and {back[1]:.5f} V")


def check_pages(report):
    """Links lead somewhere, no page promises, and none names a path of one machine."""
    dead, promises, paths = [], [], []
    for page in sorted(HERE.rglob("*.md")):
        text = page.read_text(encoding="utf-8")
        for link in re.findall(r"\]\(([^)#]+)", text):
            if not link.startswith("http") and not (page.parent / link).exists():
                dead.append(f"{page.name}: {link}")
        promises += [f"{page.name}: {words}" for words in re.findall(r"\b(?:is|are|now) (?:safe|compliant)\b", text)]
        paths += [f"{page.name}: {words}" for words in re.findall(r"(?:/home|/tmp|/work|/root)/\S+", text)]
    report.check(not dead, "every link leads to a file" + "".join(f"\n      {link}" for link in dead))
    report.check(not promises, "no page promises safety" + "".join(f"\n      {words}" for words in promises))
    report.check(not paths, "no page names a path of one machine" + "".join(f"\n      {words}" for words in paths))
    readme = (HERE / "README.md").read_text(encoding="utf-8")
    unlisted = [page.name for page in HERE.glob("*.md") if page.name != "README.md" and f"({page.name})" not in readme]
    report.check(not unlisted, "README.md lists every page" + "".join(f"\n      {name}" for name in unlisted))


def main():
    report = sink_check.Report()
    circuit = draw.load()
    check_source(report, circuit)
    check_spoiled(report)
    check_spoiled_facts(report)
    check_hazards(report)
    check_example(report)
    check_pages(report)
    try:
        for check in sink_check.CHECKS:
            check(report)
    except sink_check.Missing as error:
        report.check(False, str(error))
    print(f"{report.passed} passed, {report.failed} failed")
    return 1 if report.failed else 0


if __name__ == "__main__":
    try:
        sys.exit(main())
    except (parts.CircuitError, ValueError, OSError) as error:
        print(f"FAIL  {error}\n0 passed, 1 failed")
        sys.exit(1)
