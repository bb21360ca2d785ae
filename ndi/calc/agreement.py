"""How two looks agree, how far steps stay from their limits, how residual fields fall.

Sources: limits of agreement, J. M. Bland and D. G. Altman 1986 (bias +/- 1.96 sd);
quantile by linear interpolation (R. J. Hyndman and Y. Fan 1996, type 7); the rest is
counting.  Exact until the last root.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from math import sqrt
from statistics import median_low

from ndi.calc.exact import root
from ndi.domain.errors import InputError

AGREEMENT = Fraction("1.96")


@dataclass(frozen=True)
class Agreement:
    """Mean of first minus second, its standard deviation, and the half width of the limits of agreement."""

    bias: Fraction
    sd: Fraction
    half_width: Fraction


def agreement(pairs: Sequence[tuple[Fraction, Fraction]]) -> Agreement:
    """Bias and limits of agreement of two looks; InputError below two pairs."""
    if len(pairs) < 2:
        raise InputError(f"{len(pairs)} pairs: a spread needs at least 2")
    differences = [first - second for first, second in pairs]
    bias = sum(differences, Fraction(0)) / len(pairs)
    sd = root(sum(((d - bias) ** 2 for d in differences), Fraction(0)) / (len(pairs) - 1))
    return Agreement(bias, sd, AGREEMENT * sd)


def limit_error(found: Agreement, pairs: int, coverage: float = 0.95) -> float:
    """How far each limit of agreement may be off: t sqrt(3/n) sd (Bland and Altman 1986); in the unit of the sizes."""
    from scipy import special  # type: ignore[import-untyped]  # heavy: only when looks are compared

    if pairs < 2:
        raise InputError(f"{pairs} pairs: a spread needs at least 2")
    return float(special.stdtrit(pairs - 1, (1 + coverage) / 2)) * sqrt(3 / pairs) * float(found.sd)


@dataclass(frozen=True)
class Margins:
    """Margins to a limit in the order of work: worst, the worst 5 %, mean, and change from one to the next."""

    worst: Fraction
    worst_5_percent: Fraction
    mean: Fraction
    drift: Fraction


def quantile(values: Sequence[Fraction], share: Fraction) -> Fraction:
    """The value below which ``share`` of the values lie, between neighbours by straight line; exact."""
    ordered = sorted(values)
    place = share * (len(ordered) - 1)
    below = int(place)
    above = min(below + 1, len(ordered) - 1)
    return ordered[below] + (place - below) * (ordered[above] - ordered[below])


def margins(values: Sequence[Fraction]) -> Margins:
    """Margin statistics; ``drift`` is the least-squares slope per step.  InputError below two."""
    n = len(values)
    if n < 2:
        raise InputError(f"{n} margins: a drift needs at least 2")
    mean = sum(values, Fraction(0)) / n
    middle = Fraction(n - 1, 2)
    drift = sum(((i - middle) * v for i, v in enumerate(values)), Fraction(0)) / sum(
        (i - middle) ** 2 for i in range(n)
    )
    return Margins(min(values), quantile(values, Fraction(1, 20)), mean, drift)


@dataclass(frozen=True)
class Demagnetizing:
    """What the past of one part number says: passes usually needed, parts that never came within, last signs."""

    usual_passes: int | None
    most_passes: int | None
    never_within: tuple[int, ...]
    plus: int
    minus: int


def passes_needed(readings: Sequence[Fraction], limit: Fraction) -> int | None:
    """After which pass (from 1) the residual field first lies within +/- ``limit``, and None if after none."""
    return next((at for at, reading in enumerate(readings, start=1) if abs(reading) <= limit), None)


def demagnetizing(parts: Sequence[Sequence[Fraction]], limit: Fraction) -> Demagnetizing:
    """Passes that parts needed until the residual was within ``limit``; the median counts as usual."""
    if limit <= 0:
        raise InputError("limit: a residual limit is above 0")
    if not parts or not all(parts):
        raise InputError("parts: give at least one part, and at least one reading for each")
    needed = [passes_needed(readings, limit) for readings in parts]
    done = [count for count in needed if count is not None]
    last = [readings[-1] for readings in parts]
    return Demagnetizing(
        median_low(done) if done else None,
        max(done, default=None),
        tuple(at for at, count in enumerate(needed) if count is None),
        sum(reading > 0 for reading in last),
        sum(reading < 0 for reading in last),
    )
