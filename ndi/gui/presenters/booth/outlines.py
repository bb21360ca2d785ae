"""The outline of a part with its zones and what was found on it, as the view draws it."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import replace
from math import cos, radians, sin

from ndi.domain import facts as f
from ndi.domain.procedure import PartMaster
from ndi.gui.presenters.scene import Area, Line, Outline, Point, Shape
from ndi.rules.inquiry import Indication, Inquiry
from ndi.services import measured_photographs

_ALONG = {"axial": 0.0, "longitudinal": 0.0, "circumferential": 90.0, "transverse": 90.0, "oblique": 45.0}


def outline(
    master: PartMaster, q: Inquiry, looked: Collection[str], selected: str | None, marker: Point | None = None
) -> Outline:
    """Zones by what was looked at, indications to scale."""
    wanted = set(q.technique.zones)
    areas = tuple(
        Area(
            zone.name,
            tuple(Point(float(x.in_unit("mm")), float(y.in_unit("mm"))) for x, y in zone.polygon),
            Shape.DASH if zone.code not in wanted else Shape.DONE if zone.code in looked else Shape.OPEN,
            zone.code == selected,
        )
        for zone in master.zones
        if zone.polygon
    )
    corners = tuple(Point(float(x.in_unit("mm")), float(y.in_unit("mm"))) for x, y in master.outline)
    lines = tuple(line for mark in q.indications if (line := drawn_mark(mark)) is not None)
    return Outline(corners, areas, lines, marker, master.datum and f"datum: {master.datum}")


def drawn_mark(mark: Indication) -> Line | None:
    """An indication with what photographs say of its place, its direction and its length."""
    placed = measured_photographs.place_mm(mark)
    x, y = placed or (None, None)
    seen = replace(mark.seen.fact, x_mm=x, y_mm=y, length=measured_photographs.longest(mark))
    return drawn(seen, measured_photographs.angle_deg(mark))


def drawn(seen: f.IndicationSeen, measured_deg: float | None = None) -> Line | None:
    """An indication as a line of its length in its direction; None when nobody said where it is."""
    if seen.x_mm is None or seen.y_mm is None:
        return None
    x, y = float(seen.x_mm.in_unit("mm")), float(seen.y_mm.in_unit("mm"))
    half = float(seen.length.in_unit("mm")) / 2 if seen.length is not None else 0.0
    said = _ALONG.get((seen.orientation or "axial").split()[0], 0.0)
    angle = radians(said if measured_deg is None else measured_deg)
    dx, dy = half * cos(angle), half * sin(angle)
    return Line((Point(x - dx, y - dy), Point(x + dx, y + dy)), seen.indication.rpartition("/")[2])
