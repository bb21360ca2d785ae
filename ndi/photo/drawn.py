"""Draws what stands beside a photograph into a copy of it; white lines with black edges show on any ground and in red levels."""

from __future__ import annotations

import io
from collections.abc import Sequence
from math import atan2, cos, hypot, pi, sin
from typing import Any

from ndi.photo.pictures import upright
from ndi.services.ports import DrawnShape

Pixel = tuple[float, float]
_LINE = 1 / 220  # of the picture's shorter side
_LETTERS = 1 / 25
_HEAD = 6.0  # an arrow's head in widths of its line
_WING = pi / 7
_TICK = 4.0  # half of a scale bar's end strokes in widths of its line
_QUALITY = 90


def drawn(content: bytes, shapes: Sequence[DrawnShape], edge: int | None) -> bytes:
    """An upright copy with the shapes in it: JPEG of ``edge`` pixels at most, PNG at full size where it is None."""
    image, _ = upright(content, "RGB")
    if edge is not None:
        image.thumbnail((edge, edge))
    pen = _Pen(image)
    for shape in shapes:
        pen.draw(shape)
    out = io.BytesIO()
    image.save(out, *(("PNG",) if edge is None else ("JPEG",)), **({} if edge is None else {"quality": _QUALITY}))
    return out.getvalue()


class _Pen:
    def __init__(self, image: Any) -> None:
        from PIL import ImageDraw, ImageFont

        self._size, shorter = image.size, min(image.size)
        self._width = max(1.0, shorter * _LINE)
        self._to = ImageDraw.Draw(image)
        self._font = ImageFont.load_default(max(10.0, shorter * _LETTERS))

    def draw(self, shape: DrawnShape) -> None:
        points = [(x * (self._size[0] - 1), y * (self._size[1] - 1)) for x, y in shape.points]
        match shape.shape:
            case "arrow":
                self._arrow(*points)
                self._text(points[0], shape.text, away_from=points[1])
            case "circle":
                (x, y), rim = points
                radius = hypot(rim[0] - x, rim[1] - y)
                self._ring((x, y), radius)
                self._text((x + radius * cos(pi / 4), y + radius * sin(pi / 4)), shape.text)
            case "scale bar":
                self._bar(*points)
                self._text(points[1], shape.text)
            case "text":
                self._text(points[0], shape.text)

    def _line(self, *ends: Sequence[Pixel]) -> None:
        for colour, extra in (("black", 2.2), ("white", 1.0)):
            for line in ends:
                self._to.line([*line], fill=colour, width=max(1, round(self._width * extra)), joint="curve")

    def _arrow(self, tail: Pixel, head: Pixel) -> None:
        back = atan2(tail[1] - head[1], tail[0] - head[0])
        size = self._width * _HEAD
        wings = [(head[0] + size * cos(back + turn), head[1] + size * sin(back + turn)) for turn in (_WING, -_WING)]
        self._line([tail, head], *([wing, head] for wing in wings))

    def _ring(self, centre: Pixel, radius: float) -> None:
        for colour, extra in (("black", 2.2), ("white", 1.0)):
            width = max(1, round(self._width * extra))
            outer = radius + width / 2
            box = centre[0] - outer, centre[1] - outer, centre[0] + outer, centre[1] + outer
            self._to.ellipse(box, outline=colour, width=width)

    def _bar(self, one: Pixel, other: Pixel) -> None:
        along = atan2(other[1] - one[1], other[0] - one[0]) + pi / 2
        tick = self._width * _TICK
        ends = [
            [(x - tick * cos(along), y - tick * sin(along)), (x + tick * cos(along), y + tick * sin(along))]
            for x, y in (one, other)
        ]
        self._line([one, other], *ends)

    def _text(self, place: Pixel, text: str, *, away_from: Pixel | None = None) -> None:
        """Words right of and below a place, or on the side of it that looks away from another; always inside the picture."""
        if not text:
            return
        edge = max(1, round(self._width))
        left, top, right, bottom = self._to.textbbox((0, 0), text, font=self._font, stroke_width=edge)
        gap = self._width * 3
        x, y = place[0] + gap, place[1] + gap
        if away_from is not None:
            x = place[0] - (left + right) / 2
            y = place[1] - gap - bottom if away_from[1] >= place[1] else place[1] + gap - top
        x = min(max(x, -left), self._size[0] - right - 1)
        y = min(max(y, -top), self._size[1] - bottom - 1)
        self._to.text((x, y), text, fill="white", font=self._font, stroke_width=edge, stroke_fill="black")
