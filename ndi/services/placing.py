"""Where a point lies on the outline of a part: its zone, and its place in words."""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction

from ndi.domain.procedure import PartMaster, Zone
from ndi.domain.quantity import Number, shown

Place = tuple[Fraction, Fraction]  # millimetres from the datum of the outline, y upwards


def zone_at(master: PartMaster, at: Place, wanted: Sequence[str] = ()) -> Zone | None:
    """The zone that holds a point: the smallest where several do, those of the technique (``wanted``) first."""
    holding = [zone for zone in master.zones if zone.polygon and _holds(_corners(zone), at)]
    holding.sort(key=lambda zone: (bool(wanted) and zone.code not in wanted, _twice_area(_corners(zone))))
    return holding[0] if holding else None


def centre_of(zone: Zone) -> Place:
    """The middle of a zone's box; the datum where it has no polygon."""
    corners = _corners(zone)
    if not corners:
        return Fraction(0), Fraction(0)
    xs, ys = [x for x, _ in corners], [y for _, y in corners]
    return (min(xs) + max(xs)) / 2, (min(ys) + max(ys)) / 2


def in_words(master: PartMaster, at: Place, clock: Number | None = None) -> str:
    """``2.4 in from the big end joint face, 0.3 in off the axis, 165 deg``."""
    x, y = at
    inches = Fraction("25.4")
    words = [
        f"{shown(abs(x) / inches, 'in', digits=1).replace('~', '')} from {master.datum or 'the datum of the outline'}"
    ]
    if y:
        words.append(
            f"{shown(abs(y) / inches, 'in', digits=1).replace('~', '')} {'above' if y > 0 else 'below'} its line"
        )
    if clock is not None:
        words.append(f"{clock.typed} {clock.unit}")
    return ", ".join(words)


def _corners(zone: Zone) -> list[Place]:
    return [(x.in_unit("mm"), y.in_unit("mm")) for x, y in zone.polygon]


def _twice_area(corners: Sequence[Place]) -> Fraction:
    """By the shoelace formula."""
    pairs = zip(corners, [*corners[1:], corners[0]], strict=True)
    return abs(sum((x0 * y1 - x1 * y0 for (x0, y0), (x1, y1) in pairs), Fraction(0)))


def _holds(corners: Sequence[Place], at: Place) -> bool:
    """Whether a polygon holds a point; its edge belongs to it."""
    x, y = at
    inside = False
    for (x0, y0), (x1, y1) in zip(corners, [*corners[1:], corners[0]], strict=True):
        cross = (x1 - x0) * (y - y0) - (x - x0) * (y1 - y0)
        if cross == 0 and min(x0, x1) <= x <= max(x0, x1) and min(y0, y1) <= y <= max(y0, y1):
            return True
        if (y0 > y) != (y1 > y) and x < x0 + (x1 - x0) * (y - y0) / (y1 - y0):
            inside = not inside
    return inside
