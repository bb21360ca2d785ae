"""Linear marks that lie in one line with a small gap, read as one.

That linear marks are joined when the gap is not longer than the shorter of them
is common practice, no source; what *in line* means is this project's own and is
written at :func:`join`.  Comparisons are exact.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from functools import lru_cache
from itertools import combinations, product

from ndi.calc.exact import RootSum, pi_between
from ndi.domain.errors import InputError
from ndi.domain.quantity import shown

RIGHT_ANGLE = Fraction(90)
_EXACT = {Fraction(0): Fraction(1), Fraction(30): Fraction(3, 4), Fraction(45): Fraction(1, 2)}
_EXACT |= {Fraction(60): Fraction(1, 4), RIGHT_ANGLE: Fraction(0)}


@dataclass(frozen=True)
class Stroke:
    """A linear mark from one end to the other, in one unit."""

    x1: Fraction
    y1: Fraction
    x2: Fraction
    y2: Fraction

    @property
    def ends(self) -> tuple[tuple[Fraction, Fraction], tuple[Fraction, Fraction]]:
        return (self.x1, self.y1), (self.x2, self.y2)

    @property
    def along(self) -> tuple[Fraction, Fraction]:
        return self.x2 - self.x1, self.y2 - self.y1

    @property
    def square(self) -> Fraction:
        """Squared length."""
        dx, dy = self.along
        return dx * dx + dy * dy

    @property
    def middle(self) -> tuple[Fraction, Fraction]:
        return (self.x1 + self.x2) / 2, (self.y1 + self.y2) / 2


@dataclass(frozen=True)
class Joined:
    """Marks read as one (positions, ascending) and the length from their farthest end to their farthest end."""

    members: tuple[int, ...]
    extent: RootSum


@lru_cache(maxsize=32)
def _cosine_square_between(angle_deg: Fraction, bits: int) -> tuple[Fraction, Fraction]:
    """Two rationals that cos(angle)^2 lies between, for 0 to 90 degrees."""
    if angle_deg in _EXACT:
        return _EXACT[angle_deg], _EXACT[angle_deg]
    low_pi, high_pi = pi_between(bits)
    scale = 1 << bits
    # cos^2 = (1 + cos 2a)/2, cos by its series in whole units of 2**-bits; pi's bracket and rounding give the slack
    doubled = round((low_pi + high_pi) / 2 * 2 * angle_deg / 180 * scale)
    square, term, total, n = doubled * doubled // scale, scale, scale, 0
    while term:
        n += 2
        term = -term * square // scale // (n * (n - 1))
        total += term
    slack = 1 << 40
    middle = scale + total
    return Fraction(middle - slack, 2 * scale), Fraction(middle + slack, 2 * scale)


def _within_angle(one: tuple[Fraction, Fraction], other: tuple[Fraction, Fraction], angle_deg: Fraction) -> bool:
    """Whether two directions, sense aside, differ by at most ``angle_deg``; exact.

    The squared cosine of the directions is rational; that of a rational angle is
    not, but for multiples of 30 and 45 degrees, which are exact, so the bracket decides.
    """
    dot = one[0] * other[0] + one[1] * other[1]
    lengths = (one[0] ** 2 + one[1] ** 2) * (other[0] ** 2 + other[1] ** 2)
    if lengths == 0:
        return True
    found, bits = dot * dot / lengths, 200
    while True:
        low, high = _cosine_square_between(angle_deg, bits)
        if found >= high or found < low:
            return found >= high
        bits *= 2


def gap_square(one: Stroke, other: Stroke) -> Fraction:
    """The squared distance between the nearest ends of two marks."""
    return min((a[0] - b[0]) ** 2 + (a[1] - b[1]) ** 2 for a, b in product(one.ends, other.ends))


def _in_line(one: Stroke, other: Stroke, angle_deg: Fraction) -> bool:
    (ax, ay), (bx, by) = one.middle, other.middle
    join = bx - ax, by - ay
    pairs = ((one.along, other.along), (one.along, join), (other.along, join))
    return all(_within_angle(first, second, angle_deg) for first, second in pairs)


def are_joined(one: Stroke, other: Stroke, angle_deg: Fraction, gap: Fraction | None) -> bool:
    """Whether two marks are read as one; see :func:`join`."""
    allowed = min(one.square, other.square) if gap is None else gap * gap
    return gap_square(one, other) <= allowed and _in_line(one, other, angle_deg)


def join(strokes: Sequence[Stroke], angle_deg: Fraction, gap: Fraction | None = None) -> list[Joined]:
    """Linear marks put together; each is in exactly one group; sorted by first member.

    Two marks are joined when the gap between their nearest ends is at most
    ``gap`` (without it: the length of the shorter) and their directions, and the
    way from middle to middle against each of them, differ by at most
    ``angle_deg``.  Groups are what hangs together by such pairs.  InputError for
    a mark without length or an angle outside 0 to 90.
    """
    if not 0 <= angle_deg <= RIGHT_ANGLE:
        raise InputError(f"angle_deg {shown(angle_deg)}: it lies between 0 and 90")
    if gap is not None and gap < 0:
        raise InputError(f"gap_in {shown(gap)}: it must not be below 0")
    for index, stroke in enumerate(strokes):
        if stroke.square == 0:
            raise InputError(f"mark {index} has both ends at one place: a linear mark has a length")
    group = list(range(len(strokes)))
    for one, other in combinations(range(len(strokes)), 2):
        if group[one] != group[other] and are_joined(strokes[one], strokes[other], angle_deg, gap):
            old, new = max(group[one], group[other]), min(group[one], group[other])
            group = [new if each == old else each for each in group]
    return [_joined(strokes, [i for i, each in enumerate(group) if each == first]) for first in sorted(set(group))]


def _joined(strokes: Sequence[Stroke], members: Sequence[int]) -> Joined:
    ends = [end for index in members for end in strokes[index].ends]
    longest = max((a[0] - b[0]) ** 2 + (a[1] - b[1]) ** 2 for a, b in combinations(ends, 2))
    return Joined(tuple(members), RootSum(longest, Fraction(0)))
