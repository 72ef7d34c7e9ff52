#!/usr/bin/env python3
"""The frozen bytes of wire version 2, worked out apart from the program, for tests/wire_v02.rs.

Written from the documents alone: postcard's wire format (varint with seven bits a byte, zigzag for signed numbers,
a variant as its index, an option and a result as one byte in front), CRC-32/ISO-HDLC as zlib has it, COBS by Cheshire and
Baker. Run it and compare: it prints the three lists of the test.
"""
import binascii


def varint(value):
    out = bytearray()
    while value >= 0x80:
        out.append(value & 0x7F | 0x80)
        value >>= 7
    out.append(value)
    return bytes(out)


def signed(value):
    return varint(value * 2 if value >= 0 else -value * 2 - 1)


def text(value):
    return varint(len(value)) + value.encode()


def some(value):
    return b"\x01" + value


NONE = b"\x00"


def ok(value):
    return b"\x00" + value


def err(number):
    return b"\x01" + varint(number)


def cobs(plain):
    out, block = bytearray(), bytearray()
    for byte in plain + b"\x00":
        if byte:
            block.append(byte)
            assert len(block) < 254, "these frames are short"
        else:
            out.append(len(block) + 1)
            out += block
            block.clear()
    return bytes(out)


def frame(channel, sequence, body):
    plain = bytes([2, channel]) + sequence.to_bytes(4, "little") + body
    plain += binascii.crc32(plain).to_bytes(4, "little")
    return (cobs(plain) + b"\x00").hex()


bounds = signed(2_800_000) + signed(40_000) + signed(6_000) + signed(9_000_000_000)
rest = varint(0) + varint(30_000_000) + varint(10_000) + varint(10) + bounds
hold = varint(1) + signed(600_000) + varint(10_000_000) + varint(1_000) + varint(1) + bounds
plan = varint(7) + signed(4_200_000) + varint(1) + varint(2) + rest + hold
# Chemistry 5 is iron phosphate.
label = varint(5) + some(signed(2_000_000))
bare_label = varint(0) + NONE
token = varint(0x0123_4567_89AB_CDEF)
trip = varint(1) + varint(8) + signed(45_080) + signed(45_000) + varint(123_456_789)
calibration = varint(3) + b"".join(
    signed(gain) + signed(offset) for gain, offset in [(-310, 120), (1_480, -55), (0, -40), (0, 15)])
# Sense point 3 is the connector; missing 0 is "not yet".
adapter = varint(41) + b"\x01" + varint(3) + ok(signed(12_500)) + err(0)
taps = varint(40_000_000) + varint(3) + ok(signed(3_700_000)) + err(4) + ok(signed(3_690_000))
gauge = (varint(40_000_000) + ok(signed(7_400_000)) + ok(signed(-1_000)) + ok(signed(23_000)) + ok(signed(9_000_000_000))
         + ok(signed(10_800_000_000)) + err(1) + ok(varint(312)) + ok(varint(0x8001)))

requests = [
    (1, varint(10)),                                                        # describe
    (4, varint(3) + varint(11) + varint(11) + label + plan),                # load
    (4, varint(3) + varint(12) + varint(11) + bare_label + varint(0) + signed(0) + varint(0) + varint(0)),
    (4, varint(3) + varint(13) + varint(12) + varint(7) + varint(2) + token),   # start
    (4, varint(3) + varint(14) + varint(13) + token),                       # keep running
    (4, varint(70_000) + varint(300) + varint(14) + token),                 # resume
    (4, varint(3) + varint(15) + varint(15)),                               # boot loader
    (4, varint(3) + varint(16) + varint(16) + adapter),                     # fit adapter
    (1, varint(17)),                                                        # read adapter
    (1, varint(18)),                                                        # read taps
    (1, varint(19)),                                                        # read gauge
    (4, varint(3) + varint(0) + varint(6)),                                 # read state
    (4, varint(3) + varint(17) + varint(3)),                                # stop
    (4, varint(3) + varint(18) + varint(7) + calibration),                  # calibrate
    (4, varint(3) + varint(19) + varint(4) + varint(1)),                    # acknowledge trip
]

described = (varint(1) + varint(2) + varint(3) + varint(19) + some(text("0123456789ab+")) + varint(0xFEDC_BA98_7654_3210)
             + some(text("A")) + some(varint(3)) + some(varint(2) + text("sequencer.rs:88")) + some(varint(1) + trip)
             + b"\x01\x00" + varint(2) + b"\x00")
unknown = (varint(1) + varint(2) + varint(0) + varint(0) + NONE + varint(1) + NONE + NONE + NONE + NONE
           + b"\x00\x00" + varint(0) + b"\x00")


def rejected(cause, asked, limit):
    return varint(3) + varint(cause) + signed(asked) + signed(limit)


replies = [
    (2, varint(6) + described),
    (2, varint(6) + unknown),
    (5, varint(3) + varint(7) + varint(2) + varint(300)),                   # loaded
    (5, varint(3) + varint(8) + varint(7) + varint(1) + some(varint(1)) + varint(4) + varint(300) + varint(90_000_000)),
    (5, varint(3) + varint(9) + adapter),
    (5, varint(3) + varint(10) + taps),
    (5, varint(3) + varint(11) + gauge),
    (5, varint(70_000) + varint(1)),                                        # done
    (2, rejected(18, 2, 0)),
    (5, varint(4) + rejected(19, 3, 4)),
    (5, varint(3) + rejected(20, 12, 19)),
    (5, varint(3) + rejected(21, 0, 0)),
    (5, varint(3) + rejected(22, 0, 7)),
    (5, varint(3) + rejected(23, 1, 2)),
    (5, varint(3) + rejected(24, 15, 0)),
    (5, varint(3) + rejected(25, 5_000_000, 4_200_000)),
]

events = [(3, varint(7) + taps)]

for name, first, frames in [("REQUESTS", 1, requests), ("REPLIES", 1, replies), ("EVENTS", 0x0102_0300, events)]:
    print(name)
    for number, (channel, body) in enumerate(frames):
        print(frame(channel, first + number, body))
