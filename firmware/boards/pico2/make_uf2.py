"""Turns the program (an ELF file) into the file that the board's boot program takes over USB (UF2).

    make_uf2.py PROGRAM [OUTPUT]        OUTPUT is PROGRAM with .uf2 at its end, where none is given

The format: UF2 specification (github.com/microsoft/uf2, README, read November 2026); blocks of 512 bytes, each with its
address, 256 bytes of content, its number and three marks. The file holds the flash from its start to the end of the program
without a gap; what the program does not fill is 0xFF.

The program is sealed: the room in its start block (src/image.rs) takes the load map of all but that block, and the SHA-256
over those pieces and the block's own first words. The boot program computes it at every start, also without secure boot, and
starts nothing whose digest differs (pico-bootrom-rp2350, varm_blocks.c, s_varm_crit_ram_trash_verify_block, read November
2026; names and numbers of items: pico-sdk, boot/picobin.h). So a file that was written in part, in whatever order, never runs.

The blocks are in an order of their own: first the rest of the sector that holds the start block, last the page with the start
block. The boot program erases a sector when the first page in it is written (usb_virtual_disk.c). So the old program's start
block is gone before anything else of it, also of a program that was not sealed.
"""

import hashlib
import struct
import sys
from pathlib import Path

FAMILY = 0xE48BFF59  # RP2350, Arm, secure: pico-sdk, boot/uf2.h, and uf2families.json of the specification
FIRST_MARK, SECOND_MARK, LAST_MARK = 0x0A324655, 0x9E5D5157, 0x0AB16F30
HAS_FAMILY = 0x2000
CONTENT = 256
SECTOR = 4096  # what is erased at once
FLASH = range(0x1000_0000, 0x1010_0000)  # as in memory.x

# The start block as it is linked: its mark, type (program, Arm, secure, RP2350), room of 18 words; and what the room takes.
START = 0xFFFF_DED3
UNSEALED = struct.pack("<3I", START, 0x1021_0142, 0x0000_12FE)
WORDS = 23
LOAD_MAP = 0x8200_0706  # absolute addresses, two pieces
HASH_DEF = 0x0100_0247  # SHA-256
HASHED_WORDS = 11  # of the block: up to and with HASH_DEF
HASH_VALUE = 0x0000_094B


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


def flash(elf):
    """Gives the content of the flash from its start to the end of the program's last page."""
    content = bytearray()
    for address, piece in segments(elf):
        if address not in FLASH or address + len(piece) - 1 not in FLASH:
            raise SystemExit(f"{len(piece)} bytes at {address:#x} lie outside the flash")
        at = address - FLASH.start
        content.extend(b"\xff" * (at + len(piece) - len(content)))
        content[at : at + len(piece)] = piece
    content.extend(b"\xff" * (-len(content) % CONTENT))
    return content


def seal(content):
    """Fills the room in the start block in; gives where the block lies."""
    at = content.find(UNSEALED, 0, SECTOR)
    if at < 0 or at % 4 or content.find(UNSEALED, at + 4) >= 0:
        raise SystemExit("the program has no start block with room for its digest, or more than one")
    begin, after, end = FLASH.start + at, FLASH.start + at + 4 * WORDS, FLASH.start + len(content)
    items = (LOAD_MAP, FLASH.start, FLASH.start, begin, after, after, end, HASH_DEF, HASHED_WORDS)
    struct.pack_into("<9I", content, at + 8, *items)
    hashed = content[:at] + content[at + 4 * WORDS :] + content[at : at + 4 * HASHED_WORDS]
    struct.pack_into("<I32s", content, at + 4 * HASHED_WORDS, HASH_VALUE, hashlib.sha256(hashed).digest())
    return at


def order(content, at):
    """Gives the pages' places in the order in which they are to be written."""
    last = set(range(at - at % CONTENT, at + 4 * WORDS, CONTENT))
    pages = [page for page in range(0, len(content), CONTENT) if page not in last]
    if not any(page < SECTOR for page in pages):
        raise SystemExit("the program is too short: its first sector holds nothing but the start block")
    # Backwards: the page with the block's mark comes after one with its rest.
    return pages + sorted(last, reverse=True)


def uf2(elf):
    """Gives the whole file."""
    content = flash(elf)
    pages = order(content, seal(content))
    out = bytearray()
    for number, page in enumerate(pages):
        head = (FIRST_MARK, SECOND_MARK, HAS_FAMILY, FLASH.start + page, CONTENT, number, len(pages), FAMILY)
        out += struct.pack("<8I", *head) + content[page : page + CONTENT].ljust(476, b"\0") + struct.pack("<I", LAST_MARK)
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
