"""What is measured in the plane of a card: length, distance, direction, arc; each with what it may be off by.

Source: first order propagation, Welch and Satterthwaite's degrees of freedom and
the coverage factors of JCGM 100:2008 (5.2, G.4, table G.2).  Three causes are
kept apart: the marks of the card, the points that a person marked, the print of
the card.  Lines on a cylinder: plane geometry of the unrolled surface.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from math import atan2, degrees, fsum, hypot, inf, sqrt
from typing import Any

from ndi.calc.card_plane import Plane, Point
from ndi.calc.photo_length import arc
from ndi.domain.errors import InputError

Array = Any
_Value = Callable[[Sequence[Point]], float]

# JCGM 100:2008, table G.2, 95 %
_COVERAGE = (
    *((1, 12.71), (2, 4.30), (3, 3.18), (4, 2.78), (5, 2.57), (6, 2.45), (7, 2.36), (8, 2.31), (9, 2.26), (10, 2.23)),
    *((12, 2.18), (14, 2.14), (16, 2.12), (18, 2.10), (20, 2.09), (25, 2.06), (30, 2.04), (40, 2.02), (50, 2.01)),
    *((100, 1.984), (inf, 1.960)),
)

LEAST_FACTOR = 2.0  # JCGM 100:2008, 6.3.3: where many measurements stand behind a value


@dataclass(frozen=True)
class Uncertain:
    """A value with the standard uncertainty of each cause; ``bound`` is added whole, as nothing is known of it but its size."""

    value: float
    marks: float
    clicks: float
    printing: float
    marks_freedom: float
    clicks_freedom: float = inf
    bound: float = 0.0

    @property
    def sd(self) -> float:
        return sqrt(self.marks**2 + self.clicks**2 + self.printing**2)

    @property
    def freedom(self) -> float:
        """Welch and Satterthwaite."""
        spent = self.marks**4 / self.marks_freedom + self.clicks**4 / self.clicks_freedom
        return self.sd**4 / spent if spent > 0 else inf

    @property
    def half_width(self) -> float:
        """Half the interval that holds the true value in 95 of 100 cases."""
        return max(LEAST_FACTOR, coverage(self.freedom)) * self.sd + self.bound


def coverage(freedom: float) -> float:
    """The factor for 95 %, straight between the table's rows over 1 / freedom."""
    if freedom <= 1:
        return _COVERAGE[0][1]
    for (few, above), (many, below) in pairwise(_COVERAGE):
        if freedom <= many:
            share = (1 / few - 1 / freedom) / (1 / few - 1 / many)
            return above + share * (below - above)
    return _COVERAGE[-1][1]


@dataclass(frozen=True)
class Ruler:
    """A plane, how well points are marked (pixels, one standard deviation), and by what share the print may be off at most."""

    plane: Plane
    click_px: float
    print_share: float

    def length(self, points: Sequence[Point]) -> Uncertain:
        """Length along a line of two or more points, mm."""
        return self._of(points, along, is_length=True)

    def distance(self, point: Point, datum: Sequence[Point]) -> Uncertain:
        """From a point to a datum: one point, or a straight edge through two, mm."""
        if len(datum) not in (1, 2):
            raise InputError(f"a datum of {len(datum)} points: mark one point, or two on a straight edge")
        return self._of([point, *datum], _apart, is_length=True)

    def angle(self, line: Sequence[Point], axis: Sequence[Point]) -> Uncertain:
        """Between the line's ends and an axis through two points, degrees, 0 to 90."""
        if len(axis) != 2:
            raise InputError(f"an axis of {len(axis)} points: mark two points along the part's axis")
        return self._of([line[0], line[-1], *axis], _turn, is_length=False)

    def on_journal(self, ends: Sequence[Point], radius: float, axis: Sequence[Point] = ()) -> Uncertain:
        """Along the surface of a journal of ``radius`` mm, the chord being what is seen.

        Without an axis the whole chord goes round the journal.
        """
        if radius <= 0:
            raise InputError(f"a radius of {radius} mm: it is above 0")
        if len(axis) not in (0, 2):
            raise InputError(f"an axis of {len(axis)} points: mark two points along the journal's axis")

        def value(places: Sequence[Point]) -> float:
            return _unrolled(places, radius)

        return self._of([ends[0], ends[-1], *axis], value, is_length=True)

    def _of(self, points: Sequence[Point], value: _Value, *, is_length: bool) -> Uncertain:
        import numpy

        places = self.plane.at(points)
        base = value([(float(x), float(y)) for x, y in places])
        slope = numpy.asarray(_gradient(places, value))
        marks = float(slope @ self.plane.covariance_at(points) @ slope)
        by_pixel = [
            float(((slope[2 * n : 2 * n + 2] @ each) ** 2).sum()) for n, each in enumerate(self.plane.slopes(points))
        ]
        return Uncertain(
            base,
            sqrt(max(0.0, marks)),
            self.click_px * sqrt(fsum(by_pixel)),
            base * self.print_share / sqrt(3) if is_length else 0.0,
            self.plane.freedom,
        )


def repeated(found: Sequence[Uncertain]) -> Uncertain:
    """One value from the same thing marked several times: the scatter itself says how well it was marked.

    JCGM 100:2008, 4.2.  With one marking it stays what it is.
    """
    if len(found) == 1:
        return found[0]
    count = len(found)
    mean = fsum(each.value for each in found) / count
    scatter = sqrt(fsum((each.value - mean) ** 2 for each in found) / (count - 1) / count)
    return replace(
        found[0],
        value=mean,
        marks=max(each.marks for each in found),
        clicks=scatter,
        printing=max(each.printing for each in found),
        clicks_freedom=count - 1,
        bound=max(each.bound for each in found),
    )


# --- plane geometry -----------------------------------------------------------------------------------


def along(places: Sequence[Point]) -> float:
    """Length of a line through some places."""
    if len(places) < 2:
        raise InputError("one point has no length: mark the line from end to end")
    return fsum(hypot(b[0] - a[0], b[1] - a[1]) for a, b in pairwise(places))


def _apart(places: Sequence[Point]) -> float:
    point, first = places[0], places[1]
    if len(places) == 2:
        return hypot(point[0] - first[0], point[1] - first[1])
    edge = (places[2][0] - first[0], places[2][1] - first[1])
    size = hypot(*edge)
    if not size:
        raise InputError("both points of the datum edge are one: mark two that lie apart")
    return abs(edge[0] * (point[1] - first[1]) - edge[1] * (point[0] - first[0])) / size


def _turn(places: Sequence[Point]) -> float:
    one = (places[1][0] - places[0][0], places[1][1] - places[0][1])
    other = (places[3][0] - places[2][0], places[3][1] - places[2][1])
    if not hypot(*one) or not hypot(*other):
        raise InputError("a line of no length has no direction: mark two points that lie apart")
    across, with_it = one[0] * other[1] - one[1] * other[0], one[0] * other[0] + one[1] * other[1]
    return degrees(atan2(abs(across), abs(with_it)))


def _unrolled(places: Sequence[Point], radius: float) -> float:
    chord = (places[1][0] - places[0][0], places[1][1] - places[0][1])
    straight = 0.0
    if len(places) == 4:
        axis = (places[3][0] - places[2][0], places[3][1] - places[2][1])
        size = hypot(*axis)
        if not size:
            raise InputError("both points of the axis are one: mark two that lie apart")
        straight = abs(chord[0] * axis[0] + chord[1] * axis[1]) / size
    round_it = sqrt(max(0.0, chord[0] ** 2 + chord[1] ** 2 - straight**2))
    if round_it > 2 * radius:
        raise InputError(f"a chord of {round_it:.3f} mm is longer than a journal of radius {radius:g} mm is wide")
    return hypot(straight, arc(radius, round_it))


def _gradient(places: Array, value: _Value) -> list[float]:
    """Change of a value with each coordinate, by central differences."""
    step = 1e-5 * max(1.0, float(abs(places - places.mean(axis=0)).max()))
    found = []
    for number in range(places.size):
        values = []
        for sign in (1, -1):
            moved = places.copy()
            moved.flat[number] += sign * step
            values.append(value([(float(x), float(y)) for x, y in moved]))
        found.append((values[0] - values[1]) / (2 * step))
    return found
