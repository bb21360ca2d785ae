"""The outline of a part: zones hatched by state, indications to scale, the marker."""

from __future__ import annotations

from collections.abc import Sequence

from ndi.gui.presenters.scene import Area, Dot, Outline, Point, Shape
from ndi.gui.views.booth.brush import Anchor, Brush
from ndi.gui.views.booth.palette import BRIGHT, LINE, TEXT

Box = tuple[float, float, float, float]


class Scale:
    """Millimetres to pixels: the whole part in the box, y upwards."""

    def __init__(self, points: Sequence[Point], box: Box) -> None:
        left, top, right, bottom = box
        xs, ys = [p.x for p in points], [p.y for p in points]
        self.low_x, self.low_y = min(xs), min(ys)
        wide, high = max(xs) - self.low_x or 1.0, max(ys) - self.low_y or 1.0
        self.per_mm = min((right - left) / wide, (bottom - top) / high)
        self.left = left + ((right - left) - wide * self.per_mm) / 2
        self.bottom = top + high * self.per_mm
        self.middle = self.bottom - high * self.per_mm / 2  # in pixels

    def at(self, point: Point) -> tuple[float, float]:
        return self.left + (point.x - self.low_x) * self.per_mm, self.bottom - (point.y - self.low_y) * self.per_mm

    def back(self, x: float, y: float) -> Point:
        """From pixels to millimetres, for a pointer."""
        return Point(self.low_x + (x - self.left) / self.per_mm, self.low_y + (self.bottom - y) / self.per_mm)


def scale_of(part: Outline, box: Box, brush: Brush) -> Scale | None:
    """The scale at which the outline is drawn in a box, or None where it has no points."""
    points = [*part.corners, *(corner for area in part.areas for corner in area.corners)]
    if not points:
        return None
    left, top, right, bottom = box
    pad = brush.size
    return Scale(points, (left + pad, top + pad, right - pad, bottom - brush.line_height(brush.small) - pad))


def draw(brush: Brush, part: Outline, box: Box) -> float:
    """Draw; returns the y below."""
    scale = scale_of(part, box, brush)
    left, top, right, _ = box
    if scale is None:
        return brush.text(left, top, "the part master gives no outline", width=right - left)
    for area in part.areas:
        if not area.selected:
            _area(brush, scale, area)
    if part.corners:
        _closed(brush, scale, part.corners, TEXT, brush.line)
    for area in part.areas:
        if area.selected:
            _area(brush, scale, area)
    for line in part.lines:
        points = [value for point in line.points for value in scale.at(point)]
        if len(line.points) > 1 and points[:2] != points[-2:]:
            brush.path(points, BRIGHT, brush.line * 3)
        else:
            x, y = points[:2]
            brush.path([x - 3, y - 3, x + 3, y + 3], BRIGHT, brush.line * 2)
        if line.label:
            x, y = points[:2]
            anchor: Anchor = "sw" if x < (left + right) / 2 else "se"
            brush.text(x, y - brush.gap, line.label, size=brush.small, anchor=anchor, bold=line.selected)
    for dot in part.dots:
        _dot(brush, scale, dot)
    if part.marker is not None:
        _marker(brush, scale, part.marker)
    below = scale.bottom + brush.size * 0.6
    if part.caption:
        below = brush.text(left, below, part.caption, size=brush.small, width=right - left)
    return below


def _closed(brush: Brush, scale: Scale, corners: Sequence[Point], colour: str, width: float) -> None:
    points = [value for corner in (*corners, corners[0]) for value in scale.at(corner)]
    brush.path(points, colour, width)


def _area(brush: Brush, scale: Scale, area: Area) -> None:
    """Not looked at: open.  Looked at: a tick in it.  In hand: a bright edge.  Not asked here: only the line."""
    if len(area.corners) < 3:
        return
    _closed(brush, scale, area.corners, BRIGHT if area.selected else LINE, brush.line * (3 if area.selected else 1))
    xs, ys = zip(*(scale.at(corner) for corner in area.corners), strict=True)
    if area.shape in (Shape.DONE, Shape.OPEN):
        size = min(brush.size * 0.8, (max(xs) - min(xs)) * 0.6, (max(ys) - min(ys)) * 0.6)
        if size >= 5:
            brush.shape(area.shape, sum(xs) / len(xs) - size / 2, sum(ys) / len(ys) - size / 2, size)


def _dot(brush: Brush, scale: Scale, dot: Dot) -> None:
    """Its number stands towards the middle of the part, where there is room on every outline."""
    x, y = scale.at(dot.at)
    size = brush.size * (0.75 if dot.selected else 0.5)
    brush.shape(dot.shape, x - size / 2, y - size / 2, size, BRIGHT if dot.selected else TEXT)
    below = y < scale.middle
    anchor: Anchor = "n" if below else "s"
    at = y + size * 0.7 if below else y - size * 0.7
    brush.text(x, at, dot.label, size=brush.small, anchor=anchor, bold=dot.selected)


def _marker(brush: Brush, scale: Scale, at: Point) -> None:
    x, y = scale.at(at)
    arm = brush.size * 0.7
    for dx, dy in ((1, 0), (-1, 0), (0, 1), (0, -1)):
        brush.path([x + dx * arm * 0.3, y + dy * arm * 0.3, x + dx * arm, y + dy * arm], BRIGHT, brush.line * 1.5)
