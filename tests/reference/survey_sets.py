"""The published cells of the survey: six parameter sets of PyBaMM, from five laboratories, of four chemistries.

Gives for each its label and what was added to it. Every set has a contact resistance of zero and hardly any ohmic part,
so each carries a series resistance of 0.034 Ohm.Ah over its rated capacity (15 mOhm on 2.28 Ah): chosen to bring the
total near that of real cells, no measured property. Two published cells are single electrode pairs of a fraction of an
ampere-hour; several of them side by side make a cell the fixture can load. Where a set has no double-layer capacitance
it gets the 0.2 F/m2 of the others.

The state of charge runs between the published voltage limits. None of these sets is a phone cell of 4.35 V or more.
"""

from __future__ import annotations

from cells import AI2020, ParameterSet, Variant

SERIES_OHM_AH = 0.034

DOUBLE_LAYERS = tuple(
    (f"{electrode} electrode double-layer capacity [F.m-2]", 0.2) for electrode in ("Positive", "Negative")
)

PUBLISHED = (
    AI2020,  # cobalt oxide, pouch
    ParameterSet("Chen2020", "nmc", 5.0, 4.2, 2.5),  # cylindrical
    ParameterSet("Ecker2015", "nmc", 16 * 0.15625, 4.2, 2.5, parallel=16, added=DOUBLE_LAYERS),  # pouch
    ParameterSet("Marquis2019", "lco", 4 * 0.680616, 4.1, 3.105, parallel=4),  # pouch
    ParameterSet("OKane2022", "nmc", 5.0, 4.2, 2.5),  # as Chen2020, other electrolyte and diffusion
    ParameterSet("Prada2013", "lfp", 2.3, 3.6, 2.0),  # cylindrical
)

SETS = {
    published.name: Variant(
        name=published.name,
        description="as published, with a series resistance",
        series_ohm=SERIES_OHM_AH / published.rated_ah,
        published=published,
    )
    for published in PUBLISHED
}
