#!/usr/bin/env python3
"""The seals of the book worked out apart from the program, for the tests of host/book/src/seal.rs and recording.rs."""
import hashlib


def field(value):
    value = value.encode() if isinstance(value, str) else value
    return len(value).to_bytes(8, "little") + value


def integer(value):
    return value.to_bytes(8, "little", signed=True)


def optional(value):
    return integer(0) if value is None else integer(1) + field(value)


def sha(data):
    return hashlib.sha256(data).digest()


zero = bytes(32)
chunks = sha(field("celltriage book chunks 2") + field(sha(b"first")) + field(sha(b" second")))
print("chunks", chunks.hex())

trace = sha(b"trace")
personal = sha(field("celltriage book personal 1") + field(bytes([9] * 16)) + field("M. Orme"))
entry = b"".join([
    field("celltriage book entry 2"), field(bytes([3] * 16)), field(zero), integer(7), field(bytes([1] * 16)), integer(7),
    integer(1), field("assessment"), optional(None), optional(None), field("sound"), field("celltriage 0.1.0"),
    field(sha(b"{}")), field(sha(b"{}")), optional(None), integer(0), field(zero),
    integer(1), field("cell"), field("C-1"),
    integer(1), field(personal),
    integer(1), field("a"), field("b"), field(trace),
    integer(1), integer(1), integer(2), field("C-1"), field(trace),
])
print("entry", sha(entry).hex())
