"""Reads the constants of protocol/src/limits.rs, so that the notes' figures follow the code.

Gives name -> integer in the unit of the type (uV, uA, us, mdegC, uJ, uW). Reads the few forms that the file uses and
refuses any other.
"""

import re
from pathlib import Path

SOURCE = Path(__file__).resolve().parents[2] / "protocol" / "src" / "limits.rs"
SCALES = {"new": 1, "from_millivolts": 1_000, "from_milliamps": 1_000, "from_millis": 1_000, "from_secs": 1_000_000}


def read():
    """Returns all constants."""
    found = {}
    for line in SOURCE.read_text(encoding="utf-8").splitlines():
        match = re.match(r"pub const (\w+): [^=]+= (.+);$", line)
        if match:
            found[match[1]] = _evaluate(match[2])
    if len(found) < 20:
        raise ValueError(f"only {len(found)} constants were found in {SOURCE.name}")
    return found


def _evaluate(text):
    match = re.match(r"\w+::(\w+)\((.+)\)$", text)
    scale, text = (SCALES[match[1]], match[2]) if match else (1, text)
    product = scale
    for factor in text.split("*"):
        product *= int(factor.strip().replace("_", ""))
    return product
