"""Looks packages up in a copy of the RustSec advisory database: files of Markdown with a head of TOML."""
import re
import tomllib


def number(text):
    """A version as something that can be compared; what is released comes after its candidates."""
    core, _, candidate = text.strip().partition("-")
    parts = [int(part) for part in core.split("+")[0].split(".")]
    return (*parts, *[0] * (3 - len(parts)), candidate == "", candidate)


def meets(version, wanted):
    """Whether a version meets a requirement such as `>= 1.2, < 2` or `^1.4`."""
    def one(rule):
        sign, text = re.match(r"\s*(>=|<=|>|<|=|\^|~)?\s*(\S+)\s*$", rule).groups()
        low, have = number(text), number(version)
        if sign in (">=", "<=", ">", "<"):
            return {">=": have >= low, "<=": have <= low, ">": have > low, "<": have < low}[sign]
        if sign == "=":
            return have == low
        fixed = 2 if sign == "~" else next((i for i in range(3) if low[i]), 2) + 1
        return have >= low and have[:fixed] == low[:fixed]
    return all(one(rule) for rule in wanted.split(","))


def matching(folder, found):
    """Every advisory that holds for a package as it is used, in a line each."""
    lines, seen = [], 0
    for path in sorted(folder.glob("*/*.md")):
        head = re.search(r"```toml\n(.*?)```", path.read_text(), re.S)
        if not head:
            continue
        seen += 1
        told = tomllib.loads(head.group(1))
        advisory, versions = told["advisory"], told.get("versions", {})
        if "withdrawn" in advisory:
            continue
        fine = versions.get("patched", []) + versions.get("unaffected", [])
        for name, version in sorted(found):
            if name == advisory["package"] and not any(meets(version, rule) for rule in fine):
                lines.append(f"{advisory['id']} {name} {version} ({advisory.get('informational', 'vulnerability')})")
    assert seen > 500, f"only {seen} advisories were found below {folder}"
    return lines


assert meets("1.2.3", "^1.0") and not meets("2.0.0", "^1.0") and not meets("0.3.1", "^0.2") and meets("0.2.9", "^0.2.1")
assert meets("1.5.0", ">= 1.4, < 2") and not meets("1.4.0-rc.1", ">= 1.4.0") and meets("0.5.3", "~0.5.2")
