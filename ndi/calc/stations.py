"""Where a coil or an offset bar has to stand so that its fields overlap: fields along a part, places round a bore.

Source: the figures of ``coil`` and ``magnetizing_current`` (length of the
effective field, arc of one placement, 10 % overlap; ASTM E1444 type practice and
from memory, as stated there).  What one placement reaches is given by those
modules' constants; here only places are laid beside one another, exactly.
"""

from __future__ import annotations

from collections.abc import Iterable
from fractions import Fraction
from itertools import pairwise
from math import ceil

from ndi.calc.coil import HIGH_FILL_FIELD_IN, NEW_SHARE
from ndi.calc.exact import ceil_of_pi_times
from ndi.calc.magnetizing_current import NEW_SHARE as NEW_ARC_SHARE
from ndi.calc.magnetizing_current import REACH_IN_BARS
from ndi.domain.errors import InputError
from ndi.domain.quantity import shown

Stretch = tuple[Fraction, Fraction]


def field_length(fill: str, coil_diameter: Fraction) -> Fraction:
    """Length of the effective field along the part, in inches: 18 in when the coil is filled, else the coil's diameter."""
    return HIGH_FILL_FIELD_IN if fill == "high" else coil_diameter


def stations_needed(length: Fraction, field: Fraction) -> int:
    """Least number of stations of a coil along a part: 1 + ceil((length - field) / (0.9 field))."""
    return 1 if length <= field else 1 + ceil((length - field) / (NEW_SHARE * field))


def unlit(length: Fraction, field: Fraction, centres: Iterable[Fraction]) -> list[Stretch]:
    """Stretches of the part (0 to ``length``) that no field reaches, by place."""
    found: list[Stretch] = []
    reached = Fraction(0)
    for centre in sorted(centres):
        start, end = centre - field / 2, centre + field / 2
        if start > reached:
            found.append((reached, min(start, length)))
        reached = max(reached, end)
        if reached >= length:
            return found
    return [*found, (reached, length)]


def too_far_apart(field: Fraction, centres: Iterable[Fraction]) -> list[Stretch]:
    """Neighbouring stations whose fields overlap by less than 10 % of a field."""
    placed = sorted(set(centres))
    return [(one, other) for one, other in pairwise(placed) if other - one > NEW_SHARE * field]


def placements_needed(bore: Fraction, bar: Fraction) -> int:
    """Places of a bar of diameter ``bar`` round a bore, both in inches: ceil(pi bore / (0.9 x 4 bar)), exact.

    InputError for a bar that does not go into the bore.
    """
    if not 0 < bar <= bore:
        raise InputError(
            f"a bar of {shown(bar, 'in')} does not go into a bore of {shown(bore, 'in')}: look at both diameters"
        )
    return max(1, ceil_of_pi_times(bore / (NEW_ARC_SHARE * REACH_IN_BARS * bar)))


def is_long_enough(length: Fraction, od: Fraction, id: Fraction, ratio: Fraction) -> bool:
    """Length at least ``ratio`` effective diameters, compared by squares (effective diameter of a tube: sqrt(od2 - id2))."""
    return length**2 >= ratio**2 * (od**2 - id**2)
