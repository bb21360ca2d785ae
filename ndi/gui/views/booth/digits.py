"""Digits of timers as thin strokes: exact height, little light, the same on every machine."""

from __future__ import annotations

from collections.abc import Iterator
from math import cos, pi, sin

Stroke = list[tuple[float, float]]  # in units of the height; x from 0 to WIDTH, y from 0 (top) to 1

WIDTH, GAP = 0.56, 0.20
_COLON = 0.16


def _arc(cx: float, cy: float, rx: float, ry: float, start: float, end: float, steps: int = 28) -> Stroke:
    """Points of an ellipse; degrees, 0 to the right, 90 up."""
    turns = [start + (end - start) * n / steps for n in range(steps + 1)]
    return [(cx + rx * cos(t * pi / 180), cy - ry * sin(t * pi / 180)) for t in turns]


_GLYPHS: dict[str, list[Stroke]] = {
    "0": [_arc(0.28, 0.5, 0.26, 0.5, 0, 360)],
    "1": [[(0.10, 0.22), (0.32, 0.0), (0.32, 1.0)]],
    "2": [[*_arc(0.28, 0.27, 0.26, 0.27, 170, -35), (0.02, 1.0), (0.56, 1.0)]],
    "3": [_arc(0.27, 0.25, 0.24, 0.25, 160, -90), _arc(0.27, 0.74, 0.27, 0.26, 90, -160)],
    "4": [[(0.42, 1.0), (0.42, 0.0), (0.0, 0.68), (0.56, 0.68)]],
    "5": [[(0.50, 0.0), (0.10, 0.0), (0.06, 0.46), *_arc(0.27, 0.68, 0.27, 0.32, 130, -150)]],
    "6": [[(0.44, 0.0), (0.20, 0.24), (0.05, 0.52), *_arc(0.28, 0.70, 0.26, 0.30, 150, -210)]],
    "7": [[(0.02, 0.0), (0.54, 0.0), (0.22, 1.0)]],
    "8": [_arc(0.28, 0.25, 0.22, 0.25, -90, 270), _arc(0.28, 0.74, 0.26, 0.26, 90, 450)],
    "9": [[(0.12, 1.0), (0.36, 0.76), (0.51, 0.48), *_arc(0.28, 0.30, 0.26, 0.30, -30, 330)]],
    "-": [[(0.08, 0.52), (0.48, 0.52)]],
    "/": [[(0.04, 1.0), (0.52, 0.0)]],
    ":": [[(0.0, 0.30), (0.0, 0.34)], [(0.0, 0.72), (0.0, 0.76)]],
    " ": [],
}


def can_draw(text: str) -> bool:
    """Whether every character has strokes here."""
    return all(character in _GLYPHS for character in text)


def width_of(text: str) -> float:
    """Width of a text in units of its height."""
    widths = [_COLON if character == ":" else WIDTH for character in text]
    return sum(widths) + GAP * max(0, len(text) - 1)


def strokes(text: str, left: float, top: float, height: float) -> Iterator[list[float]]:
    """Flat coordinate lists of the text's strokes; its digits are exactly ``height`` high between stroke centres."""
    x = left
    for character in text:
        shift = _COLON / 2 if character == ":" else 0.0
        for stroke in _GLYPHS[character]:
            yield [value for px, py in stroke for value in (x + (px + shift) * height, top + py * height)]
        x += ((_COLON if character == ":" else WIDTH) + GAP) * height
