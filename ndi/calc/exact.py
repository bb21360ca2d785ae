"""Exact arithmetic that several formulas share: square roots, pi, and lengths that hold one square root.

Comparisons and ceilings here are exact.  Only :func:`nearest` and ``float()``
leave the rational numbers, as the very last step, for showing.
No formula of the trade belongs here.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from functools import lru_cache, total_ordering
from math import ceil, isqrt

_BITS = 400  # working precision of an irrational root or of pi; a double has 53


def root(value: Fraction) -> Fraction:
    """The square root of ``value`` >= 0: exact where it is rational, else within 2**-190 of it, relative."""
    if value < 0:
        raise ValueError(f"no square root of {value}")
    top, bottom = value.numerator, value.denominator
    if isqrt(top) ** 2 == top and isqrt(bottom) ** 2 == bottom:
        return Fraction(isqrt(top), isqrt(bottom))
    shift = max(0, _BITS - (top * bottom).bit_length()) // 2 + 1
    return Fraction(isqrt((top * bottom) << (2 * shift)), bottom << shift)


@lru_cache(maxsize=32)
def pi_between(bits: int = _BITS) -> tuple[Fraction, Fraction]:
    """Two rationals that pi lies between, 2**-bits apart or nearer (Machin's formula in integers)."""
    guard = 40
    one = 1 << (bits + guard)

    def arctangent_of_inverse(n: int) -> int:
        power = total = one // n
        divisor, sign = 1, 1
        while power:
            power //= n * n
            divisor, sign = divisor + 2, -sign
            total += sign * (power // divisor)
        return total

    near = 4 * (4 * arctangent_of_inverse(5) - arctangent_of_inverse(239))
    slack = 1 << (guard - 2)  # far more than the truncations can add up to
    return Fraction(near - slack, one), Fraction(near + slack, one)


def pi() -> Fraction:
    """A rational within 2**-400 of pi, for results that are shown as a double."""
    low, high = pi_between()
    return (low + high) / 2


def ceil_of_pi_times(factor: Fraction) -> int:
    """The smallest whole number not below pi * factor, exact.

    Pi is irrational, so the bracket always becomes narrow enough to decide.
    """
    if factor == 0:
        return 0
    bits = _BITS
    while True:
        low, high = (ceil(bound * factor) for bound in pi_between(bits))
        if low == high:
            return low
        bits *= 2


def nearest(value: Fraction) -> int | float:
    """``value`` for showing: a whole number that a double holds as it is, anything else as the nearest double.

    OverflowError beyond the range of doubles.
    """
    return value.numerator if value.denominator == 1 and abs(value) < 2**53 else float(value)


@total_ordering
@dataclass(frozen=True, eq=False)
class RootSum:
    """The number sqrt(square) + rest, with ``square`` >= 0, compared exactly with its like and with rationals."""

    square: Fraction
    rest: Fraction

    def _compared(self, other: RootSum) -> int:
        """-1, 0 or 1: where self lies against other."""
        shift = other.rest - self.rest
        if shift < 0:
            return -other._compared(self)
        # sqrt(a) against sqrt(b) + shift, shift >= 0: square both sides, then once more
        left = self.square - other.square - shift**2
        if left < 0:
            return -1
        left, right = left**2, 4 * shift**2 * other.square
        return (left > right) - (left < right)

    @staticmethod
    def _of(other: object) -> RootSum | None:
        if isinstance(other, RootSum):
            return other
        if isinstance(other, (int, Fraction)):
            return RootSum(Fraction(0), Fraction(other))
        return None

    def __eq__(self, other: object) -> bool:
        same = self._of(other)
        return NotImplemented if same is None else self._compared(same) == 0

    def __lt__(self, other: object) -> bool:
        same = self._of(other)
        return NotImplemented if same is None else self._compared(same) < 0

    __hash__ = None  # type: ignore[assignment]  # equal numbers may be written in two ways

    def __float__(self) -> float:
        return float(root(self.square) + self.rest)
