"""How a bath loses particles by use: a straight line of settling volume on shots, the forecast, and the dose.

Source: least squares as in ``straight_line``; that drag-out is even from shot to
shot is common practice, no source.  Particles and contamination are never added:
the volume meant here is the particles alone.
"""

from __future__ import annotations

from fractions import Fraction

from ndi.calc.straight_line import Line
from ndi.domain.errors import InputError
from ndi.domain.quantity import shown


def shot_at(line: Line, limit_ml: float) -> float | None:
    """The count of shots at which the line falls to ``limit_ml``; None for a line that does not fall."""
    return (limit_ml - line.intercept) / line.slope if line.slope < 0 else None


def shots_left(line: Line, now_ml: float, limit_ml: float) -> float | None:
    """Shots until a bath that reads ``now_ml`` reads ``limit_ml``, at the line's loss per shot; below 0 when past."""
    return (now_ml - limit_ml) / -line.slope if line.slope < 0 else None


def dose(
    volume_l: Fraction, now_ml: Fraction, target_ml: Fraction, mix_g_per_l: Fraction, mix_ml: Fraction
) -> Fraction:
    """Grams of powder that lift ``volume_l`` of bath from ``now_ml`` to ``target_ml`` per 100 mL.

    A fresh mix of ``mix_g_per_l`` settles to ``mix_ml``; exact.  InputError if nothing is to be added.
    """
    for name, value in (("volume_l", volume_l), ("mix_g_per_l", mix_g_per_l), ("mix_ml", mix_ml)):
        if value <= 0:
            raise InputError(f"{name} {shown(value)}: it must be above 0")
    if target_ml < now_ml:
        raise InputError(f"target_ml {shown(target_ml)} is below what the bath reads, {shown(now_ml)}: thin it instead")
    return volume_l * (target_ml - now_ml) * mix_g_per_l / mix_ml
