"""Published values that a shop may replace, each with its source: defaults of ``ndi compute`` only.

Inside a record such a value comes from the procedure, never from here.
Constants that belong to a formula stand with the formula, not in this file.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from typing import Generic, TypeVar

Kind = TypeVar("Kind")


@dataclass(frozen=True)
class Published(Generic[Kind]):
    """A value, its unit and where it was published (or that it is from memory)."""

    value: Kind
    unit: str
    source: str


AMPS_PER_IN_MIN = Published(
    Fraction(300), "A/in", "ASTM E1444 type practice, lower end for direct contact, peak; seen in manuals that cite it"
)
AMPS_PER_IN_MAX = Published(
    Fraction(800), "A/in", "ASTM E1444 type practice, upper end for direct contact, peak; seen in manuals that cite it"
)
LENGTH_TO_DIAMETER_FLOOR = Published(
    Fraction(2), "", "coil formulas hold above L/D 2; training sheet 'MPI Formula & Data 2022' (some manuals say 3)"
)
DWELL_BAND_EDGE = Published(
    "middle", "", "not settled by the dwell table of T.O. 33B-1-1, which lists 60 F and 100 F twice; common practice"
)
LINEAR_RATIO = Published(Fraction(3), "", "weld acceptance summary citing ASME VIII-1 App. 6 (2017)")
LINEAR_RATIO_INCLUSIVE = Published(
    True, "", "shop procedure citing ASTM E1444-05: linear from 3:1 on (ASME VIII-1 App. 6: only above 3:1)"
)
