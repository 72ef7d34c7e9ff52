"""Turns the program (an ELF file) into the file that the board's boot program takes over USB (UF2).

    make_uf2.py PROGRAM [OUTPUT]        OUTPUT is PROGRAM with .uf2 at its end, where none is given

The format is the one described in the UF2 specification, from memory: blocks of 512 bytes, each with its address,
256 bytes of content, its number and three marks. Addresses that the program does not fill are padded with 0xFF
inside a block and left out between blocks.
"""

import struct
import sys
from pathlib import Path

FAMILY = 0xE48BFF59  # RP2350, Arm, secure (chip's data sheet, from memory)
FIRST_MARK, SECOND_MARK, LAST_MARK = 0x0A324655, 0x9E5D5157, 0x0AB16F30
HAS_FAMILY = 0x2000
CONTENT = 256
FLASH = range(0x1000_0000, 0x1010_0000)  # as in memory.x


def segments(elf):
    """Gives (address in flash, bytes) of everything that is to be loaded."""
    if elf[:6] != b"\x7fELF\x01\x01":
        raise SystemExit("this is no 32-bit little-endian ELF file")
    (table,) = struct.unpack_from("<I", elf, 28)
    size, count = struct.unpack_from("<HH", elf, 42)
    for index in range(count):
        kind, offset, _, address, length = struct.unpack_from("<5I", elf, table + index * size)
        if kind == 1 and length:
            yield address, elf[offset : offset + length]


def blocks(elf):
    """Gives {address: 256 bytes}."""
    pages = {}
    for address, content in segments(elf):
        if address not in FLASH or address + len(content) - 1 not in FLASH:
            raise SystemExit(f"{len(content)} bytes at {address:#x} lie outside the flash")
        for index, byte in enumerate(content, address):
            page = pages.setdefault(index - index % CONTENT, bytearray(b"\xff" * CONTENT))
            page[index % CONTENT] = byte
    return pages


def uf2(elf):
    """Gives the whole file."""
    pages = sorted(blocks(elf).items())
    out = bytearray()
    for number, (address, content) in enumerate(pages):
        head = (FIRST_MARK, SECOND_MARK, HAS_FAMILY, address, CONTENT, number, len(pages), FAMILY)
        out += struct.pack("<8I", *head) + content.ljust(476, b"\0") + struct.pack("<I", LAST_MARK)
    return bytes(out)


def main():
    if len(sys.argv) not in (2, 3):
        raise SystemExit(__doc__)
    program = Path(sys.argv[1])
    output = Path(sys.argv[2]) if len(sys.argv) == 3 else program.with_name(program.name + ".uf2")
    output.write_bytes(uf2(program.read_bytes()))
    print(output.resolve())


if __name__ == "__main__":
    main()
