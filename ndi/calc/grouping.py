"""Rounded marks in a row: which belong together, and how long the row is.

Linear or rounded by the ratio of length to width, and rounded marks in line
with small edge gaps read as one linear indication: rule as worded for welds in
ASME Section VIII Div. 1 App. 6 and 8 (seen in summaries).  The exact meaning
of *row* used here is this project's own and is written at :func:`group_marks`.
Coordinates are scaled to whole numbers, so every comparison is exact and the
result does not depend on how the marks are turned or shifted.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import combinations, groupby, product
from math import lcm

from ndi.calc.exact import RootSum
from ndi.domain.errors import InputError
from ndi.domain.quantity import shown

LINEAR, ROUNDED = "linear", "rounded"
_LEVEL_MOST = 8  # circles at one place along a line that are tried in every order; more are read across the line


@dataclass(frozen=True)
class Mark:
    """One mark: centre, length (its longest extent) and width, all in one unit."""

    x: Fraction
    y: Fraction
    length: Fraction
    width: Fraction

    def is_linear(self, ratio: Fraction, ratio_inclusive: bool) -> bool:
        """Length at least ``ratio`` times width; without ``ratio_inclusive`` more than that."""
        threshold = ratio * self.width
        return self.length >= threshold if ratio_inclusive else self.length > threshold


@dataclass(frozen=True)
class Group:
    """Marks read as one: positions in the list of marks, ascending; form; length.

    ``extent`` is the exact length and can be compared with a Fraction; ``length``
    is the nearest double, for showing.
    """

    members: tuple[int, ...]
    form: str
    extent: RootSum

    @property
    def length(self) -> float:
        return float(self.extent)


@dataclass(frozen=True)
class _Circle:
    """A rounded mark in whole units of 1/scale."""

    index: int
    x: int
    y: int
    radius: int


@dataclass(frozen=True)
class _Row:
    """A candidate row: its circles' positions as bits (lowest index = highest bit) and its exact length."""

    count: int
    extent: RootSum
    bits: int

    def is_better_than(self, other: _Row | None) -> bool:
        """More marks, then longer, then lower indices."""
        if other is None or self.count != other.count:
            return other is None or self.count > other.count
        if self.extent != other.extent:
            return self.extent > other.extent
        return self.bits > other.bits


class _Field:
    """The circles of one picture with their neighbourhood, gap and straightness in whole units."""

    def __init__(self, circles: Sequence[_Circle], gap: int, straightness: int, marks: int) -> None:
        self.circles = {circle.index: circle for circle in circles}
        self.straightness = straightness
        self.top_bit = marks - 1
        self.near: dict[int, set[int]] = {circle.index: set() for circle in circles}
        for one, other in combinations(circles, 2):
            reach = gap + one.radius + other.radius
            if (one.x - other.x) ** 2 + (one.y - other.y) ** 2 <= reach**2:
                self.near[one.index].add(other.index)
                self.near[other.index].add(one.index)

    def bit(self, index: int) -> int:
        return 1 << (self.top_bit - index)

    def members(self, bits: int) -> tuple[int, ...]:
        return tuple(index for index in sorted(self.circles) if bits & self.bit(index))

    def clusters(self, among: Iterable[int]) -> Iterator[set[int]]:
        """Sets of circles that hang together by gaps; a row never leaves its cluster."""
        left = set(among)
        while left:
            cluster, edge = set(), {left.pop()}
            while edge:
                index = edge.pop()
                cluster.add(index)
                edge |= self.near[index] & left
                left -= edge
            yield cluster


@dataclass(frozen=True)
class _Place:
    """A circle as seen along a line: place along it and beside it (both times the line's length), and radius."""

    index: int
    along: int
    beside: int
    radius: int


def _sign(whole: int, factor: int, square: int) -> int:
    """The sign of whole + factor * sqrt(square), exact."""
    if whole >= 0 and factor >= 0:
        return 1 if whole or factor else 0
    if whole <= 0 and factor <= 0:
        return -1
    difference = whole**2 - factor**2 * square
    larger = (difference > 0) - (difference < 0)
    return larger if whole > 0 else -larger


@dataclass(frozen=True)
class _Line:
    """The line through two circles' centres, ``square`` being their squared distance, with all circles near it."""

    ends: frozenset[int]
    square: int
    places: tuple[_Place, ...]

    def starts_no_later(self, one: _Place, other: _Place) -> bool:
        """The outer edge of ``one`` towards the beginning lies at or before that of ``other``."""
        return _sign(other.along - one.along, one.radius - other.radius, self.square) >= 0

    def stops_no_earlier(self, one: _Place, other: _Place) -> bool:
        """The outer edge of ``one`` towards the end lies at or behind that of ``other``."""
        return _sign(one.along - other.along, one.radius - other.radius, self.square) >= 0

    def extent(self, first: _Place, last: _Place, scale: int) -> RootSum:
        """From the outer edge of ``first`` to the outer edge of ``last``."""
        across = Fraction((last.along - first.along) ** 2, self.square * scale**2)
        return RootSum(across, Fraction(first.radius + last.radius, scale))

    def levels(self) -> list[list[_Place]]:
        """The places in order along the line; circles at one and the same place are one level."""
        in_order = sorted(self.places, key=lambda p: (p.along, p.beside, p.radius, p.index))
        levels = [list(level) for _, level in groupby(in_order, key=lambda p: p.along)]
        return [part for level in levels for part in ([level] if len(level) <= _LEVEL_MOST else [[p] for p in level])]


def _line(field: _Field, cluster: Iterable[int], one: _Circle, other: _Circle) -> _Line:
    dx, dy = other.x - one.x, other.y - one.y
    square = dx * dx + dy * dy
    allowed = field.straightness**2 * square
    places = []
    for circle in (field.circles[index] for index in cluster):
        beside = dx * (circle.y - one.y) - dy * (circle.x - one.x)
        if beside * beside <= allowed:
            along = dx * (circle.x - one.x) + dy * (circle.y - one.y)
            places.append(_Place(circle.index, along, beside, circle.radius))
    return _Line(frozenset((one.index, other.index)), square, tuple(places))


@dataclass(frozen=True)
class _Chain:
    """The best chain of neighbours so far: how many circles, which (bits), and whether only one set is that long."""

    count: int
    bits: int
    is_only: bool

    def with_circle(self, bit: int) -> _Chain:
        return _Chain(self.count + 1, self.bits | bit, self.is_only)


_EMPTY = _Chain(0, 0, True)


def _better(one: _Chain | None, other: _Chain | None) -> _Chain | None:
    """More circles, then lower indices.

    Going on from the better of two beginnings is right for both: the same
    circles added to two equally long beginnings do not change which of them
    holds the lower index.
    """
    if one is None or other is None:
        return other if one is None else one
    if one.count != other.count:
        return one if one.count > other.count else other
    return _Chain(one.count, max(one.bits, other.bits), one.is_only and other.is_only and one.bits == other.bits)


def _chains_in_level(
    field: _Field, level: Sequence[_Place], entries: Sequence[_Chain | None], needed: int
) -> list[_Chain | None]:
    """The best chain that ends at each circle of a level, in any order within it, with all of ``needed`` (a mask)."""
    size = len(level)
    bits = [field.bit(place.index) for place in level]
    ends: dict[tuple[int, int], _Chain | None] = {
        (1 << k, k): entry.with_circle(bits[k]) for k, entry in enumerate(entries) if entry is not None
    }
    best: list[_Chain | None] = [None] * size
    for mask in range(1, 1 << size):
        for last in range(size):
            chain = ends.get((mask, last))
            if chain is None:
                continue
            if mask & needed == needed:
                best[last] = _better(best[last], chain)
            for k in range(size):
                if not mask & 1 << k and level[k].index in field.near[level[last].index]:
                    key = (mask | 1 << k, k)
                    ends[key] = _better(ends.get(key), chain.with_circle(bits[k]))
    return best


def _longest_chain(field: _Field, levels: Iterable[Sequence[_Place]], through: frozenset[int]) -> _Chain | None:
    """The chain of neighbours with most circles that leaves out none of ``through``."""
    ended: list[tuple[int, _Chain]] = []  # circle and the chain that ends there, since the last circle of ``through``
    passed = 0
    for level in levels:
        entries: list[_Chain | None] = []
        for place in level:
            entry = _EMPTY if passed == 0 else None
            for index, chain in ended:
                if index in field.near[place.index]:
                    entry = _better(entry, chain)
            entries.append(entry)
        needed = sum(1 << k for k, place in enumerate(level) if place.index in through)
        if needed:
            ended, passed = [], passed + needed.bit_count()
        chains = zip(level, _chains_in_level(field, level, entries, needed), strict=True)
        ended += [(place.index, chain) for place, chain in chains if chain is not None]
    best: _Chain | None = None
    if passed == len(through):
        for _, chain in ended:
            best = _better(best, chain)
    return best


def _outer(line: _Line, places: Sequence[_Place]) -> tuple[_Place, _Place]:
    """The circles whose edges are the row's outer edges."""
    first = last = places[0]
    for place in places[1:]:
        if line.starts_no_later(place, first):
            first = place
        if line.stops_no_earlier(place, last):
            last = place
    return first, last


def _rows_on(field: _Field, line: _Line, least: int, scale: int) -> Iterator[_Row]:
    """Rows on ``line`` with the most circles, if these are at least ``least``; the best of them is among them."""
    levels = line.levels()
    chain = _longest_chain(field, levels, line.ends)
    if chain is None or chain.count < least:
        return
    if chain.is_only:
        first, last = _outer(line, [place for place in line.places if chain.bits & field.bit(place.index)])
        yield _Row(chain.count, line.extent(first, last, scale), chain.bits)
        return
    # several sets of that count: fix the outermost circles, leave out what sticks out beyond them
    for first, last in product(line.places, repeat=2):
        inside = {p.index for p in line.places if line.starts_no_later(first, p) and line.stops_no_earlier(last, p)}
        through = line.ends | {first.index, last.index}
        if through <= inside:
            kept = [[place for place in level if place.index in inside] for level in levels]
            again = _longest_chain(field, [level for level in kept if level], through)
            if again is not None and again.count == chain.count:
                yield _Row(again.count, line.extent(first, last, scale), again.bits)


def _best_row(field: _Field, cluster: set[int], scale: int) -> _Row | None:
    """The row with most circles in the cluster (ties: longer, then lowest indices), or None if all stand alone."""
    best: _Row | None = None
    stacks: dict[tuple[int, int], list[int]] = {}
    for index in cluster:
        stacks.setdefault((field.circles[index].x, field.circles[index].y), []).append(index)
    for stack in stacks.values():  # one centre gives no line: such circles are a row as they lie
        if len(stack) > 1:
            widest = Fraction(2 * max(field.circles[index].radius for index in stack), scale)
            row = _Row(len(stack), RootSum(Fraction(0), widest), sum(field.bit(index) for index in stack))
            best = row if row.is_better_than(best) else best
    for one, other in combinations((field.circles[index] for index in sorted(cluster)), 2):
        if (one.x, one.y) == (other.x, other.y):
            continue
        line = _line(field, cluster, one, other)
        least = best.count if best else 2
        if len(line.places) >= least:
            for row in _rows_on(field, line, least, scale):
                best = row if row.is_better_than(best) else best
    return best


def _check(marks: Sequence[Mark], gap: Fraction, count: int, straightness: Fraction, ratio: Fraction) -> None:
    for index, mark in enumerate(marks):
        if mark.length <= 0 or not 0 <= mark.width <= mark.length:
            raise InputError(
                f"mark {index}: length {shown(mark.length)} and width {shown(mark.width)}; "
                "length must be above 0 and width between 0 and the length"
            )
    if gap < 0 or straightness < 0:
        raise InputError(f"gap {shown(gap)}, straightness {shown(straightness)}: neither may be below 0")
    if count < 2:
        raise InputError(f"count {count}: a row has at least 2 marks")
    if ratio <= 0:
        raise InputError(f"ratio {shown(ratio)}: it must be above 0")


def _field(marks: Sequence[Mark], rounded: Sequence[int], gap: Fraction, straightness: Fraction) -> tuple[_Field, int]:
    """The rounded marks in whole units, and how many of those units go into one."""
    numbers = [gap, straightness]
    for mark in (marks[index] for index in rounded):
        numbers += [mark.x, mark.y, mark.length / 2]
    scale = lcm(*(number.denominator for number in numbers))
    circles = [
        _Circle(i, int(marks[i].x * scale), int(marks[i].y * scale), int(marks[i].length / 2 * scale)) for i in rounded
    ]
    return _Field(circles, int(gap * scale), int(straightness * scale), len(marks)), scale


def group_marks(
    marks: Sequence[Mark],
    gap: Fraction,
    count: int,
    straightness: Fraction,
    ratio: Fraction = Fraction(3),
    ratio_inclusive: bool = True,
) -> list[Group]:
    """Group marks into rows; every mark is in exactly one group; sorted by first member.

    A linear mark stands alone.  Rounded marks are circles of their length.  A row is a
    set of circles whose centres lie within ``straightness`` of the line through
    the centres of two of them, each neighbour along that line within ``gap`` of
    the next, edge to edge (overlap is no gap); circles at one place along it may
    be read in any order.  The row with most marks (ties:
    longer, then lowest positions) is taken out, then the next; what remains
    stands alone.  A row counts as linear from ``count`` marks on.  Its length
    runs from outer edge to outer edge along its line.  InputError for impossible values.
    """
    _check(marks, gap, count, straightness, ratio)
    rounded = [index for index, mark in enumerate(marks) if not mark.is_linear(ratio, ratio_inclusive)]
    field, scale = _field(marks, rounded, gap, straightness)
    groups = [
        Group((index,), ROUNDED if index in field.circles else LINEAR, RootSum(Fraction(0), mark.length))
        for index, mark in enumerate(marks)
    ]
    clusters = list(field.clusters(rounded))
    while clusters:
        cluster = clusters.pop()
        row = _best_row(field, cluster, scale) if len(cluster) > 1 else None
        if row is None:
            continue
        members = field.members(row.bits)
        groups = [group for group in groups if group.members[0] not in members]
        groups.append(Group(members, LINEAR if row.count >= count else ROUNDED, row.extent))
        clusters += field.clusters(cluster.difference(members))
    return sorted(groups, key=lambda group: group.members)
