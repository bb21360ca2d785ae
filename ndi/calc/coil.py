"""Ampere-turns and positions of a coil shot (longitudinal magnetisation).

Sources: 45000/(L/D) and the effective diameter of hollow parts, US T.O. 33B-1-1
/ TM 1-1500-335-23 table 3-3; 43000 R/(6 L/D - 5), 35000/(L/D + 2), the blend
between them, the fill classes and the ceiling of L/D, ASTM E1444 type practice
as in the training sheet 'MPI Formula & Data 2022'; length of the effective
field and 10 % overlap, from memory.  That the blend takes the low-fill value of
the part's own position in the coil is this project's reading.  The boiler code's
rule by L/D alone, Article 7: 35000/(L/D + 2) seen, 45000/(L/D) below L/D 4 from memory.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from math import ceil

from ndi.calc.exact import root
from ndi.domain.errors import InputError, NdiError
from ndi.domain.quantity import shown

LOW_FILL_FROM, HIGH_FILL_TO = Fraction(10), Fraction(2)  # coil area / part area
CEILING = Fraction(15)  # L/D beyond it counts as this
SIDE, CENTRED_TOP, HIGH = Fraction(45000), Fraction(43000), Fraction(35000)
HIGH_FILL_FIELD_IN = Fraction(18)  # length of the effective field of a wrap or a filled coil
NEW_SHARE = Fraction(9, 10)  # of each effective length, after 10 % overlap
HIGH_PLUS = Fraction(2)  # added to L/D at high fill
POSITIONS = ("side", "centred")
RULES = ("fill class", "length to diameter")
SHORT_BELOW = Fraction(4)  # L/D under which the boiler code takes 45000/(L/D)


@dataclass(frozen=True)
class Setup:
    """A part in a coil, inches; ``position`` is ``side`` (against the winding) or ``centred``."""

    length: Fraction
    od: Fraction
    id: Fraction
    coil_diameter: Fraction
    turns: int
    position: str

    def __post_init__(self) -> None:
        if self.length <= 0:
            raise InputError(f"length_in {shown(self.length)}: it must be above 0")
        if not 0 <= self.id < self.od < self.coil_diameter:
            raise InputError(
                f"id_in {shown(self.id)}, od_in {shown(self.od)}, coil_diameter_in {shown(self.coil_diameter)}: "
                "they must rise in this order, and id_in must not be below 0"
            )
        if self.turns < 1:
            raise InputError(f"turns {self.turns}: a coil has at least 1")
        if self.position not in POSITIONS:
            raise InputError(f"position {self.position!r} is not known; use {' or '.join(POSITIONS)}")

    @property
    def area_ratio(self) -> Fraction:
        """Coil area over part area; the hollow counts as part."""
        return self.coil_diameter**2 / self.od**2

    @property
    def fill(self) -> str:
        """``low``, ``intermediate`` or ``high``: how much of the coil the part fills."""
        if self.area_ratio >= LOW_FILL_FROM:
            return "low"
        return "high" if self.area_ratio <= HIGH_FILL_TO else "intermediate"

    @property
    def diameter_square(self) -> Fraction:
        """Square of the effective diameter, exact."""
        return self.od**2 - self.id**2

    def is_longer_than(self, diameters: Fraction) -> bool:
        """Length above that many effective diameters, compared exactly by squares."""
        return self.length**2 > diameters**2 * self.diameter_square


@dataclass(frozen=True)
class CoilShot:
    """The shot: roots are within 2**-190 relative, everything rational is exact."""

    fill: str
    area_ratio: Fraction
    effective_diameter: Fraction
    length_to_diameter: Fraction
    length_to_diameter_raw: Fraction
    ampere_turns: Fraction
    amps: Fraction
    positions: int


class NeedsExtensions(NdiError, ArithmeticError):
    """The part is too short for its diameter: no formula holds.

    ``found`` is length / effective diameter, ``limit`` what it has to reach,
    ``thousandths_missing`` the inches still missing, rounded up to 0.001 in.
    """

    def __init__(self, setup: Setup, limit: Fraction, why: str) -> None:
        diameter = root(setup.diameter_square)
        self.found, self.limit = setup.length / diameter, limit
        self.thousandths_missing = Fraction(ceil((limit * diameter - setup.length) * 1000), 1000)
        self.why = why
        super().__init__(f"L/D {shown(self.found)}: {why}; lengthen the part with extensions of its own diameter")


def _low(setup: Setup, ratio: Fraction) -> Fraction:
    if setup.position == "side":
        return SIDE / ratio
    if not setup.is_longer_than(Fraction(5, 6)):  # 6 L/D - 5 is not above 0
        raise NeedsExtensions(
            setup, Fraction(5, 6), "the formula for a centred part gives a current only above L/D 5/6"
        )
    return CENTRED_TOP * setup.coil_diameter / 2 / (6 * ratio - 5)


def _is_short(setup: Setup) -> bool:
    """L/D below 4, exact."""
    return setup.length**2 < SHORT_BELOW**2 * setup.diameter_square


def _ampere_turns(setup: Setup, ratio: Fraction, rule: str, high_plus: Fraction) -> Fraction:
    high = HIGH / (ratio + high_plus)
    if rule == "length to diameter":
        return SIDE / ratio if _is_short(setup) else high
    if setup.fill == "high":
        return high
    low = _low(setup, ratio)
    if setup.fill == "low":
        return low
    span = LOW_FILL_FROM - HIGH_FILL_TO
    return high * (LOW_FILL_FROM - setup.area_ratio) / span + low * (setup.area_ratio - HIGH_FILL_TO) / span


def _positions(setup: Setup) -> int:
    field = HIGH_FILL_FIELD_IN if setup.fill == "high" else setup.coil_diameter
    return 1 if setup.length <= field else 1 + ceil((setup.length - field) / (NEW_SHARE * field))


def shot(setup: Setup, floor: Fraction, rule: str = RULES[0], high_plus: Fraction = HIGH_PLUS) -> CoilShot:
    """Ampere-turns, amps (peak) and coil positions of one shot; sources in the module's text.

    ``floor`` is the least L/D for which the shop uses these formulas, exactly at
    it is computed.  ``rule`` is ``fill class`` or ``length to diameter`` (the boiler
    code's, without fill classes), ``high_plus`` what is added to L/D in the high-fill
    formula; sources differ on both.  NeedsExtensions below the floor; InputError
    for an impossible floor or rule.
    """
    if not 0 < floor <= CEILING:
        raise InputError(f"floor {shown(floor)}: it must be above 0 and at most {CEILING}")
    if rule not in RULES or high_plus <= 0:
        raise InputError(f"rule {rule!r}, high_plus {shown(high_plus)}: use {' or '.join(RULES)} and a number above 0")
    if setup.length**2 < floor**2 * setup.diameter_square:
        raise NeedsExtensions(setup, floor, f"the formulas are used from L/D {shown(floor)} on")
    diameter = root(setup.diameter_square)
    raw = setup.length / diameter
    ratio = CEILING if setup.is_longer_than(CEILING) else raw
    ampere_turns = _ampere_turns(setup, ratio, rule, high_plus)
    return CoilShot(
        setup.fill,
        setup.area_ratio,
        diameter,
        ratio,
        raw,
        ampere_turns,
        ampere_turns / setup.turns,
        _positions(setup),
    )
