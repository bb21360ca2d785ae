"""Where the camera stood over a card, and what follows for something that does not lie in the card's plane.

Source: the camera's pose from one plane (R. Hartley, A. Zisserman, Multiple View
Geometry, 2nd ed., 8.1; Z. Zhang 2000) for square pixels and an axis through the
picture's middle.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import fsum, hypot, sqrt

from ndi.calc.card_plane import Plane, Point
from ndi.calc.photo_measures import along
from ndi.domain.errors import InputError

_LONGEST, _STEP, _STEPS = 200, 1.1, 90  # lenses that are tried: from 200 times half the picture's diagonal down
FULL_FRAME_DIAGONAL = hypot(36, 24)  # mm; CIPA DCG-001, focal lengths "as of a 35 mm film camera"


@dataclass(frozen=True)
class CameraPlace:
    """The camera over the card: x and y on the card, height above it, mm."""

    x: float
    y: float
    height: float

    def off_plane(self, places: Sequence[Point], most: float) -> float:
        """By how much a line through some places may be wrong, at most, when each lies up to ``most`` mm off the plane."""
        if most >= self.height:
            raise InputError(
                f"{most:g} mm off the plane, and the camera only {self.height:.0f} mm above it: measure them again"
            )
        wrong = []
        for number in range(len(places)):
            pushed = [self._lifted(place, most if number == at else 0.0) for at, place in enumerate(places)]
            wrong.append(abs(along(pushed) - along(places)))
        return fsum(wrong)

    def _lifted(self, place: Point, height: float) -> Point:
        share = height / self.height
        return place[0] + (self.x - place[0]) * share, place[1] + (self.y - place[1]) * share


def focal_px(focal_35_mm: float, picture: tuple[int, int]) -> float:
    """Focal length in pixels from the one that a camera writes as of 35 mm film."""
    return focal_35_mm * hypot(*picture) / FULL_FRAME_DIAGONAL


def camera_place(plane: Plane, focal: float) -> CameraPlace:
    """The camera of a focal length in pixels over a plane."""
    scale = focal / plane.radius
    first, second, third = (
        (float(plane.matrix[0][n]) / scale, float(plane.matrix[1][n]) / scale, float(plane.matrix[2][n]))
        for n in range(3)
    )
    size = 2 / (_size(first) + _size(second))
    one, other, moved = (tuple(size * x for x in each) for each in (first, second, third))
    normal = _cross(one, other)
    return CameraPlace(-_dot(one, moved), -_dot(other, moved), abs(_dot(normal, moved)))


def focal_for_height(plane: Plane, height: float) -> float:
    """The focal length at which the camera stands at a height that was measured; InputError when none fits."""
    # a longer lens stands farther away; below the lens that fits, a tilted plane makes heights that mean nothing
    lenses = [plane.radius * _LONGEST / _STEP**number for number in range(_STEPS)]
    for high, low in pairwise(lenses):
        if camera_place(plane, low).height <= height < camera_place(plane, high).height:
            break
    else:
        raise InputError(f"{height:g} mm from camera to card does not fit this picture: measure it again")
    for _ in range(60):
        middle = sqrt(low * high)
        if camera_place(plane, middle).height < height:
            low = middle
        else:
            high = middle
    return sqrt(low * high)


def _size(vector: tuple[float, ...]) -> float:
    return sqrt(_dot(vector, vector))


def _dot(one: tuple[float, ...], other: tuple[float, ...]) -> float:
    return fsum(a * b for a, b in zip(one, other, strict=True))


def _cross(one: tuple[float, ...], other: tuple[float, ...]) -> tuple[float, ...]:
    (a, b, c), (d, e, g) = one, other
    return b * g - c * e, c * d - a * g, a * e - b * d
