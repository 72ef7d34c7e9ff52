"""Works out what the trace of a procedure must be graded to, from the noise-free solution and nothing else.

Takes the pieces of a run; gives the content of a truth file. Names are those of the program's `estimates`.

`required`     the trace was made for these: they must be reported and must be right.
`if_reported`  the trace holds these as well, if less well: they may be left out, but must not be wrong.
`absent`       the trace cannot show these: a value here would be invented.

Definitions: two-level resistance = (U1 - U2) / (I2 - I1) with U1 at the end of 0.2 It and U2 at the end of 1.0 It
(IEC 61960-3, from memory). Resistance at an instant = voltage lost since rest / current, at that time after the load
came on from rest. Capacity = charge counted from full until 3.0 V is reached. Rest voltage = the last before the load.
"""

from __future__ import annotations

from dataclasses import dataclass

from procedures import Piece

INSTANTS = {"resistance_100ms_ohm": 0.1, "resistance_1s_ohm": 1.0, "resistance_10s_ohm": 10.0}
"""Names of the resistances at an instant and their time (s) after the load came on."""


@dataclass(frozen=True)
class Truth:
    """What a trace must be graded to; the fields are explained above."""

    required: dict[str, float]
    if_reported: dict[str, float]
    absent: list[str]


def rest_v(pieces: list[Piece]) -> float:
    """Returns the voltage (V) at the end of the rest before the load."""
    return pieces[0].voltage_v(pieces[0].duration_s).item()


def instants_ohm(pieces: list[Piece]) -> dict[str, float]:
    """Returns the resistances (ohm) at 100 ms, 1 s and 10 s of the first load."""
    return {name: pieces[1].resistance_ohm(rest_v(pieces), time_s) for name, time_s in INSTANTS.items()}


def two_level_ohm(pieces: list[Piece]) -> float:
    """Returns the resistance (ohm) between the ends of the two load levels."""
    low, high = pieces[1], pieces[2]
    drop_v = low.voltage_v(low.duration_s).item() - high.voltage_v(high.duration_s).item()
    return drop_v / (high.current_a - low.current_a)


def capacity_ah(pieces: list[Piece]) -> float:
    """Returns the charge (Ah) drawn by the first load."""
    return pieces[1].current_a * pieces[1].duration_s / 3600


def of_two_level(pieces: list[Piece]) -> Truth:
    """Returns the truth of a two-level trace."""
    return Truth(
        required={"rest_voltage_v": rest_v(pieces), "resistance_dc_ohm": two_level_ohm(pieces)},
        if_reported=instants_ohm(pieces),
        absent=["capacity_ah", "capacity_fraction"],
    )


def of_pulse(pieces: list[Piece]) -> Truth:
    """Returns the truth of a single-pulse trace."""
    return Truth(
        required={"rest_voltage_v": rest_v(pieces), **instants_ohm(pieces)},
        if_reported={},
        absent=["resistance_dc_ohm", "capacity_ah", "capacity_fraction"],
    )


def of_full_discharge(pieces: list[Piece]) -> Truth:
    """Returns the truth of a full-discharge trace; at one row per second it holds nothing about 100 ms."""
    instants = instants_ohm(pieces)
    del instants["resistance_100ms_ohm"]
    return Truth(
        required={"rest_voltage_v": rest_v(pieces), "capacity_ah": capacity_ah(pieces)},
        if_reported=instants,
        absent=["resistance_dc_ohm", "resistance_100ms_ohm"],
    )
