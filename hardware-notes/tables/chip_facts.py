"""Compares chip_facts.toml with the constants of the code, and renders the pages of facts and sources.

`faults` tells where a fact has no source, a constant is in no fact, one is not what its fact says, or a number stands outside a
constant; `text` gives the tables of chip_facts.md, `share` how many facts have two sources.
"""

import ast
import tomllib
from pathlib import Path

import rust_constants
from block import table

ROOT = Path(__file__).resolve().parents[2]
SOURCE = ROOT / "hardware-notes" / "chip_facts.toml"
SEEN = ("read", "excerpt", "memory")
KEYS = {"what", "value", "used", "first"}
MAY_HAVE = {"second", "waits"}


def read():
    """Returns the file as it stands."""
    with open(SOURCE, "rb") as file:
        return tomllib.load(file)


def faults(data=None, files=None):
    """Returns a sentence for each fault; takes the table and the code's files for a trial with others."""
    data = data or read()
    files = files or {alias: (ROOT / path).read_text(encoding="utf-8") for alias, path in data["file"].items()}
    constants = {alias: rust_constants.read(text) for alias, text in files.items()}
    found, claimed = [], set()
    for own in data["own"]:
        for name in own["names"]:
            claimed.add((own["file"], name))
            if name not in constants[own["file"]]:
                found.append(f"chip_facts.toml: [[own]] names {name}, which {data['file'][own['file']]} does not have")
    for fact in facts(data):
        found += _source_faults(fact, data["source"])
        for use in fact["used"]:
            found += _use_faults(fact, use, constants, files, claimed)
    for alias, named in constants.items():
        found += [f"{data['file'][alias]}: {name} = {named[name]} is in no fact of chip_facts.toml; give it one with its sources, or say under [[own]] why it is none"
                  for name in named if (alias, name) not in claimed]
        if alias not in data["free"]["files"]:
            found += [f"{data['file'][alias]}: {number} stands outside a constant: name it" for number in rust_constants.loose_numbers(files[alias])]
    return found


def facts(data):
    """Returns all facts."""
    return [fact for chip in data["chip"] for fact in chip["fact"]]


def _source_faults(fact, sources):
    what = fact.get("what", "?")
    if set(fact) - MAY_HAVE != KEYS:
        return [f"chip_facts.toml: {what}: keys {sorted((set(fact) - MAY_HAVE) ^ KEYS)} are missing or unknown"]
    found = []
    for place in ("first", "second"):
        cited = fact.get(place)
        if cited and (cited[0] not in sources or not cited[1] or _seen(cited, sources) not in SEEN):
            found.append(f"chip_facts.toml: {what}: the {place} source is not one of [source], or has no place in it")
    if not found and "second" in fact and _by(fact["first"], sources) == _by(fact["second"], sources):
        found.append(f"chip_facts.toml: {what}: both sources are of {_by(fact['first'], sources)}; that is one")
    if not fact["used"] and not fact.get("waits"):
        found.append(f"chip_facts.toml: {what}: nothing uses it, and it does not say what it waits for")
    return found


def _seen(cited, sources):
    return cited[2] if len(cited) > 2 else sources[cited[0]]["seen"]


def _by(cited, sources):
    return sources[cited[0]].get("by", cited[0])


def _use_faults(fact, use, constants, files, claimed):
    alias, _, rest = use.partition(" ")
    if alias not in files:
        return [f"chip_facts.toml: {fact['what']}: {alias!r} is not a file of [file]"]
    name, _, told = rest.partition(" = ")
    if not name:
        return []
    if name.startswith("fn "):
        return [] if name[3:] in rust_constants.functions(files[alias]) else [f"chip_facts.toml: {fact['what']}: {alias} has no {name}"]
    claimed.add((alias, name))
    if name not in constants[alias]:
        return [f"chip_facts.toml: {fact['what']}: {alias} has no constant {name}"]
    wanted = _plain(ast.literal_eval(told)) if told else fact["value"]
    if constants[alias][name] != wanted:
        return [f"chip_facts.toml: {fact['what']}: {alias} has {name} = {constants[alias][name]!r}, the fact says {wanted!r}"]
    return []


def _plain(value):
    return [_plain(entry) for entry in value] if isinstance(value, tuple | list) else value


def share(data=None):
    """Returns (facts, facts with two sources, facts of which both were read or quoted)."""
    data = data or read()
    two = [fact for fact in facts(data) if "second" in fact]
    both = [fact for fact in two if all(_seen(fact[place], data["source"]) != "memory" for place in ("first", "second"))]
    return len(facts(data)), len(two), len(both)


def _show(value):
    if isinstance(value, list):
        return ", ".join(_show(entry) for entry in value)
    if isinstance(value, int) and value >= 16 and (value & (value - 1) == 0 or value > 0xFFFF or value in (0x5449, 0x228, 0x2281)):
        return f"{value:,} = 0x{value:X}"
    return f"{value:,}" if isinstance(value, int) else f"{value:g}" if isinstance(value, float) else value


def _cite(cited, sources):
    seen = {"read": "", "excerpt": ", excerpt", "memory": ", from memory"}[_seen(cited, sources)]
    return f"`{cited[0]}` {cited[1]}{seen}"


def text():
    """Returns the share, a table for each chip and the table of sources."""
    data = read()
    every, two, both = share(data)
    parts = [f"{every} facts, all with a source; **{two} with a second one ({two / every * 100:.0f} %)**, of {both} ({both / every * 100:.0f} %) both "
             f"were read or seen quoted. {sum(1 for fact in facts(data) if not fact['used'])} wait for code that uses them."]
    for chip in data["chip"]:
        rows = [(fact["what"], _show(fact["value"]), ", ".join(f"`{use.partition(' = ')[0]}`" for use in fact["used"]) or "waits: " + fact["waits"],
                 _cite(fact["first"], data["source"]), _cite(fact["second"], data["source"]) if "second" in fact else "**one source**")
                for fact in chip["fact"]]
        parts.append(f"## {chip['name']}\n\n" + table(("fact", "value", "used in", "first source", "second source"), rows))
    parts.append("## Files\n\n" + table(("name", "file"), [(f"`{alias}`", path) for alias, path in data["file"].items()]))
    parts.append("## Sources\n\n" + table(("name", "document", "seen", "where"), [
        (f"`{name}`", source["document"], source["seen"], source["at"]) for name, source in data["source"].items()]))
    return "\n\n".join(parts)
