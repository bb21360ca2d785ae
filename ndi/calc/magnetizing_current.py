"""Current for circular magnetisation: head shot, centred bar, offset bar.

Source: ASTM E1444 type practice, seen in manuals and a note on amperage
selection that cite it: amps per inch of diameter, peak; an offset bar counts
as its own diameter plus twice the wall; it magnetises an arc of four bar
diameters and neighbouring arcs overlap by 10 %.  A calculated current is a
proposal until a technique is proven with it.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from ndi.calc.exact import ceil_of_pi_times, pi, root
from ndi.domain.errors import InputError
from ndi.domain.quantity import shown

REACH_IN_BARS = Fraction(4)  # effective arc of one placement, in bar diameters
DIAMETERS = ("bar", "part")  # what an offset bar's counted diameter starts from
NEW_SHARE = Fraction(9, 10)  # of each arc, after 10 % overlap


@dataclass(frozen=True)
class Window:
    """The least and the greatest current, in A (peak)."""

    amps_min: Fraction
    amps_max: Fraction


@dataclass(frozen=True)
class OffsetBar:
    """What an offset bar needs: counted diameter in in, current, placements around the bore.

    ``rotations`` goes by the bore's circumference, ``rotations_outside`` by the
    outer one, which is the more cautious figure.
    """

    effective_diameter: Fraction
    current: Window
    rotations: int
    rotations_outside: int


def _above_zero(**values: Fraction) -> None:
    for name, value in values.items():
        if value <= 0:
            raise InputError(f"{name} {shown(value)}: it must be above 0")


def head_shot(diameter_in: Fraction, amps_per_in_min: Fraction, amps_per_in_max: Fraction) -> Window:
    """Amps of a head shot, or of a centred bar with the part's diameter (E1444 type: I = k D)."""
    _above_zero(diameter_in=diameter_in, amps_per_in_min=amps_per_in_min)
    if amps_per_in_min > amps_per_in_max:
        raise InputError(f"amps_per_in_min {shown(amps_per_in_min)} is above amps_per_in_max {shown(amps_per_in_max)}")
    return Window(diameter_in * amps_per_in_min, diameter_in * amps_per_in_max)


def _placements(diameter_in: Fraction, bar_diameter_in: Fraction) -> int:
    return max(1, ceil_of_pi_times(diameter_in / (NEW_SHARE * REACH_IN_BARS * bar_diameter_in)))


def offset_bar(
    bar_diameter_in: Fraction,
    wall_in: Fraction,
    bore_in: Fraction,
    *,
    amps_per_in_min: Fraction,
    amps_per_in_max: Fraction,
    counts: str = "bar",
) -> OffsetBar:
    """Amps and placements of a bar that lies against the bore (E1444 type: I = k (d + 2 t)).

    ``counts``: ``bar`` takes d as the bar's diameter, ``part`` as the part's, which one source prints.
    """
    _above_zero(bar_diameter_in=bar_diameter_in, wall_in=wall_in, bore_in=bore_in)
    if bar_diameter_in > bore_in:
        raise InputError(
            f"bar_diameter_in {shown(bar_diameter_in)} is wider than bore_in {shown(bore_in)}: it does not go in; take a thinner bar"
        )
    if counts not in DIAMETERS:
        raise InputError(f"counts {counts!r} is not known; use {' or '.join(DIAMETERS)}")
    effective = (bar_diameter_in if counts == "bar" else bore_in + 2 * wall_in) + 2 * wall_in
    return OffsetBar(
        effective,
        head_shot(effective, amps_per_in_min, amps_per_in_max),
        _placements(bore_in, bar_diameter_in),
        _placements(bore_in + 2 * wall_in, bar_diameter_in),
    )


def section_diameter(width_in: Fraction, height_in: Fraction, basis: str) -> Fraction:
    """Counted diameter of a rectangular section: ``perimeter`` / pi, or its ``diagonal``; sources differ."""
    _above_zero(width_in=width_in, height_in=height_in)
    if basis == "perimeter":
        return 2 * (width_in + height_in) / pi()
    if basis == "diagonal":
        return root(width_in**2 + height_in**2)
    raise InputError(f"basis {basis!r} is not known; use perimeter or diagonal")
