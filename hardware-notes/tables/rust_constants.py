"""Reads the constants of a Rust file, and of a linker's memory map, as Python values.

Takes the text; gives name -> value. A constant of a module is `module::NAME`, one of a type `Type::NAME`, an entry of an
enumeration with a number `Enumeration::Entry`. What is no number, list or range (a duration, a path) is given as its text.
Text after `#[cfg(test)]` does not count.
"""

import ast
import re

_BLOCK = re.compile(r"\b(?:mod|impl(?:<[^>]*>)?(?: [\w:<>]+ for)?|enum) (\w+)[^{;]*\{")
_CONSTANT = re.compile(r"\bconst (\w+): ([^=]+?) =\s*(.+?);\n", re.DOTALL)
_ENTRY = re.compile(r"^\s*(\w+) = (0x[0-9A-Fa-f_]+|\d[\d_]*),", re.MULTILINE)
_MEMORY = re.compile(r"^\s*(\w+)\s*: ORIGIN = (\w+), LENGTH = (\d+)([KM])", re.MULTILINE)
_ENDS = {"i16::MIN": -(1 << 15)}


def read(text):
    """Returns the constants of a file."""
    text = re.sub(r"//[^\n]*", "", text.partition("#[cfg(test)]")[0])
    found = {}
    blocks = [(match.end(), _closing(text, match.end()), match[0].split()[0].partition("<")[0], match[1]) for match in _BLOCK.finditer(text)]
    for match in _CONSTANT.finditer(text):
        if match[1] != "_":
            inside = [name for begin, end, kind, name in blocks if begin <= match.start() < end and kind in ("mod", "impl")]
            found["::".join([*inside, match[1]])] = _value(match[3], found)
    for begin, end, kind, name in blocks:
        if kind == "enum":
            found.update({f"{name}::{entry}": int(number.replace("_", ""), 0) for entry, number in _ENTRY.findall(text[begin:end])})
    for name, origin, length, unit in _MEMORY.findall(text):
        found[f"{name}.ORIGIN"] = int(origin, 0)
        found[f"{name}.LENGTH"] = int(length) << {"K": 10, "M": 20}[unit]
    return found


def loose_numbers(text):
    """Returns the hexadecimal and binary numbers that stand outside constants and enumerations."""
    text = re.sub(r"//[^\n]*", "", text.partition("#[cfg(test)]")[0])
    text = _ENTRY.sub("", _CONSTANT.sub("", text))
    return re.findall(r"\b0[xb][0-9A-Fa-f_]+\b", text)


def functions(text):
    """Returns the names of the functions of a file."""
    return set(re.findall(r"\bfn (\w+)", text.partition("#[cfg(test)]")[0]))


def _closing(text, begin):
    depth = 1
    for place in range(begin, len(text)):
        depth += {"{": 1, "}": -1}.get(text[place], 0)
        if depth == 0:
            return place
    return len(text)


def _value(expression, known):
    text = " ".join(expression.split())
    span = re.fullmatch(r"(-?[\d_]+)\.\.=(-?[\d_]+)", text)
    if span:
        return f"{int(span[1])}..={int(span[2])}"
    plain = re.sub(r" as \w+", "", text)
    for name, value in _ENDS.items():
        plain = plain.replace(name, str(value))
    try:
        return _number(ast.parse(plain.lstrip("&"), mode="eval").body, known)
    except (SyntaxError, KeyError, TypeError):
        return text


def _number(node, known):
    """Evaluates numbers, lists and the operators that constants use; anything else is refused by KeyError."""
    match node:
        case ast.Constant(value=int() | float() as value):
            return value
        case ast.Name(id=name):
            return known[name]
        case ast.List(elts=entries) | ast.Tuple(elts=entries):
            return [_number(entry, known) for entry in entries]
        case ast.UnaryOp(op=ast.USub(), operand=operand):
            return -_number(operand, known)
        case ast.BinOp(left=left, op=op, right=right):
            left, right = _number(left, known), _number(right, known)
            # Rust's shifts bind tighter than its other bit operators, as Python's do.
            return {"LShift": lambda: left << right, "BitOr": lambda: left | right, "Add": lambda: left + right,
                    "Sub": lambda: left - right, "Mult": lambda: left * right}[type(op).__name__]()
    raise KeyError(ast.dump(node))
