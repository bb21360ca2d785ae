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


@dataclass(frozen=True)
class Choice(Generic[Kind]):
    """One of several values that published sources give for the same thing; ``word`` names it in an input."""

    word: str
    value: Kind
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
LAMP_HOURS_PER_START_MIN = Published(
    Fraction(2),
    "h",
    "one start of a mercury lamp costs 2 to 3 h of its life; US T.O. 33B-1-1 / TM 1-1500-335-23 p. 2-81",
)
LAMP_HOURS_PER_START_MAX = Published(
    Fraction(3),
    "h",
    "one start of a mercury lamp costs 2 to 3 h of its life; US T.O. 33B-1-1 / TM 1-1500-335-23 p. 2-81",
)
TREND_READINGS = Published(8, "pcs", "readings from which a lamp's trend is looked at; common practice, no source")
JUMP_Z = Published(
    Fraction(3),
    "standard errors",
    "beyond 3 standard errors is no ageing; control chart practice, NIST e-Handbook 6.3.2",
)
LAMP_DISTANCE_FROM = Published(
    Fraction(12), "in", "nearer to a lamp the inverse square fails; common practice, no source"
)
LAMP_DISTANCE_TO = Published(
    Fraction(24), "in", "farther off readings are too small to trust; common practice, no source"
)
DETECTION_TARGETS = Published(
    40, "pcs", "least number of targets for a hit/miss curve, from memory (60 is the usual plan, MIL-HDBK-1823A type)"
)
TWO_LOOKS_BOTH = Published(
    7,
    "pcs",
    "below 7 found by both looks Chapman's estimate is too uncertain; D. S. Robson and H. A. Regier 1964, from memory",
)
DIRECTIONS = Published(
    2, "directions", "two directions at right angles; ISO 9934-1:2015 and a helicopter manual, as cited"
)
DRAWS = Published(2000, "draws", "own choice: the standard deviation is then known to about 2 %")
EWMA_WEIGHT = Published(Fraction("0.3"), "", "NIST e-Handbook 6.3.2.4: usually between 0.2 and 0.3")

# Where published sources contradict each other: the first of each is the default, the procedure names its own.

HIGH_FILL_PLUS = (
    Choice("plus 2", Fraction(2), "training sheet 'MPI Formula & Data 2022'; boiler code Article 7 extract"),
    Choice("plus 5", Fraction(5), "a formula page on the web; taken for a misprint, as nothing else agrees with it"),
)
COIL_RULE = (
    Choice("fill class", "fill class", "ASTM E1444 type practice: low, intermediate, high fill"),
    Choice(
        "length to diameter",
        "length to diameter",
        "boiler code Article 7: 35000/(L/D + 2) from L/D 4 on (seen), 45000/(L/D) below (constant from memory)",
    ),
)
COIL_FLOOR = (
    Choice("2", Fraction(2), "coil formulas hold above L/D 2; training sheet 'MPI Formula & Data 2022'"),
    Choice("3", Fraction(3), "US T.O. 33B-1-1 / TM 1-1500-335-23 p. 3-41: pole pieces at L/D 3 and less"),
)
OFFSET_DIAMETER = (
    Choice("bar", "bar", "bar diameter + 2 walls: 'Amperage Selection', an airline manual and a formula page agree"),
    Choice("part", "part", "part diameter + 2 walls: one service firm's help page; taken for a misprint"),
)
AMPS_PRACTICE = (
    Choice("300-800", (Fraction(300), Fraction(800)), "ASTM E1444 type practice, peak; seen in manuals that cite it"),
    Choice("800-1000", (Fraction(800), Fraction(1000)), "older rule for DC; flash cards and a problem collection"),
    Choice("1000", (Fraction(1000), Fraction(1000)), "US Army general maintenance manual TM 5-4210-220-12"),
)
SECTION_DIAMETER = (
    Choice(
        "perimeter", "perimeter", "perimeter / pi: training sheet 'MPI Formula & Data 2022', used there with 1000 A/in"
    ),
    Choice("diagonal", "diagonal", "diagonal: a formula page on the web"),
)
COLD_BAND_TO = (
    Choice("40-60", Fraction(60), "US T.O. 33B-1-1 / TM 1-1500-335-23: doubled from 40 to 60 F"),
    Choice("40-50", Fraction(50), "ASME V, from a secondary source: doubled from 40 to 50 F"),
)
BAND_EDGE = (
    Choice("middle", "middle", "60 and 100 F count with the band between them; common practice"),
    Choice("longer", "longer", "60 and 100 F count with the longer dwell; the cautious reading of T.O. 33B-1-1"),
)
LINEAR_FROM = (
    Choice("from 3:1", True, "shop procedure citing ASTM E1444-05: linear from 3:1 on"),
    Choice("above 3:1", False, "weld acceptance summary citing ASME VIII-1 App. 6 (2017): exactly 3:1 is rounded"),
)
INDIVIDUALS_FACTOR = (
    Choice("3/d2", Fraction(3) / Fraction("1.128"), "NIST e-Handbook 6.3.2.2: 3 / 1.128"),
    Choice("2.66", Fraction("2.66"), "the same factor rounded, as many tables print it"),
)
