"""Length on a flat card seen in a photograph, and along a journal's curve.

Source: a plane seen by a camera is mapped by a homography, fixed by four points;
the closed form for a square's corners is P. Heckbert's (Fundamentals of Texture
Mapping, 1989).  The picture itself is not read here: points come as pixels.
Uncertainty: normally scattered clicks, drawn from a counter and SHA-256, so
that a seed gives the same figures on every machine.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from math import asin, cos, fsum, hypot, log, pi, sin, sqrt

from ndi.domain.errors import InputError

Point = tuple[float, float]
Matrix = tuple[float, ...]  # nine numbers, row by row


def arc(radius: float, chord: float) -> float:
    """Length along a curve of ``radius`` over a straight ``chord``: 2 R asin(c / 2R).

    InputError where the chord does not fit.
    """
    if radius <= 0 or not 0 <= chord <= 2 * radius:
        raise InputError(f"chord {chord}, radius {radius}: a chord is at most twice the radius, and neither is below 0")
    return 2 * radius * asin(chord / (2 * radius))


def _cross(a: Point, b: Point, c: Point) -> float:
    return (b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0])


def are_convex(corners: Sequence[Point]) -> bool:
    """Whether four points, in order, are the corners of a convex four-sided figure."""
    turns = [_cross(corners[i], corners[(i + 1) % 4], corners[(i + 2) % 4]) for i in range(4)]
    return all(turn > 0 for turn in turns) or all(turn < 0 for turn in turns)


def to_card(corners: Sequence[Point], width: float, height: float) -> Matrix:
    """From pixels to the card's plane; corners in order: (0, 0), (width, 0), (width, height), (0, height)."""
    (x0, y0), (x1, y1), (x2, y2), (x3, y3) = corners
    dx1, dy1, dx2, dy2 = x1 - x2, y1 - y2, x3 - x2, y3 - y2
    sx, sy = x0 - x1 + x2 - x3, y0 - y1 + y2 - y3
    across = dx1 * dy2 - dx2 * dy1
    g, h = (sx * dy2 - dx2 * sy) / across, (dx1 * sy - sx * dy1) / across
    a, b, c = x1 - x0 + g * x1, x3 - x0 + h * x3, x0
    d, e, f = y1 - y0 + g * y1, y3 - y0 + h * y3, y0
    # the adjugate turns the map round; a common factor does not matter
    rows = (e - f * h, c * h - b, b * f - c * e, f * g - d, a - c * g, c * d - a * f, d * h - e * g, b * g - a * h, 0.0)
    return (*(width * x for x in rows[:3]), *(height * x for x in rows[3:6]), *rows[6:8], a * e - b * d)


def mapped(matrix: Matrix, point: Point) -> Point:
    """One pixel in the card's plane."""
    x, y = point
    below = matrix[6] * x + matrix[7] * y + matrix[8]
    return (
        (matrix[0] * x + matrix[1] * y + matrix[2]) / below,
        (matrix[3] * x + matrix[4] * y + matrix[5]) / below,
    )


@dataclass(frozen=True)
class Picture:
    """A card in a picture, its true size, and the two ends of a mark."""

    corners: tuple[Point, Point, Point, Point]
    ends: tuple[Point, Point]
    width: float
    height: float

    def __post_init__(self) -> None:
        if not are_convex(self.corners):
            raise InputError(
                "corners do not go round a convex card: give them in order, "
                "top left, top right, bottom right, bottom left as printed on the card"
            )

    @property
    def length(self) -> float:
        """Straight length of the mark in the card's unit."""
        matrix = to_card(self.corners, self.width, self.height)
        return distance(*(mapped(matrix, end) for end in self.ends))

    @property
    def simple_length(self) -> float:
        """The length by the scale of the card's first edge alone: what a ruler in the picture would give."""
        return distance(*self.ends) / distance(*self.corners[:2]) * self.width

    @property
    def is_outside(self) -> bool:
        """Whether an end lies off the card, where the map is stretched beyond its points."""
        matrix = to_card(self.corners, self.width, self.height)
        points = [mapped(matrix, end) for end in self.ends]
        return not all(0 <= x <= self.width and 0 <= y <= self.height for x, y in points)


def distance(one: Point, other: Point) -> float:
    return hypot(other[0] - one[0], other[1] - one[1])


def normal_draws(seed: int) -> Iterator[float]:
    """Standard normal numbers, the same for the same seed everywhere (SHA-256 of seed and counter; Box and Muller)."""
    counter = 0
    while True:
        block = hashlib.sha256(f"{seed}/{counter}".encode()).digest()
        counter += 1
        for start in (0, 16):
            one, other = (
                (int.from_bytes(block[i : i + 8], "big") + 0.5) / 2**64 for i in (start, start + 8)
            )  # both inside 0 to 1
            size, turn = sqrt(-2 * log(one)), 2 * pi * other
            yield size * cos(turn)
            yield size * sin(turn)


@dataclass(frozen=True)
class Scatter:
    """Standard deviation and 95 % span of the length under noisy clicks."""

    sd: float
    low: float
    high: float


def scatter(picture: Picture, corner_noise: float, end_noise: float, draws: int, seed: int) -> Scatter:
    """Monte Carlo of the length: every click moved by normal noise (pixels, one standard deviation).

    InputError when the noise turns the card inside out.
    """
    if draws < 2:
        raise InputError(f"draws {draws}: a spread needs at least 2")
    numbers = normal_draws(seed)

    def moved(point: Point, noise: float) -> Point:
        return point[0] + noise * next(numbers), point[1] + noise * next(numbers)

    lengths = []
    for _ in range(draws):
        corners = [moved(corner, corner_noise) for corner in picture.corners]
        ends = [moved(end, end_noise) for end in picture.ends]
        if not are_convex(corners):
            raise InputError(f"corner_noise_px {corner_noise} is as large as the card in the picture: go nearer")
        matrix = to_card(corners, picture.width, picture.height)
        lengths.append(distance(*(mapped(matrix, end) for end in ends)))
    lengths.sort()
    mean = fsum(lengths) / draws
    sd = sqrt(fsum((x - mean) ** 2 for x in lengths) / (draws - 1))
    return Scatter(sd, _quantile(lengths, 0.025), _quantile(lengths, 0.975))


def _quantile(ordered: Sequence[float], share: float) -> float:
    place = share * (len(ordered) - 1)
    below = int(place)
    above = min(below + 1, len(ordered) - 1)
    return ordered[below] + (place - below) * (ordered[above] - ordered[below])
