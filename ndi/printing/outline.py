"""The drawing of a part: outline, zones and marks, to scale.

Pure layout on one page of a canvas; what is drawn comes from the report model.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from ndi.printing.page import MM_PER_POINT, Canvas, PageMarks
from ndi.services.report_models import IndicationModel, Point, ZoneModel

_CODE_SIZE, _NUMBER_SIZE, _NOTE_SIZE = 6.0, 8.0, 7.0
_ZONE_GREY, _ZONE_EDGE = 244, 120
_RING = 2.2  # mm; a ring says where to look when the mark itself is too short to see
_ARROW = 1.6  # mm, the head of the arrow
_LABEL_RADIUS = 2.3
_LABEL_DISTANCES = (7.0, 11.0, 15.0, 20.0)
_DIRECTIONS = 12
_PADDING = 9.0  # room round the drawing for numbers
_LEGEND_LINE = 3.4
_PLACES = 11  # places tried for a code, across and down
_BAR_STEPS = (500, 200, 100, 50, 20, 10, 5, 2, 1)


@dataclass(frozen=True)
class _Scale:
    """From millimetres of the part to millimetres of the paper."""

    factor: float
    left: float
    bottom: float
    min_x: float
    min_y: float

    def place(self, point: Point) -> Point:
        x, y = point
        return self.left + (x - self.min_x) * self.factor, self.bottom - (y - self.min_y) * self.factor


def drawn(indications: Iterable[IndicationModel], first: int = 1) -> list[tuple[int, IndicationModel]]:
    """The indications that have a place on the drawing, with the number that the list, from ``first``, gives them."""
    return [
        (number, mark)
        for number, mark in enumerate(indications, start=first)
        if mark.x_mm is not None and mark.y_mm is not None
    ]


def drawing_height(outline: Sequence[Point], width: float, largest: float) -> float:
    """Height that the outline takes at the scale that fills ``width`` or ``largest``, with its padding."""
    spread_x, spread_y = _spread(outline)
    factor = min((width - 2 * _PADDING) / spread_x, (largest - 2 * _PADDING) / spread_y)
    return spread_y * factor + 2 * _PADDING


def draw_outline(
    canvas: Canvas,
    marks: PageMarks,
    box: tuple[float, float, float, float],
    outline: Sequence[Point],
    zones: Sequence[ZoneModel],
    indications: Sequence[IndicationModel],
    first: int = 1,
) -> list[str]:
    """Draws into ``box`` (left, top, width, height); returns the legend of zones too small to carry their code.

    An arrow from each number, the ``first`` and those after it, points at its indication.
    """
    scale = _scale_for(outline, box)
    marks.polygon([scale.place(point) for point in outline], width=0.45)
    spots = [scale.place((mark.x_mm or 0.0, mark.y_mm or 0.0)) for _, mark in drawn(indications)]
    legend, codes = _draw_zones(canvas, marks, zones, scale, spots)
    marks.polygon([scale.place(point) for point in outline], width=0.45)
    _draw_indications(canvas, marks, drawn(indications, first), scale, box, codes)
    _draw_scale_bar(marks, scale, box)
    return legend


def _spread(outline: Sequence[Point]) -> tuple[float, float]:
    xs, ys = [x for x, _ in outline], [y for _, y in outline]
    return max(xs) - min(xs) or 1.0, max(ys) - min(ys) or 1.0


def _scale_for(outline: Sequence[Point], box: tuple[float, float, float, float]) -> _Scale:
    left, top, width, height = box
    spread_x, spread_y = _spread(outline)
    factor = min((width - 2 * _PADDING) / spread_x, (height - 2 * _PADDING) / spread_y)
    return _Scale(
        factor,
        left + (width - spread_x * factor) / 2,
        top + (height + spread_y * factor) / 2,
        min(x for x, _ in outline),
        min(y for _, y in outline),
    )


def _draw_zones(
    canvas: Canvas, marks: PageMarks, zones: Sequence[ZoneModel], scale: _Scale, spots: Sequence[Point]
) -> tuple[list[str], list[tuple[float, float, float]]]:
    """Draws the zones; returns the legend, and where codes stand: middle and width of each."""
    legend: list[str] = []
    labels: list[tuple[float, float, str]] = []
    for zone in zones:
        points = [scale.place(point) for point in zone.polygon]
        marks.polygon(points, width=0.15, grey=_ZONE_EDGE, fill=_ZONE_GREY)
        label = canvas.spelled(zone.code)
        if _is_narrow(canvas, label, points):
            legend.append(f"{_letter(len(legend))} = {label}")
            label = _letter(len(legend) - 1)
        wide = canvas.width_of(label, _CODE_SIZE)
        x, y = _code_place(
            points, wide, spots, [(left, upper, canvas.width_of(text, _CODE_SIZE)) for left, upper, text in labels]
        )
        labels.append((x, y, label))
    for x, y, label in labels:  # after every zone, so that no neighbour's ground covers a code
        marks.text(x, y + _CODE_SIZE * MM_PER_POINT * 0.36, label, _CODE_SIZE, grey=60, align="C")
    return legend, [(x, y, canvas.width_of(label, _CODE_SIZE)) for x, y, label in labels]


def _is_narrow(canvas: Canvas, code: str, points: Sequence[Point]) -> bool:
    """Whether a zone on the paper has no room for its code."""
    width = max(x for x, _ in points) - min(x for x, _ in points)
    height = max(y for _, y in points) - min(y for _, y in points)
    return canvas.width_of(code, _CODE_SIZE) > width - 1 or height < _CODE_SIZE * MM_PER_POINT * 1.2


def legend_for(
    canvas: Canvas, width: float, height: float, outline: Sequence[Point], zones: Sequence[ZoneModel]
) -> list[str]:
    """The legend that :func:`draw_outline` will return for a box of this size."""
    scale = _scale_for(outline, (0.0, 0.0, width, height))
    codes = [(canvas.spelled(zone.code), [scale.place(point) for point in zone.polygon]) for zone in zones]
    narrow = [code for code, points in codes if _is_narrow(canvas, code, points)]
    return [f"{_letter(number)} = {code}" for number, code in enumerate(narrow)]


def _letter(number: int) -> str:
    """a, b ... z, aa, ab ..."""
    first, second = divmod(number, 26)
    return (chr(ord("a") + first - 1) if first else "") + chr(ord("a") + second)


def _code_place(
    points: Sequence[Point], wide: float, spots: Sequence[Point], codes: Sequence[tuple[float, float, float]]
) -> Point:
    """Where a zone's code stands: inside the zone, clear of marks and of other codes, as near to its middle as it goes.

    ``codes`` are the middles and widths of the codes that stand already.
    """
    xs, ys = [x for x, _ in points], [y for _, y in points]
    centre = sum(xs) / len(xs), sum(ys) / len(ys)
    shares = [(step + 0.5) / _PLACES for step in range(_PLACES)]
    grid = [(min(xs) + a * (max(xs) - min(xs)), min(ys) + b * (max(ys) - min(ys))) for a in shares for b in shares]
    places = [centre, *sorted(grid, key=lambda place: math.dist(place, centre))]
    height = _CODE_SIZE * MM_PER_POINT

    def is_clear(x: float, y: float) -> bool:
        of_marks = all(abs(x - sx) > wide / 2 + _RING or abs(y - sy) > height / 2 + _RING + 0.5 for sx, sy in spots)
        of_codes = all(abs(x - cx) > (wide + other) / 2 + 0.5 or abs(y - cy) > height for cx, cy, other in codes)
        return of_marks and of_codes and all(_is_inside((at, y), points) for at in (x - wide / 2, x, x + wide / 2))

    return next((place for place in places if is_clear(*place)), centre)


def _is_inside(point: Point, polygon: Sequence[Point]) -> bool:
    """Whether a point lies in a polygon, by the crossings of a ray to the right."""
    x, y = point
    inside = False
    for (x1, y1), (x2, y2) in zip(polygon, [*polygon[1:], polygon[0]], strict=True):
        if (y1 > y) != (y2 > y) and x < x1 + (y - y1) * (x2 - x1) / (y2 - y1):
            inside = not inside
    return inside


def _draw_indications(
    canvas: Canvas,
    marks: PageMarks,
    indications: Sequence[tuple[int, IndicationModel]],
    scale: _Scale,
    box: tuple[float, float, float, float],
    codes: Sequence[tuple[float, float, float]],
) -> None:
    placed = [(number, mark, scale.place((mark.x_mm or 0.0, mark.y_mm or 0.0))) for number, mark in indications]
    taken: list[Point] = [at for _, _, at in placed]
    for number, mark, at in placed:
        if mark.length_mm is not None:
            half, angle = mark.length_mm * scale.factor / 2, math.radians(mark.angle_deg)
            dx, dy = half * math.cos(angle), -half * math.sin(angle)
            marks.line(at[0] - dx, at[1] - dy, at[0] + dx, at[1] + dy, width=0.6)
        marks.circle(*at, _RING, width=0.3)
        spot = _free_spot(at, taken, box, codes)
        taken.append(spot)
        reach = math.dist(at, spot)
        ux, uy = (spot[0] - at[0]) / reach, (spot[1] - at[1]) / reach
        tip = at[0] + ux * _RING, at[1] + uy * _RING
        marks.line(*tip, spot[0] - ux * _LABEL_RADIUS, spot[1] - uy * _LABEL_RADIUS, width=0.3)
        base = tip[0] + ux * _ARROW, tip[1] + uy * _ARROW
        side = -uy * _ARROW / 2.5, ux * _ARROW / 2.5
        marks.polygon([tip, (base[0] + side[0], base[1] + side[1]), (base[0] - side[0], base[1] - side[1])], fill=0)
        marks.circle(*spot, _LABEL_RADIUS, fill=0)
        size = canvas.fit(str(number), _NUMBER_SIZE, _LABEL_RADIUS * 1.5, bold=True)
        marks.text(spot[0], spot[1] + size * MM_PER_POINT * 0.36, str(number), size, bold=True, grey=255, align="C")


def _free_spot(
    at: Point,
    taken: Sequence[Point],
    box: tuple[float, float, float, float],
    codes: Sequence[tuple[float, float, float]],
) -> Point:
    """Where a number can stand: inside the box and as near as it goes without covering another or a zone's code."""
    left, top, width, height = box
    best, best_room = (at[0] + _LABEL_DISTANCES[0], at[1]), -1.0
    for distance in _LABEL_DISTANCES:
        for step in range(_DIRECTIONS):
            angle = math.pi / 4 + step * 2 * math.pi / _DIRECTIONS
            spot = at[0] + distance * math.cos(angle), at[1] - distance * math.sin(angle)
            inside = (
                left + _LABEL_RADIUS <= spot[0] <= left + width - _LABEL_RADIUS
                and top + _LABEL_RADIUS <= spot[1] <= top + height - _LABEL_RADIUS
            )
            room = min(math.dist(spot, other) for other in taken)
            covers = any(
                abs(spot[0] - x) < wide / 2 + _LABEL_RADIUS
                and abs(spot[1] - y) < _CODE_SIZE * MM_PER_POINT / 2 + _LABEL_RADIUS
                for x, y, wide in codes
            )
            if inside and not covers and room >= 2 * _LABEL_RADIUS + 0.5:
                return spot
            if inside and room > best_room:
                best, best_room = spot, room
    return best


def _draw_scale_bar(marks: PageMarks, scale: _Scale, box: tuple[float, float, float, float]) -> None:
    left, top, width, height = box
    length = next((step for step in _BAR_STEPS if step * scale.factor <= width / 4), _BAR_STEPS[-1])
    y, right = top + height - 2.0, left + width - 2.0
    start = right - length * scale.factor
    marks.line(start, y, right, y, width=0.3)
    for x in (start, right):
        marks.line(x, y - 1, x, y + 1, width=0.3)
    marks.text(start - 1.5, y + 0.9, f"{length} mm", _NOTE_SIZE, align="R")
