#!/usr/bin/env python3
"""Looks at every package of other people that the project is built from.

    tests/dependencies/check.py                      licences, what is known of them, the bill of materials
    tests/dependencies/check.py --advisories FOLDER  also looks each up in a copy of the RustSec advisory database (its
                                                     `crates` folder), and says what to write into known.toml

Fails where a licence is not among the allowed ones, where a package was added or renewed since the last look at the advisories,
and where known.toml speaks of a package that is not used any more, or of a file that is another. Writes target/sbom.cdx.json (CycloneDX 1.5).
"""
import hashlib
import json
import pathlib
import re
import subprocess
import sys
import tomllib

import advisories

ROOT = pathlib.Path(__file__).resolve().parents[2]
WORKSPACES = [".", "firmware/boards/pico2", "firmware/boards/emulated", "tests/emulator/log"]
# Licences that a program under MIT or Apache-2.0 may be built with. MPL-2.0 asks for the source of its own files only.
ALLOWED = {"MIT", "Apache-2.0", "Apache-2.0 WITH LLVM-exception", "BSD-2-Clause", "BSD-3-Clause", "BSL-1.0", "Zlib",
           "Unlicense", "Unicode-3.0", "MPL-2.0"}


def packages():
    """All packages from a registry in all lock files: (name, version) to licence and checksum."""
    found = {}
    for workspace in WORKSPACES:
        folder = ROOT / workspace
        text = subprocess.run(["cargo", "metadata", "--format-version", "1", "--locked"], cwd=folder, check=True,
                              capture_output=True, text=True).stdout
        lock = tomllib.loads((folder / "Cargo.lock").read_text())
        sums = {(one["name"], one["version"]): one.get("checksum") for one in lock["package"]}
        for one in json.loads(text)["packages"]:
            if one["source"]:
                key = (one["name"], one["version"])
                found[key] = {"licence": one.get("license") or "", "sha256": sums.get(key)}
    return found


def is_allowed(expression):
    """An SPDX expression: one side of each OR must be allowed whole. The old slash means OR."""
    words = re.findall(r"\(|\)|[^\s()]+", re.sub(r"\s*/\s*", " OR ", expression))
    at = 0

    def one():
        nonlocal at
        word = words[at]
        at += 1
        if word == "(":
            inside = either()
            at += 1
            return inside
        if words[at:at + 1] == ["WITH"]:
            word = f"{word} WITH {words[at + 1]}"
            at += 2
        return word in ALLOWED

    def both():
        nonlocal at
        good = one()
        while words[at:at + 1] == ["AND"]:
            at += 1
            good = one() and good
        return good

    def either():
        nonlocal at
        good = both()
        while words[at:at + 1] == ["OR"]:
            at += 1
            good = both() or good
        return good

    return bool(words) and either()


def faults_of_file(one):
    """What is wrong with a file of other people that lies in the project: its licence, its text, its bytes."""
    if not is_allowed(one["licence"]):
        yield f"{one['name']} {one['version']}: licence `{one['licence']}` is not among the allowed ones"
    if not (ROOT / one["text"]).is_file():
        yield f"{one['text']}: the licence of {one['name']} is missing"
    for path, digest in one["files"].items():
        if hashlib.sha256((ROOT / path).read_bytes()).hexdigest() != digest:
            yield f"{path}: not the file that known.toml names"


def bill(found, files):
    """The software bill of materials."""
    components = [{
        "type": "library", "name": name, "version": version, "purl": f"pkg:cargo/{name}@{version}",
        "licenses": [{"expression": re.sub(r"\s*/\s*", " OR ", what["licence"])}],
        **({"hashes": [{"alg": "SHA-256", "content": what["sha256"]}]} if what["sha256"] else {}),
    } for (name, version), what in sorted(found.items())]
    components += [{
        "type": "file", "name": path, "version": one["version"], "description": f"{one['name']}, from {one['from']}",
        "licenses": [{"expression": one["licence"]}], "hashes": [{"alg": "SHA-256", "content": digest}],
    } for one in files for path, digest in one["files"].items()]
    return {"bomFormat": "CycloneDX", "specVersion": "1.5", "version": 1,
            "metadata": {"component": {"type": "application", "name": "celltriage"}}, "components": components}


def digest(found):
    """Tells one set of packages from another."""
    return hashlib.sha256("\n".join(f"{name} {version}" for name, version in sorted(found)).encode()).hexdigest()[:16]


def main(arguments):
    for expression, good in [("MIT/Apache-2.0", True), ("(MIT OR GPL-3.0-only) AND Unicode-3.0", True), ("GPL-3.0-only", False),
                             ("MIT AND GPL-3.0-only", False), ("", False)]:
        assert is_allowed(expression) == good, expression
    found, faults = packages(), []
    known = tomllib.loads((pathlib.Path(__file__).parent / "known.toml").read_text())
    for (name, version), what in sorted(found.items()):
        if not is_allowed(what["licence"]):
            faults.append(f"{name} {version}: licence `{what['licence']}` is not among the allowed ones")
    files = known.get("file", [])
    faults += [fault for one in files for fault in faults_of_file(one)]
    names = {name for name, _ in found}
    for one in known["advisory"]:
        if one["package"] in names:
            print(f"known: {one['id']} {one['package']}: {one['what']}; {one['because']}")
        else:
            faults.append(f"known.toml: {one['package']} is not used any more; take it out")
    if arguments[:1] == ["--advisories"]:
        told = {one["id"] for one in known["advisory"]}
        matched = advisories.matching(pathlib.Path(arguments[1]), found)
        faults += [f"{one}: not in known.toml" for one in matched if one.split()[0] not in told]
        print(f"write into known.toml: packages = \"{digest(found)}\", with the day and commit of the database")
    elif known["looked_up"]["packages"] != digest(found):
        faults.append("packages were added or renewed since the last look at the advisories: run with --advisories")
    (ROOT / "target").mkdir(exist_ok=True)
    (ROOT / "target/sbom.cdx.json").write_text(json.dumps(bill(found, files), indent=1) + "\n")
    looked = known["looked_up"]
    print(f"{len(found)} packages, licences looked at; advisories of {looked['database']} looked at on {looked['on']}")
    for fault in faults:
        print(f"FAULT {fault}", file=sys.stderr)
    return 1 if faults else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
