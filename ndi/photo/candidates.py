"""What in a picture may be an indication: a proposal to look at, never a finding.

Fluorescent: yellow-green light on a dark part; what glows blue-white (lint,
paper, skin) counts for little.  Dark: dark or red on white developer or
contrast paint.  In both the level round each place is taken off first, so that
a glow all over or a shadow is none.  The regions are those of hysteresis
thresholding (J. Canny 1986): what reaches the upper level, as far as it stays
above the lower one.
"""

from __future__ import annotations

from typing import Any, NamedTuple

from ndi.domain.scale_card import CARDS, CORNERS_OF_MARK, MODULES
from ndi.services.picture_ports import CardSeen, Proposed

Array = Any

LOOKS = ("fluorescent", "dark")
_LONG_SIDE = 2400  # pixels at which a picture is looked at
_LOWER, _UPPER = 3.0, 6.0  # times the picture's own scatter
_LEAST_LOWER, _LEAST_UPPER = 3.0, 8.0  # grey levels, for pictures that hardly scatter
_GROUND = 1 / 24  # of the long side: over how wide a piece the level round a place is taken
_LEAST_AREA, _LEAST_LENGTH = 9, 5.0  # pixels
_NEAR = 6  # pixels
_WIDEST = 1 / 50  # of the long side: broader things are drips, glow and shadows, and are seen without help
_SOFTEST = 0.10  # of the contrast gained over one pixel at the outline: softer things are glow
_LINEAR = 3.0  # length over width; common practice
_MOST = 60
_OUTLINE_POINTS = 40
_BELOW = 80  # a level may lie so far below nothing, where there is much blue
_AROUND = 6  # pixels round a region that tell what it lies on
_BLOWN_OUT = 250
_SPANS = 9  # pieces of a middle line


class Segments(NamedTuple):
    """Labelled regions (0 is none), the box of each (left, top, width, height), and how far each pixel stands out."""

    labels: Array
    boxes: list[tuple[int, int, int, int]]
    contrast: Array


def propose(colour: Array, look: str, cards: tuple[CardSeen, ...] = ()) -> tuple[Proposed, ...]:
    """Candidates in a picture of red, green and blue levels, the strongest first; what is printed on cards is left out."""
    import cv2

    long_side = max(colour.shape[:2])
    share = min(1.0, _LONG_SIDE / long_side)
    small = colour if share == 1 else cv2.resize(colour, None, fx=share, fy=share, interpolation=cv2.INTER_AREA)
    found = segments(small, look, _off_cards(small.shape[:2], cards, share))
    numbers = list(range(1, len(found.boxes)))
    if look == "fluorescent":
        numbers = [number for number in numbers if not _glows_blue(found, number, small)]
    proposed = [_described(found, number, share) for number in numbers]
    kept = sorted((each for each in proposed if each is not None), key=lambda each: -each.strength)
    return tuple(kept[:_MOST])


def segments(colour: Array, look: str, looked_at: Array | None = None) -> Segments:
    """The regions of a picture that stand out; ``looked_at`` is False where nothing is looked for."""
    import cv2
    import numpy

    level = _level(colour, look)
    contrast = level - _ground(level, looked_at)
    inside = contrast if looked_at is None else contrast[looked_at]
    scatter = 1.4826 * float(numpy.median(numpy.abs(inside - numpy.median(inside)))) if inside.size else 0.0
    lower, upper = max(_LEAST_LOWER, _LOWER * scatter), max(_LEAST_UPPER, _UPPER * scatter)
    mask = contrast > lower
    if looked_at is not None:
        mask &= looked_at
    count, labels = cv2.connectedComponents(mask.astype(numpy.uint8), connectivity=8)
    strong = numpy.zeros(count, bool)
    strong[numpy.unique(labels[(contrast > upper) & mask])] = True
    strong[0] = False
    _, labels, boxes, _ = cv2.connectedComponentsWithStats(strong[labels].astype(numpy.uint8), connectivity=8)
    return Segments(labels, [tuple(int(v) for v in box[:4]) for box in boxes], contrast)  # type: ignore[misc]


def _level(colour: Array, look: str) -> Array:
    """One level that is high where an indication would be, a little smoothed."""
    import cv2
    import numpy

    red, green, blue = (colour[..., n].astype(numpy.float32) for n in range(3))
    if look == "fluorescent":
        # the eye's green, less what blue light is more than its share: lint and paper glow blue-white
        level = green - 0.8 * numpy.maximum(0, blue - 0.45 * green) - 0.5 * numpy.maximum(0, red - green)
    else:
        level = 255 - numpy.minimum(green, 0.5 * (green + blue))  # red dye is dark in green and blue
    return cv2.GaussianBlur(level, (0, 0), 0.9)


def _ground(level: Array, looked_at: Array | None) -> Array:
    """The level round each place: the median of a wide piece, so that a line in it does not count."""
    import cv2
    import numpy

    height, width = level.shape
    step = max(1, round(max(height, width) / 300))
    few = cv2.resize(level, (max(1, width // step), max(1, height // step)), interpolation=cv2.INTER_AREA)
    reach = max(3, round(max(few.shape) * _GROUND)) | 1
    if looked_at is not None:  # a white card beside a dark part is no part of its ground
        seen = cv2.resize(looked_at.astype(numpy.float32), few.shape[::-1], interpolation=cv2.INTER_AREA)
        seen = numpy.where(seen > 0.99, seen, 0.0)
        weight = cv2.GaussianBlur(seen, (0, 0), reach) + 1e-6
        round_it = cv2.GaussianBlur(few * seen, (0, 0), reach) / weight
        few = numpy.where(seen > 0, few, numpy.where(weight > 1e-3, round_it, float(numpy.median(level))))
    low = cv2.medianBlur(numpy.clip(few + _BELOW, 0, 255).astype(numpy.uint8), reach)
    soft = cv2.GaussianBlur(low.astype(numpy.float32), (0, 0), reach / 4) - _BELOW
    return cv2.resize(soft, (width, height), interpolation=cv2.INTER_LINEAR)


def _off_cards(shape: tuple[int, int], cards: tuple[CardSeen, ...], share: float) -> Array | None:
    """False on cards, their windows apart."""
    import cv2
    import numpy

    if not cards:
        return None
    looked_at = numpy.full(shape, 255, numpy.uint8)
    for card in cards:
        design = CARDS[card.name]
        seen = numpy.asarray([corner for mark in card.marks for corner in mark.corners], float) * share
        places = numpy.asarray([corner for mark in card.marks for corner in design.corners(mark.number)], float)
        matrix, _ = cv2.findHomography(places, seen)
        edge = design.mark_side / MODULES
        whole = [
            (x * (design.width + 2 * edge) - edge, y * (design.height + 2 * edge) - edge) for x, y in CORNERS_OF_MARK
        ]
        _fill(looked_at, matrix, whole, 0)
        if design.window is not None:
            box = design.window
            # a hand's knife leaves an edge of paper, and paper throws a shadow
            inner = [
                (box.left + edge + x * (box.width - 2 * edge), box.top + edge + y * (box.height - 2 * edge))
                for x, y in CORNERS_OF_MARK
            ]
            _fill(looked_at, matrix, inner, 255)
    return looked_at > 0


def _fill(target: Array, matrix: Array, corners: list[tuple[float, float]], value: int) -> None:
    import cv2
    import numpy

    seen = cv2.perspectiveTransform(numpy.asarray(corners, float)[None], matrix)[0]
    cv2.fillConvexPoly(target, numpy.round(seen).astype(numpy.int32), value)


def _glows_blue(found: Segments, number: int, colour: Array) -> bool:
    """Whether a region adds more blue than green to what is round it, as lint and paper do; where nothing is blown out."""
    import numpy

    left, top, wide, high = found.boxes[number]
    rows = slice(max(0, top - _AROUND), top + high + _AROUND)
    columns = slice(max(0, left - _AROUND), left + wide + _AROUND)
    labels, piece = found.labels[rows, columns], colour[rows, columns].astype(float)
    own, around = (labels == number) & (piece.max(axis=2) < _BLOWN_OUT), labels == 0
    if own.sum() < _LEAST_AREA or not around.any():
        return False
    _, green, blue = piece[own].mean(axis=0) - numpy.median(piece[around], axis=0)
    return bool(blue > green)


def _described(found: Segments, number: int, share: float) -> Proposed | None:
    """One region as a proposal in pixels of the whole picture; None for what is too small, too broad or too soft."""
    import cv2
    import numpy

    left, top, wide, high = found.boxes[number]
    cut = slice(top, top + high), slice(left, left + wide)
    mask, contrast = found.labels[cut] == number, found.contrast[cut]
    area = int(mask.sum())
    if area < _LEAST_AREA:
        return None
    core = _half_height(contrast, mask)
    rows, columns = numpy.nonzero(core)
    line, length = _middle_line(numpy.column_stack([columns, rows]).astype(float))
    width = len(rows) / length
    peak = float(numpy.percentile(contrast[mask], 90))
    too_broad = width > _WIDEST * max(found.labels.shape)
    if length < _LEAST_LENGTH or too_broad or _sharpness(contrast, mask, peak) < _SOFTEST:
        return None
    contours, _ = cv2.findContours(core.astype(numpy.uint8), cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE)
    outline = _simpler(max(contours, key=len))

    def whole(places: Array) -> tuple[tuple[float, float], ...]:
        return tuple((float((x + left + 0.5) / share - 0.5), float((y + top + 0.5) / share - 0.5)) for x, y in places)

    is_linear = length > _LINEAR * width
    return Proposed(whole(outline), whole(line), length / share, width / share, is_linear, min(1.0, peak / 255))


def _half_height(contrast: Array, mask: Array) -> Array:
    """What of a region reaches half of the strongest near it: blur and glare smear edges out, and leave that in place."""
    import cv2
    import numpy

    reach = 2 * _NEAR + 1
    strongest = cv2.dilate(
        numpy.where(mask, contrast, 0).astype(numpy.float32), numpy.ones((reach, reach), numpy.uint8)
    )
    core = (mask & (contrast >= strongest / 2)).astype(numpy.uint8)
    joined = cv2.morphologyEx(core, cv2.MORPH_CLOSE, numpy.ones((3, 3), numpy.uint8))
    return (joined > 0) & mask


def _middle_line(points: Array) -> tuple[Array, float]:
    """A line through the middle of a region from end to end, and its length; of one without direction its longest axis."""
    import numpy

    middle = points.mean(axis=0)
    _, _, axes = (
        numpy.linalg.svd(points - middle, full_matrices=False) if len(points) < 4000 else _axes(points - middle)
    )
    along = (points - middle) @ axes[0]
    low, high = along.min() - 0.5, along.max() + 0.5
    count = int(min(_SPANS, max(1, (high - low) / 6)))
    edges = numpy.linspace(low, high, count + 1)
    piece = numpy.clip(numpy.searchsorted(edges, along, side="right") - 1, 0, count - 1)
    middles = [points[piece == n].mean(axis=0) for n in range(count) if (piece == n).any()]
    if len(middles) < 3:
        line = numpy.asarray([middle + low * axes[0], middle + high * axes[0]])
        return line, float(high - low)
    line = numpy.asarray(middles)
    # the first and last piece are carried on to the region's ends
    for end, beside in ((0, 1), (-1, -2)):
        way = line[end] - line[beside]
        size = float(numpy.linalg.norm(way)) or 1.0
        reach = float(((points - line[end]) @ (way / size)).max()) + 0.5
        line[end] = line[end] + way / size * max(0.0, reach)
    return line, float(numpy.linalg.norm(numpy.diff(line, axis=0), axis=1).sum())


def _axes(points: Array) -> tuple[None, None, Array]:
    import numpy

    _, vectors = numpy.linalg.eigh(points.T @ points)
    return None, None, vectors.T[::-1]


def _sharpness(contrast: Array, mask: Array, peak: float) -> float:
    """By what share of its contrast a region rises over one pixel, at its steepest: the upper quarter of all its pixels."""
    import cv2
    import numpy

    padded = contrast.astype(numpy.float32)
    across, down = cv2.Sobel(padded, cv2.CV_32F, 1, 0, scale=1 / 8), cv2.Sobel(padded, cv2.CV_32F, 0, 1, scale=1 / 8)
    return float(numpy.percentile(numpy.hypot(across, down)[mask], 75)) / max(peak, 1.0)


def _simpler(contour: Array) -> Array:
    """An outline of not too many points."""
    import cv2

    loose = 0.5
    found = cv2.approxPolyDP(contour, loose, True)
    while len(found) > _OUTLINE_POINTS:
        loose *= 1.5
        found = cv2.approxPolyDP(contour, loose, True)
    return found[:, 0, :]
