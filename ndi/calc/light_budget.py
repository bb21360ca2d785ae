"""Light that a screen throws, and a lamp's reading at another distance.

Sources: E = L A / d^2 for a small source of even luminance seen squarely, and the
inverse-square law, plane geometry of light in any textbook of photometry.  A lamp
near its filter departs from it; the span in which it is used stands in
``published``.  Exact numbers.
"""

from __future__ import annotations

from fractions import Fraction

from ndi.calc.exact import root
from ndi.domain.errors import InputError
from ndi.domain.quantity import shown


def _above_zero(**values: Fraction) -> None:
    for name, value in values.items():
        if value <= 0:
            raise InputError(f"{name} {shown(value)}: it must be above 0")


def illuminance(luminance_cd_m2: Fraction, area_m2: Fraction, distance_m: Fraction) -> Fraction:
    """Lux at ``distance_m`` in front of a screen (E = L A / d^2)."""
    _above_zero(area_m2=area_m2, distance_m=distance_m)
    return luminance_cd_m2 * area_m2 / distance_m**2


def allowed_luminance(limit_lx: Fraction, area_m2: Fraction, distance_m: Fraction) -> Fraction:
    """Luminance in cd/m2 at which a screen throws exactly ``limit_lx``."""
    _above_zero(area_m2=area_m2, distance_m=distance_m)
    return limit_lx * distance_m**2 / area_m2


def at_distance(reading: Fraction, distance: Fraction, to_distance: Fraction) -> Fraction:
    """The reading expected at ``to_distance`` (inverse square)."""
    _above_zero(distance=distance, to_distance=to_distance)
    return reading * distance**2 / to_distance**2


def distance_for(reading: Fraction, distance: Fraction, wanted: Fraction) -> Fraction:
    """The distance at which ``wanted`` would be read (inverse square); a root, within 2**-190."""
    _above_zero(reading=reading, distance=distance, wanted=wanted)
    return distance * root(reading / wanted)
