"""Where around a part marks gather: mean direction, its strength, and whether chance would do.

Source: circular mean and Rayleigh's test with the approximation of its p-value
by exp(sqrt(1 + 4 n + 4 (n^2 - R^2)) - (1 + 2 n)), J. H. Zar, Biostatistical
Analysis, chapter on circular distributions (seen quoted by libraries that use it).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import atan2, cos, degrees, exp, fsum, hypot, radians, sin, sqrt

from ndi.domain.errors import InputError

_NO_DIRECTION = 1e-12  # a resultant below it is nothing but rounding


@dataclass(frozen=True)
class Gathering:
    """Mean in degrees, 0 to below 360 (None where the angles cancel), resultant 0 to 1, p-value of even spread."""

    mean: float | None
    resultant: float
    p: float


def gathering(angles_deg: Sequence[float]) -> Gathering:
    """Mean direction, resultant and Rayleigh's p; InputError without angles."""
    n = len(angles_deg)
    if not n:
        raise InputError("no angles: give at least one")
    east = fsum(cos(radians(angle)) for angle in angles_deg)
    north = fsum(sin(radians(angle)) for angle in angles_deg)
    length = min(hypot(east, north), float(n))
    mean = degrees(atan2(north, east)) % 360 if length > _NO_DIRECTION * n else None
    p = exp(sqrt(1 + 4 * n + 4 * (n * n - length * length)) - (1 + 2 * n))
    return Gathering(mean, length / n, min(p, 1.0))
